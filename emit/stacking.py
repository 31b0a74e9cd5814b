"""Which of the sheets glued onto each other lies on top: the order of panels in one plane, read from the glue."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from foldwright.solver.card import Card, Placement, Vector
from foldwright.solver.gluing import Gluing, normal

Sheet = tuple[str, bool]  # part, and whether its front looks along the plane's normal


class Stacking:
    """The order of glued panels of a card, the same at every opening angle."""

    def __init__(self, card: Card) -> None:
        glue = Gluing(card)
        self.panels, self.bonds, self.sides = glue.panels, glue.bonds, glue.sides

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
        if roots and not roots[0][1]:  # the card's order counts along the front of the outermost sheet
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
