"""Verdicts "it can be done" and "it cannot" against OR-Tools' CP-SAT and against z3: none may disagree.

Two kinds of questions, each put to designs of the product's own mechanisms and to card-like models. Designs that clash
outright. And, harder, designs at the very edge: the engine's proved optimum of the first wish is made a rule, which must
be possible, and one grain more, which must not.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from cpsat import Translation as CpSat
from generate_cards import script
from generate_models import card
from with_z3 import Translation as Z3

from foldwright.grammar import read_text
from foldwright.solver.bind import bind
from foldwright.solver.engine import solve
from foldwright.solver.expression import lift
from foldwright.solver.model import Conflict, Kind, Model, Rule, Solution

EFFORT = 40_000_000  # of z3's units for one question: each is answered with less than a third of it, most in a second
Case = tuple[str, int, int, str]  # kind, count of mechanisms, seed, step in mm
SCRIPTS: list[Case] = [("clash", count, seed, "5") for count in (1, 2, 3, 4) for seed in range(4)]
MODELS: list[Case] = [("clash", count, seed, "5") for count in (1, 2, 3, 4) for seed in range(4)]
EDGES: list[Case] = [
    (kind, count, seed, "5")
    for kind in ("loose", "tight")
    for count, seeds in ((1, 5), (2, 3))
    for seed in range(seeds)
]


def made(case: Case, scripted: bool) -> Model:
    kind, count, seed, step = case
    if scripted:
        return bind(read_text(script(count, seed, kind, step))).model
    return card(count, seed, tight=kind == "tight", clash=kind == "clash", step=Fraction(step))


def verdicts(model: Model) -> tuple[bool, str, str]:
    """Whether the engine finds an answer, and what the others say."""
    plain = replace(model, wishes=())
    outcome = solve(plain)
    assert isinstance(outcome, Solution | Conflict)
    return isinstance(outcome, Solution), CpSat(plain).solve(60, 1, quick=True)[0], Z3(plain).verdict(EFFORT)


def check(model: Model, possible: bool) -> None:
    """All three agree. CP-SAT works with rounded sines, as a relaxation: what is impossible for it is impossible."""
    ours, cp, z3 = verdicts(model)
    assert ours is possible
    assert cp == ("OPTIMAL" if possible else "INFEASIBLE")
    assert z3 == ("sat" if possible else "unsat")


@pytest.mark.parametrize(("case", "scripted"), [*((c, True) for c in SCRIPTS), *((c, False) for c in MODELS)])
def test_designs_that_clash(case: Case, scripted: bool):
    model = made(case, scripted)
    check(model, False)
    if case[1] <= 2:  # without the planted clash
        check(made(("loose", *case[1:]), scripted), True)


@pytest.mark.parametrize(("case", "scripted"), [*((c, True) for c in EDGES), *((c, False) for c in EDGES)])
def test_designs_at_the_edge_of_what_is_possible(case: Case, scripted: bool):
    model = made(case, scripted)
    wish = model.wishes[0]
    outcome = solve(replace(model, wishes=(wish,)))
    if isinstance(outcome, Conflict):
        check(model, False)
        return
    assert isinstance(outcome, Solution)
    for more, possible in ((0, True), (1, False)):
        edge = Rule("edge", Kind.DESIGNER, wish.target, ">=", lift(outcome.wishes[0].value + more * wish.grain), "")
        check(replace(model, rules=(*model.rules, edge)), possible)
