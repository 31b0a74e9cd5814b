"""Everything about a card that the checks of its swing share: shapes, poses on the grid, papers, joins."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property, partial
from hashlib import sha256

import numpy as np

from foldwright.solver.card import Card, Point, Stroke
from foldwright.solver.swing.joins import Joins
from foldwright.solver.swing.memory import Memory, Room
from foldwright.solver.swing.motion import SPINE, Motion
from foldwright.solver.swing.shapes import Flags, Floats, Ints, Shapes
from foldwright.solver.swing.stand import Pairs, Seen, Stand

STEPS = 90  # of the usual grid, closed to open: 2 degrees for a card that opens flat


@dataclass(frozen=True)
class Scene:
    """A card with its panels in order; `grid` are the poses at even angles, the first of them closed."""

    card: Card
    shapes: Shapes
    grid: Stand
    caliper: Floats  # of every panel, mm
    memory: Memory = field(default_factory=Memory, compare=False, repr=False)

    @classmethod
    def of(cls, card: Card, step: float | None = None, memory: Memory | None = None) -> Scene:
        """Poses at every `step` degrees; without it at 91 angles."""
        if step is not None and not 0 < step <= card.opens:
            raise ValueError(f"a step of {step:g}° is not between 0° and the {card.opens:g}° that the card opens")
        steps = STEPS if step is None else int(np.ceil(card.opens / step - 1e-9))
        angles = np.linspace(0.0, card.opens, steps + 1)
        paper = {part.name: part.paper for part in card.parts}
        caliper = {paper.name: paper.caliper for paper in card.papers}
        return cls(card, Shapes.of(card.panels), Stand.of(card.poses, [panel.name for panel in card.panels], angles),
                   np.array([caliper[paper[panel.part]] for panel in card.panels]), memory or Memory())

    @cached_property
    def joins(self) -> Joins:
        """What belongs together."""
        return Joins.of(self.card)

    @cached_property
    def names(self) -> list[str]:
        """Names of the panels."""
        return [panel.name for panel in self.card.panels]

    @cached_property
    def slits(self) -> dict[str, tuple[tuple[Point, ...], ...]]:
        """Lines that are cut into each part, in its coordinates."""
        return {part.name: tuple([line.points for line in part.lines if line.stroke is Stroke.CUT]) for part in self.card.parts}

    @cached_property
    def keys(self) -> list[bytes]:
        """What is known of each panel: its outline and where it lies at every angle."""
        placed = np.concatenate([self.grid.origin, self.grid.axes.reshape(*self.grid.origin.shape[:2], 9)], axis=2)
        lines = np.ascontiguousarray(placed.transpose(1, 0, 2))
        base = self.grid.angles.tobytes()
        return [sha256(base + panel.outline.wkb + lines[index].tobytes()).digest()
                for index, panel in enumerate(self.card.panels)]

    @cached_property
    def motion(self) -> Motion:
        """How the panels move over the grid."""
        found = self.memory.motion = Motion.of(self.names, self.keys, self.shapes, self.grid, self.memory.motion)
        return found

    @property
    def steps(self) -> Floats:
        """How far any corner of a panel moves from each angle of the grid to the next, mm, shape (m - 1, n)."""
        return self.motion.steps

    def at(self, angles: Floats, panels: Ints | None = None) -> Stand:
        """Poses at other angles; of these panels only, if their numbers are given, the others perhaps NaN."""
        if panels is None:
            return Stand.of(self.card.poses, self.names, angles)
        wanted = [self.names[index] for index in np.unique(panels).tolist()]
        return Stand.of(partial(self.card.poses, panels=wanted), self.names, angles)

    def apart(self, pairs: Pairs, seen: Seen) -> Floats:
        """A lower bound of the distance of the panels of each pair, mm; 0 or less if their boxes meet."""
        boxes = [(self.shapes.centre[panel], self.shapes.half[panel]) for panel in (pairs.first, pairs.second)]
        return seen.apart(*boxes)

    def mean_caliper(self, first: Ints, second: Ints) -> Floats:
        """Mean caliper of the two sheets, mm."""
        return (self.caliper[first] + self.caliper[second]) / 2

    @cached_property
    def pleat(self) -> tuple[float, float]:
        """Distance of the closed pages, and depth of the gusset's pleat behind them, mm; both 0 for a plain spine."""
        at = {name: self.grid.origin[0, index] for index, name in enumerate(self.names) if name in SPINE}
        if len(at) < len(SPINE):
            return 0.0, 0.0
        left, right, strip = (at[name] for name in SPINE)
        return float(abs(left[1] - right[1])), float(abs(strip[2]))

    @property
    def room(self) -> Room:
        """What decides whether two panels can be too close: the closed stack, and the room of the spine."""
        return (self.card.stack, *self.pleat)

    def pages_part(self, angles: Floats, places: Floats) -> Flags:
        """Whether the pages, as far from the spine as the places, stand farther apart than the whole closed stack.

        Below that everything lies on everything. A gusset keeps its pages a distance apart, and its pleat, which stays as it
        is, narrows behind them. Shapes (k,) and (k, 3).
        """
        apart, depth = self.pleat
        away = np.hypot(places[:, 1], places[:, 2])
        room = apart + 2 * away * np.sin(np.radians(angles) / 2)
        if depth:
            room = np.where(places[:, 2] < 0, np.minimum(room, apart * np.maximum(1 + places[:, 2] / depth, 0)), room)
        out: Flags = room > self.card.stack
        return out
