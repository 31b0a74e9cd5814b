"""Lines of straight and curved segments: how they are stored, flattened, cut, and put as circular arcs.

All lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, cos, hypot, inf, sin, tan

import numpy as np
from numpy.typing import NDArray

from foldwright.grammar.artwork_curves import Arc, Cubic

Floats = NDArray[np.float64]
Point = tuple[float, float]
Bend = tuple[Point, Point] | None  # the two control points of a cubic, or None for a straight line
Control = tuple[Point, Point, Point, Point]

ARC_CUBIC = 0.002  # how far the cubics that stand for a circular arc may be from it
ARC_FIT = 0.015  # how far circular arcs may be from a curve; the files' rounding and `curves.MATCH` come on top (limit 0.02)


@dataclass(frozen=True, slots=True)
class Path:
    """A closed line: its nodes, and for each the bend of the segment from it to the next; the first is not repeated."""

    points: tuple[Point, ...]
    bends: tuple[Bend, ...]  # empty if all segments are straight

    @property
    def segments(self) -> Iterator[tuple[Point, Bend, Point]]:
        """From each node to the next, the one that closes it included."""
        return zip(self.points, self.bends or (None,) * len(self.points), (*self.points[1:], *self.points[:1]), strict=True)

    def flattened(self, tolerance: float) -> Floats:
        """Points along it, shape (n, 2), whose chords stay within `tolerance`; the first is not repeated."""
        return np.concatenate([flat(*segment, tolerance) for segment in self.segments])


def cut(start: Point, cubic: Cubic, begin: float, end: float) -> Control:
    """Control points of a cubic's stretch from t = begin to t = end, which may be the smaller one (de Casteljau)."""
    points = (start, cubic.first, cubic.second, cubic.end)
    if (begin, end) == (0.0, 1.0):
        return points
    if (begin, end) == (1.0, 0.0):
        return points[::-1]
    first, second, third, fourth = (_blossom(points, *ts) for ts in (
        (begin, begin, begin), (begin, begin, end), (begin, end, end), (end, end, end)))
    return first, second, third, fourth


def _blossom(points: Sequence[Point], *ts: float) -> Point:
    """The polar form of a cubic at three values of t."""
    row = list(points)
    for t in ts:
        row = [((1 - t) * a[0] + t * b[0], (1 - t) * a[1] + t * b[1]) for a, b in pairwise(row)]
    return row[0]


def arc_cubics(arc: Arc, begin: float, end: float) -> Iterator[Control]:
    """As few cubics as stay within `ARC_CUBIC` of an arc's stretch.

    A cubic with the usual handles, 4/3 tan(h/4) of the radius, is farther out than the unit circle by at most
    4/27 sin(h/4)^6 / cos(h/4)^2 for an angle h (Goldapp 1991, from memory; half of it, 2/27, is the radial error; the
    larger bound is taken). A quarter is the most that one cubic stands for.
    """
    sweep, size = arc.sweep * (end - begin), max(hypot(*arc.u), hypot(*arc.v))
    count = max(1, -int(-abs(sweep) / 1.5708 // 1))
    while size * 4 / 27 * sin(abs(sweep) / count / 4) ** 6 / cos(sweep / count / 4) ** 2 > ARC_CUBIC:
        count += 1
    step = sweep / count
    reach = 4 / 3 * tan(step / 4)

    def look(angle: float) -> tuple[Point, Point]:
        c, s, (ux, uy), (vx, vy) = cos(angle), sin(angle), arc.u, arc.v
        return (arc.centre[0] + ux * c + vx * s, arc.centre[1] + uy * c + vy * s), (vx * c - ux * s, vy * c - uy * s)

    for number in range(count):
        angle = arc.begin + arc.sweep * begin + step * number
        (p, a), (q, b) = look(angle), look(angle + step)
        yield p, (p[0] + reach * a[0], p[1] + reach * a[1]), (q[0] - reach * b[0], q[1] - reach * b[1]), q


def flat(start: Point, bend: Bend, end: Point, tolerance: float) -> Floats:
    """Points of a segment, its start included and its end left out, whose chords stay within `tolerance`."""
    if bend is None:
        return np.array([start])
    cubic = Cubic(*bend, end)
    return np.array([start, *cubic.points(start, cubic.steps(start, tolerance))[:-1]])


def arcs(start: Point, bend: Bend, end: Point, tolerance: float = ARC_FIT) -> list[tuple[Point, float]]:
    """A segment as circular arcs within `tolerance`: for each the point where it begins, and its bulge.

    The bulge is the tangent of a quarter of the arc's angle, positive anticlockwise (DXF reference, LWPOLYLINE).
    """
    if bend is None:
        return [(start, 0.0)]
    found: list[tuple[Point, float]] = []
    todo: list[Control] = [(start, *bend, end)]
    while todo:
        piece = todo.pop()
        bulge, away = _bulge(piece)
        if away <= tolerance:
            found.append((piece[0], bulge))
        else:
            cubic = Cubic(*piece[1:])
            todo += [cut(piece[0], cubic, 0.5, 1.0), cut(piece[0], cubic, 0.0, 0.5)]
    return found


def _bulge(piece: Control) -> tuple[float, float]:
    """The bulge of the arc through the ends and the middle of a cubic, and how far the cubic leaves it."""
    (x0, y0), (x3, y3) = piece[0], piece[3]
    places = [_blossom(piece, k / 8, k / 8, k / 8) for k in range(1, 8)]
    (xm, ym), chord = places[3], hypot(x3 - x0, y3 - y0)
    small = max(hypot(x - x0, y - y0) for x, y in piece)
    if small < 1e-9:
        return 0.0, 0.0
    turn = atan2((x0 - xm) * (y3 - ym) - (y0 - ym) * (x3 - xm), (x0 - xm) * (x3 - xm) + (y0 - ym) * (y3 - ym))
    if chord < 1e-9 or turn == 0:
        return 0.0, inf
    bulge = -1 / tan(turn / 2)
    if abs(bulge) > 1:  # beyond half a circle samples would not tell the two sides apart
        return 0.0, inf
    nx, ny = (y3 - y0) / chord, (x0 - x3) / chord  # to the right of the way, where an anticlockwise arc lies
    if abs(bulge) < 1e-7:
        return 0.0, max(abs((x - x0) * nx + (y - y0) * ny) for x, y in places)
    radius = chord * (1 + bulge * bulge) / (4 * bulge)
    back = radius - bulge * chord / 2
    cx, cy = (x0 + x3) / 2 - back * nx, (y0 + y3) / 2 - back * ny
    return bulge, max(abs(hypot(x - cx, y - cy) - abs(radius)) for x, y in places)
