"""Equalities on a grid, and conflicts that only the grid makes.

Found lengths lie on whole steps, found angles on whole degrees. So an equality is a matter of whole numbers, and
is treated on purpose, not by luck:

- A *computed* value (`wall 0.5 * tank.wall`) is an expression and no unknown; it need not lie on any grid. A
  *written* value off the grid gets an unknown with a finer grid of its own, which holds it. Most equalities end here.
- A *linear* equality is scaled to whole factors without a common divisor (exact fractions, nothing is rounded). If
  what they have to add up to is then not a whole number, no grid point can meet it, and the rule fails at once instead
  of by a search through all steps. Otherwise it is propagated exactly in both directions; it holds exactly or not at all.
- An equality with a *sine, root, product or quotient* holds within 1e-7 mm (`evaluate.TOLERANCE`), and its exact
  check has the last word at a grid point. No mechanism has such a rule: they say "at most" and "at least" instead,
  because a grid point meets a curved equality by chance only. A designer's own `require` may.

When a set of rules cannot hold together, `finer_grid` says whether the grid is what stands in the way: the same rules
are tried on finer grids, by the solver itself. Never guessed: a step is named only if an answer on it was found.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor

from foldwright.solver.engine.graph import common_unit
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.propagate import TimeUp
from foldwright.solver.engine.search import Search
from foldwright.solver.evaluate import holds, postorder
from foldwright.solver.expression import Const, Expr, Function, Variable, linear_form
from foldwright.solver.model import Model, Rule

NODES = 2000  # search nodes for one grid; a set that needs more is not told to be the grid's fault
_DECIMAL = (2, 5, 10, 20, 50, 100)  # a step is divided by these,
_HALVES = (2, 4, 8, 16, 32)  # or, where it is a part of an inch, by these
_FINEST = 1000  # a step made for the written numbers is at least this part of the present one
_INCH = Fraction(127, 5)


@dataclass(frozen=True)
class Finer:
    """A grid on which some rules can hold together. `between` has, for every unknown that needs it, its name and
    the two values of the present grid next to the one that fits (mm; for `angle` degrees)."""

    step: Fraction
    between: tuple[tuple[str, Fraction, Fraction], ...]
    angle: bool = False


def grid_is_to_blame(model: Model, rules: Sequence[Rule]) -> Fraction | None:
    """The coarsest finer step (mm) on which rules that clash on the model's grid hold together; None if there is none."""
    finer = finer_grid(model, rules)
    return None if finer is None or finer.angle else finer.step


def finer_grid(model: Model, rules: Sequence[Rule], deadline: float | None = None) -> Finer | None:
    """The coarsest grid found on which some clashing rules of a model hold together; None if none was found.

    Lengths are refined first (`step`); if that does not help, angles are taken in parts of a degree. The answer is
    verified: it is a grid on which the solver found values and every rule holds. `deadline` is of the monotonic clock.
    """
    machine = Machine(Model(model.variables, tuple(rules)))
    concerned = {part.name for rule in rules for side in (rule.left, rule.right) for part in _variables(side)}
    variables = [variable for variable in machine.declared if variable.name in concerned]
    angles = _angles(model.rules)
    for angle in (False, True):
        chosen = [variable for variable in variables if (variable.name in angles) == angle]
        if not chosen:
            continue
        # Written values off the grid have steps of their own, finer ones; the greatest is the card's.
        base = max(v.step for v in model.variables if (v.name in angles) == angle) if model.variables else chosen[0].step
        steps = sorted({*_parts(base), *_written(rules, base)}, reverse=True)
        if _answer(variables, chosen, common_unit(steps), rules, deadline) is None:
            continue  # not even on a grid that has the points of all of them: mostly seen at once
        for step in steps:
            values = _answer(variables, chosen, step, rules, deadline)
            if values is not None:
                return Finer(step, tuple(_between(chosen, values)), angle)
    return None


def _variables(expr: Expr) -> Iterator[Variable]:
    return (node for node in postorder(expr) if isinstance(node, Variable))


def _angles(rules: Sequence[Rule]) -> set[str]:
    """Names of unknowns in degrees: compared with an angle, or under a sine, cosine or tangent."""
    found: set[str] = set()
    for rule in rules:
        for side in (rule.left, rule.right):
            if rule.angle:
                found.update(variable.name for variable in _variables(side))
            for node in postorder(side):
                if isinstance(node, Function) and node.name in ("sin", "cos", "tan"):
                    found.update(variable.name for variable in _variables(node))
    return found


def _parts(base: Fraction) -> list[Fraction]:
    """Finer steps that a designer would write: decimal parts, or halves of a step that is a part of an inch."""
    denominator = (base / _INCH).denominator
    return [base / part for part in (_HALVES if denominator & (denominator - 1) == 0 else _DECIMAL)]


def _written(rules: Sequence[Rule], base: Fraction) -> list[Fraction]:
    """The common step of the present one and all lengths that linear rules name, unless it is too fine to be meant."""
    numbers = [base]
    for rule in rules:
        for side in (rule.left, rule.right):
            form = linear_form(side)
            constants = [form[1]] if form is not None else [node.value for node in postorder(side) if isinstance(node, Const)]
            numbers.extend(abs(number) for number in constants)
    step = common_unit(numbers)
    return [step] if base / _FINEST <= step < base else []


def _answer(variables: Sequence[Variable], chosen: Sequence[Variable], step: Fraction, rules: Sequence[Rule],
            deadline: float | None) -> dict[str, Fraction] | None:
    """Values on a finer grid of the chosen unknowns that keep all rules; None if none were found within the limit."""
    refined = tuple(_refine(variable, step) if variable in chosen else variable for variable in variables)
    machine = Machine(Model(refined, tuple(rules)))
    if machine.empty:
        return None
    search = Search(machine, deadline)
    everything = range(len(machine.declared))
    try:
        if not search.attempt(lambda: search.find(everything), NODES):
            return None
    except TimeUp:
        return None
    values = machine.values(machine.store.low)
    return values if all(holds(rule, values) for rule in rules) else None


def _refine(variable: Variable, step: Fraction) -> Variable:
    """The same range on the common grid of its own step and a finer one, so that no value is lost."""
    finer = common_unit((variable.step, step))
    times = int(variable.step / finer)
    return Variable(variable.name, finer, variable.low * times, variable.high * times, variable.preferred)


def _between(chosen: Sequence[Variable], values: dict[str, Fraction]) -> Iterator[tuple[str, Fraction, Fraction]]:
    """Unknowns whose value is not on their present grid, with the neighbours there."""
    for variable in chosen:
        count = values[variable.name] / variable.step
        if count.denominator != 1:
            below = floor(count) * variable.step
            yield variable.name, below, below + variable.step
