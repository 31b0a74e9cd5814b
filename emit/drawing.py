"""The drawing that all writers read: per part, what is cut, creased and marked, in mm on the sheet, y up.

Coordinates are rounded here, once, to three decimals; writers only print them. What a line is stays a
`Stroke` until a writer looks it up in `style.STYLES`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import Polygon

from foldwright.emit.lettering import text_box, text_strokes, text_width
from foldwright.emit.names import Unique, identifier
from foldwright.emit.placed import CONTROL_LENGTH, Control, Placed, Sheet
from foldwright.emit.raster import turn_points
from foldwright.solver.card import Part, Point, Stroke

DECIMALS = 3  # 0.001 mm, far below what any blade or paper repeats
_EDGE = 0.3  # mm kept between a label and the edge of its part
_SHRINK = (1.0, 0.85, 0.7, 0.55)  # label sizes tried before a label may reach past its part
# A line in two kinds would be worked twice; what stands first here keeps it.
_ORDER = (Stroke.CUT, Stroke.MOUNTAIN, Stroke.VALLEY, Stroke.MARK)

# Machines work in file order: what is drawn and creased comes first, while the sheet still holds the part,
# and the outline last (common practice, no source).
WORK_ORDER = (Stroke.MARK, Stroke.VALLEY, Stroke.MOUNTAIN, Stroke.CUT)


@dataclass(frozen=True, slots=True)
class Trace:
    """One line of one kind; a closed one does not repeat its first point."""

    kind: Stroke
    points: tuple[Point, ...]
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """All lines of one part (or of a note on the sheet), bound together in every file.

    `name` is unique in its drawing and safe as an id. Cut outline first, its holes next, then the other
    lines.
    """

    name: str
    title: str
    traces: tuple[Trace, ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    """One file's worth of lines; `width` and `height` in mm."""

    title: str
    width: float
    height: float
    groups: tuple[Group, ...]


def sheet_drawing(card_title: str, sheet: Sheet) -> Drawing:
    """The drawing of one sheet: its parts, innermost first, and the control line.

    A part that lies in another one's hole comes before it: machines work in file order, and once the hole is
    cut, its waste no longer holds still (common practice, no source).
    """
    names = Unique()
    groups = [part_group(placed, names) for placed in _innermost_first(sheet.placed)]
    if sheet.control is not None:
        groups.append(control_group(sheet.control, names))
    title = f"{card_title}: sheet {sheet.number}, {sheet.paper}"
    return Drawing(title, rounded(sheet.width), rounded(sheet.height), tuple(groups))


def _innermost_first(placed: Sequence[Placed]) -> list[Placed]:
    outlines = [item.outline for item in placed]
    filled = [Polygon(outline.exterior) for outline in outlines]
    depth = {
        id(item): sum(other.contains(outline) for other in filled)
        for item, outline in zip(placed, outlines, strict=True)
    }
    return sorted(placed, key=lambda item: -depth[id(item)])


def part_group(placed: Placed, names: Unique) -> Group:
    """A part where it lies on its sheet, with its creases, marks and label."""
    part = placed.part
    rings = (part.outline.exterior, *part.outline.interiors)
    own = [Trace(Stroke.CUT, _ring(ring.coords), True) for ring in rings]
    own += [Trace(line.stroke, line.points) for line in part.lines]
    own += [Trace(Stroke.MARK, stroke) for stroke in label_strokes(part)]
    moved = (Trace(trace.kind, _moved(trace.points, placed), trace.closed) for trace in own)
    return Group(names(f"part-{identifier(part.name)}"), f"{part.label} {part.name}", clean(moved))


def label_strokes(part: Part) -> tuple[tuple[Point, ...], ...]:
    """A part's label in part coordinates, made smaller if it would reach past the part's edge."""
    inner = shapely.buffer(part.outline, -_EDGE)
    for factor in _SHRINK:
        height = part.label_height * factor
        if shapely.covers(inner, shapely.box(*text_box(part.label, part.label_at, height))):
            break
    return tuple(text_strokes(part.label, part.label_at, height))


def control_group(control: Control, names: Unique) -> Group:
    """The control line with end ticks and its length as text, all marks, in the room kept for it."""
    text = f"{CONTROL_LENGTH:g} mm"
    room, low, tick, height = 2.0, 2.0, 1.5, 2.5
    strokes: list[tuple[Point, ...]] = [
        ((room, low), (room + CONTROL_LENGTH, low)),
        ((room, low - tick / 2), (room, low + tick / 2)),
        ((room + CONTROL_LENGTH, low - tick / 2), (room + CONTROL_LENGTH, low + tick / 2)),
    ]
    middle = room + (CONTROL_LENGTH - text_width(text, height)) / 2
    strokes += text_strokes(text, (middle, low + 1.5), height)
    if control.upright:  # turned a quarter, and moved back into the box
        strokes = [tuple((8.0 - y, x) for x, y in stroke) for stroke in strokes]
    traces = (
        Trace(Stroke.MARK, tuple((rounded(x + control.x), rounded(y + control.y)) for x, y in stroke))
        for stroke in strokes
    )
    return Group(names("control-line"), f"control line, {text} long", clean(traces))


def text_group(text: str, at: Point, height: float, names: Unique) -> Group:
    """A line of text as marks."""
    strokes = text_strokes(text, at, height)
    traces = (Trace(Stroke.MARK, tuple((rounded(x), rounded(y)) for x, y in stroke)) for stroke in strokes)
    return Group(names(f"note-{identifier(text)}"), text, clean(traces))


def in_work_order(traces: Sequence[Trace]) -> list[Trace]:
    """Traces as they should be worked: kind by kind, in each the last first, so that the outline ends it."""
    return [trace for kind in WORK_ORDER for trace in reversed(traces) if trace.kind is kind]


def rounded(length: float) -> float:
    """A length with the decimals that files carry; never minus zero."""
    return round(float(length), DECIMALS) + 0.0


def clean(traces: Iterable[Trace]) -> tuple[Trace, ...]:
    """Traces without repeated points, without lines of no length, and without a segment that is there
    already.

    Of two equal segments the one of the kind that stands first in cut, mountain, valley, mark stays; within a
    kind the first one. A closed trace that loses a segment becomes open ones.
    """
    given = list(traces)
    seen: set[tuple[Point, Point]] = set()
    kept: dict[int, list[Trace]] = {}
    for index in sorted(range(len(given)), key=lambda i: _ORDER.index(given[i].kind)):
        kept[index] = list(_unseen(given[index], seen))
    return tuple(trace for index in range(len(given)) for trace in kept[index])


def _unseen(trace: Trace, seen: set[tuple[Point, Point]]) -> Iterator[Trace]:
    """The pieces of a trace whose segments are not in `seen`, which learns them."""
    points = _without_repeats(trace)
    corners = [*points, points[0]] if trace.closed and len(points) > 2 else points
    runs: list[list[Point]] = []
    whole = True
    for start, end in pairwise(corners):
        segment = (min(start, end), max(start, end))
        if segment in seen:
            whole = False
        elif runs and runs[-1][-1] == start and segment not in seen:
            runs[-1].append(end)
        else:
            runs.append([start, end])
        seen.add(segment)
    if trace.closed and whole and len(points) > 2:
        yield Trace(trace.kind, tuple(points), True)
    else:
        yield from (Trace(trace.kind, tuple(run)) for run in runs)


def _without_repeats(trace: Trace) -> list[Point]:
    points: list[Point] = []
    for point in trace.points:
        if not points or point != points[-1]:
            points.append(point)
    if trace.closed and len(points) > 1 and points[0] == points[-1]:
        points.pop()
    return points


def _ring(coordinates: Iterable[tuple[float, ...]]) -> tuple[Point, ...]:
    """A ring's corners without the repeated last one."""
    corners = [(x, y) for x, y, *_ in coordinates]
    return tuple(corners[:-1])


def _moved(points: tuple[Point, ...], placed: Placed) -> tuple[Point, ...]:
    turned = turn_points(np.array(points, dtype=np.float64).reshape(-1, 2), placed.turn)
    return tuple((rounded(x + placed.dx), rounded(y + placed.dy)) for x, y in turned)
