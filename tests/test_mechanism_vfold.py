"""V-folds: elevation of the ridge as tabulated, and closing flat as Kawasaki's theorem says."""

from __future__ import annotations

from math import atan2, degrees

import numpy as np
import pytest
from by_hand import Seeded, Stand, at, cover, stand

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
        ridge = mine.pose(opening).placements["gull.right"].up
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
        sizes = {**{key: float(v) for key, v in own.items()}, "right_angle": float(angle), "right_wing": float(wing)}
        ridge = gull.pose(sizes, host).placements["gull.right"].up
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
               "right_angle": source.number(20, 80)}
        own["right_wing"] = own["wing"] + own["angle"] - own["right_angle"] + (source.number(-3, 3) if seed % 2 else 0)
        mine = stand("vfold", "gull", cover(), "spine", own)
        rule = next(rule for rule in mine.mechanism.rules() if rule.name == "gull.closes")
        left, right = (evaluate(side, mine.values) for side in (rule.left, rule.right))
        total = alternating_sum([180 - own["right_angle"], own["right_wing"], own["wing"], 180 - own["angle"]])
        assert left - right == total
        assert _is_flat(mine) == (total == 0)
        closing += total == 0
    assert SETS < closing < 2 * SETS + 10
