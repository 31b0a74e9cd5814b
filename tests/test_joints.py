"""Parts too long for every mat: cut in pieces, joined again, and what comes of it in files, steps and thickness."""

from __future__ import annotations

import re
from dataclasses import replace
from math import ceil, cos, pi, sin
from pathlib import Path

import pyogrio
import pytest
import shapely
from shapely import from_wkb
from shapely.affinity import rotate, translate
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from foldwright.api import applied, check, repairs
from foldwright.asked import Asked
from foldwright.emit import build_files
from foldwright.emit.drawing import outline_paths
from foldwright.emit.machined import machined
from foldwright.emit.sides import Sides
from foldwright.grammar import Refused, read, read_text
from foldwright.solver.card import Card, Joined, Part, Stroke
from foldwright.solver.joints import with_joints
from foldwright.solver.pieces import as_cut
from foldwright.solver.proof import ProofFailed, prove
from foldwright.solver.seams import Habits
from foldwright.solver.splitting import Split, split
from foldwright.solver.stack import stack_map
from foldwright.solver.variants import varied

EXAMPLES = Path(__file__).parent.parent / "examples"
OVERLAP, MARGIN, INSET = 10.0, 3.0, 1.0  # mm, the habits of the workshop
STYLES = ("overlap", "strip")
EXACT = 1e-6

QUAY = """card "Quay"
  units mm
cover 100 x 150
  paper ink
paper ink   colour #22304a  weight 200 gsm
paper sand  colour #d8c49a  caliper 0.25
mat 160 x 145
tent quay on spine
  paper  sand
  at     40
  width  60
  spread 20
  wall   20 to 60
"""
TWO_WINDOWS = QUAY.split("tent quay")[0].replace("160 x 145", "160 x 130") + """optional window moon on cover.right
  width  60
  height 84
optional window lamp on cover.left
  width  60
  height 84
"""


def habits(style: str) -> Habits:
    return Habits(OVERLAP, MARGIN, INSET, style == "strip")


def fits(room: tuple[float, float], width: float, height: float) -> bool:
    return any(w <= room[0] + EXACT and h <= room[1] + EXACT for w, h in ((width, height), (height, width)))


def size(shape: BaseGeometry) -> tuple[float, float]:
    left, low, right, high = shape.bounds
    return right - left, high - low


def made(outline: Polygon, room: tuple[float, float], style: str, keep_off: BaseGeometry | None = None) -> Split:
    found = split(outline, keep_off or Polygon(), lambda *each: fits(room, *each), habits(style))
    assert found is not None
    return found


def leaf(bumps: int = 3) -> Polygon:
    """A wavy outline, like that of a drawing."""
    angles = [k * pi / 180 for k in range(360)]
    return Polygon([((90 + 4 * cos(bumps * a)) * cos(a), 55 * sin(a)) for a in angles])


OUTLINES = {
    "sheet": (box(0, -125, 175, 125), (190, 200)),
    "three": (box(0, -150, 150, 150), (160, 120)),
    "disc": (Point(0, 0).buffer(90, 64), (120, 200)),
    "stirrup": (box(0, 0, 200, 100) - box(30, 30, 170, 101), (120, 120)),
    "leaf": (leaf(), (115, 120)),
    "framed": (box(0, 0, 260, 90) - box(20, 20, 110, 70) - box(150, 20, 240, 70), (150, 100)),
    "turned": (rotate(box(0, 0, 230, 40), 20), (200, 140)),
}


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("name", OUTLINES)
def test_pieces_make_up_the_outline_and_fit(name: str, style: str) -> None:
    outline, room = OUTLINES[name]
    found = made(outline, room, style)
    pieces = [piece.outline for piece in found.pieces]
    laps = [lap for *_, lap, _ in found.seams]
    sheets = pieces + (laps if style == "strip" else [])
    assert shapely.union_all(pieces).symmetric_difference(outline).area < EXACT
    assert shapely.union_all([piece.body for piece in found.pieces]).symmetric_difference(outline).area < EXACT
    assert sum(piece.area for piece in sheets) - sum(lap.area for lap in laps) == pytest.approx(outline.area, abs=1e-5)
    assert all(isinstance(piece, Polygon) and piece.is_valid and fits(room, *size(piece)) for piece in pieces)
    assert len(found.seams) == len(pieces) - 1
    for start, end, lap, owner in found.seams:
        seam = LineString([start, end])
        assert outline.buffer(EXACT).covers(seam)
        assert outline.boundary.distance(Point(start)) < EXACT
        assert outline.boundary.distance(Point(end)) < EXACT
        assert outline.covers(lap)
        assert outline.boundary.distance(lap) >= INSET / 2 - EXACT, "a tongue is seen beside its piece"
        assert all(Polygon(ring).distance(lap.union(seam)) >= MARGIN - EXACT for ring in outline.interiors)
        assert owner == -1 if style == "strip" else pieces[owner].covers(lap.buffer(-EXACT))
        deep = lap.area / (seam.length - 4)
        assert deep == pytest.approx(2 * OVERLAP if style == "strip" else OVERLAP, rel=0.1)


@pytest.mark.parametrize("long", [150.0, 230.0, 290.0, 410.0])
def test_there_are_as_few_pieces_as_can_be(long: float) -> None:
    """On a plain strip every piece but the last is longer by its tongue; strips add nothing."""
    room = (60.0, 100.0)
    for style, lost in (("overlap", OVERLAP), ("strip", 0.0)):
        least = ceil((long - lost) / (room[1] - lost) - EXACT)
        assert len(made(box(0, 0, long, 59), room, style).pieces) == least


def test_seams_keep_off_what_they_are_told() -> None:
    lines = shapely.MultiLineString([[(k, 0), (k, 60)] for k in (100, 113, 130, 140)])
    found = made(box(0, 0, 200, 60), (140, 60), "overlap", lines)
    ((start, _, lap, _),) = found.seams
    assert lines.distance(lap) >= MARGIN
    assert 60 <= start[0] <= 140
    crease = LineString([(0, 20), (200, 20)])
    assert split(box(0, 0, 200, 60), crease, lambda *each: fits((140, 60), *each), habits("overlap")) is None


def test_a_seam_slants_only_where_it_must() -> None:
    """Creases that slant by 15 degrees leave no place for a square seam."""
    shape = rotate(box(0, 0, 300, 60), 0)
    away = [translate(rotate(LineString([(0, -20), (0, 80)]), -15, origin=(0, 0)), k) for k in range(10, 300, 22)]
    lines = shapely.union_all(away).intersection(shape)
    found = made(shape, (200, 100), "overlap", lines)
    ((start, end, lap, _),) = found.seams
    assert abs(end[0] - start[0]) == pytest.approx(60 * sin(pi / 12) / cos(pi / 12), abs=1e-6)
    assert lines.distance(lap) >= MARGIN - EXACT
    assert shapely.union_all([piece.outline for piece in found.pieces]).symmetric_difference(shape).area < EXACT


def test_a_comb_has_no_place_for_a_seam() -> None:
    comb = shapely.union_all([box(0, 0, 200, 40), *(box(10 * k, 40, 10 * k + 5, 90) for k in range(20))])
    for style in STYLES:
        assert split(comb, Polygon(), lambda *each: fits((120, 120), *each), habits(style)) is None


def test_seams_prefer_places_that_are_not_seen() -> None:
    sheet = box(0, -125, 175, 125)
    found = split(sheet, LineString([(0, 0), (175, 0)]), lambda *each: fits((190, 200), *each), habits("strip"),
                  lambda lap: 2.0 if lap.centroid.y < 0 else 1.0)
    assert found is not None
    assert found.seams[0][0][1] > 0


# ---- whole cards

def card_with(name: str, style: str, mat: str) -> Card:
    return check(Asked(mats=(mat,), joints=style).design(EXAMPLES / name)).card


CARDS = [("pleasure-pier.card", "overlap", "180 x 220", {"cover"}),
         ("pleasure-pier.card", "strip", "180 x 220", {"cover"}),
         ("tide-pool.card", "overlap", "150 mm x 190 mm", {"cover", "page"}),
         ("tide-pool.card", "strip", "150 mm x 190 mm", {"cover", "page"})]


@pytest.fixture(scope="module", params=CARDS, ids=lambda each: f"{each[0]}-{each[1]}")
def joined_card(request: pytest.FixtureRequest) -> tuple[Card, set[str]]:
    name, style, mat, wholes = request.param
    return card_with(name, style, mat), wholes


def in_space(card: Card, panel: str, shape: BaseGeometry, other: str) -> BaseGeometry:
    """A shape on a panel, seen in the coordinates of another panel in its plane, by way of the closed card."""
    placed = card.pose(0.0)
    own, host = placed[panel], placed[other]

    def moved(uv):  # type: ignore[no-untyped-def]
        space = own.points(uv) - host.origin
        return shapely.get_coordinates(shapely.points(space @ host.along, space @ host.up))

    return shapely.transform(shape, moved)


def test_seams_of_a_card_keep_off_creases_slits_holes_and_glue(joined_card: tuple[Card, set[str]]) -> None:
    card, wholes = joined_card
    assert {one.whole.name for one in card.joined} == wholes
    panels = {panel.name: panel for panel in card.panels}
    looked = 0
    for one in card.joined:
        for lap in one.laps:
            glued = lap.outline.union(LineString([lap.start, lap.end]))
            for hinge in card.hinges:
                if panels[hinge.left].part == one.whole.name:
                    looked += 1
                    assert glued.distance(LineString([hinge.start, hinge.end])) >= MARGIN - EXACT
            for line in one.whole.lines:
                if line.stroke is Stroke.CUT:
                    assert glued.distance(LineString(line.points)) >= MARGIN - EXACT
            for bond in card.bonds:
                if panels[bond.host].part == one.whole.name and panels[bond.panel].tab:
                    looked += 1
                    there = in_space(card, bond.panel, panels[bond.panel].outline, bond.host)
                    assert glued.distance(there.intersection(panels[bond.host].outline)) >= MARGIN - EXACT
    assert looked >= 4


def test_pieces_of_a_card_fit_and_are_proved(joined_card: tuple[Card, set[str]]) -> None:
    card, _ = joined_card
    assert prove(card).looked_at["joints"] > 0
    names = [part.name for part in as_cut(card).parts]
    assert len(names) == len(set(names))
    labels = [part.label for part in as_cut(card).parts]
    assert len(labels) == len(set(labels))
    for part in as_cut(card).parts:
        assert any(fits(mat, *size(part.outline)) for mat in card.mats)
    for one in card.joined:
        count = len(one.pieces)
        assert [piece.name for piece in one.pieces] == [f"{one.whole.name} {k} of {count}" for k in range(1, count + 1)]
        creases = {line for line in one.whole.lines if line.stroke in (Stroke.MOUNTAIN, Stroke.VALLEY)}
        assert {line for piece in one.pieces for line in piece.lines} >= creases, "each crease stays whole, on one piece"


def test_a_part_is_joined_before_it_is_used(joined_card: tuple[Card, set[str]]) -> None:
    card, _ = joined_card
    for one in card.joined:
        used = [number for number, step in enumerate(card.steps) if one.whole.name in step.parts]
        joins = [number for number, step in enumerate(card.steps) if step.text.startswith(f"Join {one.whole.name}:")]
        assert len(joins) == 1
        assert joins[0] < used[0]
        assert set(card.steps[joins[0]].parts) == {piece.name for piece in (*one.pieces, *one.strips)}
        assert any(one.whole.name in note.text for note in card.notes)
    known = {part.name for part in as_cut(card).parts}
    assert all(set(step.parts) <= known for step in as_cut(card).steps)


def test_the_closed_stack_knows_the_second_sheet(joined_card: tuple[Card, set[str]]) -> None:
    """Cell by cell the joined card is thicker by a caliper and the glue where the laps lie, and nowhere else."""
    card, _ = joined_card
    more = stack_map(card).thickness - stack_map(replace(card, joined=())).thickness
    caliper = {paper.name: paper.caliper for paper in card.papers}
    volume = sum(lap.outline.area * (caliper[one.whole.paper] + card.practice["joint.thickness"])
                 for one in card.joined for lap in one.laps)
    assert more.min() >= 0
    assert more.sum() * stack_map(card).cell[0] * stack_map(card).cell[1] == pytest.approx(volume, rel=0.03)


def test_the_proof_finds_pieces_that_are_wrong(joined_card: tuple[Card, set[str]]) -> None:
    card, _ = joined_card
    one = card.joined[0]
    piece = one.pieces[0]
    moved = replace(piece, outline=translate(piece.outline, 0.01, 0.01))
    short = replace(piece, outline=piece.outline.buffer(-0.5, join_style="mitre"))
    low = replace(one.laps[0], outline=translate(one.laps[0].outline, 0, 40), start=(one.laps[0].start[0], 0.0))
    wrong: list[Joined] = [replace(one, pieces=(moved, *one.pieces[1:])), replace(one, pieces=(short, *one.pieces[1:])),
                           replace(one, laps=(low, *one.laps[1:]))]
    for other in wrong:
        with pytest.raises(ProofFailed, match="joints"):
            prove(replace(card, joined=(other, *card.joined[1:])))
    with pytest.raises(ProofFailed, match="mat"):
        prove(replace(card, joined=()))


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("kerf", [None, "0.2"])
def test_gdal_finds_the_pieces_in_the_sheets(style: str, kerf: str | None, tmp_path: Path) -> None:
    """Rings of the cut layer of each sheet, as areas: those of the pieces as they are drawn for the machine."""
    card = check(Asked(mats=("160 x 145",), joints=style, kerf=kerf).design(written(tmp_path, QUAY))).card
    found = []
    files = build_files(card, ())
    for name, data in files.items():
        if not re.fullmatch(r"sheet-\d+-ink\.dxf", name):
            continue
        (tmp_path / name).write_bytes(data)
        _, _, shapes, fields = pyogrio.raw.read(tmp_path / name, columns=["Layer"])
        rings = [from_wkb(shape) for shape, layer in zip(shapes, fields[0], strict=True) if layer == "CUT"]
        lines = shapely.union_all([ring.boundary if ring.geom_type == "Polygon" else ring for ring in rings])
        found += [area.area for area in shapely.get_parts(shapely.polygonize([lines]))]
    wanted = [part.outline.area for part in machined(card).parts if part.paper == "ink"]
    (one,) = card.joined
    assert len(wanted) == len(one.pieces) + len(one.strips) >= 2
    assert sorted(found) == pytest.approx(sorted(wanted), abs=0.2)  # 0.001 mm of rounding round 600 mm of outline
    drawn = files["all-parts.svg"].decode()
    assert all(part.label in drawn for part in as_cut(card).parts)


def written(folder: Path, text: str) -> Path:
    (folder / "quay.card").write_text(text, "utf-8")
    return folder / "quay.card"


def test_template_pages_have_the_part_whole() -> None:
    card = check(read_text(QUAY + "joints overlap\n")).card
    sides = Sides(card)
    assert [part.name for part in sides.seen(False, marks=True, whole=True).parts] == ["cover", "quay"]
    assert [part.name for part in sides.seen(True).parts] == ["cover 1 of 2", "cover 2 of 2", "quay"]


@pytest.mark.parametrize("up", [True, False])
def test_labels_of_tongues_and_strips_are_hidden(up: bool) -> None:
    """A tongue's printed face lies against the other piece; from the back that piece is hidden under the tongue."""
    card = check(read_text(QUAY + "joints overlap\n")).card
    (one,) = card.joined
    (lap,) = one.laps
    labels = Sides(card).labels(up)
    hidden = lap.under if up else next(piece.name for piece in one.pieces if piece.name != lap.under)
    assert labels[hidden].hidden
    strip = check(read_text(QUAY + "joints strip\n")).card
    assert Sides(strip).labels(True)["cover strip"].hidden


def test_curves_of_a_drawing_stay_curves_on_the_pieces(tmp_path: Path) -> None:
    """A window with a drawn outline in a cover that is cut beside it: its hole has the same bends as on the whole."""
    drawn = "M 20 2 C 32 2 38 12 38 20 C 38 30 30 38 20 38 C 12 38 2 32 2 20 C 2 10 8 2 20 2 Z"
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 40"><path d="{drawn}"/></svg>'
    (tmp_path / "moon.svg").write_text(svg, "utf-8")
    text = QUAY + 'window moon on cover.left\n  art "moon.svg" width 40\n  at 75 x 60\njoints overlap\n'
    (one,) = check(written(tmp_path, text)).card.joined

    def bends(part: Part) -> int:
        return sum(bool(bend) for path in outline_paths(part.outline, part.drawn) for bend in path.bends)

    assert bends(one.whole) == 4
    assert sorted(map(bends, one.pieces)) == [0, 4]


# ---- what scripts say

def test_without_the_statement_the_mat_is_a_limit_and_the_way_out_is_told(tmp_path: Path) -> None:
    path = written(tmp_path, QUAY)
    with pytest.raises(Refused) as refused:
        check(path)
    assert {problem.code for problem in refused.value.problems} == {"cannot-hold"}
    assert "`joints overlap` as a new line below line 7" in "".join(refused.value.problems[0].hints())
    (change,) = [change for change in repairs(path).changes if "joints overlap" in change.words]
    new = applied(path, change)
    assert new.splitlines()[6:8] == ["mat 160 x 145", "joints overlap"]
    assert check(read_text(new)).card.joined


def test_a_mat_too_small_for_the_width_is_a_conflict() -> None:
    with pytest.raises(Refused) as refused:
        check(read_text(QUAY.replace("mat 160 x 145", "mat 140 x 130") + "joints overlap\n"))
    (problem,) = refused.value.problems
    assert "along its shorter side, and so are the pieces" in problem.wrong()


def test_a_part_with_a_crease_along_it_cannot_be_joined() -> None:
    """The cover is higher than the mat is long, and a seam across it would have to cross the spine."""
    text = QUAY.replace("cover 100 x 150", "cover 50 x 150").replace("mat 160 x 145", "mat 120 x 120")
    with pytest.raises(Refused) as refused:
        check(read_text(text.replace("spread 20", "spread 15").replace("20 to 60", "25") + "joints strip\n"))
    (problem,) = refused.value.problems
    assert problem.code == "no-seam"
    assert problem.at is not None
    assert problem.at.text == "joints strip"
    assert "cover (150 mm x 100 mm) fits no mat" in problem.wrong()
    assert [label.text for label in problem.related()] == ["cover"]
    assert len(problem.hints()) == 2


def test_nothing_is_cut_that_fits() -> None:
    card = check(read_text(QUAY.replace("mat 160 x 145", "mat 300 x 300") + "joints overlap\n")).card
    assert card.joined == ()
    assert with_joints(card) is card
    assert as_cut(card) is card


def test_a_variant_joins_or_leaves_it() -> None:
    text = QUAY.replace("mat 160 x 145", "mat 300 x 300\njoints strip") + (
        "variant kitchen\n  mat 160 x 145\nvariant press\n  joints none\nvariant slim\n  joints overlap\n  mat 145 x 160\n")
    design = read_text(text)
    joints = {variant.name.text: check(varied(design, variant)).card for variant in design.variants}
    assert len(joints["kitchen"].joined[0].strips) == 1
    assert joints["press"].joined == ()
    assert joints["press"].machine.joints == ""
    assert joints["slim"].joined[0].strips == ()


def test_a_grain_turns_pieces_as_their_part() -> None:
    """The cover's crease runs along its height: with the grain along the mat the pieces stand upright on it."""
    text = QUAY.replace("weight 200 gsm", "weight 200 gsm  grain along").replace("mat 160 x 145", "mat 145 x 160")
    card = check(read_text(text + "joints overlap\n")).card
    (one,) = card.joined
    for piece in one.pieces:
        width, height = size(piece.outline)  # u runs along the crease
        assert width <= 160
        assert height <= 145


def test_what_leaves_no_place_for_a_seam_does_not_fit_if_it_is_optional() -> None:
    """A window in each page leaves none; without the later one there is room on its page."""
    plain = TWO_WINDOWS.replace("optional ", "")
    with pytest.raises(Refused) as refused:
        check(read_text(plain + "joints overlap\n"))
    assert [problem.code for problem in refused.value.problems] == ["no-seam"]
    card = check(read_text(TWO_WINDOWS + "joints overlap\n")).card
    assert card.choices is not None
    assert [(chosen.what, chosen.option) for chosen in card.choices.chosen] == [("moon", "there"), ("lamp", "left out")]
    assert card.joined[0].laps[0].panel == "cover.left"


def test_the_report_tells_of_joints(tmp_path: Path) -> None:
    import json

    import jsonschema

    from foldwright.emit.report import schema

    card = check(read_text(QUAY + "joints strip\n")).card
    data = json.loads(build_files(card, ())["report.json"])
    jsonschema.validate(data, schema())
    (one,) = data["joined"]
    assert (one["part"], one["style"], one["strips"]) == ("cover", "strip", ["cover strip"])
    names = {part["name"] for part in data["parts"]}
    assert {*one["pieces"], *one["strips"]} <= names
    assert "cover" not in names
    assert all(set(step["parts"]) <= names for step in data["steps"])
    assert {placed["name"] for sheet in data["sheets"] for placed in sheet["parts"]} == names


def test_examples_read_as_they_did() -> None:
    """`joints` is no word that a script used before."""
    for path in EXAMPLES.glob("*.card"):
        design = read(path)
        assert design.machine.joints is None or path.name == "pleasure-pier.card"
