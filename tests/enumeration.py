"""All answers of a small card's model by enumeration of its whole grid: no propagation, only "does this rule hold here".

Assignments are rows of a table of grid counts. One variable after the other is joined to every row with every value, in
the order of declaration; as soon as the last variable of a rule is there, the rows that break it go. Linear rules are
decided in whole numbers. Others are worked out by numpy, with its own sines; a row closer to the limit than 1e-9 is left
to `holds`, the definition.
"""

from __future__ import annotations

from fractions import Fraction
from math import lcm

import numpy as np
from numpy.typing import NDArray

from foldwright.solver.evaluate import TOLERANCE, holds, measure, postorder
from foldwright.solver.expression import Const, Expr, Function, Product, Quotient, Sum, Variable, linear_form
from foldwright.solver.model import Model, Rule, Wish

Table = NDArray[np.int64]  # shape (rows, variables so far)
CLOSE = 1e-9  # far above the rounding of values up to 1e5
MOST = 400_000  # rows


class TooMany(Exception):
    """The grid is larger than a test has time for."""


class Enumeration:
    """The table of all answers of a model. Raises TooMany."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.place = {variable.name: n for n, variable in enumerate(model.variables)}
        self.steps = [variable.step for variable in model.variables]
        due: list[list[Rule]] = [[] for _ in model.variables]
        for rule in model.rules:
            inside = self._inside(rule.left) | self._inside(rule.right)
            due[max(inside, default=0)].append(rule)
        table = np.zeros((1, 0), np.int64)
        for n, variable in enumerate(model.variables):
            values = np.arange(*self._range(variable))
            if len(table) * len(values) > MOST:
                raise TooMany
            table = np.column_stack([np.repeat(table, len(values), axis=0), np.tile(values, len(table))])
            for rule in due[n]:
                table = table[self._kept(rule, table)]
        self.table = table

    def _inside(self, expr: Expr) -> set[int]:
        return {self.place[node.name] for node in postorder(expr) if isinstance(node, Variable)}

    def _range(self, variable: Variable) -> tuple[int, int]:
        """Counts between the numbers that rules about this variable alone compare it with, and one step more each way."""
        low, high = Fraction(variable.low), Fraction(variable.high)
        for rule in self.model.rules:
            if rule.left == variable and isinstance(rule.right, Const):
                count = rule.right.value / variable.step
                low = max(low, count - 1) if rule.operator in (">=", "=") else low
                high = min(high, count + 1) if rule.operator in ("<=", "=") else high
        return int(low), int(high) + 1

    def values(self, row: NDArray[np.int64]) -> dict[str, Fraction]:
        """A row by name."""
        return {v.name: v.step * int(n) for v, n in zip(self.model.variables, row, strict=False)}

    def _kept(self, rule: Rule, table: Table) -> NDArray[np.bool_]:
        linear = linear_form(rule.left - rule.right)
        if linear is not None:
            apart: NDArray[np.int64] = self._whole(*linear, table)
            return {"<=": apart <= 0, ">=": apart >= 0, "=": apart == 0}[rule.operator]
        with np.errstate(all="ignore"):
            far = self.column(rule.left, table) - self.column(rule.right, table)
        far = {"<=": far, ">=": -far, "=": abs(far)}[rule.operator]
        kept = far <= TOLERANCE  # not where it has no value
        for row in np.flatnonzero((abs(far - TOLERANCE) < CLOSE) | (~np.isfinite(far))):
            kept[row] = holds(rule, self.values(table[row]))
        return kept

    def _whole(self, factors: dict[Variable, Fraction], constant: Fraction, table: Table) -> NDArray[np.int64]:
        scaled = {self.place[v.name]: f * v.step for v, f in factors.items()}
        scale = lcm(constant.denominator, *(f.denominator for f in scaled.values()))
        total = np.full(len(table), int(constant * scale), np.int64)
        for n, f in scaled.items():
            total += int(f * scale) * table[:, n]
        return total

    def column(self, expr: Expr, table: Table) -> NDArray[np.float64]:
        """An expression's value in every row; not finite where it has none."""
        match expr:
            case Const():
                return np.full(len(table), float(expr.value))
            case Variable():
                n = self.place[expr.name]
                return table[:, n] * float(self.steps[n])
            case Sum():
                return np.sum([self.column(term, table) for term in expr.terms], axis=0)
            case Product():
                return self.column(expr.left, table) * self.column(expr.right, table)
            case Quotient():
                return self.column(expr.left, table) / self.column(expr.right, table)
        assert isinstance(expr, Function)
        parts = [self.column(argument, table) for argument in expr.arguments]
        if expr.name in ("min", "max"):
            return (np.min if expr.name == "min" else np.max)(parts, axis=0)
        if expr.name == "sqrt":
            return np.sqrt(parts[0])
        return {"sin": np.sin, "cos": np.cos, "tan": np.tan}[expr.name](np.radians(parts[0]))

    def best(self) -> tuple[dict[str, Fraction] | None, list[Fraction]]:
        """The answer that the engine should give, and what each wish comes to."""
        table, reached = self.table, []
        if not len(table):
            return None, []
        for wish in self.model.wishes:
            table, value = self._top(wish, table)
            reached.append(value)
        for n, variable in enumerate(self.model.variables):  # the canonical answer among equals
            liked = variable.preferred
            counts = sorted({int(count) for count in table[:, n]})
            first = min(counts, key=lambda c: (abs(c * variable.step - liked) if liked is not None else 0, c))
            table = table[table[:, n] == first]
        return self.values(table[0]), reached

    def _top(self, wish: Wish, table: Table) -> tuple[Table, Fraction]:
        """The rows that are best for a wish, and what it comes to there."""
        sign = -1 if wish.largest else 1
        rough = self.column(wish.target, table) * sign
        near = rough < rough.min() + float(wish.grain) + CLOSE
        table, rough = table[near], rough[near]
        grains = np.ceil((rough - TOLERANCE) / float(wish.grain))
        unsure = abs((rough - TOLERANCE) / float(wish.grain) - np.round((rough - TOLERANCE) / float(wish.grain))) < 1e-5
        for row in np.flatnonzero(unsure):
            grains[row] = int(measure(wish, self.values(table[row])) / wish.grain) * sign
        top = int(grains.min())
        table = table[grains == top]
        assert measure(wish, self.values(table[0])) == sign * top * wish.grain
        return table, sign * top * wish.grain
