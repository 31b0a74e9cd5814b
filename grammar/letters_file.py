"""A font file of the script's own: from its folder only, read within limits, and refused if it is not plain.

Font files come from anywhere, and their tables can be made to unfold into billions of entries. So the table of characters is
counted before it is read, the steps of drawing a letter are counted, and what is not needed (positions, substitutions, names,
hints) is never read: letters of an own font are set by their advances alone.
"""

from __future__ import annotations

from functools import lru_cache
from io import BytesIO
from pathlib import Path
from struct import unpack_from
from typing import TYPE_CHECKING

from foldwright.grammar.artwork import content, inside
from foldwright.grammar.artwork_values import ArtworkFault
from foldwright.grammar.letters import FontFault

if TYPE_CHECKING:
    from foldwright.grammar.letters_font import Font

LARGEST_FONT = 5_000_000  # bytes; fonts of Latin, Greek and Cyrillic letters have some 500 kB
MOST_TABLES = 100
MOST_CHARACTERS = 200_000  # Unicode 16 has 155,000

_NEEDED = ("head", "hhea", "hmtx", "maxp", "cmap")
_READ = {*_NEEDED, "glyf", "loca", "CFF "}
_KINDS = {b"\0\1\0\0": "", b"true": "", b"OTTO": "", b"wOFF": "it is a font for web pages; save it as `.ttf` or `.otf`",
          b"wOF2": "it is a font for web pages; save it as `.ttf` or `.otf`",
          b"ttcf": "it is a collection of fonts; save one of them as `.ttf` or `.otf`"}
_COUNTED = (4, 12)  # kinds of the table of characters that are lists of ranges
_FLAT = (0, 6, 14)  # kinds that are no longer than the file, or never looked at


def read_font(path: str, folder: Path) -> Font:
    """The font in a file under a folder; raises `FontFault`, whatever the file holds."""
    try:
        found = inside(Path(path), folder)
        state = found.stat() if found.exists() else None
        return _unchanged(found, state and (state.st_mtime_ns, state.st_size))
    except ArtworkFault as fault:
        raise FontFault(fault.why.removesuffix("; simplify it")) from None


@lru_cache(maxsize=8)
def _unchanged(path: Path, stamp: tuple[int, int] | None) -> Font:
    data = content(path, LARGEST_FONT)
    kind = _KINDS.get(data[:4], "it is not a font")
    if kind:
        raise FontFault(kind)
    try:
        _check(data)
        return _opened(data)
    except FontFault:
        raise
    except Exception:  # fontTools raises errors of every kind on files that are damaged
        raise FontFault("it is damaged") from None


def _check(data: bytes) -> None:
    """Whether all tables lie in the file, those needed are there, and the characters can be counted."""
    (count,) = unpack_from(">H", data, 4)
    if count > MOST_TABLES:
        raise FontFault("it is damaged")
    tables = {}
    for number in range(count):
        tag, _, offset, length = unpack_from(">4sLLL", data, 12 + 16 * number)
        if offset + length > len(data):
            raise FontFault("it is damaged: it ends too early")
        tables[tag.decode("latin-1")] = (offset, length)
    if not all(tag in tables for tag in _NEEDED) or not ("CFF " in tables or {"glyf", "loca"} <= set(tables)):
        raise FontFault("it has no outlines of letters that can be cut")
    offset, length = tables["cmap"]
    _check_characters(data[offset : offset + length])


def _check_characters(table: bytes) -> None:
    (count,) = unpack_from(">H", table, 2)
    total = 0
    for number in range(min(count, MOST_TABLES + 1)):
        (offset,) = unpack_from(">L", table, 8 + 8 * number)
        (kind,) = unpack_from(">H", table, offset)
        if kind not in _COUNTED + _FLAT or number == MOST_TABLES:
            raise FontFault("its table of characters is of a kind that cannot be read")
        ranges = _ranges(table, offset, kind)
        total += sum(max(0, last - first + 1) for first, last in ranges)
        if total > MOST_CHARACTERS:
            raise FontFault("it claims to have more characters than there are")


def _ranges(table: bytes, at: int, kind: int) -> list[tuple[int, int]]:
    """First and last characters of the ranges of a list (OpenType, table cmap, formats 4 and 12)."""
    if kind == 4:
        count = unpack_from(">H", table, at + 6)[0] // 2
        lasts, firsts = (unpack_from(f">{count}H", table, at + start) for start in (14, 16 + 2 * count))
        return list(zip(firsts, lasts, strict=True))
    if kind == 12:
        (count,) = unpack_from(">L", table, at + 12)
        if 12 * count > len(table):
            raise FontFault("it is damaged")
        return [unpack_from(">LL", table, at + 16 + 12 * number) for number in range(count)]
    return []


def _opened(data: bytes) -> Font:
    from fontTools.ttLib import TTFont

    from foldwright.grammar.letters_own import OwnFont

    file = TTFont(BytesIO(data), lazy=True)
    for tag in [tag for tag in file.keys() if tag not in _READ and tag != "GlyphOrder"]:  # noqa: SIM118 - not a mapping
        del file[tag]
    if not 16 <= file["head"].unitsPerEm <= 16384:  # OpenType, table head
        raise FontFault("it is damaged")
    font = OwnFont(file, kerned=False)
    if not font.letters:
        raise FontFault("it has no table of Unicode characters")
    return font
