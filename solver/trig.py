"""Sine, cosine and tangent of degrees that come out the same on every machine.

The C library's `sin` differs between platforms in the last bit, and a bit can decide which grid point is an
answer. Here an angle is reduced exactly (in degrees a quarter turn is a whole number), and the kernels use
IEEE additions and multiplications only. The error is below 2 units in the last place; multiples of 30 are
exact to the last bit.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from math import ceil, floor, fmod, inf, sqrt

Number = Fraction | float | int

# 40 digits of pi / 180 (pi from memory, checked by the tests against the decimal recipe of the Python
# manual).
_RADIAN = Fraction("3.1415926535897932384626433832795028841971") / 180
_SIN: list[float] = []
_COS: list[float] = []


def _taylor() -> None:
    """Taylor coefficients in degrees; at 45 degrees the first one left out is below 1e-18."""
    term = Fraction(1)
    for power in range(20):
        (_COS if power % 2 == 0 else _SIN).append(float(term * (-1) ** (power // 2)))
        term = term * _RADIAN / (power + 1)


_taylor()


def _kernel(coefficients: list[float], square: float) -> float:
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * square + coefficient
    return total


def _reduce(degrees: Number) -> tuple[int, float]:
    """Quarter turn (0 to 3) and the rest from -45 to 45 degrees, both exact but for the final rounding."""
    if isinstance(degrees, float):
        turned = fmod(degrees, 360.0)  # exact for every finite float
        quarter = floor(turned / 90.0 + 0.5)
        return quarter % 4, turned - 90.0 * quarter  # exact: both within a factor of two, or below 45
    exact = Fraction(degrees) % 360
    quarter = floor(exact / 90 + Fraction(1, 2))
    return quarter % 4, float(exact - 90 * quarter)


_HALF_ROOT_3 = sqrt(0.75)  # the square root is correctly rounded by IEEE 754
_HALF_ROOT_2 = sqrt(0.5)


def _sine(rest: float) -> float:
    """Sine from -45 to 45 degrees; at both ends it agrees with the cosine."""
    if abs(rest) in (30.0, 45.0):
        size = 0.5 if abs(rest) == 30.0 else _HALF_ROOT_2
        return size if rest > 0 else -size
    return rest * _kernel(_SIN, rest * rest)


def _cosine(rest: float) -> float:
    """Cosine from -45 to 45 degrees."""
    if abs(rest) in (30.0, 45.0):
        return _HALF_ROOT_3 if abs(rest) == 30.0 else _HALF_ROOT_2
    return _kernel(_COS, rest * rest)


def sin(degrees: Number) -> float:
    """Sine of an angle in degrees."""
    quarter, rest = _reduce(degrees)
    value = _sine(rest) if quarter % 2 == 0 else _cosine(rest)
    return -value if quarter >= 2 and value else value


def cos(degrees: Number) -> float:
    """Cosine of an angle in degrees."""
    quarter, rest = _reduce(degrees)
    value = _cosine(rest) if quarter % 2 == 0 else _sine(rest)
    return -value if quarter in (1, 2) and value else value


def tan(degrees: Number) -> float:
    """Tangent of an angle in degrees; infinite at odd multiples of 90 (there it has no value)."""
    quarter, rest = _reduce(degrees)
    if abs(rest) == 45.0:
        return (1.0 if rest > 0 else -1.0) * (1 if quarter % 2 == 0 else -1)
    below = cos(degrees)
    return inf if below == 0 else sin(degrees) / below


FUNCTIONS = {"sin": sin, "cos": cos, "tan": tan}

# Where each function turns or jumps: it is monotone between neighbours `first + 180 * whole`.
_TURNS = {"sin": -90, "cos": 0, "tan": -90}


@lru_cache(maxsize=512)
def table(name: str, start: Fraction, step: Fraction, count: int) -> tuple[float, ...]:
    """Values of a function at `start + step * k` degrees, k from 0 to `count - 1`."""
    function = FUNCTIONS[name]
    return tuple(function(start + step * k) for k in range(count))


def turns(name: str, low: Number, high: Number) -> list[int]:
    """Turning points (of `tan`: jumps) in the closed interval from `low` to `high` degrees, ascending."""
    first = _TURNS[name]
    return [first + 180 * k for k in range(ceil((low - first) / 180), floor((high - first) / 180) + 1)]


# What the kernels may be wrong by, several times over: 2 units in the last place of a value up to 1.
_ERROR = 1e-15
BIG = 1e100  # stands for "unbounded" in intervals; finite, so that no product is undefined


def reach(name: str, low: float, high: float) -> tuple[float, float]:
    """Interval that holds every value of the function over `low` to `high` degrees, padded outward."""
    if high - low >= 360 or not (-1e9 < low <= high < 1e9):
        return (-BIG, BIG) if name == "tan" else (-1.0, 1.0)
    between = turns(name, low, high)
    if name == "tan":
        if between:
            return -BIG, BIG
        ends = (tan(low), tan(high))
        pad = 1e-13 * (1 + max(ends[0] * ends[0], ends[1] * ends[1]))  # the slope grows with the square
        return max(-BIG, ends[0] - pad), min(BIG, ends[1] + pad)
    function = FUNCTIONS[name]
    values = [function(low), function(high), *(function(turn) for turn in between)]
    least, most = min(values), max(values)  # the kernels never get the sign wrong
    return (
        0.0 if least >= 0 and least < _ERROR else max(-1.0, least - _ERROR),
        0.0 if most <= 0 and most > -_ERROR else min(1.0, most + _ERROR),
    )


def contract(name: str, low: float, high: float, least: float, most: float) -> tuple[float, float]:
    """Smallest interval found inside `low` to `high` degrees that keeps every angle with a value in
    `least`..`most`.

    Empty (first above second) if there is none. Works on the monotone pieces by halving.
    """
    if not (-1e6 < low <= high < 1e6) or high - low > 3600:
        return low, high
    between = turns(name, low, high)
    cuts = [low, *(float(turn) for turn in between if low < turn < high), high]
    kept: list[float] = []
    for start, end in pairwise(cuts):
        part = _piece(name, start, end, least - _ERROR, most + _ERROR)
        if part:
            kept.extend(part)
    if low == high:
        return low, high
    return (min(kept), max(kept)) if kept else (high, low)


def _piece(name: str, start: float, end: float, least: float, most: float) -> tuple[float, float] | None:
    """Part of one monotone piece where the values lie within bounds."""
    function = FUNCTIONS[name]
    first, last = function(start), function(end)
    if name == "tan":  # an end may be a jump; its one-sided value is unbounded
        first, last = (-BIG if abs(first) > 1e15 else first), (BIG if abs(last) > 1e15 else last)
    rising = first <= last
    if max(first, last) < least or min(first, last) > most:
        return None
    at_start, at_end = (least, most) if rising else (most, least)
    left, right = start, end
    if (first < at_start) == rising and first != at_start:
        left = _halve(function, start, end, at_start, rising, keep_left=True)
    if (last > at_end) == rising and last != at_end:
        right = _halve(function, start, end, at_end, rising, keep_left=False)
    return left, right


def _halve(function: Callable[[Number], float], low: float, high: float, level: float, rising: bool, keep_left: bool) -> float:
    """Where a monotone function passes a level, to the safe side."""
    for _ in range(60):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        if (function(middle) < level) == rising:
            low = middle
        else:
            high = middle
    return low if keep_left else high
