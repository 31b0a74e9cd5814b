"""Smallest conflicts: published examples, and what a designer would want of them."""

from __future__ import annotations

from fractions import Fraction

from foldwright.solver.engine import solve
from foldwright.solver.expression import Variable, lift, sin
from foldwright.solver.model import Conflict, GaveUp, Kind, Model, Rule


def options(costs: list[int], budget: int) -> tuple[list[Variable], Rule, list[Rule]]:
    """One switch per option, the budget, and the wish for each option."""
    switches = [Variable(f"o{n}", Fraction(1), 0, 1) for n in range(1, len(costs) + 1)]
    total = lift(0)
    for switch, cost in zip(switches, costs, strict=True):
        total = total + switch * cost
    wanted = [Rule(str(n), Kind.DESIGNER, switch, ">=", lift(1), "") for n, switch in enumerate(switches, 1)]
    return switches, Rule("budget", Kind.GEOMETRY, total, "<=", lift(budget), ""), wanted


def names(outcome: object) -> list[set[str]]:
    assert isinstance(outcome, Conflict)
    return [{rule.name for rule in members} for members in outcome.sets]


def every(outcome: object) -> list[set[str]]:
    """All minimal sets: those shown, then those that overlap with them; the outcome says that there are no more."""
    assert isinstance(outcome, Conflict)
    assert outcome.complete
    assert not outcome.unsure
    return [{rule.name for rule in members} for members in (*outcome.sets, *(one for group in outcome.others for one in group))]


def unordered(sets: list[set[str]]) -> set[frozenset[str]]:
    return {frozenset(members) for members in sets}


def test_five_options_under_a_budget():
    """U. Junker, QuickXplain, AAAI 2004: costs 500, 500, 800, 500, 2600. Under a budget of 3000 every
    conflict is one of the first four options with the fifth (list by enumeration; B. O'Sullivan et al. 2007
    vary the example)."""
    switches, budget, wanted = options([500, 500, 800, 500, 2600], 3000)
    outcome = solve(Model(tuple(switches), (budget, *wanted)))
    assert len(names(outcome)) == 1, "every conflict holds the budget, so no two are disjoint"
    assert len(every(outcome)) == 4
    assert unordered(every(outcome)) == {frozenset({"budget", str(n), "5"}) for n in range(1, 5)}


def test_options_that_also_exclude_each_other():
    """B. O'Sullivan, A. Papadopoulos, B. Faltings, P. Pu, "Representative explanations for over-constrained
    problems", AAAI 2007: the minimal conflicts are {2,3} {1,2,5} {1,3,5} {1,4,5}, where 1 is the budget of
    3000."""
    switches, budget, wanted = options([500, 500, 500, 2600], 3000)
    not_both = Rule("not both", Kind.GEOMETRY, switches[0] + switches[1], "<=", lift(1), "")
    outcome = solve(Model(tuple(switches), (not_both, budget, *wanted)))
    found = names(outcome)
    # Here the options are called 1 to 4 (in print 2 to 5) and the background is a rule like any other.
    printed = [{"not both", "1", "2"}, {"budget", "1", "4"}, {"budget", "2", "4"}, {"budget", "3", "4"}]
    assert unordered(every(outcome)) == unordered(printed)
    assert len(every(outcome)) == 4
    assert all(not first & second for first in found for second in found if first is not second)
    assert len(found) == 2


def test_separate_contradictions_are_both_reported():
    a, b, c = (Variable(name, Fraction(1, 2), 0, 200) for name in "abc")
    rules = (
        Rule("a-high", Kind.DESIGNER, a, ">=", lift(60), ""),
        Rule("b-high", Kind.DESIGNER, b, ">=", lift(60), ""),
        Rule("c-some", Kind.DESIGNER, c, ">=", lift(5), ""),
        Rule("b-c", Kind.GEOMETRY, b + c, "<=", lift(62), ""),
        Rule("a-low", Kind.PRACTICE, a, "<=", lift(50), ""),
        Rule("harmless", Kind.GEOMETRY, a + b + c, "<=", lift(400), ""),
    )
    assert names(solve(Model((a, b, c), rules))) == [{"a-high", "a-low"}, {"b-high", "c-some", "b-c"}]


def test_what_the_designer_asked_for_is_the_better_explanation():
    a = Variable("a", Fraction(1), 0, 100)
    rules = (
        Rule("asked", Kind.DESIGNER, a, ">=", lift(50), ""),
        Rule("fold", Kind.GEOMETRY, a, ">=", lift(50), ""),
        Rule("cap", Kind.GEOMETRY, a, "<=", lift(40), ""),
    )
    assert names(solve(Model((a,), rules))) == [{"asked", "cap"}]


def test_a_rule_that_cannot_hold_by_itself():
    a = Variable("a", Fraction(1, 2), 0, 200)
    rules = (
        Rule("off the grid", Kind.DESIGNER, a * 2, "=", lift(Fraction(33, 10)), ""),
        Rule("too high", Kind.GEOMETRY, a * sin(lift(20)), ">=", lift(40), ""),
        Rule("between constants", Kind.PRACTICE, lift(3), "<=", lift(2), ""),
        Rule("fine", Kind.GEOMETRY, a, ">=", lift(1), ""),
    )
    assert names(solve(Model((a,), rules))) == [{"off the grid"}, {"between constants"}, {"too high"}]


def test_an_empty_range_is_nobodys_rule():
    a = Variable("a", Fraction(1), 5, 4)
    rule = Rule("fine", Kind.GEOMETRY, a, ">=", lift(1), "")
    assert names(solve(Model((a,), (rule,)))) == [set()]


def test_conflict_that_only_search_finds():
    """Pigeons and holes: four numbers from 1 to 3, all different. Propagation alone does not see it."""
    places = [Variable(f"p{n}", Fraction(1), 1, 3) for n in range(4)]
    extra = Variable("q", Fraction(1), 1, 9)
    rules = [
        Rule(f"{a.name}{b.name}", Kind.GEOMETRY, (a - b) * (a - b), ">=", lift(1), "")
        for n, a in enumerate(places)
        for b in places[n + 1 :]
    ]
    rules.append(Rule("apart", Kind.GEOMETRY, extra, ">=", places[0], ""))
    found = names(solve(Model((*places, extra), tuple(rules))))
    assert found == [{rule.name for rule in rules[:-1]}]


def test_no_time_gives_up():
    a, b = Variable("a", Fraction(1), 0, 10**6), Variable("b", Fraction(1), 0, 10**6)
    rules = (Rule("r", Kind.GEOMETRY, a * a - 2 * b * b, "=", lift(3), ""),)  # no whole answer, modulo 8
    outcome = solve(Model((a, b), rules), seconds=0.2)
    assert isinstance(outcome, GaveUp)
    assert "time" in outcome.reason
