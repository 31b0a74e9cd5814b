"""Curves of artwork in the written files: as near to the drawing as promised, and with no more nodes than it has.

The files are read back by readers that are not ours (fontTools for SVG paths, ezdxf and GDAL for DXF), curves are evaluated
here, and compared with exact shapes that are made without the tool (`curved.py`).
"""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyogrio
import pypdf
import pytest
import shapely
from curved import KINDS, apart, blob, dense, design, edges, farthest, lines
from ezdxf import path as dxf_path
from ezdxf.filemanagement import read as read_dxf
from fontTools.pens.recordingPen import RecordingPen
from fontTools.svgLib.path import parse_path
from lxml import etree

from foldwright.emit.bends import arcs
from foldwright.emit.drawing import Drawing, part_group
from foldwright.emit.dxf import write_dxf
from foldwright.emit.machined import outline_for
from foldwright.emit.names import Unique
from foldwright.emit.offsets import parallels
from foldwright.emit.pages import Page
from foldwright.emit.pdf import write_pdf
from foldwright.emit.placed import Placed
from foldwright.emit.svg import write_svg
from foldwright.emit.wanted import Curves

SVG_LIMIT = 0.005  # mm, as promised for SVG; a file's three decimals take 0.0007 of it
DXF_LIMIT = 0.02  # mm, as promised for arcs
MITRE = 10.0
SIZE = 200.0  # mm, the sheet
CASES = [(kind, seed) for kind in KINDS for seed in range(5)]


def laid(made, seed):
    """A drawing of the part somewhere on a sheet, and its exact outline there."""
    turn, (dx, dy) = 90 * (seed % 4), np.random.default_rng(seed).uniform(60, 90, 2)
    drawing = Drawing("curves", SIZE, SIZE, (part_group(Placed(made.part, dx, dy, turn), Unique(), {}),))
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    return drawing, shapely.transform(made.exact, lambda xy: xy @ np.array([[c, s], [-s, c]]) + (dx, dy))


def moved(made, kerf):
    """The design as a tool with a kerf follows it; the exact one by GEOS, with the mitres that kerf.py states."""
    outline, drawn = outline_for(made.part, kerf)
    exact = made.exact.buffer(kerf / 2, join_style="mitre", mitre_limit=MITRE)
    return replace(made, part=replace(made.part, outline=outline, drawn=drawn), exact=exact)


def svg_lines(svg):
    """All closed lines of an SVG file as fontTools reads them, y up, flattened here, and how many nodes they have."""
    rings, nodes = [], 0
    for element in etree.fromstring(svg).iter("{http://www.w3.org/2000/svg}path"):
        pen = RecordingPen()
        parse_path(element.get("d"), pen)
        for verb, points in pen.value:
            if verb == "moveTo":
                rings.append([np.array(points)])
            elif verb == "lineTo":
                rings[-1].append(np.array(points))
            elif verb == "curveTo":
                rings[-1] += [dense([np.array((rings[-1][-1][-1], *points))], 400)[1:], np.array(points[-1:])]
            nodes += verb in ("moveTo", "lineTo", "curveTo")
    return lines([np.concatenate(ring) * (1, -1) + (0, SIZE) for ring in rings]), nodes


def check(made, seed, nodes):
    drawing, exact = laid(made, seed)
    svg, count = svg_lines(write_svg(drawing))
    assert apart(svg, edges(exact)) < SVG_LIMIT
    assert count <= nodes + 1 + len(exact.interiors)  # a reader counts the first node of a line that a curve closes twice
    assert count < len(made.part.outline.exterior.coords) / 4, "curves, not a polyline"
    document = read_dxf(io.StringIO(write_dxf(drawing).decode()))
    rings = [np.array([(v.x, v.y) for v in dxf_path.make_path(entity).flattening(1e-4)]) for entity in document.modelspace()]
    assert apart(lines(rings), edges(exact)) < DXF_LIMIT


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_outlines_with_tabs_and_slots_keep_their_curves(kind, seed, mirrored, tmp_path: Path):
    made = design(kind, 1000 * mirrored + seed, tmp_path, mirrored)
    check(made, seed, made.nodes)


@pytest.mark.parametrize("kerf", [0.05, 0.15, 0.5])
@pytest.mark.parametrize(("kind", "seed"), CASES[::2])
def test_beside_an_outline_curves_are_curves_too(kind, seed, kerf, tmp_path: Path):
    made = moved(design(kind, seed, tmp_path, seed % 4 == 0), kerf)
    # a corner may get a mitre, with two nodes more, and a parallel that bends too much is made of two cubics
    check(made, seed, 2 * made.nodes)


@pytest.mark.parametrize("kind", KINDS)
def test_splines_are_exact_in_dxf(kind, tmp_path: Path):
    """ezdxf's B-splines and GDAL's, which are two programs, and neither is the writer's own de Boor."""
    for seed in range(4):
        made = design(kind, seed, tmp_path)
        drawing, exact = laid(made, seed)
        (tmp_path / "a.dxf").write_bytes(write_dxf(drawing, "R2010", Curves.SPLINES))
        space = read_dxf(io.StringIO((tmp_path / "a.dxf").read_text())).modelspace()
        kinds = {entity.dxftype() for entity in space}
        assert kinds == {"LWPOLYLINE", "SPLINE"}
        found = []
        for entity in space:
            if entity.dxftype() == "SPLINE":
                tool = entity.construction_tool()
                points = list(tool.points(np.linspace(0, tool.max_t, 400 * int(tool.max_t) + 1)))
                found.append([(p.x, p.y) for p in points])
            else:
                found.append([(x, y) for x, y, *_ in entity.get_points()])
        assert apart(shapely.multilinestrings([shapely.LineString(p) for p in found]), edges(exact)) < SVG_LIMIT
        _, _, shapes, _ = pyogrio.raw.read(tmp_path / "a.dxf", columns=["Layer"])
        corners = shapely.get_coordinates(shapely.from_wkb(shapes))  # on the curves, chords between them
        assert len(corners) > 8 * made.nodes / 2
        assert farthest(corners, edges(exact)) < SVG_LIMIT


@pytest.mark.parametrize("kind", KINDS)
def test_curves_come_back_from_pages(kind, tmp_path: Path):
    """pypdf reads what a page draws: points (1/72 in) from its upper edge, as its content turns it first (ISO 32000-1, 8.5.2)."""
    made, size = design(kind, 3, tmp_path), (210.0, 297.0)
    traces = part_group(Placed(made.part, 50.0, 100.0, 0), Unique(), {}).traces
    page = Page(size, traces, None, (), (), (), (), (10.0, 10.0, 50.0), ())
    content = pypdf.PdfReader(io.BytesIO(write_pdf("t", [page]))).pages[0].get_contents()
    rings = []
    for operands, name in content.operations:
        at = np.array(operands, dtype=float).reshape(-1, 2) * 25.4 / 72 if name in (b"m", b"l", b"c") else None
        if name == b"m":
            rings.append([at])
        elif name == b"l":
            rings[-1].append(at)
        elif name == b"c":
            rings[-1] += [dense([np.vstack((rings[-1][-1][-1:], at))], 400)[1:], at[-1:]]
    drawn = [np.concatenate(ring) * (1, -1) + (-50, size[1] - 100) for ring in rings]
    assert apart(lines(drawn[: len(traces)]), edges(made.exact)) < 0.01


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("away", [0.025, 0.25, 5.0])
def test_parallels_are_as_near_as_they_say(seed, away):
    """Beside the definition: the place on the curve moved along its normal, where the curve bends less than the parallel."""
    cubics = blob(np.random.default_rng(seed), 9, 45)
    found = parallels(cubics, away)
    t = np.linspace(0, 1, 1001)[:, None]
    wanted = []
    for p0, p1, p2, p3 in cubics:
        place = (1 - t)**3 * p0 + 3 * (1 - t)**2 * t * p1 + 3 * (1 - t) * t * t * p2 + t**3 * p3
        slope, bend = np.gradient(place, axis=0), np.gradient(np.gradient(place, axis=0), axis=0)
        length = np.hypot(*slope.T)
        turn = (slope[:, 0] * bend[:, 1] - slope[:, 1] * bend[:, 0]) / length**3
        beside = place + away * np.column_stack((slope[:, 1], -slope[:, 0])) / length[:, None]
        wanted.append(beside[3:-3][(1 + away * turn)[3:-3] > 0.02])
    line = shapely.multilinestrings([np.vstack((dense([cubic], 300), cubic[3:])) for cubic in found])
    assert farthest(np.concatenate(wanted), line) < 0.002
    assert len(found) <= (2 if away < 1 else 4) * len(cubics)


@pytest.mark.parametrize("seed", range(20))
def test_arcs_of_a_cubic_stay_as_near_as_promised(seed):
    """A bulge is the tangent of a quarter of the arc's angle, positive to the left (published DXF reference, LWPOLYLINE)."""
    for cubic in blob(np.random.default_rng(seed), 6, radius=60):
        start, *rest = [tuple(map(float, point)) for point in cubic]
        bend, end = (rest[0], rest[1]), rest[2]
        places = [*arcs(start, bend, end), (end, 0.0)]
        ring = []
        for ((x0, y0), bulge), ((x1, y1), _) in zip(places, places[1:], strict=False):
            turn = 4 * np.arctan(bulge)
            for k in range(200):
                if abs(turn) < 1e-9:
                    ring.append((x0 + (x1 - x0) * k / 200, y0 + (y1 - y0) * k / 200))
                    continue
                # the point of the arc after a part of the turn, as a chord from its start
                chord, part = np.hypot(x1 - x0, y1 - y0), turn * k / 200
                radius = chord / (2 * np.sin(turn / 2))
                away, heading = 2 * radius * np.sin(part / 2), np.arctan2(y1 - y0, x1 - x0) - turn / 2 + part / 2
                ring.append((x0 + away * np.cos(heading), y0 + away * np.sin(heading)))
        ring.append(end)
        line = shapely.multilinestrings([shapely.LineString(ring)])
        exact = shapely.multilinestrings([shapely.LineString(np.vstack((dense([cubic]), cubic[3:])))])
        assert apart(line, exact) < DXF_LIMIT
