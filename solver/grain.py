"""The grain of a paper: how a part may be turned on the sheet so that it folds with the grain.

Fibres lie along the grain. A crease along them is clean, one across them cracks (common practice, no source), so a part
lies with most of its creases along the grain; one without creases, with its longer side, the stiffer way.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection

from foldwright.solver.card import Card, Paper, Part

ANY = (0, 90, 180, 270)  # degrees anticlockwise
_UP, _ASIDE = (0, 180), (90, 270)  # turns that leave v upright on the sheet, and that lay it down
TOUCH = 1e-6  # mm; a part as large as the sheet fits it


def turns(card: Card) -> dict[str, tuple[int, ...]]:
    """The turns that each part (by name) may take on a sheet, in degrees: any quarter, or two that differ by 180.

    Creases are those of the hinges, so it does not matter how the machine draws them. Pieces of a joined part turn as it does.
    """
    grain = defaultdict(str, {paper.name: paper.grain for paper in card.papers})  # a joined part may be of a paper merged away
    part_of = {panel.name: panel.part for panel in card.panels}
    runs: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])  # of the creases along u and along v, mm
    for hinge in card.hinges:
        for axis in (0, 1):
            runs[part_of[hinge.left]][axis] += abs(hinge.end[axis] - hinge.start[axis])
    wholes = {part.name: part for part in (*card.parts, *(one.whole for one in card.joined))}
    found: dict[str, tuple[int, ...]] = {
        part.name: (_UP if _upright(part, *runs[part.name]) == (grain[part.paper] == "along") else _ASIDE)
        if grain[part.paper] else ANY
        for part in wholes.values()
    }
    return found | {piece.name: found[one.whole.name] for one in card.joined for piece in (*one.pieces, *one.strips)}


def too_long(card: Card) -> tuple[tuple[Part, Paper], ...]:
    """Parts that fit a mat, but not as the grain of their paper wants them to lie."""
    papers, allowed = {paper.name: paper for paper in card.papers}, turns(card)
    return tuple((part, papers[part.paper]) for part in card.parts
                 if papers[part.paper].grain and not fits(card, allowed[part.name], size_of(part)))


def size_of(part: Part) -> tuple[float, float]:
    """Width and height of a part, mm."""
    left, low, right, high = part.outline.bounds
    return right - left, high - low


def fits(card: Card, allowed: Collection[int], size: tuple[float, float]) -> bool:
    """Whether a piece of a size (width, height, mm) fits a mat within its border and the kerf, in one of the allowed turns."""
    taken = 2 * card.practice["sheet.border"] + card.machine.kerf
    return any(fits_turned(size, allowed, (mat[0] - taken, mat[1] - taken)) for mat in card.mats)


def fits_turned(size: tuple[float, float], allowed: Collection[int], room: tuple[float, float]) -> bool:
    """Whether a piece of a size (width, height, mm) fits a room in one of the allowed turns, in degrees."""
    ways = {size[::-1] if turn % 180 else size for turn in allowed}
    return any(across <= room[0] + TOUCH and up <= room[1] + TOUCH for across, up in ways)


def _upright(part: Part, along_u: float, along_v: float) -> bool:
    """Whether the creases of a part run more along v than along u; without a clear answer, whether it is higher than wide."""
    if abs(along_u - along_v) <= TOUCH:
        left, low, right, high = part.outline.bounds
        return bool(high - low >= right - left - TOUCH)
    return along_v > along_u
