"""Lines, cubic curves and elliptical arcs: moved by a transform and flattened to points within a chord error.

Arcs stay arcs until they are flattened: the usual cubic stand-in for a quarter circle is off by 0.00027 of
its radius, which is more than the chord error allowed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import acos, atan2, ceil, cos, hypot, pi, radians, sin, sqrt
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fontTools.misc.transform import Transform

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line to `end`."""

    end: Point

    def moved(self, matrix: Transform) -> Line:
        """The line under an affine map."""
        return Line(matrix.transformPoint(self.end))

    def steps(self, start: Point, tolerance: float) -> int:
        """One chord is exact."""
        return 1

    def points(self, start: Point, steps: int) -> list[Point]:
        """The end, after `start`."""
        return [self.end]


@dataclass(frozen=True, slots=True)
class Cubic:
    """A cubic curve with two control points to `end`."""

    first: Point
    second: Point
    end: Point

    def moved(self, matrix: Transform) -> Cubic:
        """The curve under an affine map."""
        return Cubic(*(matrix.transformPoint(point) for point in (self.first, self.second, self.end)))

    def steps(self, start: Point, tolerance: float) -> int:
        """How many chords stay within `tolerance` of the curve.

        A chord over a step h in t is off by at most h^2/8 times the largest second derivative, which for a
        cubic is 6 times the larger second difference of its control points (the derivative is linear: largest
        at an end).
        """
        (x0, y0), (x1, y1), (x2, y2), (x3, y3) = start, self.first, self.second, self.end
        bend = max(hypot(x0 - 2 * x1 + x2, y0 - 2 * y1 + y2), hypot(x1 - 2 * x2 + x3, y1 - 2 * y2 + y3))
        return max(1, ceil(sqrt(6 * bend / (8 * tolerance))))

    def points(self, start: Point, steps: int) -> list[Point]:
        """Ends of that many chords after `start`."""
        (x0, y0), (x1, y1), (x2, y2), (x3, y3) = start, self.first, self.second, self.end
        found = []
        for step in range(1, steps):
            t = step / steps
            s = 1 - t
            a, b, c, d = s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t
            found.append((a * x0 + b * x1 + c * x2 + d * x3, a * y0 + b * y1 + c * y2 + d * y3))
        return [*found, self.end]


@dataclass(frozen=True, slots=True)
class Arc:
    """Part of an ellipse, centre + u cos t + v sin t for t from `begin` through `sweep` radians, to `end`."""

    centre: Point
    u: Point
    v: Point
    begin: float
    sweep: float
    end: Point

    def moved(self, matrix: Transform) -> Arc:
        """The arc under an affine map: its conjugate radii u and v are mapped like vectors."""
        return Arc(
            matrix.transformPoint(self.centre),
            matrix.transformVector(self.u),
            matrix.transformVector(self.v),
            self.begin,
            self.sweep,
            matrix.transformPoint(self.end),
        )

    def steps(self, start: Point, tolerance: float) -> int:
        """How many chords stay within `tolerance` of the arc.

        On the unit circle a chord over the angle h is off by 1 - cos(h/2); the map (u v) stretches that by no
        more than its Frobenius norm.
        """
        stretch = sqrt(self.u[0] ** 2 + self.u[1] ** 2 + self.v[0] ** 2 + self.v[1] ** 2)
        if stretch <= tolerance:
            return 1
        step = 2 * acos(1 - tolerance / stretch)
        return max(1, ceil(abs(self.sweep) / step))

    def points(self, start: Point, steps: int) -> list[Point]:
        """Ends of that many chords after `start`."""
        (x, y), (ux, uy), (vx, vy) = self.centre, self.u, self.v
        found = []
        for step in range(1, steps):
            angle = self.begin + self.sweep * step / steps
            c, s = cos(angle), sin(angle)
            found.append((x + ux * c + vx * s, y + uy * c + vy * s))
        return [*found, self.end]


Segment = Line | Cubic | Arc


@dataclass(frozen=True, slots=True)
class SubPath:
    """One run of segments from `start`; `closed` says that the drawing closes it on purpose."""

    start: Point
    segments: tuple[Segment, ...]
    closed: bool

    @property
    def end(self) -> Point:
        """Where the last segment ends."""
        return self.segments[-1].end if self.segments else self.start

    def moved(self, matrix: Transform) -> SubPath:
        """The run under an affine map."""
        return SubPath(
            matrix.transformPoint(self.start),
            tuple(segment.moved(matrix) for segment in self.segments),
            self.closed,
        )

    @property
    def corners(self) -> tuple[Point, ...]:
        """Where segments meet, the start included and the end left out: the start of each segment."""
        return (self.start, *(segment.end for segment in self.segments[:-1]))

    def curves(self, tolerance: float) -> tuple[Curve, ...]:
        """Its segments, each on its own."""
        return tuple(Curve(*each) for each in zip(self.corners, self.segments, self.steps(tolerance), strict=True))

    def steps(self, tolerance: float) -> list[int]:
        """How many chords each segment takes to stay within `tolerance`."""
        return [segment.steps(at, tolerance) for at, segment in zip(self.corners, self.segments, strict=True)]

    def points(self, steps: Sequence[int]) -> list[Point]:
        """All points, start and end included, with so many chords a segment."""
        found = [self.start]
        for at, segment, count in zip(self.corners, self.segments, steps, strict=True):
            found.extend(segment.points(at, count))
        return found


@dataclass(frozen=True, slots=True)
class Curve:
    """A segment with its start, and the number of chords that its outline follows it in."""

    start: Point
    segment: Segment
    steps: int

    def moved(self, matrix: Transform) -> Curve:
        """The curve under an affine map."""
        return Curve(matrix.transformPoint(self.start), self.segment.moved(matrix), self.steps)


@dataclass(frozen=True, slots=True)
class Ink:
    """Lines drawn on an artwork, each as points within the chord error, and the curves that they follow."""

    lines: tuple[tuple[Point, ...], ...] = ()
    curves: tuple[Curve, ...] = ()

    def moved(self, matrix: Transform) -> Ink:
        """The lines under an affine map."""
        lines = tuple(tuple(matrix.transformPoint(point) for point in line) for line in self.lines)
        return Ink(lines, tuple(curve.moved(matrix) for curve in self.curves))


NO_INK = Ink()


class Recorder:
    """A pen in fontTools' sense that records sub-paths; the coordinates are the drawing's own."""

    def __init__(self) -> None:
        self.paths: list[SubPath] = []
        self._start: Point = (0.0, 0.0)
        self._segments: list[Segment] = []

    @property
    def _here(self) -> Point:
        return self._segments[-1].end if self._segments else self._start

    def moveTo(self, point: Point) -> None:
        """Begin a sub-path."""
        self._start, self._segments = point, []

    def lineTo(self, point: Point) -> None:
        """Draw a line."""
        self._segments.append(Line(point))

    def curveTo(self, first: Point, second: Point, end: Point) -> None:
        """Draw a cubic curve."""
        self._segments.append(Cubic(first, second, end))

    def qCurveTo(self, control: Point, end: Point) -> None:
        """Draw a quadratic curve, as the cubic that equals it."""
        (x0, y0), (x1, y1), (x2, y2) = self._here, control, end
        first = (x0 + 2 / 3 * (x1 - x0), y0 + 2 / 3 * (y1 - y0))
        second = (x2 + 2 / 3 * (x1 - x2), y2 + 2 / 3 * (y1 - y2))
        self._segments.append(Cubic(first, second, end))

    def arcTo(self, rx: float, ry: float, turn: float, large: bool, sweep: bool, end: Point) -> None:
        """Draw an elliptical arc (SVG 1.1 appendix F.6): a line if it has no radius or no reach."""
        reach = hypot(end[0] - self._here[0], end[1] - self._here[1])
        if reach <= 1e-12 * max(abs(rx), abs(ry)) or rx == 0 or ry == 0:  # below it the centre would be noise
            self._segments.append(Line(end))
            return
        self._segments.append(_arc(self._here, abs(rx), abs(ry), radians(turn), large == sweep, sweep, end))

    def closePath(self) -> None:
        """End a sub-path that the drawing closes, with the line back to its start if there is a way to go."""
        if self._segments and self._here != self._start:
            self._segments.append(Line(self._start))
        self._finish(closed=True)

    def endPath(self) -> None:
        """End a sub-path that the drawing leaves open."""
        self._finish(closed=False)

    def _finish(self, closed: bool) -> None:
        if self._segments:  # a lone move draws nothing
            self.paths.append(SubPath(self._start, tuple(self._segments), closed))
        self._segments = []


def _arc(start: Point, rx: float, ry: float, turn: float, minus: bool, sweep: bool, end: Point) -> Arc:
    """From end points to centre, SVG 1.1 appendix F.6.5, F.6.6; `minus` is the sign in equation F.6.5.2."""
    c, s = cos(turn), sin(turn)
    hx, hy = (start[0] - end[0]) / 2, (start[1] - end[1]) / 2
    x, y = (c * hx + s * hy) / rx, (c * hy - s * hx) / ry  # half the chord, on the unit circle
    grow = max(1.0, hypot(x, y))  # radii too small to span the chord are enlarged until they do
    rx, ry, x, y = rx * grow, ry * grow, x / grow, y / grow
    square = x * x + y * y
    off = sqrt(max(0.0, 1 - square) / square) * (-1 if minus else 1)
    cx, cy = off * y, -off * x  # centre seen from the middle of the chord, on the unit circle
    begin, finish = atan2(y - cy, x - cx), atan2(-y - cy, -x - cx)
    travel = finish - begin
    if sweep and travel < 0:
        travel += 2 * pi
    if not sweep and travel > 0:
        travel -= 2 * pi
    u, v = (rx * c, rx * s), (-ry * s, ry * c)
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    centre = (middle[0] + u[0] * cx + v[0] * cy, middle[1] + u[1] * cx + v[1] * cy)
    return Arc(centre, u, v, begin, travel, end)
