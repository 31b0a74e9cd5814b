"""Poses against an assembly that is solved from lengths alone (rigid.py, assembled.py).

It is followed from the open card down to 1 degree, where both pages nearly coincide and every linkage comes near its
change point.
"""

from __future__ import annotations

from fractions import Fraction
from math import asin, degrees, radians, sin

import pytest
from assembled import AGREE, FIRM, SOLVED, STIFF
from by_hand import Stand, broken, cover, stand, valid_sets, with_change
from drawn import bench_of, trees
from rigid import Assembly, on_page

SETS = 100


@pytest.mark.parametrize("kind", [name for name, tree in trees().items() if tree.rigid])
def test_poses_agree_with_rigid_panels(kind, record_property):
    worst, words, tree = 0.0, set(), trees()[kind]
    for seed, mine in valid_sets(kind, SETS):
        bench = bench_of(mine)
        for solved in bench.follow(seed, tuple(opening for opening in tree.openings if opening <= mine.opens)):
            where = f"seed {seed} at {solved.opening}°"
            assert solved.residual < SOLVED, f"the parts do not go together: {where}, {solved.residual:.2g} mm"
            if solved.opening in FIRM:
                assert solved.stiffness > STIFF, f"something moves while the pages are held: {where}"
            off = bench.deviation(solved)
            assert off < AGREE, f"{where}: pose and panels differ by {off:.2g} mm"
            worst = max(worst, off)
        words |= set(mine.mechanism.site.choices.values())
    record_property("largest deviation in mm", worst)
    assert tree.words <= words


# ---- each check can fail

@pytest.mark.parametrize(("kind", "dimension"), [
    ("tent", "wall"), ("vfold", "wing"), ("ring", "spread"), ("lattice", "pool.wall"), ("vfold on tent ridge", "wing"),
    ("vfold on tent foot", "rock.spread"), ("threefold", "roof"), ("arm", "hill.wing"), ("truncated vfold", "wing")])
def test_a_hundredth_more_in_a_pose_is_noticed(kind, dimension):
    """Parts of one set beside poses of another that differs by 0.01 mm or degree in one dimension."""
    seed, mine = next(valid_sets(kind, 1))
    bench = bench_of(mine)
    owner, _, name = dimension.rpartition(".")
    key = f"{owner or mine.name}.{name}"
    bench.mine = with_change(mine, key, Fraction(1, 100))
    assert max(bench.deviation(solved) for solved in bench.follow(seed)) > 1e5 * AGREE


def test_a_tent_with_a_wall_too_long_jams_where_the_triangle_inequality_says():
    """Walls of 40 and 41 on feet at 25: the feet may come no nearer than 1 mm, at sin(opening / 2) = 1 / 50."""
    own = {"at": 60, "width": 50, "spread": 25, "wall": 40, "left_spread": 25, "left_wall": 41}
    jams = 2 * degrees(asin(1 / 50))  # 2.29°
    _jams_at(stand("tent", "pier", cover(), "spine", own), jams, "closes")


def test_a_vfold_with_a_wing_too_wide_jams_where_the_triangle_inequality_says():
    """Wings of 90 and 91 on feet at 45: the feet enclose 1° or more, and sin(0.5°) = sin 45° sin(opening / 2)."""
    own = {"at": 200, "angle": 45, "wing": 90, "foot": 60, "ridge": 50, "left_angle": 45, "left_wing": 91}
    jams = 2 * degrees(asin(sin(radians(0.5)) / sin(radians(45))))  # 1.41°
    _jams_at(stand("vfold", "gull", cover(), "spine", own), jams, "closes")


def _jams_at(mine: Stand, jams: float, rule: str) -> None:
    assert f"{mine.name}.{rule}" in broken(mine)
    bench = bench_of(mine)
    before, after = bench.follow(1, (180.0, 140.0, 100.0, 60.0, 30.0, 15.0, 8.0, 5.0, 1.05 * jams, 0.8 * jams))[-2:]
    assert before.residual < SOLVED
    assert after.residual > 1e-3  # mm: that much paper would have to give
    # and the pose, which takes the rule for granted, is off by more than a cutting machine's error
    assert bench.deviation(bench.follow(1, (180.0, 90.0))[-1]) > 0.1


def test_a_ring_glued_at_points_is_loose():
    """Without hinge flaps, held at the lower ends of its page joints alone, the ring can lean: the check of stiffness sees it."""
    seed, mine = next(valid_sets("ring", 1))
    bench = bench_of(mine)
    kept = {name: points for name, points in bench.points.items() if not name.endswith("_flap")}
    loose, flap, size = Assembly(), mine.sizes["flap"], mine.sizes
    for points in kept.values():
        for name in points:
            if name in bench.assembly.guesses:
                loose.free(name, bench.assembly.guesses[name])
    for side in ("right", "left"):
        loose.pin(f"pool.{side}_half({flap:.6f},{0:.6f})", on_page(side, size["at"], size["spread"]))
    for points in kept.values():
        if points:
            loose.panel(points)
    loose.sums += [terms for terms in bench.assembly.sums if {name for name, _ in terms} <= {*loose.guesses, *loose.known}]
    firm = bench.follow(seed, (120.0,))[0]
    lean = next(iter(loose.track((120.0,))))
    assert lean.residual < SOLVED
    assert lean.stiffness < 1e-9 < STIFF < firm.stiffness
