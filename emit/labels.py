"""Where part numbers stand: on a part's printed face where glue hides them, beside the part, or nowhere.

A label is drawn on the printed face. That face is hidden where a tab is glued with it, and where another sheet is glued onto
it (`stacking.py` tells which side of a sheet lies against the other). What is glued over a part only in places hides only
those; an opening in the sheet above hides nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from foldwright.emit.lettering import text_box
from foldwright.emit.stacking import Stacking, normal
from foldwright.emit.wanted import Labels
from foldwright.solver.card import Card, Part, Placement

EDGE = 0.5  # mm kept between a label and the edge of what hides it, or a line of its part: sheets are glued by hand
HEIGHTS = (3.0, 2.5, 2.0, 1.6)  # mm, cap heights tried; smaller cannot be read
GRID = 2.0  # mm between places that are looked at
_BESIDE = 3.0  # mm, cap height of a label beside its part
_GAP = 1.0  # mm between a part and a label beside it
ROOM = _BESIDE + 2 * _GAP  # mm that a label beside its part needs below it


@dataclass(frozen=True, slots=True)
class Label:
    """A part's number: left end of its base line in part coordinates, and cap height, mm. `hidden` in the finished card."""

    at: tuple[float, float]
    height: float
    hidden: bool


def label_places(card: Card) -> dict[str, Label]:
    """A label for every part, by the part's name: hidden if anything hides it, else where the part has most room."""
    stacking = Stacking(card)
    covered = _covered(card, stacking)
    return {part.name: _hidden(part, covered.get(part.name)) or Label(part.label_at, part.label_height, False)
            for part in card.parts}


def on_parts(places: Mapping[str, Label], labels: Labels) -> dict[str, Label]:
    """The labels that are drawn on the parts themselves."""
    return {name: label for name, label in places.items()
            if labels is Labels.ALL or (labels is Labels.HIDDEN and label.hidden)}


def with_beside(card: Card, places: Mapping[str, Label], labels: Labels) -> dict[str, Label]:
    """The labels of a drawing that shows the parts apart: those that are not drawn on their parts stand below them."""
    shown = on_parts(places, labels)
    if labels is Labels.NONE:
        return shown
    for part in card.parts:
        left, low, *_ = part.outline.bounds
        shown.setdefault(part.name, Label((left, low - _GAP - _BESIDE), _BESIDE, False))
    return shown


def _covered(card: Card, stacking: Stacking) -> dict[str, list[BaseGeometry]]:
    """By part: the areas of its printed face that lie against another sheet, in part coordinates."""
    areas: dict[str, list[BaseGeometry]] = {}
    placed = stacking.poses[0]
    for bond in card.bonds:
        panel, host = stacking.panels[bond.panel], stacking.panels[bond.host]
        above = stacking.sides[bond.panel, bond.host] > 0  # the panel lies on the host's printed face
        alike = bool(normal(placed[panel.name]) @ normal(placed[host.name]) > 0)  # both printed faces look the same way
        if above:
            areas.setdefault(host.part, []).append(
                shapely.intersection(host.outline, _onto(panel.outline, placed[panel.name], placed[host.name])))
        if above is not alike:
            areas.setdefault(panel.part, []).append(
                shapely.intersection(panel.outline, _onto(host.outline, placed[host.name], placed[panel.name])))
    return areas


def _onto(outline: Polygon, own: Placement, other: Placement) -> BaseGeometry:
    """An outline of one panel in the coordinates of another that lies in the same plane."""
    def moved(points: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        space = own.points(points) - other.origin
        return np.column_stack([space @ other.along, space @ other.up])

    return shapely.transform(outline, moved)


def _hidden(part: Part, areas: list[BaseGeometry] | None) -> Label | None:
    """The part's label in the largest hidden area that takes it, as large as it can be, None if none does."""
    if not areas:
        return None
    lines = [LineString(line.points) for line in part.lines if len(line.points) > 1]
    free = shapely.difference(shapely.buffer(part.outline, -EDGE), shapely.buffer(shapely.union_all(lines), EDGE))
    rooms = [piece for area in areas for piece in getattr(shapely.intersection(shapely.buffer(area, -EDGE), free), "geoms", ())
             or (shapely.intersection(shapely.buffer(area, -EDGE), free),) if isinstance(piece, Polygon) and not piece.is_empty]
    for height in HEIGHTS:
        for room in sorted(rooms, key=lambda piece: -round(piece.area, 3)):
            for middle in _places(part, height, room):
                left, low, right, high = text_box(part.label, (0.0, 0.0), height)
                at = (middle.x - (left + right) / 2, middle.y - (low + high) / 2)
                if shapely.covers(room, shapely.box(*text_box(part.label, at, height))):
                    return Label((round(at[0], 3), round(at[1], 3)), height, True)
    return None


def _places(part: Part, height: float, room: Polygon) -> Iterator[Point]:
    """Middles of a label to be tried in a room: the part's own place, the room's middle, then a grid from the middle on."""
    left, low, right, high = text_box(part.label, part.label_at, height)
    yield Point((left + right) / 2, (low + high) / 2)
    centre = room.centroid
    yield centre
    x0, y0, x1, y1 = room.bounds
    across, up = (np.arange(a, b, max(GRID, (b - a) / 40)) for a, b in ((x0, x1), (y0, y1)))
    grid = [Point(x, y) for x in across for y in up]
    yield from sorted(grid, key=lambda point: (round(point.distance(centre), 6), point.x, point.y))
