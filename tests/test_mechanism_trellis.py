"""Trellises: one hinge on each page, no layer beyond the hinges, and what slots must give."""

from __future__ import annotations

from fractions import Fraction
from math import cos, radians, sin, tan
from pathlib import Path

import numpy as np
import pytest
from assembled import AGREE, SOLVED
from by_hand import broken, corners, cover, stand, valid_sets, with_change
from drawn import bench_of
from scripts import refusal
from shapely import affinity
from shapely.geometry import box

from foldwright import check
from foldwright.grammar import read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.proof import prove

EXAMPLES = Path(__file__).parent.parent / "examples"
SETS = 40
OPENINGS = (180.0, 150.0, 113.0, 70.0, 31.0, 5.0)
SCRIPT = """card "Reeds"
  units mm
cover 150 x 240
  paper ink
paper ink  colour #22304a weight 216 gsm
paper reed colour #8a8f4f caliper 0.25
mat 400 x 400
trellis fence on spine
  paper reed
"""
FENCE = {"at": 200, "run": 60, "right_run": 45, "rise": 40, "flap": 24, "stub": 5, "spread": 40}


@pytest.mark.parametrize(("settings", "sentence"), [
    ("  run 60\n  right_run 50\n  offset 6\n",
     "the runs of fence differ by 10 mm: so far apart along the crease its hinges must lie"),
    ("  run 40\n  spread 38\n", "the front layers of fence must reach across"),
    ("  run 60\n  layers 6 by 2\n  stub 14 to 20\n", "no layer of fence may reach farther across than its hinges"),
    ("  run 40\n  stub 1\n", "in front of their first slot"),
    ("  run 26\n  layers 8 by 8\n  stub 3.25\n", "the slots of fence lie"),
    ("  layers 3 by 1\n", "3 by 1"),  # a layer on one crossing alone could turn about it
])
def test_a_trellis_that_cannot_stand_or_close_is_refused_in_plain_words(settings, sentence):
    assert sentence in refusal(SCRIPT + settings)


def test_a_matching_offset_holds_and_is_proved():
    card = solve_design(read_text(SCRIPT + "  run 60\n  right_run 50\n  offset 10\n  layers 3 by 4\n", "reeds.card"))
    assert prove(card).looked_at["slots"] > 0
    assert len(card.crossings) == 12


def test_no_layer_reaches_farther_across_than_the_hinges():
    """Else it would pass through a page: at height z the page lies z tan(opening / 2) across."""
    for seed, mine in valid_sets("trellis", SETS):
        shapes = corners(mine)
        for opening in OPENINGS:
            half = mine.sizes["spread"] * sin(radians(opening / 2))
            for name, place in mine.pose(opening).placements.items():
                if name.endswith("foot"):
                    continue
                across = abs(place.points(shapes[name])[:, 1]).max()
                assert across < half + AGREE, f"seed {seed} at {opening}°: {name}"


def test_the_reed_bed_opens_with_its_heron_among_the_reeds():
    card = check(EXAMPLES / "reed-bed.card").card
    placed = card.pose(180.0)
    points = {panel.name: placed[panel.name].points(np.asarray(panel.outline.exterior.coords)) for panel in card.panels}
    band = float(card.dimensions["reeds.rise"][0]) - 65 * 42 / 65  # the artwork is 65 by 42 mm, on layers of 65 mm
    assert points["heron.front"][:, 2].min() == pytest.approx(band - card.practice["cutout.overlap"], abs=0.01)
    assert points["heron.front"][:, 2].max() > band + 30
    assert points["reeds.b3"][:, 2].max() == pytest.approx(float(card.dimensions["reeds.rise"][0]), abs=0.01)


# ---- on the bench

def test_a_wrong_offset_jams_before_it_is_closed():
    """Runs of 60 and 45 with hinges straight across, at 40: these may come no nearer than 15, at sin(opening / 2) = 15/80."""
    mine = stand("trellis", "fence", cover(), "spine", FENCE | {"offset": 0}, (2, 2))
    assert "fence.closes" in broken(mine)
    jams = 2 * np.degrees(np.arcsin(15 / 80))
    before, after = bench_of(mine).follow(1, (180.0, 150.0, 120.0, 90.0, 60.0, 40.0, 30.0, 25.0, 1.01 * jams, 0.97 * jams))[-2:]
    assert before.residual < SOLVED
    assert after.residual > 1e-2  # mm: that much paper would have to give
    left = stand("trellis", "fence", cover(), "spine", FENCE, (2, 2))
    bench = bench_of(left)
    assert max(bench.deviation(solved) for solved in bench.follow(1, (180.0, 90.0, 30.0, 10.0, 2.0))) < AGREE


def test_a_second_hinge_on_one_page_tears():
    """The far end of a2 held at its place on the open page by an upright strip of paper: its place does not stay."""
    mine = stand("trellis", "fence", cover(), "spine", FENCE, (2, 2))
    free = bench_of(mine)
    open_card, half_way = free.follow(1, (180.0, 110.0))
    second, first = "fence.a2(60.000000,0.000000)", "fence.a1(60.000000,0.000000)"
    apart = [solved.points[second][0] - solved.points[first][0] for solved in (open_card, half_way)]
    assert abs(apart[1] - apart[0]) > 1  # mm along the crease


@pytest.mark.parametrize("dimension", ["run", "right_run", "spread"])
def test_a_hundredth_more_in_a_pose_is_noticed(dimension):
    mine = stand("trellis", "fence", cover(), "spine", FENCE, (3, 2))
    bench = bench_of(mine)
    bench.mine = with_change(mine, f"fence.{dimension}", Fraction(1, 100))
    assert max(bench.deviation(solved) for solved in bench.follow(1)) > 1e4 * AGREE


# ---- slots, against polygons

def overlap(caliper: float, slot: float, angle: float) -> float:
    """Area seen from above, in mm², of a sheet through a slot in another: strips of that caliper, crossing at `angle`."""
    slotted = box(-20, -caliper / 2, -slot / 2, caliper / 2).union(box(slot / 2, -caliper / 2, 20, caliper / 2))
    through = affinity.rotate(box(-20, -caliper / 2, 20, caliper / 2), angle, origin=(0, 0))
    return float(slotted.intersection(through).area)


@pytest.mark.parametrize("kind", ["trellis", "lattice"])
def test_slots_jam_below_the_angle_that_the_notes_give(kind):
    seen = set()
    for _, mine in valid_sets(kind, SETS):
        notes = list(mine.mechanism.notes(mine.sizes))
        caliper, slot = 0.25, 0.25 + 0.15
        assert notes[0].dimension == "angle"
        least = notes[0].figure
        assert overlap(caliper, slot, least + 0.01) < 1e-12 < overlap(caliper, slot, least - 0.1)
        wide = [note.figure for note in notes if "again" in note.text]
        for most in wide:
            assert overlap(caliper, slot, most - 0.01) < 1e-12 < overlap(caliper, slot, most + 0.1)
        seen.add(bool(wide))
        push = next(note.figure for note in notes if "one caliper" in note.text)
        assert push == caliper
    assert seen == {True, False}


@pytest.mark.parametrize("angle", [60.0, 30.0, 10.0, 1.0, 0.01])
def test_what_gives_way_beside_a_slot_stays_below_one_caliper(angle):
    """Both halves of a slotted sheet, moved apart across it until the other sheet passes: never by more than a caliper."""
    caliper, slot, psi = 0.25, 0.4, radians(angle)
    shift = max(0.0, caliper / 2 * (1 + 1 / cos(psi)) - slot / 2 * tan(psi))
    halves = [affinity.translate(box(sign * slot / 2, -caliper / 2, sign * 20, caliper / 2), 0, -sign * shift)
              for sign in (-1, 1)]
    through = affinity.rotate(box(-20, -caliper / 2, 20, caliper / 2), angle, origin=(0, 0))
    assert sum(half.intersection(through).area for half in halves) < 1e-9
    assert shift <= caliper
    assert shift == pytest.approx(caliper, rel=1e-3) or angle > 0.01
