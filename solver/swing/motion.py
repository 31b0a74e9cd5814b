"""How every panel moves over the grid of angles; what a memory knows of a panel is not worked out again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from foldwright.solver.swing.shapes import Edges, Floats, Ints
from foldwright.solver.swing.stand import Boxed, Stand

SPINE = ("cover.left", "cover.right", "cover.pleat_left")  # panels of a gusseted cover, as the cover names them
PAGES = SPINE[:2]


class Drawn(Boxed, Protocol):
    """Boxes and edges of n panels."""

    @property
    def outer(self) -> Edges:
        """Edges of the outlines."""


@dataclass(frozen=True)
class Few:
    """Boxes of some panels in part coordinates, shape (n, 2), mm."""

    centre: Floats
    half: Floats


@dataclass(frozen=True)
class Motion:
    """n panels at m angles: `low` and `high` corners of their boxes in space, shape (m, n, 3); `steps`, how far any corner moves
    to the next angle, (m - 1, n), mm; `jumps` of their speed, (m - 2, n), mm per degree; `over`, the height of
    their highest corner over the nearer of the two pages, (m, n), mm.

    `keys` are what decides how each moves; `pages` those of the pages, which the heights depend on too.
    """

    keys: Sequence[bytes]
    pages: Sequence[bytes]
    low: Floats
    high: Floats
    steps: Floats
    jumps: Floats
    over: Floats

    @classmethod
    def of(cls, names: Sequence[str], keys: Sequence[bytes], shapes: Drawn, grid: Stand, last: Motion | None) -> Motion:
        """All panels; those that are in the `last` motion as they are now are taken from it."""
        pages = [key for name, key in zip(names, keys, strict=True) if name in PAGES]
        known = {} if last is None or last.pages != pages else {key: column for column, key in enumerate(last.keys)}
        new = np.array([index for index, key in enumerate(keys) if key not in known], dtype=np.int64)
        old = np.array([index for index, key in enumerate(keys) if key in known], dtype=np.int64)
        made = _looked_at(names, shapes, grid, new)
        if last is None or not len(old):
            return cls(keys, pages, *made)
        columns = np.array([known[keys[index]] for index in old.tolist()], dtype=np.int64)
        whole = []
        for before, now in zip((last.low, last.high, last.steps, last.jumps, last.over), made, strict=True):
            both = np.empty((now.shape[0], len(keys), *now.shape[2:]))
            both[:, old], both[:, new] = before[:, columns], now
            whole.append(both)
        return cls(keys, pages, *whole)


def _looked_at(names: Sequence[str], shapes: Drawn, grid: Stand, some: Ints) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Boxes, steps, jumps and heights of some panels."""
    few, stand = Few(shapes.centre[some], shapes.half[some]), grid.of_panels(some)
    moved = np.diff(stand.corners(few), axis=0)
    steps = np.sqrt((moved**2).sum(axis=3)).max(axis=2)
    return *stand.boxes(few), steps, jumps(stand, few), _over(names, shapes, grid, some)


def velocities(stand: Stand, shapes: Boxed) -> Floats:
    """Of every panel's corners, from each angle to the next, mm per degree, shape (m - 1, n, 4, 3)."""
    out: Floats = np.diff(stand.corners(shapes), axis=0) / np.diff(stand.angles)[:, None, None, None]
    return out


def jumps(stand: Stand, shapes: Boxed) -> Floats:
    """How much the velocity of any corner of a panel changes about each inner angle, mm per degree, shape (m - 2, n).

    Looked at four times as closely it is a quarter in regular motion, the same at a kink, and doubled at a dead point.
    """
    change = np.diff(velocities(stand, shapes), axis=0)
    jump = np.sqrt((change**2).sum(axis=3)).max(axis=2)
    out: Floats = np.where(np.isfinite(jump), jump, np.inf)  # a pose that does not exist
    return out


def _over(names: Sequence[str], shapes: Drawn, grid: Stand, some: Ints) -> Floats:
    """Height of the highest corner of each panel over the nearer of the two pages, at least 0, mm, shape (m, n)."""
    half = np.radians(grid.angles) / 2
    across, up = -np.cos(half), np.sin(half)
    axes = grid.axes[:, some, :2]
    heights = []
    for page, sign in zip(PAGES, (1.0, -1.0), strict=True):  # y is positive on the left page
        # height over the page's plane of a panel's points: linear in their part coordinates
        y, z = sign * across, up
        base = grid.origin[:, some, 1] * y[:, None] + grid.origin[:, some, 2] * z[:, None]
        if page in names:
            index = names.index(page)
            base = base - (grid.origin[:, index, 1] * y + grid.origin[:, index, 2] * z)[:, None]
        slope = axes[:, :, :, 1] * y[:, None, None] + axes[:, :, :, 2] * z[:, None, None]
        heights.append((base, slope))
    edges, out = shapes.outer, np.zeros((len(half), len(some)))
    for column, panel in enumerate(some.tolist()):
        corners = edges.start[edges.first[panel]:edges.first[panel + 1]]
        over = [base[:, column, None] + slope[:, column] @ corners.T for base, slope in heights]
        out[:, column] = np.maximum(np.minimum(*over).max(axis=1, initial=0.0), 0.0)
    return out
