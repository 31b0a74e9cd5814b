"""Sheets: spacing, edges, room for the control line, sameness, and how well they fill."""

import math

import cards
import numpy as np
import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from foldwright.emit.layout import Sheet, TooLarge, lay_out
from foldwright.emit.raster import TURNS, Grid, Spectra, cells_of, footprints, grown, turned
from foldwright.solver.card import Part
from foldwright.solver.engine.progress import Going

# Grid cells reached by less than a millionth of a millimetre do not count (raster.TOUCH), on both parts of a
# pair.
SPACING_TOLERANCE = 1e-5


def check(sheets: tuple[Sheet, ...], spacing: float, parts: tuple[Part, ...]) -> int:
    """Assert distance, containment and completeness with shapely alone; the number of pairs measured."""
    placed = [item.part.name for sheet in sheets for item in sheet.placed]
    assert sorted(placed) == sorted(part.name for part in parts)
    pairs = 0
    for sheet in sheets:
        shapes = [item.outline for item in sheet.placed]
        mat = box(0, 0, sheet.width, sheet.height).buffer(SPACING_TOLERANCE, join_style="mitre")
        assert all(mat.covers(shape) for shape in shapes)
        assert all(item.part.paper == sheet.paper for item in sheet.placed)
        if sheet.control is not None:
            assert mat.covers(sheet.control.box)
            shapes.append(sheet.control.box)
        for index, shape in enumerate(shapes):
            for other in shapes[:index]:
                assert shape.distance(other) >= spacing - SPACING_TOLERANCE
                # At a spacing of 0 any distance would do: parts may touch, but not overlap.
                assert spacing or shape.intersection(other).area <= SPACING_TOLERANCE * shape.length
                pairs += 1
    return pairs


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("spacing", [0.0, 2.0, 3.7])
def test_parts_keep_their_distance_and_stay_on_the_mat(seed: int, spacing: float) -> None:
    card = cards.crowd(14, seed, mat=(203.2, 152.4))
    assert check(lay_out(card, spacing), spacing, card.parts) >= 14


def test_thirty_parts_on_a_small_mat_are_all_laid_out_apart() -> None:
    card = cards.crowd(30, mat=(168.0, 159.0))
    assert check(lay_out(card), 2.0, card.parts) > 30


def test_as_few_sheets_as_the_area_allows_within_a_third() -> None:
    # Waste measured on mixed sets of this kind with several packers: 28 to 38 % of the sheets used.
    card = cards.crowd(40, mat=(292.1, 292.1))
    area = sum(part.outline.area for part in card.parts) / (292.1 * 292.1)
    assert len(lay_out(card)) <= math.ceil(area / 0.62)


def test_a_jigsaw_of_rectangles_with_a_known_answer_needs_no_second_sheet() -> None:
    # Nine squares fill the mat's width exactly, one grid cell too many would be a second sheet; 16 mm of its
    # height are left for the control line. One sheet is the best answer by construction.
    parts = tuple(Part(f"s{k}", str(k), cards.INK.name, box(0, 0, 40, 40), (), (2, 2)) for k in range(9))
    sheets = lay_out(cards.harbour(parts=parts, mat=(124.0, 140.0)), 2.0)
    assert len(sheets) == 1
    assert check(sheets, 2.0, parts) == 45


def test_papers_keep_their_order_and_sheets_are_counted_through() -> None:
    sheets = lay_out(cards.harbour())
    assert [(sheet.number, sheet.paper) for sheet in sheets] == [(1, "Ink blue"), (2, "sable doré")]
    assert check(sheets, 2.0, cards.harbour().parts) == 4


def test_small_parts_lie_in_the_holes_of_large_ones() -> None:
    frame = Part("frame", "1", cards.INK.name, box(0, 0, 100, 100).difference(box(8, 8, 92, 92)), (), (2, 2))
    small = tuple(Part(f"f{k}", "2", cards.INK.name, box(0, 0, 30, 30), (), (2, 2)) for k in range(4))
    sheets = lay_out(cards.harbour(parts=(frame, *small), mat=(100.0, 112.0)))
    assert len(sheets) == 1
    assert check(sheets, 2.0, (frame, *small)) == 15


@pytest.mark.parametrize("size", [(100.0, 80.0), (80.0, 100.0), (33.3, 12.7)])
def test_a_part_as_large_as_the_mat_fits_and_leaves_no_control_line(size: tuple[float, float]) -> None:
    part = Part("whole", "1", cards.INK.name, box(5, 7, 5 + size[0], 7 + size[1]), (), (9, 9))
    sheets = lay_out(cards.harbour(parts=(part,), mat=size))
    assert check(sheets, 2.0, (part,)) == 0
    assert sheets[0].control is None


def test_a_part_that_fits_only_turned_is_turned() -> None:
    part = Part("long", "1", cards.INK.name, box(0, 0, 100, 30), (), (2, 2))
    sheets = lay_out(cards.harbour(parts=(part,), mat=(50.0, 100.0)))
    assert sheets[0].placed[0].turn in (90, 270)
    assert check(sheets, 2.0, (part,)) == 1


def test_a_control_line_stands_upright_or_in_a_hole_if_need_be() -> None:
    tall = Part("tall", "1", cards.INK.name, box(0, 0, 80, 100), (), (2, 2))
    upright = lay_out(cards.harbour(parts=(tall,), mat=(92.0, 100.0)))
    assert upright[0].control is not None
    assert upright[0].control.upright
    ring = Part("ring", "1", cards.INK.name, box(0, 0, 90, 100).difference(box(9, 9, 81, 91)), (), (2, 2))
    inside = lay_out(cards.harbour(parts=(ring,), mat=(90.0, 100.0)))
    assert inside[0].control is not None
    assert box(9, 9, 81, 91).contains(inside[0].control.box)


def test_a_part_larger_than_the_mat_is_named() -> None:
    with pytest.raises(TooLarge, match=r"cover measures 240.000 x 160.000 mm .* 200 x 200"):
        lay_out(cards.harbour(mat=(200.0, 200.0)))


def test_progress_is_told_paper_by_paper() -> None:
    heard: list[str] = []
    lay_out(cards.harbour(), progress=heard.append)
    stages = [words for words in heard if not isinstance(words, Going)]
    assert stages == ["laying out 2 parts of Ink blue", "laying out 1 part of sable doré"]
    assert "laying out 2 parts of Ink blue: 1 sheet after 1 order" in heard


def test_the_same_card_gives_the_same_sheets() -> None:
    card = cards.crowd(25, 5)
    assert lay_out(card) == lay_out(card)


@pytest.mark.parametrize("turn", TURNS)
def test_turns_are_exact_and_keep_area(turn: int) -> None:
    shape = cards.boat_part().outline
    expected = shapely.affinity.rotate(shape, turn, origin=(0, 0))
    assert turned(shape, turn).symmetric_difference(expected).area < 1e-9  # sines of the other library
    assert turned(turned(shape, turn), (360 - turn) % 360).equals(shape)


def test_growing_never_falls_short_of_half_the_spacing() -> None:
    # Against a much finer circle: 4096 segments fall short of the true arc by less than 1e-6 mm at this
    # radius.
    shape = cards.boat_part().outline
    assert grown(shape, 2.0).buffer(1e-6).covers(shape.buffer(1.0, quad_segs=1024))
    assert grown(box(0, 0, 10, 5), 2.0).bounds == (-1.0, -1.0, 11.0, 6.0)


def test_cells_are_those_that_a_shape_reaches() -> None:
    shape = Polygon([(0, 0), (10, 0), (0, 10)])
    grid = cells_of(shape, 1.0)
    wanted = np.array([[row + column < 10 for column in range(10)] for row in range(10)])
    assert np.array_equal(grid, wanted)  # the hypotenuse only touches the corners of the cells beyond it
    disc = Point(0, 0).buffer(7.3)
    slow = [[disc.intersects(box(x - 7.3, y - 7.3, x - 6.3, y - 6.3)) for x in range(15)] for y in range(15)]
    assert np.array_equal(cells_of(disc, 1.0), np.array(slow))


def test_the_transform_finds_the_place_that_a_plain_search_finds() -> None:
    noise = np.random.default_rng(3)
    grid = Grid(40.0, 30.0, 1.0)
    grid.taken |= noise.random(grid.taken.shape) < 0.04
    spectra, found = Spectra(), 0
    for footprint in footprints(cards.boat_part().outline.buffer(0).simplify(0.5), 0.0, 6.0):
        rows, columns = footprint.cells.shape
        places = [
            (row, column)
            for column in range(40 - columns + 1)
            for row in range(30 - rows + 1)
            if not (grid.taken[row : row + rows, column : column + columns] & footprint.cells).any()
        ]
        reach = (30 - rows, 40 - columns)
        small = type(footprint)(footprint.turn, footprint.cells, (0.0, 0.0), (columns, rows))
        assert grid.reach(small) == reach
        assert grid.leftmost(small, spectra) == (places[0] if places else None)
        found += bool(places)
    assert found >= 2
