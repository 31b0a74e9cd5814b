"""Wishes: the best value of each, in order, with a proof that nothing is better.

A wish becomes a sum of whole-number terms to be made small (`target.py`). Terms that are not linear get a
cost variable tied to them by a propagator; cost variables are never enumerated. Component by component the
sum is minimised (`descent.py`). Then the level is frozen: per component where that says the same, so that
components stay independent of each other.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import partial

from foldwright.solver.engine.descent import Descent
from foldwright.solver.engine.linear import Cut, Terms
from foldwright.solver.engine.local import Local
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.progress import Teller
from foldwright.solver.engine.propagate import Propagator, TimeUp
from foldwright.solver.engine.reuse import Reuse, keys
from foldwright.solver.engine.search import Search
from foldwright.solver.engine.target import HUGE, Part, Target
from foldwright.solver.evaluate import Undefined
from foldwright.solver.model import Wish, WishResult


@dataclass
class Coupling:
    """A frozen wish that leaves room to be shared: one total variable per component, and their sum bounded."""

    target: Target
    totals: list[int]
    parts: list[Part]
    propagator: int


@dataclass
class Levels:
    """The wishes settled so far, and a complete answer (the witness) that meets them all."""

    machine: Machine
    search: Search
    witness: list[int]
    results: list[WishResult] = field(default_factory=list)
    local: Local = field(init=False)
    couplings: list[Coupling] = field(default_factory=list)
    frozen: list[tuple[Target, int]] = field(default_factory=list)
    settled: list[Part] = field(default_factory=list)  # of all frozen wishes, in their order
    skipped: int = 0  # wishes that have no value in any answer
    teller: Teller = field(default_factory=lambda: Teller(None))
    reuse: Reuse | None = None
    together: bool = False  # treat everything as one component, and check wishes exactly at every answer

    def __post_init__(self) -> None:
        self.local = Local(self.machine, self.search)

    def settle(self, wish: Wish) -> None:
        """Find and prove the best value of one more wish, and freeze it. Raises TimeUp with a result noted."""
        store = self.machine.store
        root = store.mark()
        target = Target(self.machine, wish)
        if not store.propagate() or not self._defined(target):
            for link in target.links:  # the wish has no value in any answer: there is nothing to wish for
                store.active[link] = False
            store.undo(root)
            self.skipped += 1
            return
        parts = self._parts(target)
        names = self._recall(target, parts) if self.reuse is not None and not self.together else []
        try:
            if not self.together:
                open_ = [self.descent(part, target) for part in parts]
                while open_ := [descent for descent in open_ if not descent.done]:
                    for descent in open_:  # in turns, so that a hard one does not take the time of all
                        descent.enough = min(descent.enough, self._enough(target, parts, descent.part))
                        descent.step()
                        self.teller(lambda: target.result(self._reached(target), target.grains(self._proved(target, parts))))
            if self.reuse is not None and names:
                self.reuse.keep(names, parts, self.witness)
            self._close(target, parts)
        except TimeUp:
            self.results.append(target.result(self._reached(target), target.grains(self._proved(target, parts))))
            raise
        grains = self._reached(target)
        self.results.append(target.result(grains, grains))
        self._freeze(target, parts, grains)
        self.settled.extend(parts)

    def _enough(self, target: Target, parts: list[Part], part: Part) -> int:
        """What has to be proved of one part, so that with what is proved of the others a grain less is impossible."""
        others = sum(max(other.low, other.cut.least()) for other in parts if other is not part)
        return target.needed(self._reached(target)) - others

    def leave(self, wish: Wish) -> None:
        """Note what a wish came to when there was no time for it: the bound is what propagation alone proves."""
        target = Target(self.machine, wish)
        if not self.machine.store.propagate():
            return
        try:
            reached = self._reached(target)
        except Undefined:
            return
        least = Cut(self.machine.store, target.terms, HUGE).least()
        self.results.append(target.result(reached, target.grains(least)))

    def _recall(self, target: Target, parts: list[Part]) -> list[Hashable | None]:
        """Begin with what is known of the parts from another model; returns their keys."""
        assert self.reuse is not None
        names = keys(self.machine, target, parts)
        for part, known in zip(parts, self.reuse.known(names), strict=True):
            if known is not None:
                part.low = max(part.low, known.low)
                for v, count in zip(part.variables, known.point, strict=True):
                    self.witness[v] = count
                part.high = self.value(part)
        return names

    # Witness ------------------------------------------------------------------------------------------------

    def values(self) -> dict[str, Fraction]:
        """The witness by name."""
        return self.machine.values(self.witness)

    def keep(self, variables: Sequence[int]) -> None:
        """Take over some variables of the answer that the store holds."""
        for v in variables:
            self.witness[v] = self.machine.store.low[v]

    def _reached(self, target: Target) -> int:
        return target.measured(self.values())

    def _defined(self, target: Target) -> bool:
        """Make sure that the witness gives the wish a value; False if no answer does."""
        try:
            self._reached(target)
            return True
        except Undefined:
            return self._whole([], lambda: self._has_value(target))

    def _has_value(self, target: Target) -> bool:
        store = self.machine.store
        try:
            target.measured(self.machine.values(store.low))
        except Undefined:
            return False
        return True

    def _whole(self, first: Sequence[int], accept: Callable[[], bool]) -> bool:
        """Look for an answer over all variables at once that passes a last check; keep it as the witness."""
        store, everything = self.machine.store, list(range(len(self.machine.declared)))
        mark, outer = store.mark(), self.search.accept
        self.search.accept = accept if outer is None else (lambda: outer() and accept())
        try:
            found = self.search.find(everything, dict.fromkeys(first, True) if first else None)
            if found:
                self.keep(everything)
            return found
        finally:
            self.search.accept = outer
            store.undo(mark)

    # Components ---------------------------------------------------------------------------------------------

    def _parts(self, target: Target) -> list[Part]:
        """Split a target by component; what is fixed, or free of rules, is a part of its own."""
        store, declared = self.machine.store, len(self.machine.declared)
        everything = range(len(store.low))
        groups = [list(everything)] if self.together else store.components(everything, lambda n: True)
        owner = {v: n for n, group in enumerate(groups) for v in group}
        shares: dict[int, Terms] = {}
        for variable, factor in target.terms:
            shares.setdefault(owner.get(variable, -1), []).append((variable, factor))
        parts = []
        for n in sorted(shares):
            cut = Cut(store, shares[n], HUGE)
            number = store.add(Propagator(cut, tuple(v for v, _ in shares[n])))
            inside = [v for v in groups[n] if v < declared] if n >= 0 else []
            part = Part(inside, shares[n], cut, number, cut.least(), 0)
            part.high = self.value(part)
            part.watched = list(groups[n]) if n >= 0 else []
            parts.append(part)
        store.propagate()
        return parts

    def value(self, part: Part) -> int:
        """What the terms of a part come to for the witness."""
        store = self.machine.store
        point = tuple(self.witness[v] for v in part.variables)
        if part.measured == (point, part.number):
            return part.value
        mark = store.mark()
        try:
            if not store.narrow(part.variables, point, point):
                raise AssertionError("the witness breaks a rule")
            part.measured, part.value = (point, part.number), part.cut.least()
            return part.value
        finally:
            store.undo(mark)

    def _proved(self, target: Target, parts: list[Part]) -> int:
        return sum(max(part.low, part.cut.least()) for part in parts)

    def descent(self, part: Part, target: Target) -> Descent:
        """The search for the best of one part."""
        return Descent(self.local, part, target, self.witness)

    def reduce(self, part: Part, target: Target) -> None:
        """Move the witness of one part of a coupled wish to its least share, given what is fixed by now."""
        store = self.machine.store
        part.low, part.high = part.cut.least(), self.value(part)
        part.cut.limit = HUGE
        store.active[part.number] = True
        try:
            self.descent(part, target).finish()
        finally:
            store.active[part.number] = False

    # Closing ------------------------------------------------------------------------------------------------

    def _close(self, target: Target, parts: list[Part]) -> None:
        """If rounding to grains leaves a gap between what is proved and what is reached, decide it exactly."""
        store = self.machine.store
        terms = [term for part in parts for term in part.terms]
        while True:
            reached = self._reached(target)
            if not self.together and target.grains(sum(part.low for part in parts)) >= reached:
                return
            better = reached - 1
            mark = store.mark()
            cut = store.add(Propagator(Cut(store, terms, target.limit(better)), tuple(v for v, _ in terms)))
            try:
                found = self._whole(
                    [v for part in parts for v in self.local.sources(part, target)],
                    partial(self._reaches, target, better),
                )
            finally:
                store.active[cut] = False
                store.undo(mark)
            if not found:
                break
        for part in parts:
            part.high = self.value(part)

    def _reaches(self, target: Target, grains: int) -> bool:
        """True if the answer in the store is at least this good."""
        return target.measured(self.machine.values(self.machine.store.low)) <= grains

    def _freeze(self, target: Target, parts: list[Part], grains: int) -> None:
        """Keep the wish at its value from now on."""
        store = self.machine.store
        self.frozen.append((target, grains))
        limit = target.limit(grains)
        room = limit - sum(part.low for part in parts)
        live = [part for part in parts if part.variables]
        for part in parts:
            store.active[part.number] = len(live) == 1 or room == 0
            part.cut.limit = part.low + room
            if part.low > part.cut.least():
                self._at_least(part)
            store.wake(part.number)
        if len(live) > 1 and room > 0:
            self._couple(target, live, limit - sum(part.low for part in parts if not part.variables), room)
        if not store.propagate():
            raise AssertionError("freezing a wish lost its own witness")

    def _at_least(self, part: Part) -> None:
        """Enter a proved bound as a propagator: it helps later cuts that share these terms."""
        store = self.machine.store
        turned = [(variable, -factor) for variable, factor in part.terms]
        store.add(Propagator(Cut(store, turned, -part.low), tuple(v for v, _ in turned)))

    def _couple(self, target: Target, parts: list[Part], limit: int, room: int) -> None:
        store, totals = self.machine.store, []
        for part in parts:
            total = self.machine.auxiliary(part.low, part.low + room, Fraction(1))
            terms = [*part.terms, (total, -1)]
            store.add(Propagator(Cut(store, terms, 0), tuple(v for v, _ in terms)))
            totals.append(total)
        cut = Cut(store, [(total, 1) for total in totals], limit)
        self.couplings.append(Coupling(target, totals, parts, store.add(Propagator(cut, tuple(totals)))))
