"""Lines that artwork draws on a part: kept, clipped, mirrored with it, drawn and never cut, curves where they are curves.

The written sheets are read back with readers that are not ours (lxml, fontTools, ezdxf).
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from ezdxf.filemanagement import readfile
from fontTools.pens.recordingPen import RecordingPen
from fontTools.svgLib.path import parse_path
from lxml import etree
from test_artwork import read, svg

import foldwright
from foldwright.grammar import Refused
from foldwright.solver.card import Stroke

SVG = "{http://www.w3.org/2000/svg}"
FISH = (  # 30 x 16 units: a body with a hole, an eye, a curved line that leaves it at both ends, a straight one
    '<path fill-rule="evenodd" d="M0 8C6-2 22-3 30 8C22 19 6 18 0 8zM14 5H17V8H14z"/>'
    '<g fill="none" stroke="black"><circle id="eye" cx="6" cy="8" r="1.5"/><path d="M22-1C17 5 17 11 22 17"/>'
    '<path d="M24 8H27"/></g>'
)
CARD = """card "Ink"
  units mm
cover 120 x 170
  opens 180
  paper night
paper night  colour #1f2740  caliper 0.25
paper sail   colour #efe6d2  caliper 0.25
mat 300 x 300
{machine}
cutout fish
  paper sail
  art "fish.svg" width 60
  {glue}
"""


@pytest.fixture
def card(tmp_path: Path):
    def made(glue: str = "glue on cover.left at centre", machine: str = "", body: str = FISH) -> Path:
        (tmp_path / "fish.svg").write_text(svg(body, "0 -3 30 22"), encoding="utf-8")
        path = tmp_path / "ink.card"
        path.write_text(CARD.format(glue=glue, machine=machine), encoding="utf-8")
        return path

    return made


def marks(card) -> dict[str, list[shapely.LineString]]:
    """By part of the fish the lines drawn on it."""
    return {part.name: [shapely.LineString(line.points) for line in part.lines if line.stroke is Stroke.MARK]
            for part in card.parts if part.name.startswith("fish")}


def test_lines_inside_the_silhouette_are_kept_where_they_are(card) -> None:
    checked = foldwright.check(card())
    (lines,) = marks(checked.card).values()
    assert len(lines) == 3
    (part,) = [part for part in checked.card.parts if part.name == "fish.front"]
    eye = max(lines, key=lambda line: line.is_closed)
    scale, (_, low, _, high) = 60 / 30, part.outline.bounds
    assert (eye.centroid.x, eye.centroid.y) == pytest.approx((12, (low + high) / 2), abs=0.02)
    assert eye.length == pytest.approx(2 * np.pi * 1.5 * scale, rel=1e-3)
    assert all(part.outline.buffer(1e-4).covers(line) for line in lines)
    curved = max(lines, key=lambda line: line.length)
    ends = [shapely.Point(curved.coords[number]) for number in (0, -1)]
    assert max(part.outline.exterior.distance(end) for end in ends) < 1e-3


def test_the_back_of_a_pair_has_the_mirror_image(card) -> None:
    checked = foldwright.check(card(glue="pair on cover.left at centre"))
    front, back = (shapely.union_all(lines) for lines in marks(checked.card).values())
    mirrored = shapely.transform(back, lambda xy: xy * (-1, 1) + (60, 0))
    assert shapely.hausdorff_distance(front, mirrored, densify=0.1) < 1e-6
    assert shapely.hausdorff_distance(front, back, densify=0.1) > 5, "the fish is symmetric: this compared nothing"


@pytest.mark.parametrize("machine", ["", "kerf 0.2 mm"])
def test_sheets_draw_the_lines_as_curves_and_cut_none_of_them(card, tmp_path: Path, machine: str) -> None:
    foldwright.build(card(machine=machine), tmp_path / "out")
    (sheet,) = (path for path in (tmp_path / "out").glob("sheet-*-sail.svg"))
    layers = {element.get("class"): [path.get("d") for path in element.iter(SVG + "path")]
              for element in etree.parse(sheet).iter(SVG + "g") if (element.get("id") or "").startswith("part-fish")}
    drawn = [recorded(data) for data in layers["mark"]]
    curved = [line for line in drawn if any(command == "curveTo" for command, _ in line)]
    assert len(curved) == 2, "the eye and the curved line"
    assert all(len(line) < 8 for line in curved), "no more nodes than the drawing's own"
    assert sum(data.count("M") for data in layers["cut"]) == 2, "an outline and one hole"
    dxf = readfile(str(sheet.with_suffix(".dxf")))
    assert {entity.dxf.layer for entity in dxf.modelspace() if entity.dxf.layer.lower().startswith("mark")}


def test_lines_on_a_side_that_lies_down_are_told_of(card, tmp_path: Path) -> None:
    """A pen would draw them on the back; the sheet has none, the template pages have them."""
    path = card(machine="printed down")
    (note,) = [note for note in foldwright.check(path).card.notes if "lines" in note.text]
    assert note.figure == 3
    foldwright.build(path, tmp_path / "out")
    (sheet,) = (tmp_path / "out").glob("sheet-*-sail.svg")
    assert not [each for each in etree.parse(sheet).iter(SVG + "g") if (each.get("id") or "").startswith("part-fish-front-mark")]
    assert not [note for note in foldwright.check(card()).card.notes if "lines" in note.text]


def recorded(data: str) -> list[tuple[str, tuple]]:
    pen = RecordingPen()
    parse_path(data, pen)
    return pen.value


def test_drawn_curves_stay_within_the_accuracy_of_sheets(card, tmp_path: Path) -> None:
    """0.005 mm: the eye is a circle of radius 3 mm; every place of it as written is 3 mm from one middle."""
    foldwright.build(card(), tmp_path / "out")
    (sheet,) = (tmp_path / "out").glob("sheet-*-sail.svg")
    paths = [recorded(path.get("d")) for element in etree.parse(sheet).iter(SVG + "g") if element.get("class") == "mark"
             and "fish" in element.get("id") for path in element.iter(SVG + "path")]
    (eye,) = [line for line in paths if line[-1][0] == "closePath" and any(command == "curveTo" for command, _ in line)]
    points = np.array(cubic_places(eye))
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    assert abs(np.hypot(*(points - middle).T) - 3.0).max() < 0.005


def cubic_places(line) -> list[tuple[float, float]]:
    """Places along the cubics of a recorded path."""
    found, at = [], np.array(line[0][1][0])
    for command, points in line[1:]:
        if command == "curveTo":
            control = np.array([at, *points])
            t = np.linspace(0, 1, 50)[:, None]
            s = 1 - t
            found += (s**3 * control[0] + 3 * s * s * t * control[1] + 3 * s * t * t * control[2] + t**3 * control[3]).tolist()
        if points:
            at = np.array(points[-1])
    return found


def test_a_slot_takes_its_width_from_a_drawn_line(tmp_path: Path) -> None:
    """Layers of a lattice: a line drawn right through is broken by every slot that it crosses."""
    (tmp_path / "wave.svg").write_text(svg(
        '<path d="M0 20V8Q15 0 30 8T60 8V20z"/><path d="M1 15H59" fill="none" stroke="black"/>', "0 0 60 20"), encoding="utf-8")
    (tmp_path / "wave.card").write_text("""card "Wave"
  units mm
cover 130 x 180
  opens 180
  paper night
paper night  colour #1f2740  caliper 0.25
paper weed   colour #3f6f4b  caliper 0.25
mat 300 x 300
ring tank on spine
  paper night
lattice weeds in tank
  paper weed
  layers 2 by 2
  art "wave.svg" along top
""", encoding="utf-8")
    card = foldwright.check(tmp_path / "wave.card").card
    layers = [part for part in card.parts if part.name.startswith("weeds") and part.drawn]
    assert len(layers) == 4
    broken = 0
    for part in layers:
        lines = [shapely.LineString(line.points) for line in part.lines if line.stroke is Stroke.MARK]
        assert lines
        assert all(part.outline.buffer(1e-6).covers(line) for line in lines)
        ends = sorted(x for line in lines for x, _ in (line.coords[0], line.coords[-1]))
        gaps = [second - first for first, second in list(pairwise(ends))[1::2]]
        broken += len(gaps)
        assert gaps == pytest.approx([0.25 + 0.15] * len(gaps), abs=1e-3)  # caliper and clearance of a slot
    assert broken == 4, "the slots from above of one family, two in each of its layers"


def test_lines_of_a_window_are_cut_away_with_its_paper(card, tmp_path: Path) -> None:
    (tmp_path / "fish.svg").write_text(svg(FISH, "0 -3 30 22"), encoding="utf-8")
    text = CARD.format(glue="glue on cover.left at centre", machine="").split("cutout")[0]
    (tmp_path / "window.card").write_text(text + 'window pond on cover.left\n  art "fish.svg" width 60\n', encoding="utf-8")
    card = foldwright.check(tmp_path / "window.card").card
    (cover,) = [part for part in card.parts if part.name == "cover"]
    assert len(cover.outline.interiors) == 1
    assert not [line for line in cover.lines if line.stroke is Stroke.MARK]


def test_lines_are_read_clipped(tmp_path: Path) -> None:
    body = (
        '<clipPath id="a"><rect width="10" height="10"/></clipPath><rect width="20" height="10"/>'
        '<path d="M5 5H15" fill="none" stroke="red" clip-path="url(#a)"/>'
    )
    (line,) = read(tmp_path, svg(body)).ink.lines
    assert sorted(x for x, _ in line) == pytest.approx([0.25, 0.5])


def test_a_line_beside_the_silhouette_is_told_with_the_way_out(card) -> None:
    with pytest.raises(Refused) as caught:
        foldwright.check(card(body=FISH + '<path d="M1 18H9" fill="none" stroke="red"/>'))
    (problem,) = caught.value.problems
    assert problem.code == "artwork-stroked"
    assert "`strokes`" in problem.hints()[0]


def test_the_word_strokes_in_a_script(card, tmp_path: Path) -> None:
    path = card(body='<path d="M2 15C8-4 20-4 28 15" fill="none" stroke="black" stroke-width="3"/>')
    path.write_text(path.read_text("utf-8").replace("width 60", "width 60 strokes"), encoding="utf-8")
    card = foldwright.check(path).card
    (part,) = [part for part in card.parts if part.name == "fish.front"]
    assert part.outline.bounds[2] - part.outline.bounds[0] == pytest.approx(60)
    assert part.outline.area < 60 * 12, "a bow, not what it encloses"
    assert not marks(card)["fish.front"]
