"""What a strip packer moves as one: a part with whatever lies in its holes, for it knows no holes itself."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import Polygon

from foldwright.emit.placed import Placed, Sheet
from foldwright.emit.raster import grown, turn_points
from foldwright.emit.slide import slid
from foldwright.emit.strip import Piece
from foldwright.solver.card import Part

_MOST = 1.0  # mm that a part slides at once; a strip packer leaves about a tenth between two parts
_ROUNDS = 2


@dataclass(frozen=True)
class Bundle:
    """`part` and the parts in its holes, placed where they lie when `part` itself is not turned and not moved."""

    part: Part
    inside: tuple[Placed, ...]
    turns: tuple[int, ...]

    @cached_property
    def area(self) -> float:
        """Area that it takes on a sheet apart from others' spacing: its outline without holes, mm²."""
        return float(Polygon(self.part.outline.exterior).area)

    def room(self, spacing: float) -> float:
        """The same with half the spacing around it."""
        return float(grown(Polygon(self.part.outline.exterior), spacing).area)

    @property
    def piece(self) -> Piece:
        """What the strip packer is told of it."""
        return Piece(Polygon(self.part.outline.exterior), self.turns)

    def at(self, turn: int, x: float, y: float) -> tuple[Placed, ...]:
        """Its parts, the bundle turned about (0, 0) and then moved."""
        around = [(one, turn_points(np.array([[one.dx, one.dy]]), turn)[0]) for one in self.inside]
        return (Placed(self.part, x, y, turn),
                *(Placed(one.part, x + dx, y + dy, (one.turn + turn) % 360) for one, (dx, dy) in around))


def bundles(sheet: Sheet, turns: Mapping[str, Collection[int]]) -> list[Bundle]:
    """The parts of a sheet, those in the holes of others together with them; `turns` that each part (by name) may take."""
    lying = [(placed, placed.outline) for placed in sheet.placed]
    lying.sort(key=lambda item: -Polygon(item[1].exterior).area)
    carriers: list[tuple[Placed, Polygon, list[Placed]]] = []
    for placed, outline in lying:
        for _, filled, inside in carriers:
            if filled.contains(outline):
                inside.append(placed)
                break
        else:
            carriers.append((placed, Polygon(outline.exterior), []))
    return [_bundle(carrier, inside, turns) for carrier, _, inside in carriers]


def _bundle(carrier: Placed, inside: Sequence[Placed], turns: Mapping[str, Collection[int]]) -> Bundle:
    back = -carrier.turn % 360
    members = []
    for one in inside:
        dx, dy = turn_points(np.array([[one.dx - carrier.dx, one.dy - carrier.dy]]), back)[0]
        members.append(Placed(one.part, float(dx), float(dy), (one.turn + back) % 360))
    allowed = [turn for turn in sorted(turns[carrier.part.name])
               if all((one.turn + turn) % 360 in turns[one.part.name] for one in members)]
    return Bundle(carrier.part, tuple(members), tuple(allowed))


def compacted(shapes: Sequence[Polygon], spacing: float) -> list[tuple[float, float]]:
    """How far each shape can slide left and down (mm) without coming too near the others, or below x = 0 or y = 0.

    Shapes that lie below are first moved up, all alike.
    """
    up = np.minimum(shapely.total_bounds(list(shapes))[:2], 0.0)
    now = [shapely.transform(shape, lambda points: points - up) for shape in shapes]
    for _ in range(_ROUNDS):
        for index in sorted(range(len(now)), key=lambda index: now[index].bounds[0]):
            left, down = slid(now[index], [*now[:index], *now[index + 1 :]], spacing, _MOST)
            shift = np.array([left, down])
            now[index] = shapely.transform(now[index], lambda points, shift=shift: points - shift)
    return [(before.bounds[0] - after.bounds[0], before.bounds[1] - after.bounds[1])
            for before, after in zip(shapes, now, strict=True)]
