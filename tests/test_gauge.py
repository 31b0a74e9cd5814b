"""Coupons: read back from their files by other readers, on mats of all sizes, and the line that a reading goes into."""

import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pyogrio
import pytest
import shapely
from ezdxf.filemanagement import read as read_dxf
from lxml import etree
from scripts import call

from foldwright.emit.coupon import NoRoom, coupon, slot_widths
from foldwright.grammar import read_text
from foldwright.solver.card import Machine, Paper
from foldwright.solver.practice import HABITS

HABIT = {habit.name: float(habit.value) for habit in HABITS}
CARD = """card "Pier"
  units mm
cover 100 x 150
  paper ink
paper ink   colour #22304a  weight 216 gsm   # from the drawer
paper weed  colour #3f6f4b  caliper 0.28
mat 200 x 250
"""


@pytest.fixture
def script(tmp_path):
    path = tmp_path / "pier.card"

    def write(text=CARD):
        path.write_text(text, "utf-8")
        return path

    return write


def made(machine, caliper=0.28):
    return coupon("Pier", Paper("weed", "#3f6f4b", None, caliper, False), machine, HABIT)


def cut_rings(dxf: Path):
    """Closed cut lines of a DXF file as GDAL reads them."""
    _, _, geometry, fields = pyogrio.raw.read(dxf, columns=["Layer"])
    return [shapely.Polygon(shape.coords) for shape, layer in zip(shapely.from_wkb(geometry), fields[0], strict=True)
            if layer == "CUT" and shape.is_closed]


def gaps(comb, upright):
    """Widths of the slots along a line through them, 8 mm below their mouths (a comb that opens to the top or the left)."""
    left, low, right, high = comb.bounds
    line = shapely.LineString([(left, high - 8), (right, high - 8)] if upright else [(left + 8, low), (left + 8, high)])
    return [piece.length for piece in shapely.get_parts(shapely.difference(line, comb))]


def test_slots_go_by_a_twentieth_round_the_caliper():
    # Bulk of cardstock in mills' tables is 0.85 to 1.4 cm³/g: 300 g/m² are 0.255 to 0.42 mm, estimated 0.36.
    for caliper in (0.08, 0.1, 0.2, 0.25, 0.28, 0.36, 0.5, 1.0):
        slots = slot_widths(caliper)
        steps = {round(after - before, 6) for before, after in zip(slots, slots[1:], strict=False)}
        assert steps == {0.05}
        assert slots[0] <= max(0.05, 0.85 / 1.2 * caliper), "an estimate may be that much too high"
        assert slots[-1] >= 1.4 / 1.2 * caliper
        assert 4 <= len(slots) <= 14
    assert slot_widths(0.1, kerf=0.15)[0] == pytest.approx(0.2), "no slot is narrower than the cut"


@pytest.mark.parametrize("kerf", [0.0, 0.12])
@pytest.mark.parametrize(("mat", "upright"), [("200 x 250", True), ("150 x 98", False)])
def test_gdal_measures_the_coupon(script, tmp_path, kerf, mat, upright):
    text = CARD.replace("200 x 250", mat) + (f"kerf {kerf}\n" if kerf else "")
    result = call("gauge", script(text), "--out", tmp_path / "cut", "--json")
    assert result.exit_code == 0, result.output
    slots = next(one["slots"] for one in json.loads(result.stdout)["coupons"] if one["paper"] == "weed")
    # what stays when the tool takes half its kerf on either side of the line
    rings = [shapely.buffer(ring, -kerf / 2, join_style="mitre") for ring in cut_rings(tmp_path / "cut" / "coupon-weed.dxf")]
    comb = max(rings, key=lambda ring: len(ring.exterior.coords))
    found = sorted(gaps(comb, upright))
    assert len(found) == len(slots)
    assert max(abs(a - b) for a, b in zip(found, slots, strict=True)) <= 0.0021, "two corners, each rounded to 0.001 mm"
    sides = [(right - left, high - low) for left, low, right, high in (ring.bounds for ring in rings)]
    assert any(abs(a - 50) < 0.0021 and abs(b - 50) < 0.0021 for a, b in sides)
    for number, ring in enumerate(rings):
        assert all(ring.distance(other) >= 3.8 for other in rings[number + 1 :]), "pieces lie apart"
    everything = shapely.union_all(rings).bounds
    width, height = (float(side) for side in mat.split(" x "))
    assert everything[0] > 0
    assert everything[1] > 0
    assert everything[2] < width
    assert everything[3] < height


def test_files_are_sound(script, tmp_path):
    assert call("gauge", script(), "--out", tmp_path / "cut").exit_code == 0
    names = {path.name for path in (tmp_path / "cut").iterdir()} - {".foldwright-files.json"}
    assert names == {f"coupon-{paper}.{form}" for paper in ("ink", "weed") for form in ("svg", "dxf")} | {"how-to-read.html"}
    for path in (tmp_path / "cut").glob("*.dxf"):
        auditor = read_dxf(io.StringIO(path.read_text("utf-8"))).audit()
        assert not auditor.errors
        assert not auditor.fixes
    for path in (tmp_path / "cut").glob("*.svg"):
        root = etree.fromstring(path.read_bytes())
        _, _, width, height = (float(side) for side in root.get("viewBox").split())
        assert (root.get("width"), root.get("height")) == (f"{width:g}mm", f"{height:g}mm")
        assert width <= 200
        assert height <= 250


@pytest.mark.parametrize(("style", "kinds"), [("creased", 1), ("half-cut", 1), ("perforated", 3), ("ticked", 2)])
def test_folds_are_made_as_the_machine_makes_them(style, kinds):
    drawn = made(Machine(mats=((200.0, 250.0),), creases=style)).drawing
    assert drawn.creases == style
    for name in ("coupon-folds-up", "coupon-folds-across"):
        group = next(group for group in drawn.groups if group.name == name)
        assert sum(trace.kind == "valley" for trace in group.traces) == kinds
        for trace in (trace for trace in group.traces if trace.kind == "valley"):
            start, end = trace.points
            assert (start[0] == end[0]) == (name == "coupon-folds-up"), "which way the folds run is what the strip says"


def test_a_turned_coupon_still_says_which_way_its_folds_run():
    drawn = made(Machine(mats=((150.0, 98.0),))).drawing
    assert drawn.width > drawn.height
    up = next(group for group in drawn.groups if group.name == "coupon-folds-up")
    assert all(trace.points[0][0] == trace.points[1][0] for trace in up.traces if trace.kind == "valley")


def test_perforations_have_the_lengths_that_stand_beside_them():
    found = made(Machine(mats=((200.0, 250.0),)))
    strip = next(group for group in found.drawing.groups if group.name == "coupon-perforations")
    runs = {}
    for trace in strip.traces:
        if trace.kind == "cut" and not trace.closed:
            (x, low), (_, high) = trace.points
            runs.setdefault(x, []).append((low, high))
    measured = []
    for spans in (sorted(runs[x]) for x in sorted(runs)):
        cuts = {round(high - low, 3) for low, high in spans}
        bridges = {round(after[0] - before[1], 3) for before, after in zip(spans, spans[1:], strict=False)}
        assert len(cuts) == len(bridges) == 1
        measured.append((cuts.pop(), bridges.pop()))
    assert measured == list(found.perforations)
    assert found.perforations[0] == (3.0, 2.0), "what practice takes for 0.28 mm"


def test_the_smallest_mat_that_takes_the_coupon_is_enough():
    room = made(Machine(mats=((500.0, 500.0),))).drawing
    with pytest.raises(NoRoom) as fault:
        made(Machine(mats=((60.0, 60.0),)))
    needs = fault.value.needs
    assert made(Machine(mats=((60.0, 60.0), needs))).drawing == room
    with pytest.raises(NoRoom):
        made(Machine(mats=((needs[0] - 2, needs[1] - 2),)))


def test_a_mat_too_small_is_a_problem_with_a_place(script, tmp_path):
    result = call("gauge", script(CARD.replace("200 x 250", "80 x 90")), "--out", tmp_path / "cut")
    assert result.exit_code == 1
    assert "value-wrong" in result.output
    assert "mat 80 x 90" in result.output
    assert not (tmp_path / "cut").exists()


def test_the_card_itself_need_not_be_possible(script, tmp_path):
    text = CARD + "tent quay on spine\n  paper weed\n  wall 900\n"
    assert call("check", script(text)).exit_code == 1
    assert call("gauge", script(text), "--out", tmp_path / "cut").exit_code == 0


@pytest.mark.parametrize(("text", "code"), [
    (CARD.replace("caliper 0.28", "caliper 3"), "value-wrong"),
    ('card "Bare"\n  units mm\ncover 100 x 150\nmat 200 x 250\n', "missing-statement"),
    (CARD.replace("weight", "wait"), "unknown-setting"),
])
def test_faults_of_the_script_write_nothing(script, tmp_path, text, code):
    result = call("gauge", script(text), "--out", tmp_path / "cut", "--json")
    assert result.exit_code == 1
    assert code in [problem["code"] for problem in json.loads(result.stdout)["problems"]]
    assert not (tmp_path / "cut").exists()


def test_without_a_script_and_with_what_the_call_says(tmp_path):
    result = call("gauge", "--paper", "cardstock weight 300 gsm", "--mat", "150 x 200", "--out", tmp_path / "cut", "--json")
    assert result.exit_code == 0, result.output
    (one,) = json.loads(result.stdout)["coupons"]
    assert (one["paper"], one["estimated"]) == ("cardstock", True)
    assert one["caliper"] == pytest.approx(0.36)  # 300 g/m² at 1.2 cm³/g
    assert call("gauge", "--paper", "card weight 300 gsm", "--out", tmp_path / "other").exit_code == 2
    assert call("gauge", "--out", tmp_path / "third", "--json").exit_code == 0


def test_a_folder_of_something_else_stays(script, tmp_path):
    (tmp_path / "cut").mkdir()
    (tmp_path / "cut" / "mine.txt").write_text("mine")
    assert call("gauge", script(), "--out", tmp_path / "cut").exit_code == 2
    assert [path.name for path in (tmp_path / "cut").iterdir()] == ["mine.txt"]


class Page(HTMLParser):
    """Open elements, links to elsewhere, and the text."""

    def __init__(self):
        super().__init__()
        self.open, self.links, self.text = [], [], ""

    def handle_starttag(self, tag, attrs):
        if tag not in ("meta", "img"):
            self.open.append(tag)
        self.links += [value for name, value in attrs if name in ("src", "href")]

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text += data


def test_the_page_is_whole_small_and_says_what_to_do(script, tmp_path):
    path = script(CARD.replace('"Pier"', '"Pier <b> & sea"'))
    assert call("gauge", path, "--out", tmp_path / "cut").exit_code == 0
    content = (tmp_path / "cut" / "how-to-read.html").read_text("utf-8")
    assert len(content) < 60_000
    page = Page()
    page.feed(content)
    assert not page.open
    assert page.links
    assert all(link.startswith("data:image/svg+xml;base64,") for link in page.links)
    assert "Pier <b> & sea" in page.text
    for words in ("50 mm", "0.259 mm, an estimate from the weight", "the caliper", "fingers behind the blade", "young children",
                  "Slivers", "Local rules", "grain across", "without a pen", "never leave a laser at work alone"):
        assert words in page.text, words
    shown = re.search(r"foldwright gauge pier\.card (--read \S+)", page.text)[1].split()
    assert call("gauge", path, *shown).exit_code == 0, "the call that the page shows works"


def test_the_line_with_a_reading_is_what_the_script_needs(script):
    path = script()
    result = call("gauge", path, "--read", "weed=0.3", "--read", "ink=0.010 in")
    assert result.stdout.splitlines() == [
        "paper weed  colour #3f6f4b  caliper 0.3 mm", "paper ink   colour #22304a  weight 216 gsm  caliper 0.010 in"]
    for line in result.stdout.splitlines():
        read = read_text(f'card "Pier"\n  units in\ncover 4 x 6\n{line}\nmat 8 x 10\n').papers[0]
        assert float(read.caliper) == pytest.approx(0.3 if read.name.text == "weed" else 0.254)
    assert json.loads(call("gauge", path, "--read", "weed=0.3", "--json").stdout) == {
        "lines": ["paper weed  colour #3f6f4b  caliper 0.3 mm"], "written": None}


def test_readings_are_written_into_a_new_script_and_nowhere_else(script, tmp_path):
    path, new = script(CARD.replace("caliper 0.28", "caliper 0.28  # from the cupboard")), tmp_path / "new.card"
    before = path.read_text("utf-8")
    result = call("gauge", path, "--read", "weed=0.3", "--read", "ink=0.24", "--write", new)
    assert result.exit_code == 0, result.output
    text = new.read_text("utf-8")
    assert text == before.replace("caliper 0.28 ", "caliper 0.3 mm ").replace("216 gsm", "216 gsm  caliper 0.24 mm")
    assert "# from the cupboard" in text
    assert path.read_text("utf-8") == before
    assert "exists already" in call("gauge", path, "--read", "weed=0.3", "--write", new).output
    assert "with --read" in call("gauge", path, "--out", tmp_path / "cut", "--write", tmp_path / "other.card").output
    assert "take away --paper" in call("gauge", path, "--paper", "weed caliper 0.3", "--read", "weed=0.3").output
    assert "cannot be written" in call("gauge", path, "--read", "weed=0.3", "--write", tmp_path / "no" / "x.card").output
    assert sorted(entry.name for entry in tmp_path.iterdir()) == sorted([path.name, new.name])


@pytest.mark.parametrize("given", ["weed", "sand=0.3", "weed=", "weed=wide", "weed=7", "weed=0", "weed=1/0", "weed=nan",
                                   "weed=-0.3"])
def test_a_wrong_reading_is_told(script, given):
    result = call("gauge", script(), "--read", given)
    assert result.exit_code == 2
    assert f"--read '{given}'" in result.output


def test_a_call_wants_a_folder_or_a_reading(script, tmp_path):
    assert call("gauge", script()).exit_code == 2
    assert call("gauge", script(), "--out", tmp_path / "cut", "--read", "weed=0.3").exit_code == 2
    assert call("gauge", "--read", "cardstock=0.3").exit_code == 2
    assert not (tmp_path / "cut").exists()
