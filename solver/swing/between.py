"""Between the angles of the grid: looked at where two panels are nearer than they move, and where they change sides."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity

from foldwright.solver.swing.kernel import pierced
from foldwright.solver.swing.runs import FINE, Sample
from foldwright.solver.swing.scene import Scene
from foldwright.solver.swing.shapes import Flags, Floats, Ints
from foldwright.solver.swing.stand import Pairs, Seen

HALVINGS = 2  # of a step of the grid: 0.5 degrees of the usual 2
BULGE = 1.1  # a path is longer than its chord; over a few degrees by far less than this
UNEVEN = 0.6  # of the way may fall into one half of a step
SURE = 1e-6  # mm beyond rounding: a panel this far off a plane lies on one side of it
OVERLAP = 0.01  # mm²: less is a touch of borders


@dataclass(frozen=True)
class Steps:
    """Steps between two angles: `one` and `two` are the panels and `pair` the pair, each of shape (k,).

    `low` and `high` are lower bounds of their distance at both ends, `moved` bounds how far they move towards each other,
    mm; a step begins at `start` and is `width` degrees wide.
    """

    one: Ints
    two: Ints
    pair: Ints
    low: Floats
    high: Floats
    moved: Floats
    start: Floats
    width: Floats

    def open(self) -> Steps:
        """The steps within which the panels may meet, for all that is known."""
        some = np.flatnonzero(self.low + self.high < self.moved)
        return Steps(self.one[some], self.two[some], self.pair[some], self.low[some], self.high[some], self.moved[some],
                     self.start[some], self.width[some])

    @property
    def middle(self) -> Floats:
        """Angles halfway."""
        return self.start + self.width / 2

    def halved(self, apart: Floats) -> Steps:
        """Both halves of every step; `apart` are the bounds halfway."""
        one, two, pair = (np.tile(numbers, 2) for numbers in (self.one, self.two, self.pair))
        return Steps(one, two, pair, np.concatenate([self.low, apart]), np.concatenate([apart, self.high]),
                     np.tile(UNEVEN * self.moved, 2), np.concatenate([self.start, self.middle]), np.tile(self.width / 2, 2))


def look_between(scene: Scene, met: Pairs, pair: Ints, apart: Floats, through: Flags, free: Flags) -> list[Sample]:
    """Samples (pair, angle, whether they pass through each other) at halved steps.

    Only free pairs, and only where the distances at both ends of a step do not rule out that they meet within it.
    `met` and its companions are sorted by pair and angle.
    """
    begin = np.flatnonzero(following(met, pair) & free[pair[1:]] & ~through[1:] & ~through[:-1])
    one, two, moment = met.first[begin], met.second[begin], met.moment[begin]
    angles = scene.grid.angles
    steps = Steps(one, two, pair[begin], np.maximum(apart[begin], 0), np.maximum(apart[begin + 1], 0),
                  BULGE * (scene.steps[moment, one] + scene.steps[moment, two]), angles[moment],
                  angles[moment + 1] - angles[moment])
    out: list[Sample] = []
    for _ in range(HALVINGS):
        steps = steps.open()
        if not len(steps.one):
            break
        distance, true = _at(scene, steps)
        out += zip(steps.pair.tolist(), steps.middle.tolist(), true.tolist(), strict=True)
        steps = steps.halved(distance)
    return out


def following(met: Pairs, pair: Ints) -> Flags:
    """Whether each row but the last is followed by the same pair at the next angle, shape (k - 1,)."""
    out: Flags = (pair[1:] == pair[:-1]) & (np.diff(met.moment) == 1)
    return out


def _at(scene: Scene, steps: Steps) -> tuple[Floats, Flags]:
    """Halfway: lower bounds of distances, and whether the panels pass through each other."""
    unique, moment = np.unique(steps.middle, return_inverse=True)
    pairs = Pairs(steps.one, steps.two, moment)
    stand = scene.at(unique, pairs.panels)
    seen = Seen.of(stand, pairs)
    apart = scene.apart(pairs, seen)
    true = np.zeros(len(pairs), dtype=bool)
    near = np.flatnonzero(apart <= 0)
    true[near[pierced(scene.shapes, stand, pairs[near], seen[near]).pair]] = True
    return np.maximum(apart, 0), true


def turned_through(scene: Scene, met: Pairs, pair: Ints, seen: Seen, through: Flags,
                   wanted: Flags) -> Iterator[tuple[int, float, tuple[float, float, float], float]]:
    """Pairs of which one moved flat through the other between two angles: pair, angle, place, and size of the overlap.

    One panel lies wholly on one side of the other one's plane, then wholly on the other side, and covers some of it as the
    planes meet. `wanted`, shape (q,), leaves out pairs at a crease, whose turn is judged for itself.
    """
    told: set[tuple[int, int]] = set()
    for pairs, lie in ((met, seen), (met.swapped(), seen.swapped())):
        height, side = _sides(scene, pairs, lie)
        steps = np.flatnonzero(following(met, pair) & wanted[pair[1:]] & (side[1:] * side[:-1] == -1)
                               & ~through[1:] & ~through[:-1])
        for step in steps.tolist():
            key = (int(pair[step]), int(met.moment[step]))
            found = None if key in told else _turned(scene, pairs[np.array([step])], float(height[step]))
            if found is not None:
                told.add(key)
                yield key[0], *found


def _turned(scene: Scene, pairs: Pairs, height: float) -> tuple[float, tuple[float, float, float], float] | None:
    """When the first panel of a pair comes through the second one's plane within a step: angle, place, size; or None."""
    one, two, moment = (int(numbers[0]) for numbers in (pairs.first, pairs.second, pairs.moment))
    low, high = (float(angle) for angle in scene.grid.angles[moment:moment + 2])
    while high - low > FINE / 50:  # so finely that what is left of the angle hides no border
        middle = (low + high) / 2
        same = _height(scene, one, two, middle) * height > 0
        low, high = (middle, high) if same else (low, middle)
    found = _overlap(scene, one, two, high)
    return None if found is None else (high, *found)


def _sides(scene: Scene, met: Pairs, seen: Seen) -> tuple[Floats, Ints]:
    """Height of the first panels' middles over the second ones' planes, mm, and the side that all of them lies on, or 0."""
    centre, half = scene.shapes.centre[met.first], scene.shapes.half[met.first]
    slope = seen.turn[:, 2, :2]
    height = seen.shift[:, 2] + (slope * centre).sum(axis=1)
    clear = np.abs(height) > (np.abs(slope) * half).sum(axis=1) + SURE
    return height, np.where(clear, np.sign(height), 0).astype(np.int64)


def _seen(scene: Scene, one: int, two: int, angle: float) -> tuple[Pairs, Seen]:
    pairs = Pairs(np.array([one]), np.array([two]), np.array([0]))
    return pairs, Seen.of(scene.at(np.array([angle]), pairs.panels), pairs)


def _height(scene: Scene, one: int, two: int, angle: float) -> float:
    pairs, seen = _seen(scene, one, two, angle)
    return float(_sides(scene, pairs, seen)[0][0])


def _overlap(scene: Scene, one: int, two: int, angle: float) -> tuple[tuple[float, float, float], float] | None:
    """Where the first panel covers the second one, seen square to it, and how wide that is; None if it does not."""
    _, seen = _seen(scene, one, two, angle)
    turn, shift = seen.turn[0], seen.shift[0]
    shadow = affinity.affine_transform(scene.shapes.faces[one], [*turn[0, :2], *turn[1, :2], *shift[:2]])
    shared = shapely.make_valid(shadow).intersection(scene.shapes.faces[two])
    if shared.area < OVERLAP:
        return None
    point, stand = shared.representative_point(), scene.at(np.array([angle]), np.array([two]))
    place = stand.point(np.array([0]), np.array([two]), np.array([[point.x, point.y]]))[0]
    left, lower, right, upper = shared.bounds
    return (float(place[0]), float(place[1]), float(place[2])), float(min(right - left, upper - lower))
