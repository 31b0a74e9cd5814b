"""Answers kept from one check to the next: a model that asks the same as before gets the answer it had.

Only finished answers are kept, so that what is remembered is what a new search would find.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace
from time import monotonic

from foldwright.solver.engine.blueprint import Plan, Workshop, shared
from foldwright.solver.engine.reuse import Reuse
from foldwright.solver.engine.run import solve
from foldwright.solver.engine.stopping import current
from foldwright.solver.model import Model, Outcome, Solution

_ANSWERS = 8  # kept: a designer goes to and fro between a few


@dataclass
class Answers:
    """Solutions of the last few models, by all that decides them."""

    reused: int = 0
    reuse: Reuse = field(default_factory=Reuse)

    def __post_init__(self) -> None:
        self._workshop: Workshop = shared()
        self._known: dict[Hashable, Solution] = {}

    def solve(self, model: Model, seconds: float | None = None, progress: Callable[[str], None] | None = None) -> Outcome:
        """As `solve`; a solution comes with the wishes of this model."""
        key = self._key(model, self._workshop.plan(model))
        known = self._known.pop(key, None)
        if known is None:
            begun = monotonic()
            self.reuse.parts.turn()
            outcome = solve(model, seconds, progress, reuse=self.reuse)
            if not isinstance(outcome, Solution) or not _finished(model, outcome, seconds, monotonic() - begun):
                return outcome
            known = outcome
            self.reuse.last = outcome.values
        else:
            self.reused += 1
        self._known[key] = known  # the last used stands last
        while len(self._known) > _ANSWERS:
            del self._known[next(iter(self._known))]
        results = tuple(replace(result, wish=wish) for result, wish in zip(known.wishes, model.wishes, strict=True))
        return Solution(dict(known.values), results)

    def _key(self, model: Model, plan: Plan) -> Hashable:
        """Everything that an answer depends on: variables, rules and wishes in their order, words and places left out."""
        variables = tuple((v.name, v.step, v.low, v.high, v.preferred) for v in plan.declared)
        rules = tuple((planned.number, planned.names) for planned in plan.rules)
        wishes = tuple((self._workshop.shapes.of(wish.target), wish.largest, wish.grain) for wish in model.wishes)
        return variables, len(model.rules), rules, wishes


def _finished(model: Model, found: Solution, seconds: float | None, took: float) -> bool:
    """Whether the search came to its end: every wish has a result, proved, and neither time limit nor a stop was met."""
    stop = current()
    in_time = (seconds is None or took < seconds) and (stop is None or not stop())
    return in_time and len(found.wishes) == len(model.wishes) and all(result.proved for result in found.wishes)
