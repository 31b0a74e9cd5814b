"""What a rule becomes in the search, worked out once for all rules of one shape over variables of the same grids and ranges.

A blueprint numbers the variables of a rule in the order in which they stand in it; to make a propagator, the places of the
variables in a store are filled in. It depends on nothing but the shape of the rule and the grids and ranges, so whether it
is new or kept makes no difference.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil
from typing import Any

from foldwright.solver.engine.contract import Contractor, rule_limits
from foldwright.solver.engine.graph import Form, Graph, integer_form
from foldwright.solver.engine.linear import Terms
from foldwright.solver.engine.propagate import Store
from foldwright.solver.engine.shapes import Shapes
from foldwright.solver.evaluate import postorder
from foldwright.solver.expression import Expr, Variable
from foldwright.solver.model import Model, Rule


@dataclass(frozen=True, slots=True)
class Settled:
    """A rule in which all variables cancel out: it holds, or it does not."""

    holds: bool


@dataclass(frozen=True, slots=True)
class Linear:
    """`sum of factor * variable + constant` is at most zero, or zero. In integers, so an answer is never rounded."""

    terms: Terms
    constant: int
    equality: bool


@dataclass(frozen=True, slots=True)
class Curved:
    """A rule that is not linear: the function that makes its propagator, and what it is given besides the store's lists.

    `variables` are those that do not cancel out; `places` says which of the `values` are numbers of variables.
    """

    make: Callable[..., Callable[[], int]]
    values: tuple[Any, ...]
    places: tuple[int, ...]
    exact: int  # place of the exact check
    variables: tuple[int, ...]

    def bound(self, store: Store, variables: Sequence[int], exact: Callable[[], int]) -> Callable[[], int]:
        """The propagator for some variables of a store."""
        values = list(self.values)
        for place in self.places:
            values[place] = variables[values[place]]
        values[self.exact] = exact
        return self.make(store.low, store.high, store.trail, *values)


Blueprint = Settled | Linear | Curved


@dataclass(frozen=True)
class Planned:
    """A rule of a model: its blueprint, that blueprint's number, and the names of its variables in the blueprint's order."""

    number: int
    blueprint: Blueprint
    names: tuple[str, ...]


@dataclass(frozen=True)
class Plan:
    """A model taken apart: its variables in order, and its rules; none if the range of a variable is empty.

    Two rules with equal `number` and `names` say the same of the same variables.
    """

    declared: tuple[Variable, ...]
    empty: tuple[str, ...]
    rules: tuple[Planned, ...]


class Workshop:
    """Blueprints kept between models. One is shared by the whole process; it changes how fast models are made, nothing else."""

    def __init__(self) -> None:
        self.shapes = Shapes()
        self.made = 0  # blueprints so far; their numbers are never used again
        self._blueprints: dict[object, tuple[int, Blueprint]] = {}
        self._last: tuple[Model, Plan] | None = None

    def plan(self, model: Model) -> Plan:
        """The model taken apart; that of the last model is kept."""
        if self._last is not None and self._last[0] is model:
            return self._last[1]
        if self.shapes.sweep():
            self._blueprints.clear()
        declared = _all_variables(model, self.shapes)
        empty = tuple(variable.name for variable in declared if variable.low > variable.high)
        by_name = {variable.name: variable for variable in declared}
        grids = {variable.name: grid(variable) for variable in declared}
        rules = () if empty else tuple([self._planned(rule, by_name, grids) for rule in model.rules])
        plan = Plan(tuple(declared), empty, rules)
        self._last = model, plan
        return plan

    def _planned(self, rule: Rule, declared: Mapping[str, Variable], grids: Mapping[str, Hashable]) -> Planned:
        left, names = self.shapes.of(rule.left)
        right, others = self.shapes.of(rule.right)
        places: tuple[int, ...] = ()
        if others:
            numbers = {name: n for n, name in enumerate(names)}
            places = tuple([numbers.setdefault(name, len(numbers)) for name in others])
            names = tuple(numbers)
        key = left, rule.operator, right, places, *[grids[name] for name in names]
        known = self._blueprints.get(key)
        if known is None:
            self.made += 1
            known = self._blueprints[key] = self.made, blueprint_of(rule, [declared[name] for name in names])
        return Planned(*known, names)


def _all_variables(model: Model, shapes: Shapes) -> list[Variable]:
    """Declared variables, then any that only rules or wishes mention."""
    found = {variable.name: variable for variable in model.variables}
    for expr in [side for rule in model.rules for side in (rule.left, rule.right)] + [w.target for w in model.wishes]:
        if not all(name in found for name in shapes.of(expr)[1]):
            for node in postorder(expr):
                if isinstance(node, Variable):
                    found.setdefault(node.name, node)
    return list(found.values())


def grid(variable: Variable) -> Hashable:
    """What a propagator depends on of a variable."""
    return variable.step.numerator, variable.step.denominator, variable.low, variable.high


@lru_cache(maxsize=1)
def shared() -> Workshop:
    """The workshop of the process."""
    return Workshop()


def blueprint_of(rule: Rule, variables: Sequence[Variable]) -> Blueprint:
    """What a rule becomes; the variables get numbers in the order given."""
    graph = Graph({variable.name: n for n, variable in enumerate(variables)}, [variable.step for variable in variables])
    a, b = sides(rule)
    form = graph.combine(graph.form(a), graph.form(b), -1)
    operator = "=" if rule.operator == "=" else "<="
    if graph.is_linear(form):
        return _linear(graph, form, operator)
    store = Store()
    for variable in variables:
        store.variable(variable.low, variable.high)
    root = graph.wrap(form)
    contractor = Contractor(graph, store, root)
    make = contractor.written(rule_limits(operator, _unbound))
    names = list(contractor.values)
    places = tuple(n for n, name in enumerate(names) if name.startswith("i"))
    return Curved(make, tuple(contractor.values.values()), places, names.index("exact"), tuple(graph.variables([root])))


def sides(rule: Rule) -> tuple[Expr, Expr]:
    """The side that is at most the other one (or equal to it), and the other one."""
    return (rule.left, rule.right) if rule.operator != ">=" else (rule.right, rule.left)


def _unbound() -> int:
    raise AssertionError("a blueprint's propagator runs only with an exact check of its own")


def _linear(graph: Graph, form: Form, operator: str) -> Blueprint:
    terms, constant = integer_form(graph, form)
    if not terms:
        return Settled(constant <= 0 if operator == "<=" else constant == 0)
    if operator == "<=":
        return Linear(terms, ceil(constant), False)
    if constant.denominator != 1:
        # The factors have no common divisor, yet the constant is no whole number: no grid point fits.
        return Settled(False)
    return Linear(terms, int(constant), True)
