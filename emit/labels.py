"""Where part numbers stand: on the face of a part that is drawn on, where glue or a fold hides them; beside it, or nowhere.

A face is hidden where a tab is glued with it, and where another sheet is glued onto it (`solver/gluing.py` tells which face of
a sheet lies against the other). What is glued over a part only in places hides only those; an opening in the sheet above
hides nothing. Without glue a place counts if nobody sees it (`unseen.py`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from foldwright.emit.lettering import mirrored_text, text_box
from foldwright.emit.unseen import Unseen
from foldwright.emit.wanted import Labels
from foldwright.solver.card import Card, Part
from foldwright.solver.gluing import Gluing
from foldwright.solver.pieces import hidden_at_seams, pieces, wholes
from foldwright.solver.sides import printed_faces

EDGE = 0.5  # mm kept between a label and the edge of what hides it, or a line of its part: sheets are glued by hand
HEIGHTS = (3.0, 2.5, 2.0, 1.6)  # mm, cap heights tried; smaller cannot be read
GRID = 2.0  # mm between places that are looked at
_TRIED = 9  # places without glue that are tried on a panel
_POINTS = 9  # points of a box that are looked at
_BESIDE = 3.0  # mm, cap height of a label beside its part
_GAP = 1.0  # mm between a part and a label beside it
ROOM = _BESIDE + 2 * _GAP  # mm that a label beside its part needs below it


@dataclass(frozen=True, slots=True)
class Label:
    """A part's number: left end of its base line in part coordinates, and cap height, mm. `hidden` in the finished card."""

    at: tuple[float, float]
    height: float
    hidden: bool


def label_places(card: Card, faces: Mapping[str, int] | None = None, gluing: Gluing | None = None) -> dict[str, Label]:
    """A label for every part and piece of one that has room, by its name: hidden if anything hides it, else where room is.

    `faces` are those that are drawn on, by part: 1 its front, which is so if they are left out, or -1 its back; then the
    place is that on the part's mirror image, as it is seen from there (`sides.mirrored`).
    """
    gluing = gluing or Gluing(card)
    hidden = gluing.hidden
    areas: dict[tuple[str, int], list[BaseGeometry]] = {}
    for panel in card.panels:
        for face in (1, -1):
            areas.setdefault((panel.part, face), []).extend(hidden.get((panel.name, face), ()))
    seams = hidden_at_seams(card, printed_faces(card, gluing)) if card.joined else {}
    areas |= {(piece, face): [*areas.get((whole, face), ()), *seams.get((piece, face), ())]
              for piece, whole in wholes(card).items() for face in (1, -1)}
    parts = (*card.parts, *pieces(card))
    drawn = faces or {part.name: 1 for part in parts}
    glued = {part.name: _hidden(part, areas.get((part.name, drawn[part.name]))) for part in parts}
    folded = _unseen(card, gluing, {part.name: drawn[part.name] for part in card.parts if glued[part.name] is None})
    places = {}
    for part in parts:
        label = glued[part.name] or folded.get(part.name) or _seen(part)
        if label is None:  # across an edge it would be cut to pieces
            continue
        seen_at = label.at if drawn[part.name] > 0 else mirrored_text(part.label, label.at, label.height)
        places[part.name] = replace(label, at=seen_at)
    return places


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


def _unseen(card: Card, gluing: Gluing, faces: Mapping[str, int]) -> dict[str, Label]:
    """Labels of some parts in places that no glue covers but nobody sees; `faces` are those drawn on, by part."""
    unseen, parts = Unseen(card, gluing), {part.name: part for part in card.parts if part.name in faces}
    places = unseen.places({panel.name: faces[panel.part] for panel in card.panels if panel.part in faces})
    tried: list[tuple[str, str, Label]] = []
    for name, some in places.items():
        part = parts[gluing.panels[name].part]
        room = shapely.intersection(_free(part), gluing.panels[name].outline)
        for height in HEIGHTS:
            for x, y in some[:_TRIED]:
                left, low, right, high = text_box(part.label, (0.0, 0.0), height)
                label = Label((round(x - (left + right) / 2, 3), round(y - (low + high) / 2, 3)), height, True)
                if shapely.covers(room, shapely.box(*text_box(part.label, label.at, height))):
                    tried.append((part.name, name, label))
    around = [(name, faces[part], x, y) for part, name, label in tried for x, y in _around(parts[part].label, label)]
    unseen_at: list[list[bool]] = unseen.of(around).reshape(len(tried), _POINTS).tolist()
    best: dict[str, Label] = {}
    for (part_name, _, label), alright in zip(tried, unseen_at, strict=True):
        if all(alright) and (part_name not in best or label.height > best[part_name].height):
            best[part_name] = label
    return best


def _around(text: str, label: Label) -> list[tuple[float, float]]:
    """Points of the box of a label, `EDGE` round it."""
    left, low, right, high = text_box(text, label.at, label.height)
    xs, ys = (left - EDGE, (left + right) / 2, right + EDGE), (low - EDGE, (low + high) / 2, high + EDGE)
    return [(x, y) for x in xs for y in ys]


def _free(part: Part) -> BaseGeometry:
    """A part without what lies near its edges and lines."""
    lines = [LineString(line.points) for line in part.lines if len(line.points) > 1]
    return shapely.difference(shapely.buffer(part.outline, -EDGE), shapely.buffer(shapely.union_all(lines), EDGE))


def _seen(part: Part) -> Label | None:
    """A label that nothing hides, off the edges, holes and lines of its part; None if it has no room for that."""
    found = _hidden(part, [part.outline])
    return found and replace(found, hidden=False)


def _hidden(part: Part, areas: list[BaseGeometry] | None) -> Label | None:
    """The part's label in the largest hidden area that takes it, as large as it can be, None if none does."""
    if not areas:
        return None
    free = _free(part)
    rooms = [piece for area in areas for piece in shapely.get_parts(shapely.intersection(shapely.buffer(area, -EDGE), free))
             if isinstance(piece, Polygon) and not piece.is_empty]
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
