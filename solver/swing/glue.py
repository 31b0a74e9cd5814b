"""Glued areas: those that overlap on one face of a panel, and those that are too small to hold."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import combinations

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from foldwright.solver.card import Bond, Hinge
from foldwright.solver.geometry import cross
from foldwright.solver.swing.scene import Scene

LEAST = 0.2  # mm: a narrower overlap is a touch of borders
SLIT = 0.01  # mm from a slit: a tab whose crease runs along it is passed through
UPRIGHT = 0.01  # sine: a wall nearer to its host's plane than that tells no side


@dataclass(frozen=True)
class Overlap:
    """Two panels glued over each other: `width` of the overlap in mm, and its middle in space on the open card."""

    panels: tuple[str, str]
    host: str
    place: tuple[float, float, float]
    width: float


def overlapping(scene: Scene) -> Iterator[Overlap]:
    """Every pair of glued areas that share some of one face of their host."""
    number = {name: index for index, name in enumerate(scene.names)}
    areas: dict[tuple[str, int], list[tuple[str, BaseGeometry]]] = {}
    creases: dict[str, list[Hinge]] = {}
    for hinge in scene.card.hinges:
        for panel in (hinge.left, hinge.right):
            creases.setdefault(panel, []).append(hinge)
    for bond in scene.card.bonds:
        side = _kept_side(scene, bond, number, creases.get(bond.panel, []))
        areas.setdefault((bond.host, side), []).append((bond.panel, _area(scene, bond, number)))
    for (host, _), glued in areas.items():
        boxes = shapely.bounds([area for _, area in glued])
        apart = (boxes[:, None, :2] > boxes[None, :, 2:]).any(axis=2)
        apart |= apart.T
        for i, j in combinations(range(len(glued)), 2):
            if apart[i, j]:
                continue
            (one, first), (two, second) = glued[i], glued[j]
            shared = first.intersection(second)
            if shared.buffer(-LEAST / 2).is_empty:
                continue
            point = shared.representative_point()
            last = np.array([len(scene.grid.angles) - 1])
            x, y, z = scene.grid.point(last, np.array([number[host]]), np.array([[point.x, point.y]]))[0].tolist()
            left, lower, right, upper = shared.bounds
            yield Overlap((one, two), host, (x, y, z), float(min(right - left, upper - lower)))


def too_little(scene: Scene) -> Iterator[tuple[Bond, float]]:
    """Panels glued as far as they overlap their host that share less than practice asks, with that area in mm²."""
    number = {name: index for index, name in enumerate(scene.names)}
    for bond in scene.card.bonds:
        if not bond.whole:
            shared = float(_area(scene, bond, number).area)
            if shared < scene.card.practice["cutout.glue"]:
                yield bond, shared


def _area(scene: Scene, bond: Bond, number: dict[str, int]) -> BaseGeometry:
    """The glued area in the host's part coordinates; the same at every angle."""
    both = [scene.keys[number[name]] for name in (bond.panel, bond.host)]
    area: BaseGeometry = scene.memory.glued.get(("area", *both, bond.spans), partial(_look_at_area, scene, bond, number))
    return area


def _look_at_area(scene: Scene, bond: Bond, number: dict[str, int]) -> BaseGeometry:
    middle = len(scene.grid.angles) // 2
    panel, host = number[bond.panel], number[bond.host]
    axes, origin = scene.grid.axes[middle], scene.grid.origin[middle]
    turn = axes[host, :2] @ axes[panel, :2].T
    shift = axes[host, :2] @ (origin[panel] - origin[host])
    outlines = [scene.card.panels[index].outline for index in (panel, host)]
    moved = affinity.affine_transform(outlines[0], [*turn[0], *turn[1], *shift])
    return moved if bond.spans else moved.intersection(outlines[1])


def _kept_side(scene: Scene, bond: Bond, number: dict[str, int], creases: Sequence[Hinge]) -> int:
    """As `_side`; it depends on both panels, on what the panel is creased to, and on the slits of its host's part."""
    host = number[bond.host]
    walls = [(scene.keys[number[name]], hinge.start, hinge.end)
             for hinge in creases for name in (hinge.left, hinge.right) if name != bond.panel]
    key = ("side", scene.keys[number[bond.panel]], scene.keys[host], *walls, scene.slits[scene.card.panels[host].part])
    side: int = scene.memory.glued.get(key, partial(_side, scene, bond, number, creases))
    return side


def _side(scene: Scene, bond: Bond, number: dict[str, int], creases: Sequence[Hinge]) -> int:
    """The face of the host that a panel is glued to: 1 printed, -1 back.

    `creases` are those of the panel. A tab lies on the side where what it is creased to stands, or on the other one if it
    is passed through a slit. A panel without such a crease looks away from its host.
    """
    host, middle = number[bond.host], len(scene.grid.angles) // 2
    for hinge in creases:
        wall = number[hinge.left if hinge.right == bond.panel else hinge.right]
        centre = scene.card.panels[wall].outline.centroid
        offset = scene.grid.point(np.array([middle]), np.array([wall]), np.array([[centre.x, centre.y]]))[0]
        height = float((offset - scene.grid.origin[middle, host]) @ scene.grid.axes[middle, host, 2])
        slope = np.linalg.norm(cross(scene.grid.axes[middle, wall, 2], scene.grid.axes[middle, host, 2]))
        if slope > UPRIGHT:
            through = _through_slit(scene, bond, (hinge.start, hinge.end), number)
            return (1 if height > 0 else -1) * (-1 if through else 1)
    normals = scene.grid.axes[middle, [number[bond.panel], host], 2]
    return 1 if float(normals[0] @ normals[1]) > 0 else -1


def _through_slit(scene: Scene, bond: Bond, ends: tuple[tuple[float, float], tuple[float, float]],
                  number: dict[str, int]) -> bool:
    """Whether a tab's crease runs along a slit of its host."""
    middle = np.full(2, len(scene.grid.angles) // 2)
    panel, host = number[bond.panel], number[bond.host]
    points = scene.grid.point(middle, np.full(2, panel), np.array(ends)) - scene.grid.origin[middle, host]
    crease = LineString(points @ scene.grid.axes[middle[0], host, :2].T)
    slits = scene.slits[scene.card.panels[host].part]
    return any(LineString(points).buffer(SLIT).covers(crease) for points in slits)
