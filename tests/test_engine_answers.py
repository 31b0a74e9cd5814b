"""Answers against plain enumeration of random small models."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from small_models import best, count_calls, every_answer, random_model, separate_model, shared_model

from foldwright.solver.engine import canonical, descent, search, solve
from foldwright.solver.model import Conflict, Model, Solution


def check(model: Model) -> None:
    """The engine's outcome is what enumeration finds: answer, wishes, or minimal conflicts."""
    outcome = solve(model)
    answer, reached = best(model)
    if answer is None:
        assert isinstance(outcome, Conflict)
        assert outcome.sets
        for members in outcome.sets:
            assert not every_answer(model, members), "a conflict that has an answer"
            for rule in members:
                rest = tuple(other for other in members if other is not rule)
                assert every_answer(model, rest), f"{rule.name} is not needed"
        return
    assert isinstance(outcome, Solution)
    assert [result.value for result in outcome.wishes] == reached
    assert all(result.proved for result in outcome.wishes)
    assert outcome.values == answer


@pytest.mark.parametrize("seed", range(200))
def test_small_model_has_the_answer_that_enumeration_finds(seed):
    check(random_model(seed))


@pytest.mark.parametrize("seed", range(60))
def test_components_share_what_a_coarse_grain_leaves(seed):
    check(separate_model(seed))


@pytest.mark.parametrize("seed", [*range(10), 39, 73, 170])
def test_components_give_way_to_each_other(seed):
    check(shared_model(seed))


def test_one_component_does_give_way(monkeypatch):
    calls = count_calls(monkeypatch, canonical.Canonical, "_give_way")
    check(shared_model(39))
    assert calls


@pytest.mark.parametrize("maker", [random_model, separate_model])
@pytest.mark.parametrize("seed", range(0, 60, 2))
def test_every_stage_of_the_search_agrees(seed: int, maker: Callable[[int], Model], monkeypatch):
    """With hardly any budget the hand-overs happen that only large models need otherwise."""
    monkeypatch.setattr(descent, "_NODES", 1)
    monkeypatch.setattr(search, "_PATIENCE", 0)
    monkeypatch.setattr(search, "_RESTART", 4)
    monkeypatch.setattr(canonical.Canonical, "_approach", lambda self: None)
    check(maker(seed))


def test_the_random_models_are_of_both_kinds():
    models = [random_model(seed) for seed in range(200)]
    feasible = [model for model in models if every_answer(model)]
    assert 80 <= len(feasible) <= 160
    assert sum(bool(model.wishes) for model in feasible) >= 40
