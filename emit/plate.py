"""All parts of a card in one drawing, upright, in rows under the names of their papers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from shapely.geometry import Point

from foldwright.emit.drawing import Drawing, Group, control_group, part_group, text_group
from foldwright.emit.labels import ROOM, Label
from foldwright.emit.names import Unique, identifier
from foldwright.emit.placed import Control, Placed
from foldwright.emit.trace import Trace, rounded
from foldwright.solver.card import Card, Paper, Part, Stroke

_GAP = ROOM  # mm between parts, and around the plate: a label may stand below its part
_HEAD = 5.0  # mm, cap height of a paper's name
_CONTROL_HEIGHT = 8.0
_RING = 2.5  # mm, radius of the mark round a place that is too thin


def plate_drawing(card: Card, labels: Mapping[str, Label]) -> Drawing:
    """Every part once, in the card's order, paper by paper, rows from the top; the control line at the foot.

    All parts of a paper carry its colour; `labels` by the parts' names, on the parts or below them.

    The plate is as wide as the mat, or as the widest part if that is wider, and as high as it needs to be.
    """
    width = max(card.mat[0], *(_size(part)[0] for part in card.parts), 54.0) + 2 * _GAP
    names = Unique()
    groups: list[Group] = []
    down = _GAP  # from the top; turned into y up when the height is known
    blocks: list[tuple[Paper, float, list[tuple[Part, float, float]]]] = []
    for paper in card.papers:
        parts = [part for part in card.parts if part.paper == paper.name]
        if parts:
            head = down + _HEAD
            placed, down = _rows(parts, width, head + _GAP)
            blocks.append((paper, head, placed))
    height = down + _CONTROL_HEIGHT + _GAP
    for paper, head, placed in blocks:
        groups.append(text_group(paper.name, (_GAP, height - head), _HEAD, names))
        for part, x, y in placed:
            lying = _upright(part, x, height - y)
            groups.append(part_group(lying, names, labels, paper.colour))
            groups.extend(_thin_group(lying, names))
    groups.append(control_group(Control(_GAP, _GAP, False), names))
    return Drawing(f"{card.title}: all parts", rounded(width), rounded(height), tuple(groups))


def _rows(parts: Sequence[Part], width: float, top: float) -> tuple[list[tuple[Part, float, float]], float]:
    """Parts with their upper left corners, measured down from the top, and where the rows end."""
    placed: list[tuple[Part, float, float]] = []
    for row in _split(parts, width):
        x = _GAP
        for part in row:
            placed.append((part, x, top))
            x += _size(part)[0] + _GAP
        top += max(_size(part)[1] for part in row) + _GAP
    return placed, top


def _split(parts: Sequence[Part], width: float) -> Iterator[list[Part]]:
    row: list[Part] = []
    used = _GAP
    for part in parts:
        need = _size(part)[0] + _GAP
        if row and used + need > width + 1e-9:  # a part exactly as wide as the plate's row is no new row
            yield row
            row, used = [], _GAP
        row.append(part)
        used += need
    yield row


def _thin_group(lying: Placed, names: Unique) -> Iterator[Group]:
    """A ring round each place of a part that is too thin; on the sheets themselves there is none."""
    rings = []
    for place in lying.part.thin:
        if lying.part.outline.distance(Point(place.at)) < _RING:  # a piece of a joined part has the places of the whole
            around = Point(place.at[0] + lying.dx, place.at[1] + lying.dy).buffer(_RING, quad_segs=8).exterior.coords[:-1]
            rings.append(Trace(Stroke.MARK, tuple((rounded(x), rounded(y)) for x, y in around), True))
    if rings:
        title = f"too thin on {lying.part.label}: here paper tears"
        yield Group(names(f"thin-{identifier(lying.part.name)}"), title, tuple(rings))


def _size(part: Part) -> tuple[float, float]:
    left, low, right, high = part.outline.bounds
    return right - left, high - low


def _upright(part: Part, left: float, top: float) -> Placed:
    """A part, not turned, with its upper left corner at a place in y-up coordinates."""
    bounds = part.outline.bounds
    return Placed(part, left - bounds[0], top - bounds[3], 0)
