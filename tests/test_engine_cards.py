"""Card-like models against OR-Tools' CP-SAT on the same grid."""

from __future__ import annotations

from fractions import Fraction

import pytest
from cpsat import Translation, optimum
from generate_models import card
from small_models import count_calls

from foldwright.solver.engine import descent, prices, solve
from foldwright.solver.evaluate import holds, measure
from foldwright.solver.model import Conflict, Model, Solution

CASES = [
    *[(count, seed, False, Fraction(1)) for count in (1, 2) for seed in range(4)],
    *[(count, seed, False, Fraction(5)) for count in (1, 2, 3, 4) for seed in range(2)],
    *[(count, seed, True, Fraction(2)) for count in (1, 2, 3) for seed in range(2)],
    (2, 1, False, Fraction(1, 2)),
    (1, 1, False, Fraction(127, 80)),
    (1, 1, True, Fraction(127, 80)),
]


@pytest.mark.parametrize(("count", "seed", "tight", "step"), CASES)
def test_card_has_the_optimum_that_cp_sat_finds(count, seed, tight, step):
    model = card(count, seed, tight=tight, step=step)
    outcome = solve(model)
    status, reached = optimum(model, seconds=60, workers=2)
    if isinstance(outcome, Conflict):
        assert status == "INFEASIBLE"
        return
    assert isinstance(outcome, Solution)
    assert [rule.name for rule in model.rules if not holds(rule, outcome.values)] == []
    assert [measure(wish, outcome.values) for wish in model.wishes] == [result.value for result in outcome.wishes]
    assert all(result.proved for result in outcome.wishes)
    assert status == "OPTIMAL"
    assert [result.value for result in outcome.wishes] == reached


@pytest.mark.parametrize("count", [1, 3, 4, 8])
def test_conflict_of_a_card_is_minimal_by_cp_sat(count):
    model = card(count, 3, clash=True)
    outcome = solve(model)
    assert isinstance(outcome, Conflict)
    for members in outcome.sets:
        assert Translation(Model(model.variables, members)).solve(60, 2)[0] == "INFEASIBLE"
        for rule in members:
            rest = tuple(other for other in members if other is not rule)
            assert Translation(Model(model.variables, rest)).solve(60, 2)[0] == "OPTIMAL"


@pytest.mark.parametrize("seed", range(3))
def test_card_of_forty_mechanisms_is_proved(seed):
    model = card(40, seed)
    assert len(model.variables) > 300
    outcome = solve(model)
    assert isinstance(outcome, Solution)
    assert all(result.proved for result in outcome.wishes)
    assert [rule.name for rule in model.rules if not holds(rule, outcome.values)] == []


@pytest.mark.parametrize("seed", [0, 1])
def test_prices_keep_the_optimum(seed, monkeypatch):
    """With hardly any budget the rules that join mechanisms are priced; the optimum must stay what CP-SAT finds."""
    monkeypatch.setattr(descent, "_NODES", 4)
    calls = count_calls(monkeypatch, prices.Prices, "_enter")
    model = card(4, seed, tight=True, step=Fraction(2))
    outcome = solve(model)
    assert calls, "nothing was priced, so nothing was tested"
    status, reached = optimum(model, seconds=60, workers=2)
    assert status == "OPTIMAL"
    assert isinstance(outcome, Solution)
    assert [result.value for result in outcome.wishes] == reached
    assert all(result.proved for result in outcome.wishes)
