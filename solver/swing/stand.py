"""Where all panels stand at many angles at once, as arrays, and how one panel lies as seen from another."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from foldwright.solver.card import Placement
from foldwright.solver.geometry import cross
from foldwright.solver.swing.shapes import Chosen, Floats, Ints

FAR = 1e6  # mm


class Boxed(Protocol):
    """Boxes of n panels in part coordinates."""

    @property
    def centre(self) -> Floats:
        """Middles, shape (n, 2), mm."""

    @property
    def half(self) -> Floats:
        """Half sizes, shape (n, 2), mm."""


Poses = Callable[[Floats], Mapping[str, Placement]]


@dataclass(frozen=True)
class Stand:
    """m angles, n panels: `origin` is (m, n, 3); `axes` is (m, n, 3, 3), its rows along, up and the normal."""

    angles: Floats
    origin: Floats
    axes: Floats

    @classmethod
    def of(cls, poses: Poses, names: Sequence[str], angles: Floats) -> Stand:
        """The panels of these names at the angles (degrees, shape (m,)); NaN for a panel that the poses leave out."""
        placed = poses(angles)
        stacked = np.full((len(angles), len(names), 3, 3), np.nan)
        for index, name in enumerate(names):
            at = placed.get(name)
            if at is not None:
                stacked[:, index, 0], stacked[:, index, 1], stacked[:, index, 2] = at.origin, at.along, at.up
        along, up = stacked[:, :, 1], stacked[:, :, 2]
        return cls(angles, stacked[:, :, 0], np.stack([along, up, cross(along, up)], axis=2))

    def of_panels(self, panels: Ints) -> Stand:
        """The same of some panels."""
        return Stand(self.angles, self.origin[:, panels], self.axes[:, panels])

    def boxes(self, shapes: Boxed) -> tuple[Floats, Floats]:
        """Lower and upper corners of every panel's box in space, each of shape (m, n, 3), mm.

        A panel that has no pose at an angle (beyond a dead point) is far away there.
        """
        first, second = self.axes[:, :, 0], self.axes[:, :, 1]
        centre = self.origin + shapes.centre[:, :1] * first + shapes.centre[:, 1:] * second
        half = shapes.half[:, :1] * np.abs(first) + shapes.half[:, 1:] * np.abs(second)
        centre, half = np.nan_to_num(centre, nan=FAR), np.nan_to_num(half)
        return centre - half, centre + half

    def corners(self, shapes: Boxed) -> Floats:
        """The corners of every panel's own box in space, shape (m, n, 4, 3), mm."""
        signs = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
        flat = shapes.centre[:, None] + signs * shapes.half[:, None]
        along, up = self.axes[:, :, None, 0], self.axes[:, :, None, 1]
        out: Floats = self.origin[:, :, None] + flat[:, :, :1] * along + flat[:, :, 1:] * up
        return out

    def point(self, moment: Ints, panel: Ints, flat: Floats) -> Floats:
        """Points in space, shape (k, 3), of part coordinates, shape (k, 2)."""
        axes = self.axes[moment, panel, :2]
        out: Floats = self.origin[moment, panel] + (flat[:, :, None] * axes).sum(axis=1)
        return out


@dataclass(frozen=True)
class Pairs:
    """k pairs of panels, each at one of the angles: numbers of the panels and of the angle, shape (k,)."""

    first: Ints
    second: Ints
    moment: Ints

    def __len__(self) -> int:
        return len(self.first)

    def __getitem__(self, chosen: Chosen) -> Pairs:
        return Pairs(self.first[chosen], self.second[chosen], self.moment[chosen])

    @property
    def panels(self) -> Ints:
        """Numbers of all panels, shape (2 k,)."""
        return np.concatenate([self.first, self.second])

    def swapped(self) -> Pairs:
        """The same pairs the other way round."""
        return Pairs(self.second, self.first, self.moment)


@dataclass(frozen=True)
class Seen:
    """First panels as seen from the second ones: a point (u, v) of the first lies at shift + turn @ (u, v).

    `shift` is (k, 3) and `turn` (k, 3, 3), in along, up and normal of the second panel; the last column is the first
    panel's normal.
    """

    shift: Floats
    turn: Floats

    @classmethod
    def of(cls, stand: Stand, pairs: Pairs) -> Seen:
        """How the first panel of each pair lies."""
        here = stand.axes[pairs.moment, pairs.second]
        there = stand.axes[pairs.moment, pairs.first]
        offset = stand.origin[pairs.moment, pairs.first] - stand.origin[pairs.moment, pairs.second]
        return cls(np.matmul(here, offset[:, :, None])[:, :, 0], np.matmul(here, there.transpose(0, 2, 1)))

    def __getitem__(self, chosen: Chosen) -> Seen:
        return Seen(self.shift[chosen], self.turn[chosen])

    def swapped(self) -> Seen:
        """How the second panel lies as seen from the first one."""
        back = self.turn.transpose(0, 2, 1)
        return Seen(-np.matmul(back, self.shift[:, :, None])[:, :, 0], back)

    @property
    def sine(self) -> Floats:
        """Sine of the angle between the two planes."""
        return np.hypot(self.turn[:, 2, 0], self.turn[:, 2, 1])

    def apart(self, first: tuple[Floats, Floats], second: tuple[Floats, Floats]) -> Floats:
        """How far the boxes of the two panels are apart along any of the six axes of both, mm; negative if they are not.

        Boxes are (centre, half), each (k, 2), in part coordinates. It is never more than the true distance.
        """
        return np.maximum(self._apart(first, second), self.swapped()._apart(second, first))

    def _apart(self, first: tuple[Floats, Floats], second: tuple[Floats, Floats]) -> Floats:
        centre = self.shift + self.turn[:, :, 0] * first[0][:, :1] + self.turn[:, :, 1] * first[0][:, 1:]
        reach = np.abs(self.turn[:, :, 0]) * first[1][:, :1] + np.abs(self.turn[:, :, 1]) * first[1][:, 1:]
        out = np.abs(centre[:, 2]) - reach[:, 2]
        for axis in (0, 1):
            np.maximum(out, np.abs(centre[:, axis] - second[0][:, axis]) - reach[:, axis] - second[1][:, axis], out=out)
        return out
