"""Whether a component has an answer that keeps the frozen wishes: by labelling first, then best first by the last wish.

An answer that is as good as the best one leaves hardly any room, and labelling takes long to see that there is none.
The search that found the best (`frontier.py`) sees it soon, because it looks at what the wish comes to.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from foldwright.solver.engine.frontier import Demand, Frontier
from foldwright.solver.engine.linear import Cut
from foldwright.solver.engine.optimise import Levels
from foldwright.solver.engine.propagate import Propagator
from foldwright.solver.engine.target import HUGE, Part

_HULL = 1000  # boxes halved to narrow a component
_LABEL = 30  # nodes of labelling before the last wish is looked at


class Oracle:
    """Questions about one component: `variables` are declared, `watched` all of its open ones."""

    def __init__(self, levels: Levels, variables: Sequence[int], watched: Sequence[int]) -> None:
        self.levels, self.search, self.store = levels, levels.search, levels.machine.store
        self.variables, self.watched = list(variables), list(watched)
        self.part = self._part()
        self.demand: Demand | None = None

    def _part(self) -> Part | None:
        """The share of this component in the last wish that it has one in."""
        inside = set(self.variables)
        return next((part for part in reversed(self.levels.settled) if inside.intersection(part.variables)), None)

    def find(self) -> bool:
        """Whether there is an answer within the present bounds; the store is left at it."""
        if self.part is None or len(self.variables) < 3 or self.search.accept is not None:
            return self.search.find(self.variables)
        found = self.search.attempt(partial(self.search.find, self.variables), _LABEL)
        if found is not None:
            return found
        search = self._frontier(self.part)
        try:
            return search.first()
        finally:
            search.demand.ask(HUGE)

    def shrink(self) -> None:
        """Narrow the variables to where answers can be that keep the last wish; what the search for it saw, and more."""
        if self.part is None or len(self.variables) < 3 or self.search.accept is not None:
            return
        search = self._frontier(self.part)
        try:
            hull = search.hull(_HULL)
        finally:
            search.demand.ask(HUGE)
        if hull is None or not self.store.narrow(self.variables, *hull):
            raise AssertionError("the witness was lost")

    def _frontier(self, part: Part) -> Frontier:
        if self.demand is None:
            cut = Cut(self.store, part.cut.terms, HUGE)
            self.demand = Demand(cut, self.store.add(Propagator(cut, tuple(v for v, _ in cut.terms))))
            self.store.propagate()
        return Frontier(self.search, self.variables, self.watched, self.demand, self._limit(part) + 1)

    def _limit(self, part: Part) -> int:
        """What the terms of the part may come to."""
        for coupling in self.levels.couplings:
            for total, other in zip(coupling.totals, coupling.parts, strict=True):
                if other is part:
                    return self.store.high[total]
        return part.cut.limit
