"""Sines, cosines and tangents against high-precision decimals and exact values."""

from __future__ import annotations

import math
from decimal import Decimal, getcontext
from fractions import Fraction
from random import Random

import pytest

from foldwright.solver import trig

getcontext().prec = 50


def decimal_pi() -> Decimal:
    """The recipe `pi` of the Python documentation, module decimal."""
    getcontext().prec += 2
    lasts, t, s, n, na, d, da = Decimal(0), Decimal(3), Decimal(3), 1, 0, 0, 24
    while s != lasts:
        lasts = s
        n, na = n + na, na + 8
        d, da = d + da, da + 32
        t = (t * n) / d
        s += t
    getcontext().prec -= 2
    return +s


def decimal_sin(degrees: Fraction) -> Decimal:
    """The recipe `sin` of the Python documentation, module decimal."""
    x = Decimal(degrees.numerator) / Decimal(degrees.denominator) * decimal_pi() / 180
    i, lasts, s, fact, num, sign = 1, Decimal(0), x, 1, x, 1
    while s != lasts:
        lasts = s
        i += 2
        fact *= i * (i - 1)
        num *= x * x
        sign *= -1
        s += num / fact * sign
    return +s


ANGLES = [Fraction(Random(5).randint(-7200, 7200), 10) + Fraction(n, 7) for n in range(-200, 200)]


@pytest.mark.parametrize("name", ["sin", "cos"])
def test_values_are_within_two_units_in_the_last_place(name):
    worst = 0.0
    for angle in ANGLES:
        exact = decimal_sin(angle if name == "sin" else angle + 90)
        value = trig.FUNCTIONS[name](angle)
        worst = max(worst, float(abs(Decimal(value) - exact)) / math.ulp(float(exact)))
    assert worst <= 2, f"{worst} units in the last place"


def test_tangent_is_within_four_units_in_the_last_place():
    # the quotient of two values that are each within two units
    for angle in ANGLES:
        exact = decimal_sin(angle) / decimal_sin(angle + 90)
        assert float(abs(Decimal(trig.tan(angle)) - exact)) <= 4 * math.ulp(float(exact))


def test_angles_with_simple_values_are_exact():
    root = math.sqrt(0.75)
    for turn in (-720, -360, 0, 360, 3600):
        sines = [trig.sin(turn + 30 * k) for k in range(12)]
        assert sines == [0, 0.5, root, 1, root, 0.5, 0, -0.5, -root, -1, -root, -0.5]
        cosines = [trig.cos(turn + 30 * k) for k in range(12)]
        assert cosines == [1, root, 0.5, 0, -0.5, -root, -1, -root, -0.5, 0, 0.5, root]
        assert [trig.tan(turn + 45 * k) for k in range(4)] == [0, 1, math.inf, -1]


def test_fractions_and_floats_agree_where_both_are_exact():
    for n in range(-2000, 2000):
        for function in (trig.sin, trig.cos, trig.tan):
            assert function(Fraction(n, 4)) == function(n / 4)


def test_cosine_is_the_sine_of_the_complement():
    for n in range(0, 361):
        assert trig.cos(Fraction(n, 2)) == trig.sin(90 - Fraction(n, 2))


@pytest.mark.parametrize("name", ["sin", "cos", "tan"])
def test_intervals_hold_every_value_and_contraction_loses_none(name):
    random = Random(11)
    for _ in range(400):
        low = random.uniform(-400, 400)
        high = low + random.choice([0.0, random.uniform(0, 5), random.uniform(0, 500)])
        least, most = trig.reach(name, low, high)
        wanted = sorted(random.uniform(-1.2, 1.2) for _ in range(2))
        kept = trig.contract(name, low, high, *wanted)
        for _ in range(50):
            angle = random.uniform(low, high)
            value = trig.FUNCTIONS[name](angle)
            assert least <= value <= most
            if wanted[0] <= value <= wanted[1]:
                assert kept[0] <= angle <= kept[1]


def test_contraction_of_one_monotone_piece_finds_the_angles():
    # sin 30 = 1/2, sin 45 = sqrt(1/2); 1e-9 degrees is far above the rounding of the halving
    low, high = trig.contract("sin", 0.0, 80.0, 0.5, math.sqrt(0.5))
    assert low == pytest.approx(30, abs=1e-9)
    assert high == pytest.approx(45, abs=1e-9)
    low, high = trig.contract("cos", 0.0, 180.0, 2.0, 3.0)
    assert low > high
