"""The best way to decide free choices: against all ways one by one, and the conflicts that save work on the way."""

from dataclasses import replace
from fractions import Fraction
from itertools import count
from math import prod
from random import Random

import pytest
from choice_cards import CASES, TENT, best_of_all, design_of, every_way, problems_of, rank, searched
from cpsat import optimum

from foldwright.grammar import Refused
from foldwright.solver import choices_search
from foldwright.solver.answer import solve_design, solve_model
from foldwright.solver.choices import decisions
from foldwright.solver.choices_results import NoBetter, Refutation, Solved
from foldwright.solver.engine import solve
from foldwright.solver.engine.stopping import is_running, stopping
from foldwright.solver.evaluate import holds
from foldwright.solver.expression import Const, Variable, sin
from foldwright.solver.mechanism import registry
from foldwright.solver.model import Conflict, Kind, Model, Rule
from foldwright.solver.refutation import alike, key


@pytest.mark.parametrize("name", CASES)
def test_the_best_way_is_that_of_a_plain_loop_over_all(name):
    design = design_of(CASES[name])
    best = best_of_all(design)
    search, found = searched(CASES[name])
    assert search.complete
    assert not search.unproved
    if best is None:
        assert found is None
    else:
        assert (found.picks, found.solution.values) == (best[1], best[2].values)
        assert [r.value for r in found.solution.wishes] == [r.value for r in best[2].wishes]


def small_card(random):
    """A random card of two or three mechanisms with choices that matter: some do not fit, or not beside each other."""
    out, tents = [], []
    for name in ("m0", "m1", "m2")[: random.choice((2, 3))]:
        optional = random.choice(("", "optional "))
        paper = random.choice(("sand", "sand", "sand or weed", "weed or sand"))
        if random.random() < 0.6:
            width = random.choice(("45", "30 or 50", "30 to 40 or 60"))
            wall = random.choice(("30 to 60", "40 or 55", "20 to 120"))
            out.append(f"{optional}tent {name} on spine\n  paper {paper}\n  width {width}\n  wall {wall}\n")
            tents.append(name)
        else:
            place = "spine" if not tents else f"spine or on {tents[0]}.ridge"
            foot, ridge = random.choice(("26 to 40", "30 or 60")), random.choice(("20 to 60", "50 or 90"))
            out.append(f"{optional}vfold {name} on {place}\n  paper {paper}\n  foot {foot}\n  ridge {ridge}\n  wing 60 to 90\n")
    height = "wall" if "tent m0" in out[0] else "ridge"
    out.append(f"prefer largest m0.{height}\nprefer least paper\n")
    return "".join(out)


def random_cards(count, ways):
    """Scripts of that many random cards which leave between 4 and that many ways open, by seed."""
    found = []
    for seed in range(1000):
        script = small_card(Random(seed))
        total = prod(len(decision.options) for decision in decisions(design_of(script), registry()))
        if 4 <= total <= ways:
            found.append(pytest.param(script, id=f"seed-{seed}"))
        if len(found) == count:
            break
    return found


@pytest.mark.parametrize("script", random_cards(12, 16))
def test_random_cards_against_the_plain_loop(script):
    best = best_of_all(design_of(script))
    search, found = searched(script)
    assert (found and (found.picks, found.solution.values)) == (best and (best[1], best[2].values))
    forgetful, same = searched(script, learn=False)
    assert (found and found.picks) == (same and same.picks)
    assert not forgetful.refutations
    assert search.seen <= forgetful.seen, "conflicts save work, and change nothing else"
    check_reach(script, search)


def check_reach(script, search):
    """Wherever the decisions that a conflict is said to come from are made alike, all its rules are there; the number seen."""
    met = 0
    for picks, _, model in every_way(design_of(script)):
        rules = {key(rule): rule for rule in model.rules}
        for refutation in search.refutations:
            if refutation.under is not None and all(picks[number] == pick for number, pick in refutation.under):
                met += 1
                assert refutation.within(rules), (picks, refutation.under, [rule.name for rule in refutation.rules])
    return met


@pytest.mark.parametrize("name", ["later options are better", "no wishes", "only equal answers"])
def test_the_best_way_against_cp_sat(name):
    """OR-Tools' CP-SAT solves a relaxation of each way (see `cpsat.py`): none of them comes to more than our best."""
    design = design_of(CASES[name])
    _, found = searched(CASES[name])
    ours = found.rank
    ranks = []
    for picks, gone, model in every_way(design):
        status, values = optimum(model, seconds=30)
        if status in ("OPTIMAL", "FEASIBLE"):
            ranks.append(rank(design, picks, gone, list(zip(model.wishes, values, strict=False))))
    assert max(ranks)[:2] == ours[:2]


# ---- conflicts that are met again


# Scripts whose conflicts come from few of their decisions, or from who knows what.
REACH = {
    "a crowded spine": """
optional tent a on spine
  paper sand or weed
  width 60
optional tent b on spine
  paper sand or weed
  width 50
optional tent c on spine
  paper sand
  width 30
vfold flag on a.ridge
  paper sand or weed
  ridge 15 or 20
""",
    "places on the spine": """
tent a on spine
  paper sand
  at 10 or 70
  width 40
tent b on spine
  paper sand or weed
  at 20 or 60
  width 40
""",
    "a gusset": """  spine gusset
insert page on spine
  paper sand
tent a on page
  paper sand or weed
  width 60 or 130
tent b on page
  paper sand or weed
  width 30 or 90
""",
    "a wall as high as another": """
tent a on spine
  paper sand or weed
  wall 40 or 120
  width 30
tent b on spine
  paper sand or weed
  wall a.wall
  spread 20 or 150
optional tent c on spine
  paper sand
  wall 20 to b.height
require b.height >= 30
""",
    "named before its turn": """
tent a on spine
  paper sand
  width 60
  wall 20 to c.height
optional tent b on spine
  paper sand or weed
  width 50
optional tent c on spine
  paper sand
  width 40 or 30
""",
}  # fmt: skip


def test_a_conflict_met_before_refutes_without_solving():
    """The gull cannot be had at all; what the tent is like has nothing to do with that."""
    script = TENT + "  tabs inward or outward\n  at 40 or 30 or 20\nvfold gull on spine\n  paper sand\n  ridge 150\n"
    search, found = searched(script)
    assert found is None
    assert (search.total, search.seen, len(search.refutations), search.solved) == (6, 1, 1, 0)


@pytest.mark.parametrize("name", CASES)
def test_every_conflict_refutes_whatever_it_is_found_in(name):
    """Wherever the rules of a remembered conflict come back, the full solver finds no answer either."""
    search, _ = searched(CASES[name])
    design = design_of(CASES[name])
    met = 0
    for picks, _, model in every_way(design):
        rules = {key(rule): rule for rule in model.rules}
        if any(refutation.within(rules) for refutation in search.refutations):
            met += 1
            assert isinstance(solve(Model(model.variables, model.rules)), Conflict), picks
        elif isinstance(search.results.get(picks), Refutation):
            raise AssertionError("refuted without a conflict in it")
    assert met >= len(search.refutations)


@pytest.mark.parametrize("name", [*CASES, *REACH])
def test_a_conflict_comes_back_wherever_it_is_said_to(name):
    script = {**CASES, **REACH}[name]
    search, _ = searched(script)
    met = check_reach(script, search)
    assert met >= sum(refutation.under is not None for refutation in search.refutations)
    if name in REACH:
        assert search.refutations, "the case is about a conflict"


def test_a_conflict_on_a_crowded_spine_leaves_the_rest_open():
    """Who stands elsewhere, and what it is like, does not matter; who stands between two neighbours does."""
    search, found = searched(REACH["a crowded spine"])
    (conflict,) = [refutation for refutation in search.refutations if refutation.under is not None]
    about = {search.made[number].what for number, _ in conflict.under}
    assert about == {"a", "b", "c", "paper of a", "paper of b"}
    assert found.gone.blocks == {"c"}


@pytest.mark.parametrize("name", ["a gusset", "places on the spine"])
def test_nothing_is_claimed_of_rules_that_may_come_from_anywhere(name):
    search, _ = searched(REACH[name])
    assert any(refutation.under is None for refutation in search.refutations)


def rule(left, operator="<=", right=3, name="quay.rule"):
    return Rule(name, Kind.GEOMETRY, left, operator, Const(Fraction(right)), "")


WALL = Variable("quay.wall", Fraction(1, 2), 0, 100)


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        (rule(WALL), rule(WALL), True),
        (rule(WALL), rule(replace(WALL)), True),
        (rule(WALL), rule(WALL, name="quay.other"), True),
        (rule(WALL), rule(WALL, ">="), False),
        (rule(WALL), rule(WALL, right=4), False),
        (rule(WALL), rule(replace(WALL, high=200)), False),
        (rule(WALL), rule(replace(WALL, step=Fraction(1, 4))), False),
        (rule(WALL), rule(replace(WALL, name="pier.wall")), False),
        (rule(WALL + 2 * sin(WALL)), rule(WALL + 2 * sin(WALL)), True),
        (rule(WALL + 2 * sin(WALL)), rule(WALL + 3 * sin(WALL)), False),
        (rule(WALL + WALL), rule(WALL + sin(WALL)), False),
    ],
)
def test_rules_are_compared_by_how_they_are_built(one, other, same):
    assert alike(one, other) is same


def test_comparing_deep_shared_expressions_is_quick():
    """Sixty doublings of the same expression are a tree of 2^60 leaves, and sixty nodes."""

    def tower():
        expr = sin(WALL)
        for _ in range(60):
            expr = expr * expr
        return rule(expr)

    assert alike(tower(), tower())


def test_what_cannot_be_better_is_not_solved():
    script = TENT.replace("30 to 60", "60 or 50 or 40 or 30") + "  spread 20\nprefer largest quay.height\n"
    search, found = searched(script)
    assert (found.picks, search.solved, search.seen) == ((0,), 1, 4)
    assert sum(isinstance(result, NoBetter) for result in search.results.values()) == 3


# ---- limits


def test_at_the_limit_the_best_so_far_is_told_as_not_proved(monkeypatch):
    monkeypatch.setattr(choices_search, "MOST", 3)
    card = solve_design(design_of(CASES["later options are better"]))
    assert not card.choices.proved
    assert (card.choices.seen, card.choices.ways) == (3, 16)
    assert all(holds(checked.rule, {name: value for name, (value, _) in card.dimensions.items()}) for checked in card.rules
               if checked.rule.name.startswith("quay.wall."))


def test_at_the_limit_without_an_answer_the_message_says_how_far_it_came(monkeypatch):
    monkeypatch.setattr(choices_search, "MOST", 2)
    (problem,) = problems_of(CASES["none"])
    assert "2 of 6 ways to choose were looked at" in problem.wrong()


def test_many_optional_blocks_have_an_answer_before_they_are_proved(monkeypatch):
    """Of twelve tents two fit; an answer is there at once, though there are 4096 ways to go through.

    In a gusseted cover each way is looked at: how thick the contents are depends on all of them.
    """
    monkeypatch.setattr(choices_search, "MOST", 20)
    tents = "".join(f"optional tent t{n} on page\n  paper sand\n  width 45\n" for n in range(12))
    card = solve_design(design_of(f"  spine gusset\ninsert page on spine\n  paper sand\n{tents}"))
    assert [each.what for each in card.choices.chosen if each.option == "there"] == ["t0", "t1"]
    assert not card.choices.proved
    assert (card.choices.seen, card.choices.ways) == (20, 4096)


def test_who_stands_elsewhere_does_not_make_a_proof_longer():
    """As before, with a plain spine: which three tents cannot stand side by side is known without a look at the others."""
    script = "".join(f"optional tent t{n} on spine\n  paper sand\n  width 50\n" for n in range(12))
    search, found = searched(script)
    assert found.gone.blocks == {f"t{n}" for n in range(2, 12)}
    assert search.complete
    assert search.total == 4096
    assert search.seen < 20


def test_asked_to_stop_the_best_so_far_is_told():
    """As Ctrl-C does it: asked while a search runs; without an answer by then the message says so."""
    design = design_of(CASES["later options are better"])

    def stopped(at):
        asked = count(1)
        with stopping(lambda: is_running() and next(asked) >= at):
            return solve_design(design), next(asked) - 1

    _, looks = stopped(10**9)
    card, _ = stopped(looks)
    assert not card.choices.proved
    assert all(chosen.option in chosen.options for chosen in card.choices.chosen)
    with pytest.raises(Refused, match="1 problem") as refused:
        stopped(1)
    assert "within the limit" in refused.value.problems[0].wrong()


def test_no_time_at_all_gives_a_problem_and_no_traceback():
    (problem,) = problems_of(CASES["everything fits"], seconds=1e-6)
    assert "within the limit" in problem.wrong()


def test_the_same_script_gives_the_same_answer():
    first, second = (solve_model(design_of(CASES["not all at once"])) for _ in range(2))
    assert first[1] == second[1]
    assert first[0].choices == second[0].choices


def test_solved_ways_keep_their_answers():
    search, found = searched(CASES["later options are better"])
    assert isinstance(search.results[found.picks], Solved)
