"""A drawing as DXF R2010: millimetres, one layer per kind of line, one DXF group per part.

Line types are a look only (a reader that ignores them sees whole lines). Equal drawings give equal bytes.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from foldwright.emit.drawing import Drawing, Group, in_work_order
from foldwright.emit.names import plain
from foldwright.emit.style import STYLES

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

# Header values of the published DXF reference: $INSUNITS 4 is millimetres; $MEASUREMENT 1 is metric (from
# memory).
_MILLIMETRES = 4
_METRIC = 1
_BY_BACKGROUND = 7  # the colour index that is black on white and white on black


def write_dxf(drawing: Drawing) -> bytes:
    """The drawing as a DXF file, UTF-8."""
    from ezdxf.filemanagement import new

    with _same_metadata():
        document = new("R2010", units=_MILLIMETRES)
        document.header["$MEASUREMENT"] = _METRIC
        _add_layers(document)
        for group in drawing.groups:
            _add_group(document, group)
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


def _add_layers(document: Document) -> None:
    for style in STYLES.values():
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
            style.index != _BY_BACKGROUND
        ):  # a fixed near-black would vanish on the dark ground of many viewers
            layer.rgb = _rgb(style.colour)


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _add_group(document: Document, group: Group) -> None:
    space = document.modelspace()
    bound = document.groups.new(group.name, description=plain(group.title))
    members: list[Any]
    with bound.edit_data() as members:
        for trace in in_work_order(group.traces):
            look = {"layer": STYLES[trace.kind].layer}
            members.append(space.add_lwpolyline(trace.points, close=trace.closed, dxfattribs=look))
