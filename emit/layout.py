"""A card's parts onto sheets, paper by paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from time import monotonic

from foldwright.emit.apart import Demands
from foldwright.emit.kept_layout import KeptLayouts
from foldwright.emit.mats import Mat, Packed, on_mats
from foldwright.emit.packer import Packer, TooLarge
from foldwright.emit.placed import Control, Placed, Sheet
from foldwright.solver.card import Card, Part
from foldwright.solver.engine.progress import Going
from foldwright.solver.grain import fits_turned, size_of, turns

__all__ = ["Control", "Placed", "Progress", "Sheet", "TooLarge", "lay_out"]

Progress = Callable[[str], None]
_TRIALS = 3600  # places looked for, per card: 80 parts over 4 papers, none of them easy, take at most 5 s


def lay_out(card: Card, spacing: float | None = None, progress: Progress | None = None,
            kept: KeptLayouts | None = None) -> tuple[Sheet, ...]:
    """All parts of a card on sheets of its mats, paper by paper in the card's order.

    Two parts are at least `sheet.spacing` of the card's practice apart (or `spacing`, mm), and no part lies in the strip
    `sheet.border` along the mat's edges. A corner of each sheet is kept free for the control line, unless that costs a sheet.
    Parts of a paper whose grain is known turn only by 180 degrees. Sheets that are `kept` are taken as they are, if they still
    fit; if it gives time for that, better ones are looked for and kept in turn (not yet written). Raises TooLarge if a part
    fits the mat in no turn that it may take.
    """
    apart = card.practice["sheet.spacing"] if spacing is None else spacing
    demands = Demands(apart, card.practice["sheet.border"], card.mats, turns(card))
    cut = [(paper.name, [part for part in card.parts if part.paper == paper.name]) for paper in card.papers]
    cut = [(paper, parts) for paper, parts in cut if parts]
    laid: list[list[Sheet]] = []
    for paper, parts in cut:
        say = _sayer(f"laying out {len(parts)} part{'s' * (len(parts) != 1)} of {paper}", progress)
        laid.append((kept.of(paper, parts, demands) if kept else None) or _of_paper(card, paper, parts, demands, say))
    if kept and kept.seconds:
        until = monotonic() + kept.seconds
        most = sorted(range(len(cut)), key=lambda index: -len(laid[index]))  # first where there is most to save
        for left, index in zip(range(len(cut), 0, -1), most, strict=True):
            seconds = (until - monotonic()) / left
            laid[index] = _tightened(laid[index], *cut[index], demands, seconds, kept, progress)
    flat = [sheet for sheets in laid for sheet in sheets]
    return tuple(replace(sheet, number=number) for number, sheet in enumerate(flat, start=1))


def _sayer(words: str, progress: Progress | None) -> Progress:
    """Tells of a stage, and returns what tells how far it has come."""
    if progress is None:
        return lambda so_far: None
    progress(words)
    return lambda so_far: progress(Going(words + so_far))


def _tightened(sheets: list[Sheet], paper: str, parts: Sequence[Part], demands: Demands, seconds: float, kept: KeptLayouts,
               progress: Progress | None) -> list[Sheet]:
    """Better sheets for a paper, if any are found within some seconds, and kept; else those that there are."""
    from foldwright.emit.tighten import SHORTEST, tightened

    if seconds < SHORTEST:
        kept.none_better(paper, "too little time to look for better ones")
        return sheets
    better = tightened(sheets, parts, demands, seconds, _sayer(f"tightening {paper}", progress))
    again = better and kept.keep(paper, parts, demands, len(sheets), better)
    if not again:
        kept.none_better(paper, "none better found in the time given")
    return again or sheets


def groups_of(card: Card, parts: list[Part]) -> list[tuple[str, ...]]:
    """The parts (names) that one step of the assembly handles, of those given; each group once."""
    names = {part.name for part in parts}
    groups = [tuple(dict.fromkeys(name for name in step.parts if name in names)) for step in card.steps]
    return [group for group in dict.fromkeys(groups) if len(group) > 1]


def _of_paper(card: Card, paper: str, parts: list[Part], demands: Demands, told: Progress) -> list[Sheet]:
    """The sheets of one paper, numbered from 1; `told` hears how far the packing has come."""
    border = demands.border

    def passed(number: int, fewest: int) -> None:
        told(f": {fewest} sheet{'s' * (fewest != 1)} after {number} order{'s' * (number != 1)}")

    def pack(some: Sequence[Part], mat: Mat) -> list[Packed]:
        share = 1 if mat == card.mats[-1] else len(card.mats)  # other mats together take about as long as the largest
        packer = Packer(demands.room(mat), demands.spacing, _TRIALS * len(some) // len(card.parts) // share)
        return packer.pack(some, demands.turns, groups_of(card, list(some)), passed)

    def fits(part: Part, mat: Mat) -> bool:
        return fits_turned(size_of(part), demands.turns[part.name], demands.room(mat))

    return [
        Sheet(
            paper,
            number,
            width,
            height,
            tuple(replace(one, dx=one.dx + border, dy=one.dy + border) for one in placed),
            control and replace(control, x=control.x + border, y=control.y + border),
        )
        for number, ((width, height), (placed, control)) in enumerate(on_mats(parts, card.mats, pack, fits), start=1)
    ]
