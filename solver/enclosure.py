"""Values between two whole numbers of 2**-128: expressions worked out without a float, for the check of an answer.

Sums, products, quotients and roots are whole-number operations, rounded outward (37 digits); a sine is summed from its
Taylor series in the same way. So the true value always lies between the two ends, and nothing depends on the machine.

With every value goes `blur`: a bound on how far the floats of `evaluate.py` may be from the true value at this node (a
running error analysis; J. H. Wilkinson, "Rounding Errors in Algebraic Processes", 1963, from memory). It is zero where
`evaluate.py` works in exact fractions. It tells a decision that rounding may have made from one that is wrong.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from math import inf, isqrt, ldexp, sqrt
from typing import NamedTuple

from foldwright.solver.evaluate import RADICAND, Undefined, children
from foldwright.solver.expression import Const, Expr, Function, Product, Quotient, Sum, Variable

BITS = 128
ONE = 1 << BITS
_GUARD = 16  # more bits in the series of a sine: its 30 terms lose less than 2**8 units of them
# From memory; the tests hold the sines against a library of arbitrary precision.
_PI = (314159265358979323846264338327950288419716939937510582097494459230781640628620899 << (BITS + _GUARD)) // 10**80
_U = 2.0**-53  # greatest relative error of one float operation
_MORE = 1.001  # for what is lost while the blur is summed
_SOME = 1e-30  # floats are used here, even if they happen to lose nothing
_RADIAN = 0.0174533  # above pi / 180


class Enclosure(NamedTuple):
    """The true value lies from `low` to `high`, in units of 2**-128; `evaluate.py` is off by at most `blur` (mm or degrees)."""

    low: int
    high: int
    blur: float


_UNKNOWN = Enclosure(0, 0, inf)  # a divisor may be zero or not: what floats make of it cannot be judged


class Enclosures:
    """Enclosures of expressions for one choice of dimensions (mm, degrees); shared parts are worked out once."""

    def __init__(self, values: Mapping[str, Fraction]) -> None:
        self._values = {name: _fraction(value) for name, value in values.items()}
        self._done: dict[int, Enclosure] = {}
        self._kept: list[Expr] = []  # their ids stay theirs

    def of(self, expr: Expr) -> Enclosure:
        """Enclosure of an expression. Raises Undefined where it has no value, KeyError for an unknown without one."""
        done = self._done
        if id(expr) not in done:
            self._kept.append(expr)
        stack = [expr]
        while stack:  # no recursion: trees may be deep
            node = stack[-1]
            below = children(node)
            waiting = [child for child in below if id(child) not in done]
            if not waiting:
                if id(node) not in done:
                    done[id(node)] = self._node(node, [done[id(child)] for child in below])
                stack.pop()
            stack.extend(waiting)
        return done[id(expr)]

    def _node(self, node: Expr, parts: list[Enclosure]) -> Enclosure:
        if any(part.blur == inf for part in parts):
            return _UNKNOWN
        match node:
            case Const():
                return _fraction(node.value)
            case Variable():
                return self._values[node.name]
            case Sum():
                return _sum(parts)
            case Product():
                return _product(parts[0], parts[1])
            case Quotient():
                return _quotient(parts[0], parts[1])
        assert isinstance(node, Function)
        if node.name in ("min", "max"):
            pick: Callable[[Sequence[int]], int] = min if node.name == "min" else max
            return Enclosure(pick([p.low for p in parts]), pick([p.high for p in parts]), max(p.blur for p in parts))
        return _root(parts[0]) if node.name == "sqrt" else _angle(node.name, parts[0])


def minus(a: Enclosure, b: Enclosure) -> Enclosure:
    """Difference of two enclosures."""
    blur = _MORE * (a.blur + b.blur + 3 * _U * (_size(a) + _size(b))) if a.blur or b.blur else 0.0
    return Enclosure(a.low - b.high, a.high - b.low, blur)


def fixed(value: Fraction) -> int:
    """A number in units of 2**-128, rounded down."""
    return (value.numerator << BITS) // value.denominator


def number(units: int) -> float:
    """Units of 2**-128 as a float, for words and error bounds."""
    shift = max(0, units.bit_length() - 1000)  # far from what a float can hold
    return ldexp(units >> shift, shift - BITS)


def _fraction(value: Fraction) -> Enclosure:
    low = fixed(value)
    return Enclosure(low, low if low * value.denominator == value.numerator << BITS else low + 1, 0.0)


def _size(a: Enclosure) -> float:
    return number(max(abs(a.low), abs(a.high)))


def _sum(parts: list[Enclosure]) -> Enclosure:
    blur = 0.0
    if any(part.blur for part in parts):
        blur = _MORE * sum(part.blur + (len(parts) + 1) * _U * _size(part) for part in parts)
    return Enclosure(sum(part.low for part in parts), sum(part.high for part in parts), blur)


def _product(a: Enclosure, b: Enclosure) -> Enclosure:
    ends = (a.low * b.low, a.low * b.high, a.high * b.low, a.high * b.high)
    blur = 0.0
    if a.blur or b.blur:
        x, y = _size(a), _size(b)
        blur = _MORE * (x * b.blur + y * a.blur + a.blur * b.blur + 3 * _U * x * y) + _SOME
    return Enclosure(min(ends) >> BITS, -(-max(ends) >> BITS), blur)


def _quotient(a: Enclosure, b: Enclosure) -> Enclosure:
    if b.low == b.high == 0:
        raise Undefined("division by zero")
    if b.low <= 0 <= b.high:
        return _UNKNOWN
    pairs = ((a.low, b.low), (a.low, b.high), (a.high, b.low), (a.high, b.high))
    low = min((x << BITS) // y for x, y in pairs)
    high = max(-((-x << BITS) // y) for x, y in pairs)
    blur = 0.0
    if a.blur or b.blur:
        least, most = number(min(abs(b.low), abs(b.high))), number(max(abs(low), abs(high)))
        blur = inf
        if b.blur < 0.5 * least:
            blur = _MORE * ((a.blur + most * b.blur) / (least - b.blur) + 4 * _U * most) + _SOME
    return Enclosure(low, high, blur)


def _root(a: Enclosure) -> Enclosure:
    if a.high < 0 and (not a.blur or number(a.high) < -RADICAND - a.blur):
        raise Undefined("root of a negative number")
    below, above = max(0, a.low) << BITS, max(0, a.high) << BITS
    low, high = isqrt(below), isqrt(above)
    high += high * high < above
    # |sqrt(x) - sqrt(y)| is at most sqrt(|x - y|), and at most |x - y| / sqrt(x)
    moved = min(sqrt(a.blur), a.blur / number(low) if low else inf) if 0 < a.blur < inf else a.blur
    return Enclosure(low, high, _MORE * (moved + 2 * _U * number(high)) + _SOME)


def _angle(name: str, a: Enclosure) -> Enclosure:
    """Sine, cosine or tangent of degrees: the slope of a sine is below 1/57, so the far end is not far."""
    far = (a.high - a.low) // 57 + 1 if a.high > a.low else 0
    moved = _MORE * _RADIAN * a.blur
    quarter = 90 << BITS
    if name != "tan":
        low, high = _sine(a.low if name == "sin" else a.low + quarter)
        return Enclosure(max(-ONE, low - far), min(ONE, high + far), moved + 4 * _U)
    (p, q), (r, s) = _sine(a.low), _sine(a.low + quarter)
    below, above = Enclosure(p - far, q + far, 0.0), Enclosure(r - far, s + far, 0.0)
    if above.low == above.high == 0:
        raise Undefined("tangent of a right angle")
    value = _quotient(below, above)
    size = _size(value)
    # |tan(x + e) - tan(x)| <= e (1 + tan(x)**2) / (1 - e |tan(x)|)
    blur = _MORE * (moved + 8 * _U) * (1 + size * size) / (1 - moved * size) if moved * size < 0.5 else inf
    return Enclosure(value.low, value.high, max(blur, value.blur))


@lru_cache(maxsize=4096)
def _sine(degrees: int) -> tuple[int, int]:
    """Two numbers with the sine of an angle between them; angle and sine in units of 2**-128."""
    turned = degrees % (360 << BITS)
    quarter = (turned + (45 << BITS)) // (90 << BITS)
    rest = turned - quarter * (90 << BITS)  # from -45 to 45 degrees
    sign, odd = (-1 if quarter % 4 >= 2 else 1), quarter % 2 == 1
    if not rest or (not odd and abs(rest) == 30 << BITS):
        exact = ONE if odd else rest // 60
        return sign * exact, sign * exact
    value = sign * _series(rest, first=0 if odd else 1) >> _GUARD
    return max(-ONE, value - 1), min(ONE, value + 2)


def _series(rest: int, first: int) -> int:
    """Taylor series of the cosine (`first` 0) or sine (1) of -45 to 45 degrees, with the guard bits.

    The argument in radians is within two units, every term loses less than three, and the terms left out are below one.
    """
    bits = BITS + _GUARD
    x = rest * _PI // (180 << BITS)
    square = (x * x) >> bits
    term = total = x if first else 1 << bits
    power = first
    while term not in (0, -1):
        term = -((term * square) >> bits) // ((power + 1) * (power + 2))
        total += term
        power += 2
    return total
