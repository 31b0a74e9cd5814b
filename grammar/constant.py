"""Values that a script gives as plain numbers: the grid step, a mat, a paper's caliper and weight.

They are needed before anything is solved, so they may be computed from numbers but not depend on other names.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from foldwright.grammar import design, problems
from foldwright.grammar.problem import Problem
from foldwright.grammar.source import Span
from foldwright.grammar.units import LENGTHS, MM_PER_UNIT, millimetres


@dataclass(frozen=True, slots=True)
class Constant:
    """A computed number and its unit: mm for all lengths, None if it has none."""

    value: Fraction
    unit: str | None


class NotConstant(Exception):
    """An expression has no plain value; carries the problem."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.code)
        self.problem = problem


def length(expression: design.Argument, card_unit: str | None, what: str, example: str, zero: bool = False) -> Fraction:
    """A length in mm, more than zero (or `zero` too); a number without unit takes the card's. Raises NotConstant.

    Zero itself needs no unit.
    """
    found = constant(expression, card_unit, what, "a length in plain numbers")
    if zero and found == Constant(Fraction(0), None):
        return Fraction(0)
    value = _as_length(found, card_unit, expression.at, what, example)
    if value < 0 or (value == 0 and not zero):
        raise NotConstant(problems.NotPositive(expression.at, what, f"{shown(value)} mm"))
    return value


def constant(expression: design.Argument, card_unit: str | None, what: str, wanted: str) -> Constant:
    """The value of an expression without names; raises NotConstant."""
    match expression:
        case design.Number(value, unit):
            return Constant(millimetres(value, unit), "mm") if unit in MM_PER_UNIT else Constant(value, unit)
        case design.Negative(operand):
            inner = constant(operand, card_unit, what, wanted)
            return Constant(-inner.value, inner.unit)
        case design.Binary(operator, left, right):
            pair = constant(left, card_unit, what, wanted), constant(right, card_unit, what, wanted)
            return _combined(operator, *pair, expression, card_unit)
    raise NotConstant(problems.ValueWrong(expression.at, what, wanted))


def _combined(operator: str, left: Constant, right: Constant, whole: design.Binary,
              card_unit: str | None) -> Constant:
    if operator == "*":
        if left.unit and right.unit:
            raise NotConstant(problems.UnitWrong(whole.right.at, named(right.unit), "a plain number"))
        return Constant(left.value * right.value, left.unit or right.unit)
    if operator == "/":
        if right.unit:
            raise NotConstant(problems.UnitWrong(whole.right.at, named(right.unit), "a plain number"))
        if right.value == 0:
            raise NotConstant(problems.DivisionByZero(whole.right.at))
        return Constant(left.value / right.value, left.unit)
    if left.unit != right.unit:
        left, right = _same_unit(left, right, whole, card_unit)
    return Constant(left.value + right.value if operator == "+" else left.value - right.value, left.unit)


def _same_unit(left: Constant, right: Constant, whole: design.Binary,
               card_unit: str | None) -> tuple[Constant, Constant]:
    """Both sides of a sum as lengths, if one is a length and the other a bare number."""
    if {left.unit, right.unit} != {"mm", None}:
        raise NotConstant(problems.UnitWrong(whole.right.at, named(right.unit), named(left.unit)))
    first = _as_length(left, card_unit, whole.left.at, "this number", "3 mm")
    second = _as_length(right, card_unit, whole.right.at, "this number", "3 mm")
    return Constant(first, "mm"), Constant(second, "mm")


def _as_length(found: Constant, card_unit: str | None, at: Span, what: str, example: str) -> Fraction:
    if found.unit == "mm":
        return found.value
    if found.unit is not None:
        units = ", ".join(LENGTHS)
        raise NotConstant(problems.UnitWrong(at, named(found.unit), f"a length ({units})"))
    if card_unit is None:
        raise NotConstant(problems.UnitMissing(at, what, example))
    return millimetres(found.value, card_unit)


def named(unit: str | None) -> str:
    """How a message calls a unit."""
    return "a plain number" if unit is None else "a length" if unit == "mm" else unit


def shown(value: Fraction) -> str:
    """A value for a message, with no more digits than it takes."""
    try:
        return f"{float(value):.10g}"
    except OverflowError:
        return "beyond all measure"
