"""Places on a part that no glue covers and nobody sees all the same, since folds close a room round them.

A place is unseen if every ray from it, in all directions and however far the card is open, meets paper. Rays flatter than 10°
to the paper do not count: from there a number of 3 mm looks half a millimetre high. Rays are sampled some 6° apart, so what is
seen only through a narrower gap passes for unseen. A window's pane stops nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from math import pi, radians, sin, sqrt

import numpy as np
import shapely
from numpy.typing import NDArray

from foldwright.solver.card import Card, Placement, Vector
from foldwright.solver.gluing import Gluing

FLAT = sin(radians(10))
_RAYS = 1024
_BATCHES = (0, 4, 16, 64, 256, _RAYS)  # most places are seen along one of the first few
_SHARES = (1.0, 0.75, 0.5)  # of the opening: a card that is less open hides more of what is in it
_LIFT = 1e-3  # mm from the paper at which a ray begins, and beyond which something stops it
_LAP = 0.05  # mm by which paper reaches over its edges, so that no ray slips through a crease
_ALONG = 7  # places looked at along each side of a panel

Place = tuple[str, int, float, float]  # panel, its face (1 front, -1 back), part coordinates


def directions(count: int = _RAYS) -> Vector:
    """Unit vectors spread evenly over the sphere (a spiral with golden steps), shape (count, 3); neighbours are not in a row."""
    number = np.arange(count)
    height, turn = 1 - (2 * number + 1) / count, pi * (3 - sqrt(5)) * number
    wide = np.sqrt(1 - height**2)
    rays = np.column_stack([wide * np.cos(turn), wide * np.sin(turn), height])
    return rays[np.argsort((number * 377) % count, kind="stable")]


class Unseen:
    """What is unseen on the faces of a card's panels."""

    def __init__(self, card: Card, gluing: Gluing) -> None:
        self._panels = gluing.panels
        panes = {bond.panel for bond in card.bonds if gluing.pane(bond)}
        shapes = {name: shapely.buffer(panel.outline, _LAP, join_style="mitre")
                  for name, panel in self._panels.items() if name not in panes}
        for shape in shapes.values():
            shapely.prepare(shape)
        self._walls = {name: (shape, shape.bounds) for name, shape in shapes.items()}
        self._poses = [card.pose(share * card.opens) for share in _SHARES]

    def places(self, faces: Mapping[str, int]) -> dict[str, list[tuple[float, float]]]:
        """By panel some places that are unseen on its face (1 front, -1 back), the innermost first."""
        tried = [(name, face, x, y) for name, face in faces.items() for x, y in self._grid(name)]
        found: dict[str, list[tuple[float, float]]] = {}
        for (name, _, x, y), unseen in zip(tried, self.of(tried), strict=True):
            if unseen:
                found.setdefault(name, []).append((x, y))
        for name, places in found.items():
            edge = self._panels[name].outline.boundary
            places.sort(key=lambda place: -round(edge.distance(shapely.Point(place)), 3))
        return found

    def _grid(self, name: str) -> list[tuple[float, float]]:
        outline = self._panels[name].outline
        x0, y0, x1, y1 = outline.bounds
        across, up = (low + (np.arange(_ALONG) + 0.5) * (high - low) / _ALONG for low, high in ((x0, x1), (y0, y1)))
        grid = np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)
        inside: list[tuple[float, float]] = grid[shapely.contains_xy(outline, grid)].tolist()
        return inside

    def of(self, places: list[Place]) -> NDArray[np.bool_]:
        """Which of some places are unseen, shape (n,)."""
        unseen = np.ones(len(places), dtype=bool)
        for placed in self._poses:
            if not unseen.any():
                break
            axes = {name: np.cross(placed[name].along, placed[name].up) for name in {place[0] for place in places}}
            normals = np.array([face * axes[name] for name, face, _, _ in places])
            starts = np.array([placed[name].points(np.array([[x, y]]))[0] for name, _, x, y in places]) + _LIFT * normals
            for first, last in pairwise(_BATCHES):
                alive = np.flatnonzero(unseen)
                rays = directions()[first:last]
                seen = (normals[alive] @ rays.T > FLAT) & ~self._stopped(starts[alive], rays, placed)
                unseen[alive] = ~seen.any(axis=1)
        return unseen

    def _stopped(self, starts: Vector, rays: Vector, placed: Mapping[str, Placement]) -> NDArray[np.bool_]:
        """Whether some points, shape (n, 3), have paper before them along some rays, shape (m, 3): shape (n, m)."""
        stopped = np.zeros((len(starts), len(rays)), dtype=bool)
        for name, (shape, (x0, y0, x1, y1)) in self._walls.items():
            wall = placed[name]
            normal = np.cross(wall.along, wall.up)
            slope = rays @ normal
            with np.errstate(divide="ignore", invalid="ignore"):
                way = ((wall.origin - starts) @ normal)[:, None] / slope
                x = ((starts - wall.origin) @ wall.along)[:, None] + way * (rays @ wall.along)
                y = ((starts - wall.origin) @ wall.up)[:, None] + way * (rays @ wall.up)
                near = (way > _LIFT) & (x > x0) & (x < x1) & (y > y0) & (y < y1) & ~stopped
            stopped[near] = shapely.contains_xy(shape, x[near], y[near])
        return stopped
