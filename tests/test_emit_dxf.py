"""DXF files, read back by GDAL (through pyogrio) and by ezdxf's own reader and audit."""

import io
from itertools import pairwise
from pathlib import Path
from typing import Any

import cards
import numpy as np
import pyogrio
import pytest
from ezdxf import options  # type: ignore[attr-defined]
from ezdxf.colors import aci2rgb
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import read as read_dxf
from shapely import from_wkb, get_coordinates
from shapely.geometry import LineString, Point

from foldwright.emit.drawing import Drawing, Group, sheet_drawing
from foldwright.emit.dxf import VERSIONS, write_dxf
from foldwright.emit.layout import lay_out
from foldwright.emit.names import identifier
from foldwright.emit.plate import plate_drawing
from foldwright.emit.style import STYLES
from foldwright.emit.trace import Trace
from foldwright.emit.wanted import Curves
from foldwright.solver.card import Stroke


def drawings() -> list[Drawing]:
    card, crowd = cards.harbour(), cards.crowd(6)
    made = [sheet_drawing(card.title, sheet, cards.labels(card)) for sheet in lay_out(card)]
    return [*made, plate_drawing(card, cards.labels(card)), plate_drawing(crowd, cards.labels(crowd))]


def read(dxf: bytes) -> Document:
    return read_dxf(io.StringIO(dxf.decode("utf-8")))


@pytest.mark.parametrize("version", VERSIONS)
def test_the_audit_finds_nothing(version: str) -> None:
    for drawing in drawings():
        auditor = read(write_dxf(drawing, version)).audit()
        assert not auditor.errors
        assert not auditor.fixes


@pytest.mark.parametrize(("version", "code"), [("R2000", "AC1015"), ("R2010", "AC1024")])
def test_the_header_says_millimetres(version: str, code: str) -> None:
    # Published DXF reference: $INSUNITS 4 = millimetres; $MEASUREMENT 1 = metric; AC1015, AC1024 (from memory).
    document = read(write_dxf(drawings()[0], version))
    assert document.header["$INSUNITS"] == 4
    assert document.header["$MEASUREMENT"] == 1
    assert document.dxfversion == code


@pytest.mark.parametrize("version", VERSIONS)
def test_gdal_reads_every_line_where_it_was_drawn(tmp_path: Path, version: str) -> None:
    for count, drawing in enumerate(drawings()):
        path = tmp_path / f"{count}.dxf"
        path.write_bytes(write_dxf(drawing, version))
        _, _, shapes, fields = pyogrio.raw.read(path, columns=["Layer"])
        found = sorted(
            (layer, tuple(np.array(from_wkb(shape).coords)[:, :2].ravel()))
            for layer, shape in zip(fields[0], shapes, strict=True)
        )
        wanted = sorted(
            (
                STYLES[trace.kind].layer,
                tuple(np.array([*trace.points, *([trace.points[0]] if trace.closed else [])]).ravel()),
            )
            for group in drawing.groups
            for trace in group.traces
        )
        assert [layer for layer, _ in found] == [layer for layer, _ in wanted]
        for (_, got), (_, asked) in zip(found, wanted, strict=True):
            # The file prints numbers in full, so only the reader's own arithmetic could differ.
            assert got == pytest.approx(asked, abs=1e-6)


def test_each_part_is_one_group_holding_all_its_lines() -> None:
    for drawing in drawings():
        document = read(write_dxf(drawing))
        groups = {name: list(group) for name, group in document.groups}
        assert {name.lower() for name in groups} == {group.name.lower() for group in drawing.groups}
        sizes = {group.name.lower(): len(group.traces) for group in drawing.groups}
        assert {name.lower(): len(members) for name, members in groups.items()} == sizes
        assert sum(sizes.values()) == len(document.modelspace())


def test_layers_carry_dash_colour_and_width() -> None:
    document = read(write_dxf(drawings()[0]))
    for style in STYLES.values():
        layer = document.layers.get(style.layer)
        assert layer.dxf.color == style.index
        assert layer.dxf.lineweight == round(style.width * 100)
        pattern = [
            abs(tag.value)
            for tag in document.linetypes.get(layer.dxf.linetype).pattern_tags.tags
            if tag.code == 49
        ]
        assert pattern == pytest.approx(list(style.dash))
    creases = [STYLES[Stroke.MOUNTAIN].layer, STYLES[Stroke.VALLEY].layer]
    assert all(document.layers.get(name).rgb is not None for name in creases)


def test_all_entities_are_polylines_that_take_their_looks_from_their_layer() -> None:
    closed = 0
    entity: Any
    for entity in read(write_dxf(drawings()[0])).modelspace():
        assert entity.dxftype() == "LWPOLYLINE"
        assert (entity.dxf.linetype, entity.dxf.color) == ("BYLAYER", 256)
        closed += entity.closed
    assert closed == 5  # two outlines, three portholes


@pytest.mark.parametrize("version", VERSIONS)
def test_the_cuts_of_all_parts_carry_one_colour_for_each_paper(version: str) -> None:
    card = cards.harbour()
    document = read(write_dxf(plate_drawing(card, cards.labels(card)), version))
    colours = {paper.name: paper.colour for paper in card.papers}
    entity: Any
    for part in card.parts:
        found = set()
        for entity in document.groups.get(f"part-{identifier(part.name)}"):
            assert entity.dxf.linetype == "BYLAYER"
            if entity.dxf.layer == STYLES[Stroke.CUT].layer:
                found.add((entity.dxf.color, entity.rgb))
            else:
                assert entity.dxf.color == 256
        ((index, rgb),) = found
        wanted = tuple(bytes.fromhex(colours[part.paper][1:]))
        assert rgb == (None if version == "R2000" else wanted)
        near = np.array(aci2rgb(index)) - wanted  # of the 255 colours of DXF none is nearer
        assert all((near**2).sum() <= ((np.array(aci2rgb(other)) - wanted) ** 2).sum() for other in range(1, 256))


def test_no_line_has_no_length_and_none_is_there_twice() -> None:
    for drawing in drawings():
        segments = set()
        entity: Any
        for entity in read(write_dxf(drawing)).modelspace():
            points = [tuple(point[:2]) for point in entity.get_points("xy")]
            for start, end in pairwise([*points, points[0]] if entity.closed else points):
                assert start != end
                assert frozenset((start, end)) not in segments
                segments.add(frozenset((start, end)))
        assert segments


def test_the_library_is_left_as_it_was() -> None:
    before = options.write_fixed_meta_data_for_testing
    write_dxf(drawings()[0])
    assert options.write_fixed_meta_data_for_testing == before is False


@pytest.mark.parametrize("curves", Curves)
@pytest.mark.parametrize("version", VERSIONS)
def test_curves_in_both_versions(version: str, curves: Curves, tmp_path: Path) -> None:
    """An arc and a line that close: one closed polyline with bulges, or a spline and a polyline, and GDAL finds the curve."""
    handles = ((10.0, 40.0), (50.0, 40.0))
    trace = Trace(Stroke.CUT, ((10.0, 10.0), (50.0, 10.0)), True, (handles, None))
    data = write_dxf(Drawing("arc", 60, 60, (Group("part-arc", "arc", (trace,)),)), version, curves)
    document = read(data)
    auditor = document.audit()
    assert not [*auditor.errors, *auditor.fixes]
    assert (document.header["$INSUNITS"], document.header["$MEASUREMENT"]) == (4, 1)
    kinds = [entity.dxftype() for entity in document.modelspace()]
    assert kinds == (["LWPOLYLINE"] if curves is Curves.ARCS else ["SPLINE", "LWPOLYLINE"])
    (tmp_path / "arc.dxf").write_bytes(data)
    _, _, shapes, _ = pyogrio.raw.read(tmp_path / "arc.dxf", columns=["Layer"])
    t = np.linspace(0, 1, 20001)[:, None]
    corners = [np.array(point) for point in ((10.0, 10.0), *handles, (50.0, 10.0))]
    curve = sum(w * c for w, c in zip(((1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t * t, t**3), corners, strict=True))
    exact = LineString(np.vstack((curve, corners[:1])))
    found = np.concatenate([get_coordinates(shape) for shape in from_wkb(shapes)])
    assert len(found) > 10
    # the corners of GDAL's chords lie on what was written
    assert max(exact.distance(Point(at)) for at in found) < (0.02 if curves is Curves.ARCS else 0.001)
