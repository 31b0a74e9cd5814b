"""V-folds: elevation of the ridge as tabulated, and closing flat as Kawasaki's theorem says."""

from __future__ import annotations

from math import atan2, degrees

import numpy as np
import pytest
from by_hand import Seeded, Stand, at, broken, cover, stand, valid_sets
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from foldwright.grammar import Refused, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.evaluate import evaluate
from foldwright.solver.geometry import Fold

EQUATION = 1e-12  # coordinates of unit vectors: rounding only
SETS = 20

# Elevation of the ridge over the crease, symmetric V-fold: from dot products on the unit sphere,
# atan2(sin a cos(opening / 2), cos a) +- acos(cos b / sqrt(cos² a + sin² a cos²(opening / 2))); no published table was found.
OUTER = [(45, 60, (45.0, 77.3335, 90.0, 98.5819, 105.0)), (60, 75, (58.8260, 107.8581, 121.6585, 129.6235, 135.0)),
         (45, 90, (90.0, 116.5651, 125.2644, 130.8934, 135.0)), (30, 45, (35.2644, 54.4309, 63.1010, 69.6538, 75.0))]
INNER = [(45, 60, (-45.0, -24.2034, -19.4712, -16.7951, -15.0)), (30, 45, (-35.2644, -22.2267, -18.6857, -16.5237, -15.0))]
TABLE = (180.0, 120.0, 90.0, 60.0, 0.0)
DECIMALS = 5e-5 + 1e-9  # four printed decimals


@pytest.mark.parametrize(("angle", "wing", "elevations"), OUTER)
@pytest.mark.parametrize(("points", "run"), [("front", 1.0), ("back", -1.0)])
def test_ridge_rises_as_tabulated(angle, wing, elevations, points, run):
    own = {"at": 200, "angle": angle, "wing": wing, "foot": 60, "ridge": 50}
    mine = stand("vfold", "gull", cover(), "spine", own, points=points)
    for opening, printed in zip(TABLE, elevations, strict=True):
        ridge = mine.pose(opening).placements["gull.left"].up
        assert abs(degrees(atan2(ridge[2], run * ridge[0])) - printed) <= DECIMALS
        assert abs(ridge[1]) < EQUATION


@pytest.mark.parametrize(("angle", "wing", "elevations"), INNER)
@pytest.mark.parametrize(("points", "run"), [("front", 1.0), ("back", -1.0)])
def test_ridge_astride_rises_as_tabulated(angle, wing, elevations, points, run):
    """Astride, the ridge is the other branch: it stands beyond the host's ridge, away from its opening."""
    tent = stand("tent", "pier", cover(), "spine", {"at": 60, "width": 150, "spread": 30, "wall": 60})
    own = {"at": 60, "angle": angle, "wing": wing, "foot": 40, "ridge": 30}
    gull = stand("vfold", "gull", tent, "ridge", own, points=points).mechanism
    for opening, printed in zip(TABLE, elevations, strict=True):
        host = Fold(np.zeros(3), np.array([1.0, 0, 0]), np.array([0, 0, 1.0]), opening)
        sizes = {**{key: float(v) for key, v in own.items()}, "left_angle": float(angle), "left_wing": float(wing)}
        ridge = gull.pose(sizes, host).placements["gull.left"].up
        assert abs(degrees(atan2(ridge[2], run * ridge[0])) - printed) <= DECIMALS
        assert abs(ridge[1]) < EQUATION


# ---- closing flat

def alternating_sum(sectors: list[float]) -> float:
    """Kawasaki's sum of sectors with changing sign: 0 if the creases round a vertex can close flat.

    In this form it also holds on a cone (Kawasaki 1989; Hull, The combinatorics of flat folds, 2002).
    """
    return sum(sector if number % 2 == 0 else -sector for number, sector in enumerate(sectors))


@pytest.mark.parametrize(("sectors", "expected"), [
    ([90, 45, 22.5, 22.5, 45, 90, 22.5, 22.5], 0),  # the usual worked example of the theorem
    ([60, 60, 120, 120], 0), ([100, 80, 100, 80], 40), ([135, 63.435, 45, 116.565], 0)])
def test_alternating_sum_of_known_vertices(sectors, expected):
    assert alternating_sum(sectors) == pytest.approx(expected, abs=1e-9)


def _is_flat(mine: Stand) -> bool:
    """The closed pose puts both panels of the V, and their feet on the pages, into one plane."""
    placed = mine.pose(0.0).placements
    off = max(abs(at(placed[seam.left], end) - at(placed[seam.right], end)).max()
              for seam in mine.flat.seams for end in (seam.start, seam.end))
    return bool(off < 1e-9)


def test_rule_of_closing_is_kawasakis_sum():
    """For valid and broken dimensions alike; and the pose closes flat just where the sum is 0."""
    closing = 0
    for seed in range(3 * SETS):
        source = Seeded(seed)
        own = {"at": 200, "angle": source.number(20, 80), "wing": source.number(60, 100), "foot": 60, "ridge": 50,
               "left_angle": source.number(20, 80)}
        own["left_wing"] = own["wing"] + own["angle"] - own["left_angle"] + (source.number(-3, 3) if seed % 2 else 0)
        mine = stand("vfold", "gull", cover(), "spine", own)
        rule = next(rule for rule in mine.mechanism.rules() if rule.name == "gull.closes")
        left, right = (evaluate(side, mine.values) for side in (rule.left, rule.right))
        total = alternating_sum([180 - own["left_angle"], own["left_wing"], own["wing"], 180 - own["angle"]])
        assert left - right == total
        assert _is_flat(mine) == (total == 0)
        closing += total == 0
    assert SETS < closing < 2 * SETS + 10


# ---- leaning

def test_lean_is_how_far_the_tip_stands_behind_the_point():
    signs = set()
    for kind in ("vfold", "truncated vfold"):
        for seed, mine in valid_sets(kind, 3 * SETS):
            run = 1.0 if mine.mechanism.site.choices["points"] == "front" else -1.0
            ridge = mine.pose(180.0).folds["ridge"]
            tip = mine.sizes["ridge"] * ridge.x
            said = mine.value(mine.mechanism.measures()["lean"])
            assert said == pytest.approx(-run * tip[0], abs=1e-6), f"seed {seed}"  # a quotient of differences of cosines
            if mine.sizes["angle"] == mine.sizes["left_angle"]:
                assert np.sign(round(said, 9)) == np.sign(mine.sizes["wing"] - 90), "a wing over 90 leans back"
            signs.add(said > 0)
    assert signs == {True, False}


# ---- a truncated foot

def test_feet_of_a_truncated_vfold_aim_at_one_point_of_the_crease():
    """On the cut sheet: both foot creases and the ridge's, prolonged, meet in the V's point; and so do the marks on the pages."""
    for seed, mine in valid_sets("truncated vfold", SETS):
        flat = mine.flat
        for seam in flat.seams:
            (x0, y0), (x1, y1) = seam.start, seam.end
            size = np.hypot(x1 - x0, y1 - y0)
            assert abs(x0 * y1 - x1 * y0) / size < 1e-9, f"seed {seed}: {seam}"
            assert min(np.hypot(x0, y0), np.hypot(x1, y1)) >= min(mine.sizes["foot_from"], mine.sizes["ridge_from"])
        for cut in flat.cuts:
            (x0, d0), (x1, d1) = cut.points
            assert x0 - d0 * (x1 - x0) / (d1 - d0) == pytest.approx(mine.sizes["at"], abs=1e-9)


def test_a_vfold_without_a_truncated_foot_is_what_it_was():
    own = {"at": 200, "angle": 50, "wing": 80, "foot": 60, "ridge": 50}
    plain = stand("vfold", "gull", cover(), "spine", own)
    zero = stand("vfold", "gull", cover(), "spine", own | {"foot_from": 0, "ridge_from": 0})
    assert [p.outline for p in plain.flat.panels] == [p.outline for p in zero.flat.panels]
    assert not list(plain.mechanism.notes(plain.sizes))


def play_by_hand(mine: Stand, opening: float, shift: float) -> float:
    """How far the ridge's ends part, over the `shift` in mm by which the right foot is glued off along the crease, at the
    best fit of both panels (rotations about their feet, not to first order)."""
    pose = mine.pose(opening)
    left, right = (pose.folds[f"{side}_foot"] for side in ("left", "right"))
    ends = np.array([mine.sizes["ridge_from"], mine.sizes["ridge"]])[:, None] * pose.folds["ridge"].x

    def gaps(turns):
        one, other = (Rotation.from_rotvec(turn * foot.x).apply(ends) for turn, foot in zip(turns, (left, right), strict=True))
        return (one - other - shift * mine.fold(opening).x).ravel()

    found = least_squares(gaps, [0.0, 0.0], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    return float(np.linalg.norm(found.fun.reshape(2, 3), axis=1).max()) / shift


def test_the_note_of_a_truncated_foot_gives_what_a_millimetre_costs():
    own = {"at": 200, "angle": 45, "wing": 70, "foot": 60, "ridge": 60, "foot_from": 10, "ridge_from": 10}
    for change in ({}, {"angle": 60, "wing": 100, "ridge_from": 0}, {"left_angle": 30, "left_wing": 85}):
        mine = stand("vfold", "gull", cover(), "spine", own | change)
        note, = mine.mechanism.notes(mine.sizes)
        swing = np.arange(5.0, 181.0, 5.0)
        small, whole = (max(play_by_hand(mine, opening, shift) for opening in swing) for shift in (0.001, 1.0))
        assert note.figure == pytest.approx(small, rel=1e-3)
        assert note.figure == pytest.approx(whole, rel=0.2)  # to first order, of 1 mm on a ridge that begins at 10 mm
        assert "lies on no paper" in note.text


GULL = """card "Gull"
  units mm
cover 130 x 180
  paper ink
paper ink  colour #22304a weight 216 gsm
paper foam colour #e8eef0 caliper 0.25
mat 300 x 300
vfold gull on spine
  paper foam
  at 60
  angle 45
  wing 95
  foot 60
"""


@pytest.mark.parametrize(("settings", "says"), [
    ("  ridge 60\n  foot_from 5\n  ridge_from 30\n", "the notch under it is a sliver"),
    ("  ridge 60\n  ridge_from 5\n", "the notch under it is a sliver"),
    ("  ridge 30\n  foot_from 25\n", "it needs 10 mm to hold both panels together"),
    ("  ridge 60\n  foot_from 45\n", "tab of gull"),
    ("  ridge 60\n  left_angle 50\n  left_wing 95\n", "both halves of gull must end on the same line when closed"),
])
def test_a_script_that_breaks_a_rule_is_told_so(settings, says):
    with pytest.raises(Refused) as refused:
        solve_design(read_text(GULL + settings), seconds=5)
    assert any(says in problem.wrong() for problem in refused.value.problems), [p.wrong() for p in refused.value.problems]


# ---- inside of ridges, and where the point may lie

def test_the_point_of_a_vfold_may_lie_in_that_of_its_host_but_not_beyond():
    rock = stand("vfold", "rock", cover(), "spine", {"at": 200, "angle": 45, "wing": 90, "foot": 150, "ridge": 120})
    cut = stand("vfold", "rock", cover(), "spine",
                {"at": 200, "angle": 45, "wing": 90, "foot": 150, "ridge": 120, "foot_from": 20, "ridge_from": 15})
    pier = stand("tent", "pier", cover(), "spine", {"at": 60, "width": 80, "spread": 30, "wall": 60})
    own = {"angle": 30, "wing": 70, "foot": 30, "ridge": 20}
    for host, place, at_place, stands in [
            (rock, "inside", 0, True), (rock, "inside", -1, False), (rock, "right_foot", 0, True),
            (rock, "right_foot", -1, False),
            (cut, "inside", 20, True), (cut, "inside", 14, False), (cut, "right_foot", 20, True),
            (cut, "right_foot", 19, False), (pier, "under_ridge", 1, True), (pier, "under_ridge", 0, False)]:
        mine = stand("vfold", "gull", host, place, {**own, "at": at_place}, points="front")
        points = [name for name in broken(mine) if name.startswith("gull.point.")]
        assert (not points) == stands, f"{place} at {at_place}: {points}"


@pytest.mark.parametrize("kind", ["tent under tent ridge", "vfold under tent ridge", "vfold inside vfold", "tent inside vfold"])
def test_what_hangs_inside_a_ridge_stays_off_the_pages(kind):
    lowest = np.inf
    for seed, mine in valid_sets(kind, SETS):
        even = all(link.sizes.get("left_angle") == link.sizes.get("angle")
                   and link.sizes.get("left_spread") == link.sizes.get("spread") for link in mine.chain[1:])
        for opening in (30.0, 90.0, 150.0, 180.0):
            spine, pose = mine.chain[0].fold(opening), mine.pose(opening)
            for panel in mine.flat.panels:
                if panel.tab:
                    continue
                points = pose.placements[panel.name].points(np.asarray(panel.outline.exterior.coords))
                heights = [float((points @ normal).min()) for normal in (spine.left_normal, spine.right_normal)]
                if even:  # a lopsided one turns aside by a little
                    assert min(heights) > -1e-9, f"seed {seed} at {opening}°"
                lowest = min(lowest, *heights)
    assert lowest > -5.0, "mm; not far off for lopsided ones either"
