"""Windows: where the hole lies in space, what it keeps from, what happens without those rules, and what is cut."""

import io
import random
import re
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
import shapely
from ezdxf.filemanagement import read as read_dxf
from scripts import refusal
from shapely.geometry import Point, Polygon, box

from foldwright.emit.drawing import sheet_drawing
from foldwright.emit.dxf import write_dxf
from foldwright.emit.layout import lay_out
from foldwright.emit.style import STYLES
from foldwright.emit.svg import write_svg
from foldwright.grammar import Refused, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.bind import bind
from foldwright.solver.building.holes import Box, apart, wing_within
from foldwright.solver.card import Stroke
from foldwright.solver.evaluate import evaluate
from foldwright.solver.expression import Const
from foldwright.solver.geometry import Closed
from foldwright.solver.mechanism import registry
from foldwright.solver.proof import ProofFailed, prove

PAPERS = "paper ink colour #22304a weight 216 gsm\npaper sand colour #d9c39a caliper 0.25\nmat 300 x 300\n"
HEAD = 'card "Harbour"\n  units mm\ncover 120 x 160\n  paper ink\n'
PLAIN = HEAD + PAPERS
GUSSET = HEAD.replace("  paper ink\n", "  spine gusset\n  paper ink\n") + PAPERS + "insert page on spine\n  paper sand\n"
# foot at 40, tabs of 8 inwards: glued from 32 to 40 off the spine and from 60 to 120 along it
TENT = "tent quay on spine\n  paper sand\n  at 60\n  width 60\n  spread 40\n  wall 50\n"
STRIP = 5  # mm, `window.strip`
ROUND = 1e-5  # mm; outlines lie on a grid of 1e-6
# A flag on a pole: its top, its right side and its foot differ, so that no turn or mirror image looks like another.
FLAG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 20"><path d="M0 0 H10 V8 H4 V20 H0 Z"/></svg>'


def window(host, at, size="20 x 14", more=""):
    width, height = size.split(" x ")
    return f"window porthole on {host}\n  at {at}\n  width {width}\n  height {height}\n{more}"


def solved(script, folder="."):
    return solve_design(read_text(script, folder=folder))


def panel(card, name):
    return next(each for each in card.panels if each.name == name)


def hole(card, name):
    """The one hole of a panel, in part coordinates."""
    (ring,) = panel(card, name).outline.interiors
    return Polygon(ring)


# ---- where it lies

@pytest.mark.parametrize(("host", "middle"), [("cover.left", (50, 70)), ("cover.right", (50, -70))])
def test_a_place_on_a_page_counts_along_the_spine_and_away_from_it(host, middle):
    card = solved(PLAIN + window(host, "50 x 70"))
    prove(card)
    assert hole(card, host).equals_exact(box(middle[0] - 10, middle[1] - 7, middle[0] + 10, middle[1] + 7), ROUND, normalize=True)


def test_the_centre_is_the_default():
    card = solved(PLAIN + window("cover.left", "centre"))
    assert hole(card, "cover.left").equals(hole(solved(PLAIN + window("cover.left", "centre").replace("  at centre\n", "")),
                                                 "cover.left"))
    assert hole(card, "cover.left").centroid.distance(Point(80, 60)) < ROUND


@pytest.mark.parametrize("opening", [10.0, 90.0, 180.0])
def test_cover_and_insert_look_through_at_one_place(opening):
    """With the same place in both, the hole of the insert lies over that of the cover at every opening."""
    for base in (PLAIN + "insert page on spine\n  paper sand\n", GUSSET):
        second = window("page.left", "50 x 70").replace("porthole", "inner")
        card = solved(base + window("cover.left", "50 x 70") + second)
        prove(card)
        placed = card.pose(opening)
        outer, inner = (placed[name].points(np.asarray(hole(card, name).exterior.coords)).mean(axis=0)
                        for name in ("cover.left", "page.left"))
        # in a gusset the insert's own crease lies half the gusset farther from the page
        assert np.linalg.norm(outer - inner) <= card.gusset + ROUND


DIRECTIONS = {"away": (0, 1), "end": (1, 0), "foot": (0, -1), "start": (-1, 0)}


@pytest.mark.parametrize("host", ["cover.left", "cover.right", "quay.right", "quay.left"])
@pytest.mark.parametrize("up", DIRECTIONS)
@pytest.mark.parametrize("mirrored", ["no", "yes"])
def test_artwork_stands_as_it_is_drawn(host, up, mirrored, tmp_path):
    """Measured in space: its top looks where `up` says; seen on the printed side, its flag flies to the right of the pole."""
    (tmp_path / "flag.svg").write_text(FLAG, "utf-8")
    script = PLAIN + TENT + f"window flag on {host}\n  art \"flag.svg\" width 8\n  up {up}\n  mirrored {mirrored}\n"
    card = solved(script + ("  at 25 x 70\n" if host.startswith("cover") else ""), tmp_path)
    prove(card)
    shape, placed = hole(card, host), card.pose(120.0)[host]
    normal = np.cross(placed.along, placed.up)
    middle, whole = (placed.points(np.array([[p.x, p.y]]))[0] for p in (shape.envelope.centroid, shape.centroid))
    # what the panel calls up: away from its foot, and along the crease (the left wall is seen the other way round)
    away = {"cover.left": placed.up, "cover.right": -placed.up, "quay.right": placed.up, "quay.left": -placed.up}[host]
    along = np.array([1.0, 0, 0]) * (-1 if host == "quay.left" else 1)
    u, v = DIRECTIONS[up]
    top = u * along + v * away
    left = np.cross(top, normal) * (1 if mirrored == "no" else -1)
    # cloth 10 x 8 with its middle at (5, 4), pole 4 x 12 at (2, 14): centre of area at (3.875, 7.75) in a box of 10 x 20
    assert (whole - middle) @ top == pytest.approx(0.8 * (10 - 7.75), abs=0.01)
    assert (whole - middle) @ left == pytest.approx(0.8 * (3.875 - 5), abs=0.01)


def test_the_pane_covers_the_window_with_an_even_border():
    card = solved(PLAIN + window("cover.right", "50 x 70", "30 x 14", "  up end\n  pane behind\n  paper sand\n"))
    prove(card)
    placed = card.pose(77.0)
    points = placed["porthole.pane"].points(np.asarray(panel(card, "porthole.pane").outline.exterior.coords))
    host = placed["cover.right"]
    there = Polygon(np.column_stack([(points - host.origin) @ host.along, (points - host.origin) @ host.up]))
    assert there.equals_exact(hole(card, "cover.right").buffer(5, join_style="mitre"), ROUND, normalize=True)
    assert len(card.parts) == 2


def test_a_window_without_a_pane_needs_no_paper_and_one_with_a_pane_does():
    assert len(solved(PLAIN + window("cover.left", "centre")).parts) == 1
    assert "paper" in refusal(PLAIN + window("cover.left", "centre", more="  pane behind\n"))


def test_the_height_follows_from_an_artwork(tmp_path):
    (tmp_path / "flag.svg").write_text(FLAG, "utf-8")
    script = PLAIN + 'window flag on cover.left\n  art "flag.svg" width 8\n'
    card = solved(script, tmp_path)
    assert float(card.dimensions["flag.height"][0]) == pytest.approx(16, abs=0.01)
    assert "follows from its artwork" in refusal(script + "  height 20\n", tmp_path)


# ---- what it keeps from

def test_a_window_over_a_tab_is_refused_in_words():
    words = refusal(PLAIN + TENT + window("cover.left", "90 x 36"))
    assert "between the window porthole and the glue of quay on cover.left a strip of 5 mm must stay" in words


@pytest.mark.parametrize(("more", "words"), [
    (window("cover.left", "12 x 70"), "a strip of paper at the tail"),
    (window("cover.left", "50 x 110"), "a strip of paper at the fore-edge"),
    (window("cover.left", "50 x 8"), "a strip of paper at the spine"),
    (TENT + window("quay.right", "30 x 10"), "a strip of paper at the foot of the wall"),
    (TENT + window("quay.right", "30 x 40"), "a strip of paper at the upper edge of the wall"),
    (window("cover.left", "50 x 70") + window("cover.left", "72 x 70").replace("porthole", "vent"), "the window porthole on"),
    (TENT + "vfold lamp on quay.ridge\n  paper sand\n  at 20\n  angle 45\n  wing 80 to 100\n  foot 26\n  ridge 15 to 40\n"
     + window("quay.right", "30 x 35", "8 x 8"), "the glue of lamp on quay.right"),
])
def test_what_a_window_keeps_from(more, words):
    assert words in refusal(PLAIN + more)


def test_the_strip_that_holds_an_insert_stays_whole():
    assert "the glue of page on cover.left" in refusal(GUSSET + window("cover.left", "50 x 100"))
    assert "the strip glued to the cover" in refusal(GUSSET + window("page.left", "50 x 100"))
    prove(solved(GUSSET + window("cover.left", "50 x 80")))


def test_a_tab_that_passes_the_insert_would_show_in_the_cover():
    lined = PLAIN + "insert page on spine\n  paper sand\n" + TENT.replace("spine", "page")
    prove(solved(lined + window("cover.left", "90 x 36")))  # glued on the insert: the insert hides it
    words = refusal(lined + "  joint slotted\n" + window("cover.left", "90 x 36"))
    assert "the glue of quay on cover.left" in words


def tab_on(card, tab, host):
    """A glued panel in the part coordinates of what it lies on, on the closed card."""
    placed = card.pose(0.0)
    points = placed[tab].points(np.asarray(panel(card, tab).outline.exterior.coords))
    here = placed[host]
    return Polygon(np.column_stack([(points - here.origin) @ here.along, (points - here.origin) @ here.up]))


def test_rules_agree_with_distances_that_shapely_measures():
    """Random windows beside a tent's tab: a card is found exactly where a strip stays on all sides."""
    dice, seen = random.Random(7), {True: 0, False: 0}
    page, glue = box(0, 0, 160, 120), box(60, 32, 120, 40)
    for _ in range(60):
        u, v, width, height = (dice.randint(*ends) for ends in ((15, 145), (15, 105), (8, 40), (8, 30)))
        shape = box(u - width / 2, v - height / 2, u + width / 2, v + height / 2)
        fits = page.buffer(-STRIP, join_style="mitre").covers(shape)
        # along the sides: the strip is kept in one of two directions, which is stricter than a distance at a corner
        free = not glue.buffer(STRIP - ROUND, join_style="mitre").intersects(shape)
        script = PLAIN + TENT + window("cover.left", f"{u} x {v}", f"{width} x {height}")
        try:
            card = solved(script)
        except Refused:
            assert not (fits and free), (u, v, width, height)
        else:
            assert fits, (u, v, width, height)
            assert tab_on(card, "quay.left_tab", "cover.left").distance(hole(card, "cover.left")) >= STRIP - ROUND
            prove(card)
        seen[fits and free] += 1
    assert min(seen.values()) > 10, "both kinds are needed"


def test_windows_found_beside_a_slanted_tab_keep_their_distance():
    """A V-fold's feet are slanted: the rule takes the box round each tab, so a found window is at least as far away."""
    found = 0
    for place in (20, 45, 60, 80, 110):
        for away in (30, 50, 80):
            script = PLAIN + "vfold sail on spine\n  paper sand\n  at 50\n  angle 45\n  wing 90\n  foot 50\n  ridge 40\n"
            try:
                card = solved(script + window("cover.left", f"{place} x {away}"))
            except Refused:
                continue
            found += 1
            assert tab_on(card, "sail.left_tab", "cover.left").distance(hole(card, "cover.left")) >= STRIP - ROUND
            prove(card)
    assert 3 < found < 15


def test_a_wing_keeps_its_strip_on_all_edges():
    """The limits on a V-fold's panel against the distances to its edges."""
    foot, ridge, wing = (Const(Fraction(x)) for x in (46, 58, 75))
    angle = np.radians(75)
    shape = Polygon([(0, 0), (0, 58), (46 * np.sin(angle), 46 * np.cos(angle))])
    dice, inside = random.Random(3), 0
    zero = Const(Fraction(0))
    for _ in range(300):
        u, v = (Fraction(dice.randint(0, 600), 10) for _ in range(2))
        kept = all(float(evaluate(low, {})) <= float(evaluate(high, {}))
                   for low, high, _ in wing_within((zero, foot), (zero, ridge), wing)(STRIP)(Const(u), Const(v)))
        depth = shape.exterior.distance(Point(u, v)) if shape.covers(Point(u, v)) else -1
        assert kept == (depth >= STRIP), (u, v)
        inside += kept
    assert inside > 20


# ---- rectangles apart: separating axes (C. Ericson, Real-Time Collision Detection, 2005, section 4.4: two boxes are
# disjoint exactly if they are so in the direction of a side of one of them)

def placed_box(shape, place):
    corners = [tuple(float(evaluate(part, {})) for part in place.point(u, v)) for u, v in shape.corners()]
    return Polygon([corners[0], corners[1], corners[3], corners[2]])


def test_rectangles_are_apart_exactly_where_shapely_says_so():
    dice, seen = random.Random(11), {True: 0, False: 0}
    still = Closed(*(Const(Fraction(0)),) * 3)
    for number in range(400):
        def span():
            low = Fraction(dice.randint(-300, 300), 10)
            return Const(low), Const(low + Fraction(dice.randint(20, 400), 10))

        first, second = Box(span(), span()), Box(span(), span())
        turn = Fraction(dice.choice((0, 90, 180, 270)) if number % 2 else dice.randint(0, 359))
        x, d = (Const(Fraction(dice.randint(-40, 40))) for _ in range(2))
        place = Closed(x, d, Const(turn), dice.random() < 0.5)
        gap = float(evaluate(apart(first, second, place), {}))
        one, two = placed_box(first, still), placed_box(second, place)
        assert (gap > 0) == one.disjoint(two)
        assert gap <= one.distance(two) + 1e-9 or gap <= 0
        seen[gap > 0] += 1
    assert min(seen.values()) > 50


def test_a_place_and_its_inverse_undo_each_other():
    for turn in (0, 37, 90, 215):
        for mirrored in (False, True):
            place = Closed(Const(Fraction(12)), Const(Fraction(-7)), Const(Fraction(turn)), mirrored)
            both = place.inverse().then(place)
            assert [float(evaluate(part, {})) for part in both.point(31, 5)] == pytest.approx([31, 5], abs=1e-9)


# ---- what every mechanism says of its glue

@pytest.mark.parametrize("keyword", [name for name, kind in registry().items() if kind.example])
def test_glue_on_a_host_lies_in_the_areas_that_are_said(keyword):
    """Else a window could be cut where a tab is glued, and only the proof would notice."""
    design = read_text(registry()[keyword].example)
    card, bound = solve_design(design), bind(design)
    amounts = {name: value for name, (value, _) in card.dimensions.items()}
    placed = card.pose(0.0)
    open_to_windows = {face.panel for mechanism in bound.mechanisms for face in mechanism.faces().values() if face.within}
    for mechanism in bound.mechanisms:
        if mechanism.keyword in ("cover", "insert", "window"):
            continue  # an insert that lines the whole page, and a pane, close a window and do not lose their hold
        said = {}
        for area in mechanism.glued():
            if area.side in ("left", "right"):
                place, name = mechanism.crease.closed, getattr(mechanism.crease, area.side).panel
            else:
                name = area.side
                place = next(f.closed for m in bound.mechanisms for f in m.faces().values() if f.panel == name)
            corners = [tuple(float(evaluate(part, amounts)) for part in place.point(x, d)) for x in area.x for d in area.d]
            said.setdefault(name, []).append(shapely.MultiPoint(corners).convex_hull)
        for bond in card.bonds:
            if bond.panel.startswith(f"{mechanism.name}.") and bond.host in open_to_windows:
                points = placed[bond.panel].points(np.asarray(panel(card, bond.panel).outline.exterior.coords))[:, [0, 2]]
                areas = shapely.union_all(said.get(bond.host, []))
                if not bond.whole:  # an arm lies on its panel farther than its glue goes
                    assert areas.intersection(Polygon(points)).area >= card.practice["cutout.glue"] - 0.01
                    continue
                assert areas.buffer(0.01).covers(Polygon(points)), f"{bond.panel} is glued to {bond.host} outside of what is said"


# ---- without the rules, and what is cut

def with_hole(card, name, shape):
    panels = tuple(replace(each, outline=each.outline.difference(shape)) if each.name == name else each for each in card.panels)
    return replace(card, panels=panels)


def test_the_proof_sees_a_window_under_a_tab():
    card = solved(PLAIN + TENT)
    prove(card)
    with pytest.raises(ProofFailed, match=r"quay\.left_tab does not lie wholly on cover\.left") as failed:
        prove(with_hole(card, "cover.left", box(80, 30, 100, 44)))
    assert failed.value.check == "glue"
    parts = tuple(replace(p, outline=p.outline.difference(box(80, 60, 100, 74))) if p.name == "cover" else p for p in card.parts)
    prove(replace(with_hole(card, "cover.left", box(80, 60, 100, 74)), parts=parts))  # beside the tab there is no harm


def test_the_hole_is_cut_before_the_outline_in_every_format():
    card = solved(PLAIN + window("cover.left", "50 x 70"))
    (drawing,) = [sheet_drawing(card.title, sheet, {}) for sheet in lay_out(card)]
    (group,) = [group for group in drawing.groups if "cover" in group.name]
    cuts = [trace for trace in group.traces if trace.kind is Stroke.CUT and trace.closed]
    assert [round(Polygon(trace.points).area) for trace in cuts] == [240 * 160, 20 * 14]
    document = read_dxf(io.StringIO(write_dxf(drawing).decode("utf-8")))
    layer = STYLES[Stroke.CUT].layer
    drawn = [round(Polygon([p[:2] for p in line.get_points()]).area)
             for line in document.modelspace().query("LWPOLYLINE") if line.dxf.layer == layer and line.closed]
    assert drawn == [20 * 14, 240 * 160], "machines work in file order: the hole while the sheet still holds the part"
    text = write_svg(drawing).decode("utf-8")
    (cut,) = re.findall(r'id="part-cover-cut".*?<path d="([^"]*)"', text, re.DOTALL)
    numbers = [len(re.findall(r"[0-9.]+", piece)) for piece in cut.split("Z")[:-1]]
    assert numbers == [2 * 4, 2 * 6], "the hole with its four corners, then the outline with the ends of the spine"
