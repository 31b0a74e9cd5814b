"""Places of an outline that are thinner than paper should be, by a morphological opening.

A disc of the least width is rolled inside the outline; what it cannot reach is too thin, or the tip of a corner. A place
that the disc reaches from two sides is a neck, and its width the distance of its own two edges. One that it reaches from
one side is a tip: told only if it is long, since every corner has one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

import shapely
from shapely.geometry import LineString, Polygon

from foldwright.solver.card import Thin

TIP = 3.0  # widths that a tip may reach beyond the disc: sharper than 16 degrees, or a whisker (common practice, no source)
_SLACK = 0.02  # of the width, so that what is exactly as wide as the least is not found
_CRUMB = 0.02  # of the square of the width; a smaller place is rounding
_TOUCH = 1e-3  # mm
_ROUND = 16  # chords to a quarter circle of the disc: short of it by 0.0012 of its radius


def thin(outline: Polygon, least: float) -> tuple[Thin, ...]:
    """The places of an outline narrower than `least` mm, the narrowest first."""
    core = outline.buffer((_SLACK / 4 - 0.5) * least, quad_segs=_ROUND)
    reached = core.buffer((0.5 + _SLACK) * least, quad_segs=_ROUND)
    pieces = [piece for piece in shapely.get_parts(outline.difference(reached)) if piece.area > _CRUMB * least * least]
    found = (place for piece in pieces for place in _of(piece, reached, least))
    return tuple(sorted(found, key=lambda each: (round(each.width, 6), each.at)))


def _of(piece: Polygon, reached: shapely.Geometry, least: float) -> Iterator[Thin]:
    near = reached.buffer(_TOUCH)
    touching = _lines(piece.boundary.intersection(near))
    edges = _lines(piece.boundary.difference(near))
    if not touching:
        inner = shapely.maximum_inscribed_circle(piece, tolerance=least / 100)
        yield Thin(inner.coords[0], float(2 * inner.length))
    elif len(touching) > 1 and len(edges) > 1:
        gap = min((shapely.shortest_line(one, other) for one, other in combinations(edges, 2)), key=lambda line: line.length)
        (x0, y0), (x1, y1) = gap.coords
        yield Thin(((x0 + x1) / 2, (y0 + y1) / 2), float(gap.length))
    else:
        # from where the disc stops, not from the nearest paper, which may lie across a gap
        reach = float(max(shapely.distance(touching[0], shapely.points(piece.exterior.coords))))
        if reach > TIP * least:
            middle = piece.representative_point()
            yield Thin((middle.x, middle.y), float(min(piece.area / reach, least)))


def _lines(geometry: shapely.Geometry) -> Sequence[LineString]:
    """The lines of a geometry, those that meet joined."""
    lines = [part for part in shapely.get_parts(geometry) if part.geom_type == "LineString" and part.length > _TOUCH]
    return list(shapely.get_parts(shapely.line_merge(shapely.MultiLineString(lines)))) if lines else []
