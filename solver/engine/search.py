"""Search for an answer: labelling by python-constraint with propagation inside, and domain splitting behind
it.

The library keeps the assignment, walks the variables, pushes and pops domains and backtracks. One constraint
per variable writes the trial value into the store and propagates. That finds designs in few steps; to
*refute* value by value is slow, so after some patience a search that halves domains takes over, with
restarts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any

from foldwright.solver.engine.machine import Machine

_PATIENCE = 200  # library nodes before the splitting search takes over
_RESTART = 100  # nodes of the first splitting attempt, doubled each time
_TRAIL = "~trail"


class _NodesUp(Exception):
    """The node limit of one attempt is over."""


class Search:
    """Finds values for some variables of a machine; the store is left at the answer, or undone by the caller."""

    def __init__(self, machine: Machine, deadline: float | None = None) -> None:
        self.machine = machine
        self.store = machine.store
        self.store.deadline = deadline
        self.patience = _PATIENCE
        self.nodes = 0
        self.guide: list[int] = []  # the value each variable would like
        self.accept: Callable[[], bool] | None = None  # a last check of complete answers, rarely needed
        self._stop_at: int | None = None

    def tick(self) -> None:
        """Count a node; raises TimeUp, or _NodesUp beyond the limit of the attempt."""
        self.nodes += 1
        self.store.check_time()
        if self._stop_at is not None and self.nodes > self._stop_at:
            raise _NodesUp

    def attempt(self, run: Callable[[], bool], limit: int) -> bool | None:
        """Run a search with a node limit: its result, or None (store undone) if the limit was reached."""
        mark, outer = self.store.mark(), self._stop_at
        mine = self.nodes + limit
        self._stop_at = mine if outer is None else min(mine, outer)
        try:
            return run()
        except _NodesUp:
            self.store.undo(mark)
            if outer is not None and self.nodes > outer:
                raise
            return None
        finally:
            self._stop_at = outer

    def find(self, variables: Sequence[int], first: Mapping[int, bool] | None = None) -> bool:
        """Fix all variables, or return False if that is impossible.

        `first` are halved before the rest is labelled, each downward (True) or upward.
        """
        if not self.store.propagate():
            return False
        if first:
            return self.split(list(first), lambda: self.find(variables), first)
        if self.accept is not None:
            return self.split(variables, self.accept)
        free = [v for v in variables if self.store.low[v] < self.store.high[v]]
        if not free:
            return True
        found = self.attempt(lambda: self.label(free), self.patience)
        if found is not None:
            self.patience = min(_PATIENCE, self.patience + 4)
            return found
        self.patience = max(1, self.patience // 2)
        limit = _RESTART
        while True:
            found = self.attempt(lambda: self.split(free), limit)
            if found is not None:
                return found
            limit *= 2

    def label(self, variables: Sequence[int]) -> bool:
        """Labelling by the library; True leaves the answer in the store."""
        library = _library()
        problem = library.Problem(library.driver(self))
        for v in variables:
            problem.addVariable(v, library.range_domain(self, v))
        problem.addVariable(_TRAIL, library.trail_domain(self.store))
        for v in variables:
            problem.addConstraint(library.hook(self, v), [v])
        mark = self.store.mark()
        if problem.getSolution() is not None:
            return True
        self.store.undo(mark)
        return False

    def choose(self, variables: Sequence[int]) -> int | None:
        """The unfixed variable with the smallest domain per failure seen (dom/wdeg); None if all are fixed."""
        low, high, weight = self.store.low, self.store.high, self.store.weight
        best, least = None, 0.0
        for v in variables:
            width = high[v] - low[v]
            if width and (best is None or width / weight[v] < least):
                best, least = v, width / weight[v]
        return best

    def split(
        self,
        variables: Sequence[int],
        then: Callable[[], bool] | None = None,
        downward: Mapping[int, bool] | None = None,
    ) -> bool:
        """Depth-first search that halves domains; at each leaf `then` has the last word."""
        store = self.store
        bottom = store.mark()
        stack: list[tuple[int, int, int, int]] = []  # mark, variable, and the half still to try
        alive = store.propagate()
        while True:
            if alive:
                v = self.choose(variables)
                if v is None:
                    if then is None or then():
                        return True
                    alive = False
                    continue
                low, high = store.low[v], store.high[v]
                middle = (low + high) // 2
                lower, upper = (low, middle), (middle + 1, high)
                wants = self.guide[v] > middle if v < len(self.guide) else False
                if not downward.get(v, True) if downward is not None else wants:
                    lower, upper = upper, lower
                stack.append((store.mark(), v, *upper))
                self.tick()
                alive = store.restrict(v, *lower)
            else:
                if not stack:
                    store.undo(bottom)
                    return False
                mark, v, low, high = stack.pop()
                store.undo(mark)
                self.tick()
                alive = store.restrict(v, low, high)


def outward(low: int, high: int, liked: int) -> Iterator[int]:
    """Values of a range by their distance from the liked one, the smaller first."""
    near = min(max(liked, low), high)
    yield near
    for distance in range(1, high - low + 1):
        if near - distance >= low:
            yield near - distance
        if near + distance <= high:
            yield near + distance


class _Values:
    """What the library takes for a list of values to pop; values are made one at a time, ranges may be huge."""

    __slots__ = ("_left", "_source")

    def __init__(self, low: int, high: int, liked: int) -> None:
        self._left = high - low + 1
        self._source = outward(low, high, liked)

    def __bool__(self) -> bool:
        return self._left > 0

    def pop(self) -> int:
        self._left -= 1
        return next(self._source)


@lru_cache(maxsize=1)
def _library() -> Any:
    """Subclasses of the library's classes. It is imported here, late: a card without a search need not load it."""
    from types import SimpleNamespace

    from constraint import Constraint, Domain, OptimizedBacktrackingSolver, Problem

    class Quiet(Domain):  # type: ignore[misc]
        """A domain whose state lives in the store."""

        def __init__(self) -> None:
            super().__init__([0])

        def __deepcopy__(self, memo: Mapping[int, Any]) -> Any:
            return self

        def pushState(self) -> None:
            pass

        def popState(self) -> None:
            pass

        def resetState(self) -> None:
            pass

    class RangeDomain(Quiet):
        """The store's present range of one variable, in the order of preference."""

        def __init__(self, search: Search, variable: int) -> None:
            super().__init__()
            self.search, self.variable = search, variable

        def __getitem__(self, key: Any) -> Any:
            store, v = self.search.store, self.variable
            guide = self.search.guide
            return _Values(store.low[v], store.high[v], guide[v] if v < len(guide) else store.low[v])

    class TrailDomain(Quiet):
        """Keeps the store in step with the library's backtracking: it is pushed and popped around every trial."""

        def __init__(self, store: Any) -> None:
            super().__init__()
            self.store = store
            self.marks: list[int] = []

        def pushState(self) -> None:
            self.marks.append(self.store.mark())

        def popState(self) -> None:
            self.store.undo(self.marks.pop())

    class Hook(Constraint):  # type: ignore[misc]
        """Writes a trial value into the store and propagates."""

        def __init__(self, search: Search, variable: int) -> None:
            self.search, self.variable = search, variable

        def preProcess(self, *_: Any) -> None:
            pass

        def __call__(self, variables: Any, domains: Any, assignments: Any, forwardcheck: Any = False) -> bool:
            store, v = self.search.store, self.variable
            value = assignments[v]
            if store.low[v] == value == store.high[v]:
                return True
            self.search.tick()
            return store.restrict(v, value, value)

    class Order:
        """Variables with the most promising one first, worked out afresh on each walk."""

        def __init__(self, search: Search, variables: Sequence[int]) -> None:
            self.search, self.variables = search, variables

        def __iter__(self) -> Iterator[Any]:
            best = self.search.choose(self.variables)
            if best is not None:
                yield best
            yield from self.variables
            yield _TRAIL

    class Driver(OptimizedBacktrackingSolver):  # type: ignore[misc]
        """The library's solver with a variable order that learns from failures."""

        def __init__(self, search: Search) -> None:
            super().__init__()
            self.search = search

        def getSortedVariables(self, domains: Any, vconstraints: Any) -> Any:
            return Order(self.search, [v for v in domains if v != _TRAIL])

    return SimpleNamespace(Problem=Problem, driver=Driver, range_domain=RangeDomain, trail_domain=TrailDomain, hook=Hook)
