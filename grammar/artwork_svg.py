"""From SVG text to what is drawn: parsed within limits, and walked without ever opening another file.

The reader takes groups, `use` of something in the same drawing, symbols, drawings inside drawings, clip paths, and the
basic shapes of SVG 1.1. Anything else that could be part of the picture (text, images, masks, filters, markers) is
refused by name, because skipping it silently would cut another shape than the designer sees.
"""

from __future__ import annotations

from xml.etree.ElementTree import Element, ParseError, TreeBuilder

from foldwright.grammar import artwork_values as values
from foldwright.grammar.artwork_items import Drawing
from foldwright.grammar.artwork_style import Style, StyleSheet
from foldwright.grammar.artwork_values import excerpt, unreadable
from foldwright.grammar.artwork_view import aspect, page, view_box
from foldwright.grammar.artwork_walk import DEEPEST, SVG, Place, Walk

MOST_ELEMENTS = 10_000


def read_drawing(data: bytes, strokes: bool = False) -> Drawing:
    """What an SVG text draws; with `strokes` they become outlines, else those of what is not filled are lines to be drawn.

    Raises `ArtworkFault` ("unreadable") if it is no SVG or uses what we do not take.
    """
    from fontTools.misc.transform import Transform

    root = _parse(data)
    if root.tag != SVG + "svg":
        raise unreadable("it is not an SVG drawing")
    unit, walk = _unit(root), Walk(_by_id(root), _style_sheet(root), strokes)
    style = walk.sheet.compute(root, Style())
    if style.clip_path != "none":
        raise unreadable("the whole drawing has a `clip-path`; put it on a group")
    place = Place(Transform(), page(root), style, 0).moved(values.transform(root.get("transform", "")))
    return Drawing(() if style.draws_nothing else tuple(walk.children(root, place)), unit)


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


def _unit(root: Element) -> tuple[float, float]:
    """How many mm one drawing unit is, across and down (SVG 1.1 section 7.8)."""
    pixel = values.MILLIMETRES[""]
    box = view_box(root)
    if box is None:
        return pixel, pixel
    given = [None if size is None else size / extent
             for size, extent in zip((_page(root.get(name), name) for name in ("width", "height")), box[2:], strict=True)]
    across, down = given[0] or given[1] or 1.0, given[1] or given[0] or 1.0
    align, slice_ = aspect(root)
    if align is not None:
        across = down = max(across, down) if slice_ else min(across, down)
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
