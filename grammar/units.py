"""Units and paper weights, as exact fractions."""

from __future__ import annotations

from fractions import Fraction

# The inch is 25.4 mm by definition (international yard and pound agreement of 1959); a typographic point is
# 1/72 in, as in CSS (CSS Values and Units, absolute lengths). The paper trade's point of caliper, 0.001 in,
# is another thing and has no unit here: a caliper is written in mm or in.
MM_PER_UNIT: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "in": Fraction(254, 10),
    "pt": Fraction(254, 10) / 72,
}
LENGTHS: tuple[str, ...] = tuple(MM_PER_UNIT)
ANGLES: tuple[str, ...] = ("deg",)
WEIGHTS: tuple[str, ...] = ("gsm", "lb")
UNITS: tuple[str, ...] = LENGTHS + ANGLES + WEIGHTS

_SIGNS = {"°": "deg"}

# Basic size of each grade in inches; a basis weight is the weight of 500 sheets of it (the trade's
# definition).
BASIC_SIZE: dict[str, tuple[Fraction, Fraction]] = {
    "bond": (Fraction(17), Fraction(22)),
    "text": (Fraction(25), Fraction(38)),
    "cover": (Fraction(20), Fraction(26)),
    "index": (Fraction(51, 2), Fraction(61, 2)),
    "bristol": (Fraction(45, 2), Fraction(57, 2)),
    "tag": (Fraction(24), Fraction(36)),
}
GRADES: tuple[str, ...] = tuple(BASIC_SIZE)

_GRAMS_PER_POUND = Fraction("453.59237")  # exact, international avoirdupois pound (agreement of 1959)
_SHEETS = 500
_SQUARE_METRES_PER_SQUARE_INCH = Fraction("0.0254") ** 2


def unit_named(word: str) -> str | None:
    """The unit that a word or sign stands for, or None."""
    unit = _SIGNS.get(word, word)
    return unit if unit in UNITS else None


def millimetres(value: Fraction, unit: str) -> Fraction:
    """A length in mm; raises KeyError if the unit measures no length."""
    return value * MM_PER_UNIT[unit]


def grams_per_square_metre(pounds: Fraction, grade: str) -> Fraction:
    """Grammage of a basis weight in pounds (500 sheets of the basic size); KeyError for an unknown grade."""
    width, height = BASIC_SIZE[grade]
    ream = _SHEETS * width * height * _SQUARE_METRES_PER_SQUARE_INCH
    return pounds * _GRAMS_PER_POUND / ream
