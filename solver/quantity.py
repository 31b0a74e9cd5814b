"""Script expressions with their dimensions: what is a length, an angle, a plain number, and what may be combined."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from foldwright.grammar import design as ast
from foldwright.grammar.problem import Refused
from foldwright.grammar.problems import DivisionByZero, UnitMissing, UnitWrong
from foldwright.grammar.units import MM_PER_UNIT
from foldwright.solver import expression as ex
from foldwright.solver.expression import Const, Expr


@dataclass(frozen=True)
class Quantity:
    """An expression with its dimension: `power` of length, or an angle. `bare` numbers take the unit that is wanted."""

    expr: Expr
    power: int = 0
    angle: bool = False
    bare: bool = False

    @property
    def kind(self) -> str:
        """The dimension in words."""
        if self.angle:
            return "an angle"
        return {0: "a plain number", 1: "a length", 2: "an area"}.get(self.power, f"a length to the power {self.power}")


Lookup = Callable[[ast.Name], Quantity]


@dataclass(frozen=True)
class Reader:
    """Turns script expressions into quantities; `unit` is what bare lengths count (None: the card names none).

    `free` gives what stands for a number that is made unknown, in the unit written, and None for all others.
    """

    unit: str | None
    lookup: Lookup
    free: Callable[[ast.Expression], Expr | None] = lambda node: None

    def length(self, node: ast.Expression, what: str) -> Expr:
        """The expression as a length in mm."""
        return self.adopt(self.read(node), "length", node, what).expr

    def angle(self, node: ast.Expression, what: str) -> Expr:
        """The expression as an angle in degrees."""
        return self.adopt(self.read(node), "angle", node, what).expr

    def adopt(self, quantity: Quantity, wanted: str, node: ast.Expression, what: str = "this value") -> Quantity:
        """The quantity as `wanted` ("length", "angle", "area" or "plain"); bare numbers take its unit."""
        power = {"length": 1, "area": 2}.get(wanted, 0)
        if quantity.bare and wanted == "angle":
            return Quantity(quantity.expr, 0, True)
        if quantity.bare and power:
            if self.unit is None:
                raise Refused([UnitMissing(node.at, what)])
            return Quantity(quantity.expr * MM_PER_UNIT[self.unit] ** power, power)
        if quantity.angle != (wanted == "angle") or quantity.power != power:
            raise Refused([UnitWrong(node.at, quantity.kind, f"{_article(wanted)} for {what}")])
        return quantity

    def read(self, node: ast.Expression) -> Quantity:
        """The quantity that a script expression stands for; raises Refused."""
        free = self.free(node)
        match node:
            case ast.Number():
                return self._number(node, Const(node.value) if free is None else free)
            case ast.Binary() if free is not None:  # a fraction of two whole numbers
                return Quantity(free, bare=True)
            case ast.Name():
                return self.lookup(node)
            case ast.Negative():
                inner = self.read(node.operand)
                return Quantity(-inner.expr, inner.power, inner.angle, inner.bare)
            case ast.Binary():
                return self._binary(node)
            case ast.Call():
                return self._call(node)

    @staticmethod
    def _number(node: ast.Number, value: Expr) -> Quantity:
        if node.unit is None:
            return Quantity(value, bare=True)
        if node.unit == "deg":
            return Quantity(value, angle=True)
        if node.unit in MM_PER_UNIT:
            return Quantity(value * MM_PER_UNIT[node.unit], power=1)
        raise Refused([UnitWrong(node.at, f"`{node.unit}`", "a length, an angle or a plain number")])

    def _binary(self, node: ast.Binary) -> Quantity:
        left, right = self.read(node.left), self.read(node.right)
        bare = left.bare and right.bare
        if node.operator in "+-":
            left, right = self.alike([(left, node.left), (right, node.right)])
            expr = left.expr + right.expr if node.operator == "+" else left.expr - right.expr
            return Quantity(expr, left.power, left.angle, bare)
        if (left.angle and (right.angle or right.power)) or (right.angle and left.power):
            raise Refused([UnitWrong(node.at, f"{left.kind} and {right.kind}", "at most one angle, and no length with it")])
        if node.operator == "*":
            return Quantity(left.expr * right.expr, left.power + right.power, left.angle or right.angle, bare)
        if right.angle:
            raise Refused([UnitWrong(node.right.at, "an angle", "a length or a plain number to divide by")])
        try:
            quotient = left.expr / right.expr
        except ZeroDivisionError:
            raise Refused([DivisionByZero(node.right.at)]) from None
        return Quantity(quotient, left.power - right.power, left.angle, bare)

    def alike(self, operands: list[tuple[Quantity, ast.Expression]]) -> list[Quantity]:
        """Operands brought to one dimension, for sums, comparisons, `min` and `max`."""
        leading = next((q for q, _ in operands if not q.bare), None)
        if leading is None:
            return [q for q, _ in operands]
        wanted = "angle" if leading.angle else {0: "plain", 1: "length", 2: "area"}.get(leading.power, "plain")
        out = []
        for quantity, node in operands:
            if not quantity.bare and (quantity.power, quantity.angle) != (leading.power, leading.angle):
                raise Refused([UnitWrong(node.at, quantity.kind, f"{leading.kind}, as on the other side")])
            out.append(self.adopt(quantity, wanted, node) if quantity.bare else quantity)
        return out

    def _call(self, node: ast.Call) -> Quantity:
        arguments = [(self.read(argument), argument) for argument in node.arguments]
        if node.function in ("min", "max"):
            like = self.alike(arguments)
            make = ex.smallest if node.function == "min" else ex.largest
            return Quantity(make(*(q.expr for q in like)), like[0].power, like[0].angle, all(q.bare for q, _ in arguments))
        quantity, argument = arguments[0]
        if node.function == "sqrt":
            if quantity.angle or quantity.power % 2:
                raise Refused([UnitWrong(argument.at, quantity.kind, "an area or a plain number under `sqrt`")])
            return Quantity(ex.sqrt(quantity.expr), quantity.power // 2)
        angle = self.adopt(quantity, "angle", argument, f"`{node.function}`")
        return Quantity({"sin": ex.sin, "cos": ex.cos, "tan": ex.tan}[node.function](angle.expr))


def _article(dimension: str) -> str:
    return {"length": "a length", "angle": "an angle", "area": "an area", "plain": "a plain number"}[dimension]


