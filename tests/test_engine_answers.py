"""Answers against plain enumeration of random small models."""

from __future__ import annotations

import pytest
from small_models import best, every_answer, random_model

from foldwright.solver.engine import solve
from foldwright.solver.model import Conflict, Solution


@pytest.mark.parametrize("seed", range(200))
def test_small_model_has_the_answer_that_enumeration_finds(seed):
    model = random_model(seed)
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


def test_the_random_models_are_of_both_kinds():
    feasible = sum(bool(every_answer(random_model(seed))) for seed in range(200))
    assert 80 <= feasible <= 160
    wished = sum(len(random_model(seed).wishes) > 0 and bool(every_answer(random_model(seed))) for seed in range(200))
    assert wished >= 40
