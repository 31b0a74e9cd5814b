"""What the binder knows so far, and what all of its parts ask: names, habits, papers, and what other mechanisms offer."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence
from fractions import Fraction
from functools import partial
from typing import Any, TypeVar

from foldwright.grammar import design as ast
from foldwright.grammar.kept import Kept
from foldwright.grammar.problem import Problem, Refused
from foldwright.grammar.problems import CyclicExpression, NotPositive, ReasonMissing, UnknownChoice, UnknownName, UnknownPractice
from foldwright.grammar.source import Span
from foldwright.solver.engine.blueprint import shared
from foldwright.solver.expression import Const, Expr, Variable
from foldwright.solver.freeing import Freedom
from foldwright.solver.mechanism import Mechanism, registry
from foldwright.solver.model import Rule
from foldwright.solver.papers import merged, papers
from foldwright.solver.parameter import Parameter
from foldwright.solver.practice import HABITS, grammage
from foldwright.solver.quantity import Quantity, Reader
from foldwright.solver.settings import Raw
from foldwright.solver.written import Written

T = TypeVar("T")
DEFAULT_STEP = {"mm": Fraction(1, 2), "cm": Fraction(1, 2), "in": Fraction(127, 80), "pt": Fraction(1, 2)}


class Binding:
    """What is known so far, by name. `hosts` maps a mechanism to its host's name and crease or face."""

    def __init__(self, design: ast.Design, free: Sequence[Written] = (), kept: Kept[Hashable, Any] | None = None) -> None:
        self.design = design
        self.kept: Kept[Hashable, Any] = Kept() if free or kept is None else kept  # unknowns of `free` are told by their places
        self.problems: list[Problem] = []
        self.kinds = registry()
        self.freedom = Freedom(design.source, free)
        self.reader = Reader(design.unit, self.lookup, self.freedom.expression)
        self.step = design.step or DEFAULT_STEP[design.unit or "mm"]
        self.raws: dict[str, Raw] = {}
        self.variables: dict[str, Variable] = {}
        self.tokens: dict[str, object] = {}  # by the name of an unknown: the same object as long as its grid is the same
        self.spans: dict[str, Span] = {}
        self.range_rules: list[Rule] = []
        self.ranges: dict[str, list[Rule]] = {}  # the same by the name of the unknown
        self.within: dict[str, tuple[Rule, ...]] = {}  # usual ranges of what the script computes or gives a range
        self.values: dict[tuple[str, str], Expr] = {}
        self.mechanisms: dict[str, Mechanism] = {}
        self.hosts: dict[str, tuple[str, str]] = {}
        self.busy: list[str] = []
        self.shapes = shared().shapes
        self.habits = self._habits()
        self.papers = papers(design)
        self.merged, faulty = merged(design)
        self.problems.extend(faulty)
        # calipers are exact in the script; going through the float is exact to 1e-6 mm, well under any caliper gauge
        self.calipers = {name: Fraction(paper.caliper).limit_denominator(10**6) for name, paper in self.papers.items()}
        self.grammages = {name: Fraction(grammage(paper.gsm, paper.caliper)).limit_denominator(10**6)
                          for name, paper in self.papers.items()}
        self.placed: dict[tuple[str, tuple[str, ...]], tuple[Span, ...]] = {}  # places by mechanism and unknowns of a rule
        self.workshop: Hashable = self.kept.get(("habits", *self.habits.values()), object)  # equal for equal habits

    def mechanism(self, name: str, at: Span | None = None) -> Mechanism:
        """The mechanism of that name, made when first asked for."""
        raise NotImplementedError

    def value(self, raw: Raw, parameter: Parameter, at: Span) -> Expr:
        """The expression of a parameter: an unknown, or what the script computes it from."""
        raise NotImplementedError

    def astride(self, raw: Raw) -> bool:
        """True if a block stands on the outer side of a ridge."""
        raise NotImplementedError

    def attempt(self, work: Callable[[], T]) -> T | None:
        """Result of some work, or None after keeping its problems."""
        try:
            return work()
        except Refused as refused:
            self.problems.extend(refused.problems)
            return None

    # ---- habits

    def _habits(self) -> dict[str, Fraction]:
        habits = {habit.name: habit.value for habit in HABITS}
        kinds = {habit.name: habit.dimension for habit in HABITS}
        for practice in self.design.practices:
            name = practice.name.text
            if name not in habits:
                self.problems.append(UnknownPractice(practice.name.at, name, tuple(habits)))
                continue
            if not practice.because:
                self.problems.append(ReasonMissing(practice.at, f"practice {name}"))
            value = self.attempt(partial(self._number, practice.value, kinds[name], name))
            if value is not None:
                habits[name] = value
        return habits

    def _number(self, node: ast.Expression, dimension: str, what: str) -> Fraction:
        quantity = self.reader.adopt(self.reader.read(node), dimension, node, what)
        if not isinstance(quantity.expr, Const):
            raise Refused([UnknownChoice(node.at, node.at.text, what, ("a number",))])
        if quantity.expr.value < 0:
            raise Refused([NotPositive(node.at, what, node.at.text)])
        return quantity.expr.value

    # ---- names

    def lookup(self, node: ast.Name) -> Quantity:
        """What a name in an expression stands for."""
        if len(node.path) != 2 or node.path[0] not in self.raws:
            raise Refused([UnknownName(node.at, node.text, self._all_names())])
        owner, name = node.path
        raw = self.raws[owner]
        parameters = {p.name: p for p in self.kinds[raw.block.keyword.text].parameters}
        if name in parameters:
            angle = parameters[name].dimension == "angle"
            return Quantity(self.value(raw, parameters[name], node.at), 0 if angle else 1, angle)
        measures = self.offered("measures", self.mechanism(owner, node.at))
        if name in measures:
            return Quantity(measures[name], 1)
        raise Refused([UnknownName(node.at, node.text, (*self._all_names(), *(f"{owner}.{m}" for m in measures)))])

    def _all_names(self) -> tuple[str, ...]:
        """Every dimension by its full name."""
        return tuple(f"{raw.name}.{p.name}" for raw in self.raws.values() for p in self.kinds[raw.block.keyword.text].parameters)

    def enter_busy(self, key: str, at: Span) -> None:
        """Begin to make something that may ask for others; those that ask for each other in a circle are refused."""
        if key in self.busy:
            cycle = (*self.busy[self.busy.index(key):], key)
            raise Refused([CyclicExpression(at, cycle)])
        self.busy.append(key)

    # ---- what is kept between checks

    def told(self, expr: Expr) -> Hashable:
        """What decides an expression: its shape, and its unknowns with their grids and preferred values."""
        shape, names = self.shapes.of(expr)
        return shape, names, tuple([self.tokens.get(name) for name in names])

    def offered(self, what: str, mechanism: Mechanism) -> Any:
        """What a method of a mechanism returns that asks for nothing but its site."""
        known = self.kept.find((what, mechanism))
        if known is None:
            known = getattr(mechanism, what)()
            known = tuple(known) if isinstance(known, Iterator) else known
            self.kept.put((what, mechanism), known)
        return known
