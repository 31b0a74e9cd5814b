"""Hexagons: the regular one, closing conditions in scripts, free motions on the bench."""

from __future__ import annotations

from fractions import Fraction
from math import sqrt
from pathlib import Path

import numpy as np
import pytest
from assembled import AGREE, SOLVED, STIFF
from by_hand import Stand, corners, cover, stand, valid_sets, with_change
from drawn import bench_of
from scripts import refusal

from foldwright import check
from foldwright.grammar import read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.proof import prove

EXAMPLES = Path(__file__).parent.parent / "examples"
SETS = 20
SCRIPT = """card "Dome"
  units mm
cover 150 x 240
  paper ink
paper ink  colour #22304a weight 216 gsm
paper wood colour #b58b5e caliper 0.25
mat 400 x 400
hexagon room on spine
  paper wood
"""


@pytest.mark.parametrize(("settings", "sentence"), [
    ("  wall 40\n  spread 39\n", "the slanted walls of room must reach across: its flat walls lie 39 mm from the crease"),
    ("  wall 60\n  spread 20\n", "should open into a room, not a slit"),
    ("  wall 90\n  flat 60 to 90\n", "the upper edge at the"),
    ("lattice weeds in room\n  paper wood\n", "a lattice needs a ring of four walls"),
])
def test_a_room_that_cannot_close_is_refused_in_plain_words(settings, sentence):
    assert sentence in refusal(SCRIPT + settings)


@pytest.mark.parametrize("strip", ["halves", "one"])
def test_rooms_are_proved_in_one_strip_or_two(strip):
    card = solve_design(read_text(SCRIPT + f"  strip {strip}\n", "dome.card"))
    assert prove(card).looked_at["glue"] > 0
    assert sum(part.name.startswith("room") for part in card.parts) == {"halves": 2, "one": 1}[strip]


def test_a_regular_hexagon_has_the_angles_of_one():
    """Sides of 40: 120 degrees at every corner, and a height of sqrt(3) sides across (Euclid IV.15)."""
    spread = Fraction(40 * sqrt(3) / 2).limit_denominator(10**9)
    mine = stand("hexagon", "room", cover(), "spine", {"at": 200, "wall": 40, "flat": 40, "height": 30, "spread": spread})
    pose = mine.pose(180.0)
    for name in ("front", "back"):
        assert float(pose.folds[name].opening[0]) == pytest.approx(120, abs=1e-6)
    middle = np.array([200.0, 0.0, 0.0])
    feet = [pose.placements[f"room.{face}"].points(np.array([frame.origin]))[0] for face, frame in mine.flat.faces.items()]
    away = [float(np.linalg.norm(foot - middle)) for foot in feet]
    assert away == pytest.approx([40] * 6, abs=1e-6)  # the radius is the side


def test_measures_are_those_of_the_open_and_closed_card():
    for seed, mine in valid_sets("hexagon", SETS):
        said = {name: mine.value(expression) for name, expression in mine.mechanism.measures().items()}
        shapes = corners(mine, [mine.mechanism.own(face) for face in mine.flat.faces])
        assert len(shapes) == 6
        points = {opening: np.vstack([mine.pose(opening).placements[name].points(shape) for name, shape in shapes.items()])
                  for opening in (0.0, 180.0)}
        assert np.ptp(points[180.0], axis=0)[:2] == pytest.approx([said["along"], said["across"]], abs=1e-7), f"seed {seed}"
        assert points[0.0].max(axis=0)[2] == pytest.approx(said["reach"], abs=AGREE), f"seed {seed}"
        assert np.ptp(points[0.0], axis=0)[0] == pytest.approx(mine.sizes["flat"] + 2 * mine.sizes["wall"], abs=AGREE)


def loose(mine: Stand) -> float:
    """Stiffness at 120 degrees of a room that is glued at one end of each flat foot only, not along it."""
    bench = bench_of(mine)
    pinned = [name for name in bench.assembly.known if name.startswith(mine.name)]
    assert len(pinned) == 4
    for name in pinned[1::2]:
        bench.assembly.known.pop(name)
        bench.assembly.free(name, next(solved.points[name] for solved in bench_of(mine).follow(1, (120.0,))))
    solved = next(iter(bench.assembly.track((120.0,))))
    assert solved.residual < SOLVED
    return solved.stiffness


def test_a_room_needs_its_flat_feet():
    """With six hinged walls held at single points the room can still move: the whole foot keeps it upright and in shape."""
    _, mine = next(valid_sets("hexagon", 1))
    assert bench_of(mine).follow(1, (120.0,))[0].stiffness > STIFF
    assert loose(mine) < 1e-9


@pytest.mark.parametrize("dimension", ["wall", "flat", "spread"])
def test_a_hundredth_more_in_a_pose_is_noticed(dimension):
    _, mine = next(valid_sets("hexagon", 1))
    bench = bench_of(mine)
    bench.mine = with_change(mine, f"room.{dimension}", Fraction(1, 100))
    assert max(bench.deviation(solved) for solved in bench.follow(1)) > 1e4 * AGREE


def test_the_observatory_opens_with_its_telescope_over_the_walls():
    card = check(EXAMPLES / "observatory.card").card
    placed = card.pose(180.0)
    tops = {panel.name: placed[panel.name].points(np.asarray(panel.outline.exterior.coords))[:, 2].max() for panel in card.panels}
    assert tops["room.front_right"] == pytest.approx(float(card.dimensions["room.height"][0]), abs=1e-9)
    assert tops["room.front_right"] + 20 < tops["telescope.front"] < tops["shell_right.front"]
