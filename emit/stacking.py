"""Which of the sheets glued onto each other lies on top: the order of panels in one plane, read from the glue.

A tab lies on the side of its host on which its own sheet goes on beyond the crease; if it passed through a slit, on the
other side. A sheet glued on without such a crease (a cut-out, an insert) shows its printed face.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry import LineString

from foldwright.solver.card import Bond, Card, Hinge, Panel, Placement, Stroke, Vector

_SHARES = (0.3, 0.6, 0.9)  # shares of the swing at which a tab is looked at; it may stand square to its sheet at one only
_CLEAR = 0.05  # sine of the angle between a tab and its sheet under which the side is not read from it
_BESIDE = 0.5  # mm between a tab's crease and the slit that it passes

Sheet = tuple[str, bool]  # part, and whether its printed face looks along the plane's normal


class Stacking:
    """The order of glued panels of a card, the same at every opening angle."""

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

    def _side(self, bond: Bond) -> float:
        """1 if the panel lies on its host's printed face, -1 if on the back of it."""
        tilts = [tilt for hinge in self.hinges.get(bond.panel, []) for tilt in self._tilts(bond, hinge)]
        strongest = max(tilts, key=abs, default=0.0)
        if abs(strongest) < _CLEAR:  # no crease, or a flat one
            placed = self.poses[0]
            return 1.0 if normal(placed[bond.panel]) @ normal(placed[bond.host]) >= 0 else -1.0
        return float(np.sign(strongest)) * (-1 if self._passes(bond) else 1)

    def _tilts(self, bond: Bond, hinge: Hinge) -> Iterator[float]:
        """How steeply the sheet beyond a crease leaves the host's printed face, at each pose looked at."""
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

    def order(self, names: Sequence[str], placed: dict[str, Placement], along: Vector) -> list[str]:
        """Panels that lie in one plane, from the lowest to the highest along its normal.

        Panels of one part that look the same way are one sheet. Each sheet follows the sheet it is glued to, on its
        side; the first glued lies nearest. What no glue binds keeps the order of the card, in which hosts come first.
        """
        sheets: dict[Sheet, list[str]] = {}
        for name in names:
            up = bool(normal(placed[name]) @ along > 0)
            sheets.setdefault((self.panels[name].part, up), []).append(name)
        sheet_of = {name: sheet for sheet, members in sheets.items() for name in members}
        glued: dict[Sheet, tuple[list[Sheet], list[Sheet]]] = {sheet: ([], []) for sheet in sheets}
        hosts: dict[Sheet, Sheet] = {}
        for bond in self.bonds:
            if bond.panel not in sheet_of or bond.host not in sheet_of:
                continue
            sheet, host = sheet_of[bond.panel], sheet_of[bond.host]
            if sheet in hosts or sheet in _ancestors(host, hosts):
                continue
            hosts[sheet] = host
            above = self.sides[bond.panel, bond.host] * (1 if host[1] else -1) > 0
            glued[host][above].append(sheet)
        roots = [sheet for sheet in sheets if sheet not in hosts]
        if roots and not roots[0][1]:  # the card's order counts along the printed face of the outermost sheet
            roots.reverse()
        return [name for root in roots for sheet in _pile(root, glued) for name in sheets[sheet]]


def _ancestors(sheet: Sheet, hosts: dict[Sheet, Sheet]) -> set[Sheet]:
    """A sheet, its host, the host of that one and so on."""
    found = {sheet}
    while sheet in hosts:
        sheet = hosts[sheet]
        found.add(sheet)
    return found


def _pile(sheet: Sheet, glued: dict[Sheet, tuple[list[Sheet], list[Sheet]]]) -> Iterator[Sheet]:
    """A sheet with all that is glued to it, from low to high."""
    below, above = glued[sheet]
    for under in reversed(below):
        yield from _pile(under, glued)
    yield sheet
    for over in above:
        yield from _pile(over, glued)


def normal(placement: Placement) -> Vector:
    """Unit vector out of the printed face."""
    return np.cross(placement.along, placement.up)
