"""The same model for OR-Tools' CP-SAT, as an outside check of optimum and feasibility.

Every expression becomes a pair (integer variable or linear expression, scale): its value times the scale, a
whole number. Sums of grid lengths are exact. Products of exact factors are exact. A sine, cosine or tangent
of a linear angle is an element of a table rounded to `SCALE`; a root of something exact is the whole number below it, at
1,000 units per unit of its radicand's own scale. A quotient, a root of something rounded, and a factor too fine for 64
bits become the nearest whole number at some scale, tied to its operands only as closely as these are known. Every rule
and wish with something rounded in it gets the greatest rounding error as room, plus the tolerance of the rules. So CP-SAT
solves a relaxation: its optimum is never worse than the true one, and if the engine's answer (which is checked against
the rules themselves) is as good, it is the optimum.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, isqrt, lcm
from typing import Any

from ortools.sat.python import cp_model

from foldwright.solver import trig
from foldwright.solver.evaluate import is_linear
from foldwright.solver.expression import Const, Expr, Function, Product, Quotient, Sum, Variable, linear_form
from foldwright.solver.model import Model, Rule, Wish

TOLERANCE = Fraction(1, 10**7)  # of rules that are not linear, as in `evaluate.py`
LARGEST = 10**15  # of a product; beyond it operands are made coarser
SCALE = 10**6  # units of a sine; times 150 mm an error of 0.000075 mm


@dataclass
class Scaled:
    """`value` (an integer expression of CP-SAT) counts units of 1 / scale; true up to `error`, in the same units."""

    value: Any
    scale: Fraction
    low: int
    high: int
    error: Fraction = Fraction(0)


class Translation:
    """One model in CP-SAT's terms."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.cp = cp_model.CpModel()
        self.ranges = {v.name: (v.low, v.high) for v in model.variables}
        for rule in model.rules:
            self._range(rule)
        self.variables = {v.name: self.cp.new_int_var(*self.ranges[v.name], v.name) for v in model.variables}
        for rule in model.rules:
            self._rule(rule)

    def _range(self, rule: Rule) -> None:
        """Take a rule about one variable into its range, so that divisors keep clear of zero; the rule stays."""
        linear = linear_form(rule.left - rule.right)
        if linear is None or len(linear[0]) != 1:
            return
        ((variable, factor),) = linear[0].items()
        edge = -linear[1] / factor / variable.step
        low, high = self.ranges[variable.name]
        if rule.operator == "=" or (rule.operator == ">=") == (factor > 0):
            low = max(low, ceil(edge))
        if rule.operator == "=" or (rule.operator == "<=") == (factor > 0):
            high = min(high, floor(edge))
        if low <= high:
            self.ranges[variable.name] = low, high

    def solve(self, seconds: float, workers: int, quick: bool = False) -> tuple[str, list[int]]:
        """Status, and the grains of each wish in order (as far as it came).

        `quick` leaves out most of the library's own preparation, which takes longer than the search on small models.
        """
        reached: list[int] = []
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = workers
        solver.parameters.max_time_in_seconds = seconds
        solver.parameters.random_seed = 1
        if quick:
            solver.parameters.cp_model_probing_level = 0
            solver.parameters.symmetry_level = 0
            solver.parameters.linearization_level = 0
            solver.parameters.max_presolve_iterations = 1
        if not self.model.wishes:
            return solver.status_name(solver.solve(self.cp)), reached
        for wish in self.model.wishes:
            grains = self._grains(wish)
            (self.cp.maximize if wish.largest else self.cp.minimize)(grains)
            status = solver.status_name(solver.solve(self.cp))
            if status != "OPTIMAL":
                return status, reached
            reached.append(solver.value(grains))
            self.cp.add(grains == reached[-1])
        return "OPTIMAL", reached

    def _grains(self, wish: Wish) -> Any:
        """An integer variable that counts grains, no better than the target allows."""
        target = self.expression(wish.target)
        unit = target.scale * wish.grain  # units per grain
        grains = self.cp.new_int_var(floor(target.low / unit) - 2, ceil(target.high / unit) + 2, "")
        room = ceil(target.error + target.scale * TOLERANCE) if target.error else 0
        n, d = unit.numerator, unit.denominator
        if wish.largest:
            self.cp.add(grains * n <= (target.value + room) * d)
        else:
            self.cp.add(grains * n >= (target.value - room) * d)
        return grains

    def _rule(self, rule: Rule) -> None:
        difference = rule.left - rule.right if rule.operator != ">=" else rule.right - rule.left
        side = self.expression(difference)
        if side.error == 0 or is_linear(difference):
            room = 0
        else:
            room = ceil(side.error + side.scale * TOLERANCE)
        self.cp.add(side.value <= room)
        if rule.operator == "=":
            if side.error:
                raise NotImplementedError("an equality with rounded terms")
            self.cp.add(side.value >= 0)

    def expression(self, expr: Expr) -> Scaled:
        """Integer form of an expression."""
        linear = linear_form(expr)
        if linear is not None:
            return self._linear(*linear)
        match expr:
            case Sum():
                return self._sum([self.expression(term) for term in expr.terms])
            case Product(Const() as factor, right):
                inner = self.expression(right)
                times = factor.value
                scaled = self._times(inner, times.numerator)
                return Scaled(scaled.value, inner.scale * times.denominator, scaled.low, scaled.high, scaled.error)
            case Product():
                return self._product(self.expression(expr.left), self.expression(expr.right))
            case Function():
                return self._function(expr)
            case Quotient():
                return self._quotient(self.expression(expr.left), self.expression(expr.right))
            case Variable() | Const():
                raise NotImplementedError(type(expr).__name__)
        raise TypeError(type(expr).__name__)

    def _linear(self, factors: dict[Variable, Fraction], constant: Fraction) -> Scaled:
        steps = {v: f * v.step for v, f in factors.items()}
        scale = lcm(constant.denominator, *(f.denominator for f in steps.values()))
        value: Any = int(constant * scale)
        low = high = value
        for v, f in steps.items():
            whole = int(f * scale)
            value = value + whole * self.variables[v.name]
            ends = sorted(whole * end for end in self.ranges[v.name])
            low, high = low + ends[0], high + ends[1]
        return Scaled(value, Fraction(scale), low, high)

    def _times(self, a: Scaled, by: int) -> Scaled:
        ends = sorted((a.low * by, a.high * by))
        return Scaled(a.value * by, a.scale, ends[0], ends[1], a.error * abs(by))

    def _sum(self, parts: list[Scaled]) -> Scaled:
        scale = lcm(*(int(part.scale) for part in parts))
        total = Scaled(0, Fraction(scale), 0, 0)
        for part in parts:
            part = self._times(part, scale // int(part.scale))
            total = Scaled(
                total.value + part.value, total.scale, total.low + part.low, total.high + part.high, total.error + part.error
            )
        return total

    def _variable(self, a: Scaled) -> Any:
        variable = self.cp.new_int_var(a.low, a.high, "")
        self.cp.add(variable == a.value)
        return variable

    def _product(self, a: Scaled, b: Scaled) -> Scaled:
        while max(abs(a.low), abs(a.high), 1) * max(abs(b.low), abs(b.high), 1) > LARGEST:
            if a.scale % 10 == 0 and (b.scale % 10 or max(abs(a.low), abs(a.high)) > max(abs(b.low), abs(b.high))):
                a = self._coarse(a, 10)
            elif b.scale % 10 == 0:
                b = self._coarse(b, 10)
            else:
                raise NotImplementedError("a product beyond 64 bits")
        ends = [x * y for x in (a.low, a.high) for y in (b.low, b.high)]
        result = self.cp.new_int_var(min(ends), max(ends), "")
        self.cp.add_multiplication_equality(result, [self._variable(a), self._variable(b)])
        error = a.error * max(abs(b.low), abs(b.high)) + b.error * max(abs(a.low), abs(a.high)) + a.error * b.error
        return Scaled(result, a.scale * b.scale, min(ends), max(ends), error)

    def _function(self, expr: Function) -> Scaled:
        if expr.name in ("min", "max"):
            return self._extreme(expr.name, [self.expression(argument) for argument in expr.arguments])
        argument = self.expression(expr.arguments[0])
        if expr.name in ("sin", "cos", "tan"):
            table = [
                round(trig.FUNCTIONS[expr.name](Fraction(n) / argument.scale) * SCALE)
                for n in range(argument.low, argument.high + 1)
            ]
            result = self.cp.new_int_var(min(table), max(table), "")
            self.cp.add_element(self._variable(argument) - argument.low, table, result)
            return Scaled(result, Fraction(SCALE), min(table), max(table), Fraction(1, 2))
        if expr.name == "sqrt":
            return self._root_of_rounded(argument) if argument.error else self._root(argument)
        raise NotImplementedError(expr.name)

    def _coarse(self, a: Scaled, by: int) -> Scaled:
        """The nearest whole number of units `by` times as large."""
        low, high = a.low // by - 1, -(-a.high // by) + 1
        result = self.cp.new_int_var(low, high, "")
        self.cp.add(2 * by * result - 2 * a.value <= by)
        self.cp.add(2 * a.value - 2 * by * result <= by)
        return Scaled(result, a.scale / by, low, high, a.error / by + Fraction(1, 2))

    def _quotient(self, a: Scaled, b: Scaled) -> Scaled:
        """q, the whole number nearest to SCALE * a / b, tied to both by q * b = SCALE * a up to what rounding can make of it.

        `_product` says how far q * b may be off because b is; q is off by a half, and so q * b by half of b; SCALE * a is
        off by SCALE times the error of a.
        """
        if b.low - b.error <= 0 <= b.high + b.error:
            raise NotImplementedError("a divisor that may be zero")
        b_least, b_most = min(abs(b.low), abs(b.high)) - b.error, max(abs(b.low), abs(b.high)) + b.error
        a_most = max(abs(a.low), abs(a.high)) + a.error
        most = ceil(SCALE * a_most / a.scale / (b_least / b.scale)) + 1
        result = self.cp.new_int_var(-most, most, "")
        product = self._product(Scaled(result, Fraction(1), -most, most), b)
        room = product.error / product.scale + b_most / b.scale / 2 + SCALE * a.error / a.scale
        left, right = 1 / product.scale, SCALE / a.scale
        common = lcm(left.denominator, right.denominator)
        difference = product.value * int(left * common) - a.value * int(right * common)
        self.cp.add(difference <= ceil(room * common))
        self.cp.add(difference >= -ceil(room * common))
        return Scaled(result, Fraction(SCALE), -most, most, Fraction(1, 2))

    def _root_of_rounded(self, argument: Scaled) -> Scaled:
        """r, the whole number nearest to SCALE * root: r² = SCALE² * argument up to its error and 2 * r / 2 + 1 / 4."""
        while argument.scale > SCALE**2 and argument.scale % 10 == 0:
            argument = self._coarse(argument, 10)
        high = isqrt(ceil(SCALE**2 * (argument.high + argument.error) / argument.scale)) + 2 if argument.high > 0 else 1
        root = self.cp.new_int_var(0, high, "")
        square = self.cp.new_int_var(0, high * high, "")
        self.cp.add_multiplication_equality(square, [root, root])
        factor = SCALE**2 / argument.scale
        slack = ceil((factor * argument.error + high + 1) * factor.denominator)
        self.cp.add(square * factor.denominator - argument.value * factor.numerator <= slack)
        self.cp.add(argument.value * factor.numerator - square * factor.denominator <= slack)
        return Scaled(root, Fraction(SCALE), 0, high, Fraction(1, 2))

    def _extreme(self, name: str, parts: list[Scaled]) -> Scaled:
        scale = lcm(*(int(part.scale) for part in parts))
        parts = [self._times(part, scale // int(part.scale)) for part in parts]
        pick = max if name == "max" else min
        low, high = pick(part.low for part in parts), pick(part.high for part in parts)
        result = self.cp.new_int_var(low, high, "")
        values = [self._variable(part) for part in parts]
        (self.cp.add_max_equality if name == "max" else self.cp.add_min_equality)(result, values)
        return Scaled(result, Fraction(scale), low, high, max(part.error for part in parts))

    def _root(self, argument: Scaled) -> Scaled:
        """floor(sqrt(argument * fine)): off by less than one unit of 1 / root_scale."""
        root_scale = isqrt(int(argument.scale)) if isqrt(int(argument.scale)) ** 2 == argument.scale else None
        fine = 10**6 if root_scale is not None else 10**6 * int(argument.scale)
        scale = Fraction((root_scale or int(argument.scale)) * 1000)
        self.cp.add(argument.value >= 0)
        high = isqrt(max(0, argument.high) * fine) + 1
        root = self.cp.new_int_var(0, high, "")
        square = self.cp.new_int_var(0, high * high, "")
        above = self.cp.new_int_var(0, (high + 1) * (high + 1), "")
        self.cp.add_multiplication_equality(square, [root, root])
        self.cp.add_multiplication_equality(above, [root + 1, root + 1])
        self.cp.add(square <= argument.value * fine)
        self.cp.add(above >= argument.value * fine + 1)
        return Scaled(root, scale, 0, high, Fraction(1))


def optimum(model: Model, seconds: float = 60, workers: int = 1, quick: bool = False) -> tuple[str, list[Fraction]]:
    """Status and the value of each wish, as CP-SAT finds them."""
    status, grains = Translation(model).solve(seconds, workers, quick)
    return status, [n * wish.grain for n, wish in zip(grains, model.wishes, strict=False)]
