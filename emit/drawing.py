"""The drawing that all writers read: per part, what is cut, creased and marked, in mm on the sheet, y up.

What a line is stays a `Stroke` until a writer looks it up in `style.styles`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import Polygon

from foldwright.emit.curves import outline_paths
from foldwright.emit.inked import mark_traces
from foldwright.emit.labels import Label
from foldwright.emit.lettering import text_strokes, text_width
from foldwright.emit.names import Unique, identifier
from foldwright.emit.placed import CONTROL_LENGTH, Control, Placed, Sheet
from foldwright.emit.raster import turn_points
from foldwright.emit.style import styles
from foldwright.emit.trace import Trace, clean, once, rounded
from foldwright.solver.card import Point, Stroke

# Machines work in file order: what is drawn and creased comes first, while the sheet still holds the part,
# and the outline last (common practice, no source).
WORK_ORDER = (Stroke.MARK, Stroke.VALLEY, Stroke.MOUNTAIN, Stroke.CUT)


@dataclass(frozen=True, slots=True)
class Group:
    """All lines of one part (or of a note on the sheet), bound together in every file.

    `name` is unique in its drawing and safe as an id. Cut outline first, its holes next, then the other
    lines. `colour` (`#rrggbb`) is that of the part's paper in a drawing that shows parts by their papers, else empty.
    """

    name: str
    title: str
    traces: tuple[Trace, ...]
    colour: str = ""


@dataclass(frozen=True, slots=True)
class Drawing:
    """One file's worth of lines; `width` and `height` in mm.

    `creases` says how creases are made, as `Machine` has it, and `side` in a sentence from which side the parts are seen.
    """

    title: str
    width: float
    height: float
    groups: tuple[Group, ...]
    creases: str = "creased"
    side: str = ""


def sheet_drawing(card_title: str, sheet: Sheet, labels: Mapping[str, Label]) -> Drawing:
    """The drawing of one sheet: its parts, innermost first, and the control line; `labels` by the parts' names.

    A part that lies in another one's hole comes before it: machines work in file order, and once the hole is
    cut, its waste no longer holds still (common practice, no source). Where neighbours touch, the line between them is
    cut once, with the part that comes first.
    """
    names = Unique()
    groups = single([part_group(placed, names, labels) for placed in _innermost_first(sheet.placed)])
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


def part_group(placed: Placed, names: Unique, labels: Mapping[str, Label], colour: str = "") -> Group:
    """A part where it lies on its sheet, with its creases and marks, and its label if `labels` has one for it."""
    part = placed.part
    own = [Trace(Stroke.CUT, path.points, True, path.bends) for path in outline_paths(part.outline, part.drawn)]
    own += mark_traces(part)
    if part.name in labels:
        label = labels[part.name]
        own += [Trace(Stroke.MARK, stroke) for stroke in text_strokes(part.label, label.at, label.height)]
    moved = (_moved(trace, placed) for trace in own)
    return Group(names(f"part-{identifier(part.name)}"), f"{part.label} {part.name}", clean(moved), colour)


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


def single(groups: Sequence[Group]) -> list[Group]:
    """The groups without stretches that another group has already; what two share stays with the first, as in `clean`."""
    left = iter(once([trace for group in groups for trace in group.traces]))
    return [replace(group, traces=tuple(piece for _ in group.traces for piece in next(left))) for group in groups]


def of_kind(drawing: Drawing, kind: Stroke) -> Drawing:
    """The same sheet with one operation only: lines of one kind, and the parts that have any."""
    kept = (replace(group, traces=tuple(trace for trace in group.traces if trace.kind is kind)) for group in drawing.groups)
    return replace(drawing, title=f"{drawing.title}: {kind}", groups=tuple(group for group in kept if group.traces))


def by_operation(drawings: Mapping[str, Drawing]) -> dict[str, Drawing]:
    """Each drawing of some sheets, and after it what it has of each operation, named by that operation's layer."""
    return {
        f"{name}{'' if kind is None else f'-{styles(drawing.creases)[kind].layer.lower()}'}": each
        for name, drawing in drawings.items()
        for kind, each in ((None, drawing), *((kind, of_kind(drawing, kind)) for kind in styles(drawing.creases)))
        if each.groups
    }


def _moved(trace: Trace, placed: Placed) -> Trace:
    """A trace of a part where the part lies on its sheet, its coordinates rounded."""
    bends = iter(_on_sheet([control for bend in trace.bends if bend for control in bend], placed))
    return replace(trace, points=_on_sheet(trace.points, placed),
                   bends=tuple((next(bends), next(bends)) if bend else None for bend in trace.bends))


def _on_sheet(points: Sequence[Point], placed: Placed) -> tuple[Point, ...]:
    turned = turn_points(np.array(points, dtype=np.float64).reshape(-1, 2), placed.turn)
    return tuple((rounded(x + placed.dx), rounded(y + placed.dy)) for x, y in turned)
