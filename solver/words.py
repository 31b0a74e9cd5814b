"""Amounts and sentences for readers: a length in the card's own unit, a rule with its two sides as numbers."""

from __future__ import annotations

import re
from collections.abc import Mapping

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


def filled(rule: Rule, ends: Mapping[str, tuple[str, str] | None]) -> str:
    """The rule's sentence with an end of each side: "is", "least" or "most", and the amount; a clause without one is left out.

    A clause that cannot be left out, because it is the only one, says "some length" instead.
    """
    text = rule.sentence
    for side, end in ends.items():
        mark = "{" + side + "}"
        if end is None:
            text = _without(text, mark)
            text = text.replace(mark, "some angle" if rule.angle else "some length")
            continue
        while mark in text:
            before, after = text.split(mark, 1)
            text = before + _end(end, before, after) + after
    return text


def _end(end: tuple[str, str], before: str, after: str) -> str:
    """An amount as it reads between the words around it."""
    kind, text = end
    if kind == "is" or before.endswith(("at least ", "at most ")) or after.startswith((" or more", " or less", ", is the most")):
        return text
    if before.endswith(("at ", "by ", "lowest ")):
        return f"{text} or {'more' if kind == 'least' else 'less'}"
    return f"at {kind} {text}"


def _without(text: str, mark: str) -> str:
    """The text less the brackets, or else the later clause, that hold a mark."""
    text = re.sub(r" \([^()]*" + re.escape(mark) + r"[^()]*\)", "", text)
    clauses = re.split(r"(: |; )", text)
    kept = clauses[:1]
    for separator, clause in zip(clauses[1::2], clauses[2::2], strict=True):
        if mark not in clause:
            kept += [separator, clause]
    return "".join(kept)


def noted(note: Note, unit: str = "mm") -> str:
    """The note's sentence with its figure filled in."""
    figure = _plain(note.figure, 2) if note.dimension == "plain" else amount(note.figure, note.dimension == "angle", unit)
    return note.text.replace("{figure}", figure)
