"""Creases of a settled card: what is left of each beside openings, how far it is turned, mountain or valley."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from foldwright.solver.card import Panel, Placement, Point, Stroke, Vector
from foldwright.solver.flat import Flat, Seam
from foldwright.solver.geometry import cross, dot, unit

GRID = 1e-6  # mm; outlines of one part are joined on this grid, far below what any machine cuts
CRUMB = 0.01  # mm; a shorter piece of crease is rounding at an opening's corner


def seams(flats: Collection[Flat], panels: Collection[Panel]) -> Iterator[Seam]:
    """All seams; one that runs across an opening of its panels becomes the stretches that are left of it."""
    outlines = {panel.name: panel.outline for panel in panels}
    built = {panel.name: panel.outline for flat in flats for panel in flat.panels}
    for flat in flats:
        for seam in flat.seams:
            if all(outlines[panel] is built[panel] for panel in (seam.left, seam.right)):
                yield seam
                continue
            paper = outlines[seam.left].buffer(10 * GRID).intersection(outlines[seam.right].buffer(10 * GRID))
            line = LineString([seam.start, seam.end])
            kept = line.intersection(paper)
            for piece in getattr(kept, "geoms", [kept]):
                if piece.length > CRUMB:
                    yield Seam(seam.left, seam.right, *trimmed(line, piece, 10 * GRID))


def trimmed(line: LineString, piece: LineString, slack: float) -> tuple[Point, Point]:
    """Ends of a piece of a crease, along the crease; those within it are `slack` too far out."""
    near, far = sorted(line.project(shapely.Point(end)) for end in (piece.coords[0], piece.coords[-1]))
    near = near + slack if near > slack else 0.0
    far = far - slack if far < line.length - slack else line.length
    ends = [line.interpolate(at) for at in (near, far)]
    return (ends[0].x, ends[0].y), (ends[1].x, ends[1].y)


def stroke(poses: Mapping[str, Placement], outlines: Mapping[str, Polygon], seam: Seam) -> Stroke:
    """Mountain or valley, as a crease is turned most."""
    turns = fold_turns(poses[seam.left], poses[seam.right], outlines[seam.left], seam.start, seam.end)
    return Stroke.MOUNTAIN if max(turns.tolist(), key=abs) > 0 else Stroke.VALLEY


def fold_turns(left: Placement, right: Placement, outline: Polygon, start: Point, end: Point) -> Vector:
    """How far a crease is turned at n moments, degrees, shape (n,): 0 flat, positive mountain, negative valley.

    Seen on the printed face. `outline` is the left panel's, in part coordinates; it tells on which side of the crease that
    panel lies.
    """
    first, last = np.moveaxis(left.points(np.array([start, end])), 1, 0)
    along = unit(last - first)
    normals = [cross(placement.along, placement.up) for placement in (left, right)]
    sine, cosine = dot(cross(*normals), along)[:, 0], dot(*normals)[:, 0]
    turns: Vector = np.degrees(np.arctan2(sine, cosine))
    centre = outline.centroid
    beside = (end[0] - start[0]) * (centre.y - start[1]) - (end[1] - start[1]) * (centre.x - start[0])
    return turns if beside > 0 else -turns
