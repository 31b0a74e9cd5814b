"""Letters set beside each other, as shapes that can be joined and cut, with the curves that they are made of."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import shapely
from fontTools.misc.transform import Transform
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from foldwright.grammar.artwork import Artwork
from foldwright.grammar.artwork_curves import Curve, Line, SubPath
from foldwright.grammar.artwork_outline import CHORD
from foldwright.grammar.letters_font import EM, Font

Floats = NDArray[np.float64]

DECIMALS = 3
GRID = 10.0**-DECIMALS
FOOT = 45.0  # how deep the letters stand in their bar: more than their overshoot below the line, less than a round end


@dataclass(frozen=True)
class Sign:
    """Some closed outlines, what they paint, and how finely that follows them."""

    paths: tuple[SubPath, ...]
    shape: Polygon | MultiPolygon
    chord: float

    def moved(self, x: float, y: float) -> Sign:
        """The same, somewhere else."""
        matrix = Transform().translate(round(x, DECIMALS), round(y, DECIMALS))
        return Sign(tuple(path.moved(matrix) for path in self.paths), affinity.translate(self.shape, matrix[4], matrix[5]),
                    self.chord)

    def curves(self) -> Iterator[Curve]:
        """Its lines and curves, each on its own."""
        for path in self.paths:
            yield from path.curves(self.chord)

    def pieces(self) -> list[Sign]:
        """Each connected piece with its own outlines, the largest first."""
        shapes = sorted(shapely.get_parts(self.shape), key=lambda shape: (-shape.area, shape.bounds))
        if len(shapes) == 1:
            return [self]
        lines = [LineString(path.points(path.steps(self.chord))) for path in self.paths]
        homes = [int(np.argmin([shape.distance(line) for shape in shapes])) for line in lines]
        return [Sign(tuple(path for path, home in zip(self.paths, homes, strict=True) if home == number), shape, self.chord)
                for number, shape in enumerate(shapes)]


@dataclass(frozen=True)
class Made:
    """A finished shape with all its curves; `bridged` if it has bridges."""

    shape: Polygon | MultiPolygon
    curves: tuple[Curve, ...]
    bridged: bool

    def artwork(self) -> Artwork:
        """The same in units of its own width, the lower left corner of its box at (0, 0)."""
        left, low, right, high = self.shape.bounds
        factor = 1 / (right - left)
        outline = shapely.normalize(shapely.transform(self.shape, lambda points: (points - (left, low)) * factor))
        matrix = Transform(factor, 0, 0, factor, -left * factor, -low * factor)
        return Artwork(outline, right - left, high - low, Path(), tuple(curve.moved(matrix) for curve in self.curves))


def chord_of(letters: Sequence[str], font: Font) -> float:
    """How far chords of a text may be from its curves."""
    return CHORD * max(EM, sum(font.glyph(letter).advance for letter in letters))


@lru_cache(maxsize=512)
def sign(letter: str, font: Font, chord: float) -> Sign:
    """One letter, its start at x = 0."""
    paths = font.glyph(letter).paths
    rings = [np.round(np.array(path.points(path.steps(chord))), DECIMALS) for path in paths]
    kept = [(path, ring) for path, ring in zip(paths, rings, strict=True) if len(np.unique(ring, axis=0)) > 2]
    if not kept:
        return Sign((), Polygon(), chord)
    return Sign(tuple(path for path, _ in kept), _painted([ring for _, ring in kept]), chord)


def _painted(rings: Sequence[Floats]) -> Polygon | MultiPolygon:
    """What is inside closed lines by the nonzero rule; a line may cross itself, as outlines of fonts do."""
    lines = shapely.union_all([LineString(ring) for ring in rings], grid_size=GRID)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    inside = shapely.get_coordinates(shapely.point_on_surface(faces))
    turns = np.sum([_winding(ring, inside) for ring in rings], axis=0)
    return shapely.union_all(faces[turns != 0], grid_size=GRID)


def _winding(ring: Floats, points: Floats) -> NDArray[np.intp]:
    """How often a closed line, shape (n, 2), goes round each of some points, shape (m, 2), none of them on it."""
    (x0, y0), (x1, y1) = ring[:-1].T, ring[1:].T
    x, y = points[:, :1], points[:, 1:]
    side = (x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)
    up, down = (y0 <= y) & (y1 > y) & (side > 0), (y0 > y) & (y1 <= y) & (side < 0)
    found: NDArray[np.intp] = up.sum(axis=1) - down.sum(axis=1)
    return found


def rectangle(left: float, low: float, right: float, high: float) -> Polygon:
    """A rectangle on the grid."""
    corners = [round(value, DECIMALS) for value in (left, low, right, high)]
    return box(*corners)


def edges(shape: Polygon) -> Iterator[Curve]:
    """The sides of a polygon as curves."""
    for start, end in pairwise(shape.exterior.coords):
        yield Curve(start, Line(end), 1)
