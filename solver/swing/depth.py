"""How deep two panels overlap at one angle, for panels known to pass through each other."""

from __future__ import annotations

import numpy as np
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from foldwright.solver.swing.shapes import Floats, Shapes
from foldwright.solver.swing.stand import Stand

LONG = 2000.0  # mm, beyond both ends of any panel
SHORT = 1e-9  # mm


def depth(shapes: Shapes, stand: Stand, first: int, second: int, moment: int) -> float:
    """The least amount by which one of the panels would have to be cut back in its own plane, mm.

    It is the length of the longest stretch along which both have paper where their planes meet, or what reaches
    through to one side of the other panel, whichever is least. 0 if they do not overlap after all.
    """
    axes, origin = stand.axes[moment], stand.origin[moment]
    along = np.cross(axes[first, 2], axes[second, 2])
    along = along / np.linalg.norm(along)
    matrix = np.array([axes[first, 2], axes[second, 2], along])
    wanted = np.array([axes[first, 2] @ origin[first], axes[second, 2] @ origin[second], along @ origin[first]])
    start = np.linalg.solve(matrix, wanted)
    lines = {p: _line(start - origin[p], along, axes[p]) for p in (first, second)}
    runs = [_paper(shapes.outlines[p], *lines[p]) for p in (first, second)]
    shared = [(max(a, c), min(b, d)) for a, b in runs[0] for c, d in runs[1] if min(b, d) > max(a, c)]
    if not shared:
        return 0.0
    length = max(b - a for a, b in shared)
    return min(length, *(_reach(shapes, p, *lines[p]) for p in (first, second)))


def _line(offset: Floats, along: Floats, axes: Floats) -> tuple[Floats, Floats]:
    """A line in space as a point and a direction in a panel's part coordinates."""
    return axes[:2] @ offset, axes[:2] @ along


def _paper(outline: BaseGeometry, start: Floats, along: Floats) -> list[tuple[float, float]]:
    """Stretches of paper along a line, as distances from its start."""
    cut = outline.intersection(LineString([start - LONG * along, start + LONG * along]))
    pieces = [piece for piece in getattr(cut, "geoms", [cut]) if piece.geom_type == "LineString" and piece.length > SHORT]
    spans = [(np.asarray(piece.coords) - start) @ along for piece in pieces]
    return [(float(span.min()), float(span.max())) for span in spans]


def _reach(shapes: Shapes, panel: int, start: Floats, along: Floats) -> float:
    """How far a panel reaches beyond a line in its plane, on the side where it is less."""
    edges = shapes.outer
    corners = edges.start[edges.first[panel]:edges.first[panel + 1]] - start
    beside = corners @ np.array([-along[1], along[0]])
    return float(min(beside.max(), -beside.min()))
