"""A font as outlines of letters: lines and cubic curves in a thousand units to the em, y up, the baseline at 0.

Our own font is Nunito Black (SIL Open Font License 1.1, `fonts/OFL.txt`), cut down to Latin letters: sturdy, with round ends
and wide counters. This module is loaded only by who sets letters, so that the grammar stays light.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from fontTools.misc.transform import Transform
from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTFont

from foldwright.grammar.artwork_curves import Point, Recorder, SubPath

EM = 1000  # units of the outlines
OWN = Path(__file__).parent / "fonts" / "nunito-black-latin.ttf"


@dataclass(frozen=True, slots=True)
class Glyph:
    """Closed outlines (filled by the nonzero rule), and how far the next letter stands from the start of this one."""

    paths: tuple[SubPath, ...]
    advance: float


class Font:
    """Letters of an open font file."""

    def __init__(self, file: TTFont, kerned: bool) -> None:
        self._file = file
        self._kerned = kerned
        self._known: dict[str, Glyph] = {}
        self.scale = EM / file["head"].unitsPerEm

    @cached_property
    def _names(self) -> dict[int, str]:
        return dict(self._file.getBestCmap() or {})

    @cached_property
    def glyphs(self) -> Any:
        """What draws a glyph, by its name."""
        return self._file.getGlyphSet()

    @cached_property
    def _lookups(self) -> list[list[Any]]:
        return _kern_lookups(self._file) if self._kerned else []

    def __contains__(self, letter: str) -> bool:
        return ord(letter) in self._names

    @property
    def letters(self) -> tuple[str, ...]:
        """All characters that it has, in the order of their numbers."""
        return tuple(chr(code) for code in sorted(self._names))

    def glyph(self, letter: str) -> Glyph:
        """The outline of a character that the font has."""
        if letter not in self._known:
            name = self._names[ord(letter)]
            paths = tuple(path.moved(Transform().scale(self.scale)) for path in self.drawn(name))
            self._known[letter] = Glyph(paths, self.glyphs[name].width * self.scale)
        return self._known[letter]

    def drawn(self, name: str) -> list[SubPath]:
        """Outlines of a glyph in the font's own units."""
        pen = GlyphPen(self.glyphs)
        self.glyphs[name].draw(pen)
        return pen.recorder.paths

    def kerning(self, left: str, right: str) -> float:
        """What is added to the advance between two letters."""
        pair = self._names[ord(left)], self._names[ord(right)]
        found = 0.0
        for lookup in self._lookups:
            found += next((value for table in lookup if (value := _pair(table, *pair)) is not None), 0.0)
        return found * float(self.scale)


@cache
def own_font() -> Font:
    """The font that comes with the package."""
    return Font(TTFont(OWN, lazy=True), kerned=True)


class GlyphPen(BasePen):  # type: ignore[misc]
    """Writes outlines into a `Recorder`; quadratic curves become the cubics that equal them (done by `BasePen`)."""

    def __init__(self, glyphs: Any) -> None:
        super().__init__(glyphs)
        self.recorder = Recorder()

    def _moveTo(self, point: Point) -> None:
        self.recorder.moveTo(point)

    def _lineTo(self, point: Point) -> None:
        self.recorder.lineTo(point)

    def _curveToOne(self, first: Point, second: Point, end: Point) -> None:
        self.recorder.curveTo(first, second, end)

    def _closePath(self) -> None:
        self.recorder.closePath()

    def _endPath(self) -> None:
        self.recorder.closePath()


def _kern_lookups(file: TTFont) -> list[list[Any]]:
    """Subtables of each lookup of the `kern` feature (OpenType, table GPOS, pair adjustment)."""
    table = file["GPOS"].table
    wanted = sorted({number for record in table.FeatureList.FeatureRecord if record.FeatureTag == "kern"
                     for number in record.Feature.LookupListIndex})
    return [list(table.LookupList.Lookup[number].SubTable) for number in wanted]


def _pair(subtable: Any, left: str, right: str) -> float | None:
    """What a subtable adds between two glyphs; None if it does not know the pair, and the next one is asked."""
    if left not in subtable.Coverage.glyphs:
        return None
    if subtable.Format == 1:
        pairs = subtable.PairSet[subtable.Coverage.glyphs.index(left)].PairValueRecord
        return next((_advance(record.Value1) for record in pairs if record.SecondGlyph == right), None)
    row = subtable.Class1Record[subtable.ClassDef1.classDefs.get(left, 0)].Class2Record
    return _advance(row[subtable.ClassDef2.classDefs.get(right, 0)].Value1)


def _advance(value: Any) -> float:
    return float(getattr(value, "XAdvance", 0) or 0)
