"""The basic shapes of SVG 1.1 (chapters 8 and 9) as sub-paths in their own coordinates."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from foldwright.grammar import artwork_values as values
from foldwright.grammar.artwork_curves import Recorder, SubPath
from foldwright.grammar.artwork_values import excerpt, unreadable

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element


def draw(element: Element, tag: str, budget: int) -> tuple[list[SubPath], int]:
    """Sub-paths of an element of one of the `SHAPES`, and how many segments they count; none if it has no
    extent.

    More segments than `budget` are refused.
    """
    pen = Recorder()
    if tag == "path":
        from fontTools.svgLib.path.parser import parse_path

        checked, count = values.path_data(element.get("d", ""), budget)
        try:
            parse_path(checked, pen)
        except ValueError:  # such as numbers straight after a Z
            raise unreadable(f"the path data `{excerpt(element.get('d', ''))}` cannot be read") from None
        return pen.paths, count
    _BASIC[tag](element, pen)
    count = sum(len(path.segments) for path in pen.paths)
    if count > budget:
        raise unreadable(f"it has more than {values.MOST_SEGMENTS} lines and curves; simplify it")
    return pen.paths, count


def _size(element: Element, name: str, default: str = "0") -> float:
    return values.length(element.get(name, default), f"the {name} of a {element.tag.rpartition('}')[2]}")


def _positive(element: Element, *names: str) -> list[float]:
    found = [_size(element, name) for name in names]
    if min(found) < 0:
        raise unreadable(f"a {element.tag.rpartition('}')[2]} has a {names[found.index(min(found))]} below 0")
    return found


def _rectangle(element: Element, pen: Recorder) -> None:
    x, y = _size(element, "x"), _size(element, "y")
    width, height = _positive(element, "width", "height")
    if not (width and height):
        return
    rx, ry = _corner_radii(element, width, height)
    pen.moveTo((x + rx, y))
    corners = (  # where each side ends, and where the corner after it ends
        ((x + width - rx, y), (x + width, y + ry)),
        ((x + width, y + height - ry), (x + width - rx, y + height)),
        ((x + rx, y + height), (x, y + height - ry)),
        ((x, y + ry), (x + rx, y)),
    )
    for side, corner in corners:
        pen.lineTo(side)
        if rx and ry:
            pen.arcTo(rx, ry, 0, False, True, corner)
    pen.closePath()


def _corner_radii(element: Element, width: float, height: float) -> tuple[float, float]:
    given = [name for name in ("rx", "ry") if element.get(name, "auto").strip() != "auto"]
    found = dict(zip(given, _positive(element, *given), strict=True)) if given else {"rx": 0.0}
    rx, ry = found.get("rx", found.get("ry", 0.0)), found.get("ry", found.get("rx", 0.0))
    rx, ry = min(rx, width / 2), min(ry, height / 2)
    return (rx, ry) if rx and ry else (0.0, 0.0)


def _ellipse(pen: Recorder, x: float, y: float, rx: float, ry: float) -> None:
    if rx and ry:
        pen.moveTo((x + rx, y))
        pen.arcTo(rx, ry, 0, False, True, (x - rx, y))
        pen.arcTo(rx, ry, 0, False, True, (x + rx, y))
        pen.closePath()


def _circle_element(element: Element, pen: Recorder) -> None:
    (radius,) = _positive(element, "r")
    _ellipse(pen, _size(element, "cx"), _size(element, "cy"), radius, radius)


def _ellipse_element(element: Element, pen: Recorder) -> None:
    rx, ry = _positive(element, "rx", "ry")
    _ellipse(pen, _size(element, "cx"), _size(element, "cy"), rx, ry)


def _points(element: Element, pen: Recorder) -> None:
    flat = values.numbers(element.get("points", ""))
    if len(flat) % 2:
        raise unreadable(f"a {element.tag.rpartition('}')[2]} has an odd number of coordinates")
    points = list(zip(flat[::2], flat[1::2], strict=True))
    if not points:
        return
    pen.moveTo(points[0])
    for point in points[1:]:
        pen.lineTo(point)
    if element.tag.endswith("polygon"):
        pen.closePath()
    else:
        pen.endPath()


def _line(element: Element, pen: Recorder) -> None:
    pen.moveTo((_size(element, "x1"), _size(element, "y1")))
    pen.lineTo((_size(element, "x2"), _size(element, "y2")))
    pen.endPath()


_BASIC: dict[str, Callable[[Element, Recorder], None]] = {
    "rect": _rectangle,
    "circle": _circle_element,
    "ellipse": _ellipse_element,
    "polygon": _points,
    "polyline": _points,
    "line": _line,
}

SHAPES = frozenset(_BASIC) | {"path"}
