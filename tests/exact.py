"""Expressions worked out by mpmath, a library of arbitrary precision, with 300 bits: what rounding is measured against."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from functools import reduce
from operator import add
from random import Random

from mpmath import mp, mpf

from foldwright.solver.evaluate import Undefined, children, postorder
from foldwright.solver.expression import (
    Const,
    Expr,
    Function,
    Product,
    Quotient,
    Sum,
    Variable,
    cos,
    largest,
    lift,
    sin,
    smallest,
    sqrt,
    tan,
)

mp.prec = 300
Real = Fraction | mpf
Sine = Callable[[str, Fraction], mpf]


def real(value: Real) -> mpf:
    return mpf(value.numerator) / value.denominator if isinstance(value, Fraction) else value


def true_sine(name: str, degrees: Fraction) -> mpf:
    return {"sin": mp.sin, "cos": mp.cos, "tan": mp.tan}[name](real(degrees) * mp.pi / 180)


def worth(expr: Expr, values: Mapping[str, Fraction], sine: Sine = true_sine) -> mpf:
    """Value of an expression; `sine` says what a sine, cosine or tangent of an exact angle is. Raises Undefined."""
    done: dict[int, Real] = {}
    for node in postorder(expr):
        done[id(node)] = _worth(node, [done[id(child)] for child in children(node)], values, sine)
    return real(done[id(expr)])


def _worth(node: Expr, parts: list[Real], values: Mapping[str, Fraction], sine: Sine) -> Real:
    plain = all(isinstance(part, Fraction) for part in parts)
    numbers = parts if plain else [real(part) for part in parts]
    match node:
        case Const():
            return node.value
        case Variable():
            return values[node.name]
        case Sum():
            return reduce(add, numbers)
        case Product():
            return numbers[0] * numbers[1]
        case Quotient():
            if numbers[1] == 0:
                raise Undefined("division by zero")
            return numbers[0] / numbers[1]
    assert isinstance(node, Function)
    if node.name in ("min", "max"):
        return (min if node.name == "min" else max)(numbers)
    if node.name == "sqrt":
        if numbers[0] < 0:
            raise Undefined("root of a negative number")
        return mp.sqrt(real(numbers[0]))
    if not plain:
        return true_sine(node.name, numbers[0])
    if node.name == "tan" and (parts[0] - 90) % 180 == 0:
        raise Undefined("tangent of a right angle")
    return sine(node.name, parts[0])


# Expressions that are hard on floats: steps with no binary value, and terms of very different size.

_STEPS = [Fraction(1), Fraction(1, 2), Fraction(127, 80), Fraction(1, 10), Fraction(1, 3), Fraction(127, 360)]


def hard_variables(random: Random) -> list[Variable]:
    found = []
    for n in range(random.randint(1, 3)):
        low = random.choice([0, 0, 1, random.randint(-300, 300), random.randint(0, 4000), 10**6])
        found.append(Variable(f"x.v{n}", random.choice(_STEPS), low, low + random.choice([0, 1, 3, 20, 300])))
    return found


def _linear(random: Random, variables: list[Variable]) -> Expr:
    total = lift(Fraction(random.randint(-3000, 3000), random.choice([1, 3, 7, 10])) if random.random() < 0.5 else 0)
    for variable in random.sample(variables, random.randint(1, len(variables))):
        total = total + variable * Fraction(random.choice([-3, -1, 1, 1, 2, 1000]), random.choice([1, 1, 3, 7]))
    return total


def hard_expression(random: Random, variables: list[Variable], depth: int) -> Expr:
    pick = random.random() if depth else 0.0
    if pick < 0.25:
        return _linear(random, variables)
    a = hard_expression(random, variables, depth - 1)
    if pick < 0.4:
        return sqrt(a)
    if pick < 0.5:
        return random.choice([sin, cos, tan])(a) * random.randint(1, 300)
    b = hard_expression(random, variables, depth - 1)
    if pick < 0.7:
        return a * (a if random.random() < 0.4 else b)
    if pick < 0.78:
        return a / b if b != lift(0) else a
    if pick < 0.85:
        return random.choice([smallest, largest])(a, b)
    return a - b if pick < 0.93 else a + b
