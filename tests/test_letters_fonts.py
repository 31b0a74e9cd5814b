"""Fonts of the script's own: read from its folder, used by their outlines, and refused within moments if they are hostile."""

import struct
import time
from io import BytesIO
from pathlib import Path

import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.misc.psCharStrings import T2CharString
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st

from foldwright.grammar import Refused, read_text
from foldwright.grammar.letters import FontFault, Use, lettered
from foldwright.grammar.letters_file import read_font
from foldwright.grammar.letters_font import OWN
from foldwright.solver.answer import solve_design

LONGEST = 10.0  # seconds of processor time; a refusal takes less than one, and an endless drawing would take hours
CARD = """card "Quay"
  units mm
cover 120 x 160
  paper ink
cutout sign
  paper ink
  letters "{text}" width 40 font "{font}"
  glue on cover.right at centre
paper ink   colour #22304a  weight 200 gsm
mat 300 x 300
"""


def square(pen, size=600, at=0):
    for move, point in zip(("moveTo", "lineTo", "lineTo", "lineTo"), ((at, 0), (at, size), (at + size, size), (at + size, 0)),
                           strict=True):
        getattr(pen, move)(point)
    pen.closePath()


def truetype(draw=square, code=65, extra=(), upm=1000):
    """A font with one letter, and with composed glyphs `extra`, each a list of names of its components."""
    names = [".notdef", "A", *(name for name, _ in extra)]
    builder = FontBuilder(upm, isTTF=True)
    builder.setupGlyphOrder(names)
    builder.setupCharacterMap({code: names[-1]})
    pens = {name: TTGlyphPen(None) for name in names[:2]}
    draw(pens["A"])
    glyphs = {name: pen.glyph() for name, pen in pens.items()}
    for name, parts in extra:
        pen = TTGlyphPen(dict.fromkeys(names))
        for part in parts:
            pen.addComponent(part, (1, 0, 0, 1, 0, 0))
        glyphs[name] = pen.glyph()
    for glyph in glyphs.values():
        glyph.xMin = glyph.yMin = glyph.xMax = glyph.yMax = 0  # nobody reads them
    return finished(builder, names, lambda: builder.setupGlyf(glyphs, calcGlyphBounds=False))


def opentype(program, subroutines=()):
    """A font with one letter that is a program of Type 2 charstrings."""
    builder = FontBuilder(1000, isTTF=False)
    builder.setupGlyphOrder([".notdef", "A"])
    builder.setupCharacterMap({65: "A"})
    empty = T2CharStringPen(600, None)
    strings = {".notdef": empty.getCharString(), "A": T2CharString(program=program)}

    def outlines():
        builder.setupCFF("Test", {}, strings, {})
        font = builder.font["CFF "].cff
        for code in subroutines:
            font.GlobalSubrs.append(T2CharString(program=code, globalSubrs=font.GlobalSubrs))

    return finished(builder, [".notdef", "A"], outlines)


def finished(builder, names, outlines):
    builder.font.recalcBBoxes = False  # which would draw what is endless
    outlines()
    builder.setupHorizontalMetrics(dict.fromkeys(names, (700, 0)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Test", "styleName": "Regular"})
    builder.setupOS2()
    builder.setupPost()
    out = BytesIO()
    builder.font.save(out)
    return out.getvalue()


def used(data, folder, text="A"):
    (folder / "a.ttf").write_bytes(data)
    began = time.process_time()
    try:
        return lettered(text, Use.PIECE, 2.0, 1.0, 40.0, read_font("a.ttf", folder))
    finally:
        assert time.process_time() - began < LONGEST


def test_a_truetype_font_of_ones_own_is_used(tmp_path):
    made = used(truetype(upm=2048), tmp_path)
    assert made.artwork.outline.area == pytest.approx(1)
    made = used(OWN.read_bytes(), tmp_path, "Ahoy")
    assert made.artwork.outline.geom_type == "Polygon"


def test_an_opentype_font_of_ones_own_is_used(tmp_path):
    pen = T2CharStringPen(700, None)
    square(pen)
    assert used(opentype(pen.getCharString().program), tmp_path).artwork.outline.area == pytest.approx(1)


def test_a_card_uses_the_font_beside_it(tmp_path):
    (tmp_path / "fonts").mkdir()
    (tmp_path / "fonts" / "a.ttf").write_bytes(truetype())
    card = solve_design(read_text(CARD.format(text="A", font="fonts/a.ttf"), folder=tmp_path))
    sign = next(part for part in card.parts if part.name.startswith("sign"))
    assert sign.outline.area == pytest.approx(1600)


@pytest.mark.parametrize(("name", "content", "why"), [
    ("none.ttf", None, "there is no such file"),
    ("../outside.ttf", b"", "outside the folder"),
    ("a.ttf", b"", "it is not a font"),
    ("a.ttf", b"<svg/>", "it is not a font"),
    ("a.ttf", b"wOF2" + bytes(60), "web pages"),
    ("a.ttf", b"ttcf" + bytes(60), "collection"),
    ("a.ttf", b"\0\1\0\0", "damaged"),
    ("a.ttf", b"\0\1\0\0\0\0" + bytes(20), "no outlines"),
    ("a.ttf", bytes(5_000_001), "larger than 5000 kB"),
])
def test_files_that_are_no_fonts_are_told_at_their_name(tmp_path, name, content, why):
    if content is not None:
        (tmp_path / "in").mkdir(exist_ok=True)
        (tmp_path / "in" / name).write_bytes(content)
    else:
        (tmp_path / "in").mkdir()
    with pytest.raises(Refused) as caught:
        solve_design(read_text(CARD.format(text="A", font=name), folder=tmp_path / "in"))
    (problem,) = caught.value.problems
    assert problem.code == "font-unusable"
    assert problem.at.text == f'"{name}"'
    assert why in problem.wrong()


def test_a_character_that_the_own_font_lacks_is_told_as_such(tmp_path):
    (tmp_path / "a.ttf").write_bytes(truetype())
    with pytest.raises(Refused) as caught:
        solve_design(read_text(CARD.format(text="AB", font="a.ttf"), folder=tmp_path))
    assert caught.value.problems[0].at.text == "B"
    assert "another font" in caught.value.problems[0].hints()[0]


def test_composed_letters_cannot_multiply(tmp_path):
    """Sixty glyphs, each of two of the one before: 2^60 squares if they were drawn."""
    extra = [(f"g{n}", [f"g{n - 1}" if n else "A"] * 2) for n in range(60)]
    with pytest.raises(FontFault, match="too intricate"):
        used(truetype(extra=extra), tmp_path)


def test_a_letter_cannot_hold_itself(tmp_path):
    with pytest.raises(FontFault):
        used(truetype(extra=[("g0", ["g1"]), ("g1", ["g0"])]), tmp_path)


def test_subroutines_cannot_multiply(tmp_path):
    """Each calls the next twice and draws nothing (Type 2 charstrings); numbers of subroutines have a bias of 107."""
    subroutines = [[n + 1 - 107, "callgsubr", n + 1 - 107, "callgsubr", "return"] for n in range(60)] + [["return"]]
    with pytest.raises(FontFault):
        used(opentype([-107, "callgsubr", "endchar"], subroutines), tmp_path)


def test_outlines_cannot_cross_without_end(tmp_path):
    def comb(pen):
        pen.moveTo((0, 0))
        for n in range(300):
            pen.lineTo((n * 3, 600 * (n % 2)))
        for n in range(300):
            pen.lineTo((600 * (n % 2), n * 3))
        pen.closePath()

    with pytest.raises(FontFault, match="too intricate"):
        used(truetype(comb), tmp_path)


@pytest.mark.parametrize("kind", [12, 13])
def test_characters_cannot_multiply(tmp_path, kind):
    """A table of characters of 28 bytes that stands for four thousand million of them (OpenType, table cmap)."""
    font = TTFont(BytesIO(truetype()))
    table = struct.pack(">HH", 0, 1) + struct.pack(">HHL", 3, 10, 12)
    table += struct.pack(">HHLLL", kind, 0, 28, 0, 1) + struct.pack(">LLL", 0, 0xFFFFFFFF, 1)
    data = bytearray(truetype())
    record = next(12 + 16 * n for n in range(len(font.reader.tables)) if data[12 + 16 * n : 16 + 16 * n] == b"cmap")
    data[record + 8 : record + 16] = struct.pack(">LL", len(data), len(table))
    with pytest.raises(FontFault, match="characters"):
        used(bytes(data) + table, tmp_path)


def test_numbers_out_of_reach_are_refused(tmp_path):
    with pytest.raises(FontFault, match="larger than letters"):
        used(truetype(lambda pen: square(pen, 32000), upm=16), tmp_path)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_damaged_fonts_are_refused_or_read(tmp_path_factory, data):
    """Bytes are changed or cut off at random: a letter or a `FontFault` comes out, and nothing else."""
    content = bytearray(OWN.read_bytes() if data.draw(st.booleans()) else truetype())
    directory = data.draw(st.booleans())
    for _ in range(data.draw(st.integers(1, 8))):
        content[data.draw(st.integers(0, min(len(content), 300 if directory else len(content)) - 1))] = data.draw(
            st.integers(0, 255))
    content = content[: data.draw(st.sampled_from([len(content), len(content) // 2]))]
    folder = tmp_path_factory.mktemp("font")
    try:
        used(bytes(content), folder)
    except FontFault as fault:
        assert fault.why
    except Exception as error:  # a letter that the damaged table of characters has lost
        assert type(error).__name__ == "LettersFault"


def test_the_licence_of_our_font_is_with_it():
    text = (Path(OWN).parent / "OFL.txt").read_text("utf-8")
    font = TTFont(OWN)
    assert "SIL OPEN FONT LICENSE Version 1.1" in text
    assert str(font["name"].getDebugName(0)) in text  # the same copyright notice
    assert font["name"].getDebugName(14) == "https://scripts.sil.org/OFL"
    assert "with Reserved Font Name" not in text  # so that a part of the font may keep its name
    assert OWN.stat().st_size < 150_000
