"""The answer among equals: variable by variable, the preferred value that still leaves an answer.

Which optimal answer a search meets first depends on its heuristics. So that a script has one answer, each
variable in the order of declaration takes the value nearest its preferred one (the smaller of two, or the
smallest if none is preferred). The witness makes most questions answer themselves; the others are asked by
search within the variable's component.
"""

from __future__ import annotations

from fractions import Fraction
from functools import partial
from math import floor

from foldwright.solver.engine.optimise import Levels
from foldwright.solver.engine.oracle import Oracle
from foldwright.solver.engine.target import Part
from foldwright.solver.expression import Variable


class Ladder:
    """Values from `low` to `high` ranked by their distance from the preferred one, the smaller of two first."""

    def __init__(self, low: int, high: int, preferred: Fraction | None) -> None:
        liked = Fraction(low) if preferred is None else preferred
        below = floor(liked)
        nearest = below if liked - below <= Fraction(1, 2) else below + 1
        self.near = min(max(nearest, low), high)
        self.rises = liked > self.near  # the next nearest value is above
        self.down, self.up = self.near - low, high - self.near

    def rank(self, value: int) -> int:
        """How many values come before this one."""
        distance = abs(value - self.near)
        if not distance:
            return 0
        first = (value > self.near) == self.rises
        other = self.down if value > self.near else self.up
        return distance + min(distance - 1 if first else distance, other)

    def range(self, count: int) -> tuple[int, int]:
        """Least and greatest of the first `count` values; they have no gaps."""
        first, second = (count // 2, (count - 1) // 2)
        up, down = (first, second) if self.rises else (second, first)
        if up > self.up:
            down, up = min(self.down, down + up - self.up), self.up
        elif down > self.down:
            up, down = min(self.up, up + down - self.down), self.down
        return self.near - down, self.near + up


def preferred_count(variable: Variable) -> int:
    """Grid count nearest the preferred value of a variable, within its range."""
    liked = None if variable.preferred is None else variable.preferred / variable.step
    return Ladder(variable.low, variable.high, liked).near


class Canonical:
    """Moves the witness of settled levels to the canonical answer."""

    def __init__(self, levels: Levels) -> None:
        self.levels, self.machine, self.search = levels, levels.machine, levels.search
        self.store = self.machine.store
        barred = {coupling.propagator for coupling in levels.couplings}
        everything = range(len(self.store.low))
        declared = len(self.machine.declared)
        groups = [list(everything)] if levels.together else self.store.components(everything, lambda n: n not in barred)
        self.owner = {v: n for n, group in enumerate(groups) for v in group}
        self.groups = [[v for v in group if v < declared] for group in groups]
        self.oracles = [Oracle(levels, inside, group) for inside, group in zip(self.groups, groups, strict=True)]

    def run(self) -> None:
        """Fix every variable; the witness is the answer. Raises TimeUp (the witness stays a good answer)."""
        for oracle in self.oracles:
            oracle.shrink()
        self._approach()
        for v, variable in enumerate(self.machine.declared):
            if self.store.low[v] < self.store.high[v]:
                self._settle(v, variable)

    def _approach(self) -> None:
        """Once, label every component near its preferred values: most later questions are then answered."""
        self.search.guide = [preferred_count(variable) for variable in self.machine.declared]
        for n, group in enumerate(self.groups):
            if any(self.store.low[v] < self.store.high[v] for v in group):
                mark = self.store.mark()
                self.search.attempt(partial(self._relabel, n), 200)
                self.store.undo(mark)

    def _relabel(self, n: int) -> bool:
        return self._others_stay(n) and self._search(n)

    def _settle(self, v: int, variable: Variable) -> None:
        liked = None if variable.preferred is None else variable.preferred / variable.step
        ladder = Ladder(self.store.low[v], self.store.high[v], liked)
        rank, without = ladder.rank(self.levels.witness[v]), 0
        count = rank  # mostly nothing is better at all, and one question tells
        while without < rank:
            if self._possible(v, *ladder.range(count)):
                rank = ladder.rank(self.levels.witness[v])
            else:
                without = count
            count = (without + rank + 1) // 2
        value = self.levels.witness[v]
        if not self.store.restrict(v, value, value):
            raise AssertionError("the witness was lost")

    # Questions ----------------------------------------------------------------------------------------------

    def _possible(self, v: int, low: int, high: int) -> bool:
        """Whether an answer has variable v in a range; the witness becomes such an answer."""
        n = self.owner[v]
        self.search.guide = list(self.levels.witness)
        self.search.guide[v] = (low + high) // 2
        if self._ask(n, v, low, high, stay=True):
            return True
        if not self._shared(n):
            return False
        if not self._ask(n, v, low, high, stay=False):
            return False
        # The component could do it with room that other components take up: make them give way.
        if len(self.levels.couplings) == 1:
            self._give_way(n)
            if self._ask(n, v, low, high, stay=True):
                return True
            if not self._shared(n):
                return False
        return self._ask_all(v, low, high)

    def _ask(self, n: int, v: int, low: int, high: int, stay: bool) -> bool:
        mark = self.store.mark()
        try:
            return (not stay or self._others_stay(n)) and self.store.restrict(v, low, high) and self._search(n, keep=stay)
        finally:
            self.store.undo(mark)

    def _search(self, n: int, keep: bool = True) -> bool:
        found = self.oracles[n].find()
        if found and keep:
            self.levels.keep(self.groups[n])
        return found

    def _ask_all(self, v: int, low: int, high: int) -> bool:
        everything = list(range(len(self.machine.declared)))
        mark = self.store.mark()
        try:
            found = self.store.restrict(v, low, high) and self.search.find(everything)
            if found:
                self.levels.keep(everything)
            return found
        finally:
            self.store.undo(mark)

    # Wishes that components share
    # -----------------------------------------------------------------------------

    def _outside(self, n: int) -> list[tuple[int, Part]]:
        """Totals of frozen wishes, with their parts, that belong to other components than n."""
        return [
            (total, part)
            for coupling in self.levels.couplings
            for total, part in zip(coupling.totals, coupling.parts, strict=True)
            if self.owner.get(total, -1) != n
        ]

    def _others_stay(self, n: int) -> bool:
        """Give component n the room that the witness leaves it."""
        outside = self._outside(n)
        totals = [total for total, _ in outside]
        taken = [self.levels.value(part) for _, part in outside]
        return not outside or self.store.narrow(totals, taken, [self.store.high[total] for total in totals])

    def _shared(self, n: int) -> bool:
        """True if another component takes more of a shared total than it provably must."""
        return any(self.levels.value(part) > self.store.low[total] for total, part in self._outside(n))

    def _give_way(self, n: int) -> None:
        """Move every other component to its least share, as it stands now."""
        target = self.levels.couplings[0].target
        for total, part in self._outside(n):
            self.levels.reduce(part, target)
            self.store.restrict(total, part.low, self.store.high[total])


def settle(levels: Levels) -> None:
    """Move the witness to the canonical answer."""
    Canonical(levels).run()
