"""How a number is written in a script: decimals, fractions of an inch, and the steps in which designers think."""

from __future__ import annotations

import re
from fractions import Fraction
from math import gcd, lcm

from foldwright.grammar.units import MM_PER_UNIT

# Steps in which lengths of a unit are changed, where the card's own step is not round in it.
_STEPS = {"mm": Fraction(1, 2), "cm": Fraction(1, 20), "in": Fraction(1, 16), "pt": Fraction(1)}
_FINEST_INCH = 64
_FACTOR = Fraction(1, 20)
_FINER = 10  # a value off the grid gets a finer one, but none finer than this part of it


def decimal(value: Fraction) -> str:
    """The value as a decimal without trailing zeros; exact where it terminates within 6 places."""
    return f"{float(value):.6f}".rstrip("0").rstrip(".")


def mixed(value: Fraction) -> str:
    """The value as a whole number and a fraction, as inches are written."""
    whole, rest = divmod(value, 1)
    if not rest:
        return str(whole)
    return f"{whole} {rest}" if whole else str(rest)


def number_text(written: str, value: Fraction, inches: bool) -> str:
    """A value in the notation of a written number: what stands behind the digits is kept, and so are fractions."""
    match = re.match(r"[0-9]+[ \t]+[0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]*\.?[0-9]+", written)
    assert match, "a number begins with digits"
    digits = match.group()
    whole_before = "." not in digits and "/" not in digits
    fractions = "/" in digits or (inches and whole_before and value.denominator <= _FINEST_INCH)
    return (mixed(value) if fractions or not terminates(value) else decimal(value)) + written[match.end() :]


def terminates(value: Fraction) -> bool:
    """Whether a value has an end as a decimal, within the places that are written."""
    return 10**6 % value.denominator == 0


def grid_step(value: Fraction, unit: str, dimension: str, card_unit: str | None, card_step: Fraction | None) -> Fraction:
    """The step in which a written number is changed, in its own unit; `card_step` is in mm."""
    if dimension == "angle":
        step = Fraction(1)
    elif dimension == "plain":
        step = _FACTOR
    else:
        step = _STEPS[unit]
        if card_step is not None and unit == (card_unit or "mm"):
            own = card_step / MM_PER_UNIT[unit]
            step = own if terminates(own) else step
        if dimension == "area":
            step = step * step
    return fitting(value, step)


def fitting(value: Fraction, step: Fraction) -> Fraction:
    """A step of which the value is a whole multiple, if that is not much finer than the one given."""
    fine = common(value, step)
    return fine if fine * _FINER >= step else step


def common(a: Fraction, b: Fraction) -> Fraction:
    """The largest step of which both are whole multiples."""
    denominator = lcm(a.denominator, b.denominator)
    return Fraction(gcd(int(a * denominator), int(b * denominator)), denominator)
