"""Best-first branch and bound over a few variables: the box with the least bound is halved next.

Propagation narrows every box. The first box that is a single point is a minimum; until then the least bound of the boxes
that are still open is proved, so the work can stop at any time with a bound and go on later.
(A. H. Land, A. G. Doig, "An automatic method of solving discrete programming problems", Econometrica 28, 1960.)

Which variable is halved is learned: how much halving it raised the bound so far, as a share of what was needed to be
rid of the box. (M. Benichou et al., "Experiments in mixed-integer linear programming", Mathematical Programming 1,
1971, calls that a pseudo-cost.)
"""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heappop, heappush

from foldwright.solver.engine.linear import Cut
from foldwright.solver.engine.search import Search

_PROMISE = 0.05  # a hull is content with boxes whose halving promises less than this share
_PLUNGE = 4  # every so many dives go all the way
_PIECE = 200  # nodes between looks at what was found
_ROOM = 2_000_000  # numbers kept in open boxes at most; beyond that every dive goes all the way
_MEMORY = 0.5  # weight of the latest gain
_BOTH = 0.8  # weight of the smaller gain of the two halves

Box = tuple[tuple[int, ...], tuple[int, ...]]
Gains = dict[int, tuple[float, float]]  # of each variable, for the half with the smaller gain and for the other


class Demand:
    """What is to be small: the sum of a cut (with the number of its propagator), and how much of it is asked for."""

    def __init__(self, cut: Cut, number: int) -> None:
        self.cut, self.number = cut, number

    def least(self) -> int:
        """What the sum comes to at least."""
        return self.cut.least()

    def ask(self, limit: int) -> None:
        """Ask for sums up to a limit from the next propagation on."""
        self.cut.limit = limit

    def wake(self, search: Search) -> None:
        """Have the limit looked at, although no variable has changed."""
        search.store.wake(self.number)


class Frontier:
    """Minimises a demand over `choices`; `watched` are all variables that a box has to remember.

    The store has to be at the same fixpoint whenever `run` is called, and is left there; the demand is left open. `bound`
    is proved; `best` is the least sum found, with the lows of all variables there in `point` (None while there is none).
    Nothing at or above the `limit` given is looked for.
    """

    def __init__(self, search: Search, choices: Sequence[int], watched: Sequence[int], demand: Demand, limit: int) -> None:
        self.search, self.store = search, search.store
        self.choices, self.watched, self.demand = tuple(choices), tuple(watched), demand
        self.best = limit
        self.point: list[int] | None = None
        self.bound = demand.least()
        self._entered = 0
        self._open: list[tuple[int, int, Box]] | None = None
        self._dives = 0
        self._looks = 0
        self._seen: dict[int, int] = {}  # when a variable was looked at last
        self._promise = 0.0
        self._kept: list[Box] = []
        self.gains: Gains = {}  # may be shared by searches over the same variables

    def first(self) -> bool:
        """Whether there is any answer under the limit; the store is left at it. Call instead of `run`."""
        while self.point is None and not self.run(_PIECE, self.best - 1):
            pass
        return self.point is not None and self.store.narrow(self.choices, *[[self.point[v] for v in self.choices]] * 2)

    @property
    def done(self) -> bool:
        """True if the minimum is known (or that it is not under the limit)."""
        return self.bound >= self.best

    def hull(self, nodes: int) -> tuple[list[int], list[int]] | None:
        """Bounds of the choices over all answers under the limit, not always the closest; None if there is no answer.

        Boxes are halved (at most so many) while that promises to be rid of some. Call instead of `run`.
        """
        self._promise = _PROMISE
        try:
            self.run(nodes, self.best - 1)
        finally:
            self._promise = 0.0
        boxes = [*self._kept, *(box for _, _, box in self._open or [])]
        if not boxes:
            return None
        places = [self.watched.index(v) for v in self.choices]
        return [min(box[0][n] for box in boxes) for n in places], [max(box[1][n] for box in boxes) for n in places]

    def run(self, nodes: int, top: int) -> bool:
        """Halve boxes, at most so many; returns `done`. `top` is the limit to leave in the demand. Raises TimeUp."""
        store, left = self.store, nodes
        mark = store.mark()
        try:
            if self._open is None:
                self._open = []
                self._ask()
                if store.propagate():
                    self._enter(self.demand.least())
                self._rebound()
                store.undo(mark)
            while not self.done and left > 0:
                left -= self._dive(left)
                store.undo(mark)
        finally:
            store.undo(mark)
            self.demand.ask(top)
        return self.done

    def _ask(self) -> None:
        self.demand.ask(self.best - 1)
        self.demand.wake(self.search)

    def _enter(self, least: int) -> None:
        assert self._open is not None
        self._entered += 1
        heappush(self._open, (least, -self._entered, self._box()))  # of equals the latest: it is the deepest

    def _box(self) -> Box:
        low, high = self.store.low, self.store.high
        return tuple(low[v] for v in self.watched), tuple(high[v] for v in self.watched)

    def _rebound(self) -> None:
        self.bound = max(self.bound, min(self._open[0][0], self.best) if self._open else self.best)

    def _restore(self, box: Box) -> None:
        """Write a box that was at a fixpoint; nobody need be woken."""
        store = self.store
        low, high, trail = store.low, store.high, store.trail
        for v, a, b in zip(self.watched, *box, strict=True):
            if low[v] != a or high[v] != b:
                trail.append((v, low[v], high[v]))
                low[v], high[v] = a, b

    def _dive(self, nodes: int) -> int:
        """Take the most promising box and follow its better halves as long as no other box is better; nodes spent."""
        assert self._open is not None
        least, _, box = heappop(self._open)
        if least >= self.best:
            self._open.clear()
            self._rebound()
            return 0
        spent = 0
        self._dives += 1
        self._restore(box)
        try:
            self._refresh()
            while (v := self._choose()) is not None:
                spent += 1
                halves = self._halve(v)
                if halves is None:
                    break
                if spent >= nodes or (self._open and self._open[0][0] < halves and not self._deep()):
                    self._enter(halves)
                    break
            else:
                if self._promise:
                    self._kept.append(self._box())
                else:
                    self.best, self.point = self.demand.least(), self.store.low[:]
        except BaseException:
            heappush(self._open, (least, 0, box))  # nothing is lost: the whole box is open again
            raise
        self._rebound()
        return max(1, spent)

    def _deep(self) -> bool:
        """Whether to go down to an answer or a failure: now and then, for a good answer makes every box narrower."""
        assert self._open is not None
        return (self._dives % _PLUNGE == 0 and not self._promise) or 2 * len(self._open) * len(self.watched) > _ROOM

    def _halve(self, v: int) -> int | None:
        """Put the worse half of a variable among the open boxes and go into the better one; its bound, None if there is none."""
        store, demand = self.store, self.demand
        low, high = store.low[v], store.high[v]
        middle, mark, base = (low + high) // 2, store.mark(), demand.least()
        self.search.tick()
        self._ask()
        upper = demand.least() if store.restrict(v, middle + 1, high) else None
        if upper is not None:
            self._enter(upper)
        store.undo(mark)
        demand.wake(self.search)
        lower = demand.least() if store.restrict(v, low, middle) else None
        self._learn(v, base, lower, upper)
        return lower

    # Which variable ------------------------------------------------------------------------------------------

    def _choose(self) -> int | None:
        """The unfixed variable whose halving promises most; None if all are fixed."""
        low, high = self.store.low, self.store.high
        best, most = None, (-1.0, 0)
        for v in self.choices:
            width = high[v] - low[v]
            if width:
                gains = self.gains.get(v) or self._probe(v)
                worth = (_BOTH * gains[0] + (1 - _BOTH) * gains[1], width)
                if worth > most:
                    best, most = v, worth
        return best if most[0] >= self._promise else None

    def _refresh(self) -> None:
        """Look again at the variable that was looked at longest ago: what it promises here may be quite different."""
        low, high, seen = self.store.low, self.store.high, self._seen
        open_ = [v for v in self.choices if low[v] < high[v] and v in seen]
        if open_:
            oldest = min(open_, key=seen.__getitem__)
            if seen[oldest] < self._looks - len(self.choices):
                self._probe(oldest)

    def _probe(self, v: int) -> tuple[float, float]:
        """First look at a variable: halve it both ways and take it back."""
        store, demand = self.store, self.demand
        low, high, base = store.low[v], store.high[v], self.demand.least()
        middle, mark, bounds = (low + high) // 2, store.mark(), []
        for half in ((low, middle), (middle + 1, high)):
            self.search.tick()
            bounds.append(demand.least() if store.restrict(v, *half) else None)
            store.undo(mark)
        return self._learn(v, base, *bounds)

    def _learn(self, v: int, base: int, *bounds: int | None) -> tuple[float, float]:
        self._looks += 1
        self._seen[v] = self._looks
        room = max(1, self.best - base)
        shares = sorted(1.0 if bound is None else min(1.0, (bound - base) / room) for bound in bounds)
        known = self.gains.get(v)
        if known is None:
            gains = shares[0], shares[1]
        else:
            gains = known[0] + _MEMORY * (shares[0] - known[0]), known[1] + _MEMORY * (shares[1] - known[1])
        self.gains[v] = gains
        return gains
