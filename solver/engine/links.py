"""Rules that ask clusters of mechanisms for a total, each cluster giving its share: what prices can be put on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from foldwright.solver.engine.clusters import Cluster, Clusters
from foldwright.solver.engine.graph import Form, Node
from foldwright.solver.engine.linear import Terms
from foldwright.solver.engine.spans import spans
from foldwright.solver.engine.target import ROUNDING
from foldwright.solver.evaluate import TOLERANCE

_FINE = 10_000  # units of the greatest share, where a share is no whole number of anything


@dataclass
class Link:
    """A rule `sum + constant <= 0` that joins clusters; an equality may have a price of either sign."""

    terms: Terms
    constant: int
    equality: bool
    place: dict[int, Cluster]  # the cluster of each variable in it
    price: int = 0

    def excess(self, point: Sequence[int]) -> int:
        """How far a point breaks the rule."""
        return self.constant + sum(a * point[v] for v, a in self.terms)


def links(clusters: Clusters) -> list[Link]:
    """The totals among the rules that join some clusters."""
    found = [_linear(clusters, number) for number in clusters.links] + [_curved(clusters, number) for number in clusters.links]
    return [link for link in found if link is not None]


def _linear(clusters: Clusters, number: int) -> Link | None:
    store = clusters.store
    if number not in clusters.local.machine.linear:
        return None
    terms, constant, equality = clusters.local.machine.linear[number]
    free = [(v, a) for v, a in terms if store.low[v] < store.high[v]]
    fixed = sum(a * store.low[v] for v, a in terms if store.low[v] == store.high[v])
    if len({a > 0 for _, a in free}) > 1 or not all(v in clusters.place for v, _ in free):
        return None  # it compares one with another, which prices do not help with
    place = {v: clusters.clusters[clusters.place[v]] for v, _ in free}
    return Link(free, constant + fixed, equality, place) if len({id(c) for c in place.values()}) > 1 else None


def _curved(clusters: Clusters, number: int) -> Link | None:
    """A rule that is a sum of shares, each of one cluster, but not linear: every share gets a variable, rounded down."""
    machine, store = clusters.local.machine, clusters.store
    rule_number = store.propagators[number].rule
    if number in machine.linear or rule_number < 0:
        return None
    rule = machine.model.rules[rule_number]
    if rule.operator == "=":
        return None
    a, b = (rule.left, rule.right) if rule.operator == "<=" else (rule.right, rule.left)
    graph = machine.graph
    form = graph.combine(graph.form(a), graph.form(b), -1)
    shares: dict[int, Form] = {}
    for node, factor in form.factors.items():
        free = [v for v in graph.variables([node]) if store.low[v] < store.high[v]]
        places = {clusters.place.get(v, -1) for v in free}
        if len(places) > 1 or -1 in places:
            return None
        shares.setdefault(places.pop() if places else -1, Form()).factors[node] = factor
    fixed = shares.pop(-1, None)
    roots = {n: graph.wrap(share) for n, share in shares.items()}
    reach = {n: spans(graph, store, root)[root] for n, root in roots.items()}
    if len(roots) < 2 or len({low + high > 0 for low, high in reach.values()}) > 1:
        return None  # it compares one with another
    constant = form.constant if fixed is None else form.constant + Fraction(_least(clusters, fixed))
    unit = Fraction(ceil(max(max(abs(low), abs(high)) for low, high in reach.values()) * 1000), 1000 * _FINE)
    terms, place = [], {}
    for n, root in roots.items():
        share = _share(clusters, root, reach[n], unit)
        terms.append((share, 1))
        place[share] = clusters.clusters[n]
    # A share is at most ROUNDING above its true value: their sum may exceed the limit by so much.
    limit = floor((Fraction(TOLERANCE) - constant) / unit + Fraction(ROUNDING) * len(terms))
    return Link(terms, -limit, False, place)


def _least(clusters: Clusters, fixed: Form) -> float:
    """A number no greater than a form whose variables are all fixed."""
    graph = clusters.local.machine.graph
    root = graph.wrap(fixed)
    return spans(graph, clusters.store, root)[root][0]


def _share(clusters: Clusters, root: int, reach: tuple[float, float], unit: Fraction) -> int:
    """A variable for a node in units, rounded down."""
    machine = clusters.local.machine
    low, high = (end / float(unit) for end in reach)
    share = machine.auxiliary(floor(low) - 2, ceil(high) + 2, Fraction(1))
    node = machine.graph.node(Node("var", (share,)))
    difference = machine.graph.node(Node("sum", (root, node), (1 / unit, Fraction(-1))))
    machine.link(difference, -ROUNDING, 1.0 + ROUNDING)
    clusters.part.watched.append(share)
    return share
