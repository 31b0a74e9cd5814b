"""SVG files, read back by readers that are not ours: lxml, the W3C's document type, and resvg."""

import re
from pathlib import Path

import cards
import numpy as np
import pytest
import resvg_py
from lxml import etree
from numpy.typing import NDArray
from pixels import decoded
from shapely.geometry import box

from foldwright.emit.drawing import Drawing, Group, control_group, sheet_drawing
from foldwright.emit.layout import Control, Placed, Sheet, lay_out
from foldwright.emit.names import Unique
from foldwright.emit.plate import plate_drawing
from foldwright.emit.style import STYLES
from foldwright.emit.svg import number, write_svg
from foldwright.emit.trace import Trace
from foldwright.solver.card import Line, Part, Stroke

SVG = "{http://www.w3.org/2000/svg}"
# Where Debian's package w3c-sgml-lib puts the document type of SVG 1.1, second edition (W3C, 16 August 2011).
DTD = Path("/usr/share/xml/w3c-sgml-lib/schema/dtd/REC-SVG11-20110816/svg11.dtd")
PX_PER_MM = 10


def files() -> list[bytes]:
    card, crowd = cards.harbour(), cards.crowd(6)
    made = [write_svg(sheet_drawing(card.title, sheet, cards.labels(card))) for sheet in lay_out(card)]
    return [*made, write_svg(plate_drawing(card, cards.labels(card))), write_svg(plate_drawing(crowd, cards.labels(crowd)))]


def render(svg: bytes) -> NDArray[np.uint8]:
    """Grey values, shape (rows, columns), as resvg draws the file at 10 px per mm on white."""
    png = bytes(resvg_py.svg_to_bytes(svg_string=svg.decode(), dpi=25.4 * PX_PER_MM, background="#ffffff"))
    return decoded(png).mean(axis=2).astype(np.uint8)


def numbers(path: str) -> NDArray[np.float64]:
    return np.array([float(n) for n in re.findall(r"-?[\d.]+", path)]).reshape(-1, 2)


def test_files_are_valid_svg_1_1() -> None:
    if not DTD.exists():
        pytest.skip("the W3C's document type is not installed (Debian package w3c-sgml-lib)")
    dtd = etree.DTD(str(DTD))  # by name: it reads its modules from beside itself
    for svg in files():
        root = etree.fromstring(svg)
        assert dtd.validate(root), dtd.error_log
        etree.SubElement(root[-1], SVG + "crease")
        assert not dtd.validate(root)  # the check can fail


def test_pages_are_true_size() -> None:
    for svg in files():
        root = etree.fromstring(svg)
        _, _, width, height = root.get("viewBox").split()
        assert (root.get("width"), root.get("height")) == (f"{width}mm", f"{height}mm")


def test_coordinates_are_the_drawings_mirrored_and_exact() -> None:
    card = cards.harbour()
    sheet = lay_out(card)[1]
    root = etree.fromstring(write_svg(sheet_drawing(card.title, sheet, cards.labels(card))))
    layer = root.find(f".//{SVG}g[@id='part-quay.wall-cut']")
    outline = numbers(layer.findall(f"{SVG}path")[-1].get("d"))
    wanted = np.array(sheet.placed[0].outline.exterior.coords)[:-1]
    wanted = np.column_stack([wanted[:, 0], sheet.height - wanted[:, 1]])
    # Three decimals: at most half a thousandth off.
    distance = np.abs(outline[:, None] - wanted[None]).max(axis=2).min(axis=1)
    assert len(outline) == len(wanted)
    assert distance.max() <= 0.0005 + 1e-9


def test_each_part_is_one_group_with_its_kinds_inside() -> None:
    card = cards.harbour()
    root = etree.fromstring(write_svg(plate_drawing(card, cards.labels(card))))
    groups = {group.get("id"): group for group in root.findall(SVG + "g")}
    quay = groups["part-quay.wall"]
    assert quay.findtext(SVG + "title") == "2 quay.wall"
    assert [layer.get("class") for layer in quay.findall(SVG + "g")] == ["mark", "valley", "mountain", "cut"]
    boat = groups["part-boat--Mowe-"]
    assert boat.findtext(SVG + "title") == "3 böat 'Möwe'"
    (path,) = boat.findall(f"{SVG}g[@class='cut']/{SVG}path")
    assert path.get("d").count("Z") == 4  # the hull and its three portholes
    assert all(element.tag in {SVG + "title", SVG + "desc", SVG + "defs", SVG + "g"} for element in root)


def test_parts_of_one_paper_are_filled_in_its_one_colour() -> None:
    card = cards.harbour()
    colours = {paper.name: paper.colour for paper in card.papers}
    root = etree.fromstring(write_svg(plate_drawing(card, cards.labels(card))))
    for part in card.parts:
        (group,) = [g for g in root.findall(SVG + "g") if g.findtext(SVG + "title") == f"{part.label} {part.name}"]
        fills = {path.get("fill") for path in group.iter(SVG + "path")}
        assert fills - {None} == {colours[part.paper]}
        for path in group.iter(SVG + "path"):
            assert (path.get("fill") is None) == ("Z" not in path.get("d"))
    for sheet in lay_out(card):
        text = write_svg(sheet_drawing(card.title, sheet, cards.labels(card))).decode()
        assert set(re.findall(r' fill="([^"]*)"', text)) == {"none"}


def test_an_outline_that_a_neighbour_opens_is_still_cut_last() -> None:
    left = Part("left", "1", "Ink blue", box(0, 0, 40, 30), (), (2, 2))
    slit = Line(((9, 5), (9, 25)), Stroke.CUT)
    right = Part("right", "2", "Ink blue", box(0, 0, 60, 30).difference(box(20, 10, 40, 20)), (slit,), (2, 2))
    sheet = Sheet("Ink blue", 1, 120.0, 60.0, (Placed(left, 0, 0, 0), Placed(right, 40, 0, 0)), None)
    root = etree.fromstring(write_svg(sheet_drawing("", sheet, {})))
    paths = [path.get("d") for path in root.iter(SVG + "path")]
    assert [(len(numbers(path)), path.endswith("Z")) for path in paths] == [
        (4, True), (2, False), (4, True), (4, False),  # left; slit, hole and three sides of right
    ]  # fmt: skip


def test_kinds_look_as_the_table_says() -> None:
    seen = set()
    for svg in files():
        for layer in etree.fromstring(svg).iter(SVG + "g"):
            if layer.get("class") is None:
                continue
            kind = Stroke(layer.get("class"))
            seen.add(kind)
            assert layer.get("stroke") == STYLES[kind].colour
            assert layer.get("fill") == "none"
            dash = layer.get("stroke-dasharray", "").split()
            assert [float(length) for length in dash] == list(STYLES[kind].dash)
    assert seen == set(Stroke)


def test_ids_are_unique() -> None:
    for svg in files():
        ids = [element.get("id") for element in etree.fromstring(svg).iter() if element.get("id")]
        assert len(ids) == len(set(ids)) > 3


def test_a_hundred_millimetres_measure_a_thousand_pixels() -> None:
    square = Trace(Stroke.CUT, ((10, 10), (110, 10), (110, 110), (10, 110)), True)
    svg = write_svg(Drawing("square", 120, 120, (Group("part-square", "square", (square,)),)))
    dark = render(svg) < 128
    across = np.flatnonzero(dark[600])
    down = np.flatnonzero(dark[:, 600])
    for found in (across, down):
        edges = [group.mean() for group in np.split(found, np.flatnonzero(np.diff(found) > 1) + 1)]
        assert len(edges) == 2
        # A line's middle is known to half a pixel (0.05 mm), as pixels are counted whole.
        assert (edges[1] - edges[0]) / PX_PER_MM == pytest.approx(100, abs=0.05)
        assert (edges[0] + 0.5) / PX_PER_MM == pytest.approx(10, abs=0.05)


def test_the_control_line_measures_fifty_millimetres() -> None:
    svg = write_svg(Drawing("control", 60, 10, (control_group(Control(2, 1, False), Unique()),)))
    image = render(svg)
    ink = (255.0 - image).sum(axis=0)  # per column of pixels
    inked = np.flatnonzero(ink > 0)
    ticks = []
    for end in (inked[0], inked[-1]):
        near = np.arange(max(end - 4, 0), end + 5)
        tall = near[ink[near] > 2 * np.median(ink[inked])]  # a tick is six times as high as the line is wide
        ticks.append(np.average(tall, weights=ink[tall]))
    # The middle of a tick, weighed by its ink, is known to well within half a pixel.
    assert (ticks[1] - ticks[0]) / PX_PER_MM == pytest.approx(50, abs=0.05)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (-0.0001, "0"),
        (1.5, "1.5"),
        (2.0, "2"),
        (100.0, "100"),
        (0.1234567, "0.123"),
        (-3.25, "-3.25"),
    ],
)
def test_numbers_are_short(value: float, text: str) -> None:
    assert number(value) == text
