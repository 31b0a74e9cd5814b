"""Whether a layout keeps what it has to, measured in shapely: what others propose, and what a file remembers."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from foldwright.emit.placed import Sheet
from foldwright.emit.raster import TOUCH
from foldwright.solver.card import Part

# Two parts may each come nearer by `TOUCH` in a layout of our own, and a file keeps places to half a millionth of a millimetre.
SLACK = 4 * TOUCH


@dataclass(frozen=True)
class Demands:
    """What a layout of one paper has to keep.

    Spacing and border in mm, the mats (width, height) there are, and the turns in degrees that each part (by name) may take.
    """

    spacing: float
    border: float
    mats: tuple[tuple[float, float], ...]
    turns: Mapping[str, Collection[int]]

    def room(self, mat: tuple[float, float]) -> tuple[float, float]:
        """Width and height of a mat without its border."""
        return mat[0] - 2 * self.border, mat[1] - 2 * self.border


def fault(sheets: Sequence[Sheet], parts: Sequence[Part], demands: Demands) -> str | None:
    """The first thing that a layout of `parts` does not keep, in a few words; None if it is sound."""
    names = sorted(placed.part.name for sheet in sheets for placed in sheet.placed)
    if names != sorted(part.name for part in parts):
        return "it does not hold each part once"
    for sheet in sheets:
        said = _fault(sheet, demands)
        if said:
            return said
    return None


def _fault(sheet: Sheet, demands: Demands) -> str | None:
    if (sheet.width, sheet.height) not in demands.mats:
        return "a sheet has the size of no mat"
    if not all(math.isfinite(place) for placed in sheet.placed for place in (placed.dx, placed.dy)):
        return "a place is no number"
    wrong = next((placed.part.name for placed in sheet.placed if placed.turn not in demands.turns[placed.part.name]), None)
    if wrong is not None:
        return f"{wrong} is turned as it may not be"
    names = [placed.part.name for placed in sheet.placed]
    shapes = [placed.outline for placed in sheet.placed]
    if sheet.control is not None:
        names.append("the control line")
        shapes.append(sheet.control.box)
    least = demands.border - SLACK
    bounds = shapely.bounds(np.array(shapes, dtype=object))
    inside = (bounds[:, :2] >= least).all(axis=1) & (bounds[:, 2:] <= (sheet.width - least, sheet.height - least)).all(axis=1)
    if not inside.all():
        return f"{names[int(np.argmin(inside))]} lies beyond the edge"
    tree = shapely.STRtree(shapes)
    first, second = tree.query(shapes, predicate="dwithin", distance=max(0.0, demands.spacing - SLACK))
    pairs = [(names[a], names[b]) for a, b in zip(first, second, strict=True)
             if a < b and not (demands.spacing <= SLACK and _touch(shapes[a], shapes[b]))]
    return f"{pairs[0][0]} and {pairs[0][1]} lie too close" if pairs else None


def _touch(one: Polygon, other: Polygon) -> bool:
    """Whether two parts share no more than an edge: a sliver of area, SLACK wide. Without a spacing they may."""
    return bool(one.intersection(other).area <= SLACK * (one.length + other.length))
