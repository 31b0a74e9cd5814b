"""Straight seams through the outline of a part: where there is a place for one, and the tongue or strip that joins it.

Everything is worked out in a frame (a, b): a runs along the part, b along its seams, so that a seam is a line a = constant.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from math import ceil, cos, floor, hypot, inf, radians, sin

import shapely
from shapely import affinity, ops
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

Bounds = tuple[float, float, float, float]

STEP = 0.5  # mm between places that are looked at, or a multiple of it on long parts
MOST = 400  # places along a part
STRAIGHT = 1.0  # mm that an edge at the ends of a seam may be off a straight line; more is a detail of the drawing
STEEPEST = 1.0  # rise of such an edge; a sharper corner would leave a thin tip of paper
TAPER = 0.15  # a tongue is narrower by this share of its depth at either end of its tip, so that it is not seen beside the seam
INSETS = 4  # times the inset is tried, twice and three times as large, before a place is given up
SQUARE = {0: (1.0, 0.0), 90: (0.0, 1.0)}  # cosine and sine, exact
CRUMB = 1e-7  # mm
FAR = 10.0  # mm beyond the outline


@dataclass(frozen=True)
class Habits:
    """How pieces are joined, mm: how far sheets lie on each other, the margin of a seam, and how far tongues are set in."""

    overlap: float
    margin: float
    inset: float
    strip: bool = False


@dataclass(frozen=True)
class Chord:
    """One seam in its frame: from (at, low) to (at, high), and the tongue or the strip that joins it."""

    at: float
    low: float
    high: float
    lap: Polygon


@dataclass(frozen=True)
class Cut:
    """A line that cuts a part from edge to edge, at every place where it meets paper.

    `way` is 1 if the tongue of the lower piece lies under the upper one, -1 if it is the other way round, 0 with strips.
    """

    at: float
    way: int
    chords: tuple[Chord, ...]
    seen: float
    near: float  # 0 where it lies well apart from what it keeps off, up to 1


class Frame:
    """One direction of seams through an outline."""

    def __init__(self, outline: Polygon, keep_off: BaseGeometry, habits: Habits, seen: Callable[[Polygon], float],
                 turn: int) -> None:
        self.habits, self.seen, self.turn = habits, seen, turn
        self.c, self.s = SQUARE.get(turn, (cos(radians(turn)), sin(radians(turn))))
        self.outline: Polygon = self._turned(outline, -self.s)
        self.keep_off = self._turned(keep_off, -self.s)
        self.bounds: Bounds = self.outline.bounds

    def _turned(self, shape: BaseGeometry, sine: float) -> BaseGeometry:
        """A shape turned about the origin: by `-self.s` into the frame, by `self.s` back."""
        return affinity.affine_transform(shape, [self.c, -sine, sine, self.c, 0.0, 0.0])

    def back(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape of the frame in part coordinates."""
        return self._turned(shape, self.s)

    # ---- where a seam can lie

    @cached_property
    def cuts(self) -> list[Cut]:
        """All lines that can be cut, from the low end on."""
        a0, _, a1, _ = self.bounds
        ways, reach = ((0,), self.habits.overlap) if self.habits.strip else ((1, -1), 0.0)
        step = STEP * ceil((a1 - a0) / MOST / STEP)
        first, last = ceil((a0 + self.habits.margin + reach) / step), floor((a1 - self.habits.margin - reach) / step)
        return [cut for number in range(first, last + 1) for way in ways if (cut := self._cut(number * step, way))]

    def _cut(self, at: float, way: int) -> Cut | None:
        _, b0, _, b1 = self.bounds
        line = LineString([(at, b0 - FAR), (at, b1 + FAR)])
        chords = []
        for span in pieces_of(self.outline.intersection(line)):
            if span.length <= CRUMB:
                continue
            low, high = sorted(y for _, y in span.coords)[:: len(span.coords) - 1]
            chord = self._chord(at, low, high, way)
            if chord is None:
                return None
            chords.append(chord)
        if not chords:
            return None
        room = min((self.keep_off.distance(chord.lap) for chord in chords), default=0.0) if not self.keep_off.is_empty else inf
        near = max(0.0, 1 - room / (self.habits.overlap + self.habits.margin))
        return Cut(at, way, tuple(chords), sum(self.seen(self.back(chord.lap)) for chord in chords), near)

    def _chord(self, at: float, low: float, high: float, way: int) -> Chord | None:
        """A seam at a place, if nothing is in its way."""
        habits = self.habits
        if not self._clear(LineString([(at, low), (at, high)])):
            return None
        if habits.strip:
            ends = at - habits.overlap, at + habits.overlap
        else:
            ends = (at, at + habits.overlap) if way > 0 else (at - habits.overlap, at)
        band = self._band(at, (low + high) / 2, min(ends) - habits.margin, max(ends) + habits.margin)
        if band is None:
            return None
        for times in range(1, INSETS):
            lap = self._lap(band, ends, at, times * habits.inset)
            if lap is not None:
                return Chord(at, low, high, lap) if self._clear(lap) else None
        return None

    def _clear(self, shape: BaseGeometry) -> bool:
        return self.keep_off.is_empty or bool(self.keep_off.distance(shape) >= self.habits.margin)

    def _band(self, at: float, middle: float, left: float, right: float) -> Polygon | None:
        """The paper round a seam, if it is a plain strip there: two nearly straight edges and nothing between."""
        a0, b0, a1, b1 = self.bounds
        if left < a0 or right > a1:
            return None
        bands = pieces_of(self.outline.intersection(box(left, b0 - FAR, right, b1 + FAR)))
        here = next((part for part in bands if part.distance(shapely.Point(at, middle)) < CRUMB), None)
        if not isinstance(here, Polygon) or here.interiors:
            return None
        inner = here.exterior.intersection(box(left + 2 * CRUMB, b0 - FAR, right - 2 * CRUMB, b1 + FAR))
        sides = pieces_of(ops.linemerge(inner) if inner.geom_type == "MultiLineString" else inner)
        plain = len(sides) == 2 and all(isinstance(side, LineString) and _plain(side, left, right) for side in sides)
        return here if plain else None

    def _lap(self, band: Polygon, ends: tuple[float, float], at: float, inset: float) -> Polygon | None:
        """A tongue or a strip in a band of paper: straight, narrower away from the seam, inside the paper all round."""
        corners = []
        for end in ends:
            across = pieces_of(band.intersection(LineString([(end, self.bounds[1] - FAR), (end, self.bounds[3] + FAR)])))
            values = [y for part in across for _, y in part.coords]
            inward = inset + (0.0 if self.habits.strip or end == at else TAPER * self.habits.overlap)
            corners.append((end, min(values) + inward, max(values) - inward))
        (a0, low0, high0), (a1, low1, high1) = corners
        if min(high0 - low0, high1 - low1) < self.habits.overlap:
            return None
        lap = Polygon([(a0, low0), (a1, low1), (a1, high1), (a0, high0)])
        room = min(min(lap.distance(side) for side in _sides(band, a0, a1)), inset)
        return lap if band.covers(lap) and room >= inset / 2 else None

def _plain(side: LineString, left: float, right: float) -> bool:
    """Whether an edge runs from the left end of a band to the right one, nearly straight and not too steep."""
    (x0, y0), (x1, y1) = side.coords[0], side.coords[-1]
    if abs(x1 - x0) < right - left - 1e-5 or abs(y1 - y0) > STEEPEST * abs(x1 - x0):
        return False
    length = hypot(x1 - x0, y1 - y0)
    off = (abs((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)) / length for x, y in side.coords)
    return bool(max(off) <= STRAIGHT)


def _sides(band: Polygon, left: float, right: float) -> list[BaseGeometry]:
    """The two edges of a band between its ends."""
    _, low, _, high = band.bounds
    return pieces_of(band.exterior.intersection(box(left + CRUMB, low - FAR, right - CRUMB, high + FAR)))


def pieces_of(shape: BaseGeometry) -> list[BaseGeometry]:
    """The single shapes of one or several; none of an empty one."""
    return [part for part in getattr(shape, "geoms", [shape]) if not part.is_empty]
