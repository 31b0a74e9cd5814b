"""Lettering: a word as artwork, in one piece or as the holes of a stencil.

>>> word = lettered("AHOY", Use.PIECE, bar=3.0, bridge=1.0, width=40.0)
>>> len(word.artwork.outline.interiors), word.bridge
(3, None)

What is cut out must be one piece: the letters stand on a bar, and dots and accents hang on by bridges. What is cut away must
leave one piece: each counter is held by bridges, and the holes keep a bridge's width from each other. Curves stay those of
the font. Lengths are in a thousand units to the em, as in `letters_font.py`, where nothing else is said.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from foldwright.grammar.artwork import Artwork

if TYPE_CHECKING:
    from foldwright.grammar.letters_font import Font

MOST_LETTERS = 60
LEAST_BAR = 130.0  # however large the letters are: three quarters of a stem of our font
LEAST_BRIDGE = 70.0
MOST_BRIDGE = 180.0  # a stem of our font; a wider bridge takes the letters away
_TRIES = 20  # widths of bar and bridge that are tried: what they need grows with a word that grows with them
_MORE = 1.001  # drawn this much wider than needed, so that no rounding makes them narrower
_SET_SIDE_BY_SIDE = {"LATIN", "GREEK", "CYRILLIC", "ARMENIAN", "GEORGIAN", "HANGUL", "HIRAGANA", "KATAKANA", "CJK",
                     "FEMININE", "MASCULINE", "MICRO", "OHM", "KELVIN", "ANGSTROM"}  # first words of names of letters


class Use(StrEnum):
    """What letters are for: a piece of its own, a piece joined to an edge by its whole foot, or holes."""

    PIECE = "piece"
    EDGE = "edge"
    HOLES = "holes"


@dataclass(frozen=True, slots=True)
class Lettering:
    """Letters as artwork; `bridge` is the width of its bridges over its own width, or None if it has none."""

    artwork: Artwork
    bridge: float | None


class LettersFault(Exception):
    """Why a text cannot be set: `letters` from the place `at` on are the first in question.

    `kind` is "unknown" (the font has no such letter), "script" (letters of that script join, or run from right to left) or
    "long".
    """

    def __init__(self, kind: Literal["unknown", "script", "long"], at: int, letters: str) -> None:
        super().__init__(kind)
        self.kind = kind
        self.at = at
        self.letters = letters


class FontFault(Exception):
    """Why a font cannot be used."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


@lru_cache(maxsize=64)
def lettered(text: str, use: Use, bar: float, bridge: float, width: float | None, font: Font | None = None) -> Lettering:
    """A text as artwork; raises `LettersFault`, and `FontFault` if an own font has letters that cannot be cut.

    `bar` and `bridge` are least widths in mm of a text that is `width` mm wide; if that is None, only what fits the letters
    counts, as it does however small these widths are. A bridge is never wider than `MOST_BRIDGE`: who needs a width looks at
    `Lettering.bridge`.
    """
    from shapely.errors import GEOSException

    from foldwright.grammar.letters_font import own_font
    from foldwright.grammar.letters_pieces import one_piece
    from foldwright.grammar.letters_stencil import stencil

    font = font or own_font()
    letters = tuple(_letters(text, font))
    broad, slim = LEAST_BAR, LEAST_BRIDGE
    for _ in range(_TRIES):
        try:
            made = stencil(letters, font, slim) if use is Use.HOLES else one_piece(letters, font, broad, slim, use is Use.EDGE)
        except GEOSException:
            raise FontFault("its outlines are too intricate to be computed") from None
        if made.shape.is_empty:
            raise LettersFault("unknown", 0, text)
        left, _, right, _ = made.shape.bounds
        unit = (right - left) / width if width else 0.0  # of a mm
        if bar * unit <= broad and min(bridge * unit, MOST_BRIDGE) <= slim:
            break
        broad, slim = max(broad, _MORE * bar * unit), min(max(slim, _MORE * bridge * unit), MOST_BRIDGE)
    return Lettering(made.artwork(), slim / (right - left) if made.bridged else None)


def _letters(text: str, font: Font) -> Iterator[str]:
    """Characters that the font has, accents joined to what they stand on, every space the same."""
    if len(text) > MOST_LETTERS:
        raise LettersFault("long", MOST_LETTERS, text[MOST_LETTERS:])
    at = 0
    while at < len(text):
        end = at + 1
        while end < len(text) and unicodedata.category(text[end]) in ("Mn", "Me", "Cf"):
            end += 1
        letter = unicodedata.normalize("NFC", text[at:end])
        if unicodedata.category(letter[0]) == "Zs":
            letter = " "
        elif not _side_by_side(letter):
            raise LettersFault("script", at, text[at:end])
        elif len(letter) > 1 or letter not in font or not font.glyph(letter).paths:
            raise LettersFault("unknown", at, text[at:end])
        yield letter
        at = end


def _side_by_side(letter: str) -> bool:
    """Whether the letters of its script stand beside each other from left to right, each with one form."""
    if unicodedata.bidirectional(letter[0]) in ("R", "AL", "AN"):
        return False
    is_letter = unicodedata.category(letter[0])[0] in "LM"
    return not is_letter or unicodedata.name(letter[0], "").split(" ")[0].split("-")[0] in _SET_SIDE_BY_SIDE
