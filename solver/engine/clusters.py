"""Mechanisms that hang together closely, minimised together before the whole is.

Mechanisms that share a term of the wish, or that several rules tie to each other (one that stands on another), form a
cluster. Each cluster is minimised alone, its own rules only: the sum of the minima is a bound for the whole, and every
minimum is entered in the store as the least value of the cluster's total. Often the minima fit together, and the proof
is done; where two do not, they become one cluster.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import partial

from foldwright.solver.engine.frontier import Demand, Frontier
from foldwright.solver.engine.linear import Cut, Terms
from foldwright.solver.engine.local import Local, owner
from foldwright.solver.engine.propagate import Propagator
from foldwright.solver.engine.target import HUGE, Part, Target

_TIES = 3  # rules between two mechanisms that make them one cluster
_LARGEST = 14  # variables of a cluster formed by ties
_MERGED = 28  # variables of a cluster formed because minima did not fit together
_NODES = 400  # of one piece of work on one cluster
_PIECES = 10  # pieces of work on one cluster, then its bound has to do
_FIT = 60  # nodes of the search for one cluster's place among the others


@dataclass
class Cluster:
    """Variables of some mechanisms, and the terms of the wish that they make up."""

    variables: list[int]
    terms: Terms
    least: int = -HUGE  # proved
    point: list[int] = field(default_factory=list)  # lows of all variables where `least` was met; empty if it was not
    total: int = -1  # variable that stands for the sum of the terms; -1 while there is none


class Clusters:
    """The clusters of one part of a wish."""

    def __init__(self, local: Local, part: Part, target: Target, witness: list[int]) -> None:
        self.local, self.part, self.target, self.witness = local, part, target, witness
        self.search, self.store = local.search, local.store
        self.free = [v for v in part.variables if self.store.low[v] < self.store.high[v]]
        self.place: dict[int, int] = {}  # cluster of a variable
        self.clusters: list[Cluster] = []
        self.rest: Terms = []  # terms of no cluster
        self.links: dict[int, set[int]] = {}  # propagator: the clusters that it joins
        self._group()

    # Grouping -----------------------------------------------------------------------------------------------

    def _group(self) -> None:
        names = {v: owner(self.local.machine, v) for v in self.free}
        sizes: dict[str, int] = {}
        for name in names.values():
            sizes[name] = sizes.get(name, 0) + 1
        leader = {name: name for name in sizes}

        def head(name: str) -> str:
            while leader[name] != name:
                name = leader[name]
            return name

        def join(a: str, b: str, most: int) -> None:
            a, b = head(a), head(b)
            if a != b and sizes[a] + sizes[b] <= most:
                leader[b] = a
                sizes[a] += sizes[b]

        inside = {variable: self._names(variable, names) for variable, _ in self.part.terms}
        for among in inside.values():
            for other in among[1:]:
                join(among[0], other, len(names))
        for (a, b), count in sorted(self._ties(names).items(), key=lambda item: -item[1]):
            if count >= _TIES:
                join(a, b, _LARGEST)
        order: dict[str, int] = {}
        for v in self.free:
            n = order.setdefault(head(names[v]), len(order))
            if n == len(self.clusters):
                self.clusters.append(Cluster([], []))
            self.clusters[n].variables.append(v)
            self.place[v] = n
        for variable, factor in self.part.terms:
            among = inside[variable]
            if among:
                n = self.place[variable] = order[head(among[0])]
                self.clusters[n].terms.append((variable, factor))
            else:
                self.rest.append((variable, factor))
        self._link()

    def _names(self, variable: int, names: dict[int, str]) -> list[str]:
        found = (names[v] for v in self.target.sources.get(variable, [variable]) if v in names)
        return list(dict.fromkeys(found))

    def _ties(self, names: dict[int, str]) -> dict[tuple[str, str], int]:
        """How many rules join each two mechanisms."""
        ties: dict[tuple[str, str], int] = {}
        for number, propagator in enumerate(self.store.propagators):
            if not self.store.active[number] or propagator.rule < 0:
                continue
            among = sorted({names[v] for v in propagator.variables if v in names})
            if len(among) == 2 and not self.store.entailed(number):
                ties[among[0], among[1]] = ties.get((among[0], among[1]), 0) + 1
        return ties

    def _link(self) -> None:
        """Propagators that join clusters, or join one to anything else that is open."""
        low, high = self.store.low, self.store.high
        self.links = {}
        for number, propagator in enumerate(self.store.propagators):
            if self.store.active[number]:
                open_ = [v for v in propagator.variables if low[v] < high[v]]
                places = {self.place.get(v, -1) for v in open_}
                if len(places) > 1 and places & set(self.place.values()):
                    self.links[number] = places
        self.links[self.part.number] = set(range(len(self.clusters)))

    # Minima -------------------------------------------------------------------------------------------------

    def shares(self) -> list[int]:
        """What each cluster's terms come to for the witness."""
        store = self.store
        mark = store.mark()
        try:
            point = [self.witness[v] for v in self.part.variables]
            if not store.narrow(self.part.variables, point, point):
                raise AssertionError("the witness breaks a rule")
            return [Cut(store, cluster.terms, HUGE).least() for cluster in self.clusters]
        finally:
            store.undo(mark)

    def bound(self) -> int:
        """What is proved of the part."""
        return Cut(self.store, self.rest, HUGE).least() + sum(cluster.least for cluster in self.clusters)

    def minimise(self) -> Iterator[None]:
        """Minimise every cluster that has no total yet, in pieces of bounded work."""
        shares = self.shares()
        for cluster, share in zip(self.clusters, shares, strict=True):
            cluster.least = max(cluster.least, Cut(self.store, cluster.terms, HUGE).least())
            if cluster.total < 0 and cluster.terms:
                yield from self._minimise(cluster, share)
        for cluster in self.clusters:
            if cluster.total < 0 and cluster.terms:
                self._seal(cluster)
        self._link()

    def _minimise(self, cluster: Cluster, share: int) -> Iterator[None]:
        store = self.store
        cut = Cut(store, cluster.terms, HUGE)
        inside = [v for v, _ in cluster.terms]
        number = store.add(Propagator(cut, tuple(inside)))
        store.propagate()
        watched = sorted({*cluster.variables, *(v for v, n in self.place.items() if self.clusters[n] is cluster), *inside})
        work = Frontier(self.search, cluster.variables, watched, Demand(cut, number), share + 1)
        try:
            for _ in range(_PIECES):
                self.alone(work, _NODES)
                cluster.least = max(cluster.least, work.bound)
                if work.done:
                    break
                yield
        finally:
            store.active[number] = False
        if work.done and work.point is not None:
            cluster.point = work.point

    def alone(self, work: Frontier, nodes: int) -> None:
        """Work on one cluster without the rules that join it to others."""
        active = self.store.active
        off = [number for number in self.links if active[number]]
        for number in off:
            active[number] = False
        try:
            work.run(nodes, HUGE)
        finally:
            for number in off:
                active[number] = True

    def _seal(self, cluster: Cluster) -> None:
        """Give the cluster a total: at least what is proved, at least the sum of its terms."""
        store = self.store
        cluster.total = self.local.machine.auxiliary(cluster.least, HUGE, Fraction(1))
        terms = [*cluster.terms, (cluster.total, -1)]
        store.add(Propagator(Cut(store, terms, 0), tuple(v for v, _ in terms)))
        self.place[cluster.total] = self.clusters.index(cluster)
        self.part.watched.append(cluster.total)
        store.propagate()

    def demand(self) -> None:
        """Let the part's own cut ask for the totals, which know more than the terms."""
        store = self.store
        whole = [(cluster.total, 1) for cluster in self.clusters if cluster.total >= 0] + self.rest
        store.active[self.part.number] = False
        self.part.cut = Cut(store, whole, HUGE)
        self.part.number = store.add(Propagator(self.part.cut, tuple(v for v, _ in whole)))
        store.propagate()
        self._link()

    # Fitting together ---------------------------------------------------------------------------------------

    def fit(self) -> list[int] | None:
        """Try to have every cluster at its minimum at once: the witness, if that works.

        Returns the clusters that should be one because they do not fit together, [] if all do, None if it is not known.
        """
        store, search = self.store, self.search
        mark, guide = store.mark(), search.guide
        settled: list[int] = []
        search.guide = self._guide()
        try:
            for n, cluster in enumerate(self.clusters):
                if cluster.total >= 0 and not store.restrict(cluster.total, cluster.least, cluster.least):
                    return self._against(n, settled)
                settled.append(n)
            settled = []
            for n, cluster in enumerate(self.clusters):
                found = search.attempt(partial(search.find, cluster.variables), _FIT)
                if found is None:
                    return None
                if not found:
                    return self._against(n, settled)
                settled.append(n)
            if not search.find(self.part.variables):
                return None
            for v in self.part.variables:
                self.witness[v] = store.low[v]
            self.part.high = self.part.cut.least()
            return []
        finally:
            search.guide = guide
            store.undo(mark)

    def _guide(self) -> list[int]:
        guide = list(self.witness)
        for cluster in self.clusters:
            if cluster.point:
                for v in cluster.variables:
                    guide[v] = cluster.point[v]
        return guide

    def _against(self, n: int, settled: Sequence[int]) -> list[int] | None:
        """A cluster that has no place, and those before it that a rule joins it to, the nearest first."""
        before = set(settled)
        near = [places for number, places in self.links.items() if n in places and number != self.part.number]
        near.sort(key=len)
        for places in near:
            others = sorted(places & before)
            if others and len(places) <= len(self.clusters):
                together = [*others, n]
                if sum(len(self.clusters[m].variables) for m in together) <= _MERGED:
                    return together
        return None

    def merge(self, among: Sequence[int]) -> None:
        """Make one cluster of several; their totals are its terms."""
        parts = [self.clusters[n] for n in among]
        terms = [(cluster.total, 1) for cluster in parts if cluster.total >= 0]
        merged = Cluster([v for cluster in parts for v in cluster.variables], terms, sum(cluster.least for cluster in parts))
        kept = [cluster for n, cluster in enumerate(self.clusters) if n not in among]
        owners = {v: self.clusters[n] for v, n in self.place.items()}
        self.clusters = [*kept[: among[0]], merged, *kept[among[0] :]]
        index = {id(cluster): n for n, cluster in enumerate(self.clusters)}
        self.place = {v: index.get(id(cluster), among[0]) for v, cluster in owners.items()}
        self._link()
