"""Swinging arms: where the tip may go, measured on posed panels, and how it moves."""

from __future__ import annotations

import numpy as np
import pytest
from by_hand import Stand, at, broken, corners, valid_sets, with_change
from drawn.arm import aimed_at, cut_out
from shapely.geometry import Polygon

from foldwright.grammar import Refused, read, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.building import sector
from foldwright.solver.card import Vector
from foldwright.solver.expression import Const, Fraction
from foldwright.solver.host import Fan
from foldwright.solver.proof import prove

SETS = 40
MEET = 1e-9  # mm; rotations of unit vectors on arms of 200 mm
SWING = np.concatenate([[0.01, 0.1, 0.5], np.linspace(1.0, 180.0, 120)])  # degrees; the limit is reached near closed
ON = ("arm", "arm on truncated vfold")


def exact(number: float) -> Const:
    return Const(Fraction(number).limit_denominator(10**9))


def over_pages(mine: Stand, points: Vector) -> dict[str, Vector]:
    """Heights over both pages, along the swing, of points on the panel that carries an arm: shape (openings, points).

    `points` are (u, v): u from the ridge towards the foot, v along the ridge. For a V-fold on the spine.
    """
    frame, place = mine.host.flat.faces[mine.place], []
    part = np.array([frame.at(*point) for point in points])
    for opening in SWING:
        place.append(mine.host.pose(float(opening)).placements[frame.panel].points(part))
    spaces, heights = np.array(place), {}
    for side in ("left", "right"):
        normals = np.array([getattr(mine.host.fold(float(opening)), f"{side}_normal") for opening in SWING])
        heights[side] = np.einsum("opk,ok->op", spaces, normals)
    return heights


def fan_of(mine: Stand) -> Fan:
    fan = mine.mechanism.site.face.fan
    assert fan is not None
    return fan


def polar(mine: Stand, angle: float) -> tuple[float, float]:
    """(u, v) of the point 1 mm from the V's point at an angle from the foot."""
    wing = mine.value(fan_of(mine).wing)
    return float(np.sin(np.radians(wing - angle))), float(np.cos(np.radians(wing - angle)))


def limit(mine: Stand) -> float:
    """The largest angle from the foot that the rule allows, in degrees, by bisection of its two sides."""
    fan, low, high = fan_of(mine), mine.value(fan_of(mine).wing), 180.0
    for _ in range(60):
        middle = (low + high) / 2
        u, v = (exact(x) for x in polar(mine, middle))
        free = mine.value(sector.start_rate(fan) * sector.from_foot(fan, u, v)) <= mine.value(sector.from_crease(fan, u, v))
        low, high = (middle, high) if free else (low, middle)
    return low


def test_the_free_sector_ends_where_the_other_page_is_struck():
    """Half a degree inside of the limit a point never comes under a page, half a degree outside it does, as the card begins
    to open."""
    looked = 0
    for kind in ON:
        for seed, mine in valid_sets(kind, SETS):
            edge = limit(mine)
            own, other = (mine.place, "right") if mine.place == "left" else (mine.place, "left")
            heights = over_pages(mine, np.array([polar(mine, edge - 0.5), polar(mine, edge + 0.5)]))
            assert heights[other][:, 0].min() > 0, f"{kind}, seed {seed}"
            assert heights[own].min() > 0, f"{kind}, seed {seed}"
            if edge < 179:
                first = heights[other][:, 1]
                assert first[0] < 0, f"{kind}, seed {seed}: not struck at once"
                looked += 1
    assert looked > SETS


def test_the_free_sector_of_an_even_vfold_at_45_degrees_is_an_arc_tangent():
    """Feet at 45, wings of 90: k = sin 135 / 2, so sin(45 + x) = k sin x has the root cot x = -1/2: atan(1/2) past the ridge."""
    mine = next(mine for _, mine in valid_sets("arm", 1))
    even = Fan(Const(Fraction(90)), Const(Fraction(90)), Const(Fraction(135)))
    assert mine.value(sector.start_rate(even)) == pytest.approx(np.sin(np.radians(135)) / 2)
    for off, free in ((-0.01, True), (0.01, False)):
        u, v = (exact(x) for x in (-np.sin(np.arctan(0.5) + off), np.cos(np.arctan(0.5) + off)))
        gap = sector.from_crease(even, u, v) - sector.start_rate(even) * sector.from_foot(even, u, v)
        assert (mine.value(gap) > 0) == free
    lopsided = Fan(Const(Fraction(90)), Const(Fraction(90)) + 0, Const(Fraction(135)))
    assert mine.value(sector.start_rate(lopsided)) == mine.value(sector.start_rate(even))


def test_arms_stay_clear_of_both_pages():
    for kind in ON:
        for seed, mine in valid_sets(kind, SETS):
            frame = mine.host.flat.faces[mine.place]
            outline = corners(mine, ["kite.strip"])["kite.strip"]
            points = np.column_stack([outline[:, 0] * mine.sizes["face.sign"], outline[:, 1]])
            assert abs(at(mine.pose(90.0).placements["kite.strip"], tuple(outline[0]))
                       - at(mine.host.pose(90.0).placements[frame.panel], frame.at(*points[0]))).max() < MEET
            heights = over_pages(mine, points)
            assert min(h.min() for h in heights.values()) > -MEET, f"{kind}, seed {seed}"


def test_an_arm_past_the_limit_is_refused_and_strikes():
    struck = 0
    for _, mine in valid_sets("arm", SETS):
        edge = limit(mine)
        if edge > 165:
            continue
        past = with_change(mine, "kite.angle", Fraction(int(edge) + 6) - mine.values["kite.angle"])
        assert any(name.endswith(("other-page", "spine")) for name in broken(past))
        heights = over_pages(past, np.array([[past.sizes["tip.u"], past.sizes["tip.v"]]]))
        assert min(h.min() for h in heights.values()) < 0
        struck += 1
    assert struck > SETS / 2


def test_the_glued_stretch_lies_wholly_on_the_panel():
    for kind in (*ON, "arm on vfold on tent ridge"):
        for seed, mine in valid_sets(kind, SETS):
            frame = mine.host.flat.faces[mine.place]
            panel = next(p.outline for p in mine.host.flat.panels if p.name == frame.panel)
            outline = corners(mine, ["kite.strip"])["kite.strip"]
            sign = mine.sizes["face.sign"]
            strip = Polygon([frame.at(sign * u, v) for u, v in outline])
            least = mine.sizes["strip"] * mine.sizes["glued"]
            assert panel.intersection(strip).area > least, f"{kind}, seed {seed}"


def test_an_arm_lies_on_the_outside_of_the_v_or_keeps_within_its_panel():
    """It is glued on the printed face: where that looks at the other panel, an arm over the ridge would run into it."""
    inside = 0
    for kind in (*ON, "arm on vfold on tent ridge"):
        for seed, mine in valid_sets(kind, SETS):
            placed, hill = mine.host.pose(100.0).placements, mine.host.mechanism
            panel = placed[hill.own(mine.place)]
            other = placed[hill.own("right" if mine.place == "left" else "left")]
            edge = other.along * (1 if mine.host.flat.faces["right" if mine.place == "left" else "left"].first[0] > 0 else -1)
            looks_at_other = bool(np.cross(panel.along, panel.up) @ edge > 0)
            assert looks_at_other != fan_of(mine).outside, f"{kind}, seed {seed}"
            if looks_at_other:
                outline = corners(mine, ["kite.strip"])["kite.strip"]
                assert (outline[:, 0] * mine.sizes["face.sign"]).min() > -MEET
                inside += 1
    assert 0 < inside < 3 * SETS


def test_an_arm_cut_a_hundredth_of_a_millimetre_too_long_does_not_reach_its_place():
    """The check of the rigid assembly for arms: strip ends as cut against places that the maker measures out."""
    for kind in ON:
        for _, mine in valid_sets(kind, 5):
            longer = with_change(mine, "kite.distance", Fraction(1, 100))
            apart = [np.linalg.norm(cut_out(stand)["tip"] - aimed_at(mine)["tip"]) for stand in (mine, longer)]
            assert apart[0] < 1e-9
            assert apart[1] == pytest.approx(0.01, rel=1e-3)


def test_the_tip_moves_on_a_sphere_and_seen_from_its_page_on_a_circle():
    """As any point of a spherical linkage does (J. M. McCarthy, G. S. Soh, Geometric Design of Linkages, 2011, from memory)."""
    for _, mine in valid_sets("arm", 10):
        tip = (mine.sizes["face.sign"] * mine.sizes["tip.u"], mine.sizes["tip.v"])
        spheres, circles = [], []
        for opening in (0.0, 20.0, 75.0, 130.0, 180.0):
            fold, pose = mine.host.fold(opening), mine.host.pose(opening)
            foot = pose.folds[f"{mine.place}_foot"]
            place = at(mine.pose(opening).placements["kite.strip"], tip) - foot.origin
            page = getattr(fold, mine.place)
            normal = getattr(fold, f"{mine.place}_normal")
            spheres.append(np.linalg.norm(place))
            circles.append((place @ foot.x, np.linalg.norm(place - (place @ foot.x) * foot.x)))
            assert place @ normal > -MEET
            assert abs(page @ normal) < MEET
        assert np.ptp(spheres) < MEET
        assert spheres[0] == pytest.approx(mine.sizes["distance"], abs=MEET)
        assert np.ptp(np.array(circles), axis=0).max() < MEET


def test_measures_are_those_of_the_open_and_closed_card():
    lopsided = 0
    for kind in ON:
        for seed, mine in valid_sets(kind, SETS):
            said = {name: mine.value(expression) for name, expression in mine.mechanism.measures().items()}
            tip = (mine.sizes["face.sign"] * mine.sizes["tip.u"], mine.sizes["tip.v"])
            spot = []
            for opening in (0.0, 180.0):
                fold = mine.host.fold(opening)
                place = at(mine.pose(opening).placements["kite.strip"], tip)
                page, normal = getattr(fold, mine.place), getattr(fold, f"{mine.place}_normal")
                spot.append(np.array([place @ fold.x, place @ page, place @ normal]))
                if opening:
                    assert said["height"] == pytest.approx(place[2], abs=1e-6), f"{kind}, seed {seed}"  # roots of differences
                else:
                    assert said["reach"] == pytest.approx(place[2], abs=MEET)
            assert said["sweep"] == pytest.approx(np.linalg.norm(spot[1] - spot[0]), abs=1e-6), f"{kind}, seed {seed}"
            lopsided += mine.host.sizes["angle"] != mine.host.sizes["left_angle"]
    assert 0 < lopsided < 2 * SETS
    for _, mine in valid_sets("arm on vfold on tent ridge", 3):
        assert set(mine.mechanism.measures()) == {"reach"}, "a ridge never opens flat"


# ---- in scripts

HILL = """card "Hill"
  units mm
cover 120 x 180
  paper ink
paper ink  colour #22304a weight 216 gsm
paper foam colour #e8eef0 caliper 0.25
mat 300 x 300
vfold hill on spine
  paper foam
  at 60
  angle 45
  wing 90
  foot 60
  ridge 50
"""
ARM = HILL + "arm kite\n  paper ink\n  glue on hill.right at centre\n"
TENT = HILL + "tent pier on spine\n  paper foam\n  at 130\narm kite\n  paper ink\n  glue on pier.right at centre\n"


def said(script: str) -> list[str]:
    with pytest.raises(Refused) as refused:
        solve_design(read_text(script), seconds=5)
    return [problem.wrong() for problem in refused.value.problems]


@pytest.mark.parametrize(("script", "says"), [
    (TENT, "an arm swings with a panel of a V-fold"),
    (ARM.replace("glue on", "pair on"), "pair"),
    (ARM + "  distance 60\n  angle 125\n", "would strike the other page as the card begins to open"),
    (ARM.replace("at centre", "at 26 x 12") + "  distance 60\n  angle 3\n  strip 7\n",
     "must stay above the page on which its panel is glued"),
    (ARM.replace("at centre", "at 3 x 20") + "  distance 60\n  angle 60\n",
     "must lie wholly on the panel, with an inset from the ridge"),
    (ARM + "  distance 25\n  angle 60\n", "the glued stretch and the round end take"),
    (ARM + "  strip 6\n  glued 5\n  distance 60\n  angle 60\n", "the glued stretch of kite is 5 mm long"),
    (ARM.replace("  at 60\n", "  at 60\n  points back\n") + "  distance 70\n  angle 100\n", "which looks into the V"),
    (ARM + "  distance 150\n  angle 60\n", "of kite lies"),
])
def test_a_script_that_breaks_a_rule_is_told_so(script, says):
    assert any(says in text for text in said(script)), said(script)


def test_a_panel_that_cannot_carry_an_arm_is_told_at_its_place():
    with pytest.raises(Refused) as refused:
        solve_design(read_text(TENT), seconds=5)
    problem, = refused.value.problems
    assert (problem.code, problem.at.text) == ("cannot-carry", "pier.right")
    assert any("hill.right" in hint for hint in problem.hints()), "panels that could are named"


def test_artwork_glued_on_a_panel_keeps_to_the_same_sector(tmp_path):
    """A cut-out that stands out far beyond the ridge would strike the other page as an arm does."""
    drawing = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 60 12"><path d="M0 0 H60 V12 H0 Z"/></svg>'
    (tmp_path / "bar.svg").write_text(drawing, "utf-8")
    script = HILL + 'cutout bar\n  paper ink\n  art "bar.svg" width {}\n  glue on hill.right at 10 x 30\n'
    path = tmp_path / "hill.card"
    path.write_text(script.format(24), "utf-8")
    assert prove(solve_design(read(path), seconds=5)).looked_at["glue"] > 0
    path.write_text(script.format(60), "utf-8")
    with pytest.raises(Refused) as refused:
        solve_design(read(path), seconds=5)
    assert any("would strike the other page as the card begins to open" in p.wrong() for p in refused.value.problems)


@pytest.mark.parametrize("artwork", ["upright", "turned"])
@pytest.mark.parametrize("panel", ["right", "left"])
def test_artwork_at_the_tip_is_one_piece_with_the_strip(artwork, panel, tmp_path):
    drawing = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 30 20"><path d="{}"/></svg>'
    # an arch: its box has its middle in the open, the tip takes the broadest place
    (tmp_path / "arch.svg").write_text(drawing.format("M0 20 V0 H30 V20 H20 V12 H8 V20 Z"), "utf-8")
    script = ARM.replace("hill.right", f"hill.{panel}") + "  distance 60 to 80\n  angle 70\n"
    path = tmp_path / "hill.card"
    path.write_text(f'{script}  art "arch.svg" width 20\n  artwork {artwork}\n', "utf-8")
    card = solve_design(read(path), seconds=5)
    assert prove(card).looked_at["glue"] > 0
    part = next(part for part in card.parts if part.name == "kite")
    assert part.outline.geom_type == "Polygon"
    bare = next(part for part in solve_design(read_text(script), seconds=5).parts if part.name == "kite").outline
    # the arch of 20 mm has 20 * 13.33 - 8 * 5.33 mm² less a leg's gap; the strip's end lies under some of it
    assert part.outline.area > bare.area + 100
