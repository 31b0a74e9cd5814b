"""Letters of a script in place of an artwork: set at the least width that is written, and brought to width 1."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from foldwright.grammar import design as ast
from foldwright.grammar.letters import MOST_LETTERS, FontFault, Lettering, LettersFault, lettered
from foldwright.grammar.letters_file import read_font
from foldwright.grammar.problem import Problem, Refused
from foldwright.grammar.problems import FontUnusable, LettersLong, LettersScript, LettersUnknown
from foldwright.grammar.source import Span
from foldwright.grammar.units import MM_PER_UNIT
from foldwright.solver.settings import Letters, Raw

FINE = 10**9  # parts of the width to which the width of bridges is rounded down


def letters_of(text: ast.Text, how: Letters, raw: Raw, design: ast.Design, habits: Mapping[str, Fraction]) -> Lettering:
    """The letters of a block; raises Refused, with the place of what cannot be set."""
    width = _least_width(raw, design)
    try:
        font = None if how.font is None else read_font(how.font.text, design.source.folder)
        return lettered(text.text, how.use, float(habits["letters.bar"]), float(habits["letters.bridge"]),
                        None if width is None else float(width), font)
    except FontFault as fault:
        assert how.font is not None
        raise Refused([FontUnusable(how.font.at, how.font.text, fault.why)]) from None
    except LettersFault as fault:
        raise Refused([_problem(text, fault, how.font is not None)]) from None


def _problem(text: ast.Text, fault: LettersFault, own: bool) -> Problem:
    begin = text.at.start + 1 + fault.at  # behind the quote
    at = Span(begin, begin + len(fault.letters), text.at.source)
    if fault.kind == "long":
        return LettersLong(at, len(text.text), MOST_LETTERS)
    if fault.kind == "script":
        return LettersScript(at, fault.letters)
    return LettersUnknown(at, fault.letters, own)


def _least_width(raw: Raw, design: ast.Design) -> Fraction | None:
    """The least width in mm that the script writes for the letters; None if it is not written as a number."""
    width = raw.quantities.get("width")
    least = width.low if isinstance(width, ast.Range) else width
    if not isinstance(least, ast.Number) or (least.unit or design.unit or "mm") not in MM_PER_UNIT or least.value <= 0:
        return None  # another problem tells of a width that is none
    return least.value * MM_PER_UNIT[least.unit or design.unit or "mm"]


def bridge_share(made: Lettering) -> Fraction | None:
    """Width of the bridges over that of the letters."""
    return None if made.bridge is None else Fraction(int(made.bridge * FINE), FINE)
