"""The value of one unknown, nearest to 0, with which all rules can hold.

Values are asked for in blocks that go outward from 0 and double in length, then the block with an answer is halved. Every
question is about a whole block and is decided by search, so that everything nearer than the value found was seen to be
impossible: nothing is taken to grow or fall steadily. Nodes are counted, so that the answer depends on the model alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from foldwright.solver.engine.questions import Questions

QUESTION = 400  # nodes for one block
NODES = 2000  # nodes for one direction


@dataclass(frozen=True)
class Nearest:
    """The nearest count, with the values of all unknowns there; `proved` that nothing nearer is possible.

    Without a count there is none, if that is proved, or the nodes were not enough to find one.
    """

    count: int | None
    proved: bool
    values: Mapping[str, Fraction]


class Values(Questions):
    """Questions about single unknowns of a machine. Between `settle` and `close` some rules are switched on."""

    def settle(self, rules: Iterable[int]) -> bool:
        """Switch on some rules, which all questions take as given; False if propagation refutes them. Raises TimeUp."""
        self._reset()
        self._begin(rules)
        return self._propagate()

    def nearest(self, name: str, fixed: Mapping[str, int], rules: Iterable[int] = ()) -> Nearest:
        """The count of one unknown nearest to 0, but not 0, with some others `fixed`; `rules` are given besides.

        Of two counts equally near the one below 0 is taken. Raises TimeUp.
        """
        store, index = self.store, self.machine.index
        mark = store.mark()
        added = [number for rule in rules for number in self._numbers.get(rule, ())]
        try:
            for number in added:
                store.active[number] = True
                store.wake(number)
            self._active += added
            if not all(store.restrict(index[other], count, count) for other, count in fixed.items()) or not store.propagate():
                return Nearest(None, True, {})
            v = index[name]
            down = self._outward(v, -1, -store.low[v])
            most = store.high[v] if down.count is None else min(store.high[v], -down.count - 1)
            up = self._outward(v, 1, most)
            best = down if up.count is None else up
            return Nearest(best.count, up.proved and down.proved, best.values)
        finally:
            store.undo(mark)
            for number in added:
                store.active[number] = False
            self._active = self._active[: len(self._active) - len(added)]

    def _outward(self, v: int, sign: int, most: int) -> Nearest:
        """The nearest count on one side of 0, no farther than `most`."""
        store, mark, name = self.store, self.store.mark(), self.machine.declared[v].name
        stop_at = self.search.nodes + NODES
        best: int | None = None
        values: Mapping[str, Fraction] = {}
        first, last, length = 1, most, 1
        try:
            while first <= last and self.search.nodes < stop_at:
                if not self._within(v, sign, first, most):
                    first = last + 1
                    break
                first = max(first, store.low[v] if sign > 0 else -store.high[v])
                last = min(last, store.high[v] if sign > 0 else -store.low[v])
                end = min(last, first + length - 1) if best is None else (first + last) // 2
                if first > last:
                    break
                inner = store.mark()
                found = self._within(v, sign, first, end) and self._fill(QUESTION)
                store.undo(inner)
                if found:
                    best, values = abs(int(self.values[name])), self.values
                    last = best - 1
                elif found is None:
                    if best is not None or end == last:
                        break
                    length = last  # a larger block may be easier
                else:
                    first, length = end + 1, 2 * length
        finally:
            store.undo(mark)
        return Nearest(None if best is None else sign * best, first > last, values)

    def _within(self, v: int, sign: int, first: int, last: int) -> bool:
        return self.store.restrict(v, first, last) if sign > 0 else self.store.restrict(v, -last, -first)
