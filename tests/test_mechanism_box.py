"""Boxes: how they stand, where they may stand, and how they are refused."""

from __future__ import annotations

from fractions import Fraction
from math import acos, asin, degrees, radians

import numpy as np
import pytest
from by_hand import Seeded, between, broken, cosine, cover, stand
from drawn.box import draw_box
from drawn.step import corner

from foldwright.grammar import Refused, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.card import Stroke
from foldwright.solver.proof import prove

HEAD = """
card "Warehouse"
  units mm
cover 100 x 150
  opens {opens}
  paper ink
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 300 x 300
"""
CRATE = """
box crate on spine
  paper sand
  at 20
  width 60
  spread 30
  left_spread 22
"""
TENT = """
tent shed on spine
  paper sand
  at 20
  width 90
  spread 20
  wall 60
"""
PAGE = "insert page on spine\n  paper sand\n"
MEET = 1e-9  # mm: rounding of a few rotations on parts of 200 mm
LIFTED = """
box crate on shed.{foot}
  paper sand
  at 20
  width 60
  spread 16
  left_spread 18
"""

HUNG = """
box crate on shed.under_ridge
  paper sand
  at 20
  width 60
  spread {spread}
  left_spread 28
"""


def solved(*blocks: str, opens: int = 90):
    return solve_design(read_text(HEAD.format(opens=opens) + "".join(blocks)), seconds=20)


def refusal(*blocks: str, **words: int) -> str:
    with pytest.raises(Refused) as refused:
        solved(*blocks, **words)
    return " ".join(problem.wrong() for problem in refused.value.problems)


def crate(spread: int = 31, left_spread: int = 17, **words: str):
    own = {"at": 60, "width": 50, "spread": spread, "left_spread": left_spread}
    return stand("box", "crate", corner(), "spine", own, **words)


# ---- how it stands

def test_in_an_l_it_is_a_rectangle():
    """Open at a right angle the section is a rectangle: over each page as high as the other foot is far from the crease."""
    mine = crate()
    fold, ridge = mine.fold(90), mine.pose(90).folds["ridge"].origin
    assert float(ridge @ fold.right_normal) == pytest.approx(17, abs=MEET)
    assert float(ridge @ fold.left_normal) == pytest.approx(31, abs=MEET)
    placed = mine.placements(90)
    assert between(placed["crate.right"].up, placed["crate.left"].up) == pytest.approx(90, abs=1e-9)
    assert mine.value(mine.mechanism.measures()["reach"]) == 48
    # closed, the ridge lies where `reach` says
    assert mine.pose(0).folds["ridge"].origin[2] == pytest.approx(48, abs=MEET)


def test_sections_keep_the_equation_of_the_four_bar():
    """Freudenstein's equation K1 cos p4 - K2 cos p2 + K3 = cos(p2 - p4) of a planar four-bar, its links and angles read from
    the poses (F. Freudenstein, Approximate synthesis of four-bar linkages, Transactions of the ASME 77, 1955; from memory)."""
    for seed in range(40):
        mine = draw_box(Seeded(seed), "crate", corner(), "spine")
        for opening in (3.0, 25.0, 60.0, 89.0):
            pose, fold = mine.pose(opening), mine.fold(opening)
            feet = {side: pose.folds[f"{side}_foot"].origin - mine.sizes["at"] * fold.x for side in ("right", "left")}
            top = pose.folds["ridge"].origin - mine.sizes["at"] * fold.x
            ground, drive, couple, out = feet["left"], feet["right"], top - feet["right"], top - feet["left"]
            d, a, b, c = (float(np.linalg.norm(link)) for link in (ground, drive, couple, out))
            second, fourth = between(drive, ground), between(out, ground)
            k = (d / a, d / c, (a * a - b * b + c * c + d * d) / (2 * a * c))
            assert k[0] * cosine(fourth) - k[1] * cosine(second) + k[2] == pytest.approx(cosine(second - fourth), abs=1e-9)
            # Grashof: shortest and longest link together are just as long as the other two, so it has change points, and
            # they lie where all links are in line: closed, and open flat
            links = sorted((a, b, c, d))
            assert links[0] + links[3] == pytest.approx(links[1] + links[2], abs=MEET)
        assert [angle for angle, _ in mine.mechanism.dead_points(mine.sizes)] == [180.0]


@pytest.mark.parametrize("tabs", ["inward", "outward"])
def test_a_floor_covers_both_pages_up_to_the_feet(tabs):
    mine = crate(tabs=tabs)
    for opening in (0, 40, 90):
        placed, fold = mine.placements(opening), mine.fold(opening)
        for side, out, foot in (("right", fold.right, 31), ("left", fold.left, 17)):
            outline = np.asarray(next(p for p in mine.flat.panels if p.name == f"crate.{side}_floor").outline.exterior.coords)
            points = placed[f"crate.{side}_floor"].points(outline)
            assert abs(points @ np.cross(fold.x, out)).max() < MEET
            assert (points @ out).min() == pytest.approx(0, abs=MEET)
            assert (points @ out).max() == pytest.approx(foot, abs=MEET)
    host = {bond.panel: bond.host for bond in mine.flat.bonds}
    assert host["crate.left_tab"] == ("crate.left_floor" if tabs == "inward" else "cover.left")
    assert "crate.right_tab" not in host


def test_creases_inside_close_with_the_card():
    mine = crate()
    for opening in (0.0, 30.0, 90.0):
        folds = mine.pose(opening).folds
        for name in ("under_ridge", "floor", "ridge", "right_foot", "left_foot"):
            assert float(folds[name].opening[0]) == pytest.approx(opening, abs=1e-12)
        # the corners at the feet, inside, do not: they are flat when the card is closed
        placed = mine.placements(opening)
        assert between(placed["crate.right"].up, placed["crate.right_floor"].up * -1) == pytest.approx(180 - opening, abs=1e-6)
    assert {"under_ridge", "floor"} < set(mine.mechanism.creases())


def test_a_floor_is_told_to_be_tight():
    """The arc of a sheet at the distance of one caliper inside a fold of 90 degrees is pi / 2 calipers shorter."""
    notes = [note for note in solved(CRATE).notes if note.owner == "crate"]
    assert [note.figure for note in notes] == [pytest.approx(0.25 * radians(90))]
    assert not [note for note in solved(CRATE + "  floor open\n").notes if note.owner == "crate"]


# ---- where it stands

def test_folds_of_the_strip_all_go_the_same_way():
    """Ridge, feet, floor crease and inward tab are mountains: the strip goes round with its printed face outside."""
    card = solved(CRATE)
    folds = [hinge for hinge in card.hinges if hinge.left.startswith("crate.")]
    assert len(folds) == 4
    assert {hinge.stroke for hinge in folds} == {Stroke.MOUNTAIN}
    outward = {hinge.stroke for hinge in solved(CRATE + "  tabs outward\n").hinges if hinge.right == "crate.left_tab"}
    assert outward == {Stroke.VALLEY}


@pytest.mark.parametrize("foot", ["right_foot", "left_foot"])
@pytest.mark.parametrize("floor", ["closed", "open"])
def test_on_the_foot_of_a_tent_it_stands_in_a_card_that_opens_flat(foot, floor):
    card = solved(TENT, LIFTED.format(foot=foot), f"  floor {floor}\n", opens=180)
    prove(card)
    widest = max(float(card.openings(np.array([180.0]))["shed", foot][0]), 0)
    assert 90 < widest < 175
    # the tent's triangle: feet 20 from the crease, walls of 60, so that a foot opens to 180 - acos(20 / 60)
    assert widest == pytest.approx(180 - degrees(acos(20 / 60)), abs=1e-9)


def test_slotted_feet_in_an_insert():
    card = solved(PAGE, CRATE.replace("on spine", "on page"), "  floor open\n  joint slotted\n")
    prove(card)
    slits = [line for part in card.parts if part.name == "page" for line in part.lines if line.stroke is Stroke.CUT]
    assert len(slits) == 2


def test_something_in_a_box_is_proved():
    nested = CRATE.replace("spread 30", "spread 45").replace("left_spread 22", "left_spread 45")
    small = "box parcel on crate.{place}\n  paper sand\n  at 10\n  width 30\n  spread 12\n  left_spread 12\n"
    for place in ("floor", "under_ridge"):
        card = solved(nested, small.format(place=place))
        prove(card)
        assert {bond.host for bond in card.bonds if bond.panel.startswith("parcel.")} >= (
            {"crate.right_floor", "crate.left_floor"} if place == "floor" else {"crate.right", "crate.left"})


def test_under_the_ridge_of_a_tent_it_hangs_above_the_pages():
    card = solved(TENT, HUNG.format(spread=28), opens=180)
    prove(card)
    placed = card.pose(180.0)
    lowest = min(float(placed[panel.name].points(np.asarray(panel.outline.exterior.coords))[:, 2].min())
                 for panel in card.panels if panel.name.startswith("crate."))
    assert lowest > 0.5


# ---- what it refuses

@pytest.mark.parametrize(("blocks", "opens", "said"), [
    ((CRATE,), 180, "crate would lie flat: its crease opens to 180"),
    ((CRATE,), 180, "`opens 90`"),
    ((PAGE, CRATE.replace("on spine", "on page")), 180, "would lie flat"),
    ((CRATE.replace("spread 30", "spread 80"),), 90, "when the card is closed, the start of the ridge"),
    ((PAGE, CRATE.replace("on spine", "on page"), "  joint slotted\n"), 90, "needs `floor open`"),
    ((CRATE.replace("width 60", "width 18"),), 90, "a tab needs"),
    ((CRATE.replace("at 20", "at 1"),), 90, "from the tail; the clear strip there takes 3 mm"),
    ((TENT, LIFTED.format(foot="right_foot").replace("left_spread 18", "left_spread 61")), 180, "the far edge of the wall"),
    # under the tent's ridge there are 56.6 mm down to the pages: sqrt(60 * 60 - 20 * 20)
    ((TENT, HUNG.format(spread=29)), 180, "must not reach through the pages"),
])
def test_a_box_that_cannot_stand_is_refused(blocks, opens, said):
    assert said in refusal(*blocks, opens=opens)


def test_on_a_flat_crease_every_box_is_refused_and_in_an_l_none():
    for seed in range(20):
        flat, square = (draw_box(Seeded(seed), "crate", cover(opens=opens), "spine") for opens in ("180", "90"))
        assert "crate.stands" in broken(flat)
        assert "crate.stands" not in broken(square)


def test_the_rule_of_standing_reads_the_opening_of_its_crease():
    """On a crease that opens to less than 180 by too little a box is refused; by more it stands.

    The ridge of a tent opens so far that its sine of half the angle is spread / wall (isosceles triangle on both feet).
    """
    for wall, stands in ((Fraction(4001, 100), False), (Fraction(4020, 100), True), (Fraction(60), True)):
        tent = stand("tent", "shed", cover(), "spine", {"at": 20, "width": 120, "spread": 40, "wall": wall})
        opening = 2 * degrees(asin(40 / float(wall)))
        assert (opening <= 175) == stands
        mine = stand("box", "crate", tent, "ridge", {"at": 5, "width": 50, "spread": 12})
        assert ("crate.stands" not in broken(mine)) == stands
