"""Optimum of 200 generated designs against OR-Tools' CP-SAT, and against enumeration of the whole grid where it is small.

104 designs are scripts of the product's own mechanisms, read and bound as any script; 96 are card-like models made
directly. Coarse steps keep the grids small; the rules are the same. Tests of the same kind at finer steps, and of the
answer among equals on random models, are in `test_engine_cards.py` and `test_engine_answers.py`.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from cpsat import optimum
from enumeration import Enumeration, TooMany
from generate_cards import script
from generate_models import card

from foldwright.grammar import read_text
from foldwright.solver.bind import bind
from foldwright.solver.engine import solve
from foldwright.solver.model import Conflict, Model, Solution
from foldwright.solver.recheck import recheck

Case = tuple[str, int, int, str]  # kind, count of mechanisms, seed, step in mm

SCRIPTS: list[Case] = [
    (kind, count, seed, step)
    for kind in ("loose", "tight")
    for count, seeds, steps in ((1, 12, ("10", "5", "2")), (2, 6, ("10", "5")), (3, 3, ("5",)), (4, 1, ("5",)))
    for seed in range(seeds)
    for step in steps
]
MODELS: list[Case] = [
    (kind, count, seed, step)
    for kind in ("loose", "tight")
    for count, seeds, steps in ((1, 14, ("10", "5", "2")), (2, 3, ("10", "5")))
    for seed in range(seeds)
    for step in steps
]
# Of these, those are enumerated whose tables of partial answers stay below `enumeration.MOST` rows.
SMALL = [case for case in SCRIPTS if (case[1], case[3]) in ((1, "10"), (2, "10"), (1, "5"))]


def made(case: Case, scripted: bool) -> Model:
    kind, count, seed, step = case
    if scripted:
        return bind(read_text(script(count, seed, kind, step))).model
    return card(count, seed, tight=kind == "tight", step=Fraction(step))


def test_there_are_two_hundred_designs():
    assert len(set(SCRIPTS)) + len(set(MODELS)) == 200


@pytest.mark.parametrize(
    ("case", "scripted"), [*((case, True) for case in SCRIPTS), *((case, False) for case in MODELS)]
)
def test_optimum_is_what_cp_sat_finds(case: Case, scripted: bool):
    model = made(case, scripted)
    outcome = solve(model)
    status, reached = optimum(model, seconds=60, workers=1, quick=True)
    if isinstance(outcome, Conflict):
        assert status == "INFEASIBLE"
        return
    assert isinstance(outcome, Solution)
    assert status == "OPTIMAL"
    assert [result.value for result in outcome.wishes] == reached
    assert all(result.proved for result in outcome.wishes)
    recheck(model, outcome)


def enumerated(case: Case) -> Enumeration | None:
    try:
        return Enumeration(made(case, True))
    except TooMany:
        return None


@pytest.mark.parametrize(("kind", "step", "least"), [(kind, *rest) for kind in ("loose", "tight")
                                                     for rest in (("10", 12), ("5", 10))])
def test_answer_is_the_best_of_the_whole_grid(kind: str, step: str, least: int):
    """Not the wishes alone: every dimension, for among equally good answers the choice is defined too."""
    compared = 0
    for case in SMALL:
        whole = enumerated(case) if (case[0], case[3]) == (kind, step) else None
        if whole is None:
            continue
        compared += 1
        outcome, (answer, reached) = solve(whole.model), whole.best()
        if answer is None:
            assert isinstance(outcome, Conflict), case
            continue
        assert isinstance(outcome, Solution), case
        assert [result.value for result in outcome.wishes] == reached, case
        assert outcome.values == answer, case
    assert compared >= least
