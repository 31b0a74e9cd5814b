"""Expressions that are alike but for the names of their variables have the same shape, a number.

A card has many mechanisms of few kinds, so its rules have few shapes. What is worked out for one rule of a shape
(`blueprint.py`) serves for all.
"""

from __future__ import annotations

from foldwright.solver.evaluate import children
from foldwright.solver.expression import Const, Expr, Function, Variable

Shaped = tuple[int, tuple[str, ...]]  # number of the shape, and the variables in the order in which they first stand in it

_VARIABLE = 0
_EXPRESSIONS = 40_000  # kept; a card of 40 mechanisms has 8,000
_SHAPES = 100_000  # kept, some 20 MB; a card has a few hundred, and every other number in it makes a few more


class Shapes:
    """Numbers of shapes. Constants belong to a shape; the grids and ranges of variables do not."""

    def __init__(self) -> None:
        self._numbers: dict[object, int] = {}
        self._count = _VARIABLE  # never used again, so that what was kept by a number stays right
        self._seen: dict[int, tuple[Expr, Shaped]] = {}  # by identity; the expression is kept, so that its identity stays its own

    def sweep(self) -> bool:
        """Forget expressions if they have become many, and shapes too (True) if those have. Call between models only."""
        if len(self._seen) > _EXPRESSIONS:
            self._seen.clear()
        if len(self._numbers) <= _SHAPES:
            return False
        self._numbers.clear()
        self._seen.clear()
        return True

    def of(self, expr: Expr) -> Shaped:
        """Shape and variables of an expression."""
        seen = self._seen
        known = seen.get(id(expr))
        if known is not None:
            return known[1]
        stack = [expr]  # no recursion: trees may be deep
        while stack:
            part = stack[-1]
            below = children(part)
            missing = [child for child in below if id(child) not in seen]
            if missing:
                stack.extend(missing)
            else:
                stack.pop()
                if id(part) not in seen:
                    seen[id(part)] = part, self._shape(part, below)
        return seen[id(expr)][1]

    def _shape(self, expr: Expr, below: tuple[Expr, ...]) -> Shaped:
        if isinstance(expr, Variable):
            return _VARIABLE, (expr.name,)
        if isinstance(expr, Const):
            return self._number((expr.value.numerator, expr.value.denominator)), ()
        kind = expr.name if isinstance(expr, Function) else type(expr)
        inside = [self._seen[id(child)][1] for child in below]
        if len(inside) == 1:
            return self._number((kind, inside[0][0])), inside[0][1]
        variables: dict[str, int] = {}
        places = [variables.setdefault(name, len(variables)) for _, names in inside for name in names]
        return self._number((kind, tuple([number for number, _ in inside]), tuple(places))), tuple(variables)

    def _number(self, key: object) -> int:
        number = self._numbers.get(key)
        if number is None:
            self._count += 1
            number = self._numbers[key] = self._count
        return number
