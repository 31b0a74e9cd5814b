"""Nonlinear systems with known solutions, restated from their mathematical definition.

The engine knows grids only. Where the solution lies on the grid, the equations are asked as they stand. Elsewhere each
becomes a band: |f| at most what f can change from the solution to the nearest grid point (said beside it), so the points
near a true solution pass. That no other solution exists is asked as well: with the neighbourhoods of all known ones cut
out there must be a proved conflict.

Sources. MGH: J. J. Moré, B. S. Garbow, K. E. Hillstrom, "Testing unconstrained optimization software", ACM Transactions
on Mathematical Software 7(1), 1981, by number, from memory. Brown's almost linear system is also among the COPRIN
benchmarks, which Bronstein's and Morgan's economics problem are taken from (definitions from memory). The zeros given as
decimals are checked here, by putting them in.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import pairwise
from math import sqrt as root

import numpy as np
import pytest
from scipy.optimize import fsolve
from test_engine_interval import box, contract

from foldwright.solver.engine import solve
from foldwright.solver.expression import Expr, Variable, cos, largest, lift, sin
from foldwright.solver.model import Conflict, Kind, Model, Rule, Solution, Wish

Equations = Callable[..., Sequence[Expr]]


def variables(count: int, low: float, high: float, step: Fraction) -> tuple[Variable, ...]:
    return tuple(Variable(f"x{n}", step, round(low / step), round(high / step)) for n in range(1, count + 1))


def rule(left: Expr, operator: str, right: Expr | int | Fraction) -> Rule:
    return Rule("equation", Kind.GEOMETRY, left, operator, lift(right), "")


def bands(equations: Sequence[Expr], width: Fraction) -> tuple[Rule, ...]:
    """Every equation within its band; a width of zero asks it as it stands."""
    if not width:
        return tuple(rule(f, "=", 0) for f in equations)
    return tuple(each for f in equations for each in (rule(f, "<=", width), rule(f, ">=", -width)))


def apart(xs: Sequence[Variable], point: Sequence[float], distance: Fraction) -> Expr:
    """How far the farthest coordinate is from a point, over a distance."""
    centre = [Fraction(round(p * 10**6), 10**6) for p in point]
    return largest(*(side for x, p in zip(xs, centre, strict=True) for side in (x - p, p - x))) - distance


def check_zeros(
    xs: Sequence[Variable], equations: Sequence[Expr], zeros: Sequence[Sequence[float]], width: Fraction, near: Fraction
) -> None:
    """An answer near each zero, and none away from all of them."""
    rules = bands(equations, width)
    for zero in zeros:
        outcome = solve(Model(tuple(xs), (*rules, rule(apart(xs, zero, near), "<=", 0))))
        assert isinstance(outcome, Solution), zero
    away = tuple(rule(apart(xs, zero, near), ">=", 0) for zero in zeros)
    assert isinstance(solve(Model(tuple(xs), (*rules, *away))), Conflict)


def test_rosenbrock_has_one_zero_and_its_least_squares_are_there():
    """MGH 1: (1, 1)."""
    x, y = xs = variables(2, -2, 2, Fraction(1, 100))
    f1, f2 = 10 * (y - x * x), 1 - x
    check_zeros(xs, (f1, f2), [(1, 1)], Fraction(0), Fraction(1, 100))
    outcome = solve(Model(xs, (), (Wish("f", f1 * f1 + f2 * f2, False, Fraction(1, 10**6)),)))
    assert isinstance(outcome, Solution)
    assert outcome.values == {"x1": 1, "x2": 1}
    assert outcome.wishes[0].value == outcome.wishes[0].bound == 0


def test_freudenstein_and_roth():
    """MGH 2: the only zero is (5, 4); a local least-squares minimum near (11.41, -0.8968) is none."""
    x, y = xs = variables(2, -20, 20, Fraction(1, 10))
    equations = (x - 13 + ((5 - y) * y - 2) * y, x - 29 + ((y + 1) * y - 14) * y)
    check_zeros(xs, equations, [(5, 4)], Fraction(0), Fraction(1, 10))


def test_beale():
    """MGH 5: (3, 1/2)."""
    x, y = xs = variables(2, -4, 4, Fraction(1, 8))
    powers = (y, y * y, y * y * y)
    equations = [Fraction(c) - x * (1 - p) for c, p in zip(("1.5", "2.25", "2.625"), powers, strict=True)]
    check_zeros(xs, equations, [(3, 0.5)], Fraction(0), Fraction(1, 8))


def test_powell_singular():
    """MGH 13: the origin, where the Jacobian is singular. The square roots of 5 and 10 before two equations do not matter."""
    a, b, c, d = xs = variables(4, -4, 4, Fraction(1, 4))
    equations = (a + 10 * b, c - d, (b - 2 * c) * (b - 2 * c), (a - d) * (a - d))
    check_zeros(xs, equations, [(0, 0, 0, 0)], Fraction(0), Fraction(1, 4))


def test_wood():
    """MGH 14 (its residuals without the factor of a common root): (1, 1, 1, 1)."""
    a, b, c, d = xs = variables(4, -2, 2, Fraction(1, 10))
    equations = (b - a * a, 1 - a, d - c * c, 1 - c, b + d - 2, b - d)
    check_zeros(xs, equations, [(1, 1, 1, 1)], Fraction(0), Fraction(1, 10))


def test_himmelblau_has_four_zeros():
    """D. M. Himmelblau, "Applied nonlinear programming", 1972, from memory."""
    zeros = [(3.0, 2.0), (-2.805118, 3.131313), (-3.779310, -3.283186), (3.584428, -1.848127)]
    for x, y in zeros:
        assert abs(x * x + y - 11) < 1e-4
        assert abs(x + y * y - 7) < 1e-4
    step = Fraction(1, 100)
    x, y = xs = variables(2, -6, 6, step)
    # |df| <= (2 * 3.8 + 1) * step / 2, and the square of half a step
    check_zeros(xs, (x * x + y - 11, x + y * y - 7), zeros, Fraction(44, 1000), Fraction(1, 20))


def test_brown_almost_linear_has_three_real_zeros():
    """MGH 27 with n = 5: x1 to x4 are a, x5 is 6 - 5 a, and a is a root of 5 a**5 - 6 a**4 + 1: three are real."""
    roots = sorted(r.real for r in np.roots([5, -6, 0, 0, 0, 1]) if abs(r.imag) < 1e-9)
    assert roots == pytest.approx([-0.5790430885, 0.9163545825, 1.0], abs=1e-9)
    zeros = [(a, a, a, a, 6 - 5 * a) for a in roots]
    step = Fraction(1, 250)
    xs = variables(5, -10, 10, step)
    total, times = lift(0), lift(1)
    for x in xs:
        total, times = total + x, times * x
    linear = tuple(rule(x + total, "=", 6) for x in xs[:4])  # exact on the grid
    # the slope along the line is at most 7.6 near a zero, half a step is 0.002; between the positive zeros it rises to 0.019
    product = bands((times - 1,), Fraction(16, 1000))
    for zero in zeros:  # x5 is five halves of a step away at most
        outcome = solve(Model(xs, (*linear, *product, rule(apart(xs, zero, 3 * step), "<=", 0))))
        assert isinstance(outcome, Solution), zero
    away = tuple(rule(apart(xs, zero, Fraction(1, 5)), ">=", 0) for zero in zeros)
    assert isinstance(solve(Model(xs, (*linear, *product, *away))), Conflict)


def test_broyden_tridiagonal():
    """MGH 30 with n = 5; the zero is found by scipy's solver (MINPACK) from the standard start."""

    def residuals(x: Sequence[float]) -> list[float]:
        padded = [0.0, *x, 0.0]
        return [(3 - 2 * b) * b - a - 2 * c + 1 for a, b, c in zip(padded, padded[1:], padded[2:], strict=False)]

    zero = fsolve(residuals, [-1.0] * 5, xtol=1e-12)
    assert max(abs(r) for r in residuals(zero)) < 1e-9
    step = Fraction(1, 1000)
    xs = variables(5, -1, 0, step)
    padded = [lift(0), *xs, lift(0)]
    equations = [(3 - 2 * b) * b - a - 2 * c + 1 for a, b, c in zip(padded, padded[1:], padded[2:], strict=False)]
    # the slopes are at most 3 + 4 * 0.71, 1 and 2: together 9, times half a step
    check_zeros(xs, equations, [tuple(zero)], Fraction(5, 1000), Fraction(1, 50))


def test_bronstein_has_four_zeros():
    """x² + y² + z² = 36, x + y = z, x y + z² = 1: so z² = 38 / 4, and x and y are the roots of t² - z t + 1 - z²."""
    zeros = []
    for z in (root(9.5), -root(9.5)):
        half = root(z * z / 4 - 1 + z * z)
        zeros += [(z / 2 + half, z / 2 - half, z), (z / 2 - half, z / 2 + half, z)]
    for x, y, z in zeros:
        assert x * x + y * y + z * z == pytest.approx(36)
    step = Fraction(1, 100)
    x, y, z = xs = variables(3, -6, 6, step)
    # slopes: 2 (4.84 + 1.76 + 3.09), 3, and 4.84 + 1.76 + 2 * 3.09, times half a step, and the squares of half steps
    check_zeros(xs, (x * x + y * y + z * z - 36, x + y - z, x * y + z * z - 1), zeros, Fraction(1, 10), Fraction(1, 10))


def test_economics_of_four_variables():
    """A. Morgan's problem: (x_k + sum of x_i x_(i+k)) x_n = c_k, and the sum of x_1 to x_(n-1) is -1.

    The constants are free; these are made from a chosen point, which must then be a zero (one of several, perhaps).
    """
    point = (Fraction(1, 2), Fraction(-3, 4), Fraction(-3, 4), Fraction(2))
    xs = variables(4, -3, 3, Fraction(1, 4))

    def left(v: Sequence[Expr | Fraction]) -> list[Expr | Fraction]:
        a, b, c, d = v
        return [(a + a * b + b * c) * d, (b + a * c) * d, c * d]

    equations = [f - c for f, c in zip(left(xs), left(point), strict=True)]
    equations.append(xs[0] + xs[1] + xs[2] + 1)
    rules = bands(equations, Fraction(0))
    outcome = solve(Model(xs, rules))
    assert isinstance(outcome, Solution)
    values = [outcome.values[x.name] for x in xs]
    assert left(values) == left(point)
    close = solve(Model(xs, (*rules, rule(apart(xs, [float(p) for p in point], Fraction(0)), "<=", 0))))
    assert isinstance(close, Solution)
    assert tuple(close.values.values()) == point


def test_two_links_reach_a_point_in_two_ways():
    """Inverse kinematics of an arm of two equal links (a textbook case): elbow on one side or on the other.

    Links of 50, the hand at (50, 50): angles 0 and 90, or 90 and -90, and no other whole degrees.
    """
    a, b = xs = variables(2, -180, 180, Fraction(1))
    equations = (50 * cos(a) + 50 * cos(a + b) - 50, 50 * sin(a) + 50 * sin(a + b) - 50)
    check_zeros(xs, equations, [(0, 90), (90, -90)], Fraction(0), Fraction(1))


def test_products_and_squares_contract_as_in_the_textbook():
    """L. Jaulin, M. Kieffer, O. Didrit, E. Walter, "Applied Interval Analysis", 2001: the projections of x y = z and of
    x² = y. The intervals are our own, the results by hand: z is at most 4 * 4, x and y at least 8 / 4."""
    x, y, z = found = box(x=(1, 4), y=(1, 4), z=(8, 40))
    assert contract(found, (x * y, "=", z)) == {"x": (2, 4), "y": (2, 4), "z": (8, 16)}
    x, y = found = box(x=(-4, 10), y=(4, 9))
    assert contract(found, (x * x, "=", y)) == {"x": (-3, 3), "y": (4, 9)}
    x, y = found = box(x=(-1, 10), y=(4, 9))  # the gap around zero now reaches the end of the range
    assert contract(found, (x * x, "=", y)) == {"x": (2, 3), "y": (4, 9)}


def test_rules_in_a_ring_reach_the_fixpoint_of_single_rules_only():
    """Hull consistency looks at one rule at a time: x + y = 0 and x - y = 0 on [-1, 1] stay as they are, though only
    (0, 0) keeps both (F. Benhamou et al., ICLP 1999, say so of any local consistency; the example is folklore). Search
    then finds the point."""
    x, y = found = box(x=(-1, 1), y=(-1, 1))
    assert contract(found, (x + y, "=", 0), (x - y, "=", 0)) == {"x": (-1, 1), "y": (-1, 1)}
    both = (rule(x + y, "=", 0), rule(x - y, "=", 0))
    outcome = solve(Model((x, y), both))
    assert isinstance(outcome, Solution)
    assert outcome.values == {"x": 0, "y": 0}


def test_chain_of_halves_converges():
    """x_(n+1) = x_n / 2 over ten rules carries a bound from one end to the other: 512 / 2**9 = 1."""
    xs = tuple(Variable(f"x{n}", Fraction(1, 2), 0, 2048) for n in range(10))
    rules = [(2 * b, "=", a) for a, b in pairwise(xs)]
    found = contract(list(xs), *rules, (xs[0], "<=", 512), (xs[-1], ">=", 1))
    assert found == {f"x{n}": (512 / 2**n, 512 / 2**n) for n in range(10)}
