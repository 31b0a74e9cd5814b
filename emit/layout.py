"""A card's parts onto sheets, paper by paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from foldwright.emit.mats import Mat, Packed, fits_turned, on_mats
from foldwright.emit.packer import Packer, TooLarge
from foldwright.emit.placed import Control, Placed, Sheet
from foldwright.solver.card import Card, Paper, Part
from foldwright.solver.grain import turns

__all__ = ["Control", "Placed", "Progress", "Sheet", "TooLarge", "lay_out"]

Progress = Callable[[str], None]
_TRIALS = 3600  # places looked for, per card: 80 parts over 4 papers, none of them easy, take at most 5 s


def lay_out(card: Card, spacing: float | None = None, progress: Progress | None = None) -> tuple[Sheet, ...]:
    """All parts of a card on sheets of its mats, paper by paper in the card's order.

    Two parts are at least `sheet.spacing` of the card's practice apart (or `spacing`, mm), and no part lies in the strip
    `sheet.border` along the mat's edges. A corner of each sheet is kept free for the control line. Parts of a paper
    whose grain is known turn only by 180 degrees. Raises TooLarge if a part fits the mat in no turn that it may take.
    """
    sheets: list[Sheet] = []
    apart = card.practice["sheet.spacing"] if spacing is None else spacing
    for paper in card.papers:
        parts = [part for part in card.parts if part.paper == paper.name]
        if not parts:
            continue
        if progress:
            progress(f"laying out {len(parts)} part{'s' * (len(parts) != 1)} of {paper.name}")
        sheets += _of_paper(card, paper, parts, apart, len(sheets))
    return tuple(sheets)


def groups_of(card: Card, parts: list[Part]) -> list[tuple[str, ...]]:
    """The parts (names) that one step of the assembly handles, of those given; each group once."""
    names = {part.name for part in parts}
    groups = [tuple(dict.fromkeys(name for name in step.parts if name in names)) for step in card.steps]
    return [group for group in dict.fromkeys(groups) if len(group) > 1]


def _of_paper(card: Card, paper: Paper, parts: list[Part], spacing: float, before: int) -> list[Sheet]:
    border, allowed = card.practice["sheet.border"], turns(card)

    def pack(some: Sequence[Part], mat: Mat) -> list[Packed]:
        share = 1 if mat == card.mats[-1] else len(card.mats)  # other mats together take about as long as the largest
        packer = Packer((mat[0] - 2 * border, mat[1] - 2 * border), spacing, _TRIALS * len(some) // len(card.parts) // share)
        return packer.pack(some, allowed, groups_of(card, list(some)))

    def fits(part: Part, mat: Mat) -> bool:
        return fits_turned(part, allowed[part.name], (mat[0] - 2 * border, mat[1] - 2 * border))

    return [
        Sheet(
            paper.name,
            number,
            width,
            height,
            tuple(replace(one, dx=one.dx + border, dy=one.dy + border) for one in placed),
            control and replace(control, x=control.x + border, y=control.y + border),
        )
        for number, ((width, height), (placed, control)) in enumerate(on_mats(parts, card.mats, pack, fits), before + 1)
    ]
