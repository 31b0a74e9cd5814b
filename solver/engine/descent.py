"""Branch and bound on the share of one component in a wish, in steps, so that components can take turns.

A component of several mechanisms is first taken apart (`clusters.py`): in most cards the minima of its clusters fit
together, and the proof is done. Otherwise the whole is searched best first (`frontier.py`) with the minima of the
clusters as bounds. If that takes long, mechanisms compete: the witness is polished by re-opening a few of them at a
time, and the rules that join them are priced (`prices.py`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from foldwright.solver.engine.clusters import Clusters
from foldwright.solver.engine.frontier import Demand, Frontier
from foldwright.solver.engine.local import Directions, Local, owner
from foldwright.solver.engine.prices import Prices
from foldwright.solver.engine.target import HUGE, Part, Target

_NODES = 1000  # of one step of the search over the whole component
_EASY = 4  # steps before mechanisms are taken to compete
_POLISH_NODES = 200  # of one attempt to better a few mechanisms, doubled with the budget
_NEIGHBOURS = 3  # how far apart two mechanisms are that are re-opened together


class Descent:
    """Makes `part.low` (proved) and `part.high` (reached by the witness) meet, up to the target's pace."""

    def __init__(self, local: Local, part: Part, target: Target, witness: list[int]) -> None:
        self.local, self.part, self.target, self.witness = local, part, target, witness
        self.search, self.store = local.search, local.store
        self.first: Directions = {}
        self.reach = _POLISH_NODES
        self.enough = HUGE  # once so much is proved, the wish cannot come to a grain less; it only falls
        self._steps = self._work()

    @property
    def done(self) -> bool:
        """True if nothing better is worth looking for."""
        return self.part.high - self.part.low < self.target.pace or self.part.low >= self.enough

    def step(self) -> None:
        """A bounded piece of work; sooner or later `done` is true."""
        next(self._steps, None)

    def finish(self) -> None:
        """All steps."""
        while not self.done:
            self.step()

    def _work(self) -> Iterator[None]:
        part = self.part
        part.low = max(part.low, part.cut.least())
        if not self.done:
            yield from self._take_apart()
        while not self.done:
            yield from self._search()

    def _take_apart(self) -> Iterator[None]:
        """Bounds of clusters, and the attempt to have them all at once."""
        clusters = Clusters(self.local, self.part, self.target, self.witness)
        if len(clusters.clusters) < 2:
            return
        while not self.done:
            try:
                for _ in clusters.minimise():
                    yield
            finally:
                self.part.low = max(self.part.low, clusters.bound())
            clusters.demand()
            self.part.low = max(self.part.low, self.part.cut.least())
            against = clusters.fit()
            if not against or len(against) == len(clusters.clusters):
                return
            clusters.merge(against)

    def _search(self) -> Iterator[None]:
        """The whole component, best first."""
        part, steps = self.part, 0
        whole = Frontier(self.search, part.variables, part.watched, Demand(part.cut, part.number), part.high)
        while not self.done:
            whole.best, whole.point = min(whole.best, part.high, self.enough), None
            try:
                whole.run(_NODES, HUGE)
            finally:
                if whole.point is not None:
                    for v in part.variables:
                        self.witness[v] = whole.point[v]
                    part.high = whole.best
                part.low = max(part.low, min(whole.bound, part.high))
            if self.done:
                return
            yield
            steps += 1
            if steps >= _EASY and steps & (steps - 1) == 0:
                self._polish()
                self.reach *= 2
            if steps == _EASY and not self.done:
                demand = self._priced(whole.demand)
                if demand is not whole.demand:  # begin again: every box is narrower now
                    whole = Frontier(self.search, part.variables, part.watched, demand, part.high)

    def _priced(self, plain: Demand) -> Demand:
        """Prices on the rules that join the first clusters; a demand that knows them, or the plain one if they help nothing."""
        clusters = Clusters(self.local, self.part, self.target, self.witness)
        bound, demand = Prices(clusters).run(self.part.high, plain)
        if bound <= self.part.low:
            return plain
        self.part.low = max(self.part.low, min(bound, self.part.high))
        return demand

    # Polishing ----------------------------------------------------------------------------------------------

    def _polish(self) -> None:
        """Better the witness by re-opening one or two neighbouring mechanisms at a time; proves nothing."""
        if not self.first:
            self.first = self.local.directions(self.local.sources(self.part, self.target), self.part.cut)
        groups: dict[str, list[int]] = {}
        for v in self.part.variables:
            groups.setdefault(owner(self.local.machine, v), []).append(v)
        pieces = list(groups.values())
        pairs = [(n, n + apart) for apart in range(_NEIGHBOURS + 1) for n in range(len(pieces) - apart)]
        before = self.part.high + 1
        while self.part.high < before and len(pieces) > 1:
            before = self.part.high
            for a, b in pairs:
                self._reopen({*pieces[a], *pieces[b]})

    def _reopen(self, free: set[int]) -> None:
        """Better the witness in some variables, the others staying as they are."""
        store, part = self.store, self.part
        here = {v: down for v, down in self.first.items() if v in free}
        found: bool | None = True
        while found and not self.done:
            mark = store.mark()
            step = max(self.target.pace, (part.high - part.low) // 256)
            found = self._hold([v for v in part.variables if v not in free])
            found = found and self._probe(part.high - step, self.reach, here)
            store.undo(mark)

    def _hold(self, variables: Sequence[int]) -> bool:
        return all(self.store.restrict(v, self.witness[v], self.witness[v]) for v in variables)

    def _probe(self, limit: int, budget: int, first: Directions) -> bool | None:
        """Is there an answer of the part with terms up to `limit`? None: not decided within the node budget."""
        store, part = self.store, self.part
        mark = store.mark()
        part.cut.limit = limit
        store.wake(part.number)
        try:
            found = self.search.attempt(lambda: self.search.find(part.variables, first), budget)
            if found:
                for v in part.variables:
                    self.witness[v] = store.low[v]
                part.high = part.cut.least()
            return found
        finally:
            part.cut.limit = HUGE
            store.undo(mark)
