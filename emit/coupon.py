"""A coupon to cut before the card: it tells what the paper at hand and the machine do together.

A comb of slots whose widths differ by 0.05 mm, a strip to try in them, a square to measure, folds along and across the
sheet, and perforations. Sizes are common practice, no source, unless something is said.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import ceil, floor

import numpy as np
from shapely.geometry import Polygon, box

from foldwright.emit.creases import as_made, shorter
from foldwright.emit.drawing import Drawing, Group
from foldwright.emit.lettering import text_strokes, text_width
from foldwright.emit.names import Unique
from foldwright.emit.raster import turn_points
from foldwright.emit.trace import Trace, clean, rounded
from foldwright.solver.card import Line, Machine, Paper, Part, Point, Stroke
from foldwright.solver.kerf import grown
from foldwright.solver.practice import perforation

STEP = 0.05  # mm from slot to slot: what a hand can tell apart
SQUARE = 50.0  # mm; shows a wrong import scale
DEFAULT_CALIPER = 0.25  # mm, cardstock of some 210 g/m², where a paper has neither caliper nor weight
# How far the caliper may be from what is written or estimated: papers of one weight have a bulk of 0.85 to 1.4 cm³/g in
# mills' tables, against the 1.2 of the estimate. Thin papers get at least these mm, so that the comb has some slots.
_LEAST, _MOST, _ASIDE = 0.7, 1.25, (0.15, 0.2)
_PITCH, _DEPTH, _MOUTH = 9.0, 15.0, (1.0, 1.5)  # of slots; their mouths widen by this on both sides over this depth
_GAP, _MARGIN = 4.0, 2.0  # mm between pieces, and around them
_USUAL = 99.0  # mm, width of a coupon where there is room: the square and what lies beside it in one row
_TEXT = 2.0  # mm, cap height


@dataclass(frozen=True)
class Coupon:
    """The coupon of one paper: the widths of its slots in mm, its perforations (cut, bridge) in mm, and its drawing."""

    paper: Paper
    slots: tuple[float, ...]
    perforations: tuple[tuple[float, float], ...]
    drawing: Drawing


class NoRoom(ValueError):
    """No mat takes the coupon; `needs` is a size in mm that would."""

    def __init__(self, needs: tuple[float, float]) -> None:
        super().__init__(f"a coupon needs {needs[0]:g} mm x {needs[1]:g} mm")
        self.needs = needs


@dataclass
class _Piece:
    """One piece, its lower left corner at (0, 0)."""

    name: str
    title: str
    shape: Polygon
    lines: list[tuple[Stroke, tuple[Point, ...]]] = field(default_factory=list)

    @property
    def size(self) -> tuple[float, float]:
        left, low, right, high = self.shape.bounds
        return right - left, high - low

    def write(self, text: str, middle: float, low: float, height: float = _TEXT, room: float = 1000.0) -> None:
        """A text about a middle, its base line at `low`; smaller if it would be wider than the room."""
        height = min(height, room / text_width(text, 1.0))
        at = (middle - text_width(text, height) / 2, low)
        self.lines += [(Stroke.MARK, stroke) for stroke in text_strokes(text, at, height)]


def coupon(title: str, paper: Paper, machine: Machine, habits: Mapping[str, float]) -> Coupon:
    """The coupon of a paper for a machine; `habits` are workshop practice by name, `machine.mats` may not be empty.

    What the tool takes away (`kerf`) is allowed for, so that all widths are those of the slots as cut. Raises NoRoom.
    """
    slots = slot_widths(paper.caliper, machine.kerf)
    caliper = paper.caliper or DEFAULT_CALIPER
    dashes = _perforations(caliper, machine, habits)
    # which fold runs up the mat depends on how the coupon lies
    folds = {turned: [_folds(upright != turned, upright, machine, caliper, habits) for upright in (False, True)]
             for turned in (False, True)}
    kept = [_comb(paper.name, slots), _square(), _tester(), _perforations_of(dashes, machine.kerf)]
    drawn = {turned: [*kept[:2], standing, *kept[2:], lying] for turned, (lying, standing) in folds.items()}
    size, turned, places = _fitted(drawn[False], machine.mats)
    pieces, names = drawn[turned], Unique()
    groups = tuple(_group(piece, place, size, turned, machine.kerf, names) for piece, place in zip(pieces, places, strict=True))
    width, height = size[::-1] if turned else size
    drawing = Drawing(f"{title}: coupon of {paper.name}", rounded(width), rounded(height), groups, creases=machine.creases)
    return Coupon(paper, slots, dashes, drawing)


def slot_widths(caliper: float, kerf: float = 0.0) -> tuple[float, ...]:
    """The widths in mm of a comb for a paper of a caliper in mm (0: not known): whole steps, wider than what a cut takes."""
    about = caliper or DEFAULT_CALIPER
    first = max(1, floor(min(_LEAST * about, about - _ASIDE[0]) / STEP + 1e-9), floor(kerf / STEP + 1e-9) + 1)
    last = max(ceil(max(_MOST * about, about + _ASIDE[1]) / STEP - 1e-9), first + 3)
    return tuple(round(number * STEP, 2) for number in range(first, last + 1))


def _perforations(caliper: float, machine: Machine, habits: Mapping[str, float]) -> tuple[tuple[float, float], ...]:
    """What practice or the script takes for this paper, then longer and shorter cuts, and wider bridges."""
    dash, bridge = (round(length, 1) for length in perforation(caliper, habits, machine.dash, machine.gap))
    tried = [(dash, bridge), (dash + 1, bridge), (max(dash - 1, habits["perforation.least"]), bridge), (dash, bridge + 1)]
    return tuple(dict.fromkeys(tried))


def _comb(name: str, slots: Sequence[float]) -> _Piece:
    width, height = _PITCH * (len(slots) + 1), _DEPTH + 14.0
    shape = box(0, 0, width, height)
    piece = _Piece("comb", f"slots of {slots[0]:.2f} to {slots[-1]:.2f} mm", shape)
    for number, slot in enumerate(slots, 1):
        middle, half, (aside, deep) = number * _PITCH, slot / 2, _MOUTH
        opening = Polygon([(middle - half, height - _DEPTH), (middle + half, height - _DEPTH), (middle + half, height - deep),
                           (middle + half + aside, height + 0.0), (middle + half + aside, height + 1),
                           (middle - half - aside, height + 1), (middle - half - aside, height + 0.0),
                           (middle - half, height - deep)])
        shape = shape.difference(opening)
        piece.write(f"{slot:.2f}", middle, height - _DEPTH - 4.0)
    piece.shape = shape
    piece.write(f"{name}: slots in mm", width / 2, 3.5, 3.0, width - 4.0)
    return piece


def _square() -> _Piece:
    piece = _Piece("square", f"control square, {SQUARE:g} mm", box(0, 0, SQUARE, SQUARE))
    piece.write(f"{SQUARE:g} mm", SQUARE / 2, SQUARE / 2, 4.0)
    piece.write("both sides", SQUARE / 2, SQUARE / 2 - 6.0)
    return piece


def _tester() -> _Piece:
    piece = _Piece("tester", "strip to try in the slots", box(0, 0, 15.0, 45.0))
    piece.write("try me", 7.5, 21.0, _TEXT, 12.0)
    return piece


def _folds(across_mat: bool, upright: bool, machine: Machine, caliper: float, habits: Mapping[str, float]) -> _Piece:
    """A strip, upright or lying, with a valley and a mountain fold across it, made as the machine makes creases.

    `across_mat` says that the folds run across the mat, as the coupon will lie on it, and not up.
    """
    width, height = (18.0, 60.0) if upright else (60.0, 18.0)
    along, way = not upright, "across" if across_mat else "up"
    piece = _Piece(f"folds-{way}", f"folds that run {way} the mat", box(0, 0, width, height))
    piece.write(way, *((10.0, 8.0) if along else (width / 2, 9.0)), room=15.0)
    places = ((20.0, Stroke.VALLEY), (40.0, Stroke.MOUNTAIN))
    creases = tuple(Line(((place, 0.0), (place, height)) if along else ((0.0, place), (width, place)), kind)
                    for place, kind in places)
    part = Part(piece.name, "", "", piece.shape, creases, (0.0, 0.0))
    piece.lines += [(line.stroke, line.points) for line in as_made(part, machine, caliper, habits)]
    for place, kind in places:
        if along:
            piece.write(str(kind), place + 10.0, 2.5, _TEXT, 16.0)
        else:
            piece.write(str(kind), width / 2, place + 3.0, _TEXT, 15.0)
    return piece


def _perforations_of(dashes: Sequence[tuple[float, float]], kerf: float) -> _Piece:
    """A strip with perforations across it, each with its cut and bridge in mm beside it; cuts are shorter by the kerf."""
    pitch, height = 18.0, 22.0
    piece = _Piece("perforations", "perforations, cut and bridge in mm", box(0, 0, pitch * (len(dashes) + 0.5), height))
    for number, (dash, bridge) in enumerate(dashes):
        x = pitch * (number + 0.5)
        ends = (shorter(low, high, kerf) for low, high in _dashes(height, dash, bridge))
        piece.lines += [(Stroke.CUT, ((x, low), (x, high))) for low, high in ends]
        piece.write(f"{dash:g} / {bridge:g}", x + pitch / 2, height / 2 - 1.0, _TEXT, pitch - 4.0)
    return piece


def _dashes(length: float, dash: float, bridge: float) -> Iterator[tuple[float, float]]:
    """Where the cuts of a perforation lie, with a bridge at least at both ends."""
    count = max(1, floor((length - bridge) / (dash + bridge) + 1e-9))
    start = (length - count * dash - (count - 1) * bridge) / 2
    for number in range(count):
        low = start + number * (dash + bridge)
        yield low, low + dash


def _fitted(pieces: Sequence[_Piece],
            mats: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], bool, list[tuple[float, float]]]:
    """The size that the pieces take, whether it lies turned by a quarter on the mat, and their places; raises NoRoom."""
    usual = max(_USUAL, *(piece.size[0] + 2 * _MARGIN for piece in pieces))
    for mat in mats:
        for turned in (False, True):
            width, height = mat[::-1] if turned else mat
            for wide in (usual, width):
                size, places = _rows(pieces, wide)
                if size[0] <= width and size[1] <= height:
                    return size, turned, places
    size, _ = _rows(pieces, usual)
    raise NoRoom((ceil(size[0]), ceil(size[1])))


def _rows(pieces: Sequence[_Piece], width: float) -> tuple[tuple[float, float], list[tuple[float, float]]]:
    """The pieces in rows from the top, no row wider than a width if that is possible: size and places."""
    corners: list[tuple[float, float]] = []  # upper left, y down
    x = y = deepest = _MARGIN
    widest = 0.0
    for piece in pieces:
        if x > _MARGIN and x + piece.size[0] + _MARGIN > width + 1e-9:
            x, y = _MARGIN, deepest + _GAP
        corners.append((x, y))
        x += piece.size[0] + _GAP
        widest, deepest = max(widest, x - _GAP), max(deepest, y + piece.size[1])
    height = deepest + _MARGIN
    places = [(left, height - top - piece.size[1]) for piece, (left, top) in zip(pieces, corners, strict=True)]
    return (widest + _MARGIN, height), places


def _group(piece: _Piece, place: tuple[float, float], size: tuple[float, float], turned: bool, kerf: float,
           names: Unique) -> Group:
    """A piece where it lies; its outline is drawn half a kerf outside, so that it is cut true to size."""
    outline = grown(piece.shape, kerf)

    def moved(points: Sequence[tuple[float, ...]]) -> tuple[Point, ...]:
        at = np.asarray(points, dtype=np.float64)[:, :2] + np.array(place)
        if turned:
            at = turn_points(at, 90) + np.array([size[1], 0.0])
        return tuple((rounded(x), rounded(y)) for x, y in at)

    traces = [Trace(Stroke.CUT, moved(list(outline.exterior.coords)[:-1]), True)]
    traces += [Trace(stroke, moved(points)) for stroke, points in piece.lines]
    return Group(names(f"coupon-{piece.name}"), piece.title, clean(traces))
