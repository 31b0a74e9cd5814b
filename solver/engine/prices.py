"""Bounds for mechanisms that compete: the rules that join them get prices (Lagrangean relaxation).

Plain bounds add up what each mechanism would need if it were alone. Where a rule asks for a total (widths
that fill a spread, a mean height), that sum is too hopeful. With a price on the rule, each mechanism is
minimised alone again, its cost being paper plus what the price charges or pays for its share of the total;
the sum is a bound for every choice of prices, and good prices make it nearly exact. They are found by the
subgradient method with Polyak's step. (A. M. Geoffrion, "Lagrangean relaxation for integer programming",
1974; M. L. Fisher, "The Lagrangian relaxation method for solving integer programming problems", 1981.)

Prices are whole numbers, so the bound is exact. At the end the priced minima are entered as linear rules:
together with the demand on the total they cut, at every node of the search, what the bound does not allow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from foldwright.solver.engine.linear import Cut, Terms
from foldwright.solver.engine.local import Local, owner
from foldwright.solver.engine.propagate import Propagator
from foldwright.solver.engine.target import HUGE, Part, Target

_SCALE = 64  # price units per cost unit
_ROUNDS = 24
_PATIENCE = 3  # rounds without a better bound before the step is halved
_NODES = 12000  # of the question about one mechanism


@dataclass
class Group:
    """One mechanism: its variables, its share of the cost, and the sum that is minimised at the present prices."""

    variables: list[int]
    cost: Terms
    cut: Cut
    number: int
    least: int = 0


@dataclass
class Link:
    """A rule `sum + constant <= 0` that joins mechanisms; an equality may have a price of either sign."""

    terms: Terms
    constant: int
    equality: bool
    price: int = 0

    @property
    def is_total(self) -> bool:
        """True if the rule limits a sum (or asks for one), rather than comparing one mechanism with another."""
        return len({a > 0 for _, a in self.terms}) == 1

    def excess(self, point: Sequence[int]) -> int:
        """How far a point breaks the rule."""
        return self.constant + sum(a * point[v] for v, a in self.terms)


class Prices:
    """Prices for the rules that join the mechanisms of one part; without such rules it does nothing."""

    def __init__(self, local: Local, part: Part, target: Target) -> None:
        self.local, self.store, self.pace = local, local.store, target.pace
        self.groups = self._groups(part, target)
        self.place = {v: n for n, group in enumerate(self.groups) for v in group.variables}
        self.links = self._links()
        grouped = {v for group in self.groups for v, _ in group.cost}
        self.rest = [(v, a) for v, a in part.terms if v not in grouped]
        self.coarse = 1
        self.shared: Cut | None = None
        self.offset = 0
        self.shared_number = -1

    def _groups(self, part: Part, target: Target) -> list[Group]:
        """Mechanisms of a part; those that share a cost variable are one."""
        name = {v: owner(self.local.machine, v) for v in part.variables}
        alias = {text: text for text in name.values()}

        def leader(text: str) -> str:
            while alias[text] != text:
                text = alias[text]
            return text

        costs: list[tuple[str, tuple[int, int]]] = []
        for variable, factor in part.terms:
            among = [name[v] for v in target.sources.get(variable, [variable]) if v in name]
            for other in among[1:]:
                alias[leader(other)] = leader(among[0])
            if among:
                costs.append((among[0], (variable, factor)))
        made: dict[str, Group] = {}
        for v in part.variables:
            key = leader(name[v])
            if key not in made:
                made[key] = Group([], [], Cut(self.store, [], HUGE), -1)
            made[key].variables.append(v)
        for text, term in costs:
            made[leader(text)].cost.append(term)
        return list(made.values())

    def _links(self) -> list[Link]:
        found = []
        for number, (terms, constant, equality) in self.local.machine.linear.items():
            free = [(v, a) for v, a in terms if self.store.low[v] < self.store.high[v]]
            touched = {self.place[v] for v, _ in free if v in self.place}
            if len(touched) < 2 or not self.store.active[number]:
                continue
            fixed = sum(a * self.store.low[v] for v, a in terms if self.store.low[v] == self.store.high[v])
            found.append(Link(free, constant + fixed, equality))
        totals = [link for link in found if link.is_total]
        return totals or found

    # Finding prices -----------------------------------------------------------------------------------------

    def run(self, reached: int) -> int:
        """Find prices, enter their cuts, and return the bound that they prove for the part."""
        outside = Cut(self.store, self.rest, HUGE).least()
        if len(self.groups) < 2 or not self.links:
            return -HUGE
        for group in self.groups:
            watched = sorted({*group.variables, *(v for v, _ in group.cost)})
            group.number = self.store.add(Propagator(group.cut, tuple(watched)))
        bound = self._climb((reached - outside) * _SCALE)
        for group in self.groups:
            self.store.active[group.number] = False
        if bound is None:
            return -HUGE
        return outside - (-bound // _SCALE)

    def _climb(self, reached: int) -> int | None:
        """Subgradient rounds; leaves the best prices in force. None if a mechanism was too hard."""
        best: int | None = None
        kept: list[int] = []
        prices: list[int] = []
        pull, stale = 1.0, 0
        for _ in range(_ROUNDS):
            # Minima as exact as the gap deserves: together they are wrong by a quarter of it at most.
            gap = reached - (0 if best is None else best)
            self.coarse = max(self.pace * _SCALE, gap // (4 * len(self.groups)))
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
            if not self._move(point, pull, reached - bound):
                break
        if best is not None:
            for link, price in zip(self.links, prices, strict=True):
                link.price = price
            for group, least in zip(self.groups, kept, strict=True):
                group.least = least
                group.cut.terms = self._terms(group)
            self._enter()
        return best

    def _terms(self, group: Group) -> tuple[tuple[int, int], ...]:
        """Cost and charges of one mechanism at the present prices."""
        total: dict[int, int] = {}
        for v, a in group.cost:
            total[v] = total.get(v, 0) + _SCALE * a
        inside = set(group.variables)
        for link in self.links:
            if link.price:
                for v, a in link.terms:
                    if v in inside:
                        total[v] = total.get(v, 0) + link.price * a
        return tuple((v, a) for v, a in total.items() if a)

    def _price(self) -> tuple[int, list[int]] | None:
        """Bound at the present prices, and the point where the mechanisms' own minima lie."""
        bound = sum(link.price * link.constant for link in self.links)
        point = self.store.low[:]
        for group in self.groups:
            group.cut.terms = self._terms(group)
            if not group.cut.terms:
                group.least = 0
                continue
            least = self.local.smallest(group.cut, group.number, group.variables, self.coarse, _NODES)
            if least is None:
                return None
            group.least = least
            bound += least
            for v in group.variables:
                point[v] = self.local.best[v]
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

    # Using prices -------------------------------------------------------------------------------------------

    def _enter(self) -> None:
        """For each mechanism a variable for its priced cost, not below its minimum; their sum obeys the demand."""
        store, machine, totals = self.store, self.local.machine, []
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
        self.offset = sum(link.price * link.constant for link in self.links)
        self.shared = Cut(store, totals, HUGE)
        self.shared_number = store.add(Propagator(self.shared, tuple(v for v, _ in totals)))

    def demand(self, limit: int) -> None:
        """Tell the priced cuts what the part's terms may sum up to."""
        if self.shared is None:
            return
        outside = Cut(self.store, self.rest, HUGE).least()
        self.shared.limit = _SCALE * (limit - outside) - self.offset if limit < HUGE else HUGE
        self.store.wake(self.shared_number)
