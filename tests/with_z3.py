"""The same model for z3, as an outside check of feasibility.

A variable is a whole number of grid steps, everything else is real arithmetic over it without rounding: a root is the
number that is not negative and whose square is the radicand, a quotient the number whose product with the divisor is the
dividend. A sine, cosine or tangent of a linear angle is looked up in the table of the values that the definition uses, as
exact fractions. Rules that are not linear have the tolerance of the definition.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor, inf
from typing import Any

import z3

from foldwright.solver import trig
from foldwright.solver.evaluate import TOLERANCE, is_linear
from foldwright.solver.expression import Const, Expr, Function, Product, Quotient, Sum, Variable, linear_form
from foldwright.solver.model import Model, Rule

LARGEST_TABLE = 2000


class Translation:
    """A model as assertions of one z3 solver. Raises NotImplementedError for angles that are not linear."""

    def __init__(self, model: Model) -> None:
        self.solver = z3.SolverFor("QF_NIRA")
        self.ranges = {v.name: self._range(v, model) for v in model.variables}
        self.counts = {v.name: z3.Int(v.name) for v in model.variables}
        for name, (low, high) in self.ranges.items():
            self.solver.add(self.counts[name] >= low, self.counts[name] <= high)
        self.known: dict[Expr, Any] = {}
        for rule in model.rules:
            self._rule(rule)

    @staticmethod
    def _range(variable: Variable, model: Model) -> tuple[int, int]:
        """Counts between the numbers that rules compare the variable with; the rules stay."""
        low, high = Fraction(variable.low), Fraction(variable.high)
        for rule in model.rules:
            if rule.left == variable and isinstance(rule.right, Const):
                count = rule.right.value / variable.step
                low = max(low, count) if rule.operator in (">=", "=") else low
                high = min(high, count) if rule.operator in ("<=", "=") else high
        return ceil(low), floor(high)

    def verdict(self, effort: int) -> str:
        """`sat`, `unsat` or `unknown` (within `effort` of z3's own units, the same on every machine)."""
        self.solver.set("rlimit", effort)
        return str(self.solver.check())

    def _rule(self, rule: Rule) -> None:
        difference = rule.left - rule.right
        linear = linear_form(difference)
        apart = self._linear(*linear) if linear is not None else self._number(rule.left) - self._number(rule.right)
        tolerance = Fraction(0) if is_linear(rule.left) and is_linear(rule.right) else Fraction(TOLERANCE)
        if rule.operator != ">=":
            self.solver.add(apart <= _real(tolerance))
        if rule.operator != "<=":
            self.solver.add(apart >= _real(-tolerance))

    def _linear(self, factors: dict[Variable, Fraction], constant: Fraction) -> Any:
        terms = [_real(f * v.step) * z3.ToReal(self.counts[v.name]) for v, f in factors.items()]
        return z3.Sum([_real(constant), *terms])

    def _number(self, expr: Expr) -> Any:
        if expr not in self.known:
            self.known[expr] = self._make(expr)
        return self.known[expr]

    def _make(self, expr: Expr) -> Any:
        linear = linear_form(expr)
        if linear is not None:
            return self._linear(*linear)
        match expr:
            case Sum():
                return z3.Sum([self._number(term) for term in expr.terms])
            case Product():
                return self._number(expr.left) * self._number(expr.right)
            case Quotient():
                quotient, divisor = z3.FreshReal(), self._number(expr.right)
                self.solver.add(divisor != 0, quotient * divisor == self._number(expr.left))
                return quotient
        assert isinstance(expr, Function)
        if expr.name in ("min", "max"):
            return self._extreme(expr)
        if expr.name == "sqrt":
            root = z3.FreshReal()
            self.solver.add(root >= 0, root * root == self._number(expr.arguments[0]))
            return root
        return self._sine(expr)

    def _extreme(self, expr: Function) -> Any:
        parts = [self._number(argument) for argument in expr.arguments]
        pick = parts[0]
        for part in parts[1:]:
            pick = z3.If(part < pick if expr.name == "min" else part > pick, part, pick)
        return pick

    def _sine(self, expr: Function) -> Any:
        linear = linear_form(expr.arguments[0])
        if linear is None:
            raise NotImplementedError("an angle that is not linear")
        factors, constant = linear
        steps = {v: f * v.step for v, f in factors.items()}
        unit = min((abs(f) for f in steps.values()), default=Fraction(1))
        if any((f / unit).denominator != 1 for f in steps.values()):
            raise NotImplementedError("an angle of several steps")
        whole = {v: int(f / unit) for v, f in steps.items()}
        low = sum(min(a * end for end in self.ranges[v.name]) for v, a in whole.items())
        high = sum(max(a * end for end in self.ranges[v.name]) for v, a in whole.items())
        if high - low > LARGEST_TABLE:
            raise NotImplementedError("an angle of many values")
        value, place = z3.FreshReal(), z3.FreshInt()
        self.solver.add(place == z3.Sum([a * self.counts[v.name] for v, a in whole.items()]))
        choices = []
        for n in range(low, high + 1):
            worth = trig.FUNCTIONS[expr.name](constant + unit * n)
            if worth != inf:
                choices.append(z3.And(place == n, value == _real(Fraction(worth))))
        self.solver.add(z3.Or(choices))
        return value


def _real(value: Fraction) -> Any:
    return z3.RealVal(f"{value.numerator}/{value.denominator}")
