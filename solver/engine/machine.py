"""A model made ready for search: its variables in a store, its rules as propagators."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

from foldwright.solver.engine.blueprint import Blueprint, Linear, Settled, Workshop, shared
from foldwright.solver.engine.contract import Limits, propagator
from foldwright.solver.engine.graph import Graph
from foldwright.solver.engine.linear import Terms, at_most, equal
from foldwright.solver.engine.measures import share
from foldwright.solver.engine.propagate import ENTAILED, FAILED, Propagator, Store
from foldwright.solver.evaluate import TOLERANCE, Undefined, compare, evaluate
from foldwright.solver.model import Model, Rule

_TOLERANCE = Fraction(TOLERANCE)


class Machine:
    """Store, expression graph and one propagator per rule. `declared` are the variables in order."""

    def __init__(self, model: Model, workshop: Workshop | None = None) -> None:
        self.model = model
        self.plan = plan = (workshop or shared()).plan(model)
        self.declared = plan.declared
        self.index = {variable.name: n for n, variable in enumerate(self.declared)}
        self.store = Store()
        self.steps: list[Fraction] = [variable.step for variable in self.declared]
        self.graph = Graph(self.index, self.steps)
        self.linear: dict[int, tuple[Terms, int, bool]] = {}  # by propagator: terms, constant, is an equality
        self.links: dict[int, tuple[int, float, float]] = {}  # by propagator: node, and what it is kept between
        self.empty = plan.empty
        for variable in self.declared:
            self.store.variable(variable.low, variable.high)
        if not self.empty:
            for number, (rule, planned) in enumerate(zip(model.rules, plan.rules, strict=True)):
                self._add_rule(number, rule, planned.blueprint, planned.names)
        self.ties: list[int] = [] if self.empty else share(self)  # propagators of no rule, and true whatever rules are asked for

    def values(self, counts: list[int]) -> dict[str, Fraction]:
        """Value by name for the counts of the declared variables."""
        return {v.name: v.step * count for v, count in zip(self.declared, counts, strict=False)}

    def _add_rule(self, number: int, rule: Rule, blueprint: Blueprint, names: Sequence[str]) -> None:
        variables = [self.index[name] for name in names]
        if isinstance(blueprint, Settled):
            revise = _entailed if blueprint.holds else _failed
            self.store.add(Propagator(revise, (), number))
        elif isinstance(blueprint, Linear):
            terms = [(variables[v], factor) for v, factor in blueprint.terms]
            revise = (equal if blueprint.equality else at_most)(self.store, terms, blueprint.constant)
            inside = tuple([v for v, _ in terms])
            entered = self.store.add(Propagator(revise, inside, number, again=blueprint.equality))
            self.linear[entered] = terms, blueprint.constant, blueprint.equality
        else:
            inside = tuple(sorted([variables[v] for v in blueprint.variables]))
            # A variable that cancels out of the rule is not among those fixed; any value of it will do.
            exact = self._exact(rule, list(zip(names, variables, strict=True)))
            revise = blueprint.bound(self.store, variables, exact) if inside else exact
            self.store.add(Propagator(revise, inside, number, exact=not inside))

    def _exact(self, rule: Rule, written: Sequence[tuple[str, int]]) -> Callable[[], int]:
        """The last word on a rule that is not linear, once its variables are fixed."""
        low, steps = self.store.low, self.steps
        left, operator, right = rule.left, rule.operator, rule.right

        def check() -> int:
            values = {name: low[v] * steps[v] for name, v in written}
            try:
                kept = compare(evaluate(left, values), operator, evaluate(right, values), _TOLERANCE)
            except Undefined:
                return FAILED
            return ENTAILED if kept else FAILED

        return check

    def auxiliary(self, low: int, high: int, step: Fraction) -> int:
        """A variable that is not part of the answer."""
        self.steps.append(step)
        return self.store.variable(low, high)

    def link(self, root: int, least: float, most: float) -> int:
        """A propagator that keeps a node between two numbers; returns its number."""
        revise = propagator(self.graph, self.store, root, Limits(least, most, None))
        number = self.store.add(Propagator(revise, tuple(self.graph.variables([root])), exact=False))
        self.links[number] = root, least, most
        return number


def _entailed() -> int:
    return ENTAILED


def _failed() -> int:
    return FAILED
