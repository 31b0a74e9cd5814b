"""A model made ready for search: its variables in a store, its rules as propagators."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from math import ceil

from foldwright.solver.engine.contract import Limits, propagator, rule_limits
from foldwright.solver.engine.graph import Form, Graph, integer_form
from foldwright.solver.engine.linear import Terms, at_most, equal
from foldwright.solver.engine.propagate import ENTAILED, FAILED, Propagator, Store
from foldwright.solver.evaluate import TOLERANCE, Undefined, compare, evaluate, postorder
from foldwright.solver.expression import Expr, Variable
from foldwright.solver.model import Model, Rule

_TOLERANCE = Fraction(TOLERANCE)


class Machine:
    """Store, expression graph and one propagator per rule. `declared` are the variables in order."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.declared = _all_variables(model)
        self.index = {variable.name: n for n, variable in enumerate(self.declared)}
        self.store = Store()
        self.steps: list[Fraction] = [variable.step for variable in self.declared]
        self.graph = Graph(self.index, self.steps)
        self.linear: dict[int, tuple[Terms, int, bool]] = {}  # by propagator: terms, constant, is an equality
        self.empty = [v.name for v in self.declared if v.low > v.high]
        for variable in self.declared:
            self.store.variable(variable.low, variable.high)
        if not self.empty:
            for number, rule in enumerate(model.rules):
                self._add_rule(number, rule)

    def values(self, counts: list[int]) -> dict[str, Fraction]:
        """Value by name for the counts of the declared variables."""
        return {v.name: v.step * count for v, count in zip(self.declared, counts, strict=False)}

    def _add_rule(self, number: int, rule: Rule) -> None:
        a, b = (rule.left, rule.right) if rule.operator != ">=" else (rule.right, rule.left)
        form = self.graph.combine(self.graph.form(a), self.graph.form(b), -1)
        operator = "=" if rule.operator == "=" else "<="
        if self.graph.is_linear(form):
            self._add_linear(form, operator, number)
            return
        root = self.graph.wrap(form)
        inside = tuple(self.graph.variables([root]))
        exact = self.exact(rule.left, rule.operator, rule.right)
        if not inside:
            self.store.add(Propagator(exact, (), number))
            return
        revise = propagator(self.graph, self.store, root, rule_limits(operator, exact))
        self.store.add(Propagator(revise, inside, number, exact=False))

    def _add_linear(self, form: Form, operator: str, number: int) -> None:
        terms, constant = integer_form(self.graph, form)
        inside = tuple(variable for variable, _ in terms)
        if not terms:
            holds = constant <= 0 if operator == "<=" else constant == 0
            self.store.add(Propagator(lambda: ENTAILED if holds else FAILED, (), number))
        elif operator == "<=":
            revise = at_most(self.store, terms, ceil(constant))
            entered = self.store.add(Propagator(revise, inside, number, again=False))
            self.linear[entered] = terms, ceil(constant), False
        elif constant.denominator != 1:
            # The factors have no common divisor, yet the constant is no whole number: no grid point fits.
            self.store.add(Propagator(lambda: FAILED, (), number))
        else:
            entered = self.store.add(Propagator(equal(self.store, terms, int(constant)), inside, number))
            self.linear[entered] = terms, int(constant), True

    def exact(self, left: Expr, operator: str, right: Expr) -> Callable[[], int]:
        """The last word on a rule that is not linear, once its variables are fixed."""
        low, steps, index = self.store.low, self.steps, self.index
        # A variable that cancels out of the rule is not among those fixed; any value of it will do.
        names = [part.name for side in (left, right) for part in postorder(side) if isinstance(part, Variable)]
        written = [(name, index[name]) for name in dict.fromkeys(names)]

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
        return self.store.add(Propagator(revise, tuple(self.graph.variables([root])), exact=False))


def _all_variables(model: Model) -> list[Variable]:
    """Declared variables, then any that only rules or wishes mention."""
    found = {variable.name: variable for variable in model.variables}
    for expr in [side for rule in model.rules for side in (rule.left, rule.right)] + [w.target for w in model.wishes]:
        for node in postorder(expr):
            if isinstance(node, Variable):
                found.setdefault(node.name, node)
    return list(found.values())
