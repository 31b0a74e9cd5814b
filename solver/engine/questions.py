"""Answers whether some of a model's rules can hold together, with the rules behind a "no" and the values behind a "yes".

Only the rules asked about are switched on in the machine, so one machine serves all questions. What propagation cannot
refute is searched component by component, within a number of nodes: a third answer is "not decided".
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from foldwright.solver.engine.canonical import preferred_count
from foldwright.solver.engine.lookahead import decide
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.search import Search
from foldwright.solver.model import Model

_LABEL = 250  # nodes of labelling before halving with a look ahead takes over: most answers are found within them


class Questions:
    """Questions to one machine about sets of rules (by their index in the model)."""

    def __init__(self, machine: Machine, deadline: float | None) -> None:
        self.machine = machine
        self.deadline = deadline
        self.store = machine.store
        self.search = Search(machine, deadline)
        self.search.guide = [preferred_count(variable) for variable in machine.declared]
        self.core: list[int] = []  # rules behind the last "no"
        self.values: dict[str, Fraction] = {}  # of all variables, behind the last "yes" of a full question
        self._numbers: dict[int, list[int]] = {}
        for number, propagator in enumerate(self.store.propagators):
            self._numbers.setdefault(propagator.rule, []).append(number)
            self.store.active[number] = False
        self._active: list[int] = []
        self._known: dict[tuple[object, ...], list[int]] = {}  # answers of components met before

    def close(self) -> None:
        """Switch all rules on again."""
        self._reset()
        self.store.active[:] = [True] * len(self.store.active)

    def part(self, rules: Sequence[int]) -> Questions:
        """Questions about some rules only, numbered anew in this order: faster, for no other rules are woken and skipped."""
        chosen = tuple(self.machine.model.rules[number] for number in rules)
        return Questions(Machine(Model(tuple(self.machine.declared), chosen)), self.deadline)

    def refuted(self, rules: Iterable[int]) -> bool:
        """Whether propagation alone shows that some rules cannot hold together; then sets `core`."""
        self._begin(rules)
        try:
            return not self._propagate()
        finally:
            self._reset()

    def narrowed(self, rules: Iterable[int]) -> dict[str, tuple[Fraction, Fraction]] | None:
        """Bounds of all variables once some rules have been propagated; None if propagation refutes them."""
        self._begin(rules)
        try:
            if not self._propagate():
                return None
            low, high = self.store.low, self.store.high
            return {v.name: (v.step * low[n], v.step * high[n]) for n, v in enumerate(self.machine.declared)}
        finally:
            self._reset()

    def possible(self, rules: Iterable[int], nodes: int | None = None) -> bool | None:
        """Whether some rules can hold together; None if `nodes` were not enough to tell.

        True sets `values`, False sets `core`. Raises TimeUp.
        """
        self._begin(rules)
        try:
            return self._propagate() and self._fill(nodes)
        finally:
            self._reset()

    def _begin(self, rules: Iterable[int]) -> None:
        store = self.store
        store.undo(0)
        asked = [number for rule in sorted(set(rules)) for number in self._numbers.get(rule, ())]
        self._active = [*asked, *self.machine.ties]
        for number in self._active:
            store.active[number] = True
            store.wake(number)
        store.core = set()

    def _reset(self) -> None:
        store = self.store
        store.core = None
        store.undo(0)
        store.reasons.clear()
        for number in self._active:
            store.active[number] = False
        self._active = []

    def _propagate(self) -> bool:
        if self.store.propagate():
            return True
        self._blame()
        return False

    def _blame(self) -> None:
        store = self.store
        self.core = sorted({store.propagators[number].rule for number in store.core or ()} - {-1})  # ties are of no rule

    def _fill(self, nodes: int | None) -> bool | None:
        """Find values component by component; what no rule ties down takes its least value."""
        store = self.store
        counts = store.low[: len(self.machine.declared)]
        left = None if nodes is None else self.search.nodes + nodes
        for variables, numbers in self._components():
            bounds = tuple((v, store.low[v], store.high[v]) for v in variables)
            key = (bounds, tuple(numbers))
            if key not in self._known:
                mark = store.mark()
                store.core = set()
                found = self._search(variables, None if left is None else left - self.search.nodes)
                if not found:
                    if found is False:
                        self._blame()
                    return found
                self._known[key] = [store.low[v] for v in variables]
                store.undo(mark)
            for v, count in zip(variables, self._known[key], strict=True):
                if v < len(counts):
                    counts[v] = count
        self.values = self.machine.values(counts)
        return True

    def _search(self, variables: list[int], nodes: int | None) -> bool | None:
        search = self.search
        label = _LABEL if nodes is None else max(1, min(_LABEL, nodes // 2))
        found = search.attempt(lambda: search.find(variables), label)
        if found is not None:
            return found
        if nodes is None:
            return decide(search, variables)
        return search.attempt(lambda: decide(search, variables), max(1, nodes - label))

    def _components(self) -> list[tuple[list[int], list[int]]]:
        """Free variables tied together by rules that still have something to say, and those rules; few variables first."""
        store = self.store
        low, high = store.low, store.high
        parent: dict[int, int] = {}

        def root(v: int) -> int:
            while parent[v] != v:
                parent[v] = parent[parent[v]]
                v = parent[v]
            return v

        open_rules: list[tuple[int, int]] = []  # propagator, one of its free variables
        for number in self._active:
            free = [v for v in store.propagators[number].variables if low[v] < high[v]]
            if not free or store.entailed(number):
                continue
            for v in free:
                parent.setdefault(v, v)
            for v in free[1:]:
                parent[root(v)] = root(free[0])
            open_rules.append((number, free[0]))
        groups: dict[int, tuple[list[int], list[int]]] = {}
        for v in sorted(parent):
            groups.setdefault(root(v), ([], []))[0].append(v)
        for number, v in open_rules:
            groups[root(v)][1].append(number)
        return sorted(groups.values(), key=lambda group: (len(group[0]), group[0]))
