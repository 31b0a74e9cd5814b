"""Branch and bound on the share of one component in a wish, in steps, so that components can take turns.

First each term alone is minimised (`local.py`). Then the ideal point, where every term sits at its bound, is
tried: in most cards it exists, and the proof is done. Otherwise the demand is widened between what is proved
and what is reached, with a node budget. If that does not decide it, mechanisms compete: the witness is
polished by re-opening a few of them at a time, the rules that join them are priced (`prices.py`), and the
budget grows until it suffices.
"""

from __future__ import annotations

from collections.abc import Sequence

from foldwright.solver.engine.local import Directions, Local, owner
from foldwright.solver.engine.prices import Prices
from foldwright.solver.engine.target import HUGE, Part, Target

_NODES = 300  # of one bounded attempt; doubled when nothing comes of it
_POLISH_NODES = 200  # of one attempt to better a few mechanisms, doubled with the budget
_NEIGHBOURS = 3  # how far apart two mechanisms are that are re-opened together
_OPEN = 2**60  # units; a wider gap comes from an unbounded interval, halving it leads nowhere


class Descent:
    """Makes `part.low` (proved) and `part.high` (reached by the witness) meet, up to the target's pace."""

    def __init__(self, local: Local, part: Part, target: Target, witness: list[int]) -> None:
        self.local, self.part, self.target, self.witness = local, part, target, witness
        self.search, self.store = local.search, local.store
        self.first: Directions = {}
        self.prices: Prices | None = None
        self.budget, self.share, self.stage, self.reach = _NODES, 0, 0, _POLISH_NODES

    @property
    def done(self) -> bool:
        """True if nothing better is worth looking for."""
        return self.part.high - self.part.low < self.target.pace

    def step(self) -> None:
        """A bounded piece of work; sooner or later `done` is true."""
        part = self.part
        part.low = max(part.low, part.cut.least())
        if self.stage == 0:
            self.stage = 1
            if not self.done and len(part.terms) > 1:
                self.local.tighten(part, self.target)
                part.low = max(part.low, part.cut.least())
            self.first = self.local.directions(self.local.sources(part, self.target), part.cut)
        while not self.done and self._bisect():
            pass
        if self.done:
            return
        if self.stage == 1:
            self.stage = 2
            self._polish()
        elif self.stage == 2:
            self.stage = 3
            self.prices = Prices(self.local, part, self.target)
            part.low = max(part.low, self.prices.run(part.high))
        elif self._probe(part.high - self.target.pace, 4 * self.budget) is False:
            part.low = max(part.low, part.high - self.target.pace + 1)
        else:
            self.budget *= 2
            self.reach *= 2
            self._polish()

    def finish(self) -> None:
        """All steps."""
        while not self.done:
            self.step()

    def _bisect(self) -> bool:
        """One attempt between what is proved and what is reached; False if the budget did not suffice."""
        part, gap = self.part, self.part.high - self.part.low
        # Where nothing bounds the sum from below, only what betters the witness is asked for.
        demand = part.low + gap * self.share // 16 if gap < _OPEN or not self.share else part.high - self.target.pace
        found = self._probe(demand, self.budget)
        if not found:
            self.share = min(8, 2 * self.share) if self.share else 1
        if found is False:
            part.low = max(part.low, demand + 1)
        return found is not None

    def _probe(self, limit: int, budget: int, first: Directions | None = None) -> bool | None:
        """Is there an answer of the part with terms up to `limit`? None: not decided within the node budget."""
        store, part = self.store, self.part
        mark = store.mark()
        part.cut.limit = limit
        store.wake(part.number)
        if self.prices is not None:
            self.prices.demand(limit)
        try:
            found = self.search.attempt(lambda: self.search.find(part.variables, self.first if first is None else first), budget)
            if found:
                for v in part.variables:
                    self.witness[v] = store.low[v]
                part.high = part.cut.least()
            return found
        finally:
            part.cut.limit = HUGE
            if self.prices is not None:
                self.prices.demand(HUGE)
            store.undo(mark)

    # Polishing ----------------------------------------------------------------------------------------------

    def _polish(self) -> None:
        """Better the witness by re-opening one or two neighbouring mechanisms at a time; proves nothing."""
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
