"""Folds against published trigonometry and linkage equations.

The formulas of the mechanisms are half-angle forms derived for this project. Here every angle is measured on the
posed panels and put into equations that others published, each of which is first checked on a published example.
"""

from __future__ import annotations

from math import acos, atan2, degrees, isclose, radians, sqrt, tan

import numpy as np
import pytest
from by_hand import Stand, between, cosine, sine, square_to, valid_sets

from foldwright.solver.card import Placement
from foldwright.solver.flat import Pose
from foldwright.solver.geometry import Fold

OPENINGS = (180.0, 171.0, 140.0, 113.0, 90.0, 60.0, 31.0, 10.0, 2.0)
ANGLE = 1e-7  # degrees; an angle from its cosine keeps half of the digits of a double near 0 and 180
EQUATION = 1e-12  # equations in sines and cosines of measured angles: rounding only
SETS = 20


# ---- spherical law of cosines

def corner_angle(opposite: float, one: float, other: float) -> float:
    """Angle of a spherical triangle opposite to a side, from its three sides: cos a = cos b cos c + sin b sin c cos A."""
    ratio = (cosine(opposite) - cosine(one) * cosine(other)) / (sine(one) * sine(other))
    return degrees(acos(min(1.0, max(-1.0, ratio))))


# Euclid XIII, any handbook of polyhedra: faces at a corner are the sides of a spherical triangle, dihedral angles its angles.
@pytest.mark.parametrize(("opposite", "one", "other", "printed", "exact"), [
    (60, 60, 60, 70.53, degrees(acos(1 / 3))),  # tetrahedron
    (90, 90, 90, 90.0, 90.0),  # cube
    (108, 108, 108, 116.57, 180 - degrees(atan2(2, 1))),  # dodecahedron
    (90, 60, 60, 109.47, degrees(acos(-1 / 3))),  # octahedron
    (108, 60, 60, 138.19, degrees(acos(-sqrt(5) / 3))),  # icosahedron
])
def test_law_of_cosines_gives_the_dihedral_angles_of_the_regular_solids(opposite, one, other, printed, exact):
    found = corner_angle(opposite, one, other)
    assert found == pytest.approx(exact, abs=ANGLE)
    assert abs(found - printed) <= 0.005 + ANGLE  # two printed decimals


def test_law_of_cosines_gives_a_great_circle():
    """33°01'S 72°10'W to 37°50'N 123°14'W: printed 5117.9 nautical miles (navigation list archive, 2002)."""
    south, north = 90 + 33 + 1 / 60, 90 - 37 - 50 / 60  # from the north pole
    turn = 123 + 14 / 60 - 72 - 10 / 60
    arc = degrees(acos(cosine(south) * cosine(north) + sine(south) * sine(north) * cosine(turn)))
    assert abs(60 * arc - 5117.9) <= 0.05
    assert corner_angle(arc, south, north) == pytest.approx(turn, abs=ANGLE)


class Measured:
    """Angles of a posed V-fold, measured on its panels; `run` is the direction of the crease that its feet slant to."""

    def __init__(self, fold: Fold, pose: Pose, name: str, run: float) -> None:
        placed = pose.placements
        self.ridge = placed[f"{name}.left"].up
        self.fold, self.spine = fold, run * fold.x
        self.foot, self.wing, self.sector, self.outer, self.inner = {}, {}, {}, {}, {}
        for side, page in (("left", fold.left), ("right", fold.right)):
            tab: Placement = placed[f"{name}.{side}_tab"]
            panel = placed[f"{name}.{side}"]
            normal = np.cross(panel.along, panel.up)
            # the foot is where the planes of panel and tab meet; it points away from the crease
            foot = np.cross(normal, np.cross(tab.along, tab.up))
            if np.linalg.norm(foot) < 1e-6:
                raise ValueError("panel and page coincide")
            foot = foot / np.linalg.norm(foot)
            foot = foot if foot @ page > 0 else -foot
            self.foot[side] = foot
            self.wing[side] = between(foot, self.ridge)
            self.sector[side] = between(self.spine, foot)
            up, on = square_to(foot, self.ridge), square_to(foot, self.spine)
            self.inner[side] = between(up, on)  # panel to the page on the side of the spine
            self.outer[side] = between(up, -on)  # panel to the page beyond the foot
        self.opening = between(square_to(self.spine, self.foot["left"]), square_to(self.spine, self.foot["right"]))
        self.crest = between(square_to(self.ridge, self.foot["left"]), square_to(self.ridge, self.foot["right"]))
        self.elevation = between(self.spine, self.ridge)


def measured(mine: Stand, opening: float) -> Measured:
    run = 1.0 if mine.mechanism.site.choices["points"] == "front" else -1.0
    return Measured(mine.fold(opening), mine.pose(opening), mine.name, run)


# V-folds whose panels stand inside of their host (astride a ridge the sectors are those of the mirror image)
VFOLDS = ("vfold", "truncated vfold", "vfold on tent foot", "vfold under tent ridge", "vfold inside vfold", "vfold on vfold foot")
every_vfold = pytest.mark.parametrize("kind", VFOLDS)


@every_vfold
def test_vfolds_keep_the_spherical_law_of_cosines(kind):
    """Triangles crease - foot - ridge on the unit sphere round the V's point, one on each panel of the host."""
    lopsided = 0
    for seed, mine in valid_sets(kind, SETS):
        lopsided += mine.sizes["angle"] != mine.sizes["left_angle"]
        for opening in OPENINGS:
            seen = measured(mine, opening)
            where = f"seed {seed} at {opening}°"
            own = float(mine.fold(opening).opening[0])
            assert own == opening or mine.place != "spine", where
            assert seen.opening == pytest.approx(own, abs=ANGLE), where
            parts = []
            for side, foot, wing in (("right", "angle", "wing"), ("left", "left_angle", "left_wing")):
                a, b = mine.sizes[foot], mine.sizes[wing]
                assert seen.sector[side] == pytest.approx(a, abs=ANGLE), where
                assert seen.wing[side] == pytest.approx(b, abs=ANGLE), where
                law = cosine(a) * cosine(b) + sine(a) * sine(b) * cosine(seen.inner[side])
                assert isclose(cosine(seen.elevation), law, abs_tol=EQUATION), where
                parts.append(corner_angle(b, a, seen.elevation))
            # the ridge stands between the pages: its two angles at the crease make up the opening
            # an angle from a rounded cosine loses digits near 0: sqrt(1e-15) rad = 2e-6°, over the sines of the sides
            assert sum(parts) == pytest.approx(own, abs=2e-5), where
    assert 0 < lopsided < SETS


# ---- the vertex of degree four

def vertex_equation(before: float, here: float, after: float, far: float, first: float, second: float) -> float:
    """Relation of two neighbouring dihedral angles at a vertex of four creases; 0 if they belong together.

    Sectors in order round the vertex are `before`, `here`, `after`, `far`, in degrees, of any sum; `first` and `second`
    are the dihedral angles at both ends of `here`, on one side of the paper, 0 to 360 (180 is flat). With the tangents
    t, u of their halves the relation is a biquadratic (Bricard 1897; sector sums other than 360: Foschi, Hull, Ku,
    arXiv 2206.12691, 2022). Derived here: the directions at the far ends of `before` and `after` enclose `far`,

        cos far = cos b cos a cos h + cos b sin a sin h cos u' + sin b cos a sin h cos t'
                  - sin b sin a cos h cos t' cos u' + sin b sin a sin t' sin u'

    and with cos t' = (1 - t²) / (1 + t²), sin t' = 2t / (1 + t²) the coefficients below follow. It is divided by
    (1 + t²)(1 + u²), so that straight and closed creases need no tangent of 90°.
    """
    def half(sum_of_sectors: float) -> float:
        # cos x - cos far, as a product
        return -2 * sine((sum_of_sectors + far) / 2) * sine((sum_of_sectors - far) / 2)

    st, ct, su, cu = sine(first / 2), cosine(first / 2), sine(second / 2), cosine(second / 2)
    return (half(here + after + before) * st**2 * su**2 + half(here - after + before) * st**2 * cu**2
            + half(here + after - before) * ct**2 * su**2 + half(here - after - before) * ct**2 * cu**2
            + 4 * sine(before) * sine(after) * st * ct * su * cu)


# Flat-foldable vertices a, b, 180 - a, 180 - b: tan(small / 2) = p tan(large / 2), p = cos((a + b) / 2) / cos((a - b) / 2)
# (Lang, Howell, J. Mechanisms Robotics 10, 021004, 2018; the same as (1 - t t') / (1 + t t') with the tangents of the
# half sectors in arXiv 1812.01160). The angles were found by closing a chain of rotations numerically.
@pytest.mark.parametrize(("a", "b", "large", "small", "p"), [
    (60, 60, 30, 15.261480, 0.5), (60, 60, 90, 53.130102, 0.5), (60, 60, 120, 81.786789, 0.5),
    (45, 45, 90, 70.528779, 0.707107), (60, 45, 90, 63.101049, 0.614014),
    (75, 60, 90, 42.211740, 0.385986), (75, 60, 120, 67.529150, 0.385986)])
def test_vertex_equation_holds_for_flat_foldable_paper(a, b, large, small, p):
    assert tan(radians(small / 2)) / tan(radians(large / 2)) == pytest.approx(p, abs=1e-6)  # six printed decimals
    assert (1 - tan(radians(a / 2)) * tan(radians(b / 2))) / (1 + tan(radians(a / 2)) * tan(radians(b / 2))) == \
        pytest.approx(p, abs=1e-6)
    sectors = [a, b, 180 - a, 180 - b]
    folds = [-small, large, small, large]  # at the end of each sector; the odd one out folds the other way
    for i in range(4):
        before, here, after, far = (sectors[(i + k) % 4] for k in (-1, 0, 1, 2))
        ends = 180 - folds[i - 1], 180 - folds[i]
        assert abs(vertex_equation(before, here, after, far, *ends)) < 1e-7, i  # folds have six decimals
        assert abs(vertex_equation(before, here, after, far, ends[0] + 1, ends[1])) > 1e-4, "a degree more is noticed"


# Corners of solids with four faces: sectors far from 360. Dihedral angles from memory of handbooks of polyhedra
# (Cundy, Rollett, Mathematical Models, 1961, lists them), to four decimals.
@pytest.mark.parametrize(("sectors", "dihedral"), [
    ((60, 60, 60, 60), (109.4712,) * 4),  # octahedron
    ((60, 90, 60, 90), (125.2644,) * 4),  # cuboctahedron
    ((60, 108, 60, 108), (142.6226,) * 4),  # icosidodecahedron
    ((60, 90, 90, 90), (144.7356, 135.0, 135.0, 144.7356)),  # rhombicuboctahedron: at the end of each sector
    ((60, 90, 108, 90), (159.0948, 148.2825, 148.2825, 159.0948)),  # rhombicosidodecahedron
])
def test_vertex_equation_holds_at_corners_of_solids(sectors, dihedral):
    assert sum(sectors) < 360
    for i in range(4):
        before, here, after, far = (sectors[(i + k) % 4] for k in (-1, 0, 1, 2))
        assert abs(vertex_equation(before, here, after, far, dihedral[i - 1], dihedral[i])) < 5e-6, i  # four decimals
        assert abs(vertex_equation(before, here, after, far, dihedral[i - 1] + 0.1, dihedral[i])) > 1e-4


def loops(mine: Stand, seen: Measured) -> list[tuple[list[float], list[float]]]:
    """The two vertices at the V's point, as sectors and dihedral angles at the end of each sector.

    Below the V: page, panel, panel, page, from the crease round to it. Behind it: the pages' other sectors, the panels
    from outside.
    """
    s = mine.sizes
    below = [s["left_angle"], s["left_wing"], s["wing"], s["angle"]]
    behind = [180 - s["left_angle"], s["left_wing"], s["wing"], 180 - s["angle"]]
    return [(below, [seen.inner["left"], seen.crest, seen.inner["right"], seen.opening]),
            (behind, [seen.outer["left"], 360 - seen.crest, seen.outer["right"], seen.opening])]


@every_vfold
def test_vfolds_keep_the_vertex_equation(kind):
    curved = 0
    for seed, mine in valid_sets(kind, SETS):
        for opening in OPENINGS:
            for sectors, folds in loops(mine, measured(mine, opening)):
                curved += sum(sectors) != 360
                for i in range(4):
                    before, here, after, far = (sectors[(i + k) % 4] for k in (-1, 0, 1, 2))
                    off = vertex_equation(before, here, after, far, folds[i - 1], folds[i])
                    assert abs(off) < EQUATION, f"seed {seed} at {opening}°, sector {i}"
    assert curved == 2 * SETS * len(OPENINGS), "below and behind a V that stands, the sectors never make up 360"


def test_vertex_equation_notices_a_wing_that_is_a_degree_off():
    noticed = 0
    for _, mine in valid_sets("vfold", SETS):
        sectors, folds = loops(mine, measured(mine, 113.0))[0]
        worst = 0.0
        for i in range(4):
            before, here, after, far = (sectors[(i + k) % 4] + (1 if (i + k) % 4 == 1 else 0) for k in (-1, 0, 1, 2))
            worst = max(worst, abs(vertex_equation(before, here, after, far, folds[i - 1], folds[i])))
        noticed += worst > 1e4 * EQUATION
    assert noticed == SETS


def test_creases_of_vfolds_open_as_measured():
    for kind in ("vfold", "vfold on tent foot"):
        for seed, mine in valid_sets(kind, SETS):
            run = 1.0 if mine.mechanism.site.choices["points"] == "front" else -1.0
            for opening in OPENINGS:
                pose = mine.pose(opening)
                seen = Measured(mine.fold(opening), pose, mine.name, run)
                said = [float(pose.folds[name].opening[0]) for name in ("ridge", "left_foot", "right_foot")]
                assert np.allclose(said, [seen.crest, seen.outer["left"], seen.outer["right"]], rtol=0, atol=ANGLE), \
                    f"seed {seed} at {opening}°"
