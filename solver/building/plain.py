"""Artwork as the outline of a creased sheet: its halves, and the bands of plain paper on which something can be glued."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import floor

from shapely.geometry import LineString, Polygon, box
from shapely.ops import unary_union

from foldwright.solver.artwork import Art

LEVELS = 16  # in which half the height of the artwork is divided
GRAIN = 1000  # bands are rounded inwards to this share of the width


@dataclass(frozen=True)
class Band:
    """Two bands of plain paper, alike on both sides of the middle line that runs along u, in shares of the width.

    They reach from `near` to `far` on either side of that line, and `half` to either side of the middle of the width.
    """

    near: Fraction
    far: Fraction
    half: Fraction


def plain_bands(art: Art) -> tuple[Band, ...]:
    """The bands of plain paper in artwork that no other one contains."""
    outline, middle = art.outline, art.outline.bounds[3] / 2
    axis = LineString([(0.5, -1), (0.5, 2 * middle + 1)])
    found = []
    for first in range(LEVELS):
        for last in range(first + 1, LEVELS + 1):
            near, far = (middle * level / LEVELS for level in (first, last))
            zone = unary_union([box(0, middle + near, 1, middle + far), box(0, middle - far, 1, middle - near)])
            missing = zone.difference(outline)
            half = 0.5 if missing.is_empty else float(missing.distance(axis))
            band = Band(_share(near, up=first > 0), _share(far), _share(half))
            if band.near < band.far and band.half > 0:
                found.append(band)
    return tuple(band for band in found if not any(_within(band, other) for other in found if other is not band))


def _share(value: float, up: bool = False) -> Fraction:
    return Fraction(floor(value * GRAIN) + (1 if up else 0), GRAIN)


def _within(band: Band, other: Band) -> bool:
    """Whether the other band is at least as large everywhere."""
    return other != band and other.near <= band.near and other.far >= band.far and other.half >= band.half


def halves(shape: Polygon) -> dict[str, Polygon]:
    """A shape cut along the middle of its height."""
    u0, v0, u1, v1 = shape.bounds
    middle = 0.0 if v0 < 0 < v1 else (v0 + v1) / 2  # a placed sheet has its crease at v = 0
    return {"left": shape.intersection(box(u0, middle, u1, v1)), "right": shape.intersection(box(u0, v0, u1, middle))}


def pieces(shape: Polygon) -> list[Polygon]:
    """The pieces of paper in a shape."""
    return [piece for piece in getattr(shape, "geoms", [shape]) if piece.area > 0]
