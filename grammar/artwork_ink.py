"""Strokes of a drawing: as outlines to be cut, or as lines drawn on what is cut."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from foldwright.grammar.artwork_curves import Curve, Ink, Point, SubPath
from foldwright.grammar.artwork_items import Drawing, Shape, Stroke
from foldwright.grammar.artwork_strokes import MOST_PIECES, outlines
from foldwright.grammar.artwork_values import LARGEST_NUMBER, ArtworkFault, unreadable

if TYPE_CHECKING:
    from fontTools.misc.transform import Transform

    from foldwright.grammar.artwork_outline import Scale

_FINER = 0.25  # share of the chord error that the edges of strokes may be off; the chords then come on top
_LEAST = 0.002  # of the extent: a shorter bit of a line that the silhouette's edge leaves is none


def stroke_shapes(drawing: Drawing) -> list[Shape]:
    """The strokes that become outlines, as pieces whose union they are."""
    from foldwright.grammar.artwork_outline import CHORD

    strokes = [(stroke, _stretch(stroke.matrix)) for stroke in drawing.strokes]
    if not strokes:
        return []
    items: tuple[Shape | Stroke, ...] = (*drawing.shapes, *drawing.strokes)
    rough = np.array([at for item in items for at in _points(item)])
    if not (np.abs(rough) <= LARGEST_NUMBER).all():  # written so that nan fails too
        raise unreadable(f"its coordinates go past {LARGEST_NUMBER:g} drawing units")
    widest = max((stroke.pen.width * stretch for stroke, stretch in strokes if stroke.pen), default=0.0)
    extent = max(float((rough.max(axis=0) - rough.min(axis=0)).max()), widest)
    found: list[Shape] = []
    for stroke, stretch in strokes:
        if stroke.pen is None or not stretch:
            continue
        for piece in outlines(stroke.paths, stroke.pen, _FINER * CHORD * extent / stretch, MOST_PIECES - len(found)):
            found.append(Shape((piece.moved(stroke.matrix),), False, f"the stroke of {stroke.name}", stroke.clips, piece=True))
    return found


def drawn_lines(strokes: Sequence[Stroke], inside: Polygon, scale: Scale) -> Ink:
    """The lines inside a silhouette, in drawing units.

    What lies outside is left out; a line that lies wholly outside is a fault, because it would be lost.
    """
    from foldwright.grammar.artwork_outline import MOST_POINTS, Fill

    fill, found, curves, count = Fill(scale), list[tuple[Point, ...]](), list[Curve](), 0
    for stroke in strokes:
        kept = 0
        for path in (path.moved(stroke.matrix) for path in stroke.paths):
            steps = path.steps(scale.chord)
            count += sum(steps)
            if count > MOST_POINTS:
                raise unreadable(f"its lines need more than {MOST_POINTS} points to be followed; simplify it")
            pieces = _inside(path, steps, stroke, inside, fill)
            found += pieces
            kept += len(pieces)
            curves += path.curves(scale.chord) if pieces else ()
        if not kept and not stroke.clips:
            raise ArtworkFault("stroked", f"{stroke.name} is only a stroked line, and lies beside all that is filled")
    return Ink(tuple(found), tuple(curves))


def _inside(path: SubPath, steps: Sequence[int], stroke: Stroke, inside: Polygon, fill: object) -> list[tuple[Point, ...]]:
    from foldwright.grammar.artwork_outline import Fill

    assert isinstance(fill, Fill)
    points = np.array(path.points(steps))
    if not (np.abs(points) <= LARGEST_NUMBER).all():
        raise unreadable(f"its coordinates go past {LARGEST_NUMBER:g} drawing units")
    points = np.round(points, fill.scale.decimals)
    points = points[np.append(True, (points[1:] != points[:-1]).any(axis=1))]
    if len(points) < 2:
        return []
    line = LineString(points)
    if not stroke.clips and inside.covers(line):
        return [tuple(map(tuple, points.tolist()))]
    seen = shapely.line_merge(shapely.intersection(fill.seen(stroke, line), inside))
    pieces = [piece for piece in shapely.get_parts(seen) if piece.geom_type == "LineString"]
    return [tuple((x, y) for x, y, *_ in piece.coords) for piece in pieces if piece.length > _LEAST * fill.scale.extent]


def _points(item: Shape | Stroke) -> list[Point]:
    """Points on an item, few of them."""
    paths = item.paths if isinstance(item, Shape) else [path.moved(item.matrix) for path in item.paths]
    return [at for path in paths for at in path.points([8] * len(path.segments))]


def _stretch(matrix: Transform) -> float:
    """The farthest that a map stretches anything, as its largest singular value; 0 if it flattens everything."""
    a, b, c, d, *_ = matrix
    if a * d - b * c == 0:
        return 0.0
    even, odd = hypot(a + d, b - c), hypot(a - d, b + c)
    return (even + odd) / 2
