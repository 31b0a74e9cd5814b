"""The example cards as a whole: built, read back by other libraries, and refused by the proof once damaged."""

import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pyogrio
import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.svgLib.path import parse_path
from lxml import etree
from shapely import affinity, from_wkb
from shapely.geometry import Point

from foldwright.api import build, check, fixed_script
from foldwright.grammar import Refused
from foldwright.solver.card import Line, Machine, Placement, Stroke
from foldwright.solver.proof import CHECKS, ProofFailed, prove

ROOT = Path(__file__).parent.parent
EXAMPLES = ROOT / "examples"
WRITTEN = 0.002  # mm: files give three decimals, so that a width may be off by one in the last on both ends
# mm: how far curves may be from each other: in SVG 0.005 from the polygon that the report measures, in DXF 0.02 as arcs,
# and GDAL reads each arc as short chords; at both ends of an extent
CURVES, ARCS = 2 * 0.005 + WRITTEN, 2 * (0.02 + 0.005) + WRITTEN
BUILT = sorted(path.stem for path in EXAMPLES.glob("*.card") if path.stem != "too-tight")


@pytest.fixture(scope="module")
def tide():
    return check(EXAMPLES / "tide-pool.card")


@pytest.fixture(scope="module", params=BUILT)
def built(request, tmp_path_factory):
    """Name of an example and the folder that it was built into."""
    out = tmp_path_factory.mktemp(request.param) / "cut"
    files = build(EXAMPLES / f"{request.param}.card", out)
    assert {path.name for path in files} == {path.name for path in out.iterdir() if path.name[0] != "."}
    return request.param, out


def report_of(out):
    return json.loads((out / "report.json").read_text("utf-8"))


# ---- built and read back


def extent(paths):
    """Width and height of some SVG paths, curves by their true extent (fontTools)."""
    pen = BoundsPen(None)
    for path in paths:
        parse_path(path, pen)
    left, low, right, high = pen.bounds
    return right - left, high - low


def test_nothing_jams_rubs_or_sticks_out_in_an_example(built):
    _, out = built
    assert report_of(out)["events"] == []


def test_all_files_are_there_and_the_report_keeps_its_schema(built):
    _, out = built
    report = report_of(out)
    schema = json.loads((ROOT / "emit" / "report.schema.json").read_text("utf-8"))
    jsonschema.validators.validator_for(schema)(schema).validate(report)
    svg, dxf = ({path.stem for path in out.glob(f"*.{kind}")} for kind in ("svg", "dxf"))
    assert svg == dxf
    assert "all-parts" in svg
    assert len(svg) == len(report["sheets"]) + 1
    assert report["parts"]
    assert report["cautions"]


def test_tide_pool_is_a_rich_card(tide):
    assert len(tide.card.parts) >= 20
    assert len({part.paper for part in tide.card.parts}) == 4


def test_svg_is_true_to_size(built):
    """Each part's cut lines, read by lxml, span the size that the report gives; one unit is one millimetre."""
    _, out = built
    root = etree.parse(str(out / "all-parts.svg")).getroot()
    box = [float(number) for number in root.get("viewBox").split()]
    for side, size in (("width", box[2]), ("height", box[3])):
        assert root.get(side).endswith("mm")
        assert float(root.get(side).removesuffix("mm")) == size
    space = {"svg": "http://www.w3.org/2000/svg"}  # the namespace of the SVG 1.1 recommendation
    sizes = {}
    for title in root.iterfind(".//svg:g/svg:title", space):
        paths = title.getparent().findall("svg:g[@class='cut']/svg:path", space)
        if paths:
            sizes[title.text.split()[-1]] = sorted(extent(path.get("d") for path in paths))
    parts = report_of(out)["parts"]
    assert set(sizes) == {part["name"] for part in parts}
    for part in parts:
        assert sizes[part["name"]] == pytest.approx(sorted(part["size"]), abs=CURVES)


def test_dxf_holds_the_same_cuts_as_svg(built):
    _, out = built
    for path in sorted(out.glob("*.dxf")):
        _, _, shapes, (layers,) = pyogrio.raw.read(path, columns=["Layer"])
        assert set(layers) <= {stroke.value.upper() for stroke in Stroke}
        cuts = np.vstack([np.array(from_wkb(s).coords)[:, :2] for s, name in zip(shapes, layers, strict=True) if name == "CUT"])
        root = etree.parse(str(path.with_suffix(".svg"))).getroot()
        drawn = root.xpath(".//*[local-name()='g' and @class='cut']/*[local-name()='path']/@d")
        # the two formats count v in opposite directions; the extent is the same, up to the arcs that stand for curves in DXF
        assert np.ptp(cuts, axis=0) == pytest.approx(extent(drawn), abs=ARCS)


def test_two_processes_write_the_same_bytes(tmp_path):
    contents = []
    for seed in ("1", "2"):
        out = tmp_path / seed
        command = [sys.executable, "-m", "foldwright.command", "build", "tide-pool.card", "--out", str(out)]
        subprocess.run(command, cwd=EXAMPLES, env={**os.environ, "PYTHONHASHSEED": seed}, check=True, capture_output=True)
        contents.append({path.name: path.read_bytes() for path in out.iterdir()})
    assert len(contents[0]) >= 10
    assert contents[0] == contents[1]


def test_too_tight_names_the_lines_that_clash():
    with pytest.raises(Refused) as refused:
        check(EXAMPLES / "too-tight.card")
    problem = refused.value.problems[0]
    lines = (EXAMPLES / "too-tight.card").read_text("utf-8").splitlines()
    named = {problem.at.line} | {label.at.line for label in problem.related()}
    words = {lines[number - 1].split()[0] for number in named}
    assert problem.code == "cannot-hold"
    assert words >= {"cover", "rise"}
    assert len(problem.sentences) >= 2


def test_found_dimensions_written_back_solve_to_the_same(tide, tmp_path):
    shutil.copytree(EXAMPLES / "art", tmp_path / "art")
    script = tmp_path / "fixed.card"
    script.write_text(fixed_script(tide), "utf-8")
    assert " to " not in re.sub(r"#.*|\".*?\"", "", script.read_text("utf-8")), "every range became a value"
    assert check(script).card.dimensions == tide.card.dimensions


# ---- the proof finds what is damaged


def with_pose(card, panel, change):
    """The card with one panel's placement changed: change(placement, angle), of one angle or of many at once."""

    def pose(angle):
        placed = dict(card.pose(angle))
        placed[panel] = change(placed[panel], angle)
        return placed

    return replace(card, pose=pose)


def shifted(card, panel, by, after=-1.0):
    """The card with a panel moved in space by a vector at all angles beyond `after`."""

    def change(p, angle):
        return Placement(p.origin + np.where(np.asarray(angle)[..., None] > after, by, 0), p.along, p.up)

    return with_pose(card, panel, change)


def stretched(card, panel):
    # one part in 10^5 is 0.0005 mm on a wall: less than closed pose allows, more than rounding
    return with_pose(card, panel, lambda p, _: Placement(p.origin, p.along * 1.00001, p.up))


def with_outline(card, name, change):
    panels = tuple(replace(p, outline=change(p.outline)) if p.name == name else p for p in card.panels)
    return replace(card, panels=panels)


def flipped_hinge(card):
    index = next(i for i, hinge in enumerate(card.hinges) if hinge.left == "tank.back_left")
    hinge = card.hinges[index]
    other = Stroke.VALLEY if hinge.stroke is Stroke.MOUNTAIN else Stroke.MOUNTAIN
    return replace(card, hinges=(*card.hinges[:index], replace(hinge, stroke=other), *card.hinges[index + 1 :]))


def shrunk_tab(card):
    hinge = next(h for h in card.hinges if h.right == "weeds.a1_start")
    middle = tuple((np.array(hinge.start) + np.array(hinge.end)) / 2)
    return with_outline(card, "weeds.a1_start", lambda outline: affinity.scale(outline, 0.5, 0.5, origin=middle))


def lowered_slots(card):
    return with_outline(card, "weeds.a1", lambda outline: affinity.translate(outline, 0, -0.2))


def with_habit(card, name, value):
    return replace(card, practice={**card.practice, name: value})


def with_part(card, **fields):
    return replace(card, parts=(replace(card.parts[0], **fields), *card.parts[1:]))


def punched(card):
    outline = card.parts[0].outline
    return with_part(card, outline=outline.difference(Point(outline.centroid).buffer(20)))


def stray_line(card):
    return with_part(card, lines=(*card.parts[0].lines, Line(((0, 0), (1000, 0)), Stroke.MARK)))


def all_glued_whole(card):
    return replace(card, bonds=tuple(replace(bond, whole=True) for bond in card.bonds))


DAMAGES = [
    ("closed pose", "the crab stands out at the head", lambda c: shifted(c, "crab.front", (200, 0, 0))),
    ("closed pose", "a cut-out stands off the closed card", lambda c: shifted(c, "star.front", (0, 20, 0))),
    ("rigid panels", "a wall grows", lambda c: stretched(c, "tank.front_left")),
    ("creases", "a wall leaves its crease", lambda c: shifted(c, "tank.front_left", (0.001, 0, 0))),
    ("creases", "a crease is drawn on the wrong side", flipped_hinge),
    ("glue", "a cut-out lifts off or slides as the card opens", lambda c: shifted(c, "crab.front", (0, 0.001, 0.001), 1)),
    ("glue", "a cut-out does not lie wholly on its layer", all_glued_whole),
    ("glue", "the glued area is too small", lambda c: with_habit(c, "cutout.glue", 10_000.0)),
    ("tabs", "a tab has half its size", shrunk_tab),
    ("tabs", "the workshop wants deeper tabs", lambda c: with_habit(c, "tab.depth", 30.0)),
    ("slots", "a layer's slots lie 0.2 mm lower", lowered_slots),
    ("slots", "the clearance is another", lambda c: with_habit(c, "slot.depth", 0.7)),
    ("simple parts", "a hole that no panel has", punched),
    ("simple parts", "a line leaves the part", stray_line),
    ("simple parts", "there are no parts", lambda c: replace(c, parts=())),
    ("mat", "the machine is smaller than the cover", lambda c: replace(c, mat=(200.0, 200.0), machine=Machine())),
]  # fmt: skip


@pytest.mark.parametrize(("name", "why", "damage"), DAMAGES, ids=[row[1].replace(" ", "-") for row in DAMAGES])
def test_proof_finds_the_damage(tide, name, why, damage):
    with pytest.raises(ProofFailed) as failed:
        prove(damage(tide.card))
    assert failed.value.check == name, f"{why}: {failed.value}"


def test_every_check_has_a_damage_and_saw_something(tide):
    others = {"joints"}  # this card has none; those that are damaged stand in test_joints.py
    assert {row[0] for row in DAMAGES} == set(CHECKS) - others
    assert all(tide.proof.looked_at[name] > 0 for name in set(CHECKS) - others)
