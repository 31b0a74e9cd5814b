"""Where parts lie on sheets: what the layout hands to the drawings and the report."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from foldwright.emit.raster import turn_points
from foldwright.solver.card import Part

CONTROL_LENGTH = 50.0  # mm; shows a wrong import scale before paper is wasted
_CONTROL_BOX = (54.0, 8.0)  # mm, the room of the control line with its end ticks and text


@dataclass(frozen=True)
class Placed:
    """A part on a sheet: turned about (0, 0) anticlockwise by `turn` degrees, then moved by (dx, dy) mm."""

    part: Part
    dx: float
    dy: float
    turn: int

    @property
    def outline(self) -> Polygon:
        """The part's outline in sheet coordinates, not rounded."""
        shift = np.array([self.dx, self.dy])
        return shapely.transform(self.part.outline, lambda points: turn_points(points, self.turn) + shift)


@dataclass(frozen=True)
class Control:
    """Room for the control line: lower left corner, and whether it stands upright."""

    x: float
    y: float
    upright: bool

    @property
    def box(self) -> Polygon:
        """The rectangle that is kept free of parts."""
        width, height = _CONTROL_BOX[::-1] if self.upright else _CONTROL_BOX
        return shapely.box(self.x, self.y, self.x + width, self.y + height)


@dataclass(frozen=True)
class Sheet:
    """One sheet of one paper; mm, origin in the lower left corner, y up.

    `number` counts through the whole card from 1. `control` is None if the parts leave no room for the
    control line. `kept` tells that the layout is one that the layout file remembers.
    """

    paper: str
    number: int
    width: float
    height: float
    placed: tuple[Placed, ...]
    control: Control | None
    kept: bool = False
