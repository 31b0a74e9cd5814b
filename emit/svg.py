"""A drawing as SVG 1.1: true size in mm, one group per part, in it one group per kind of line.

One user unit is one millimetre; y points down, so the drawing is mirrored about its middle. Equal drawings
give equal bytes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any
from xml.etree import ElementTree

from foldwright.emit.drawing import WORK_ORDER, Drawing, Group, in_work_order
from foldwright.emit.style import styles
from foldwright.emit.trace import DECIMALS, Trace
from foldwright.solver.card import Point, Stroke

_FAINT = 0.3  # opacity of the papers' colours: lines stay legible on the darkest


def write_svg(drawing: Drawing) -> bytes:
    """The drawing as an SVG file, UTF-8, lines ended by a line feed."""
    import svgwrite

    width, height = number(drawing.width), number(drawing.height)
    # The library's own checks are off: they cost seconds, and the tests check against the W3C document type.
    picture = svgwrite.Drawing(
        size=(f"{width}mm", f"{height}mm"), viewBox=f"0 0 {width} {height}", profile="full", debug=False
    )
    told = ["True size: one unit is one millimetre.", *filter(None, [drawing.side]), legend(drawing.creases)]
    picture.set_desc(title=drawing.title, desc=" ".join(told))
    for group in drawing.groups:
        picture.add(_group(picture, drawing, group))
    root = picture.get_xml()
    root.attrib.pop("xmlns:ev", None)  # a namespace that is not used here and not in the document type
    ElementTree.indent(root, " ")
    text = ElementTree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'.encode()


def legend(creases: str = "creased") -> str:
    """What the layers mean, in one sentence."""
    return "Layers: " + ", ".join(f"{style.layer} = {style.meaning}" for style in styles(creases).values()) + "."


def number(value: float) -> str:
    """A number with at most three decimals and no trailing zeros."""
    text = f"{value:.{DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in {"", "-0"} else text


def _group(picture: Any, drawing: Drawing, group: Group) -> Any:
    whole = picture.g(id=group.name)
    whole.set_desc(title=group.title)
    for kind in WORK_ORDER:
        traces = [trace for trace in in_work_order(group.traces) if trace.kind is kind]
        if not traces:
            continue
        style = styles(drawing.creases)[kind]
        look: dict[str, Any] = {"fill": "none", "stroke": style.colour, "stroke_width": number(style.width)}
        if style.dash:
            look["stroke_dasharray"] = " ".join(f"{length:g}" for length in style.dash)
        layer = picture.g(id=f"{group.name}-{kind}", class_=str(kind), **look)
        for data, closed in _paths(traces, drawing.height):
            filled = closed and group.colour and kind is Stroke.CUT
            fill = {"fill": group.colour, "fill_opacity": _FAINT, "fill_rule": "evenodd"} if filled else {}
            layer.add(picture.path(d=data, **fill))
        whole.add(layer)
    return whole


def _paths(traces: Sequence[Trace], height: float) -> Iterator[tuple[str, bool]]:
    """Path data in working order, and whether it is closed: an open line makes a path, holes and their outline make one."""
    for closed, some in groupby(traces, key=lambda trace: trace.closed):
        data = [_data(trace, height) for trace in some]
        yield from ((each, closed) for each in ([" ".join(data)] if closed else data))


def _data(trace: Trace, height: float) -> str:
    def at(point: Point) -> str:
        return f"{number(point[0])} {number(height - point[1])}"

    words, command = [f"M {at(trace.points[0])}"], "M"
    segments = list(trace.segments)
    if trace.closed and segments[-1][1] is None:
        segments.pop()  # Z draws it
    for _, bend, end in segments:
        kind = "L" if bend is None else "C"
        words += [*([kind] if kind != command else []), *(at(point) for point in (*(bend or ()), end))]
        command = kind
    return " ".join([*words, "Z"] if trace.closed else words)
