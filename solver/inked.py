"""What artwork draws on a part: its lines as marks, as far as they lie on the part's paper."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely.geometry import LineString, Polygon

from foldwright.solver.card import Drawn, Line, Stroke

CRUMB = 0.2  # mm; a shorter bit of a line, left by an edge or a slot that it crosses, is none


def inked(drawn: Sequence[Drawn], outline: Polygon) -> tuple[Line, ...]:
    """The drawn lines of artwork on a part with that outline; what a slot or a window takes away is left out."""
    found: list[Line] = []
    for art in drawn:
        for points in art.ink.moved(art.matrix).lines if art.ink.lines else ():
            line = LineString(points)
            if outline.covers(line):
                found.append(Line(points, Stroke.MARK))
                continue
            seen = shapely.line_merge(shapely.intersection(line, outline))
            pieces = [piece for piece in shapely.get_parts(seen) if piece.geom_type == "LineString" and piece.length > CRUMB]
            found += [Line(tuple((x, y) for x, y, *_ in piece.coords), Stroke.MARK) for piece in pieces]
    return tuple(found)
