"""A card's parts as its machine has to work them: with its kind of crease and its kerf."""

from __future__ import annotations

from dataclasses import replace

from shapely.geometry import Polygon

from foldwright.emit.creases import as_made
from foldwright.emit.curves import outline_paths
from foldwright.emit.offsets import beside
from foldwright.emit.sides import Sides
from foldwright.solver.card import Card, Drawn, Paper, Part, Stroke
from foldwright.solver.kerf import grown, slits
from foldwright.solver.pieces import as_cut


def machined(card: Card) -> Card:
    """The card with parts as they are cut and drawn for its machine; itself if that changes nothing.

    Only files for a machine are drawn from it: its parts are no longer to measure.
    """
    card, machine = as_cut(card), card.machine
    if machine.creases in ("creased", "half-cut") and not machine.kerf:
        return card
    papers = {paper.name: paper for paper in card.papers}
    return replace(card, parts=tuple(_part(card, part, papers[part.paper]) for part in card.parts))


def as_laid(card: Card, sides: Sides | None = None) -> Card:
    """The card with parts as they are laid on sheets, whichever side lies up: machined, as seen from the printed side."""
    return machined((sides or Sides(card)).seen(True))


def _part(card: Card, part: Part, paper: Paper) -> Part:
    kerf = card.machine.kerf
    shown = as_made(part, card.machine, paper.caliper, card.practice)
    marks = tuple(line for line in part.lines if line.stroke is Stroke.MARK)
    outline, drawn = outline_for(part, kerf)
    drawn = (*drawn, *(replace(art, curves=()) for art in part.drawn if kerf and art.ink.lines))  # what is drawn stays
    return replace(part, outline=outline, drawn=drawn, lines=(*shown, *slits(part, kerf), *marks))


def outline_for(part: Part, kerf: float) -> tuple[Polygon, tuple[Drawn, ...]]:
    """The outline for a tool with a kerf, and the curves that it follows: those of the artwork, moved."""
    moved = beside(outline_paths(part.outline, part.drawn), kerf) if kerf and part.drawn else None
    return moved or (grown(part.outline, kerf), () if kerf else part.drawn)
