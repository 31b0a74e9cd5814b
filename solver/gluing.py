"""What lies on what: on which face of its host a panel is glued, and which areas of a part's two faces glue hides.

A tab lies on the side of its host on which its own sheet goes on beyond the crease; if it passed through a slit, on the
other side. A sheet glued on without such a crease (a cut-out, an insert) has its back to its host, if both look the same way.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from foldwright.solver.card import Bond, Card, Hinge, Panel, Placement, Stroke, Vector

_SHARES = (0.3, 0.6, 0.9)  # shares of the swing at which a tab is looked at; it may stand square to its sheet at one only
_CLEAR = 0.05  # sine of the angle between a tab and its sheet under which the side is not read from it
_BESIDE = 0.5  # mm between a tab's crease and the slit that it passes


class Gluing:
    """The glue of a card; `sides` has for each bond (panel, host) 1 if the panel lies on its host's front, -1 on its back."""

    def __init__(self, card: Card) -> None:
        self.panels: dict[str, Panel] = {panel.name: panel for panel in card.panels}
        self.hinges: dict[str, list[Hinge]] = {}
        for hinge in card.hinges:
            for name in (hinge.left, hinge.right):
                self.hinges.setdefault(name, []).append(hinge)
        self.slits = {part.name: [LineString(line.points) for line in part.lines if line.stroke is Stroke.CUT]
                      for part in card.parts}
        self.poses = [card.pose(share * card.opens) for share in _SHARES]
        self.bonds = card.bonds
        self.sides = {(bond.panel, bond.host): self._side(bond) for bond in card.bonds}

    def _side(self, bond: Bond) -> int:
        tilts = [tilt for hinge in self.hinges.get(bond.panel, []) for tilt in self._tilts(bond, hinge)]
        strongest = max(tilts, key=abs, default=0.0)
        if abs(strongest) < _CLEAR:  # no crease, or a flat one
            return 1 if self.alike(bond) else -1
        return (1 if strongest > 0 else -1) * (-1 if self._passes(bond) else 1)

    def _tilts(self, bond: Bond, hinge: Hinge) -> Iterator[float]:
        """How steeply the sheet beyond a crease leaves the host's front, at each pose looked at."""
        beyond = hinge.left if hinge.right == bond.panel else hinge.right
        centre = self.panels[beyond].outline.representative_point()
        for placed in self.poses:
            crease = placed[beyond].points(np.array([hinge.start, hinge.end]))
            away = placed[beyond].points(np.array([[centre.x, centre.y]]))[0] - crease[0]
            along = (crease[1] - crease[0]) / np.linalg.norm(crease[1] - crease[0])
            away = away - (away @ along) * along
            yield float(away @ normal(placed[bond.host]) / np.linalg.norm(away))

    def _passes(self, bond: Bond) -> bool:
        """True if the crease of a tab runs along a slit of its host."""
        host, placed = self.panels[bond.host], self.poses[0]
        frame = placed[bond.host]
        for hinge in self.hinges[bond.panel]:
            middle = placed[bond.panel].points(np.array([hinge.start, hinge.end])).mean(axis=0) - frame.origin
            here = shapely.Point(middle @ frame.along, middle @ frame.up)
            if any(slit.distance(here) < _BESIDE for slit in self.slits[host.part]):
                return True
        return False

    def alike(self, bond: Bond) -> bool:
        """Whether the fronts of a panel and of its host look the same way."""
        placed = self.poses[0]
        return bool(normal(placed[bond.panel]) @ normal(placed[bond.host]) >= 0)

    def touching(self, bond: Bond) -> int:
        """The face of the panel that is glued: 1 its front, -1 its back."""
        return self.sides[bond.panel, bond.host] * (-1 if self.alike(bond) else 1)

    @cached_property
    def hidden(self) -> dict[tuple[str, int], list[BaseGeometry]]:
        """By panel and face (1 front, -1 back): the areas that glue hides, in part coordinates.

        A pane hides nothing, and nothing hides it: it may be clear. Where two sheets are glued to both sides of one and reach
        beyond it, they hide each other.
        """
        areas: dict[tuple[str, int], list[BaseGeometry]] = {}
        placed = self.poses[0]

        def hide(name: str, face: int, outline: Polygon, other: str) -> None:
            mine = onto(outline, placed[other], placed[name])
            areas.setdefault((name, face), []).append(shapely.intersection(self.panels[name].outline, mine))

        bonds = [bond for bond in self.bonds if not self.pane(bond)]
        for bond in bonds:
            hide(bond.host, self.sides[bond.panel, bond.host], self.panels[bond.panel].outline, bond.panel)
            hide(bond.panel, self.touching(bond), self.panels[bond.host].outline, bond.host)
        loose = [bond for bond in bonds if not bond.whole]
        for bond in loose:
            for other in loose:
                if other.host == bond.host and self.sides[bond.panel, bond.host] != self.sides[other.panel, other.host]:
                    hide(bond.panel, self.touching(bond), self.panels[other.panel].outline, other.panel)
        return areas

    def pane(self, bond: Bond) -> bool:
        """Whether a bond is that of a window's pane: a sheet without creases over an opening."""
        return bond.spans and bond.panel not in self.hinges


def onto(outline: Polygon, own: Placement, other: Placement) -> BaseGeometry:
    """An outline of one panel in the coordinates of another that lies in the same plane."""
    def moved(points: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        space = own.points(points) - other.origin
        return np.column_stack([space @ other.along, space @ other.up])

    return shapely.transform(outline, moved)


def normal(placement: Placement) -> Vector:
    """Unit vector out of a panel's front."""
    return np.cross(placement.along, placement.up)
