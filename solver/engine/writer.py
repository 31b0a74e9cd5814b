"""What a generated propagator is made of: its nodes in order, its lines, and the numbers bound to its names.

In the text of a propagator the interval of the node at place 3 is `l3` to `h3`, its pad is `e3`; a variable
there is `i3`, its step `s3`; an angle table is `T3`. The methods that write lines are in `forward.py` and
`contract.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from foldwright.solver import trig
from foldwright.solver.engine.graph import Graph, Node, common_unit
from foldwright.solver.engine.linear import Terms
from foldwright.solver.engine.propagate import Store
from foldwright.solver.engine.spans import spans

_TABLE_LIMIT = 4096  # angles per table; beyond it sines are taken as continuous functions


@dataclass(frozen=True, slots=True)
class Table:
    """Values of an angle function at `start + step * k` degrees, where k is the sum of the terms less `first`."""

    terms: Terms
    first: int
    values: tuple[float, ...]
    start: Fraction
    step: Fraction


class Writer:
    """Writes the source of one propagator and collects the numbers that it is bound to."""

    def __init__(self, graph: Graph, store: Store, root: int) -> None:
        self.graph, self.store, self.root = graph, store, root
        self.spans = spans(graph, store, root)
        self.tables: dict[int, Table] = {}
        self.order = self._order()
        self.place = {number: n for n, number in enumerate(self.order)}
        self.lines: list[str] = []
        self.values: dict[str, Any] = {}
        self.partial = False  # some operation may be undefined within the root bounds
        self.parents: dict[int, int] = {}
        for number in self.order:
            if number not in self.tables:
                for operand in self._operands(number):
                    self.parents[operand] = self.parents.get(operand, 0) + 1

    def _operands(self, number: int) -> tuple[int, ...]:
        node = self.graph.nodes[number]
        return () if node.kind == "var" or number in self.tables else node.operands

    def _order(self) -> list[int]:
        """Nodes that need an interval, operands first; below a tabulated angle function there are none."""
        seen: set[int] = set()
        stack = [self.root]
        while stack:
            number = stack.pop()
            if number in seen:
                continue
            seen.add(number)
            node = self.graph.nodes[number]
            if node.kind in trig.FUNCTIONS:
                self._tabulate(number, node)
            if node.kind != "var" and number not in self.tables:
                stack.extend(node.operands)
        return sorted(seen)

    def _tabulate(self, number: int, node: Node) -> None:
        """Use a table if the angle is a linear form with few grid values within the root bounds."""
        angle = self.graph.nodes[node.operands[0]]
        if angle.kind == "var":
            angle = Node("sum", (node.operands[0],), (Fraction(1),))
        if angle.kind != "sum" or not all(self.graph.is_variable(n) for n in angle.operands):
            return
        terms = [
            (self.graph.nodes[n].operands[0], f * self.graph.steps[self.graph.nodes[n].operands[0]])
            for n, f in zip(angle.operands, angle.factors, strict=True)
        ]
        step = common_unit([abs(f) for _, f in terms])
        whole = [(v, int(f / step)) for v, f in terms]
        low, high = self.store.low, self.store.high
        first = sum(a * (low[v] if a > 0 else high[v]) for v, a in whole)
        last = sum(a * (high[v] if a > 0 else low[v]) for v, a in whole)
        if last - first >= _TABLE_LIMIT:
            return
        start = angle.constant + step * first
        values = trig.table(node.kind, start, step, last - first + 1)
        self.tables[number] = Table(whole, first, values, start, step)

    def say(self, *lines: str) -> None:
        """Add lines to the body."""
        self.lines.extend("        " + line for line in lines)

    def bind(self, name: str, value: Any) -> str:
        """Bind a name to a value; returns the name."""
        self.values[name] = value
        return name

    def size(self, number: int) -> float:
        """Greatest magnitude of a node, or of the terms that it is summed from (they may cancel)."""
        node = self.graph.nodes[number]
        ends = [abs(end) for end in self.spans[number]]
        if node.kind == "sum":
            ends += [
                abs(end * float(f))
                for n, f in zip(node.operands, node.factors, strict=True)
                if n in self.spans
                for end in self.spans[n]
            ]
        return max(ends)

    def unbounded(self, number: int) -> bool:
        """True if a node may grow without limit (a quotient by zero, a tangent)."""
        return self.size(number) > 1e30

    def pad(self, number: int) -> str:
        """Name (or expression) of what a projection on a node is widened by."""
        p = self.place[number]
        if self.unbounded(number):
            return f"(UNIT * abs(t) + e{p})"
        return f"e{p}"
