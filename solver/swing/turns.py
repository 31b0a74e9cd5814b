"""Creases that would have to turn past flat, or on past folded shut."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from foldwright.solver.card import Hinge
from foldwright.solver.geometry import cross
from foldwright.solver.swing.runs import bisect
from foldwright.solver.swing.scene import Scene
from foldwright.solver.swing.shapes import Flags, Floats, Ints
from foldwright.solver.swing.stand import Stand

SLACK = 0.05  # degrees: as finely as angles are found
COVER = "cover"  # the part whose scores bend both ways: a gusset's pleat turns through flat as the card opens
SENSE = 1.0  # degrees from flat or folded shut: nearer to them a turn has no sure sense


@dataclass(frozen=True)
class Overturned:
    """A crease beyond its end: angles in degrees, `beyond` the most that it turns too far, `folded` past shut or flat."""

    hinge: Hinge
    place: tuple[float, float, float]
    angle: float
    until: float
    beyond: float
    folded: bool


@dataclass(frozen=True)
class Creases:
    """All creases of a card: numbers of their panels, and the sign that the left panel's side gives the turn."""

    hinges: tuple[Hinge, ...]
    left: Ints
    right: Ints
    ends: Floats  # (h, 2, 2) in part coordinates
    sign: Floats

    @classmethod
    def of(cls, scene: Scene) -> Creases:
        """Creases in the card's order, but for the cover's own: those are creased both ways before anything is glued in."""
        cover = {panel.name for panel in scene.card.panels if panel.part == COVER}
        hinges = tuple(hinge for hinge in scene.card.hinges if not {hinge.left, hinge.right} <= cover)
        number = {name: index for index, name in enumerate(scene.names)}
        ends = np.array([(hinge.start, hinge.end) for hinge in hinges]).reshape(-1, 2, 2)
        centres = [scene.card.panels[number[hinge.left]].outline.centroid for hinge in hinges]
        along = ends[:, 1] - ends[:, 0]
        beside = np.array([(point.x, point.y) for point in centres]).reshape(-1, 2) - ends[:, 0]
        sign = np.where(along[:, 0] * beside[:, 1] - along[:, 1] * beside[:, 0] > 0, 1.0, -1.0)
        return cls(hinges, np.array([number[hinge.left] for hinge in hinges], dtype=np.int64),
                   np.array([number[hinge.right] for hinge in hinges], dtype=np.int64), ends, sign)

    def turns(self, stand: Stand, chosen: Ints | None = None) -> Floats:
        """How far each crease is turned, degrees, shape (m, h): 0 flat, positive mountain, negative valley; -180 to 180."""
        some = np.arange(len(self.hinges)) if chosen is None else chosen
        normal, other = stand.axes[:, self.left[some], 2], stand.axes[:, self.right[some], 2]
        flat = self.ends[some, 1] - self.ends[some, 0]
        flat = flat / np.hypot(flat[:, 0], flat[:, 1])[:, None]
        along = np.einsum("hk,mhkc->mhc", flat, stand.axes[:, self.left[some], :2])
        across = (cross(normal, other) * along).sum(axis=2)
        out: Floats = self.sign[some] * np.degrees(np.arctan2(across, (normal * other).sum(axis=2)))
        return out


def overturned(scene: Scene) -> Iterator[Overturned]:
    """Every range of angles in which a crease has turned through flat, or past folded shut.

    The sense in which a crease first turns clearly is its own: what is flat or folded shut when the card is closed has no
    sense there, and may come back to flat, or shut, as it opens.
    """
    creases = Creases.of(scene)
    if not creases.hinges:
        return
    turns, sense = unwrapped(creases.turns(scene.grid))
    for index in np.flatnonzero((_beyond(turns) > SLACK).any(axis=0)):
        yield from _ranges(scene, creases, int(index), turns[:, index], float(sense[index]))


def unwrapped(turns: Floats) -> tuple[Floats, Floats]:
    """Turns without jumps over the angles, shape (m, h), and the sense of each, shape (h,): 1 or -1.

    They go on from where a crease is first clearly turned, onwards and back, and are positive there.
    """
    clear = (np.abs(turns) > SENSE) & (np.abs(turns) < 180 - SENSE)
    start = np.where(clear.any(axis=0), clear.argmax(axis=0), 0)
    sense = np.where(turns[start, np.arange(turns.shape[1])] >= 0, 1.0, -1.0)
    out: Floats = sense * turns
    for index in np.flatnonzero((np.abs(np.diff(turns, axis=0)) >= 180).any(axis=0)).tolist():  # elsewhere nothing jumps
        first = int(start[index])
        column = sense[index] * turns[:, index]
        out[first:, index] = np.unwrap(column[first:], period=360)
        out[:first + 1, index] = np.unwrap(column[first::-1], period=360)[::-1]
    return out, sense


def _beyond(turns: Floats) -> Floats:
    """Degrees outside 0 to 180."""
    out: Floats = np.maximum(-turns, turns - 180)
    return out


def _ranges(scene: Scene, creases: Creases, index: int, turns: Floats, sense: float) -> Iterator[Overturned]:
    angles, beyond = scene.grid.angles, _beyond(turns)
    bad = np.flatnonzero(beyond > SLACK)
    chosen = np.array([index])

    def over(which: Ints, at: Floats) -> Flags:
        """Whether it is turned too far: the turn there, taken to the branch of the nearest angle of the grid."""
        near = np.abs(at[:, None] - angles).argmin(axis=1)
        raw = sense * creases.turns(scene.at(at), chosen)[:, 0]
        value = raw + 360 * np.round((turns[near] - raw) / 360)
        out: Flags = _beyond(value) > SLACK
        return out

    for run in np.split(bad, np.flatnonzero(np.diff(bad) > 1) + 1):
        low, high = int(run[0]), int(run[-1])
        outside = [angles[max(low - 1, 0)], angles[min(high + 1, len(angles) - 1)]]
        inside = [angles[low], angles[high]]
        first, last = bisect(np.zeros(2, dtype=np.int64), np.array(outside), np.array(inside), over)
        middle = creases.ends[index].mean(axis=0)[None]
        x, y, z = scene.grid.point(np.array([low]), creases.left[chosen], middle)[0].tolist()
        worst = run[beyond[run].argmax()]
        yield Overturned(creases.hinges[index], (x, y, z), float(first), float(last), float(beyond[worst]),
                         bool(turns[worst] > 180))

