"""Bounds for mechanisms that compete: the rules that join them get prices (Lagrangean relaxation).

Plain bounds add up what each cluster of mechanisms would need if it were alone. Where a rule asks for a total (widths
that fill a spread, a mean height), that sum is too hopeful. With a price on the rule, each cluster is minimised alone
again, its cost being paper plus what the price charges or pays for its share of the total; the sum is a bound for every
choice of prices, and good prices make it nearly exact. They are found by the subgradient method with Polyak's step.
(A. M. Geoffrion, "Lagrangean relaxation for integer programming", 1974; M. L. Fisher, "The Lagrangian relaxation method
for solving integer programming problems", 1981.)

Prices are whole numbers, so the bound is exact. At the end the priced minima are entered as linear rules: together with
the demand on the total they cut, at every node of the search, what the bound does not allow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from foldwright.solver.engine.clusters import Cluster, Clusters
from foldwright.solver.engine.frontier import Demand, Frontier, Gains
from foldwright.solver.engine.linear import Cut, Terms
from foldwright.solver.engine.links import Link, links
from foldwright.solver.engine.propagate import Propagator
from foldwright.solver.engine.search import Search
from foldwright.solver.engine.target import HUGE

_SCALE = 64  # price units per cost unit
_ROUNDS = 24
_LEAST = 0.2  # share of the step at which no more is hoped for
_PATIENCE = 3  # rounds without a better bound before the step is halved
_NODES = 600  # of the question about one cluster at one set of prices


@dataclass
class Group:
    """A cluster, its share of the cost, and the sum that is minimised at the present prices."""

    cluster: Cluster
    watched: list[int]
    cut: Cut
    number: int
    least: int = 0
    gains: Gains = field(default_factory=dict)


class PricedDemand(Demand):
    """A demand that is also held against the priced minima."""

    def __init__(self, plain: Demand, shared: Cut, number: int, offset: int, rest: Cut) -> None:
        super().__init__(plain.cut, plain.number)
        self.shared, self.shared_number, self.offset, self.rest = shared, number, offset, rest

    def least(self) -> int:
        """The better of both bounds."""
        return max(self.cut.least(), self.rest.least() - (-(self.shared.least() + self.offset) // _SCALE))

    def ask(self, limit: int) -> None:
        """Ask both for sums up to a limit."""
        self.cut.limit = limit
        self.shared.limit = _SCALE * (limit - self.rest.least()) - self.offset if limit < HUGE else HUGE

    def wake(self, search: Search) -> None:
        """Have both limits looked at."""
        search.store.wake(self.number)
        search.store.wake(self.shared_number)


class Prices:
    """Prices for the rules that join the clusters of one part; without such rules it does nothing."""

    def __init__(self, clusters: Clusters) -> None:
        self.clusters, self.search, self.store = clusters, clusters.search, clusters.store
        self.links: list[Link] = links(clusters)
        self.rest = Cut(self.store, clusters.rest, HUGE)
        self.groups = [self._group(cluster) for cluster in clusters.clusters] if self.links else []
        self.store.propagate()

    def _group(self, cluster: Cluster) -> Group:
        places = self.clusters.place
        mine = [v for v, n in places.items() if self.clusters.clusters[n] is cluster]
        shares = [v for link in self.links for v, _ in link.terms if link.place[v] is cluster]
        watched = sorted({*cluster.variables, *mine, *shares})
        cut = Cut(self.store, [], HUGE)
        return Group(cluster, watched, cut, self.store.add(Propagator(cut, tuple(watched))))

    def run(self, reached: int, plain: Demand) -> tuple[int, Demand]:
        """Find prices; the bound that they prove for the part, and the demand with their cuts in it."""
        if len(self.groups) < 2 or not self.links:
            return -HUGE, plain
        outside = self.rest.least()
        bound = self._climb((reached - outside) * _SCALE)
        for group in self.groups:
            self.store.active[group.number] = False
        if bound is None:
            return -HUGE, plain
        return outside - (-bound // _SCALE), self._enter(plain)

    def _climb(self, reached: int) -> int | None:
        """Subgradient rounds; leaves the best prices in force. None if a cluster was too hard."""
        best: int | None = None
        kept: list[int] = []
        prices: list[int] = []
        pull, stale = 1.0, 0
        for _ in range(_ROUNDS):
            answer = self._price()
            if answer is None:
                break
            bound, point = answer
            if best is None or bound > best:
                best, prices, stale = bound, [link.price for link in self.links], 0
                kept = [group.least for group in self.groups]
            else:
                stale += 1
                if stale >= _PATIENCE:
                    pull, stale = pull / 2, 0
                    if pull < _LEAST:
                        break
            if not self._move(point, pull, reached - bound):
                break
        if best is not None:
            for link, price in zip(self.links, prices, strict=True):
                link.price = price
            for group, least in zip(self.groups, kept, strict=True):
                group.least = least
                group.cut.terms = self._terms(group)
        return best

    def _terms(self, group: Group) -> tuple[tuple[int, int], ...]:
        """Cost and charges of one cluster at the present prices."""
        total: dict[int, int] = {}
        for v, a in group.cluster.terms:
            total[v] = total.get(v, 0) + _SCALE * a
        for link in self.links:
            if link.price:
                for v, a in link.terms:
                    if link.place[v] is group.cluster:
                        total[v] = total.get(v, 0) + link.price * a
        return tuple((v, a) for v, a in total.items() if a)

    def _price(self) -> tuple[int, list[int]] | None:
        """Bound at the present prices, and the point where the clusters' own minima lie."""
        bound = sum(link.price * link.constant for link in self.links)
        point = self.store.low[:]
        for group in self.groups:
            group.cut.terms = self._terms(group)
            if not group.cut.terms:
                group.least = 0
                continue
            search = Frontier(self.search, group.cluster.variables, group.watched, Demand(group.cut, group.number), HUGE)
            search.gains = group.gains
            self.clusters.alone(search, _NODES)
            if search.point is None:
                return None
            group.least = search.bound
            bound += search.bound
            for v in group.watched:
                point[v] = search.point[v]
        return bound, point

    def _move(self, point: Sequence[int], pull: float, gap: int) -> bool:
        """New prices along what the point breaks; False if it breaks nothing or nothing changes."""
        excess = [link.excess(point) for link in self.links]
        slope = [e if link.equality or e > 0 or link.price > 0 else 0 for e, link in zip(excess, self.links, strict=True)]
        length = sum(e * e for e in slope)
        if not length or gap <= 0:
            return False
        changed = False
        for e, link in zip(slope, self.links, strict=True):
            price = link.price + round(pull * gap * e / length)
            price = price if link.equality else max(0, price)
            changed = changed or price != link.price
            link.price = price
        return changed

    def _enter(self, plain: Demand) -> Demand:
        """For each cluster a variable for its priced cost, not below its minimum; their sum obeys the demand."""
        store, machine = self.store, self.clusters.local.machine
        totals: Terms = []
        for group in self.groups:
            terms = list(group.cut.terms)
            if not terms:
                continue
            total = machine.auxiliary(group.least, HUGE, Fraction(1))
            watched = (*(v for v, _ in terms), total)
            store.add(Propagator(Cut(store, [*terms, (total, -1)], 0), watched))
            turned = [(v, -a) for v, a in terms]
            store.add(Propagator(Cut(store, turned, -group.least), watched[:-1]))
            totals.append((total, 1))
            self.clusters.part.watched.append(total)
        shared = Cut(store, totals, HUGE)
        number = store.add(Propagator(shared, tuple(v for v, _ in totals)))
        offset = sum(link.price * link.constant for link in self.links)
        store.propagate()
        return PricedDemand(plain, shared, number, offset, self.rest)
