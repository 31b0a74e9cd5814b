"""The curves of lines that artwork draws on a part, found again as those of outlines are (`curves.py`)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import LineString

from foldwright.emit.bends import Path
from foldwright.emit.curves import Sources
from foldwright.emit.trace import Trace
from foldwright.solver.card import Line, Part, Point, Stroke

NEAR = 0.01  # mm; a curve farther from its points was not found rightly, and the points are kept


def mark_traces(part: Part) -> list[Trace]:
    """The lines of a part in their order, those along curves of its artwork with their bends."""
    curves = [curve for art in part.drawn for curve in art.ink.moved(art.matrix).curves] if _inked(part) else []
    if not curves:
        return [Trace(line.stroke, line.points) for line in part.lines]
    sources = Sources(curves)
    return [_trace(line, sources) if line.stroke is Stroke.MARK and len(line.points) > 2 else Trace(line.stroke, line.points)
            for line in part.lines]


def _inked(part: Part) -> bool:
    return any(art.ink.lines for art in part.drawn)


def _trace(line: Line, sources: Sources) -> Trace:
    closed = line.points[0] == line.points[-1]
    ring = line.points if closed else (*line.points, *line.points[-2::-1])  # an open line goes there and back
    path = sources.path(np.array(ring))
    points, bends = path.points, path.bends or (None,) * len(path.points)
    found = Trace(line.stroke, points, True, bends) if closed else _way_out(path, line.points)
    if found is None or shapely.hausdorff_distance(_drawn(found), LineString(line.points), densify=0.25) > NEAR:
        return Trace(line.stroke, line.points)
    return found if any(found.bends) else Trace(line.stroke, found.points, found.closed)


def _way_out(path: Path, points: Sequence[Point]) -> Trace | None:
    """Of a line there and back the way there."""
    nodes = np.array(path.points)
    count = len(nodes)
    first, last = (int(np.hypot(*(nodes - np.array(end)).T).argmin()) for end in (points[0], points[-1]))
    way = [(first + step) % count for step in range((last - first) % count + 1)]
    if len(way) < 2:
        return None
    bends = path.bends or (None,) * count
    return Trace(Stroke.MARK, tuple(path.points[k] for k in way), False, tuple(bends[k] for k in way[:-1]))


def _drawn(trace: Trace) -> LineString:
    points = trace.flattened(NEAR / 10)
    return LineString([*points, points[0]] if trace.closed else points)
