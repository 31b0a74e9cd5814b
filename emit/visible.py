"""What a viewer sees of flat faces in space: the visible area of each face and the visible stretches of its lines.

Nothing is painted over: a piece is what is left of a face when all that lies in front has been taken away (hidden-line
removal), so neighbours share an edge and no hairline shows between the pieces of one face.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import cos, radians, sin

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from foldwright.emit.bsp import Face, Node, front_to_back, polygons
from foldwright.solver.card import Placement, Vector

GRID = 1e-4  # mm: plane operations snap to this grid, which closes the seams of cuts; no picture shows so little
LAP = 5e-4  # mm: pieces reach over their edges by this, so that no gap stays where a face was cut
STUB = 5e-3  # mm: visible stretches shorter than this are left over from rounding
_THIN = 1e-3  # share of its area that a face seen edge-on may show and still counts as a line


@dataclass(frozen=True)
class View:
    """A direction to look from, in degrees, as the reader of a card sits.

    At azimuth 0 the viewer is at the tail of the spine (low x) and looks along it; a growing azimuth moves the viewer to
    their own right (to negative y). Elevation 0 looks along the table, 90 from above. `lean` turns the card about its
    spine before, y towards z: 0 holds both pages alike, 90 less half the opening lays the right page on the table.
    """

    azimuth: float = 17.0
    elevation: float = 38.0
    lean: float = 0.0

    @classmethod
    def seat(cls, opens: float, angle: float) -> View:
        """Where a reader sits: at the tail of a card that opens flat, before the standing page of one that opens to an L."""
        return cls() if opens > 120 else cls(58.0, 30.0, 90 - angle / 2)

    @property
    def table(self) -> NDArray[np.float64]:
        """Unit vectors to the viewer's right, away from them along the table, and up, in the card's axes; rows, (3, 3)."""
        a, t = radians(self.azimuth), radians(self.lean)
        seat = np.array([[sin(a), -cos(a), 0.0], [cos(a), sin(a), 0.0], [0.0, 0.0, 1.0]])
        leaning = np.array([[1.0, 0.0, 0.0], [0.0, cos(t), -sin(t)], [0.0, sin(t), cos(t)]])
        turned: NDArray[np.float64] = seat @ leaning
        return turned

    @property
    def towards(self) -> Vector:
        """Unit vector from the card to the viewer."""
        e = radians(self.elevation)
        return np.array([0.0, -cos(e), sin(e)]) @ self.table

    @property
    def axes(self) -> NDArray[np.float64]:
        """Unit vectors to the right and up in the picture, shape (2, 3)."""
        e = radians(self.elevation)
        return np.array([[1.0, 0.0, 0.0], [0.0, sin(e), cos(e)]]) @ self.table

    def flat(self, placement: Placement) -> tuple[NDArray[np.float64], Vector]:
        """Matrix (2, 2) and shift (2,) that bring a face's flat coordinates into the picture plane, in mm."""
        axes = self.axes
        return axes @ np.column_stack([placement.along, placement.up]), axes @ placement.origin


@dataclass
class Seen:
    """What is seen of one face, in the picture plane (mm, y up): its area, and its lines by tag."""

    area: BaseGeometry
    lines: dict[int, BaseGeometry] = field(default_factory=dict)


def visible(faces: Sequence[Face], tree: Node | None, view: View) -> list[Seen]:
    """The visible part of each face, in the order of `faces`."""
    shots = [view.flat(face.placement) for face in faces]
    areas: list[list[BaseGeometry]] = [[] for _ in faces]
    lines: list[dict[int, list[BaseGeometry]]] = [{} for _ in faces]
    front = _Front()
    for piece in front_to_back(tree, view.towards):
        matrix, shift = shots[piece.face]
        for tag, line in piece.lines:
            left = front.off(_moved(line, matrix, shift))
            lines[piece.face].setdefault(tag, []).extend(run for run in shapely.get_parts(left) if run.length > STUB)
        if abs(np.linalg.det(matrix)) < _THIN:
            continue
        area = shapely.buffer(_moved(piece.area, matrix, shift), LAP, join_style="mitre", mitre_limit=2.0)
        left = front.off(area)
        if not left.is_empty:
            areas[piece.face].append(left)
            front.add(area)
    merged = [{tag: shapely.union_all(runs) for tag, runs in own.items() if runs} for own in lines]
    return [Seen(_joined(found), own) for found, own in zip(areas, merged, strict=True)]


def _joined(pieces: Sequence[BaseGeometry]) -> BaseGeometry:
    """Visible pieces of one face as one area, across their seams, and without parts that are no wider than laps."""
    whole = shapely.union_all(shapely.buffer(pieces, LAP, join_style="mitre", mitre_limit=2.0), grid_size=GRID)
    return shapely.union_all([part for part in shapely.get_parts(whole) if part.area > 4 * LAP * part.length])


class _Front:
    """All areas met so far, in unions of 1, 2, 4, ... of them, so that each is merged a few times only."""

    def __init__(self) -> None:
        self.unions: list[BaseGeometry | None] = []

    def add(self, area: BaseGeometry) -> None:
        """One more area; unions of equal size are merged, as a carry runs through a binary number."""
        for level, union in enumerate(self.unions):
            if union is None:
                self.unions[level] = area
                return
            area, self.unions[level] = polygons(shapely.union(union, area, grid_size=GRID)), None
        self.unions.append(area)

    def off(self, shape: BaseGeometry) -> BaseGeometry:
        """What of an area or of lines no area met so far covers."""
        area = shape.geom_type in {"Polygon", "MultiPolygon"}
        for union in reversed(self.unions):
            if union is not None and not shape.is_empty and shapely.intersects(shapely.box(*shape.bounds), union):
                shape = polygons(shapely.difference(shape, union, grid_size=GRID)) if area else shapely.difference(shape, union)
        return shape


def _moved(geometry: BaseGeometry, matrix: NDArray[np.float64], shift: Vector) -> BaseGeometry:
    moved: BaseGeometry = shapely.transform(geometry, lambda points: points @ matrix.T + shift)
    return moved
