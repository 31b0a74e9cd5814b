"""Short texts as single-line strokes, for a pen: labels, paper names, the control line's length.

The strokes are the Hershey fonts' plain face (`futural`), which covers printable ASCII; see NOTICE. The
library draws nothing, and says nothing, for a character without a glyph, so other characters are folded to
ASCII first.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from foldwright.emit.names import plain
from foldwright.solver.card import Point

_CAPITAL = 21  # units from the base line (9, y down) to the cap line (-12) in the glyph data
_BASE = 9
_DESCENT = 7  # units below the base line that letters such as "y" reach


class _Glyph(NamedTuple):
    advance: float
    strokes: tuple[tuple[Point, ...], ...]


@cache
def _face() -> dict[str, _Glyph]:
    """Glyphs by character, in cap heights, y up, the base line at 0 and the left edge at 0."""
    from HersheyFonts import HersheyFonts

    fonts = HersheyFonts()
    fonts.load_default_font("futural")
    face = {}
    for character in map(chr, range(ord(" "), ord("~") + 1)):
        (glyph,) = fonts.glyphs_for_text(character)
        strokes = tuple(
            tuple(((x - glyph.left_offset) / _CAPITAL, (_BASE - y) / _CAPITAL) for x, y in stroke)
            for stroke in glyph.strokes
        )
        face[character] = _Glyph(glyph.char_width / _CAPITAL, strokes)
    return face


def text_width(text: str, height: float) -> float:
    """How wide a text is in mm at a cap height in mm."""
    return sum(_face()[character].advance for character in plain(text)) * height


def text_strokes(text: str, at: Point, height: float) -> Iterator[tuple[Point, ...]]:
    """The pen strokes of a text, mm, y up; `at` is the left end of the base line, `height` the cap height."""
    x, y = at
    for character in plain(text):
        glyph = _face()[character]
        for stroke in glyph.strokes:
            yield tuple((x + u * height, y + v * height) for u, v in stroke)
        x += glyph.advance * height


def text_box(text: str, at: Point, height: float) -> tuple[float, float, float, float]:
    """Left, low, right and high of a text in mm; descenders count only if a letter has one."""
    descent = _DESCENT / _CAPITAL * height if any(c in "gjpqy,;Q()[]{}|_@$" for c in plain(text)) else 0.0
    return at[0], at[1] - descent, at[0] + text_width(text, height), at[1] + height


def mirrored_text(text: str, at: Point, height: float) -> Point:
    """Where a text begins whose box is mirrored, but not its letters."""
    left, _, right, _ = text_box(text, at, height)
    return at[0] - left - right, at[1]
