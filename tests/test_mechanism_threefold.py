"""Three panels with a tie: two four-bars in a chain, each held against Freudenstein, Grashof and the cosine law."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from by_hand import Seeded, Stand, at, between, broken, cover, draw, stand, valid_sets, with_change
from drawn import bench_of
from linkages import freudenstein, grashof, outputs
from rigid import Assembly

from foldwright.grammar import Refused, read_text
from foldwright.solver.answer import solve_design

SETS = 40
OPENINGS = (180.0, 150.0, 113.0, 90.0, 60.0, 31.0, 10.0, 2.0)
EQUATION = 1e-9  # sizes over sizes up to 20, times cosines that are rounded in the sixteenth place
ROOT = 1e-7  # mm; the height is a root of a product of lengths
HUT = """card "Hut"
  units mm
cover 130 x 150
  paper ink
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 300 x 300
threefold hut on spine
  paper sand
"""


def loops(mine: Stand) -> tuple[list[float], list[float]]:
    """Sides of both four-bars in order: crease, right foot, ridge, tie's foot; tie's foot, ridge, upper ridge, left foot."""
    s = mine.sizes
    return ([s["spread"], s["wall"], s["tie"], s["tie_spread"]],
            [s["tie"], s["roof"], s["left_wall"], s["left_spread"] - s["tie_spread"]])


def turns(mine: Stand, opening: float) -> dict[str, float]:
    """Angles measured on the posed panels, in degrees: each wall and the tie over the page beyond its foot, and the roof
    over the tie."""
    placed, fold = mine.pose(opening).placements, mine.fold(opening)
    up = {name: placed[mine.mechanism.own(name)].up for name in ("right", "tie", "roof", "left")}
    return {"wall": between(up["right"], fold.right), "tie": between(up["tie"], fold.left),
            "roof": between(up["roof"], up["tie"]), "left": between(-up["left"], fold.left)}


def test_both_linkages_keep_freudensteins_equation():
    """Lower: from page to page over the right foot. Upper: from the tie (its angle over the page) to the left wall."""
    for seed, mine in valid_sets("threefold", SETS):
        (a, c, k, t), (_, e, d, gap) = loops(mine)
        for opening in OPENINGS:
            seen, where = turns(mine, opening), f"seed {seed} at {opening}°"
            assert abs(freudenstein(t, k, c, a, opening, seen["wall"])) < EQUATION, where
            assert abs(freudenstein(a, c, k, t, opening, seen["tie"])) < EQUATION, where
            assert abs(freudenstein(k, e, d, gap, seen["tie"], seen["left"])) < EQUATION, where
            nearest = min(abs((seen["left"] - root + 180) % 360 - 180) for root in outputs(k, e, d, gap, seen["tie"]))
            # both roots meet as the card closes (change point): an angle from the root of a small difference
            assert nearest < (1e-5 if opening > 5 else 1e-3), where


def test_freudensteins_equation_notices_a_roof_that_is_a_millimetre_off():
    for _, mine in valid_sets("threefold", SETS):
        _, (k, e, d, gap) = loops(mine)
        seen = turns(mine, 113.0)
        assert abs(freudenstein(k, e + 1, d, gap, seen["tie"], seen["left"])) > 1e-4


def test_both_linkages_are_at_grashofs_change_point():
    """They close flat: sides that lie in one line (Grashof's condition as in test_mechanism_tent.py)."""
    for _, mine in valid_sets("threefold", SETS):
        for links in loops(mine):
            assert grashof(links) == "change point"
            assert grashof([links[0] + 0.1, *links[1:]]) != "change point"  # sizes lie on a grid of half a millimetre


def test_what_lies_flat_when_closed():
    """Wall and roof go on in one line, which is why nothing can sit astride their ridge; tie and left wall lie against them."""
    for _, mine in valid_sets("threefold", 5):
        placed = mine.pose(0.0).placements
        wall, roof, left = (placed[mine.mechanism.own(name)].up for name in ("right", "roof", "left"))
        assert np.allclose(wall, roof, rtol=0, atol=1e-7)  # half the digits: an angle of 0 from its sine and cosine
        assert np.allclose(roof, -left, rtol=0, atol=1e-7)
        assert [name for name, crease in mine.mechanism.creases().items() if crease.astride] == ["ridge"]


def test_measures_are_those_of_the_open_and_closed_card():
    for _, mine in valid_sets("threefold", SETS):
        said = {name: mine.value(expression) for name, expression in mine.mechanism.measures().items()}
        first = (0.0, mine.sizes["wall"])
        assert said["eaves"] == pytest.approx(at(mine.pose(180.0).placements[mine.mechanism.own("right")], first)[2], abs=ROOT)
        assert said["reach"] == pytest.approx(mine.pose(0.0).folds["ridge"].origin[2], abs=ROOT)


def test_the_closed_stack_is_no_thicker_than_said():
    """Sheets over one place of the closed card, counted on a grid of a millimetre across the pages."""
    most = {"inward": 0, "outward": 0}
    close = {"at": 60, "width": 50, "spread": 25, "wall": 40, "roof": 40, "left_spread": 25, "tie_spread": 12}
    both = [stand("threefold", "hut", cover(), "spine", close, tabs=words) for words in most]
    for mine in [*both, *(mine for _, mine in valid_sets("threefold", SETS))]:
        placed = mine.pose(0.0).placements
        spans = []
        for panel in mine.flat.panels:
            away = placed[panel.name].points(np.asarray(panel.outline.exterior.coords))[:, 2]
            spans.append((away.min(), away.max()))
        words = mine.mechanism.site.choices
        said = mine.mechanism.thickness(mine.mechanism.site.caliper, {}, words) / mine.mechanism.site.caliper
        thickest = max(sum(low < d < high for low, high in spans) for d in np.arange(0.5, 300.0))
        assert thickest <= said
        most[words["tabs"]] = max(most[words["tabs"]], thickest)
    assert most == {"inward": 3, "outward": 5}


def test_creases_turn_no_faster_near_the_open_card_than_their_spring_is_reckoned_with():
    """All six creases, over the spine, in the last tenth of a degree."""
    most = 0.0
    for _, mine in valid_sets("threefold", 3 * SETS):
        seen = []
        for opening in (179.9, 180.0):
            angles, placed = turns(mine, opening), mine.pose(opening).placements
            up = {name: placed[mine.mechanism.own(name)].up for name in ("right", "roof", "left")}
            seen.append([*angles.values(), between(up["right"], up["roof"]), between(up["roof"], up["left"])])
        rates = abs(np.subtract(*seen)) / 0.1
        assert rates[0] + rates[1] == pytest.approx(1, abs=1e-3)  # right foot and tie's foot
        assert rates.sum() <= mine.value(mine.mechanism.bends()) / mine.sizes["width"]
        most = max(most, rates.sum())
    assert most > 4, "and it is not reckoned with far too much"


def test_without_its_tie_the_strip_can_move():
    """Grübler: five links and five joints in the plane leave two freedoms, one more than the pages drive."""
    for seed, mine in valid_sets("threefold", 3):
        bench = bench_of(mine)
        firm = bench.follow(seed, (120.0,))[0]
        loose = Assembly()
        kept = {name: points for name, points in bench.points.items() if points and not name.endswith(".tie")}
        for points in kept.values():
            for name in points:
                if name in bench.assembly.known:
                    loose.pin(name, bench.assembly.known[name])
                else:
                    loose.free(name, firm.points[name])
            loose.panel(points)
        strip = next(iter(loose.track((120.0,))))
        assert strip.residual < 1e-9
        assert strip.stiffness < 1e-9 < 1e-5 < firm.stiffness


# ---- where it would be pulled taut

def taut(mine: Stand) -> list[float]:
    return sorted(angle for angle, _ in mine.mechanism.dead_points(mine.sizes))


def test_dead_points_lie_where_two_panels_come_into_one_line():
    """For sets that break the rules of standing: there the panels of one linkage are parallel, two degrees before not."""
    seen = {"lower": 0, "upper": 0}
    for seed in range(1000):
        mine = draw("threefold", Seeded(seed))
        s = mine.sizes
        if {name.split(".")[1] for name in broken(mine)} == {"roof-stands"} and taut(mine):
            angle, pair = taut(mine)[0], ("roof", "left")
        elif s["spread"] > 10 and "hut.tie" not in mine.values:
            # the tie's foot so far out that wall and tie together are shorter than the way between their feet
            farther = Fraction(s["wall"] - s["tie_spread"] + 5)
            mine = with_change(with_change(mine, "hut.tie_spread", farther), "hut.left_spread", farther)
            if mine.sizes["left_wall"] < 5:
                continue
            assert "hut.stands" in broken(mine)
            angle, pair = max(taut(mine)), ("right", "tie")
        else:
            continue
        for opening, parallel in ((angle - 2, False), (angle - 1e-7, True)):
            placed = mine.pose(opening).placements
            one, other = (placed[mine.mechanism.own(name)].up for name in pair)
            turned = np.linalg.norm(np.cross(one, other))
            assert (turned < 1e-3) == parallel, f"seed {seed} at {opening}°: {turned}"  # the root of 1e-7° of opening
        seen["upper" if pair[0] == "roof" else "lower"] += 1
    assert min(seen.values()) > SETS


def test_a_lower_linkage_is_taut_where_the_cosine_law_says():
    own = {"at": 60, "width": 50, "spread": 40, "wall": 30, "roof": 40, "left_spread": 50, "tie_spread": 30}
    mine = stand("threefold", "hut", cover(), "spine", own)
    assert {"hut.stands"} <= set(broken(mine))
    # feet of 40 and 30 on the pages, wall and tie 70 together: the cosine law gives the opening between them
    cosine = (40**2 + 30**2 - (30 + 40) ** 2) / (2 * 40 * 30)
    assert taut(mine)[-1] == pytest.approx(np.degrees(np.arccos(cosine)), abs=1e-9)


def test_standing_is_the_triangle_inequality_at_the_largest_opening():
    """The upper linkage stands as long as roof and left wall are longer than the way between their ends at any moment."""
    verdicts = set()
    for seed in range(300):
        mine = draw("threefold", Seeded(seed))
        names = {name.split(".")[1] for name in broken(mine)}
        if names - {"roof-stands"}:
            continue
        s = mine.sizes
        gaps = []
        for opening in np.linspace(1.0, 180.0, 60):
            folds = mine.pose(float(opening)).folds
            first = folds["tie_foot"].origin + s["tie"] * folds["tie_foot"].right
            far = mine.fold(float(opening)).point(s["at"], 0, 0) + s["left_spread"] * mine.fold(float(opening)).left
            gaps.append(float(np.linalg.norm(far - first)))
        assert all(before < after for before, after in pairwise(gaps)), f"seed {seed}: the way grows as the card opens"
        spare = s["roof"] + s["left_wall"] - gaps[-1]
        assert (not names) == (spare > 0) or abs(spare) < 1.0, f"seed {seed}: {names}, {spare}"  # 2 % are kept in hand
        verdicts.add(not names)
    assert verdicts == {True, False}


# ---- in a script

@pytest.mark.parametrize(("settings", "says"), [
    ("  spread 20\n  wall 30\n  tie_spread 15\n  tie 36\n",
     "the right wall and the tie of hut must meet in one line when closed"),
    ("  spread 20\n  wall 30\n  tie_spread 15\n  roof 30\n  left_spread 35\n  left_wall 40\n",
     "roof and left wall of hut must meet in one line when closed"),
    ("  spread 30\n  wall 20\n  tie_spread 25\n", "its closed first ridge has to lie farther out than the feet of wall and tie"),
    ("  spread 20\n  wall 30\n  tie_spread 12\n  roof 40\n  left_spread 78\n",
     "roof and left wall are too short to span from the first ridge to the left foot"),
    ("  spread 20\n  wall 30\n  tie_spread 28\n  left_spread 35\n",
     "the left foot of hut and the foot of its tie are 7 mm apart"),
    ("  spread 60\n  wall 60\n  roof 30\n", "the start of the upper ridge of hut lies"),
])
def test_a_script_that_breaks_a_rule_is_told_so(settings, says):
    with pytest.raises(Refused) as refused:
        solve_design(read_text(HUT + settings), seconds=5)
    assert any(says in problem.wrong() for problem in refused.value.problems), [p.wrong() for p in refused.value.problems]


def test_the_script_itself_holds():
    assert solve_design(read_text(HUT), seconds=5).dimensions
