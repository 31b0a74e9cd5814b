"""A wish in whole-number form, and the share of it that one component of the model has."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil, floor

from foldwright.solver.engine.graph import Form, Node, common_unit
from foldwright.solver.engine.linear import Cut, Terms
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.spans import spans
from foldwright.solver.evaluate import TOLERANCE, Evaluation, counted
from foldwright.solver.model import Wish, WishResult

_FINE = 2**20  # units per grain for terms that have no exact unit
_COARSE = 2**12  # units per grain at least, if terms are wide
_WIDEST = 1e11  # greatest number of units in a term, so that floats tell neighbouring units apart
ROUNDING = 0.01  # units; far above the rounding of 1e11 units in a float, far below one unit
HUGE = 10**130  # no sum of terms reaches it: an unbounded interval ends at 1e100


class Target:
    """A wish in whole-number form: `constant + unit * sum(factor * variable)` is to be small (minus a largest)."""

    def __init__(self, machine: Machine, wish: Wish) -> None:
        self.machine, self.wish, self.evaluation = machine, wish, Evaluation(wish.target)
        graph = machine.graph
        form = graph.scale(graph.form(wish.target), Fraction(-1 if wish.largest else 1))
        self.linear = graph.is_linear(form)
        self.tolerance = Fraction(0) if self.linear else Fraction(TOLERANCE)
        self.constant = form.constant
        self.links: list[int] = []  # propagators that tie cost variables to their terms
        self.sources: dict[int, list[int]] = {}  # cost variable: the variables of its term
        self.exact = True
        self.terms: Terms = []
        self._split(form)

    def _split(self, form: Form) -> None:
        graph = self.machine.graph
        plain = {n: f for n, f in form.factors.items() if graph.is_variable(n)}
        curved = {n: f for n, f in form.factors.items() if n not in plain}
        for n in [n for n in curved if self._is_fixed(n)]:
            self.constant += curved.pop(n) * self._fixed(n)
        widest = max((self._size(n) * float(abs(f)) for n, f in curved.items()), default=0.0)
        fine = _FINE
        unit = self._unit(plain, curved, fine)
        while fine > _COARSE and 1e30 > widest > _WIDEST * float(unit):
            fine //= 2
            unit = self._unit(plain, curved, fine)
        if 1e30 > widest > _WIDEST * float(unit):
            # Too fine to be told apart in floats: one cost variable for everything, in coarse units.
            self.exact, plain, curved = False, {}, {graph.wrap(Form(factors=form.factors)): Fraction(1)}
            widest = self._size(next(iter(curved)))
            unit = max(self.wish.grain / _FINE, Fraction(ceil(widest)) / int(_WIDEST))
        self.unit = unit
        for n, f in sorted(plain.items()):
            variable = graph.nodes[n].operands[0]
            self.terms.append((variable, int(f * graph.steps[variable] / unit)))
        for n, f in sorted(curved.items()):
            self.terms.append((self._cost(n, f / unit), 1))

    def _unit(self, plain: Mapping[int, Fraction], curved: Mapping[int, Fraction], fine: int) -> Fraction:
        """A unit of which all terms are whole multiples; those without an exact unit get so many units per grain."""
        graph = self.machine.graph
        units = [abs(f * graph.steps[graph.nodes[n].operands[0]]) for n, f in plain.items()]
        for n, f in curved.items():
            grid = graph.grid(n) if f else Fraction(1)
            self.exact = self.exact and grid is not None
            units.append(self.wish.grain / fine if grid is None else abs(f * grid))
        return common_unit([*units, self.wish.grain])

    def _is_fixed(self, number: int) -> bool:
        """True if a node has one exact value by now."""
        low, high = self.machine.store.low, self.machine.store.high
        graph = self.machine.graph
        return graph.grid(number) is not None and all(low[v] == high[v] for v in graph.variables([number]))

    def _fixed(self, number: int) -> Fraction:
        """The exact value of such a node."""
        graph, low = self.machine.graph, self.machine.store.low
        worth: dict[int, Fraction] = {}
        for n in graph.below([number]):
            node = graph.nodes[n]
            parts = [] if node.kind == "var" else [worth[operand] for operand in node.operands]
            match node.kind:
                case "var":
                    worth[n] = graph.steps[node.operands[0]] * low[node.operands[0]]
                case "sum":
                    worth[n] = sum((p * f for p, f in zip(parts, node.factors, strict=True)), node.constant)
                case "mul":
                    worth[n] = parts[0] * parts[1]
                case "sqr":
                    worth[n] = parts[0] * parts[0]
                case _:
                    worth[n] = min(parts) if node.kind == "min" else max(parts)
        return worth[number]

    def _size(self, number: int) -> float:
        low, high = spans(self.machine.graph, self.machine.store, number)[number]
        return max(abs(low), abs(high))

    def _cost(self, number: int, factor: Fraction) -> int:
        """A cost variable: the term in units, rounded down if it has no exact unit."""
        machine = self.machine
        low, high = spans(machine.graph, machine.store, number)[number]
        ends = (low * float(factor), high * float(factor))
        cost = machine.auxiliary(floor(min(ends)) - 2, ceil(max(ends)) + 2, Fraction(1))
        node = machine.graph.node(Node("var", (cost,)))
        root = machine.graph.node(Node("sum", (number, node), (factor, Fraction(-1))))
        below = 0.0 if self.exact else 1.0
        self.links.append(machine.link(root, -ROUNDING, below + ROUNDING))
        self.sources[cost] = machine.graph.variables([number])
        return cost

    def limit(self, grains: int) -> int:
        """Greatest sum of the terms for a wish that comes to so many grains (of a largest one: minus)."""
        return floor((grains * self.wish.grain + self.tolerance - self.constant) / self.unit)

    def grains(self, total: int) -> int:
        """Least number of grains that the wish comes to if the terms sum up to `total` or more."""
        if not self.exact:
            total -= len(self.links) + 1  # cost variables are rounded; say less than is proved, not more
        return ceil((total * self.unit + self.constant - self.tolerance) / self.wish.grain)

    def needed(self, grains: int) -> int:
        """What has to be proved of the sum of the terms, so that the wish comes to so many grains at least."""
        return self.limit(grains - 1) + 1 + (0 if self.exact else len(self.links) + 1)

    def measured(self, values: Mapping[str, Fraction]) -> int:
        """Grains that the wish comes to for an answer. Raises Undefined."""
        return int(counted(self.wish, self.evaluation(values)) / self.wish.grain) * (-1 if self.wish.largest else 1)

    def result(self, reached: int, proved: int) -> WishResult:
        """Grains as the caller counts them."""
        sign = -1 if self.wish.largest else 1
        return WishResult(self.wish, sign * reached * self.wish.grain, sign * min(proved, reached) * self.wish.grain)

    @property
    def pace(self) -> int:
        """Least improvement worth looking for, in units: terms without an exact unit may differ by next to nothing."""
        return 1 if self.exact else max(1, int(self.wish.grain / self.unit) // 1024)


@dataclass
class Part:
    """The share of one component in a wish."""

    variables: list[int]  # declared ones
    terms: Terms
    cut: Cut
    number: int  # of the cut's propagator
    low: int  # proved
    high: int  # reached by the witness
    watched: list[int] = field(default_factory=list)  # all open variables of the component, those of wishes too
    measured: tuple[tuple[int, ...], int] = ((), -1)  # a witness (and cut) that was measured last, and
    value: int = 0  # what it came to
