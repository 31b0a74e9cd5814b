"""Letters of a font of the script's own, drawn within limits: a small file can describe an endless drawing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import shapely
from fontTools.misc.psCharStrings import T2OutlineExtractor

from foldwright.grammar.artwork_curves import Point, SubPath
from foldwright.grammar.letters import FontFault
from foldwright.grammar.letters_font import EM, Font, Glyph, GlyphPen

MOST_STEPS = 2_000  # lines, curves, composed letters and subroutines of one letter; ours have up to 60
LARGEST = 100.0  # ems; no letter reaches so far
MOST_MEETINGS = 2_000  # places where the outlines of one letter cross; honest letters have a few dozen


class OwnFont(Font):
    """As `Font`; raises `FontFault` when asked for a letter that is damaged or too intricate."""

    def glyph(self, letter: str) -> Glyph:
        """The outline of a character that the font has."""
        try:
            return super().glyph(letter)
        except FontFault:
            raise
        except Exception:  # fontTools raises errors of every kind on tables and letters that are damaged
            raise FontFault(f"its letter {letter} is damaged") from None

    def drawn(self, name: str) -> list[SubPath]:
        """Outlines of a glyph in the font's own units."""
        count = _Count()
        pen = _LimitedPen(self.glyphs, count.step)
        charstrings = getattr(self.glyphs, "charStrings", None)
        if charstrings is not None:
            charstrings[name].outlineExtractor = count.extractor
        self.glyphs[name].draw(pen)
        _check(pen.recorder.paths, LARGEST * EM / self.scale)
        return pen.recorder.paths


class _Count:
    """Counts the steps in which one letter is drawn."""

    def __init__(self) -> None:
        self.steps = 0

    def step(self) -> None:
        self.steps += 1
        if self.steps > MOST_STEPS:
            raise _intricate()

    def extractor(self, *given: Any) -> T2OutlineExtractor:
        """What runs the program of a letter (CFF), each of its subroutines counted."""
        made = T2OutlineExtractor(*given)
        execute = made.execute

        def counted(program: Any) -> Any:
            self.step()
            return execute(program)

        made.execute = counted
        return made


class _LimitedPen(GlyphPen):
    """Counts what it draws, composed letters included."""

    def __init__(self, glyphs: Any, step: Callable[[], None]) -> None:
        super().__init__(glyphs)
        self.step = step

    def _lineTo(self, point: Point) -> None:
        self.step()
        super()._lineTo(point)

    def _curveToOne(self, first: Point, second: Point, end: Point) -> None:
        self.step()
        super()._curveToOne(first, second, end)

    def addComponent(self, glyphName: str, transformation: Any) -> None:
        """Another letter as part of this one."""
        self.step()
        super().addComponent(glyphName, transformation)


def _check(paths: list[SubPath], most: float) -> None:
    """Whether the outlines stay in reach, and do not cross without end."""
    rough = [np.array(path.points([8] * len(path.segments))) for path in paths]
    if not all((np.abs(line) <= most).all() for line in rough):  # written so that nan fails too
        raise FontFault("one of its letters is larger than letters can be")
    if not rough:
        return
    chords = shapely.linestrings(np.concatenate([np.stack((line[:-1], line[1:]), axis=1) for line in rough]))
    tree, meetings = shapely.STRtree(chords), -3 * len(chords)  # each meets itself and its two neighbours
    for first in range(0, len(chords), 200):
        meetings += tree.query(chords[first : first + 200], predicate="intersects").shape[1]
        if meetings > 2 * MOST_MEETINGS:
            raise _intricate()


def _intricate() -> FontFault:
    return FontFault("one of its letters is too intricate to be cut")
