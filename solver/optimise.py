"""Wishes: the best value of each, in order, with a proof that nothing is better.

A wish becomes a sum of whole-number terms to be made small. Terms that are not linear get a cost variable tied to
them by a propagator; cost variables are never enumerated. Then, component by component:

a. each term alone is minimised, branching on its own mechanism only: a bound that holds for the whole;
b. the ideal point, where every term sits at its bound, is tried; in most cards it exists, and the proof is done;
c. otherwise the demand is widened, and what remains is closed by branch and bound.

At the end the level is frozen: per component where that says the same, so that components stay independent.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil, floor

from foldwright.solver.contract import spans
from foldwright.solver.evaluate import TOLERANCE, Undefined, measure
from foldwright.solver.graph import Form, Node, common_unit
from foldwright.solver.linear import Cut
from foldwright.solver.machine import Machine
from foldwright.solver.model import Wish, WishResult
from foldwright.solver.propagate import Propagator
from foldwright.solver.search import Search, TimeUp

_FINE = 2**20  # units per grain for terms that have no exact unit
_WIDEST = 1e11  # greatest number of units in a term, so that floats tell neighbouring units apart
_ROUNDING = 0.01  # units; far above the rounding of 1e11 units in a float, far below one unit
_NODES = 300  # of one bounded attempt in branch and bound; doubled when nothing comes of it
_LOCAL_NODES = 400  # of the proof of one term
_HUGE = 10**130  # no sum of terms reaches it: an unbounded interval ends at 1e100

Terms = list[tuple[int, int]]


class Target:
    """A wish in whole-number form: `constant + unit * sum(factor * variable)` is to be small (minus a largest)."""

    def __init__(self, machine: Machine, wish: Wish) -> None:
        self.machine, self.wish = machine, wish
        graph = machine.graph
        form = graph.scale(graph.form(wish.target), Fraction(-1 if wish.largest else 1))
        self.linear = graph.is_linear(form)
        self.tolerance = Fraction(0) if self.linear else Fraction(TOLERANCE)
        self.constant = form.constant
        self.links: list[int] = []  # propagators that tie cost variables to their terms
        self.sources: dict[int, list[int]] = {}  # cost variable: the variables of its term
        self.exact = True
        self.terms: Terms = []
        self._split(form)

    def _split(self, form: Form) -> None:
        graph = self.machine.graph
        plain = {n: f for n, f in form.factors.items() if graph.is_variable(n)}
        curved = {n: f for n, f in form.factors.items() if n not in plain}
        units = [abs(f * graph.steps[graph.nodes[n].operands[0]]) for n, f in plain.items()]
        for n, f in curved.items():
            grid = graph.grid(n) if f else Fraction(1)
            self.exact = self.exact and grid is not None
            units.append(self.wish.grain / _FINE if grid is None else abs(f * grid))
        unit = common_unit([*units, self.wish.grain])
        widest = max((self._size(n) * float(abs(f)) for n, f in curved.items()), default=0.0)
        if 1e30 > widest > _WIDEST * float(unit):
            # Too fine to be told apart in floats: one cost variable for everything, in coarse units.
            self.exact, plain, curved = False, {}, {graph.wrap(Form(factors=form.factors)): Fraction(1)}
            widest = self._size(next(iter(curved)))
            unit = max(self.wish.grain / _FINE, Fraction(ceil(widest)) / int(_WIDEST))
        self.unit = unit
        for n, f in sorted(plain.items()):
            variable = graph.nodes[n].operands[0]
            self.terms.append((variable, int(f * graph.steps[variable] / unit)))
        for n, f in sorted(curved.items()):
            self.terms.append((self._cost(n, f / unit), 1))

    def _size(self, number: int) -> float:
        low, high = spans(self.machine.graph, self.machine.store, number)[number]
        return max(abs(low), abs(high))

    def _cost(self, number: int, factor: Fraction) -> int:
        """A cost variable: the term in units, rounded down if it has no exact unit."""
        machine = self.machine
        low, high = spans(machine.graph, machine.store, number)[number]
        ends = (low * float(factor), high * float(factor))
        cost = machine.auxiliary(floor(min(ends)) - 2, ceil(max(ends)) + 2, Fraction(1))
        node = machine.graph.node(Node("var", (cost,)))
        root = machine.graph.node(Node("sum", (number, node), (factor, Fraction(-1))))
        below = 0.0 if self.exact else 1.0
        self.links.append(machine.link(root, -_ROUNDING, below + _ROUNDING))
        self.sources[cost] = machine.graph.variables([number])
        return cost

    def limit(self, grains: int) -> int:
        """Greatest sum of the terms for a wish that comes to so many grains (of a largest one: minus)."""
        return floor((grains * self.wish.grain + self.tolerance - self.constant) / self.unit)

    def grains(self, total: int) -> int:
        """Least number of grains that the wish comes to if the terms sum up to `total` or more."""
        if not self.exact:
            total -= len(self.links) + 1  # cost variables are rounded; say less than is proved, not more
        return ceil((total * self.unit + self.constant - self.tolerance) / self.wish.grain)

    def measured(self, values: Mapping[str, Fraction]) -> int:
        """Grains that the wish comes to for an answer. Raises Undefined."""
        return int(measure(self.wish, values) / self.wish.grain) * (-1 if self.wish.largest else 1)

    def result(self, reached: int, proved: int) -> WishResult:
        """Grains as the caller counts them."""
        sign = -1 if self.wish.largest else 1
        return WishResult(self.wish, sign * reached * self.wish.grain, sign * min(proved, reached) * self.wish.grain)


@dataclass
class Part:
    """The share of one component in a wish."""

    variables: list[int]  # declared ones
    terms: Terms
    cut: Cut
    number: int  # of the cut's propagator
    low: int  # proved
    high: int  # reached by the witness


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
    couplings: list[Coupling] = field(default_factory=list)
    frozen: list[tuple[Target, int]] = field(default_factory=list)
    skipped: int = 0  # wishes that have no value in any answer
    together: bool = False  # treat everything as one component, and check wishes exactly at every answer

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
        try:
            if not self.together:
                for part in parts:
                    self._minimise(part, target)
            self._close(target, parts)
        except TimeUp:
            self.results.append(target.result(self._reached(target), target.grains(self._proved(target, parts))))
            raise
        grains = self._reached(target)
        self.results.append(target.result(grains, grains))
        self._freeze(target, parts, grains)

    def leave(self, wish: Wish) -> None:
        """Note what a wish came to when there was no time for it: the bound is what propagation alone proves."""
        target = Target(self.machine, wish)
        self.machine.store.propagate()
        try:
            reached = self._reached(target)
        except Undefined:
            return
        least = Cut(self.machine.store, target.terms, _HUGE).least()
        self.results.append(target.result(reached, target.grains(least)))

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
            found = self.search.find(everything, self._directions(first, {}) if first else None)
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
            cut = Cut(store, shares[n], _HUGE)
            number = store.add(Propagator(cut, tuple(v for v, _ in shares[n])))
            inside = [v for v in groups[n] if v < declared] if n >= 0 else []
            part = Part(inside, shares[n], cut, number, cut.least(), 0)
            part.high = self.value(part)
            parts.append(part)
        store.propagate()
        return parts

    def value(self, part: Part) -> int:
        """What the terms of a part come to for the witness."""
        store = self.machine.store
        mark = store.mark()
        try:
            for v in part.variables:
                if not store.restrict(v, self.witness[v], self.witness[v]):
                    raise AssertionError("the witness breaks a rule")
            return part.cut.least()
        finally:
            store.undo(mark)

    def _proved(self, target: Target, parts: list[Part]) -> int:
        return sum(max(part.low, part.cut.least()) for part in parts)

    # Branch and bound ---------------------------------------------------------------------------------------

    def _minimise(self, part: Part, target: Target) -> None:
        """Make `part.low` and `part.high` meet (up to `pace`), with the witness at `part.high`."""
        store = self.machine.store
        pace = self._pace(target)
        part.low = max(part.low, part.cut.least())
        if part.high - part.low < pace:
            return
        if len(part.terms) > 1:
            self._local(part, target)
            part.low = max(part.low, part.cut.least())
        first = self._directions(self._sources(part, target), dict(part.terms), part.cut)
        budget, share = _NODES, 0
        while part.high - part.low >= pace:
            gap = part.high - part.low
            demand = part.low + gap * share // 16  # ideal first, then wider
            found = self._probe(part, demand, first, budget)
            if found is False:
                part.low = max(part.low, demand + 1)
            if found is None:
                if self._probe(part, part.high - pace, first, 4 * budget) is False:
                    part.low = max(part.low, part.high - pace + 1)
                budget *= 2
            if not found:
                share = min(8, 2 * share) if share else 1

    def reduce(self, part: Part, target: Target) -> None:
        """Move the witness of one part of a coupled wish to its least share, given what is fixed by now."""
        store = self.machine.store
        part.low, part.high = part.cut.least(), self.value(part)
        part.cut.limit = _HUGE
        store.active[part.number] = True
        try:
            self._minimise(part, target)
        finally:
            store.active[part.number] = False

    def _pace(self, target: Target) -> int:
        """Least improvement worth looking for, in units."""
        return 1 if target.exact else max(1, int(target.wish.grain / target.unit) // 1024)

    def _probe(self, part: Part, limit: int, first: Mapping[int, bool], budget: int) -> bool | None:
        """Is there an answer of the part with terms up to `limit`? None: not decided within the node budget."""
        store = self.machine.store
        mark = store.mark()
        part.cut.limit = limit
        store.wake(part.number)
        try:
            found = self.search.attempt(lambda: self.search.find(part.variables, first), budget)
            if found:
                self.keep(part.variables)
                part.high = part.cut.least()
            return found
        finally:
            part.cut.limit = _HUGE
            store.undo(mark)

    def _sources(self, part: Part, target: Target) -> list[int]:
        """Declared variables that the terms of a part are made of."""
        found: list[int] = []
        for variable, _ in part.terms:
            found.extend(target.sources.get(variable, [variable]))
        return [v for v in dict.fromkeys(found) if self.machine.store.low[v] < self.machine.store.high[v]]

    def _directions(self, variables: Sequence[int], factors: Mapping[int, int], cut: Cut | None = None) -> dict[int, bool]:
        """For each variable, whether its lower half promises the smaller sum."""
        store = self.machine.store
        result: dict[int, bool] = {}
        for v in variables:
            if v in factors or cut is None:
                result[v] = factors.get(v, 1) > 0
                continue
            bounds = []
            middle = (store.low[v] + store.high[v]) // 2
            for half in ((store.low[v], middle), (middle + 1, store.high[v])):
                mark = store.mark()
                bounds.append(cut.least() if store.restrict(v, *half) else _HUGE)
                store.undo(mark)
            result[v] = bounds[0] <= bounds[1]
        return result

    def _local(self, part: Part, target: Target) -> None:
        """Minimise each term by itself, branching on its own mechanism; enter what is proved in the store."""
        store = self.machine.store
        for variable, factor in part.terms:
            if factor != 1 or variable not in target.sources or store.low[variable] == store.high[variable]:
                continue
            group = self._mechanism(target.sources[variable], part.variables)
            alone = Cut(store, [(variable, 1)], _HUGE)
            first = self._directions(group, {}, alone)
            bound = self._smallest(variable, group, first, self._pace(target))
            if bound is not None and not store.restrict(variable, bound, store.high[variable]):
                raise AssertionError("a proved bound contradicts the witness")

    def _mechanism(self, variables: Sequence[int], inside: Sequence[int]) -> list[int]:
        """Some variables and those of the same owner: names share what stands before the last dot."""
        declared = self.machine.declared
        owners = {declared[v].name.rpartition(".")[0] for v in variables} - {""}
        return [v for v in inside if v in variables or declared[v].name.rpartition(".")[0] in owners]

    def _smallest(self, variable: int, group: Sequence[int], first: Mapping[int, bool], pace: int) -> int | None:
        """Smallest value of a cost variable over one mechanism, with the rest merely propagated; None: not proved."""
        store = self.machine.store
        root, ideal, top = store.mark(), store.low[variable], store.high[variable]

        def look(demand: int) -> int | None:
            """Value reached at or below the demand; beyond `top` if there is none; None if not decided."""
            try:
                found = self.search.attempt(
                    lambda: store.restrict(variable, ideal, demand) and self.search.split(group, None, first),
                    _LOCAL_NODES,
                )
                if found is None:
                    return None
                return store.low[variable] if found else top + 1
            finally:
                store.undo(root)

        return _descend(look, ideal, top, pace)

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
                    [v for part in parts for v in self._sources(part, target)],
                    lambda better=better: target.measured(self.machine.values(store.low)) <= better,
                )
            finally:
                store.active[cut] = False
                store.undo(mark)
            if not found:
                break
        for part in parts:
            part.high = self.value(part)

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


def _descend(look: Callable[[int], int | None], ideal: int, top: int, pace: int) -> int | None:
    """Smallest value that `look` can reach between `ideal` and `top`, less than `pace` too low; None if not proved."""
    reached = look(ideal)
    if reached is None or reached == ideal:
        return reached
    best = top + pace
    for _ in range(40):
        reached = look(best - pace)
        if reached is None:
            return ideal + 1
        if reached > top:
            return best - pace + 1
        best = reached
        if best - pace <= ideal:
            return ideal + 1
    return ideal + 1
