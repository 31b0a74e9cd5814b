"""All minimal sets and corrections: a published example, brute force over all subsets, and laws between the two."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations

import pytest
from small_models import every_answer, random_model

from foldwright.solver.engine.conflict import conflicts
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.minimal import NOTHING, Found, Limits, enumerate_sets, next_choice
from foldwright.solver.engine.questions import Questions
from foldwright.solver.expression import Expr, Variable, lift, sqrt
from foldwright.solver.model import Kind, Model, Rule

PLENTY = Limits(question=20_000, nodes=400_000, sets=1000, corrections=1000)


def clauses(*written: tuple[int, ...]) -> Model:
    """A formula in conjunctive normal form as a model: each clause a rule, named by its number from 1."""
    numbers = sorted({abs(literal) for clause in written for literal in clause})
    truth = {n: Variable(f"x{n}", Fraction(1), 0, 1) for n in numbers}
    rules = []
    for number, clause in enumerate(written, 1):
        total: Expr = lift(0)
        for literal in clause:
            total = total + (truth[literal] if literal > 0 else 1 - truth[-literal])
        rules.append(Rule(str(number), Kind.DESIGNER, total, ">=", lift(1), ""))
    return Model(tuple(truth.values()), tuple(rules))


def everything(model: Model) -> Found:
    """All sets and corrections from nothing known."""
    machine = Machine(model)
    return enumerate_sets(Questions(machine, None), [], [], PLENTY)


def named(model: Model, sets: list[list[int]]) -> set[frozenset[str]]:
    return {frozenset(model.rules[n].name for n in members) for members in sets}


def sets_of(*texts: str) -> set[frozenset[str]]:
    return {frozenset(text) for text in texts}


def test_the_formula_of_liffiton_and_sakallah():
    """M. Liffiton, K. Sakallah, "Algorithms for computing minimal unsatisfiable subsets of constraints", 2008 (formula, three
    minimal sets and five corrections from memory; the brute-force test below would tell a slip of memory)."""
    model = clauses((1,), (-1,), (-1, 2), (-2,), (-1, 3), (-3,))
    found = everything(model)
    assert found.complete
    assert not found.unsure
    assert named(model, found.sets) == sets_of("12", "134", "156")
    assert named(model, found.corrections) == sets_of("1", "235", "236", "245", "246")


def test_one_run_shows_the_smallest_and_keeps_the_others():
    model = clauses((1,), (-1,), (-1, 2), (-2,), (-1, 3), (-3,))
    conflict = conflicts(Machine(model), None)
    assert [{rule.name for rule in members} for members in conflict.sets] == [{"1", "2"}]
    assert [{rule.name for rule in members} for members in conflict.others[0]] == [set("134"), set("156")]
    assert conflict.complete
    assert not conflict.unsure
    assert [len(members) for members in conflict.corrections] == [1, 3, 3, 3, 3], "the fewest rules first"


def brute(model: Model) -> tuple[set[frozenset[str]], set[frozenset[str]]]:
    """Minimal sets and minimal corrections by trying all subsets of rules against all points of the grid."""
    everywhere = Model(model.variables, ())
    points = every_answer(everywhere)
    kept = [{n for n, rule in enumerate(model.rules) if _holds(rule, values)} for values in points]
    maximal = {frozenset(one) for one in kept if not any(one < other for other in kept)}
    corrections = {frozenset(range(len(model.rules))) - one for one in maximal}
    minimal: set[frozenset[int]] = set()
    for size in range(1, len(model.rules) + 1):
        for chosen in combinations(range(len(model.rules)), size):
            members = frozenset(chosen)
            if not any(one <= members for one in minimal) and not any(members <= one for one in maximal):
                minimal.add(members)

    def names(sets: set[frozenset[int]]) -> set[frozenset[str]]:
        return {frozenset(model.rules[n].name for n in members) for members in sets}

    return names(minimal), names(corrections)


def _holds(rule: Rule, values: dict[str, Fraction]) -> bool:
    from foldwright.solver.evaluate import holds

    return holds(rule, values)


def crowded(seed: int) -> Model | None:
    """A small model of 8 to 12 rules that cannot all hold; None if they can."""
    first, second = random_model(seed, most=2), random_model(seed + 5000, most=2)
    variables = {v.name: v for v in (*second.variables, *first.variables)}
    rules = (*first.rules, *second.rules)
    model = Model(tuple(variables.values()), tuple(
        Rule(f"{rule.name}.{n}", rule.kind, rule.left, rule.operator, rule.right, "") for n, rule in enumerate(rules)))
    if len(rules) < 8 or every_answer(model):
        return None
    return model


CROWDED = [seed for seed in range(400) if crowded(seed) is not None]


def test_there_are_enough_crowded_models():
    assert len(CROWDED) >= 60
    assert any(len(model.rules) >= 11 for model in map(crowded, CROWDED) if model)


@pytest.mark.parametrize("part", range(4))
def test_all_sets_by_brute_force(part):
    """Every minimal set and every minimal correction, no more and no less, of small models with all kinds of expression."""
    for seed in CROWDED[part::4]:
        model = crowded(seed)
        assert model is not None
        found = everything(model)
        assert found.complete, seed
        assert not found.unsure, seed
        minimal, corrections = brute(model)
        assert named(model, found.sets) == minimal, seed
        assert named(model, found.corrections) == corrections, seed


@pytest.mark.parametrize("part", range(2))
def test_what_one_run_reports(part):
    """Sets apart from each other, the smallest first, each the smallest of those that only overlap with it; no two alike."""
    apart = 0
    for seed in CROWDED[part::2]:
        model = crowded(seed)
        assert model is not None
        conflict = conflicts(Machine(model), None, PLENTY)
        shown = [frozenset(rule.name for rule in members) for members in conflict.sets]
        more = [frozenset(rule.name for rule in members) for group in conflict.others for members in group]
        minimal, _ = brute(model)
        assert {*shown, *more} == minimal, seed
        assert len(shown) + len(more) == len(minimal), seed
        assert all(not one & other for one, other in combinations(shown, 2)), seed
        assert [len(one) for one in shown] == sorted(len(one) for one in shown), seed
        assert len(shown[0]) == min(map(len, minimal)) or len(shown) > 1, seed
        for one, group in zip(shown, conflict.others, strict=True):
            assert all(one & {rule.name for rule in other} for other in group), seed
        apart += len(shown) > 1
    assert apart > 5, "several conflicts at once are among the cases"


def test_choices_are_the_minimal_hitting_sets():
    """The sets that take one member of each of {1,2}, {1,3,4}, {1,5,6} and hold no smaller one: the five corrections above."""
    rules = clauses((1,), (-1,), (-1, 2), (-2,), (-1, 3), (-3,)).rules
    sets = [0b000011, 0b001101, 0b110001]
    tried: list[int] = []
    while (choice := next_choice(sets, tried, rules)) != NOTHING:
        assert choice is not None
        tried.append(choice)
    found = {frozenset(str(n + 1) for n in range(6) if mask >> n & 1) for mask in tried}
    assert found == sets_of("1", "235", "236", "245", "246")


def test_a_set_that_is_not_proved_minimal_says_so():
    """Heights in a circle, each a root of a difference: bounds alone say little, and two nodes are no search."""
    a, b, c = (Variable(name, Fraction(1), 1, 400) for name in "abc")
    x, y, z = (Variable(name, Fraction(1), 1, 400) for name in "xyz")
    tall = [sqrt(p * p - q * q + 1) for p, q in ((a, x), (b, y), (c, z))]
    rules = [Rule(f"r{n}", Kind.DESIGNER, tall[n], ">=", tall[(n + 1) % 3] * Fraction(6, 5), "") for n in range(3)]
    rules += [Rule(f"c{n}", Kind.GEOMETRY, v, "<=", lift(9), "") for n, v in enumerate((a, b, c))]
    model = Model((a, b, c, x, y, z), tuple(rules))
    little = conflicts(Machine(model), None, Limits(question=2, nodes=4))
    assert little.unsure == (0,)
    assert not little.complete


def test_the_machine_is_left_as_it_was():
    model = clauses((1,), (-1,), (-1, 2), (-2,))
    machine = Machine(model)
    bounds = machine.store.low[:], machine.store.high[:]
    conflicts(machine, None)
    assert (machine.store.low, machine.store.high) == bounds
    assert all(machine.store.active)
    assert machine.store.core is None


def test_rules_of_the_cover_may_be_shared():
    """Two mechanisms that are too large for one page are two conflicts; two rules about one mechanism are one."""
    page, a, b = (Variable(name, Fraction(1), 0, 300) for name in ("cover.width", "a.wall", "b.wall"))
    rules = (
        Rule("cover.width.written", Kind.DESIGNER, page, "=", lift(100), ""),
        Rule("a.wall.least", Kind.DESIGNER, a, ">=", lift(120), ""),
        Rule("b.wall.least", Kind.DESIGNER, b, ">=", lift(130), ""),
        Rule("a.start", Kind.GEOMETRY, a, "<=", page, ""),
        Rule("a.end", Kind.GEOMETRY, a, "<=", page, ""),
        Rule("b.start", Kind.GEOMETRY, b, "<=", page, ""),
    )
    conflict = conflicts(Machine(Model((page, a, b), rules)), None)
    assert [{rule.name for rule in members} for members in conflict.sets] == [
        {"cover.width.written", "a.wall.least", "a.start"}, {"cover.width.written", "b.wall.least", "b.start"}]
    assert [len(group) for group in conflict.others] == [1, 0]
