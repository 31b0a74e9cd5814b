"""Expressions over the unknown dimensions of a card, in millimetres and degrees.

Mechanisms write their rules with ordinary operators; the propagation engine reads the tree. Constants are exact
fractions. An expression never holds a solved value: it is evaluated against a choice of grid steps.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Union

Operand = Union["Expr", Fraction, int]


class Expr:
    """Base of all expression nodes. Angles are in degrees, lengths in millimetres."""

    __slots__ = ()

    def __add__(self, other: Operand) -> Expr:
        return add(self, other)

    def __radd__(self, other: Operand) -> Expr:
        return add(other, self)

    def __sub__(self, other: Operand) -> Expr:
        return add(self, negative(other))

    def __rsub__(self, other: Operand) -> Expr:
        return add(other, negative(self))

    def __mul__(self, other: Operand) -> Expr:
        return multiply(self, other)

    def __rmul__(self, other: Operand) -> Expr:
        return multiply(other, self)

    def __truediv__(self, other: Operand) -> Expr:
        return divide(self, other)

    def __rtruediv__(self, other: Operand) -> Expr:
        return divide(other, self)

    def __neg__(self) -> Expr:
        return negative(self)


@dataclass(frozen=True, slots=True, eq=True)
class Const(Expr):
    """A number."""

    value: Fraction


@dataclass(frozen=True, slots=True)
class Variable(Expr):
    """An unknown dimension: `count * step` for a whole `count` from `low` to `high`.

    Two variables are the same if their names are. `preferred` is where the answer settles when neither rules nor
    wishes decide (in mm or degrees); None means the smallest value.
    """

    name: str
    step: Fraction = field(compare=False)
    low: int = field(compare=False)
    high: int = field(compare=False)
    preferred: Fraction | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Sum(Expr):
    """Terms added."""

    terms: tuple[Expr, ...]


@dataclass(frozen=True, slots=True)
class Product(Expr):
    """Two factors multiplied."""

    left: Expr
    right: Expr


@dataclass(frozen=True, slots=True)
class Quotient(Expr):
    """One expression divided by another."""

    left: Expr
    right: Expr


@dataclass(frozen=True, slots=True)
class Function(Expr):
    """`sin`, `cos`, `tan` (of degrees), `sqrt`, `min` or `max` of arguments."""

    name: str
    arguments: tuple[Expr, ...]


def lift(operand: Operand) -> Expr:
    """An expression for an operand; numbers become constants."""
    return operand if isinstance(operand, Expr) else Const(Fraction(operand))


def add(left: Operand, right: Operand) -> Expr:
    """Sum of two operands, with constants folded."""
    terms: list[Expr] = []
    constants: list[Const] = []
    for operand in (lift(left), lift(right)):
        for term in operand.terms if type(operand) is Sum else (operand,):
            if type(term) is Const:
                constants.append(term)
            else:
                terms.append(term)
    if constants:
        constant = constants[0] if len(constants) == 1 else Const(sum([c.value for c in constants[1:]], constants[0].value))
        if constant.value or not terms:
            terms.append(constant)
    return terms[0] if len(terms) == 1 else Sum(tuple(terms))


def multiply(left: Operand, right: Operand) -> Expr:
    """Product of two operands; a constant comes first and is folded."""
    a, b = lift(left), lift(right)
    if isinstance(b, Const):
        a, b = b, a
    if isinstance(a, Const):
        if isinstance(b, Const):
            return Const(a.value * b.value)
        if a.value == 0:
            return Const(Fraction(0))
        if a.value == 1:
            return b
        if isinstance(b, Product) and isinstance(b.left, Const):
            return multiply(Const(a.value * b.left.value), b.right)
        if isinstance(b, Sum):
            return Sum(tuple(multiply(a, term) for term in b.terms))
    return Product(a, b)


def divide(left: Operand, right: Operand) -> Expr:
    """Quotient of two operands; raises ZeroDivisionError if the divisor is the constant zero."""
    a, b = lift(left), lift(right)
    if isinstance(b, Const):
        return multiply(a, Const(1 / b.value))
    return Quotient(a, b)


def negative(operand: Operand) -> Expr:
    """Minus an operand."""
    return multiply(-1, operand)


def smallest(*operands: Operand) -> Expr:
    """The least of several operands."""
    return Function("min", tuple(lift(operand) for operand in operands))


def largest(*operands: Operand) -> Expr:
    """The greatest of several operands."""
    return Function("max", tuple(lift(operand) for operand in operands))


# Angles whose sine or cosine is rational; folding them keeps upright and flat folds linear.
_EXACT_SIN = {0: Fraction(0), 30: Fraction(1, 2), 90: Fraction(1), 150: Fraction(1, 2), 180: Fraction(0),
              210: Fraction(-1, 2), 270: Fraction(-1), 330: Fraction(-1, 2)}


def sin(angle: Operand) -> Expr:
    """Sine of an angle in degrees."""
    a = lift(angle)
    if isinstance(a, Const) and a.value % 360 in _EXACT_SIN:
        return Const(_EXACT_SIN[int(a.value % 360)])
    return Function("sin", (a,))


def cos(angle: Operand) -> Expr:
    """Cosine of an angle in degrees."""
    a = lift(angle)
    if isinstance(a, Const) and (a.value + 90) % 360 in _EXACT_SIN:
        return Const(_EXACT_SIN[int((a.value + 90) % 360)])
    return Function("cos", (a,))


def tan(angle: Operand) -> Expr:
    """Tangent of an angle in degrees."""
    return Function("tan", (lift(angle),))


def sqrt(operand: Operand) -> Expr:
    """Square root; a rule with a negative radicand does not hold."""
    return Function("sqrt", (lift(operand),))


def variables(expr: Expr) -> Iterator[Variable]:
    """The variables of an expression, in the order they are written, repeats included."""
    match expr:
        case Variable():
            yield expr
        case Sum():
            for term in expr.terms:
                yield from variables(term)
        case Product() | Quotient():
            yield from variables(expr.left)
            yield from variables(expr.right)
        case Function():
            for argument in expr.arguments:
                yield from variables(argument)


def linear_form(expr: Expr) -> tuple[dict[Variable, Fraction], Fraction] | None:
    """Coefficients per variable (of its value in mm or degrees) and the constant; None if not linear."""
    match expr:
        case Const():
            return {}, expr.value
        case Variable():
            return {expr: Fraction(1)}, Fraction(0)
        case Sum():
            total: dict[Variable, Fraction] = {}
            constant = Fraction(0)
            for term in expr.terms:
                part = linear_form(term)
                if part is None:
                    return None
                for variable, factor in part[0].items():
                    total[variable] = total.get(variable, Fraction(0)) + factor
                constant += part[1]
            return {v: f for v, f in total.items() if f}, constant
        case Product(Const() as factor, right):
            inner = linear_form(right)
            if inner is None:
                return None
            return {v: f * factor.value for v, f in inner[0].items()}, inner[1] * factor.value
    return None
