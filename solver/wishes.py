"""Wishes as rules: to keep what a wish comes to, or to ask for more."""

from __future__ import annotations

from fractions import Fraction
from math import ceil

from foldwright.solver.expression import Const
from foldwright.solver.model import Kind, Rule, Wish, WishResult
from foldwright.solver.words import amount

MARK = "wish."  # begins the names of such rules; no mechanism is called so with a number behind


def wished(wish: Wish, value: Fraction, unit: str) -> str:
    """A wish's value with its unit."""
    match wish.dimension:
        case "length" | "angle":
            return amount(float(value), wish.dimension == "angle", unit)
        case "area":
            return f"{float(value):.0f} mm²"
    return f"{float(value):g}"


def unproved(result: WishResult, unit: str = "mm") -> str:
    """How much better than found a wish can be, where it is not proved that it cannot; the percentage is of the bound."""
    bound = wished(result.wish, result.bound, unit)
    limit = f"{'more' if result.wish.largest else 'less'} than {bound} is not possible"
    if not result.bound:
        return f"not proved; {limit}"
    tenths = ceil(abs(result.bound - result.value) / abs(result.bound) * 1000)
    if tenths > 1000:
        return f"not proved; {limit}"
    return f"not proved; at most {tenths / 10:g} % better is possible: {limit}"


def kept(wish: Wish, value: Fraction, unit: str = "mm") -> Rule:
    """The rule that a wish comes to at least so much."""
    operator = ">=" if wish.largest else "<="
    words = f"{wish.text} stays at {wished(wish, value, unit)}"
    return Rule(f"{MARK}kept", Kind.DESIGNER, wish.target, operator, Const(value), words, (wish.at,) if wish.at else (),
                wish.dimension == "angle")


def better(wish: Wish, value: Fraction, unit: str = "mm") -> Rule:
    """The rule that a wish comes to one grain more than so much."""
    return kept(wish, value + (wish.grain if wish.largest else -wish.grain), unit)
