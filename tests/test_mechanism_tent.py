"""Tents: Freudenstein's equation of the planar four-bar, and ridges where circles meet."""

from __future__ import annotations

from math import acos, degrees

import numpy as np
import pytest
from by_hand import Seeded, Stand, between, broken, cover, draw, stand, valid_sets
from linkages import freudenstein, grashof, outputs

OPENINGS = (180.0, 171.0, 140.0, 113.0, 90.0, 60.0, 31.0, 10.0, 2.0)
ANGLE = 1e-7  # degrees; an angle from its cosine keeps half of the digits of a double near 0 and 180
EQUATION = 1e-12  # equations in sines and cosines: rounding only
DECIMALS = 5e-5 + 1e-9  # four printed decimals
SETS = 20

# Norton, Design of Machinery, chapter 4: the worked example is printed with two decimals, from coefficients rounded to
# five figures on the way (hence 0.01); table P4-1 row a, and links of a class problem, are recomputed by closing the loop.
@pytest.mark.parametrize(("links", "input_angle", "open_one", "crossed", "printed"), [
    ((40, 120, 80, 100), 40, 57.33, -98.01, 0.01), ((40, 120, 80, 100), 40, 57.3249, -98.0050, DECIMALS),
    ((2, 7, 9, 6), 30, 117.2861, -143.6596, DECIMALS), ((40, 90, 70, 100), 45, 83.2000, -126.2480, DECIMALS)])
def test_freudenstein_gives_the_handbook_angles(links, input_angle, open_one, crossed, printed):
    for found, expected in zip(outputs(*links, input_angle), (open_one, crossed), strict=True):
        assert abs((found - expected + 180) % 360 - 180) <= printed
        assert abs(freudenstein(*links, input_angle, found)) < EQUATION


def wall_angle(mine: Stand, opening: float, side: str) -> float:
    """Angle of a wall over the page beyond its foot, measured on the panel."""
    fold, placed = mine.fold(opening), mine.pose(opening).placements
    up = placed[f"{mine.name}.right"].up if side == "right" else -placed[f"{mine.name}.left"].up
    return between(up, fold.right if side == "right" else fold.left)


def test_tents_keep_freudensteins_equation():
    """Ground: crease to a foot; input: crease to the other foot, at the opening; output: the wall on the first foot."""
    lopsided = 0
    for seed, mine in valid_sets("tent", SETS):
        a, c, b, d = (mine.sizes[key] for key in ("spread", "wall", "left_spread", "left_wall"))
        lopsided += a != b
        for opening in OPENINGS:
            for side, links in (("right", (b, d, c, a)), ("left", (a, c, d, b))):
                seen = wall_angle(mine, opening, side)
                assert abs(freudenstein(*links, opening, seen)) < 1e-10, f"seed {seed}"  # K1 up to 5, cosines of lengths
                # both roots meet as the card closes (change point): an angle from the root of a small difference
                tolerance = 1e-6 if opening > 5 else 1e-4
                nearest = min(abs((seen - root + 180) % 360 - 180) for root in outputs(*links, opening))
                assert nearest < tolerance, f"seed {seed} at {opening}°"
                assert mine.pose(opening).folds[f"{side}_foot"].opening == pytest.approx(seen, abs=ANGLE)
    assert 0 < lopsided < SETS


def test_freudensteins_equation_notices_a_wall_that_is_a_millimetre_off():
    for _, mine in valid_sets("tent", SETS):
        a, c, b, d = (mine.sizes[key] for key in ("spread", "wall", "left_spread", "left_wall"))
        assert abs(freudenstein(b, d + 1, c, a, 113.0, wall_angle(mine, 113.0, "right"))) > 1e-4


# Norton, Design of Machinery, problem 2-15 gives the first three linkages and asks for their class; the answers follow from
# the condition as the chapter states it (S + L against P + Q). The others are the links of the worked examples above.
@pytest.mark.parametrize(("links", "kind"), [
    ((2, 4.5, 7, 9), "crank"), ((2, 3.5, 7, 9), "rocker"), ((2, 4, 6, 8), "change point"),
    ((40, 120, 80, 100), "crank"), ((2, 7, 9, 6), "crank"), ((40, 90, 70, 100), "crank"),
    ((30, 50, 30, 50), "change point")])  # a parallelogram, the common case of a change point
def test_grashof_gives_the_handbook_classes(links, kind):
    assert grashof(links) == kind
    assert grashof(links[::-1]) == kind, "the order of the links makes no difference"


def test_tents_that_close_flat_are_at_grashofs_change_point():
    """Spread and wall on one side are those on the other: two pairs of links with one sum, so the four can lie in one line.

    A wall that is a millimetre off makes one of the two other classes, whichever link it is.
    """
    others = set()
    for _, mine in valid_sets("tent", SETS):
        links = [mine.sizes[key] for key in ("spread", "wall", "left_wall", "left_spread")]
        assert grashof(links) == "change point"
        for number in range(4):
            off = [link + (1 if place == number else 0) for place, link in enumerate(links)]
            others.add(grashof(off))
            assert grashof(off) != "change point"
    assert others == {"crank", "rocker"}


# Conditions of the parallel fold: J. O'Rourke, Pop-Up Geometry, Cambridge University Press, 2022. Page distances A and D,
# walls B (on A) and C (on D); the ridge with page 1 along +x, by intersecting circles.
RIDGES = [
    ((30, 40, 30, 40), {120: (10, 34.6410), 90: (30, 40), 60: (50, 34.6410)}, 70, 180.0),
    ((30, 30, 30, 30), {120: (15, 25.9808), 90: (30, 30), 60: (45, 25.9808)}, 60, 180.0),
    ((40, 20, 30, 30), {90: (24, 12), 60: (44.2988, 19.5325)}, 60, 90.0),
    ((50, 30, 45, 35), {120: (25.6414, 17.5117), 90: (44.6653, 29.5219), 60: (62.4003, 27.3173)}, 80, 122.88),
]


@pytest.mark.parametrize(("lengths", "ridges", "reach", "largest"), RIDGES)
def test_ridges_of_tents_lie_where_circles_meet(lengths, ridges, reach, largest):
    first, wall, other, far = lengths
    assert first + wall == other + far == reach
    own = {"at": 60, "width": 50, "spread": first, "wall": wall, "left_spread": far, "left_wall": other}
    mine = stand("tent", "pier", cover(), "spine", own)
    for opening, printed in ridges.items():
        fold, ridge = mine.fold(opening), mine.pose(opening).folds["ridge"].origin
        assert np.allclose((ridge @ fold.right, ridge @ fold.right_normal), printed, rtol=0, atol=DECIMALS)
        assert np.linalg.norm(ridge - first * fold.right - ridge[0] * fold.x) == pytest.approx(wall, abs=1e-9)
    assert mine.pose(0.0).folds["ridge"].origin[2] == pytest.approx(reach)
    assert mine.value(mine.mechanism.measures()["reach"]) == reach
    if first + far > wall + other:  # taut at the largest opening: the law of cosines in the triangle of both feet
        taut = degrees(acos((first**2 + far**2 - (wall + other) ** 2) / (2 * first * far)))
        assert abs(taut - largest) <= 0.005
        straight = mine.pose(taut).placements
        assert np.allclose(straight["pier.right"].up, straight["pier.left"].up, rtol=0, atol=1e-6)  # root of rounding
    # a card that opens flat refuses every one of them: a box is taut, the others are too short
    assert "pier.stands" in broken(mine)


def test_rule_of_standing_agrees_with_the_triangle_inequality():
    """A tent on a flat card spans both feet, or it is taut before: O'Rourke's A + D <= B + C, less two millimetres in hand."""
    verdicts = set()
    for seed in range(4 * SETS):
        source = Seeded(seed)
        a, b = source.number(10, 60), source.number(10, 60)
        wall = source.number(max(12, b - a + 12), 70)
        own = {"at": 60, "width": 50, "spread": a, "wall": wall, "left_spread": b, "left_wall": a + wall - b}
        mine = stand("tent", "pier", cover(), "spine", own)
        spans = (wall + own["left_wall"]) - (a + b)
        assert ("pier.stands" in broken(mine)) == (spans < 4)  # 2 mm on reach are 4 mm on both walls together
        verdicts.add(spans < 4)
    assert verdicts == {True, False}
    assert not broken(draw("tent", Seeded(0)))
