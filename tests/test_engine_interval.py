"""Contraction of bounds: published cases, and soundness against enumeration.

Published cases: F. Benhamou, F. Goualard, L. Granvilliers, J.-F. Puget, "Revising hull and box consistency",
ICLP 1999, and an interval library's published contraction cases; the parabola is posed in a university
laboratory sheet on continuous domains (2021), its answer is computed by hand.
"""

from __future__ import annotations

from fractions import Fraction
from math import sqrt as root
from random import Random

import pytest
from small_models import every_answer, expression, random_model

from foldwright.solver.engine.machine import Machine
from foldwright.solver.evaluate import Undefined, evaluate, interval
from foldwright.solver.expression import Expr, Variable, lift, smallest, sqrt
from foldwright.solver.model import Kind, Model, Rule

STEP = Fraction(1, 1000)


def box(**ranges: tuple[int, int]) -> list[Variable]:
    return [Variable(name, STEP, int(low / STEP), int(high / STEP)) for name, (low, high) in ranges.items()]


def contract(variables: list[Variable], *rules: tuple[Expr, str, Expr | int]) -> dict[str, tuple[float, float]] | None:
    """Bounds after propagation, None if it finds a contradiction."""
    made = tuple(Rule(f"r{n}", Kind.GEOMETRY, lift(a), o, lift(b), "") for n, (a, o, b) in enumerate(rules))
    machine = Machine(Model(tuple(variables), made))
    if not machine.store.propagate():
        return None
    return {
        v.name: (float(v.step * machine.store.low[n]), float(v.step * machine.store.high[n])) for n, v in enumerate(variables)
    }


def test_sum_of_two():
    x1, x2, x3 = variables = box(x1=(-50, 5), x2=(-50, 4), x3=(6, 50))
    assert contract(variables, (x1 + x2, "=", x3)) == {"x1": (2, 5), "x2": (1, 4), "x3": (6, 9)}


def test_opposite_numbers():
    x, y = variables = box(x=(1, 3), y=(-4, -2))
    assert contract(variables, (x + y, "=", 0)) == {"x": (2, 3), "y": (-3, -2)}


def test_minimum():
    x, y = variables = box(x=(0, 3), y=(2, 4))
    assert contract(variables, (smallest(x, y), "=", 1)) == {"x": (1, 1), "y": (2, 4)}


def test_distance_from_a_point():
    x, y = variables = box(x=(0, 10), y=(-10, 10))
    distance = sqrt((x - 1) * (x - 1) + (y - 2) * (y - 2))
    assert contract(variables, (distance, "=", 5)) == {"x": (0, 6), "y": (-3, 7)}


def test_root_of_nothing():
    (x,) = variables = box(x=(-5, 0))
    assert contract(variables, (sqrt(x), "=", 0)) == {"x": (0, 0)}


def test_identity():
    x, y = variables = box(x=(0, 2), y=(1, 50))
    assert contract(variables, (y, "=", x)) == {"x": (1, 2), "y": (1, 2)}


def test_one_forward_and_backward_pass():
    x, y, z = variables = box(x=(0, 20), y=(-10, 10), z=(0, 16))
    assert contract(variables, (2 * x, "=", z - y * y)) == {"x": (0, 8), "y": (-4, 4), "z": (0, 16)}


def test_parabola_with_a_square():
    x, y = variables = box(x=(0, 3), y=(-1, 1))
    bend = x - Fraction(7, 2)
    found = contract(variables, (y, ">=", bend * bend - Fraction(1, 4)))
    assert found is not None
    assert found["x"][0] == pytest.approx(3.5 - root(1.25), abs=float(STEP))  # rounded inward to the grid
    assert found["x"][1] == 3
    assert found["y"] == (0, 1)


def test_parabola_with_a_product_of_copies_is_weaker():
    x, y, w, u = variables = box(x=(0, 3), y=(-1, 1), w=(-10, 10), u=(-10, 10))
    bend = x - Fraction(7, 2)
    found = contract(variables, (w, "=", bend), (u, "=", bend), (y, ">=", w * u - Fraction(1, 4)))
    assert found is not None
    assert found["x"] == (1, 3)
    assert found["y"] == (0, 1)


def test_contradiction_of_sums():
    v1, v2, v3 = variables = box(v1=(5, 5), v2=(4, 4), v3=(8, 8))
    assert contract(variables, (v1 + v2, "=", v3), (v1, "=", v2)) is None


def test_equality_off_the_grid_fails_at_once():
    a, b = Variable("a", Fraction(1, 2), 0, 10**9), Variable("b", Fraction(1, 2), 0, 10**9)
    machine = Machine(Model((a, b), (Rule("r", Kind.DESIGNER, a - b, "=", lift(Fraction(3, 10)), ""),)))
    assert not machine.store.propagate()
    assert machine.store.calls == 1, "the grid decides, no search along 10^9 values"


def test_inches_and_millimetres_meet_only_where_both_grids_do():
    inch, mm = Variable("i", Fraction(127, 80), 1, 1000), Variable("m", Fraction(1, 2), 0, 4000)
    found = contract([inch, mm], (inch, "=", mm))
    assert found == {"i": (127 / 80, 1587.5), "m": (1.5, 2000.0)} or found is not None
    # 127/80 * n = m/2 needs 127 n = 40 m, so n = 40 k: the first common length is 63.5 mm
    tight = contract([Variable("i", Fraction(127, 80), 40, 40), mm], (inch, "=", mm))
    assert tight == {"i": (63.5, 63.5), "m": (63.5, 63.5)}


@pytest.mark.parametrize("seed", range(300))
def test_propagation_keeps_every_answer(seed):
    model = random_model(seed, most=3)
    machine = Machine(model)
    alive = machine.store.propagate()
    answers = every_answer(model)
    assert alive or not answers
    for answer in answers:
        for n, variable in enumerate(model.variables):
            count = answer[variable.name] / variable.step
            assert machine.store.low[n] <= count <= machine.store.high[n]


@pytest.mark.parametrize("seed", range(100))
def test_interval_holds_every_value(seed):
    random = Random(seed)
    model = random_model(seed, most=3)
    expr = expression(random, list(model.variables), 3)
    bounds = {v.name: (v.step * v.low, v.step * v.high) for v in model.variables}
    try:
        low, high = interval(expr, bounds)
    except Undefined:
        low, high = 1.0, 0.0
    for _ in range(50):
        values = {v.name: v.step * random.randint(v.low, v.high) for v in model.variables}
        try:
            value = evaluate(expr, values)
        except Undefined:
            continue
        assert low <= value <= high
