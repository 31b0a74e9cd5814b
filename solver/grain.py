"""The grain of a paper: how a part may be turned on the sheet so that it folds with the grain.

Fibres lie along the grain. A crease along them is clean, one across them cracks (common practice, no source), so a part
lies with most of its creases along the grain; one without creases, with its longer side, the stiffer way.
"""

from __future__ import annotations

from collections import defaultdict

from foldwright.solver.card import Card, Paper, Part

ANY = (0, 90, 180, 270)  # degrees anticlockwise
_UP, _ASIDE = (0, 180), (90, 270)  # turns that leave v upright on the sheet, and that lay it down
TOUCH = 1e-6  # mm; a part as large as the sheet fits it


def turns(card: Card) -> dict[str, tuple[int, ...]]:
    """The turns that each part (by name) may take on a sheet, in degrees: any quarter, or two that differ by 180.

    Creases are those of the hinges, so it does not matter how the machine draws them.
    """
    grain = defaultdict(str, {paper.name: paper.grain for paper in card.papers})  # not of all parts
    part_of = {panel.name: panel.part for panel in card.panels}
    runs: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])  # of the creases along u and along v, mm
    for hinge in card.hinges:
        for axis in (0, 1):
            runs[part_of[hinge.left]][axis] += abs(hinge.end[axis] - hinge.start[axis])
    return {
        part.name: (_UP if _upright(part, *runs[part.name]) == (grain[part.paper] == "along") else _ASIDE)
        if grain[part.paper] else ANY
        for part in card.parts
    }


def too_long(card: Card) -> tuple[tuple[Part, Paper], ...]:
    """Parts that fit a mat, but not as the grain of their paper wants them to lie."""
    papers, allowed = {paper.name: paper for paper in card.papers}, turns(card)
    taken = 2 * card.practice["sheet.border"] + card.machine.kerf - TOUCH
    found = []
    for part in card.parts:
        left, low, right, high = part.outline.bounds
        size = (right - left, high - low)
        if allowed[part.name] == _ASIDE:
            size = size[::-1]
        fits = any(size[0] <= mat[0] - taken and size[1] <= mat[1] - taken for mat in card.mats)
        if papers[part.paper].grain and not fits:
            found.append((part, papers[part.paper]))
    return tuple(found)


def _upright(part: Part, along_u: float, along_v: float) -> bool:
    """Whether the creases of a part run more along v than along u; without a clear answer, whether it is higher than wide."""
    if abs(along_u - along_v) <= TOUCH:
        left, low, right, high = part.outline.bounds
        return bool(high - low >= right - left - TOUCH)
    return along_v > along_u
