"""Design → solved card, in named stages: bind, search, settle, prove."""

from __future__ import annotations

from collections.abc import Callable

from foldwright.grammar import design as ast
from foldwright.grammar.problem import Label, Refused
from foldwright.grammar.problems import CannotHold
from foldwright.solver import expression as ex
from foldwright.solver.bind import bind
from foldwright.solver.card import Card
from foldwright.solver.evaluate import interval
from foldwright.solver.model import Conflict, GaveUp, Model, Rule
from foldwright.solver.words import amount, sentence

Progress = Callable[[str], None]


def solve_design(design: ast.Design, progress: Progress | None = None, seconds: float | None = None) -> Card:
    """The solved card of a design (not yet proved).

    Raises Refused with all problems if the script has faults or its rules cannot hold together.
    """
    from foldwright.solver.engine import solve
    from foldwright.solver.settle import settle

    tell = progress or (lambda _: None)
    tell("reading the design")
    bound = bind(design)
    tell("finding the dimensions")
    outcome = solve(bound.model, seconds=seconds, progress=progress)
    if isinstance(outcome, Conflict):
        raise Refused([conflict_problem(rules, bound.model, design.unit or "mm") for rules in outcome.sets])
    if isinstance(outcome, GaveUp):
        raise Refused([CannotHold(design.at, (f"no answer was found within the limit: {outcome.reason}",))])
    tell("laying the parts flat")
    return settle(bound, outcome)


def conflict_problem(rules: tuple[Rule, ...], model: Model, unit: str = "mm") -> CannotHold:
    """The problem that shows a minimal set of rules that cannot hold together, each with its line and sentence."""
    sentences = tuple(describe(rule, rules, model, unit) for rule in rules)
    labels: list[Label] = []
    for number, (rule, words) in enumerate(zip(rules, sentences, strict=True), 1):
        for span in rule.at[:1]:
            labels.append(Label(span, f"({number}) {rule.kind}: {words}"))
    return CannotHold(labels[0].at if labels else None, sentences, tuple(labels[1:]))


def describe(rule: Rule, among: tuple[Rule, ...], model: Model, unit: str = "mm") -> str:
    """The rule's sentence, with what its sides come to under the other rules of the set."""
    bounds = _bounds(among, rule, model)
    texts = {}
    for side, expr in (("left", rule.left), ("right", rule.right)):
        low, high = interval(expr, bounds)
        least = (side == "left") == (rule.operator == "<=")
        if high - low < 1e-6:
            texts[side] = amount(low, rule.angle, unit)
        elif rule.operator == "=":
            texts[side] = f"{amount(low, rule.angle, unit)} to {amount(high, rule.angle, unit)}"
        else:
            texts[side] = f"at least {amount(low, rule.angle, unit)}" if least else f"at most {amount(high, rule.angle, unit)}"
    return sentence(rule, texts["left"], texts["right"])


def _bounds(among: tuple[Rule, ...], but: Rule, model: Model) -> dict[str, tuple]:  # type: ignore[type-arg]
    """Bounds of all variables under the plain bounds (one unknown against a number) of a set of rules."""
    bounds = {v.name: (v.low * v.step, v.high * v.step) for v in model.variables}
    for rule in among:
        if rule is but or not isinstance(rule.left, ex.Variable) or not isinstance(rule.right, ex.Const):
            continue
        low, high = bounds[rule.left.name]
        value = rule.right.value
        bounds[rule.left.name] = (max(low, value) if rule.operator in (">=", "=") else low,
                                  min(high, value) if rule.operator in ("<=", "=") else high)
    return bounds

