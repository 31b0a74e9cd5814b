"""A drawing as DXF R2010 or R2000: millimetres, one layer per kind of line, one DXF group per part.

Line types are a look only (a reader that ignores them sees whole lines). Equal drawings give equal bytes.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from itertools import groupby
from typing import TYPE_CHECKING, Any

from foldwright.emit.bends import arcs
from foldwright.emit.drawing import Drawing, Group, in_work_order
from foldwright.emit.names import plain
from foldwright.emit.style import Style, styles
from foldwright.emit.trace import Trace, rounded
from foldwright.emit.wanted import Curves
from foldwright.solver.card import Stroke

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.layouts.layout import Modelspace

# Header values of the published DXF reference: $INSUNITS 4 is millimetres; $MEASUREMENT 1 is metric (from
# memory).
_MILLIMETRES = 4
_METRIC = 1
_BY_BACKGROUND = 7  # the colour index that is black on white and white on black

_BULGE = 7  # decimals of a bulge: half of it times the chord is how far an arc stands out

VERSIONS = ("R2000", "R2010")


def write_dxf(drawing: Drawing, version: str = "R2010", curves: Curves = Curves.ARCS) -> bytes:
    """The drawing as a DXF file of a version out of `VERSIONS`.

    Arcs stay within 0.02 mm of a curve; with splines an outline is no longer one closed line.
    R2010 is UTF-8; R2000, for older programs, is written in its code page (titles are ASCII either way) and has the 255
    indexed colours only.
    """
    from ezdxf.filemanagement import new

    with _same_metadata():
        document = new(version, units=_MILLIMETRES)
        document.header["$MEASUREMENT"] = _METRIC
        looks = styles(drawing.creases)
        _add_layers(document, version, looks)
        for group in drawing.groups:
            _add_group(document, group, version, looks, curves)
        document.header["$EXTMIN"], document.header["$EXTMAX"] = (0, 0, 0), (drawing.width, drawing.height, 0)
        document.set_modelspace_vport(drawing.height * 1.05, center=(drawing.width / 2, drawing.height / 2))
        # The library lists the classes in use in the order of a set of strings, which changes from run to
        # run.
        for name in sorted(document.entitydb.dxf_types_in_use()):
            document.classes.add_class(name)
        stream = io.StringIO()
        document.write(stream)
    return stream.getvalue().encode(document.output_encoding, errors="dxfreplace")


@contextmanager
def _same_metadata() -> Iterator[None]:
    """No time stamps, no random ids while a file is written; the library's option is put back afterwards."""
    from ezdxf import options  # type: ignore[attr-defined]

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _add_layers(document: Document, version: str, looks: Mapping[Stroke, Style]) -> None:
    for style in looks.values():
        linetype = "Continuous"
        if style.dash:
            linetype = f"FOLDWRIGHT_{style.layer}"
            signed = [length if index % 2 == 0 else -length for index, length in enumerate(style.dash)]
            document.linetypes.add(linetype, [sum(style.dash), *signed], description=style.meaning)
        layer = document.layers.add(
            style.layer, color=style.index, linetype=linetype, lineweight=round(style.width * 100)
        )
        layer.description = style.meaning
        if (
            style.index != _BY_BACKGROUND and version != "R2000"
        ):  # a fixed near-black would vanish on the dark ground of many viewers
            layer.rgb = _rgb(style.colour)


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _paper(colour: str, version: str) -> dict[str, int]:
    """How the cuts of a part of a paper look; as their layer does if the drawing has no papers."""
    from ezdxf import colors

    if not colour:
        return {}
    wanted = _rgb(colour)
    nearest = min(range(1, 256), key=lambda index: sum((a - b) ** 2 for a, b in zip(colors.aci2rgb(index), wanted, strict=True)))
    return {"color": nearest} | ({} if version == "R2000" else {"true_color": colors.rgb2int(wanted)})


def _add_group(document: Document, group: Group, version: str, looks: Mapping[Stroke, Style], curves: Curves) -> None:
    space = document.modelspace()
    bound = document.groups.new(group.name, description=plain(group.title))
    members: list[Any]
    with bound.edit_data() as members:
        for trace in in_work_order(group.traces):
            look = {"layer": looks[trace.kind].layer, **(_paper(group.colour, version) if trace.kind is Stroke.CUT else {})}
            members += _entities(space, trace, look, curves)


def _entities(space: Modelspace, trace: Trace, look: dict[str, Any], curves: Curves) -> list[Any]:
    """One polyline, with bulges where it is curved; or polylines and splines in turn, as a polyline holds no spline."""
    if curves is Curves.ARCS or not trace.bends:
        corners = [(*start, bulge) for segment in trace.segments for start, bulge in arcs(*segment)]
        corners += [] if trace.closed else [(*trace.points[-1], 0.0)]
        corners = [(rounded(x), rounded(y), round(bulge, _BULGE)) for x, y, bulge in corners]
        return [space.add_lwpolyline(corners, "xyb", close=trace.closed, dxfattribs=look)]
    made: list[Any] = []
    for straight, some in groupby(trace.segments, key=lambda segment: segment[1] is None):
        run = list(some)
        if straight:
            points = [run[0][0], *(end for _, _, end in run)]
            made.append(space.add_lwpolyline(points, dxfattribs=look))
            continue
        controls = [run[0][0], *(at for _, bend, end in run for at in (*(bend or ()), end))]
        knots = [0, *(number for number in range(len(run) + 1) for _ in range(3)), len(run)]
        made.append(space.add_open_spline([(x, y, 0.0) for x, y in controls], degree=3, knots=knots, dxfattribs=look))
    return made
