"""Closed intervals of floats, as pairs of numbers. Every result is padded outward by more than its rounding
error.

An unbounded end is `±BIG`: finite, so that no product or difference is undefined. Quantities beyond 1e100 mm
do not occur on a card.
"""

from __future__ import annotations

from math import sqrt

from foldwright.solver.trig import BIG

# One float operation errs by at most 2**-53 of its result. 2**-44 covers one, and a sum of up to 400 terms if it is taken
# of all terms' sizes together: no partial sum is greater.
UNIT = 2.0**-44
# One operation on numbers that are not negative, made certain: its result times one of these.
DOWN, UP = 1.0 - 2.0**-50, 1.0 + 2.0**-50


def widen(low: float, high: float, size: float = 0.0) -> tuple[float, float]:
    """The interval padded relative to its own ends and to the `size` of what it was computed from."""
    pad = UNIT * max(abs(low), abs(high), size)
    return max(-BIG, low - pad), min(BIG, high + pad)


def multiply(a: float, b: float, c: float, d: float) -> tuple[float, float]:
    """Products of [a, b] and [c, d]."""
    ends = (a * c, a * d, b * c, b * d)
    low, high = widen(min(ends), max(ends))
    return (max(0.0, low), high) if a >= 0 and c >= 0 else (low, high)


def square(a: float, b: float) -> tuple[float, float]:
    """Squares of [a, b]; never below zero."""
    low = 0.0 if a <= 0 <= b else min(a * a, b * b)
    wide = widen(low, max(a * a, b * b))
    return max(0.0, wide[0]), wide[1]


def divide(a: float, b: float, c: float, d: float) -> tuple[float, float]:
    """Quotients of [a, b] by the numbers of [c, d] other than zero."""
    if c > 0 or d < 0:
        ends = (a / c, a / d, b / c, b / d)
        return widen(min(ends), max(ends))
    if c == 0 < d:  # divisor positive
        return (-BIG if a < 0 else widen(a / d, a / d)[0]), (BIG if b > 0 else widen(b / d, b / d)[1])
    if d == 0 > c:  # divisor negative
        return (-BIG if b > 0 else widen(b / c, b / c)[0]), (BIG if a < 0 else widen(a / c, a / c)[1])
    return -BIG, BIG


def root(a: float, b: float) -> tuple[float, float]:
    """Roots of [a, b], the negative part left out; empty (first above second) below zero."""
    if b < -1e-12:
        return 1.0, 0.0
    return widen(sqrt(max(0.0, a)), sqrt(max(0.0, b)))


def factor(low: float, high: float, c: float, d: float, p: float, q: float) -> tuple[float, float]:
    """Numbers x of [p, q] with x * y in [low, high] for some y of [c, d]; empty if there are none."""
    if c <= 0 <= d:
        if low <= 0 <= high:
            return p, q
        if c == d:
            return BIG, -BIG
        return _around_zero(low, high, c, d, p, q)
    a, b = divide(low, high, c, d)
    return max(a, p), min(b, q)


def _around_zero(low: float, high: float, c: float, d: float, p: float, q: float) -> tuple[float, float]:
    """The product is bounded away from zero and y passes zero: x lies outside a gap around zero."""
    if high < 0:
        low, high, c, d = -high, -low, -d, -c
    up = widen(low / d, low / d)[0] if d > 0 else BIG  # x at least this, or
    down = widen(low / c, low / c)[1] if c < 0 else -BIG  # at most this
    if p < up and p > down:
        p = up
    if q > down and q < up:
        q = down
    return p, q


def unsquare(low: float, high: float, p: float, q: float) -> tuple[float, float]:
    """Numbers x of [p, q] with x * x in [low, high]; empty if there are none."""
    if high < 0:
        return BIG, -BIG
    far = sqrt(high) * (1 + UNIT)
    near = sqrt(low) * (1 - UNIT) if low > 0 else 0.0
    p, q = max(p, -far), min(q, far)
    if p > -near and p < near:
        p = near
    if q < near and q > -near:
        q = -near
    return p, q
