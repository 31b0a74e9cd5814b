"""Amounts and sentences for readers: a length in the card's own unit, a rule with its two sides as numbers."""

from __future__ import annotations

from foldwright.grammar.units import MM_PER_UNIT
from foldwright.solver.card import Note
from foldwright.solver.model import Rule

# Decimals shown: one more than anyone cuts.
PLACES = {"mm": 2, "cm": 3, "in": 3, "pt": 1}


def amount(value: float, angle: bool = False, unit: str = "mm") -> str:
    """A length given in mm, shown in `unit`, or an angle in degrees."""
    if angle:
        return _plain(value, 2) + "°"
    return f"{_plain(value / float(MM_PER_UNIT[unit]), PLACES[unit])} {unit}"


def _plain(value: float, places: int) -> str:
    text = f"{value:.{places}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def sentence(rule: Rule, left: str, right: str) -> str:
    """The rule's sentence with its sides filled in (not by `str.format`: a designer's own words may hold braces)."""
    return rule.sentence.replace("{left}", left).replace("{right}", right)


def noted(note: Note, unit: str = "mm") -> str:
    """The note's sentence with its figure filled in."""
    figure = _plain(note.figure, 2) if note.dimension == "plain" else amount(note.figure, note.dimension == "angle", unit)
    return note.text.replace("{figure}", figure)
