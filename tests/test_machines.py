"""Machines: kinds of crease, the kerf, several mats; one script for all of them."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import cards
import numpy as np
import pyogrio
import pytest
import resvg_py
import shapely
from pixels import decoded
from scripts import SHORE
from shapely import from_wkb
from shapely.geometry import LineString, Polygon, box

from foldwright.api import check
from foldwright.asked import Asked
from foldwright.emit import build_files
from foldwright.emit.creases import CREASES, cuts, perforated, ticked
from foldwright.emit.layout import lay_out
from foldwright.emit.machined import machined
from foldwright.emit.style import STYLES, styles
from foldwright.grammar import Refused, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.bind import bind
from foldwright.solver.card import Card, Line, Machine, Part, Stroke
from foldwright.solver.kerf import grown, lost, slits
from foldwright.solver.practice import HABITS, perforation
from foldwright.solver.proof import ProofFailed, prove
from foldwright.solver.variants import varied

EXAMPLES = Path(__file__).parent.parent / "examples"
PIER = EXAMPLES / "pleasure-pier.card"
HABIT = {habit.name: float(habit.value) for habit in HABITS}
LEAST = HABIT["perforation.least"]

def harbour(machine: Machine, **changes: object) -> Card:
    """The hand-made card on a machine."""
    card = cards.harbour(machine=machine, **changes)
    return replace(card, practice={**HABIT, **card.practice})


def solved(path: Path, variant: str | None = None) -> Card:
    return solve_design(Asked(variant=variant).design(path), seconds=30)


def lengths(lines: object) -> list[float]:
    return [LineString(line.points).length for line in lines]  # type: ignore[attr-defined]


# ---- creases


@pytest.mark.parametrize(("length", "dash", "gap"), [(90, 3, 2), (41.7, 3, 2), (12, 2, 2), (150.25, 4, 1.25), (9, 3, 2)])
def test_a_perforation_is_even_and_has_bridges_at_both_ends(length: float, dash: float, gap: float) -> None:
    spans = cuts(length, dash, gap, LEAST)
    each = spans[0][1] - spans[0][0]
    assert spans[0][0] == pytest.approx(gap)
    assert length - spans[-1][1] == pytest.approx(gap)
    assert [end - start for start, end in spans] == pytest.approx([each] * len(spans))
    assert [after - before for (_, before), (after, _) in pairwise(spans)] == pytest.approx([gap] * (len(spans) - 1))
    # one cut more or less would be farther from what is asked: by hand, n cuts and n + 1 bridges make up the length
    for other in (len(spans) - 1, len(spans) + 1):
        if other:
            assert abs((length - (other + 1) * gap) / other - dash) >= abs(each - dash) - 1e-9


@pytest.mark.parametrize("length", [3.0, 4.2, 4.99])
def test_a_short_crease_shares_its_length_and_a_shorter_one_is_left_whole(length: float) -> None:
    (span,) = cuts(length, 3, 2, LEAST)
    assert span == pytest.approx((length / 3, 2 * length / 3))
    assert cuts(2.9, 3, 2, LEAST) == []
    part = Part("p", "1", "Ink blue", box(0, 0, 2.9, 20), (Line(((0, 9), (2.9, 9)), Stroke.VALLEY),), (0, 0))
    assert [line.stroke for line in perforated(part, 3, 2, LEAST)] == [Stroke.MARK]  # nothing is lost


def test_dash_and_gap_follow_the_paper() -> None:
    # Common practice, no source: 3 mm cut and 2 mm bridge, 2 and 2 for thin stock, a bridge of about five calipers.
    assert perforation(0.25, HABIT) == (3, 2)
    assert perforation(0.15, HABIT) == (2, 2)
    assert perforation(0.5, HABIT) == (3, 2.5)
    assert perforation(0.5, HABIT, dash=4) == (4, 2.5)
    assert perforation(0.5, HABIT, gap=1.5) == (3, 1.5)
    assert perforation(0.25, {**HABIT, "perforation.dash": 4.0}) == (4, 2)


def slotted() -> Part:
    """A sheet with a hole, a slot from its edge and a slit, all of them across one crease, and a crease across it."""
    outline = box(0, 0, 100, 40).difference(box(20, 15, 21, 25)).difference(box(50, 18, 50.4, 40))
    lines = (Line(((0, 20), (100, 20)), Stroke.MOUNTAIN), Line(((80, 10), (80, 30)), Stroke.CUT),
             Line(((35, 0), (35, 40)), Stroke.VALLEY), Line(((60, 20), (65, 20)), Stroke.CUT))
    return Part("slotted", "1", "Ink blue", outline, lines, (1, 1))


def test_a_perforation_never_runs_into_a_slot_a_slit_or_another_crease() -> None:
    dashes = [line for line in perforated(slotted(), 3, 2, LEAST) if line.stroke is Stroke.MOUNTAIN]
    ends = (0, 20, 21, 35, 50, 50.4, 60, 65, 80, 100)
    pieces = [(a, b) for a, b in pairwise(ends) if (a, b) not in ((20, 21), (50, 50.4), (60, 65))]
    inside = [[d for d in dashes if a <= min(d.points)[0] and max(d.points)[0] <= b] for a, b in pieces]
    assert sum(map(len, inside)) == len(dashes)
    for (a, b), some in zip(pieces, inside, strict=True):
        assert some
        assert min(min(d.points)[0] for d in some) - a == pytest.approx(2, abs=0.02)
        assert b - max(max(d.points)[0] for d in some) == pytest.approx(2, abs=0.02)


def test_a_cut_keeps_its_distance_from_the_edges_of_a_sharp_corner() -> None:
    # a ridge that runs into a tip of 2 x 20 degrees: by trigonometry 1 mm beside it is 1 / sin 20 = 2.92 mm from the tip
    tip = Polygon([(0, 0), (100, -100 * math.tan(math.radians(20))), (100, 100 * math.tan(math.radians(20)))])
    part = Part("p", "1", "Ink blue", tip, (Line(((0, 0), (100, 0)), Stroke.MOUNTAIN),), (1, 1))
    dashes = [LineString(line.points) for line in perforated(part, 3, 2, LEAST)]
    first = min(dash.bounds[0] for dash in dashes)
    assert first == pytest.approx(1 / math.sin(math.radians(20)), abs=0.11), "steps of 0.1 mm"
    assert min(tip.boundary.distance(dash) for dash in dashes) >= 0.99
    assert max(dash.bounds[2] for dash in dashes) == pytest.approx(98), "a square end has the plain bridge"


@pytest.mark.parametrize("name", ["pleasure-pier", "fern-house", "tide-pool"])
def test_perforations_of_solved_cards_keep_off_every_cut(name: str) -> None:
    card = solved(EXAMPLES / f"{name}.card")
    seen = 0
    for part in card.parts:
        made = list(perforated(part, 3, 2, LEAST))
        dashes = [LineString(line.points) for line in made if line.stroke in CREASES]
        creases = shapely.union_all([LineString(line.points) for line in part.lines if line.stroke in CREASES])
        edges = [part.outline.boundary, *(LineString(line.points) for line in part.lines if line.stroke is Stroke.CUT)]
        for dash in dashes:
            assert shapely.buffer(creases, 1e-6).covers(dash)
            assert min(edge.distance(dash) for edge in edges) > 0.5 * LEAST  # creases meet cuts at an angle
        # of what is creased at most three fifths of the longest dash in five are cut: no stretch is forgotten either
        whole = creases.length - sum(lengths(line for line in made if line.stroke is Stroke.MARK))
        assert sum(dash.length for dash in dashes) < 0.75 * whole + 1e-6
        if whole > 20:
            assert sum(dash.length for dash in dashes) > 0.25 * whole
        seen += len(dashes)
    assert seen > 50


def test_ticks_stand_at_both_ends_of_each_crease_and_nowhere_else() -> None:
    ticks = [line for line in ticked(cards.quay_part(), 4) if line.stroke in CREASES]
    assert sorted(lengths(ticks)) == pytest.approx([4.0] * 6)
    for line in ticks:
        low, high = sorted(v for _, v in line.points)
        assert low == pytest.approx(0) or high == pytest.approx(cards.LENGTH)
    short = Part("p", "1", "Ink blue", box(0, 0, 11, 20), (Line(((0, 9), (11, 9)), Stroke.VALLEY),), (0, 0))
    assert lengths(ticked(short, 4)) == pytest.approx([11 / 4] * 2), "half of a short crease stays, even if ticks are cut"


@pytest.mark.parametrize("creases", ["creased", "perforated", "ticked", "half-cut"])
def test_kinds_of_line_are_told_apart_without_colour(creases: str) -> None:
    looks = styles(creases)
    assert list(looks) == list(Stroke)
    for field in ("layer", "colour", "index", "meaning"):
        assert len({getattr(style, field) for style in looks.values()}) == len(Stroke), field
    assert len({(style.dash, style.width) for style in looks.values()}) == len(Stroke)
    assert all(len(style.layer) <= 31 for style in looks.values())  # the limit of older DXF versions, from memory


def test_no_two_kinds_of_crease_share_a_layer() -> None:
    layers = [styles(creases)[kind].layer for creases in ("creased", "perforated", "ticked", "half-cut") for kind in CREASES]
    assert len(set(layers)) == 8
    assert all(styles(creases)[Stroke.CUT] == STYLES[Stroke.CUT] for creases in ("perforated", "ticked", "half-cut"))


def dxf_lines(dxf: bytes, path: Path) -> dict[str, list[LineString]]:
    """Lines by layer as GDAL reads them."""
    path.write_bytes(dxf)
    _, _, shapes, fields = pyogrio.raw.read(path, columns=["Layer"])
    found: dict[str, list[LineString]] = defaultdict(list)
    for layer, shape in zip(fields[0], shapes, strict=True):
        found[layer].append(from_wkb(shape))
    return found


def test_gdal_reads_real_dashes_on_layers_of_their_own(tmp_path: Path) -> None:
    files = build_files(harbour(Machine(creases="perforated", dash=3, gap=2)), ())
    found = dxf_lines(files["all-parts.dxf"], tmp_path / "a.dxf")
    assert set(found) == {"CUT", "PERFORATION_MOUNTAIN", "PERFORATION_VALLEY", "MARK"}
    # the quay's ridge is 90 mm: 17 or 18 cuts with 2 mm between and at the ends; (90 - 2) / 18 - 2 = 2.89 is nearer to 3
    ridge = found["PERFORATION_MOUNTAIN"]
    assert len(ridge) == 18
    assert [line.length for line in ridge] == pytest.approx([88 / 18 - 2] * 18, abs=0.0015)  # rounded to 0.001 at both ends


@pytest.mark.parametrize(("creases", "layers"), [("ticked", "TICK"), ("half-cut", "HALF_CUT")])
def test_other_kinds_have_their_own_layers_too(creases: str, layers: str, tmp_path: Path) -> None:
    files = build_files(harbour(Machine(creases=creases)), ())
    found = dxf_lines(files["all-parts.dxf"], tmp_path / "a.dxf")
    assert {layer for layer in found if layer not in ("CUT", "MARK")} == {f"{layers}_MOUNTAIN", f"{layers}_VALLEY"}
    assert [line.length for line in found["HALF_CUT_MOUNTAIN"]] == ([90] if creases == "half-cut" else [])


# ---- kerf


def by_hand(ring: np.ndarray, distance: float) -> tuple[float, float]:
    """Length and area of the mitred parallel of a ring (n, 2), anticlockwise, `distance` outside it, by the formula of corners.

    Every corner that turns by t takes or gives distance * tan(t / 2) of each of its sides (elementary geometry).
    """
    sides = np.roll(ring, -1, axis=0) - ring
    before = np.roll(sides, 1, axis=0)
    turn = np.arctan2(before[:, 0] * sides[:, 1] - before[:, 1] * sides[:, 0], (before * sides).sum(axis=1))
    length = float(np.hypot(*sides.T).sum())
    area = 0.5 * float((ring[:, 0] * np.roll(ring[:, 1], -1) - np.roll(ring[:, 0], -1) * ring[:, 1]).sum())
    corners = float(np.tan(turn / 2).sum())
    return length + 2 * distance * corners, area + distance * length + distance**2 * corners


def rings(outline: Polygon) -> list[np.ndarray]:
    """The outline and its holes without repeated ends, all anticlockwise."""
    oriented = [Polygon(ring.coords) for ring in (outline.exterior, *outline.interiors)]
    return [np.asarray(shapely.geometry.polygon.orient(ring).exterior.coords)[:-1, :2] for ring in oriented]


@pytest.mark.parametrize("kerf", [0.08, 0.15, 0.3])
def test_outlines_grow_and_holes_shrink_by_half_the_kerf(kerf: float) -> None:
    outlines = [part.outline for part in (cards.quay_part(), cards.boat_part(), slotted())]
    for outline in outlines:
        moved = grown(outline, kerf)
        assert len(moved.interiors) == len(outline.interiors)
        wanted = sorted(by_hand(ring, kerf / 2 * (1 if number == 0 else -1)) for number, ring in enumerate(rings(outline)))
        found = sorted((Polygon(ring).length, Polygon(ring).area) for ring in rings(moved))
        for (length, area), (own, own_area) in zip(wanted, found, strict=True):
            # GEOS may leave out points that lie within a hundredth of the distance of a line
            assert own == pytest.approx(length, abs=0.02 * kerf + 1e-6 * length)
            assert own_area == pytest.approx(area, abs=0.01 * kerf * length)


def test_a_laser_on_a_rectangle_with_a_slot_by_hand() -> None:
    part = Part("p", "1", "Ink blue", box(0, 0, 40, 30).difference(box(10, 10, 10.4, 25)),
                (Line(((20, 5), (20, 15)), Stroke.CUT), Line(((0, 8), (40, 8)), Stroke.VALLEY)), (1, 1))
    card = harbour(Machine(kerf=0.2), parts=(part,))
    (made,) = machined(card).parts
    assert made.outline.bounds == pytest.approx((-0.1, -0.1, 40.1, 30.1))
    assert Polygon(made.outline.interiors[0]).bounds == pytest.approx((10.1, 10.1, 10.3, 24.9))
    lines = {line.stroke: line.points for line in made.lines}
    assert lines[Stroke.VALLEY] == ((0, 8), (40, 8))  # creases stay
    assert np.array(lines[Stroke.CUT]) == pytest.approx(np.array([[20, 5.1], [20, 14.9]]))


def test_slits_stay_joined_where_they_meet_other_cuts() -> None:
    part = replace(slotted(), lines=(Line(((0, 5), (10, 5)), Stroke.CUT), Line(((10, 5), (10, 12)), Stroke.CUT)))
    first, second = (line.points for line in slits(part, 0.3))
    assert first == ((0, 5), (10, 5))
    assert second[0] == (10, 5)
    assert second[1] == pytest.approx((10, 11.85))


def test_what_the_laser_leaves_is_the_part() -> None:
    """resvg draws the lines of the file as wide as the kerf; what stays of the sheet inside is the part as it is meant."""
    kerf, scale = 0.5, 40
    boat = cards.boat_part()
    moved = grown(boat.outline, kerf)
    left, low, right, high = (round(edge) for edge in moved.buffer(2).bounds)

    def drawn(outline: Polygon, look: str) -> np.ndarray:
        data = " ".join("M " + " L ".join(f"{x:.4f} {y:.4f}" for x, y in ring.coords[:-1]) + " Z"
                        for ring in (outline.exterior, *outline.interiors))
        svg = (f'<svg xmlns="http://www.w3.org/2000/svg" width="{right - left}mm" height="{high - low}mm" '
               f'viewBox="{left} {low} {right - left} {high - low}"><path fill-rule="evenodd" d="{data}" {look}/></svg>')
        picture = decoded(bytes(resvg_py.svg_to_bytes(svg_string=svg, dpi=25.4 * scale, background="#ffffff")))
        return picture.mean(axis=2) < 128

    burnt = drawn(moved, f'fill="none" stroke="#000000" stroke-width="{kerf}" stroke-linejoin="miter" stroke-miterlimit="10"')
    sheet = drawn(moved, 'fill="#000000"') & ~burnt
    wanted = drawn(boat.outline, 'fill="#000000"')
    assert wanted.mean() > 0.2
    # edges fall between pixels: at most one pixel along each
    assert (sheet != wanted).sum() <= boat.outline.length * scale
    assert (sheet != wanted).sum() < 0.2 * (drawn(boat.outline, 'fill="#000000"') != drawn(moved, 'fill="#000000"')).sum()


@pytest.mark.parametrize(("width", "gone"), [(0.1, True), (0.29, True), (0.31, False), (1.0, False)])
def test_slots_no_wider_than_the_kerf_are_noticed(width: float, gone: bool) -> None:
    sheet = box(0, 0, 40, 30)
    assert lost(sheet.difference(box(10, 10, 10 + width, 25)), 0.3) is gone  # a hole
    assert lost(sheet.difference(box(10, 10, 10 + width, 30)), 0.3) is gone  # open to the edge
    assert not lost(sheet.difference(box(10, 10, 10 + width, 30)), 0.0)


def test_a_kerf_wider_than_a_slot_is_a_problem_with_its_place(tmp_path: Path) -> None:
    text = (EXAMPLES / "fern-house.card").read_text("utf-8")
    with pytest.raises(Refused) as refused:
        check(read_text(text + "\nkerf 0.9\n"))
    (problem,) = refused.value.problems
    assert (problem.code, problem.at.text) == ("lost-to-kerf", "kerf 0.9")
    assert "ferns" in problem.wrong()
    assert check(read_text(text + "\nkerf 0.1\n")).card.machine.kerf == 0.1


# ---- mats


def test_the_largest_mat_decides_what_can_be_made() -> None:
    small, large = "mat 100 x 100", "mat 11.5 in x 11.5 in"
    with pytest.raises(Refused):
        solve_design(read_text(SHORE.replace(large, small)))
    for mats in (f"{small}\n{large}", f"{large}\n{small}"):
        card = solve_design(read_text(SHORE.replace(large, mats)))
        assert card.mat == (292.1, 292.1)
        assert card.mats == ((100.0, 100.0), (292.1, 292.1))
        assert prove(card).looked_at["mat"] == 2


def test_each_part_may_fit_another_mat() -> None:
    # the cover is 200 x 150: it fits the long mat; the quay has to be 160 wide, which only the square one takes
    text = SHORE.replace("mat 11.5 in x 11.5 in", "mat 155 x 210\nmat 175 x 170").replace("width  60", "width 80")
    card = solve_design(read_text(text))
    sizes = {sheet.paper: (sheet.width, sheet.height) for sheet in lay_out(card)}
    assert sizes["ink"] == (155.0, 210.0)
    with pytest.raises(Refused):
        solve_design(read_text(text.replace("mat 155 x 210\n", "")))
    assert prove(card)
    with pytest.raises(ProofFailed):
        prove(replace(card, mat=(175.0, 170.0), machine=Machine()))


def test_a_kerf_takes_its_room_on_the_mat() -> None:
    tight = SHORE.replace("mat 11.5 in x 11.5 in", "mat 150 x 200")
    assert solve_design(read_text(tight))
    with pytest.raises(Refused) as refused:
        bind_and_solve(tight + "kerf 0.2\n")
    assert "cover" in refused.value.problems[0].wrong() + str(refused.value.problems[0].facts())
    assert solve_design(read_text(tight.replace("mat 150 x 200", "mat 150.2 x 200.2") + "kerf 0.2\n"))


def bind_and_solve(text: str) -> Card:
    return solve_design(read_text(text))


def test_a_sheet_lies_on_the_smallest_mat_that_takes_it_and_none_is_added() -> None:
    large, small, tiny = (200.0, 200.0), (120.0, 200.0), (60.0, 70.0)
    card = replace(cards.crowd(40, mat=large), practice={**HABIT})
    alone = lay_out(card)
    sheets = lay_out(replace(card, machine=Machine(mats=(small, tiny))))
    for paper in card.papers:
        assert sum(s.paper == paper.name for s in sheets) <= sum(s.paper == paper.name for s in alone)
    assert {(s.width, s.height) for s in sheets} <= {large, small, tiny}
    assert sum(s.width * s.height for s in sheets) < sum(s.width * s.height for s in alone)
    assert sorted(p.part.name for s in sheets for p in s.placed) == sorted(part.name for part in card.parts)
    for sheet in sheets:
        room = box(0, 0, sheet.width, sheet.height).buffer(1e-6, join_style="mitre")
        assert all(room.covers(placed.outline) for placed in sheet.placed)


# ---- one script


def test_one_script_for_three_machines() -> None:
    made = {name: check(Asked(variant=name).design(PIER)).card for name in (None, "kitchen", "laser")}
    assert [card.machine.creases for card in made.values()] == ["creased", "perforated", "perforated"]
    assert [card.machine.kerf for card in made.values()] == [0, 0, 0.15]
    assert len(made["kitchen"].mats) == 2
    used = {(sheet.width, sheet.height) for sheet in lay_out(machined(made["kitchen"]))}
    assert used <= set(made["kitchen"].mats)


def test_a_variant_with_a_machine_becomes_a_script_of_its_own() -> None:
    design = Asked(variant="kitchen").design(PIER)
    again = Asked(variant="kitchen").script(PIER)
    assert [(mat.width, mat.height) for mat in again.mats] == [(mat.width, mat.height) for mat in design.mats]
    assert again.machine.creases is not None
    assert design.machine.creases is not None
    assert again.machine.creases.style == design.machine.creases.style == "perforated"
    assert again.machine.creases.dash == design.machine.creases.dash
    other = varied(read_text(SHORE + "kerf 0.2\ncreases ticked length 5\nvariant a\n  creases half-cut\n"),
                   read_text(SHORE + "variant a\n  creases half-cut\n").variants[0])
    assert other.machine.creases is not None
    assert other.machine.kerf is not None
    assert (other.machine.creases.style, other.machine.kerf.width) == ("half-cut", Fraction(1, 5))


def test_the_report_says_how_creases_are_made(tmp_path: Path) -> None:
    import json

    import jsonschema

    from foldwright.emit.report import schema

    for machine in (Machine(creases="perforated", gap=1.5), Machine(creases="ticked", tick=5, kerf=0.1)):
        report = json.loads(build_files(harbour(machine), ())["report.json"])
        jsonschema.Draft202012Validator(schema()).validate(report)
        assert report["machine"]["creases"] == machine.creases
        if machine.gap:
            assert report["machine"]["perforation"][0] == {"paper": "Ink blue", "dash": 3, "gap": 1.5}
        else:
            assert (report["machine"]["tick"], report["machine"]["kerf"]) == (5, 0.1)
        assert [part["area"] for part in report["parts"]] == pytest.approx([p.outline.area for p in cards.harbour().parts])


def test_files_say_the_same_twice() -> None:
    card = harbour(Machine(creases="perforated", kerf=0.15))
    assert build_files(card, ()) == build_files(card, ())
    assert math.isclose(machined(card).parts[0].outline.area, grown(card.parts[0].outline, 0.15).area)


def test_a_bad_machine_is_told_before_anything_is_solved() -> None:
    with pytest.raises(Refused) as refused:
        bind(read_text(SHORE + "creases perforated gap 0.5\n"))
    assert [problem.code for problem in refused.value.problems] == ["out-of-bounds"]
