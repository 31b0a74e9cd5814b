"""Letters against the font's own outlines, a shaper and a renderer; one piece, no islands, bridges as wide as they must be."""

import unicodedata
from fractions import Fraction

import numpy as np
import pytest
import shapely
from curved import apart
from fontTools.pens.areaPen import AreaPen
from fontTools.pens.basePen import BasePen
from fontTools.pens.boundsPen import BoundsPen
from fontTools.svgLib.path import parse_path
from fontTools.ttLib import TTFont
from hypothesis import example, given, settings
from hypothesis import strategies as st
from lxml import etree
from PIL import Image, ImageDraw, ImageFont, features
from shapely import affinity
from shapely.geometry import Polygon, box

from foldwright import api
from foldwright.grammar import Refused, read_text
from foldwright.grammar.letters import LEAST_BAR, LEAST_BRIDGE, MOST_BRIDGE, Use, lettered
from foldwright.grammar.letters_font import OWN, own_font
from foldwright.grammar.letters_shapes import FOOT, chord_of, sign
from foldwright.grammar.problem import registry as problems
from foldwright.solver.answer import solve_design
from foldwright.solver.bind import bind

FONT = TTFont(OWN)
LETTERS = [letter for letter in own_font().letters if letter != " "]
HELD = 0.98  # of a bridge: what still holds after the paper has lost that much of its width was held by a bridge
SPECK = 0.15  # of a bridge: crumbs that are left of round corners when paper is made narrower

CARD = """card "Quay"
  units mm
cover 120 x 160
  paper ink
tent quay on spine
  paper  sand
  at     45
  width  70
  spread 25 to 35
  wall   50
{block}
paper ink   colour #22304a  weight 200 gsm
paper sand  colour #d8c49a  caliper 0.25
paper lamp  colour #f0c64a  caliper 0.3
mat 300 x 300
"""
SIGN = CARD.replace("{block}", "cutout sign\n  paper lamp\n  {line}\n  glue on quay.left at centre")
WINDOW = CARD.replace("{block}", "window sign on cover.left\n  at 80 x 70\n  {line}\n  up end")


class Flat(BasePen):
    """Outlines as dense polygons, by another way than ours: curves are split here."""

    def __init__(self, glyphs):
        super().__init__(glyphs)
        self.rings = []

    def _moveTo(self, point):
        self.rings.append([point])

    def _lineTo(self, point):
        self.rings[-1].append(point)

    def _curveToOne(self, first, second, end):
        start = self.rings[-1][-1]
        t = np.linspace(0, 1, 201)[1:]
        weights = np.column_stack(((1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t**2, t**3))
        self.rings[-1] += map(tuple, weights @ np.array((start, first, second, end)))


def font_shape(letter):
    """A letter as its font has it, in its units; the outlines of ours do not overlap."""
    glyphs = FONT.getGlyphSet()
    pen = Flat(glyphs)
    glyphs[FONT.getBestCmap()[ord(letter)]].draw(pen)
    shape = Polygon()
    for ring in pen.rings:
        shape = shape.symmetric_difference(Polygon(ring))
    return shape


def area_of(letter):
    """Its area in the font's units, by the formula of Green (fontTools)."""
    glyphs = FONT.getGlyphSet()
    pen = AreaPen(glyphs)
    glyphs[FONT.getBestCmap()[ord(letter)]].draw(pen)
    return abs(pen.value)


def set_at(text, use=Use.PIECE, width=None, bar=2.0, bridge=1.0):
    return lettered(text, use, bar, bridge, width)


def firm_pieces(shape, bridge):
    """Pieces of what is left of paper when so much of a bridge is taken off it, crumbs left out."""
    left = shape.buffer(-HELD * bridge / 2, quad_segs=8)
    return [piece for piece in shapely.get_parts(left) if piece.area > (SPECK * bridge) ** 2]


def panel_of(made):
    """A panel with letters as holes, with a strip of three bridges round them."""
    left, low, right, high = made.artwork.outline.bounds
    strip = 3 * made.bridge
    return box(left - strip, low - strip, right + strip, high + strip).difference(made.artwork.outline)


# ---- the letters are those of the font


def test_each_letter_is_the_fonts():
    glyphs = FONT.getGlyphSet()
    for letter in LETTERS:
        name, bounds = FONT.getBestCmap()[ord(letter)], BoundsPen(glyphs)
        glyphs[name].draw(bounds)
        chord = chord_of((letter,), own_font())
        ours = sign(letter, own_font(), chord).shape
        assert ours.is_valid, letter
        assert abs(ours.area - area_of(letter)) <= chord * ours.length, letter  # chords lie off the curve by so much
        assert np.allclose(ours.bounds, bounds.bounds, atol=chord), letter
        assert own_font().glyph(letter).advance == FONT["hmtx"][name][0], letter


@pytest.mark.skipif(not features.check("raqm"), reason="Pillow was built without a shaper")
def test_kerning_is_that_of_a_shaper():
    """HarfBuzz (through Pillow) is the reference: OpenType pair adjustment of all pairs of some letters."""
    shaper = ImageFont.truetype(str(OWN), 1000, layout_engine=ImageFont.Layout.RAQM)
    kerned = 0
    for first in "ATVLPWYefory.,-’Äč":
        for second in LETTERS:
            ours = own_font().glyph(first).advance + own_font().kerning(first, second) + own_font().glyph(second).advance
            assert abs(shaper.getlength(first + second, features=["-ccmp", "-mark", "-liga"]) - ours) < 0.51  # whole units
            kerned += own_font().kerning(first, second) != 0
    assert kerned > 500


@pytest.mark.skipif(not features.check("raqm"), reason="Pillow was built without a shaper")
@pytest.mark.parametrize("text", ["AHOY", "TAVERN", "EXIT"])
def test_a_word_above_its_bar_is_what_a_renderer_draws(text):
    """FreeType (through Pillow) renders the word at one pixel to a unit; ours is compared pixel by pixel, edges left out."""
    made = set_at(text)
    scale = made.artwork.width  # the word is in units of its own width, and its letters in a thousand to the em
    low = FOOT - 130
    ours = affinity.translate(affinity.scale(made.artwork.outline, scale, scale, origin=(0, 0)), 0, low)
    image = Image.new("1", (round(scale) + 100, 1200))
    font = ImageFont.truetype(str(OWN), 1000, layout_engine=ImageFont.Layout.RAQM)
    left = sign(text[0], own_font(), 0.1).shape.bounds[0]
    ImageDraw.Draw(image).text((50 - round(left), 1000), text, fill=1, font=font, anchor="ls")
    seen = np.array(image)
    x, y = np.meshgrid(np.arange(0, image.width, 9), np.arange(0, 1000 - round(FOOT) - 3, 5))
    points = shapely.points(x + 0.5 - 50, 1000 - (y + 0.5))
    far = shapely.distance(ours.boundary, points) > 2
    shapely.prepare(ours)
    inside = shapely.contains_properly(ours, points)
    assert far.sum() > 20_000
    assert (inside == seen[y, x])[far].all()


# ---- one piece


@pytest.mark.parametrize("use", [Use.PIECE, Use.EDGE])
def test_each_letter_is_one_piece(use):
    for letter in LETTERS:
        made = set_at(letter, use)
        outline = made.artwork.outline
        assert outline.geom_type == "Polygon", letter
        assert outline.is_valid, letter
        assert np.allclose(outline.bounds[:3], (0, 0, 1)), letter
        if made.bridge is not None:
            assert len(firm_pieces(outline, made.bridge)) == 1, letter
        assert outline.area * made.artwork.width**2 >= 0.999 * area_of(letter), letter  # nothing of it is lost


words = st.text(st.sampled_from([*LETTERS, " "]), min_size=1, max_size=9).map(str.strip).filter(bool)


@settings(max_examples=10, deadline=None)
@given(words, st.sampled_from([Use.PIECE, Use.EDGE]), st.sampled_from([None, 30.0, 90.0]))
def test_every_word_is_one_piece(text, use, width):
    made = set_at(text, use, width)
    outline = made.artwork.outline
    assert outline.geom_type == "Polygon"
    assert outline.is_valid
    if made.bridge is not None and width is None:  # a bridge wider than the strokes is held by strokes
        assert len(firm_pieces(outline, made.bridge)) == 1


def test_the_bar_is_as_high_as_asked():
    for width, bar in ((60.0, 2.0), (60.0, 9.0), (200.0, 2.0)):
        outline = affinity.scale(set_at("HELM", width=width, bar=bar).artwork.outline, width, width, origin=(0, 0))
        column = outline.intersection(box(width / 3, -1, 2 * width / 3, 200)).bounds
        empty = box(0, 0, width, 200).difference(outline)
        height = min(part.bounds[1] for part in shapely.get_parts(empty))  # the lowest place beside a letter
        assert column[1] == 0
        assert height >= bar
        assert height < 1.01 * max(bar, LEAST_BAR * width / set_at("HELM", width=width, bar=bar).artwork.width)


def test_an_edge_is_met_by_the_whole_foot():
    for text in ("Quay", "jolly", "AHOY"):
        outline = set_at(text, Use.EDGE).artwork.outline
        foot = outline.intersection(box(-1, -1, 2, 1e-4)).bounds
        assert foot[2] - foot[0] > 0.999
    assert set_at("Quay", Use.PIECE).artwork.outline.intersection(box(-1, -1, 2, 1e-4)).length < 0.5


def test_a_letter_alone_needs_no_bar():
    made, chord = set_at("O").artwork, chord_of(("O",), own_font())
    assert abs(made.outline.area * made.width**2 - area_of("O")) < chord * made.outline.length * made.width


# ---- holes


def test_no_letter_of_a_window_has_an_island():
    for letter in LETTERS:
        made = set_at(letter, Use.HOLES)
        assert made.bridge * made.artwork.width >= LEAST_BRIDGE - 1e-6, letter
        assert not any(hole.interiors for hole in shapely.get_parts(made.artwork.outline)), letter
        assert len(firm_pieces(panel_of(made), made.bridge)) == 1, letter
        assert made.artwork.outline.area * made.artwork.width**2 > 0.5 * area_of(letter), letter  # it can still be read


@settings(max_examples=10, deadline=None)
@example("000000Ù", 30.0)  # an accent between two stems
@given(words, st.sampled_from([None, 30.0, 90.0]))
def test_no_word_of_a_window_has_an_island(text, width):
    made = set_at(text, Use.HOLES, width)
    panel = panel_of(made)
    assert panel.geom_type == "Polygon"
    assert len(firm_pieces(panel, made.bridge)) == 1


def test_bridges_of_a_window_are_as_wide_as_asked_while_there_is_room():
    for width in (25.0, 60.0):
        for bridge in (0.6, 1.5):
            made = set_at("BOAT 8", Use.HOLES, width, bridge=bridge)
            capped = made.bridge * made.artwork.width > 0.999 * MOST_BRIDGE
            assert made.bridge * width >= bridge or capped


def test_letters_of_a_window_keep_apart():
    for text in ("AVATAR", "LTLT", "WAVY"):
        made = set_at(text, Use.HOLES, 60.0)
        holes = shapely.get_parts(made.artwork.outline)
        gaps = [first.distance(second) for number, first in enumerate(holes) for second in holes[number + 1 :]]
        assert min(gaps) >= made.bridge


# ---- in a card


def card(script, **values):
    return solve_design(read_text(script.format(**values)))


def test_curves_reach_the_sheet(tmp_path):
    """A letter on a sheet of its own, read back by fontTools, against the font's outline at that width."""
    (tmp_path / "one.card").write_text(SIGN.format(line='letters "S" width 30'), "utf-8")
    api.build(tmp_path / "one.card", tmp_path / "out", wanted=None)
    root = etree.parse(tmp_path / "out" / "sheet-3-lamp.svg").getroot()
    paths = [d for d in root.xpath("//*[local-name()='path']/@d") if "C" in d]
    assert len(paths) == 1
    pen = Flat(None)
    parse_path(paths[0], pen)
    (read,) = (np.array(ring) for ring in pen.rings)
    truth = font_shape("S")
    scale = 30 / (truth.bounds[2] - truth.bounds[0])
    best = 9.0
    for turn in (0, 90, 180, 270):  # the packer turns parts, and SVG looks down
        there = affinity.rotate(affinity.scale(Polygon(read), 1, -1), turn, origin=(0, 0))
        here = affinity.scale(truth, scale, scale, origin=(0, 0))
        shift = np.array(here.bounds) - np.array(there.bounds)
        if np.ptp(shift[[0, 2]]) < 0.01 and np.ptp(shift[[1, 3]]) < 0.01:
            there = affinity.translate(there, *shift[:2])
            best = min(best, apart(there.exterior, here.exterior))
    assert best < 0.005
    assert paths[0].count("C") <= len(own_font().glyph("S").paths[0].segments)


def test_a_window_of_letters_is_many_holes():
    solved = card(WINDOW, line='letters "BOAT" width 60')
    (cover,) = (part for part in solved.parts if part.name == "cover")
    made = set_at("BOAT", Use.HOLES, 60.0)
    holes = shapely.get_parts(made.artwork.outline)
    assert len(cover.outline.interiors) == len(holes) >= 6
    gone = sum(Polygon(ring).area for ring in cover.outline.interiors)
    assert abs(gone - 3600 * made.artwork.outline.area) < 0.05


def test_the_practice_of_the_card_counts():
    thin = card(SIGN + 'practice letters.bar 3 because "small"\n', line='letters "PIER" width 50')
    thick = card(SIGN + 'practice letters.bar 7 because "glued by it"\n', line='letters "PIER" width 50')
    heights = [next(part for part in made.parts if part.paper == "lamp").outline.bounds[3] for made in (thin, thick)]
    assert abs(heights[1] - heights[0] - 4) < 0.05


def test_bridges_without_room_are_a_conflict_with_a_way_out():
    with pytest.raises(Refused) as caught:
        card(WINDOW, line='letters "BOB BOB BOB" width 20')
    (problem,) = caught.value.problems
    assert "bridges in the letters of sign must be 1 mm wide" in problem.wrong()
    card(WINDOW + 'without sign.letter-bridges because "cut by laser from card of 300 g"\n',
         line='letters "BOB BOB BOB" width 20')


def test_a_width_that_is_found_is_wide_enough():
    made = solve_design(read_text(SIGN.format(line='letters "jé" width 20 to 40') + "prefer smallest sign.width\n"))
    width = float(made.dimensions["sign.width"][0])
    letters = lettered("jé", Use.PIECE, 2.0, 1.0, 20.0)
    assert width * letters.bridge >= 1


def test_the_same_letters_are_the_same_outline():
    script = SIGN.format(line='letters "Ahoy, “Quay”" width 60')
    first, second = (solve_design(read_text(script)) for _ in range(2))
    assert [part.outline.wkb for part in first.parts] == [part.outline.wkb for part in second.parts]
    lettered.cache_clear()
    again = solve_design(read_text(script))
    assert [part.outline.wkb for part in again.parts] == [part.outline.wkb for part in first.parts]


@pytest.mark.parametrize("block", [
    "scene stage on spine\n  paper lamp\n  planes 2\n  width 90\n  at 20\n  letters \"Quay\" along top",
    "ring pool on spine\n  paper lamp\n  wall 50\nlattice weeds in pool\n  paper lamp\n  layers 2 by 2\n"
    "  letters \"FRY\" along top",
    "vfold fan on spine\n  paper lamp\narm hand on fan.left\n  paper lamp\n  letters \"HI\" width 20",
])
def test_letters_stand_wherever_an_artwork_can(block):
    script = CARD.replace(CARD[CARD.index("tent quay") : CARD.index("{block}")], "").format(block=block)
    made = solve_design(read_text(script))
    assert sum(len(part.drawn) for part in made.parts) >= 1


def test_letters_in_variants_in_options_and_written_back(tmp_path):
    path = tmp_path / "one.card"
    path.write_text(SIGN.format(line='letters "AHOY" width 40 to 50 or "PIER" width 60')
                    + 'variant guests\n  sign.letters "MOIN" width 45\nprefer largest sign.width\n', "utf-8")
    checked = api.check(path)
    script = api.fixed_script(checked)
    assert 'letters "PIER" width 60' in script
    assert "AHOY" not in script
    assert solve_design(read_text(script)).dimensions == checked.card.dimensions


# ---- what cannot be set


def refused(script, **values):
    with pytest.raises(Refused) as caught:
        bind(read_text(script.format(**values)))
    return caught.value.problems


@pytest.mark.parametrize(("text", "code", "there"), [
    ("AH♥Y", "letters-unknown", "♥"),
    ("AHOY ☂", "letters-unknown", "☂"),
    ("Ω", "letters-unknown", "Ω"),
    ("AH שלום", "letters-script", "ש"),
    ("مرحبا", "letters-script", "م"),
    ("नमस्ते", "letters-script", "न"),
    ("สวัสดี", "letters-script", "ส"),
    ("x\u0332", "letters-unknown", "x\u0332"),
    (60 * "A" + "BC", "letters-long", "BC"),
])
def test_what_cannot_be_set_is_told_at_its_character(text, code, there):
    (problem,) = refused(SIGN, line=f'letters "{text}" width 40')
    assert problem.code == code
    assert code in problems()
    assert problem.at.text == there
    assert problem.hints()


def test_accents_may_be_written_apart():
    joined, parted = (set_at(unicodedata.normalize(form, "Ängström")) for form in ("NFC", "NFD"))
    assert joined.artwork.outline.equals_exact(parted.artwork.outline, 0)


@pytest.mark.parametrize(("line", "code"), [
    ('letters "AHOY" width 40\n  art "a.svg"', "setting-twice"),
    ('letters "AHOY" strokes', "unknown-choice"),
    ('letters 40', "unknown-choice"),
    ('letters "AHOY" width "40"', "unknown-choice"),
    ('letters "AHOY" font 40', "unknown-choice"),
    ('letters', "value-missing"),
])
def test_lines_that_are_wrong(line, code):
    assert code in {problem.code for problem in refused(SIGN, line=line)}


def test_width_is_that_of_the_word():
    made = card(SIGN, line='letters "AHOY" width 1 1/2 in')
    (part,) = (part for part in made.parts if part.paper == "lamp")
    assert abs(part.outline.bounds[2] - part.outline.bounds[0] - float(Fraction(3, 2) * Fraction(254, 10))) < 1e-6
