"""A conflict met in one model, found again in another: the same rules about the same unknowns cannot hold there either."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from foldwright.solver.evaluate import children
from foldwright.solver.expression import Const, Expr, Function, Variable
from foldwright.solver.model import Model, Rule


@dataclass(frozen=True)
class Refutation:
    """Rules of a model that cannot hold together; any model with the same rules has no answer either."""

    rules: tuple[Rule, ...]
    model: Model
    # decisions (by number, each with the option taken) under which the rules are sure to come back; None if not known
    under: tuple[tuple[int, int], ...] | None = None

    def within(self, rules: Mapping[str, Rule]) -> bool:
        """Whether some rules, by key, have all of these among them."""
        return all((other := rules.get(key(rule))) is not None and alike(rule, other) for rule in self.rules)


def key(rule: Rule) -> str:
    """Finds the same rule in another design; a rule of the designer's own is numbered, so it goes by its place."""
    return f"require {rule.at[0].start}" if rule.name.startswith("require-") and rule.at else rule.name


def alike(one: Rule, other: Rule) -> bool:
    """Whether two rules ask the same of the same unknowns."""
    return one.operator == other.operator and _same(one.left, other.left) and _same(one.right, other.right)


def _same(one: Expr, other: Expr) -> bool:
    """Whether two expressions are built alike; each pair of nodes is looked at once, since expressions share parts."""
    seen: set[tuple[int, int]] = set()
    stack = [(one, other)]
    while stack:
        a, b = stack.pop()
        if a is b or (id(a), id(b)) in seen:
            continue
        seen.add((id(a), id(b)))
        inside = children(a), children(b)
        if type(a) is not type(b) or len(inside[0]) != len(inside[1]):
            return False
        if isinstance(a, Function) and isinstance(b, Function) and a.name != b.name:
            return False
        if isinstance(a, Const) and a != b:
            return False
        if isinstance(a, Variable) and isinstance(b, Variable) and (
            (a.name, a.step, a.low, a.high) != (b.name, b.step, b.low, b.high)
        ):
            return False
        stack.extend(zip(*inside, strict=True))
    return True
