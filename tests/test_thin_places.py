"""Thin places, paper that falls out or off, and panels that fall apart: found at the solved size, told with their places."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
from lxml import etree
from shapely.geometry import Point, Polygon, box
from test_artwork import svg

import foldwright
from foldwright.grammar.artwork import read_artwork
from foldwright.solver.thin import TIP, thin

LEAST = 0.8
SVG = "{http://www.w3.org/2000/svg}"


def tip(angle: float) -> Polygon:
    """A square with a point of that angle in degrees on its right side, as long as it needs to be."""
    half = 3.0
    return shapely.union_all([box(-20, -10, 0, 10), Polygon([(0, -half), (half / np.tan(np.radians(angle / 2)), 0), (0, half)])])


@pytest.mark.parametrize("width", [0.3, 0.5, 0.6])
@pytest.mark.parametrize("length", [0.5, 4.0, 30.0])
def test_a_neck_is_found_with_its_width_and_place(width: float, length: float) -> None:
    both = shapely.union_all([box(-10, -5, 0, 5), box(0, -width / 2, length, width / 2), box(length, -5, length + 10, 5)])
    (found,) = thin(both, LEAST)
    assert found.width == pytest.approx(width, abs=1e-3)
    assert 0 <= found.at[0] <= length
    assert found.at[1] == pytest.approx(0, abs=0.01)


@pytest.mark.parametrize("width", [0.8, 0.81, 2.0])
def test_what_is_wide_enough_is_not(width: float) -> None:
    assert thin(shapely.union_all([box(-10, -5, 0, 5), box(0, 0, 4, width), box(4, -5, 10, 5)]), LEAST) == ()


def test_a_whisker_and_a_part_that_is_thin_all_over() -> None:
    (whisker,) = thin(shapely.union_all([box(-10, -5, 0, 5), box(0, 0, 5, 0.5)]), LEAST)
    assert whisker.width == pytest.approx(0.5, rel=0.15)
    assert 0 < whisker.at[0] < 5
    (whole,) = thin(box(0, 0, 30, 0.6), LEAST)
    assert whole.width == pytest.approx(0.6, abs=0.01)


def test_thin_rings_and_lopsided_holes() -> None:
    """A disc of radius 10 with a hole of radius 9.5 beside its middle: as thin as 0.5 less the shift."""
    (found,) = thin(Point(0, 0).buffer(10, 256).difference(Point(0.2, 0).buffer(9.5, 256)), 0.6)
    assert found.width == pytest.approx(0.3, abs=0.002)
    assert found.at == pytest.approx((9.85, 0), abs=0.3)


@pytest.mark.parametrize("angle", [20, 30, 60, 90, 120])
def test_tips_of_corners_are_no_thin_places(angle: float) -> None:
    assert thin(tip(angle), LEAST) == ()


def test_a_tip_sharper_than_stated_is() -> None:
    """The disc of radius r stays r / sin(a / 2) - r from a tip of angle a: more than TIP widths below 2 asin(1 / (1 + 2 TIP))."""
    limit = 2 * np.degrees(np.arcsin(1 / (1 + 2 * TIP)))
    assert thin(tip(limit + 1), LEAST) == ()
    (found,) = thin(tip(limit - 1.5), LEAST)
    assert found.width < LEAST


@pytest.mark.parametrize("seed", range(5))
def test_every_place_found_is_as_thin_as_told(seed: int) -> None:
    """Random blobs: at each place a disc of the width told fits between two edges, and none much larger lies round it."""
    rng = np.random.default_rng(seed)
    blobs = shapely.union_all([Point(rng.uniform(0, 30, 2)).buffer(rng.uniform(1, 4), 32) for _ in range(30)])
    blob = max(shapely.get_parts(blobs), key=lambda part: part.area)
    holes = shapely.union_all([Point(rng.uniform(0, 30, 2)).buffer(rng.uniform(0.5, 2), 32) for _ in range(25)])
    for part in shapely.get_parts(blob.difference(holes)):
        for found in thin(part, 1.5):
            assert found.width < 1.5
            assert part.boundary.distance(Point(found.at)) <= found.width / 2 + 1e-3


CARD = """card "Thin"
  units mm
cover 120 x 170
  opens 180
  paper night
paper night  colour #1f2740  caliper 0.25
mat 300 x 300
{more}
"""
DUMBBELL = '<path d="M0 0H10V4.7H20V0H30V10H20V5.3H10V10H0z"/>'  # 30 wide, its neck 0.6


@pytest.fixture
def card(tmp_path: Path):
    def made(more: str, body: str = DUMBBELL) -> Path:
        (tmp_path / "shape.svg").write_text(svg(body, "0 0 30 10"), encoding="utf-8")
        (tmp_path / "thin.card").write_text(CARD.format(more=more), encoding="utf-8")
        return tmp_path / "thin.card"

    return made


CUTOUT = 'cutout bell\n  paper night\n  art "shape.svg" width {width}\n  glue on cover.left at centre\n'


def test_told_at_the_solved_size_and_not_where_it_is_larger(card) -> None:
    (note,) = foldwright.check(card(CUTOUT.format(width=30))).card.notes
    assert note.figure == pytest.approx(0.6, abs=0.001)
    for words in ("shape.svg", "bell", "from the left", "art.thinnest", "5 mm from the lower edge"):
        assert words in note.text
    assert not foldwright.check(card(CUTOUT.format(width=60))).card.notes
    assert not foldwright.check(card(CUTOUT.format(width=30) + 'practice art.thinnest 0.5 because "thick board"')).card.notes


def test_a_pair_is_told_once(card) -> None:
    (note,) = foldwright.check(card(CUTOUT.format(width=30).replace("glue on", "pair on"))).card.notes
    assert "1 more places like it" in note.text


def test_marked_among_all_parts_and_not_on_the_sheet(card, tmp_path: Path) -> None:
    foldwright.build(card(CUTOUT.format(width=30)), tmp_path / "out")
    names = {path.stem: [element.get("id") for element in etree.parse(path).iter(SVG + "g")]
             for path in (tmp_path / "out").glob("*.svg")}
    assert [name for name in names["all-parts"] if name == "thin-bell.front"]
    assert not [name for stem, ids in names.items() if stem.startswith("sheet") for name in ids if name.startswith("thin")]


def test_islands_of_a_window_are_told(card) -> None:
    ring = '<path fill-rule="evenodd" d="M0 0H30V10H0zM12 2H18V8H12z"/>'
    checked = foldwright.check(card('window pond on cover.left\n  art "shape.svg" width 60\n', ring))
    (note,) = [note for note in checked.card.notes if "fall out" in note.text]
    assert note.figure == pytest.approx(12)
    assert "24 mm from its left and 4 mm from its lower edge" in note.text
    assert "bridge" in note.text
    again = card('window pond on cover.left\n  art "shape.svg" width 60\n', '<path d="M0 0H30V10H16V8H18V2H12V8H14V10H0z"/>')
    assert not [note for note in foldwright.check(again).card.notes if "fall out" in note.text]


def test_a_thin_strip_between_the_lobes_of_a_window_is_told(card) -> None:
    checked = foldwright.check(card('window pond on cover.left\n  art "shape.svg" width 30\n',
                                    '<path d="M0 0H30V10H0V5.4H27V5H0z"/>'))
    (note,) = [note for note in checked.card.notes if "shape.svg" in note.text]
    assert note.figure == pytest.approx(0.4, rel=0.15)


def test_artwork_that_a_slot_cuts_off_is_told(tmp_path: Path) -> None:
    """A flag on a thin pole beside a slot that goes through its root."""
    body = '<path d="M0 20V14H14.7V6H26V9H15.3V14H60V20z"/>'
    (tmp_path / "flag.svg").write_text(svg(body, "0 0 60 20"), encoding="utf-8")
    text = """card "Flags"
  units mm
cover 130 x 180
  opens 180
  paper night
paper night  colour #1f2740  caliper 0.25
paper weed   colour #3f6f4b  caliper 0.65
mat 300 x 300
ring tank on spine
  paper night
  wall 64
lattice weeds in tank
  paper weed
  layers 3 by 3
  art "flag.svg" along top
"""
    (tmp_path / "flags.card").write_text(text, encoding="utf-8")
    notes = [note for note in foldwright.check(tmp_path / "flags.card").card.notes if "cut off" in note.text]
    assert notes
    assert all(8 < note.figure < 13 for note in notes)


ART = Path(__file__).parents[1] / "examples" / "art"


@pytest.mark.parametrize("name", sorted(path.stem for path in ART.glob("*.svg")))
def test_artwork_of_the_examples_is_sturdy_as_drawn(name: str) -> None:
    art = read_artwork(Path(f"{name}.svg"), ART)
    assert thin(art.scaled(art.width), LEAST) == ()
