"""A card's parts as its machine has to work them: with its kind of crease and its kerf."""

from __future__ import annotations

from dataclasses import replace

from foldwright.emit.creases import CREASES, perforated, ticked
from foldwright.solver.card import Card, Line, Paper, Part, Stroke
from foldwright.solver.kerf import grown, slits
from foldwright.solver.practice import perforation


def machined(card: Card) -> Card:
    """The card with parts as they are drawn for its machine; itself if that changes nothing.

    Only files for a machine are drawn from it: its parts are no longer to measure.
    """
    machine = card.machine
    if machine.creases in ("creased", "half-cut") and not machine.kerf:
        return card
    papers = {paper.name: paper for paper in card.papers}
    return replace(card, parts=tuple(_part(card, part, papers[part.paper]) for part in card.parts))


def tick_length(card: Card) -> float:
    """Length of the ticks at the ends of creases, mm."""
    return card.machine.tick or card.practice["tick.length"]


def _part(card: Card, part: Part, paper: Paper) -> Part:
    kerf = card.machine.kerf
    shown = _creases(card, part, paper)
    marks = tuple(line for line in part.lines if line.stroke is Stroke.MARK)
    drawn = () if kerf else part.drawn  # beside its curves an outline is no longer on them
    return replace(part, outline=grown(part.outline, kerf), drawn=drawn, lines=(*shown, *slits(part, kerf), *marks))


def _creases(card: Card, part: Part, paper: Paper) -> tuple[Line, ...]:
    machine, habits = card.machine, card.practice
    if machine.creases == "perforated":
        dash, gap = perforation(paper.caliper, habits, machine.dash, machine.gap)
        return tuple(perforated(part, dash, gap, min(habits["perforation.least"], dash, gap), machine.kerf))
    if machine.creases == "ticked":
        return tuple(ticked(part, tick_length(card)))
    return tuple(line for line in part.lines if line.stroke in CREASES)
