"""Which panels belong together: what touches where it is joined is no collision and comes nearer than any paper is thick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from foldwright.solver.card import Card
from foldwright.solver.swing.shapes import Ints


class Join(IntEnum):
    """How two panels belong together."""

    FREE = 0
    NEAR = 1  # what they are glued to is joined, or touches all the time: both are flat, and near each other only near there
    JOINED = 2  # by a crease, by glue, or by a pair of slots
    CREASE = 3  # by a crease


@dataclass(frozen=True)
class Joins:
    """Joins of n panels by number: `rigid[p]` is the body (panels glued on each other) of panel p, shape (n,)."""

    rigid: Ints
    creases: frozenset[tuple[int, int]]
    slots: frozenset[tuple[int, int]]
    bodies: frozenset[tuple[int, int]]

    @classmethod
    def of(cls, card: Card) -> Joins:
        """All joins of a card."""
        number = {panel.name: index for index, panel in enumerate(card.panels)}
        rigid = _bodies(len(number), [(number[bond.panel], number[bond.host]) for bond in card.bonds])
        creases = _pairs([(number[hinge.left], number[hinge.right]) for hinge in card.hinges])
        slots = _pairs([(number[crossing.first], number[crossing.second]) for crossing in card.crossings])
        bodies = _pairs([(int(rigid[a]), int(rigid[b])) for a, b in sorted(creases | slots)])
        return cls(rigid, creases, slots, bodies)

    def between(self, first: Ints, second: Ints) -> Ints:
        """How the panels of each pair belong together, shape (k,); first number below the second."""
        out = np.full(len(first), Join.FREE, dtype=np.int64)
        for index, pair in enumerate(zip(first.tolist(), second.tolist(), strict=True)):
            a, b = int(self.rigid[pair[0]]), int(self.rigid[pair[1]])
            if pair in self.creases:
                out[index] = Join.CREASE
            elif a == b or pair in self.slots:
                out[index] = Join.JOINED
            elif (min(a, b), max(a, b)) in self.bodies:
                out[index] = Join.NEAR
        return out


def _pairs(pairs: Sequence[tuple[int, int]]) -> frozenset[tuple[int, int]]:
    return frozenset((min(pair), max(pair)) for pair in pairs)


def _bodies(count: int, glued: Sequence[tuple[int, int]]) -> Ints:
    """Panels that glue makes one rigid body get the least number among them."""
    body = list(range(count))

    def root(panel: int) -> int:
        while body[panel] != panel:
            panel = body[panel]
        return panel

    for one, other in glued:
        a, b = root(one), root(other)
        body[max(a, b)] = min(a, b)
    return np.array([root(panel) for panel in range(count)], dtype=np.int64)
