"""From SVG text to shapes: a strict walk over the elements, within limits, that never opens another file.

The reader takes groups, `use` of something in the same drawing, and the basic shapes of SVG 1.1. Anything
else that could be part of the picture (text, images, clip paths, masks, filters, symbols, nested drawings) is
refused by name, because skipping it silently would cut another shape than the designer sees.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element, ParseError, TreeBuilder

from foldwright.grammar import artwork_values as values
from foldwright.grammar.artwork_curves import SubPath
from foldwright.grammar.artwork_shapes import SHAPES, draw
from foldwright.grammar.artwork_style import Style, StyleSheet
from foldwright.grammar.artwork_values import MOST_SEGMENTS, ArtworkFault, excerpt, unreadable

if TYPE_CHECKING:
    from fontTools.misc.transform import Transform

SVG = "{http://www.w3.org/2000/svg}"
XLINK_HREF = "{http://www.w3.org/1999/xlink}href"
DEEPEST = 60  # nested elements, `use` included; drawing programs stay under 20
MOST_ELEMENTS = 10_000
MOST_USES = 1_000  # copies made by `use`, counted as drawn, so that nested copies cannot multiply
MOST_VISITS = 20_000  # elements as drawn, each copy counted

_SKIPPED = {"title", "desc", "metadata", "defs", "style", "linearGradient", "radialGradient"}


@dataclass(frozen=True, slots=True)
class Shape:
    """One filled element: sub-paths in drawing units (y down), its fill rule, its name in messages."""

    paths: tuple[SubPath, ...]
    evenodd: bool
    name: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """The filled shapes of a drawing, and how many mm one of its units is, across and down."""

    shapes: tuple[Shape, ...]
    unit: tuple[float, float]


def read_drawing(data: bytes) -> Drawing:
    """Shapes of an SVG text.

    Raises `ArtworkFault`: "unreadable" if it is no SVG or uses what we do not take, "open" for a stroked
    shape without a fill.
    """
    root = _parse(data)
    if root.tag != SVG + "svg":
        raise unreadable("it is not an SVG drawing")
    walk = _Walk(_by_id(root), _style_sheet(root))
    style = walk.sheet.compute(root, Style())
    shapes = (
        ()
        if style.draws_nothing
        else tuple(walk.children(root, values.transform(root.get("transform", "")), style, 0))
    )
    return Drawing(shapes, _unit(root))


class _Limited(TreeBuilder):
    """Builds the tree while it counts, so that a hostile one is refused before it is whole."""

    def __init__(self) -> None:
        super().__init__()
        self.depth = self.count = 0

    def start(self, tag: str, attrs: dict[str, str], /) -> Element:
        self.depth += 1
        self.count += 1
        if self.depth > DEEPEST:
            raise unreadable(f"its groups are nested more than {DEEPEST} deep")
        if self.count > MOST_ELEMENTS:
            raise unreadable(f"it has more than {MOST_ELEMENTS} elements; simplify it")
        return super().start(tag, attrs)

    def end(self, tag: str, /) -> Element:
        self.depth -= 1
        return super().end(tag)


def _parse(data: bytes) -> Element:
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import DefusedXMLParser

    # A plain SVG 1.1 DOCTYPE is common and harmless; entities and external references stay forbidden.
    parser = DefusedXMLParser(target=_Limited(), forbid_dtd=False)
    try:
        parser.feed(data)
        root: Element = parser.close()
    except DefusedXmlException:
        raise unreadable("it declares entities or refers to other files; save it as plain SVG") from None
    except ParseError as error:
        raise unreadable(f"it is not well-formed XML: {excerpt(str(error))}") from None
    except (ValueError, LookupError, AssertionError):  # an unknown encoding; no element at all
        raise unreadable(
            "it is not XML, or in a text encoding that we cannot read; save it as UTF-8"
        ) from None
    return root


def _by_id(root: Element) -> dict[str, Element]:
    found: dict[str, Element] = {}
    for element in root.iter():
        found.setdefault(element.get("id", ""), element)
    return found


def _style_sheet(root: Element) -> StyleSheet:
    sheet = StyleSheet()
    for element in root.iter(SVG + "style"):
        if element.get("type", "text/css") != "text/css" or element.get("media", "all") not in (
            "all",
            "screen",
        ):
            raise unreadable(
                "its style sheet is of a kind that is not supported; save the drawing as plain SVG"
            )
        sheet.add("".join(element.itertext()))
    return sheet


@dataclass
class _Walk:
    ids: dict[str, Element]
    sheet: StyleSheet
    visits: int = 0
    uses: int = 0
    segments: int = 0
    active: list[Element] = field(
        default_factory=list
    )  # what `use` is drawing now, to find one that draws itself

    def children(self, parent: Element, matrix: Transform, style: Style, depth: int) -> Iterator[Shape]:
        for child in parent:
            yield from self.element(child, matrix, style, depth + 1)

    def element(self, element: Element, matrix: Transform, style: Style, depth: int) -> Iterator[Shape]:
        if not element.tag.startswith(SVG):
            return  # another namespace: what an editor keeps for itself, drawn by nobody
        tag = element.tag.removeprefix(SVG)
        if tag in _SKIPPED:
            return
        self._count(depth)
        style = self.sheet.compute(element, style)
        if style.draws_nothing:
            return
        matrix = values.within_range(matrix.transform(values.transform(element.get("transform", ""))))
        if tag == "g":
            yield from self.children(element, matrix, style, depth)
        elif tag == "use":
            yield from self.use(element, matrix, style, depth)
        elif tag in SHAPES:
            yield from self.shape(element, tag, matrix, style)
        else:
            raise unreadable(
                f"it holds a `{excerpt(tag)}` element; {_REMEDY.get(tag, 'turn it into plain paths')}"
            )

    def use(self, element: Element, matrix: Transform, style: Style, depth: int) -> Iterator[Shape]:
        href = element.get("href", element.get(XLINK_HREF, "")).strip()
        target = self.ids.get(href[1:]) if len(href) > 1 and href.startswith("#") else None
        if target is None:
            raise unreadable(f"a `use` element refers to `{excerpt(href)}`, which is not in this drawing")
        self.uses += 1
        if self.uses > MOST_USES:
            raise unreadable(f"its `use` elements draw more than {MOST_USES} copies")
        if target in self.active:
            raise unreadable(f"the element `{excerpt(href)}` draws itself")
        self.active.append(target)
        x, y = (values.length(element.get(name, "0"), f"{name} of a `use` element") for name in "xy")
        yield from self.element(target, values.within_range(matrix.translate(x, y)), style, depth + 1)
        self.active.pop()

    def shape(self, element: Element, tag: str, matrix: Transform, style: Style) -> Iterator[Shape]:
        for child in element:
            if child.tag.startswith(SVG) and child.tag.removeprefix(SVG) not in _SKIPPED:
                raise unreadable(
                    f"a `{tag}` holds a `{excerpt(child.tag.removeprefix(SVG))}`, which is not supported"
                )
        name = f"the {tag} `{excerpt(element.get('id', ''))}`" if element.get("id") else f"a {tag}"
        if style.hidden or not (style.stroked or (style.filled and tag != "line")):
            return  # nothing to see
        paths, count = draw(element, tag, MOST_SEGMENTS - self.segments)
        self.segments += count
        if not paths:
            return
        if not style.filled or tag == "line":
            raise ArtworkFault(
                "open", f"{name} is only a stroked line; fill it, or turn the stroke into a path"
            )
        if style.white:
            raise unreadable(
                f"{name} is filled white, which cuts no hole; make it a hole of the shape, or remove it"
            )
        yield Shape(tuple(path.moved(matrix) for path in paths), style.fill_rule == "evenodd", name)

    def _count(self, depth: int) -> None:
        self.visits += 1
        if self.visits > MOST_VISITS:
            raise unreadable(f"it draws more than {MOST_VISITS} elements; simplify it")
        if depth > DEEPEST:
            raise unreadable(f"its groups are nested more than {DEEPEST} deep")


_REMEDY = {
    "text": "convert the text to paths",
    "image": "only outlines can be cut: trace the image, or remove it",
    "svg": "ungroup the drawing inside the drawing",
    "symbol": "draw a group instead of a symbol",
    "clipPath": "apply the clip in the drawing program first",
    "mask": "apply the mask in the drawing program first",
    "filter": "remove the effect",
}


def _unit(root: Element) -> tuple[float, float]:
    """How many mm one drawing unit is, across and down (SVG 1.1 section 7.8)."""
    pixel = values.MILLIMETRES[""]
    box = values.numbers(root.get("viewBox", ""))
    if not box:
        return pixel, pixel
    if len(box) != 4 or min(box[2:]) <= 0:
        raise unreadable("its viewBox needs four numbers, the last two above 0")
    page = [_page(root.get(name), name) for name in ("width", "height")]
    given = [None if size is None else size / extent for size, extent in zip(page, box[2:], strict=True)]
    across, down = given[0] or given[1] or 1.0, given[1] or given[0] or 1.0
    words = root.get("preserveAspectRatio", "xMidYMid").split()
    if words[:1] != ["none"]:
        across = down = max(across, down) if "slice" in words else min(across, down)
    if not all(1e-6 <= scale <= 1e6 for scale in (across, down)):
        raise unreadable("its page and its viewBox differ in size by more than a million")
    return across * pixel, down * pixel


def _page(text: str | None, what: str) -> float | None:
    """Width or height of the page in px; None where it fills whatever shows it."""
    if text is None or text.strip() == "auto" or text.strip().endswith("%"):
        return None
    size = values.length(text, f"the {what} of the drawing")
    if size <= 0:
        raise unreadable(f"the {what} of the drawing must be above 0")
    return size
