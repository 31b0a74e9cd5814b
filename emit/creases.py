"""How creases are drawn for a machine: whole, as real cuts and bridges, or as ticks at their ends.

A perforation is written as real short lines, since a cutting program may cut a dashed line as a solid one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from foldwright.solver.card import Line, Machine, Part, Point, Stroke
from foldwright.solver.practice import perforation

CREASES = (Stroke.MOUNTAIN, Stroke.VALLEY)
_NEAR = 0.01  # mm; a crease may leave its outline by as much as the proof allows, and ends at a slot as near as this
_EDGE = 0.05  # mm from a crease's end within which a line that crosses it only meets its end
_STEP = 0.1  # mm by which a cut is moved away from a sharp corner


def as_made(part: Part, machine: Machine, caliper: float, habits: Mapping[str, float]) -> tuple[Line, ...]:
    """The creases of a part as a machine makes them in a sheet of a caliper in mm; `habits` are workshop practice by name."""
    if machine.creases == "perforated":
        dash, gap = perforation(caliper, habits, machine.dash, machine.gap)
        return tuple(perforated(part, dash, gap, min(habits["perforation.least"], dash, gap), machine.kerf))
    if machine.creases == "ticked":
        return tuple(ticked(part, tick_length(machine, habits)))
    return tuple(line for line in part.lines if line.stroke in CREASES)


def tick_length(machine: Machine, habits: Mapping[str, float]) -> float:
    """Length of the ticks at the ends of creases, mm."""
    return machine.tick or habits["tick.length"]


def whole(part: Part) -> tuple[tuple[Line, LineString], ...]:
    """Each crease of a part in pieces that run from edge to edge: no cut, hole or other crease crosses a piece."""
    lines = [(line, LineString(line.points)) for line in part.lines if line.stroke is not Stroke.MARK]
    return tuple((line, piece) for line, drawn in lines if line.stroke in CREASES
                 for piece in _pieces(drawn, part, [other for _, other in lines if other is not drawn]))


def _pieces(crease: LineString, part: Part, others: Sequence[LineString]) -> Iterator[LineString]:
    """The crease between what it meets, in order."""
    inside = shapely.intersection(crease, shapely.buffer(part.outline, _NEAR))
    for stretch in _lines(inside):
        stops = {0.0, stretch.length}
        for other in others:
            for met in shapely.get_parts(shapely.intersection(stretch, other)):
                stops |= {stretch.project(shapely.Point(xy)) for xy in shapely.get_coordinates(met)}
        near = sorted(stops)
        kept = [near[0]]
        for stop in near[1:]:
            if stop - kept[-1] > _EDGE:
                kept.append(stop)
        kept[-1] = max(kept[-1], stretch.length) if stretch.length - kept[-1] <= _EDGE else kept[-1]
        for start, end in pairwise(kept):
            piece = substring(stretch, start, end)
            if not any(shapely.covers(shapely.buffer(other, _NEAR), piece) for other in others):
                yield piece


def _lines(geometry: BaseGeometry) -> Iterator[LineString]:
    for piece in shapely.get_parts(geometry):
        if isinstance(piece, LineString) and piece.length > _EDGE:
            yield piece


def cuts(length: float, dash: float, gap: float, least: float) -> list[tuple[float, float]]:
    """From where to where a piece of crease is cut, mm: bridges of `gap` between equal cuts and at both ends.

    There are as many cuts as bring each nearest to `dash`. Where a cut would be shorter than `least`, one cut and both
    bridges share the piece evenly; a piece that is too short for that is not cut.
    """
    if length < 3 * least:
        return []
    each = [(length - gap) / count - gap for count in range(1, max(2, int((length - gap) / (least + gap)) + 1))]
    count, cut = min(enumerate(each, 1), key=lambda choice: abs(choice[1] - dash))
    if cut < least:
        count, gap = 1, length / 3
        cut = gap
    return [(gap + number * (cut + gap), gap + number * (cut + gap) + cut) for number in range(count)]


def perforated(part: Part, dash: float, gap: float, least: float, kerf: float = 0.0) -> Iterator[Line]:
    """The creases of a part as cuts, each shorter by the kerf; what is too short to be cut is a mark. All in mm."""
    for line, whole_piece in whole(part):
        piece = _off_corners(whole_piece, part, gap, least)
        spans = cuts(piece.length, dash, gap, least)
        if not spans:
            yield Line(_points(piece), Stroke.MARK)
        for start, end in spans:
            yield Line(_points(substring(piece, *shorter(start, end, kerf))), line.stroke)


def _off_corners(piece: LineString, part: Part, gap: float, least: float) -> LineString:
    """A piece of crease without what is too near a sharp corner: where its first cut begins, `least` mm of paper stay beside it.

    At most a quarter goes at each end.
    """
    edges, ends = part.outline.boundary, []
    shapely.prepare(edges)
    for way in (piece, shapely.reverse(piece)):
        steps = np.arange(0.0, piece.length / 4, _STEP)
        clear = shapely.distance(shapely.line_interpolate_point(way, steps + gap), edges) >= least - _NEAR
        ends.append(float(steps[clear.argmax()]) if clear.any() else 0.0)
    return piece if ends == [0.0, 0.0] else substring(piece, ends[0], piece.length - ends[1])


def shorter(start: float, end: float, kerf: float) -> tuple[float, float]:
    """From where to where the tool's middle runs in a cut; one that is no longer than the kerf becomes a dot."""
    half = min(kerf / 2, 0.45 * (end - start))
    return start + half, end - half


def ticked(part: Part, tick: float) -> Iterator[Line]:
    """The creases of a part as ticks of `tick` mm at both ends of each, on a short crease of a quarter of its length.

    A machine without a pen cuts them, so half of every crease has to stay.
    """
    for line, piece in whole(part):
        long = min(tick, piece.length / 4)
        yield Line(_points(substring(piece, 0, long)), line.stroke)
        yield Line(_points(substring(piece, piece.length - long, piece.length)), line.stroke)


def _points(line: LineString) -> tuple[Point, ...]:
    return tuple((x, y) for x, y, *_ in line.coords)
