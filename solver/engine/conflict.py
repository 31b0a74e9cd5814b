"""Why there is no answer: smallest sets of rules that cannot hold together.

The refutation is run once with reasons recorded; the rules behind its failures are a core, mostly a handful
out of hundreds. The core is then thinned by dropping each rule in turn (J. W. Chinneck, E. W. Dravnieks,
"Locating minimal infeasible constraint sets in linear programs", 1991), first while propagation alone still
refutes, then with the full search. Every member that stays was seen to be needed: without it the rest has an
answer.
"""

from __future__ import annotations

from collections.abc import Sequence

from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.propagate import TimeUp
from foldwright.solver.engine.search import Search
from foldwright.solver.model import Kind, Model, Rule

_SETS = 3  # disjoint sets shown at most
_EXTRA_NODES = 3000  # spent at most on the question whether there is another set

# Dropped first, and so least likely to stay: what the designer can change is the better explanation.
_DROP_ORDER = {Kind.GEOMETRY: 0, Kind.PRACTICE: 1, Kind.DESIGNER: 2}


class Oracle:
    """Answers whether some rules of a model can hold together."""

    def __init__(self, model: Model, deadline: float | None) -> None:
        self.model = model
        self.machine = Machine(Model(model.variables, model.rules))
        self.search = Search(self.machine, deadline)
        self.core: list[int] = []  # rules behind the last "no"

    def possible(self, rules: Sequence[int], search: bool = True) -> bool:
        """Whether rules (by index) can hold together; without `search`, True may be wrong. Sets `core` on False."""
        store = self.machine.store
        store.undo(0)
        store.core = set()
        chosen = set(rules)
        for number in range(len(store.propagators)):
            store.active[number] = number in chosen
            if number in chosen:
                store.wake(number)
        found = store.propagate() and (not search or self._label())
        if not found:
            self.core = sorted(store.propagators[number].rule for number in store.core)
        store.core = None
        store.undo(0)
        store.reasons.clear()
        return found

    def _label(self) -> bool:
        store = self.machine.store
        for group in store.components(range(len(self.machine.declared)), lambda n: True):
            mark = store.mark()
            if not self.search.find(group):
                return False
            store.undo(mark)
        return True


def conflicts(model: Model, deadline: float | None) -> tuple[tuple[Rule, ...], ...]:
    """Disjoint minimal sets of rules of a model without an answer, smallest first. Raises TimeUp before the first."""
    oracle = Oracle(model, deadline)
    remaining = list(range(len(model.rules)))
    found: list[list[int]] = []
    while len(found) < _SETS:
        try:
            core = _core(oracle, remaining, first=not found)
            if core is None:
                break
            found.append(_smallest(oracle, core))
        except TimeUp:
            if not found:
                raise
            break
        remaining = [number for number in remaining if number not in found[-1]]
    found.sort(key=lambda members: (len(members), members))
    return tuple(tuple(model.rules[number] for number in members) for members in found)


def _core(oracle: Oracle, rules: list[int], first: bool) -> list[int] | None:
    """A small part of some rules that cannot hold together; None if they can (or if it is too long to tell)."""
    if first:
        possible: bool | None = oracle.possible(rules)
    else:
        possible = oracle.search.attempt(lambda: oracle.possible(rules), _EXTRA_NODES)
    if possible is not False:
        return None
    core = oracle.core
    while not oracle.possible(core) and len(oracle.core) < len(core):
        core = oracle.core
    return core


def _smallest(oracle: Oracle, core: list[int]) -> list[int]:
    """The smaller of two minimal sets, found by dropping the rules of a core in two orders."""
    rules = oracle.model.rules
    orders = [
        sorted(core, key=lambda n: (_DROP_ORDER[rules[n].kind], n)),
        sorted(core, key=lambda n: (_DROP_ORDER[rules[n].kind], -n)),
    ]
    quick = [_thin(oracle, order, search=False) for order in orders]
    best = min(quick, key=len)  # the first of equals
    return sorted(_thin(oracle, best, search=True))


def _thin(oracle: Oracle, order: list[int], search: bool) -> list[int]:
    """Drop each rule in turn if what is left still cannot hold; keeps the order."""
    kept = list(order)
    for number in order:
        if number not in kept:
            continue
        rest = [other for other in kept if other != number]
        if not oracle.possible(rest, search):
            core = set(oracle.core)
            kept = [other for other in rest if other in core]
    return kept
