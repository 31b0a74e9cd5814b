"""Strokes as outlines: each stroke becomes simple closed pieces whose union it is (SVG 1.1 section 11.4).

A stroke is what a straight pen, held across the way, passes over; and at corners and ends what its joins and caps add.
Lines become rectangles and circular arcs become parts of rings, exactly. Along other curves both edges are cubics with
the place, the direction and the speed of the true parallel at their ends, halved until they stay within the tolerance.
Where a curve is too tight for its pen, so that the inner edge has a cusp, the pieces are the quadrilaterals between
neighbouring positions of the pen.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import acos, ceil, cos, hypot, pi, sin, sqrt

from foldwright.grammar.artwork_curves import Arc, Cubic, Line, Point, Segment, SubPath
from foldwright.grammar.artwork_pen import Pen
from foldwright.grammar.artwork_values import unreadable

MOST_PIECES = 20_000  # of all strokes of a drawing
_SMOOTH = 1e-6  # sine of the angle below which two segments go on straight
_TIGHT = 0.95  # a curve whose radius is below the pen's half width over this has no smooth inner edge
_MOST_TURN = pi / 2  # of a curve along one piece, which then cannot come round to itself
_LEAST = 1 / 64  # in t: a curve is not halved beyond this
_SAMPLES = 200  # chords by which the length of a curve is measured: off by less than a millionth on drawn curves
_DOT = 1e-4  # widths of the pen, to find where a dash of no length lies


@dataclass(frozen=True, slots=True)
class _Piece:
    """A segment with its start."""

    start: Point
    segment: Segment

    @property
    def end(self) -> Point:
        return self.segment.end

    def state(self, t: float) -> tuple[Point, Point, Point]:
        """Place, first and second derivative by t."""
        (x0, y0), segment = self.start, self.segment
        if isinstance(segment, Line):
            x1, y1 = segment.end
            return (x0 + t * (x1 - x0), y0 + t * (y1 - y0)), (x1 - x0, y1 - y0), (0.0, 0.0)
        if isinstance(segment, Arc):
            (cx, cy), (ux, uy), (vx, vy), w = segment.centre, segment.u, segment.v, segment.sweep
            c, s = cos(segment.begin + w * t), sin(segment.begin + w * t)
            return ((cx + c * ux + s * vx, cy + c * uy + s * vy), (w * (c * vx - s * ux), w * (c * vy - s * uy)),
                    (-w * w * (c * ux + s * vx), -w * w * (c * uy + s * vy)))
        (x1, y1), (x2, y2), (x3, y3), r = segment.first, segment.second, segment.end, 1 - t
        a, b, c, d = r * r * r, 3 * r * r * t, 3 * r * t * t, t * t * t
        e, f, g = 3 * r * r, 6 * r * t, 3 * t * t
        bend = (x0 - 2 * x1 + x2, y0 - 2 * y1 + y2), (x1 - 2 * x2 + x3, y1 - 2 * y2 + y3)
        return ((a * x0 + b * x1 + c * x2 + d * x3, a * y0 + b * y1 + c * y2 + d * y3),
                (e * (x1 - x0) + f * (x2 - x1) + g * (x3 - x2), e * (y1 - y0) + f * (y2 - y1) + g * (y3 - y2)),
                (6 * r * bend[0][0] + 6 * t * bend[1][0], 6 * r * bend[0][1] + 6 * t * bend[1][1]))

    def direction(self, t: float) -> Point:
        """The way that it goes at t, of length 1; (0, 0) if it does not go anywhere."""
        _, first, second = self.state(t)
        back = -1.0 if t > 0.5 else 1.0
        far = self.state(1 - t)[0]
        chord = (back * (far[0] - self.state(t)[0][0]), back * (far[1] - self.state(t)[0][1]))
        size = max(hypot(*first), hypot(*second), hypot(*chord))
        for x, y in (first, (back * second[0], back * second[1]), chord):
            length = hypot(x, y)
            if length > 1e-9 * size:  # a control point on its end leaves no first derivative there
                return x / length, y / length
        return 0.0, 0.0

    def between(self, t0: float, t1: float) -> _Piece:
        """The stretch from t0 to t1."""
        (start, d0, _), (end, d1, _), h = self.state(t0), self.state(t1), (t1 - t0) / 3
        if isinstance(self.segment, Line):
            return _Piece(start, Line(end))
        if isinstance(self.segment, Arc):
            arc, sweep = self.segment, self.segment.sweep
            return _Piece(start, Arc(arc.centre, arc.u, arc.v, arc.begin + sweep * t0, sweep * (t1 - t0), end))
        return _Piece(start, Cubic((start[0] + h * d0[0], start[1] + h * d0[1]), (end[0] - h * d1[0], end[1] - h * d1[1]), end))

    def lengths(self) -> list[float]:
        """How long it is up to each of the evenly spaced t, 0 first."""
        if isinstance(self.segment, Line):
            return [0.0, hypot(self.end[0] - self.start[0], self.end[1] - self.start[1])]
        at, found = self.start, [0.0]
        for step in range(1, _SAMPLES + 1):
            to = self.state(step / _SAMPLES)[0]
            found.append(found[-1] + hypot(to[0] - at[0], to[1] - at[1]))
            at = to
        return found


def outlines(paths: Sequence[SubPath], pen: Pen, tolerance: float, budget: int) -> list[SubPath]:
    """Simple closed pieces whose union is the stroke of the paths, in the paths' own coordinates.

    Edges of curves stay within `tolerance` of the true ones. More than `budget` pieces are refused.
    """
    found: list[SubPath] = []
    for run, closed in (part for path in paths for part in _dashed(path, pen, budget)):
        for piece in _stroke(run, closed, pen, tolerance):
            found.append(piece)
            if len(found) > budget:
                raise unreadable(f"its strokes have more than {MOST_PIECES} pieces; simplify it")
    return found


def _stroke(run: Sequence[_Piece], closed: bool, pen: Pen, tolerance: float) -> Iterator[SubPath]:
    r = pen.width / 2
    moving = [piece for piece in run if piece.direction(0.0) != (0.0, 0.0)]
    if not moving:
        if run and pen.cap == "round":
            yield _disc(run[0].start, r)
        if run and pen.cap == "square":
            x, y = run[0].start
            yield _polygon((x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r))
        return
    for piece in moving:
        yield from _along(piece, r, tolerance)
    for before, after in pairwise(moving):
        yield from _join(after.start, before.direction(1.0), after.direction(0.0), pen)
    if closed:
        yield from _join(moving[0].start, moving[-1].direction(1.0), moving[0].direction(0.0), pen)
    else:
        x, y = moving[0].direction(0.0)
        yield from _cap(moving[0].start, (-x, -y), pen)
        yield from _cap(moving[-1].end, moving[-1].direction(1.0), pen)


def _polygon(*points: Point) -> SubPath:
    return SubPath(points[0], tuple(Line(point) for point in (*points[1:], points[0])), True)


def _disc(at: Point, r: float) -> SubPath:
    (x, y), u, v = at, (r, 0.0), (0.0, r)
    right, left = (x + r, y), (x - r, y)
    return SubPath(right, (Arc(at, u, v, 0.0, pi, left), Arc(at, u, v, pi, pi, right)), True)


def _cap(at: Point, way: Point, pen: Pen) -> Iterator[SubPath]:
    r, (x, y), (dx, dy) = pen.width / 2, at, way
    if pen.cap == "round":
        yield _disc(at, r)
    elif pen.cap == "square":
        left, right = (x - r * dy, y + r * dx), (x + r * dy, y - r * dx)
        yield _polygon(left, right, (right[0] + r * dx, right[1] + r * dy), (left[0] + r * dx, left[1] + r * dy))


def _join(at: Point, before: Point, after: Point, pen: Pen) -> Iterator[SubPath]:
    """What a corner adds on its outer side."""
    r, (x, y) = pen.width / 2, at
    turn = before[0] * after[1] - before[1] * after[0]
    along = before[0] * after[0] + before[1] * after[1]
    if abs(turn) < _SMOOTH and along > 0:
        return
    if pen.join == "round":
        yield _disc(at, r)
        return
    side = -r if turn > 0 else r  # the outer side lies to the right of a turn to the left
    first, last = (x - side * before[1], y + side * before[0]), (x - side * after[1], y + side * after[0])
    half = sqrt(max(0.0, (1 + along) / 2))  # sine of half the angle between the two segments
    if pen.join == "miter" and half * pen.limit >= 1:
        stretch = side / (1 + along)
        tip = (x - stretch * (before[1] + after[1]), y + stretch * (before[0] + after[0]))
        yield _polygon(at, first, tip, last)
    elif abs(turn) >= _SMOOTH:
        yield _polygon(at, first, last)


# ---- along one segment


def _along(piece: _Piece, r: float, tolerance: float) -> Iterator[SubPath]:
    segment = piece.segment
    if isinstance(segment, Line):
        (x, y), (dx, dy), (ex, ey) = piece.start, piece.direction(0.0), piece.end
        yield _polygon((x - r * dy, y + r * dx), (ex - r * dy, ey + r * dx), (ex + r * dy, ey - r * dx), (x + r * dy, y - r * dx))
        return
    if isinstance(segment, Arc):
        u, v = hypot(*segment.u), hypot(*segment.v)
        round_ = abs(u - v) <= 1e-9 * u and abs(segment.u[0] * segment.v[0] + segment.u[1] * segment.v[1]) <= 1e-9 * u * v
        if round_ and u * _TIGHT > r:
            yield _ring(piece, segment, u, r)
            return
    yield from _parallel(piece, 0.0, 1.0, r, tolerance)


def _ring(piece: _Piece, arc: Arc, radius: float, r: float) -> SubPath:
    """The part of a ring along a circular arc: its outer edge forwards, its inner edge back."""
    def scaled(by: float) -> tuple[Point, Point, Point, Point]:
        (cx, cy), (sx, sy), (ex, ey) = arc.centre, piece.start, arc.end
        return ((by * arc.u[0], by * arc.u[1]), (by * arc.v[0], by * arc.v[1]),
                (cx + by * (sx - cx), cy + by * (sy - cy)), (cx + by * (ex - cx), cy + by * (ey - cy)))

    u, v, start, end = scaled(1 + r / radius)
    w, z, first, last = scaled(1 - r / radius)
    back = Arc(arc.centre, w, z, arc.begin + arc.sweep, -arc.sweep, first)
    return SubPath(start, (Arc(arc.centre, u, v, arc.begin, arc.sweep, end), Line(last), back, Line(start)), True)


def _parallel(piece: _Piece, t0: float, t1: float, r: float, tolerance: float) -> Iterator[SubPath]:
    """Pieces of the stroke of a curve from t0 to t1."""
    ts = [t0 + share * (t1 - t0) for share in (0.0, 0.25, 0.5, 0.75, 1.0)]
    if max(abs(_bend(piece, t)) for t in ts) * r <= _TIGHT and _turned([piece.direction(t) for t in ts]) <= _MOST_TURN:
        edges = [_edge(piece, t0, t1, side, tolerance) for side in (r, -r)]
        if edges[0] is not None and edges[1] is not None:
            (start, left), (back, right) = edges[0], edges[1]
            turned = Cubic(right.second, right.first, back)
            yield SubPath(start, (left, Line(right.end), turned, Line(start)), True)
            return
    if t1 - t0 > _LEAST:
        middle = (t0 + t1) / 2
        yield from _parallel(piece, t0, middle, r, tolerance)
        yield from _parallel(piece, middle, t1, r, tolerance)
    else:
        yield from _swept(piece, t0, t1, r, tolerance)


def _bend(piece: _Piece, t: float) -> float:
    """Curvature, positive to the left; 0 where the curve stands still."""
    _, (x, y), (a, b) = piece.state(t)
    speed = hypot(x, y)
    cube = speed * speed * speed
    return (x * b - y * a) / cube if cube > 1e-12 * max(1.0, hypot(a, b)) else 0.0


def _beside(piece: _Piece, t: float, side: float) -> Point:
    (x, y), (dx, dy) = piece.state(t)[0], piece.direction(t)
    return x - side * dy, y + side * dx


def _edge(piece: _Piece, t0: float, t1: float, side: float, tolerance: float) -> tuple[Point, Cubic] | None:
    """The parallel at a distance to the left from t0 to t1 as one cubic, if one is near enough."""
    start, end, third = _beside(piece, t0, side), _beside(piece, t1, side), (t1 - t0) / 3
    (_, (ax, ay), _), (_, (bx, by), _) = piece.state(t0), piece.state(t1)
    a, b = third * (1 - side * _bend(piece, t0)), third * (1 - side * _bend(piece, t1))
    fit = _Piece(start, Cubic((start[0] + a * ax, start[1] + a * ay), (end[0] - b * bx, end[1] - b * by), end))
    for share in (0.15, 0.3, 0.5, 0.7, 0.85):
        (x, y), t = fit.state(share)[0], t0 + share * (t1 - t0)
        (px, py), (dx, dy) = _beside(piece, t, side), piece.direction(t)
        across, along = abs((y - py) * dx - (x - px) * dy), (x - px) * dx + (y - py) * dy
        curved = abs(_bend(piece, t)) / max(1e-3, abs(1 - side * _bend(piece, t)))
        if across + curved * along * along / 2 > tolerance:
            return None
    return start, fit.segment  # type: ignore[return-value]


def _swept(piece: _Piece, t0: float, t1: float, r: float, tolerance: float) -> Iterator[SubPath]:
    """The quadrilaterals between neighbouring positions of the pen."""
    ways = [piece.direction(t0 + step / 8 * (t1 - t0)) for step in range(9)]
    steps = max(8, ceil(_turned(ways) / (2 * acos(max(0.0, 1 - tolerance / (2 * r))))))
    ts = [t0 + step / steps * (t1 - t0) for step in range(steps + 1)]
    left, right = ([_beside(piece, t, side) for t in ts] for side in (r, -r))
    for a, b, c, d in zip(left, left[1:], right[1:], right, strict=False):
        yield from _hull(a, b, c, d)


def _turned(ways: Sequence[Point]) -> float:
    """How far directions turn from each to the next, radians altogether."""
    return sum(acos(max(-1.0, min(1.0, a[0] * b[0] + a[1] * b[1]))) for a, b in pairwise(ways))


def _hull(a: Point, b: Point, c: Point, d: Point) -> Iterator[SubPath]:
    """The convex hull of two positions of the pen, a to d and b to c."""
    def turn(p: Point, q: Point, s: Point) -> float:
        return (q[0] - p[0]) * (s[1] - p[1]) - (q[1] - p[1]) * (s[0] - p[0])

    points = sorted({a, b, c, d})
    rings: list[list[Point]] = []
    for way in (points, points[::-1]):
        ring: list[Point] = []
        for point in way:
            while len(ring) > 1 and turn(ring[-2], ring[-1], point) <= 0:
                ring.pop()
            ring.append(point)
        rings.append(ring[:-1])
    corners = rings[0] + rings[1]
    if len(corners) > 2:
        yield _polygon(*corners)


# ---- dashes


def _dashed(path: SubPath, pen: Pen, budget: int) -> Iterator[tuple[list[_Piece], bool]]:
    """The stretches of a path that are drawn, and whether one is closed."""
    run = [_Piece(*each) for each in zip(path.corners, path.segments, strict=True)]
    if not pen.dashes:
        yield run, path.closed
        return
    measured = [piece.lengths() for piece in run]
    whole, period = sum(lengths[-1] for lengths in measured), sum(pen.dashes)
    if whole / period * len(pen.dashes) > 2 * budget:
        raise unreadable(f"its strokes have more than {MOST_PIECES} pieces; simplify it")
    at, index = -(pen.offset % period), 0
    while at < whole:
        on, off = pen.dashes[index % len(pen.dashes)], pen.dashes[(index + 1) % len(pen.dashes)]
        if on > 0 and at + on > 0:
            yield list(_stretch(run, measured, max(at, 0.0), min(at + on, whole))), False
        elif on == 0 and at >= 0 and pen.cap != "butt":  # a dot; browsers draw square ones upright, wherever the line goes
            for piece in _stretch(run, measured, at, at + _DOT * pen.width):
                yield [_Piece(piece.start, Line(piece.start))], False
                break
        at, index = at + on + off, index + 2


def _stretch(run: Sequence[_Piece], measured: Sequence[Sequence[float]], begin: float, end: float) -> Iterator[_Piece]:
    """What lies between two distances along a run."""
    done = 0.0
    for piece, lengths in zip(run, measured, strict=True):
        low, high = max(begin - done, 0.0), min(end - done, lengths[-1])
        if high > low:
            yield piece.between(_t_at(lengths, low), _t_at(lengths, high))
        done += lengths[-1]


def _t_at(lengths: Sequence[float], distance: float) -> float:
    """t at a distance from the start, by the lengths up to evenly spaced t."""
    from bisect import bisect_right

    if distance >= lengths[-1]:
        return 1.0
    step = bisect_right(lengths, distance) - 1
    return (step + (distance - lengths[step]) / (lengths[step + 1] - lengths[step])) / (len(lengths) - 1)
