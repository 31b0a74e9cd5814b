"""Proofs about one mechanism at a time: branch on its variables only, let the rest merely propagate.

What the rest might still forbid is not asked, so a minimum found here is a bound that holds for the whole.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from foldwright.solver.engine.linear import Cut
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.propagate import Propagator
from foldwright.solver.engine.search import Search
from foldwright.solver.engine.target import HUGE, Part, Target

_NODES = 400  # of one question


def owner(machine: Machine, variable: int) -> str:
    """Mechanism of a declared variable: what stands before the last dot of its name."""
    return machine.declared[variable].name.rpartition(".")[0]


class Local:
    """Answers about parts of a machine; the store is left as it was."""

    def __init__(self, machine: Machine, search: Search) -> None:
        self.machine, self.search, self.store = machine, search, machine.store
        self.best: list[int] = []  # lower bounds of all variables where the last minimum was found

    def sources(self, part: Part, target: Target) -> list[int]:
        """Unfixed declared variables that the terms of a part are made of."""
        found: list[int] = []
        for variable, _ in part.terms:
            found.extend(target.sources.get(variable, [variable]))
        return [v for v in dict.fromkeys(found) if self.store.low[v] < self.store.high[v]]

    def directions(self, variables: Sequence[int], cut: Cut) -> dict[int, bool]:
        """For each variable, whether its lower half promises the smaller sum."""
        store = self.store
        factors = dict(cut.terms)
        result: dict[int, bool] = {}
        for v in variables:
            bounds = []
            middle = (store.low[v] + store.high[v]) // 2
            for half in ((store.low[v], middle), (middle + 1, store.high[v])):
                mark = store.mark()
                bounds.append(cut.least() if store.restrict(v, *half) else HUGE)
                store.undo(mark)
            result[v] = bounds[0] < bounds[1] or (bounds[0] == bounds[1] and factors.get(v, 1) > 0)
        return result

    def tighten(self, part: Part, target: Target) -> None:
        """Minimise each cost variable by itself and enter what is proved in the store."""
        store = self.store
        for variable, factor in part.terms:
            if factor != 1 or variable not in target.sources or store.low[variable] == store.high[variable]:
                continue
            group = self._mechanism(target.sources[variable], part.variables)
            alone = Cut(store, [(variable, 1)], HUGE)
            # watches nothing: it runs once for each limit that is set
            number = store.add(Propagator(alone, ()))
            bound = self.smallest(alone, number, group, target.pace)
            store.active[number] = False
            if bound is not None and not store.restrict(variable, bound, store.high[variable]):
                raise AssertionError("a proved bound contradicts the witness")

    def _mechanism(self, variables: Sequence[int], inside: Sequence[int]) -> list[int]:
        """Some variables and the others of the same mechanisms."""
        owners = {owner(self.machine, v) for v in variables} - {""}
        return [v for v in inside if v in variables or owner(self.machine, v) in owners]

    def smallest(self, cut: Cut, number: int, group: Sequence[int], pace: int, nodes: int = _NODES) -> int | None:
        """Smallest value of a sum over one group, up to `pace` too low; None if nothing could be proved.

        `number` is the propagator of the cut. Where the minimum was reached is kept in `best`.
        """
        first = self.directions([v for v in group if self.store.low[v] < self.store.high[v]], cut)
        found: list[tuple[int, list[int]] | None] = []

        def run() -> bool:
            found.append(self.search.minimum(list(first), cut, number, first, pace))
            return True

        if self.search.attempt(run, nodes) is None or found[0] is None:
            return None
        least, self.best = found[0]
        return least - pace + 1


Directions = Mapping[int, bool]
