"""In which order parts are put onto sheets: the likeliest orders first, then seeded noise.

In two of the first orders all parts stay upright, or all lie on their side: alike parts then often fit into each other.

An order is a list of clusters. In most orders each part is a cluster of its own; in some, the parts that one step of the
assembly handles are one, and are put onto one sheet together if any has room for them all.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from foldwright.emit.raster import TOUCH, Footprint
from foldwright.solver.card import Part

PASSES = 24  # measured on mixed sets: the last sheet that noise can save is mostly saved by then
_SEED = 180  # any number will do; another one gives other, equally valid sheets


@dataclass(frozen=True)
class Item:
    """A part and the cells that it takes in each turn it may have."""

    part: Part
    turns: tuple[Footprint, ...]
    area: float  # of the part grown by half the spacing, mm²

    @property
    def box(self) -> float:
        """Area of the bounding box with the spacing, mm²."""
        return self.turns[0].size[0] * self.turns[0].size[1]

    @property
    def length(self) -> float:
        """The longer side of the bounding box, mm."""
        return max(self.turns[0].size)


Order = list[list[Item]]


def orders(items: Sequence[Item], groups: Sequence[Collection[str]], room: tuple[float, float]) -> Iterator[Order]:
    """Orders to try: by box area, longest side, area, then box area with seeded noise, with and without clusters.

    `room` is what a sheet takes, width and height in mm, of parts grown by half the spacing.
    """
    clusters = clustered(items, groups)
    together = any(len(cluster) > 1 for cluster in clusters)
    largest = sorted(items, key=lambda item: -item.box)
    yield _alone(largest)
    for aside in (0, 90):
        if any({turn.turn % 180 for turn in item.turns} == {0, 90} for item in items):
            yield _alone([_half_turned(item, aside, room) for item in largest])
    if together:
        yield _together(clusters, {id(item): item.box for item in items})
    yield _alone(sorted(items, key=lambda item: -item.length))
    yield _alone(sorted(items, key=lambda item: -item.part.outline.area))
    for count in range(PASSES - 5 - together):
        noise = random.Random(_SEED + count)
        weights = {id(item): item.box * noise.uniform(0.6, 1.4) for item in items}
        if together and count % 2:
            yield _together(clusters, weights)
        else:
            yield _alone(sorted(items, key=lambda item: -weights[id(item)]))


def clustered(items: Sequence[Item], groups: Sequence[Collection[str]]) -> Order:
    """Items by the first group that names their part; those of no group alone."""
    found: Order = []
    left = {item.part.name: item for item in items}
    for group in groups:
        cluster = [left.pop(name) for name in group if name in left]
        if cluster:
            found.append(cluster)
    return found + [[item] for item in left.values()]


def splits(sheets: Sequence[Collection[str]], groups: Sequence[Collection[str]]) -> int:
    """On how many sheets more than one the parts of the groups lie, summed; sheets and groups are sets of part names."""
    return sum(max(0, sum(any(name in sheet for name in group) for sheet in sheets) - 1) for group in groups)


def _half_turned(item: Item, aside: int, room: tuple[float, float]) -> Item:
    """An item that turns only by 180 degrees, from upright (0) or from lying on its side (90), where it may and can lie so."""
    kept = tuple(turn for turn in item.turns
                 if turn.turn % 180 == aside and all(side <= most + TOUCH for side, most in zip(turn.size, room, strict=True)))
    return replace(item, turns=kept) if kept else item


def _alone(items: Sequence[Item]) -> Order:
    return [[item] for item in items]


def _together(clusters: Order, weights: dict[int, float]) -> Order:
    """The heaviest cluster first, and in each the heaviest item."""
    inside = [sorted(cluster, key=lambda item: -weights[id(item)]) for cluster in clusters]
    return sorted(inside, key=lambda cluster: -sum(weights[id(item)] for item in cluster))
