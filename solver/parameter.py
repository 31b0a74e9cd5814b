"""What a script can set of a mechanism: dimensions with their usual ranges, words and whole numbers to choose from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from foldwright.solver.expression import Expr


@dataclass(frozen=True)
class Parameter:
    """A dimension of a mechanism with its usual range, in mm or degrees.

    `preferred` is where the solver settles if nothing else decides; `derive` gives the value from the other
    parameters when the script leaves this one out (then it is no unknown of its own, unless it gives None).
    """

    name: str
    meaning: str
    low: Fraction
    high: Fraction
    preferred: Fraction | None = None
    dimension: str = "length"
    derive: Callable[[Mapping[str, Expr]], Expr | None] | None = None


def length(name: str, meaning: str, low: float, high: float, preferred: float | None = None,
           derive: Callable[[Mapping[str, Expr]], Expr | None] | None = None) -> Parameter:
    """A length parameter in mm."""
    wanted = None if preferred is None else Fraction(str(preferred))
    return Parameter(name, meaning, Fraction(str(low)), Fraction(str(high)), wanted, "length", derive)


def angle(name: str, meaning: str, low: float, high: float, preferred: float | None = None,
          derive: Callable[[Mapping[str, Expr]], Expr | None] | None = None) -> Parameter:
    """An angle parameter in degrees."""
    wanted = None if preferred is None else Fraction(str(preferred))
    return Parameter(name, meaning, Fraction(str(low)), Fraction(str(high)), wanted, "angle", derive)


@dataclass(frozen=True)
class Choice:
    """A setting that takes one of a few words; the first is the default."""

    name: str
    options: tuple[str, ...]
    meaning: str


@dataclass(frozen=True)
class Counts:
    """A setting that takes two whole numbers, `3 by 3`."""

    name: str
    low: int
    high: int
    default: tuple[int, int]
    meaning: str
