"""Lines of a drawing, and how a drawing is kept free of lines that would be worked twice.

Coordinates are rounded here, once, to three decimals; writers only print them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import inf

import numpy as np
import shapely
from numpy.typing import NDArray

from foldwright.emit.bends import Bend, flat
from foldwright.solver.card import Point, Stroke

DECIMALS = 3  # 0.001 mm, far below what any blade or paper repeats
_NEAR = 0.0015  # mm; corners of two lines that are one line are each rounded by up to 0.0007 mm
_LONG = 0.2  # mm; lines that run together for less only touch, as at the tip of a leaf
# A line in two kinds would be worked twice; what stands first here keeps it.
_ORDER = (Stroke.CUT, Stroke.MOUNTAIN, Stroke.VALLEY, Stroke.MARK)

Segment = tuple[Point, Bend, Point]


@dataclass(frozen=True, slots=True)
class Trace:
    """One line of one kind; a closed one does not repeat its first point.

    `bends` has for each segment, the one that closes it included, the two control points of a cubic, or None where it is
    straight; it is empty if all are.
    """

    kind: Stroke
    points: tuple[Point, ...]
    closed: bool = False
    bends: tuple[Bend, ...] = ()

    @property
    def segments(self) -> Iterator[tuple[Point, Bend, Point]]:
        """From each point to the next."""
        corners = (*self.points, self.points[0]) if self.closed else self.points
        yield from zip(corners, self.bends or (None,) * (len(corners) - 1), corners[1:], strict=False)

    def flattened(self, tolerance: float) -> tuple[Point, ...]:
        """Its points, with as many on its curves as keep the chords within `tolerance` mm of them."""
        found = [tuple(at) for segment in self.segments for at in flat(*segment, tolerance).tolist()]
        return tuple(found if self.closed else [*found, self.points[-1]])


def rounded(length: float) -> float:
    """A length with the decimals that files carry; never minus zero."""
    return round(float(length), DECIMALS) + 0.0


def clean(traces: Iterable[Trace]) -> tuple[Trace, ...]:
    """Traces without repeated points, without lines of no length, and without a stretch that another line has already.

    What two lines share stays with the kind that stands first in cut, mountain, valley, mark; within a kind with the first
    line. A closed trace that loses a stretch becomes open ones.
    """
    return tuple(piece for pieces in once(list(traces)) for piece in pieces)


def once(traces: Sequence[Trace]) -> list[list[Trace]]:
    """For each trace what is left of it, as in `clean`."""
    parts = [_segments(trace) for trace in traces]
    ranked = sorted(range(len(traces)), key=lambda index: _ORDER.index(traces[index].kind))
    taken = _all_taken([segment for index in ranked for segment in parts[index]])
    left: list[list[Trace]] = [[] for _ in traces]
    first = 0
    for index in ranked:
        count = len(parts[index])
        if count > 0:
            lost = {number: taken[first + number] for number in range(count) if first + number in taken}
            left[index] = list(_left(traces[index], parts[index], lost))
            first += count
    return left


def _segments(trace: Trace) -> list[Segment]:
    """The segments of a trace without those of no length; a closed one of two straight lines is one line."""
    found = [segment for segment in trace.segments if segment[0] != segment[2] or _loops(segment)]
    if trace.closed and len(found) == 2 and all(bend is None for _, bend, _ in found):
        found.pop()
    return found


def _loops(segment: Segment) -> bool:
    return segment[1] is not None and any(control != segment[0] for control in segment[1])


def _all_taken(segments: Sequence[Segment]) -> dict[int, list[tuple[float, float]]]:
    """As `_taken`; of a curve the whole is taken where an earlier one is the same curve."""
    straight = [number for number, (_, bend, _) in enumerate(segments) if bend is None]
    lines = np.array([(segments[number][0], segments[number][2]) for number in straight], dtype=np.float64)
    taken = {straight[index]: spans for index, spans in _taken(lines).items()} if straight else {}
    seen: set[tuple[Point, ...]] = set()
    for number, (start, bend, end) in enumerate(segments):
        if bend is not None:
            way = (start, *bend, end)
            if min(way, way[::-1]) in seen:
                taken[number] = [(0.0, inf)]
            seen.add(min(way, way[::-1]))
    return taken


def _taken(segments: NDArray[np.float64]) -> dict[int, list[tuple[float, float]]]:
    """By segment, from where to where (mm from its start) an earlier one runs along it; `segments` has shape (n, 2, 2)."""
    lines = shapely.linestrings(segments)
    later, earlier = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=_NEAR)
    later, earlier = later[earlier < later], earlier[earlier < later]
    start, along = segments[later, 0], segments[later, 1] - segments[later, 0]
    length = np.linalg.norm(along, axis=1)
    along = along / length[:, None]
    ends = segments[earlier] - start[:, None]
    far = (ends * along[:, None]).sum(axis=2)  # (n, 2), mm along the later segment
    aside = along[:, None, 0] * ends[..., 1] - along[:, None, 1] * ends[..., 0]
    low, high = np.maximum(far.min(axis=1), 0.0), np.minimum(far.max(axis=1), length)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (aside[:, 1] - aside[:, 0]) / (far[:, 1] - far[:, 0])
        offset = np.maximum(*(np.abs(aside[:, 0] + (at - far[:, 0]) * slope) for at in (low, high)))
    same = (np.sort(segments[later].view(np.complex128)[..., 0], axis=1)
            == np.sort(segments[earlier].view(np.complex128)[..., 0], axis=1)).all(axis=1)
    together = same | ((high - low > _LONG) & (offset <= _NEAR))
    taken: dict[int, list[tuple[float, float]]] = {}
    for index, at, to in zip(later[together].tolist(), low[together].tolist(), high[together].tolist(), strict=True):
        taken.setdefault(index, []).append((at, to))
    return taken


def _left(trace: Trace, segments: Sequence[Segment], lost: dict[int, list[tuple[float, float]]]) -> Iterator[Trace]:
    """The pieces of a trace without the stretches that it lost."""
    if not lost:
        yield _traced(trace.kind, segments, trace.closed and segments[0][0] == segments[-1][2])
        return
    runs: list[list[Segment]] = []
    for number, segment in enumerate(segments):
        for kept in _kept(segment, lost.get(number, [])):
            if runs and runs[-1][-1][2] == kept[0]:
                runs[-1].append(kept)
            else:
                runs.append([kept])
    if len(runs) > 1 and trace.closed and runs[0][0][0] == runs[-1][-1][2]:  # the ring's beginning is no end of a line
        runs[0] = runs.pop() + runs[0]
    yield from (_traced(trace.kind, run, False) for run in runs)


def _traced(kind: Stroke, segments: Sequence[Segment], closed: bool) -> Trace:
    """Segments that go on from each other as a trace."""
    points = tuple(start for start, _, _ in segments)
    bends = tuple(bend for _, bend, _ in segments)
    return Trace(kind, points if closed else (*points, segments[-1][2]), closed, bends if any(bends) else ())


def _kept(segment: Segment, lost: Sequence[tuple[float, float]]) -> Iterator[Segment]:
    """The pieces of a segment outside the stretches; what is shorter than rounding is dropped."""
    (x0, y0), bend, (x1, y1) = segment
    if bend is not None:
        yield from () if lost else (segment,)
        return
    length = float(np.hypot(x1 - x0, y1 - y0))

    def at(distance: float) -> Point:
        if distance in (0.0, length):
            return segment[0] if distance == 0.0 else segment[2]
        share = distance / length
        return rounded(x0 + share * (x1 - x0)), rounded(y0 + share * (y1 - y0))

    here = 0.0
    for low, high in [*sorted(lost), (length, length)]:
        if low - here > 2 * _NEAR or (not lost and low > here):
            yield at(here), None, at(low)
        here = max(here, high)
