"""Which mechanism a variable belongs to, which variables a wish is made of, and which way each of them should go."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from foldwright.solver.engine.linear import Cut
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.search import Search
from foldwright.solver.engine.target import HUGE, Part, Target


def owner(machine: Machine, variable: int) -> str:
    """Mechanism of a declared variable: what stands before the last dot of its name."""
    return machine.declared[variable].name.rpartition(".")[0]


class Local:
    """Answers about parts of a machine; the store is left as it was."""

    def __init__(self, machine: Machine, search: Search) -> None:
        self.machine, self.search, self.store = machine, search, machine.store

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


Directions = Mapping[int, bool]
