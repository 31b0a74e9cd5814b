"""A card's parts onto sheets, paper by paper."""

from __future__ import annotations

from collections.abc import Callable

from foldwright.emit.packer import Packer, TooLarge
from foldwright.emit.placed import Control, Placed, Sheet
from foldwright.solver.card import Card

__all__ = ["Control", "Placed", "Progress", "Sheet", "TooLarge", "lay_out"]

Progress = Callable[[str], None]


def lay_out(card: Card, spacing: float = 2.0, progress: Progress | None = None) -> tuple[Sheet, ...]:
    """All parts of a card on sheets of its mat, paper by paper in the card's order.

    `spacing` (mm) is the least distance between two parts; parts may reach the mat's edge. A corner of each
    sheet is kept free for the control line. Raises TooLarge if a part fits the mat in no turn.
    """
    sheets: list[Sheet] = []
    for paper in card.papers:
        parts = [part for part in card.parts if part.paper == paper.name]
        if not parts:
            continue
        if progress:
            progress(f"laying out {len(parts)} part{'s' * (len(parts) != 1)} of {paper.name}")
        for placed, control in Packer(card.mat, spacing).pack(parts):
            width, height = card.mat
            sheets.append(Sheet(paper.name, len(sheets) + 1, width, height, placed, control))
    return tuple(sheets)
