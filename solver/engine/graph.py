"""Expressions brought into a normal form that propagation can work on.

Every expression becomes a `Form`: a constant plus factors times nodes, where a node is a variable or
something that is not linear (a product, a root, a sine). Equal subexpressions become one node, so x * x is
seen to be a square and a variable that stands on both sides of a rule is counted once. Nothing here is
recursive: trees may be deep.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import gcd, lcm

from foldwright.solver.evaluate import children, postorder
from foldwright.solver.expression import Const, Expr, Function, Product, Quotient, Sum, Variable


@dataclass(slots=True)
class Form:
    """`constant` plus, for each node number in `factors`, the factor times that node."""

    constant: Fraction = Fraction(0)
    factors: dict[int, Fraction] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Node:
    """One operation. `kind` is `var`, `sum`, `mul`, `sqr`, `div`, `sqrt`, `min`, `max`, `sin`, `cos` or
    `tan`.

    `operands` are node numbers (of a `var`: the variable's index); `factors` and `constant` belong to a
    `sum`.
    """

    kind: str
    operands: tuple[int, ...]
    factors: tuple[Fraction, ...] = ()
    constant: Fraction = Fraction(0)


class Graph:
    """All nodes of a model; equal ones are shared."""

    def __init__(self, index: dict[str, int], steps: Sequence[Fraction]) -> None:
        self.index = index
        self.steps = steps
        self.nodes: list[Node] = []
        self._known: dict[Node, int] = {}

    def node(self, node: Node) -> int:
        """Number of a node, entered if it is new."""
        number = self._known.get(node)
        if number is None:
            number = self._known[node] = len(self.nodes)
            self.nodes.append(node)
        return number

    def is_variable(self, number: int) -> bool:
        """True if the node is a variable."""
        return self.nodes[number].kind == "var"

    def is_linear(self, form: Form) -> bool:
        """True if a form has variables only."""
        return all(self.nodes[number].kind == "var" for number in form.factors)

    def form(self, expr: Expr) -> Form:
        """Normal form of an expression."""
        done: dict[int, Form] = {}
        for part in postorder(expr):
            done[id(part)] = self._form(part, [done[id(child)] for child in children(part)])
        return done[id(expr)]

    def _form(self, expr: Expr, below: list[Form]) -> Form:
        match expr:
            case Const():
                return Form(expr.value)
            case Variable():
                return Form(factors={self.node(Node("var", (self.index[expr.name],))): Fraction(1)})
            case Sum():
                total = Form()
                for part in below:
                    total = self.combine(total, part, 1)
                return total
            case Product():
                return self._product(*below)
            case Quotient():
                if not below[1].factors and below[1].constant:
                    return self.scale(below[0], 1 / below[1].constant)
                return self._single(Node("div", (self.wrap(below[0]), self.wrap(below[1]))))
            case Function():
                return self._single(Node(expr.name, tuple(self.wrap(part) for part in below)))
        raise TypeError(f"{type(expr).__name__} is no expression")

    def _single(self, node: Node) -> Form:
        return Form(factors={self.node(node): Fraction(1)})

    def combine(self, a: Form, b: Form, times: int) -> Form:
        """`a + times * b`. A variable with factor zero goes; other nodes stay, for they may be undefined."""
        factors = dict(a.factors)
        for number, factor in b.factors.items():
            total = factors.get(number, Fraction(0)) + times * factor
            if total or not self.is_variable(number):
                factors[number] = total
            else:
                factors.pop(number, None)
        return Form(a.constant + times * b.constant, factors)

    def scale(self, form: Form, by: Fraction) -> Form:
        """A form times a number."""
        kept = {n: f * by for n, f in form.factors.items() if by or not self.is_variable(n)}
        return Form(form.constant * by, kept)

    def _product(self, a: Form, b: Form) -> Form:
        if not b.factors:
            a, b = b, a
        if not a.factors:
            return self.scale(b, a.constant)
        (p, left), (q, right) = self._split(a), self._split(b)
        if left == right:
            return self.scale(self._single(Node("sqr", (left,))), p * q)
        left, right = min(left, right), max(left, right)
        return self.scale(self._single(Node("mul", (left, right))), p * q)

    def _split(self, form: Form) -> tuple[Fraction, int]:
        """A form as a number times one node."""
        if len(form.factors) == 1 and not form.constant:
            ((number, factor),) = form.factors.items()
            if factor:
                return factor, number
        return Fraction(1), self.wrap(form)

    def wrap(self, form: Form) -> int:
        """One node for a form."""
        if len(form.factors) == 1 and not form.constant:
            ((number, factor),) = form.factors.items()
            if factor == 1:
                return number
        ordered = sorted(form.factors.items())
        return self.node(Node("sum", tuple(n for n, _ in ordered), tuple(f for _, f in ordered), form.constant))

    def variables(self, roots: Sequence[int]) -> list[int]:
        """Indices of the variables below some nodes, ascending."""
        found = {self.nodes[n].operands[0] for n in self.below(roots) if self.nodes[n].kind == "var"}
        return sorted(found)

    def below(self, roots: Sequence[int]) -> list[int]:
        """Numbers of all nodes at or below some nodes, operands first."""
        seen: set[int] = set()
        stack = list(roots)
        while stack:
            number = stack.pop()
            if number in seen:
                continue
            seen.add(number)
            if not self.is_variable(number):
                stack.extend(self.nodes[number].operands)
        return sorted(seen)  # a node is entered after its operands

    def grid(self, number: int) -> Fraction | None:
        """A unit of which the node is always a whole multiple; None if it has none (roots, sines, quotients)."""
        units: dict[int, Fraction | None] = {}
        for each in self.below([number]):
            units[each] = self._unit(self.nodes[each], units)
        return units[number]

    def _unit(self, node: Node, units: dict[int, Fraction | None]) -> Fraction | None:
        if node.kind == "var":
            return self.steps[node.operands[0]]
        parts = [units[n] for n in node.operands]
        known = [part for part in parts if part is not None]
        if len(known) < len(parts):
            return None
        if node.kind == "sum":
            pieces = [abs(f * u) for f, u in zip(node.factors, known, strict=True)]
            return common_unit([*pieces, abs(node.constant)])
        if node.kind in ("min", "max"):
            return common_unit(known)
        if node.kind == "mul":
            return known[0] * known[1]
        return known[0] * known[0] if node.kind == "sqr" else None


def common_unit(values: Sequence[Fraction]) -> Fraction:
    """Greatest number of which all values are whole multiples; 1 if all are zero."""
    some = [value for value in values if value]
    if not some:
        return Fraction(1)
    denominator = lcm(*(value.denominator for value in some))
    return Fraction(gcd(*(int(value * denominator) for value in some)), denominator)


def integer_form(graph: Graph, form: Form) -> tuple[list[tuple[int, int]], Fraction]:
    """A linear form over grid counts, scaled to whole coprime factors: pairs (variable, factor), and the constant."""
    counts = [(graph.nodes[n].operands[0], f * graph.steps[graph.nodes[n].operands[0]]) for n, f in sorted(form.factors.items())]
    if not counts:
        return [], form.constant
    unit = common_unit([abs(f) for _, f in counts])
    return [(variable, int(f / unit)) for variable, f in counts], form.constant / unit
