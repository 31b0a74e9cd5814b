"""The store of bounds and the propagation loop.

Every variable has a least and a greatest count of grid steps. A propagator looks at one rule and raises or
lowers bounds that no answer can reach; the loop runs them until nothing changes. A trail of old bounds allows
undoing, and on request it notes which propagator made each change, so that a failure can be traced to the
rules behind it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from time import monotonic

from foldwright.solver.engine.stopping import current

# what a propagator returns; entailed: it holds whatever is chosen within the bounds
FAILED, RAN, ENTAILED = 0, 1, 2
DECISION = -1


class TimeUp(Exception):
    """The time limit is over."""


@dataclass(frozen=True, slots=True)
class Propagator:
    """`revise` tightens the bounds of `variables`; `exact` ones (whole-number arithmetic) run first.

    `rule` is the index of the rule it stands for, -1 for an auxiliary one; `again` says that one run may not
    reach its own fixpoint.
    """

    revise: Callable[[], int]
    variables: tuple[int, ...]
    rule: int = -1
    exact: bool = True
    again: bool = True


class Store:
    """Bounds of all variables; shared by the propagators as plain lists, for speed."""

    def __init__(self) -> None:
        self.low: list[int] = []
        self.high: list[int] = []
        self.trail: list[tuple[int, int, int]] = []  # variable, old low, old high
        self.reasons: list[int] = []  # propagator per trail entry, kept only while `core` is a set
        self.core: set[int] | None = None
        self.propagators: list[Propagator] = []
        self.active: list[bool] = []
        self.weight: list[int] = []  # failures seen by each variable
        self.calls = 0
        # of the monotonic clock; it can end a search, never change an answer
        self.deadline: float | None = None
        self.stop = current()  # may end a search too
        self._revise: list[Callable[[], int]] = []
        self._watch: list[list[int]] = []
        self._queued: list[bool] = []
        self._fast: deque[int] = deque()
        self._slow: deque[int] = deque()

    def variable(self, low: int, high: int) -> int:
        """A new variable; returns its index."""
        self.low.append(low)
        self.high.append(high)
        self.weight.append(1)
        self._watch.append([])
        return len(self.low) - 1

    def add(self, propagator: Propagator) -> int:
        """Enter a propagator and queue it; returns its number."""
        number = len(self.propagators)
        self.propagators.append(propagator)
        self._revise.append(propagator.revise)
        self.active.append(True)
        self._queued.append(False)
        for variable in propagator.variables:
            self._watch[variable].append(number)
        self.wake(number)
        return number

    def wake(self, number: int) -> None:
        """Queue a propagator, if it is not queued already."""
        if not self._queued[number]:
            self._queued[number] = True
            (self._fast if self.propagators[number].exact else self._slow).append(number)

    def mark(self) -> int:
        """A point to return to with `undo`."""
        return len(self.trail)

    def undo(self, mark: int) -> None:
        """Restore all bounds as they were at a mark."""
        trail, low, high = self.trail, self.low, self.high
        while len(trail) > mark:
            variable, low[variable], high[variable] = trail.pop()
        del self.reasons[mark:]

    def restrict(self, variable: int, low: int, high: int) -> bool:
        """Narrow one variable by decision and propagate; False if nothing is left."""
        return self._decide(variable, low, high) and self.propagate()

    def narrow(self, variables: Iterable[int], lows: Iterable[int], highs: Iterable[int]) -> bool:
        """Narrow several variables by decision, then propagate once; False if nothing is left."""
        for variable, least, most in zip(variables, lows, highs, strict=True):
            if not self._decide(variable, least, most):
                self._forget()
                return False
        return self.propagate()

    def _decide(self, variable: int, low: int, high: int) -> bool:
        """Narrow one variable and wake what watches it; False if nothing is left."""
        old_low, old_high = self.low[variable], self.high[variable]
        new_low, new_high = max(low, old_low), min(high, old_high)
        if new_low > new_high:
            self._blame((variable,))
            return False
        if new_low > old_low or new_high < old_high:
            self.trail.append((variable, old_low, old_high))
            if self.core is not None:
                self.reasons.append(DECISION)
            self.low[variable], self.high[variable] = new_low, new_high
            for number in self._watch[variable]:
                if not self._queued[number]:
                    self.wake(number)
        return True

    def propagate(self) -> bool:
        """Run queued propagators until nothing changes; False if some rule cannot hold. Raises TimeUp."""
        trail, watch, queued, active = self.trail, self._watch, self._queued, self.active
        fast, slow, propagators, revise = self._fast, self._slow, self.propagators, self._revise
        while fast or slow:
            number = fast.popleft() if fast else slow.popleft()
            queued[number] = False
            if not active[number]:
                continue
            before = len(trail)
            self.calls += 1
            if not self.calls & 255:  # a slow march through a wide range must not outrun the limit
                self.check_time()
            outcome = revise[number]()
            if self.core is not None:
                self.reasons.extend([number] * (len(trail) - before))
            if not outcome:
                self._fail(number)
                return False
            for entry in range(before, len(trail)):
                for watcher in watch[trail[entry][0]]:
                    if not queued[watcher] and (watcher != number or propagators[number].again):
                        queued[watcher] = True
                        (fast if propagators[watcher].exact else slow).append(watcher)
        return True

    def check_time(self) -> None:
        """Raise TimeUp after the deadline or when asked to stop; what was queued is forgotten, so undo to a mark then."""
        if (self.deadline is not None and monotonic() > self.deadline) or (self.stop is not None and self.stop()):
            self._forget()
            raise TimeUp

    def _forget(self) -> None:
        for queue in (self._fast, self._slow):
            for waiting in queue:
                self._queued[waiting] = False
            queue.clear()

    def _fail(self, number: int) -> None:
        self._forget()
        for variable in self.propagators[number].variables:
            self.weight[variable] += 1
        if self.core is not None:
            self.core.add(number)
        self._blame(self.propagators[number].variables)

    def _blame(self, variables: Iterable[int]) -> None:
        """Enter in the core every propagator that led to the present bounds of some variables."""
        if self.core is None:
            return
        concerned = set(variables)
        for entry in range(len(self.trail) - 1, -1, -1):
            reason = self.reasons[entry]
            if reason != DECISION and self.trail[entry][0] in concerned:
                self.core.add(reason)
                concerned.update(self.propagators[reason].variables)

    def entailed(self, number: int) -> bool:
        """True if an active propagator has nothing left to say. Call at a fixpoint only: then nothing changes."""
        before = len(self.trail)
        outcome = self._revise[number]()
        if len(self.trail) != before:  # a weaker fixpoint than assumed: take it back
            self.undo(before)
        return outcome == ENTAILED

    def retire(self) -> None:
        """Forget the propagators that have nothing left to say within the present bounds. Call at a fixpoint to stay with."""
        retired = {n for n in range(len(self.propagators)) if self.active[n] and self.entailed(n)}
        for number in retired:
            self.active[number] = False
        for variable, watchers in enumerate(self._watch):
            self._watch[variable] = [number for number in watchers if number not in retired]

    def components(self, variables: Sequence[int], links: Callable[[int], bool]) -> list[list[int]]:
        """Groups of unfixed variables that no rule connects, each ascending, in the order of their first
        variable.

        `links(number)` says whether a propagator counts. Call at a fixpoint.
        """
        parent = list(range(len(self.low)))

        def root(v: int) -> int:
            while parent[v] != v:
                parent[v] = parent[parent[v]]
                v = parent[v]
            return v

        low, high = self.low, self.high
        for number, propagator in enumerate(self.propagators):
            if not self.active[number] or not links(number):
                continue
            free = [v for v in propagator.variables if low[v] < high[v]]
            if len(free) > 1 and not self.entailed(number):
                first = root(free[0])
                for v in free[1:]:
                    parent[root(v)] = first
        groups: dict[int, list[int]] = {}
        for v in sorted(variables):
            if low[v] < high[v]:
                groups.setdefault(root(v), []).append(v)
        return list(groups.values())
