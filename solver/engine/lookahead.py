"""Decides whether some variables can be fixed, by halving with a look ahead: made to refute, where labelling finds.

At each node every candidate is halved on trial. A half that fails by propagation is cut off for good; if neither half
fails, the variable whose halves shrink the rest most is split. So the variables that a contradiction hangs on are found
even where the others have wide ranges (strong branching: D. Applegate, R. Bixby, V. Chvátal, W. Cook, "Finding cuts in
the TSP", 1995; cutting halves off is shaving: P. Martin, D. Shmoys, IPCO 1996).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log2

from foldwright.solver.engine.search import Search

_CANDIDATES = 8  # of each of two orders, looked at ahead at one node

Half = tuple[int, int]


def decide(search: Search, variables: Sequence[int]) -> bool:
    """Fix all variables (True, the answer is left in the store) or show that it is impossible (False, all undone).

    Every trial counts as a node of `search`, whose limits apply.
    """
    store = search.store
    bottom = store.mark()
    stack: list[tuple[int, int, Half]] = []  # mark, variable, and the half still to try
    alive = store.propagate()
    while True:
        choice = _choose(search, variables) if alive else None
        if choice is not None:
            v, now, later = choice
            if v < 0:
                return True
            stack.append((store.mark(), v, later))
        elif stack:
            mark, v, now = stack.pop()
            store.undo(mark)
        else:
            store.undo(bottom)
            return False
        search.tick()
        alive = store.restrict(v, *now)


def _choose(search: Search, variables: Sequence[int]) -> tuple[int, Half, Half] | None:
    """The variable to split, with the half to try first and the other; variable -1 if all are fixed, None at a dead end."""
    store = search.store
    low, high = store.low, store.high
    while True:
        free = [v for v in variables if low[v] < high[v]]
        if not free:
            return -1, (0, 0), (0, 0)
        best: tuple[int, Half, Half] | None = None
        most = (-1.0, -1.0)
        cut = False
        for v in _candidates(search, free):
            if low[v] == high[v]:
                continue
            middle = (low[v] + high[v]) // 2
            halves = (low[v], middle), (middle + 1, high[v])
            sizes = [_trial(search, v, half, free) for half in halves]
            if sizes[0] is None and sizes[1] is None:
                return None
            if sizes[0] is None or sizes[1] is None:
                if not store.restrict(v, *halves[0 if sizes[1] is None else 1]):
                    return None
                cut = True
                continue
            score = -max(sizes[0], sizes[1]), -min(sizes[0], sizes[1])
            if best is None or score > most:
                first = 0 if sizes[0] >= sizes[1] else 1
                best, most = (v, halves[first], halves[1 - first]), score
        if not cut:
            return best


def _candidates(search: Search, free: list[int]) -> list[int]:
    """All free variables if they are few; else those of few values for the failures they have seen, and the widest."""
    if len(free) <= 2 * _CANDIDATES:
        return free
    low, high, weight = search.store.low, search.store.high, search.store.weight
    small = sorted(free, key=lambda v: ((high[v] - low[v]) / weight[v], v))[:_CANDIDATES]
    wide = sorted(free, key=lambda v: (low[v] - high[v], v))[:_CANDIDATES]
    return list(dict.fromkeys(small + wide))


def _trial(search: Search, v: int, half: Half, free: list[int]) -> float | None:
    """Bits left in the free variables after taking a half and propagating; None if it fails. All is undone."""
    store = search.store
    mark = store.mark()
    search.tick()
    alive = store.restrict(v, *half)
    size = sum(log2(store.high[u] - store.low[u] + 1) for u in free) if alive else None
    store.undo(mark)
    return size
