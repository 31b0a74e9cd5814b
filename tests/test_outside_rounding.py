"""Bounds arithmetic against mpmath: no interval loses a true value, no contraction removes a point that keeps the rule.

The propagator is asked with limits that are the two floats around the exact value at one point of the box, without the
tolerance of rules: only its own pads stand between that point and a wrong removal.
"""

from __future__ import annotations

from fractions import Fraction
from math import inf, nextafter
from random import Random

import pytest
from exact import hard_expression, hard_variables, worth
from mpmath import mpf

from foldwright.solver import interval as box
from foldwright.solver import trig
from foldwright.solver.engine.contract import Limits, propagator
from foldwright.solver.engine.machine import Machine
from foldwright.solver.evaluate import Undefined, interval
from foldwright.solver.expression import Expr, Variable
from foldwright.solver.model import Model

SEEDS = range(1500)
CASES = 1000  # of them are expressions with a value at the point


def tabulated(name: str, degrees: Fraction) -> mpf:
    """The propagators take sines of grid angles from the table that `evaluate.py` uses, as they stand there."""
    return mpf(trig.FUNCTIONS[name](degrees))


def point(random: Random, variables: list[Variable]) -> dict[str, Fraction]:
    return {v.name: v.step * random.randint(v.low, v.high) for v in variables}


def keeps(random: Random, variables: list[Variable], expr: Expr, at: dict[str, Fraction]) -> bool | None:
    """Whether propagation keeps a point at which the expression has just the value that is asked for; None: nothing to ask."""
    exact = worth(expr, at, tabulated)
    machine = Machine(Model(tuple(variables), ()))
    root = machine.graph.wrap(machine.graph.form(expr))
    if abs(exact) > 1e25 or not machine.graph.variables([root]):
        return None
    near = float(exact)
    sides = random.choice([(True, True), (True, False), (False, True)])
    limits = Limits(nextafter(near, -inf) if sides[0] else None, nextafter(near, inf) if sides[1] else None, None)
    revise = propagator(machine.graph, machine.store, root, limits)
    low, high = machine.store.low, machine.store.high
    while True:
        before = [*low, *high]
        if not revise():
            return False
        if not all(low[n] <= at[v.name] / v.step <= high[n] for n, v in enumerate(variables)):
            return False
        if [*low, *high] == before:
            return True


def test_contraction_keeps_every_point_that_keeps_the_rule():
    asked, removed = 0, []
    for seed in SEEDS:
        random = Random(seed)
        variables = hard_variables(random)
        expr, at = hard_expression(random, variables, random.randint(1, 4)), point(random, variables)
        try:
            kept = keeps(random, variables, expr, at)
        except Undefined:
            continue
        asked += kept is not None
        if kept is False:
            removed.append(seed)
    assert removed == []
    assert asked >= CASES


def test_interval_of_an_expression_holds_its_true_values():
    asked, missed = 0, []
    for seed in SEEDS:
        random = Random(f"interval {seed}")
        variables = hard_variables(random)
        expr = hard_expression(random, variables, random.randint(1, 4))
        bounds = {v.name: (v.step * v.low, v.step * v.high) for v in variables}
        for _ in range(3):
            try:
                exact = worth(expr, point(random, variables))
                low, high = interval(expr, bounds)
            except Undefined:
                continue
            asked += 1
            if not low <= exact <= high and abs(exact) < 1e100:
                missed.append(seed)
    assert missed == []
    assert asked >= CASES


@pytest.mark.parametrize("seed", range(40))
def test_interval_operations_hold_exact_results(seed):
    """Ends and inner points of random intervals, small next to large, in exact fractions."""
    random = Random(seed)

    def some() -> tuple[float, float]:
        return tuple(sorted(random.choice([-1, 1]) * 10 ** random.uniform(-8, 8) * random.choice([0, 1, 1, 1]) for _ in "ab"))

    def inside(a: float, b: float) -> list[Fraction]:
        return [Fraction(a), Fraction(b), (Fraction(a) + Fraction(b)) / 2]

    for _ in range(50):
        (a, b), (c, d) = some(), some()
        results = box.multiply(a, b, c, d), box.square(a, b), box.divide(a, b, c, d), box.root(a, b)
        for x in inside(a, b):
            assert results[1][0] <= x * x <= results[1][1]
            if x >= 0:
                assert Fraction(max(0.0, results[3][0])) ** 2 <= x <= Fraction(results[3][1]) ** 2
            for y in inside(c, d):
                assert results[0][0] <= x * y <= results[0][1]
                if y:
                    assert results[2][0] <= x / y <= results[2][1]
                    p, q = box.factor(a, b, c, d, *results[2])
                    assert p <= x / y <= q


def test_scaling_makes_one_operation_certain():
    random = Random(3)
    for _ in range(2000):
        x, y = (10 ** random.uniform(-12, 12) for _ in "xy")
        assert x * y * box.DOWN <= Fraction(x) * Fraction(y) <= x * y * box.UP
        root = Fraction(x**0.5)
        assert (root * Fraction(box.DOWN)) ** 2 <= Fraction(x) <= (root * Fraction(box.UP)) ** 2
