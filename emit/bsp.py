"""Which of many flat faces in space lies in front: a binary space partition (Fuchs, Kedem and Naylor 1980).

The tree belongs to a scene, not to a camera: each node holds a plane, the pieces of faces that lie in it, and the pieces on
either side, cut where they pass through. Walked with the viewer's side first, it gives all pieces from front to back.
Pieces are polygons in the flat coordinates of their own face, so that no cut bends them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from foldwright.solver.card import Placement, Vector

SAME = 1e-4  # mm: nearer to a plane than this is in it; poses are exact to 1e-9, paper is thousands of times thicker
_CRUMB = 1e-6  # mm²: pieces smaller than this are dropped
_TRIED = 8  # planes tried at each node; more of them save few cuts

# Faces by number that lie in one plane, and the plane's normal: the same faces from the lowest to the highest along it.
Stack = Callable[[Sequence[int], Vector], Sequence[int]]


@dataclass(frozen=True)
class Face:
    """A flat face in space: its area and the lines drawn on it, in flat coordinates (mm); lines carry a tag."""

    placement: Placement
    area: BaseGeometry
    lines: tuple[tuple[int, BaseGeometry], ...]

    @property
    def normal(self) -> Vector:
        """Unit vector square to the face."""
        return np.cross(self.placement.along, self.placement.up)


@dataclass(frozen=True)
class Piece:
    """A part of a face, by the face's number: area and lines in flat coordinates."""

    face: int
    area: BaseGeometry
    lines: tuple[tuple[int, BaseGeometry], ...]


@dataclass(frozen=True)
class Node:
    """A plane (points p with normal · p = offset), the pieces in it from low to high along the normal, and both sides."""

    normal: Vector
    pieces: tuple[Piece, ...]
    above: Node | None
    below: Node | None


def grow(faces: Sequence[Face], stack: Stack) -> Node | None:
    """The tree of a scene; `stack` settles the order of faces in one plane."""
    return _Grower(faces, stack).node([Piece(i, face.area, face.lines) for i, face in enumerate(faces)])


def front_to_back(tree: Node | None, towards: Vector) -> Iterator[Piece]:
    """All pieces, nearest first, for a viewer far away in the direction `towards` (parallel projection)."""
    waiting: list[Node | Piece | None] = [tree]
    while waiting:
        item = waiting.pop()
        if isinstance(item, Piece):
            yield item
        elif item is not None:
            if item.normal @ towards >= 0:
                waiting += [item.below, *item.pieces, item.above]
            else:
                waiting += [item.above, *reversed(item.pieces), item.below]


class _Grower:
    """The planes of a scene's faces, and the work of dividing pieces among them."""

    def __init__(self, faces: Sequence[Face], stack: Stack) -> None:
        self.faces = faces
        self.stack = stack
        self.normals = np.array([face.normal for face in faces]).reshape(-1, 3)
        self.offsets = np.array([normal @ face.placement.origin for normal, face in zip(self.normals, faces, strict=True)])

    def node(self, pieces: list[Piece]) -> Node | None:
        """The tree of some pieces. Depth is bounded by the number of faces: each level uses up one plane."""
        if not pieces:
            return None
        low, high = self._heights(pieces)
        plane, low, high = self._plane(pieces, low, high)
        normal = self.normals[plane]
        flat, above, below = [], [], []
        for piece, least, most in zip(pieces, low, high, strict=True):
            if least >= -SAME and most <= SAME:
                flat.append(piece)
            elif least >= -SAME:
                above.append(piece)
            elif most <= SAME:
                below.append(piece)
            else:
                above += self._half(piece, normal, self.offsets[plane])
                below += self._half(piece, -normal, -self.offsets[plane])
        return Node(normal, self._stacked(flat, normal), self.node(above), self.node(below))

    def _heights(self, pieces: Sequence[Piece]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Least and greatest height of each piece over the planes tried, shape (pieces, planes)."""
        tried = self._tried(pieces)
        points, first = [], [0]
        for piece in pieces:
            points.append(self.faces[piece.face].placement.points(shapely.get_coordinates(piece.area)))
            first.append(first[-1] + len(points[-1]))
        heights = np.concatenate(points) @ self.normals[tried].T - self.offsets[tried]
        return np.minimum.reduceat(heights, first[:-1]), np.maximum.reduceat(heights, first[:-1])

    @staticmethod
    def _tried(pieces: Sequence[Piece]) -> list[int]:
        """Faces whose planes are tried: some of the pieces' own, evenly over the list."""
        own = list(dict.fromkeys(piece.face for piece in pieces))
        return own[:: max(1, len(own) // _TRIED)]

    def _plane(self, pieces: Sequence[Piece], low: NDArray[np.float64], high: NDArray[np.float64]
               ) -> tuple[int, NDArray[np.float64], NDArray[np.float64]]:
        """The plane that cuts fewest pieces and then divides them most evenly, with the pieces' heights over it."""
        cut = ((low < -SAME) & (high > SAME)).sum(axis=0)
        uneven = abs((low >= -SAME).sum(axis=0) - (high <= SAME).sum(axis=0))
        best = int(np.argmin(8 * cut + uneven))  # eight: a cut makes work at every node further down
        return self._tried(pieces)[best], low[:, best], high[:, best]

    def _half(self, piece: Piece, normal: Vector, offset: float) -> list[Piece]:
        """What of a piece lies above a plane: one piece, or none if only a crumb is left."""
        placement = self.faces[piece.face].placement
        slope = np.array([normal @ placement.along, normal @ placement.up])
        level = offset - float(normal @ placement.origin)
        area = shapely.intersection(piece.area, _half_plane(piece.area, slope, level))
        area = polygons(area)
        if area.area < _CRUMB:
            return []
        # a line that lies in the cut belongs to both sides
        reach = _half_plane(piece.area, slope, level - 2 * SAME)
        lines = ((tag, shapely.intersection(line, reach)) for tag, line in piece.lines)
        return [Piece(piece.face, area, tuple((tag, line) for tag, line in lines if line.length > 0))]

    def _stacked(self, pieces: Sequence[Piece], normal: Vector) -> tuple[Piece, ...]:
        order = {face: rank for rank, face in enumerate(self.stack(sorted({piece.face for piece in pieces}), normal))}
        return tuple(sorted(pieces, key=lambda piece: order[piece.face]))


def _half_plane(near: BaseGeometry, slope: Vector, level: float) -> BaseGeometry:
    """A rectangle that holds the points p around `near` with slope · p >= level."""
    u0, v0, u1, v1 = near.bounds
    reach = 2 * float(np.hypot(u1 - u0, v1 - v0)) + 1
    middle = np.array([u0 + u1, v0 + v1]) / 2
    steepness = slope @ slope
    foot = middle + slope * (level - slope @ middle) / steepness
    up = slope / np.sqrt(steepness)
    along = np.array([-up[1], up[0]])
    return shapely.Polygon([foot - reach * along, foot + reach * along,
                            foot + reach * (along + up), foot - reach * (along - up)])


def polygons(geometry: BaseGeometry) -> BaseGeometry:
    """The areas among what a plane operation left, without its points and lines."""
    if geometry.geom_type in {"Polygon", "MultiPolygon"}:
        return geometry
    return shapely.union_all([part for part in shapely.get_parts(geometry) if part.geom_type == "Polygon"])
