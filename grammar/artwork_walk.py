"""The walk over the elements of a drawing: groups, copies, drawings inside drawings, clip paths, shapes.

Everything drawn is counted, each copy by itself, so that no nesting multiplies the work.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element

from foldwright.grammar import artwork_values as values
from foldwright.grammar.artwork_curves import Line, SubPath
from foldwright.grammar.artwork_items import Clip, Item, Shape, Stroke
from foldwright.grammar.artwork_pen import pen_of
from foldwright.grammar.artwork_shapes import SHAPES, draw
from foldwright.grammar.artwork_style import Style, StyleSheet
from foldwright.grammar.artwork_values import MOST_SEGMENTS, excerpt, unreadable
from foldwright.grammar.artwork_view import side, to_view

if TYPE_CHECKING:
    from fontTools.misc.transform import Transform

SVG = "{http://www.w3.org/2000/svg}"
XLINK_HREF = "{http://www.w3.org/1999/xlink}href"
DEEPEST = 60  # nested elements, `use` included; drawing programs stay under 20
MOST_USES = 1_000  # copies made by `use`, counted as drawn, so that nested copies cannot multiply
MOST_VISITS = 20_000  # elements as drawn, each copy counted

# what draws nothing by itself; where it is referred to, the reference is read or refused
SKIPPED = frozenset(("title", "desc", "metadata", "defs", "style", "linearGradient", "radialGradient", "pattern", "clipPath",
                     "symbol", "marker", "mask", "filter", "view"))

_REMEDY = {
    "text": "convert the text to paths",
    "image": "only outlines can be cut: trace the image, or remove it",
    "script": "remove it: nothing in a drawing is run",
    "foreignObject": "remove it",
    "switch": "draw a group instead of a switch",
}


@dataclass(frozen=True, slots=True)
class Place:
    """Where an element is drawn: map to drawing units, size of the room that percent are of, style, depth."""

    matrix: Transform
    room: tuple[float | None, float | None]
    style: Style
    depth: int

    def deeper(self, style: Style) -> Place:
        """One level further down."""
        return replace(self, style=style, depth=self.depth + 1)

    def moved(self, matrix: Transform) -> Place:
        """Under a further map."""
        return replace(self, matrix=values.within_range(self.matrix.transform(matrix)))


@dataclass
class Walk:
    """Reads the elements of one drawing. With `strokes` these become outlines; else those of what is not filled are lines."""

    ids: Mapping[str, Element]
    sheet: StyleSheet
    strokes: bool = False
    visits: int = 0
    uses: int = 0
    segments: int = 0
    active: list[Element] = field(default_factory=list)  # what is being referred to now, to find what refers to itself

    def children(self, parent: Element, place: Place) -> Iterator[Item]:
        """What the elements inside another one draw; `place` is the parent's."""
        for child in parent:
            yield from self.element(child, place)

    def element(self, element: Element, place: Place, size: tuple[str | None, str | None] = (None, None)) -> Iterator[Item]:
        """What an element draws; `place` is that of what holds it, `size` the width and height that a `use` gives it."""
        if not element.tag.startswith(SVG):
            return  # another namespace: what an editor keeps for itself, drawn by nobody
        tag = element.tag.removeprefix(SVG)
        if tag in SKIPPED and not (tag == "symbol" and self.active and self.active[-1] is element):
            return
        self._count(place.depth + 1)
        style = self.sheet.compute(element, place.style)
        if style.draws_nothing:
            return
        place = place.deeper(style).moved(values.transform(element.get("transform", "")))
        items = self._drawn(element, tag, place, size)
        yield from items if style.clip_path == "none" else self._clipped(list(items), style.clip_path, place)

    def _drawn(self, element: Element, tag: str, place: Place, size: tuple[str | None, str | None]) -> Iterator[Item]:
        if tag in ("g", "a"):
            yield from self.children(element, place)
        elif tag == "use":
            yield from self._use(element, place)
        elif tag in ("svg", "symbol"):
            yield from self._inner(element, place, size)
        elif tag in SHAPES:
            yield from self._shape(element, tag, place)
        else:
            raise unreadable(f"it holds a `{excerpt(tag)}` element; {_REMEDY.get(tag, 'turn it into plain paths')}")

    def _use(self, element: Element, place: Place) -> Iterator[Item]:
        href = element.get("href", element.get(XLINK_HREF, "")).strip()
        target = self._target(href, "a `use` element")
        self.uses += 1
        if self.uses > MOST_USES:
            raise unreadable(f"its `use` elements draw more than {MOST_USES} copies")
        from fontTools.misc.transform import Transform

        x, y = (values.length(element.get(name, "0"), f"{name} of a `use` element") for name in "xy")
        self.active.append(target)
        yield from self.element(target, place.moved(Transform().translate(x, y)), (element.get("width"), element.get("height")))
        self.active.pop()

    def _target(self, href: str, what: str) -> Element:
        target = self.ids.get(href[1:]) if len(href) > 1 and href.startswith("#") else None
        if target is None:
            raise unreadable(f"{what} refers to `{excerpt(href)}`, which is not in this drawing")
        if target in self.active:
            raise unreadable(f"the element `{excerpt(href)}` draws itself")
        return target

    def _inner(self, element: Element, place: Place, size: tuple[str | None, str | None]) -> Iterator[Item]:
        """A drawing inside the drawing, cut at the edges of its room unless it says otherwise."""
        from fontTools.misc.transform import Transform

        x, y = (side(element.get(name, "0"), room, f"the {name} of an inner drawing")
                for name, room in zip("xy", place.room, strict=True))
        width, height = (side(given or element.get(name), place.room[number], f"the {name} of an inner drawing")
                         for number, (name, given) in enumerate(zip(("width", "height"), size, strict=True)))
        if min(width, height) < 0:
            raise unreadable("an inner drawing has a size below 0")
        if not (width and height):
            return
        room = place.moved(Transform().translate(x, y))
        box = values.numbers(element.get("viewBox", ""))
        inner = replace(room.moved(to_view(element, (width, height))), room=(box[2], box[3]) if box else (width, height))
        items = self.children(element, inner)
        if place.style.overflow in ("visible", "auto"):
            yield from items
            return
        corners = ((width, 0.0), (width, height), (0.0, height), (0.0, 0.0))
        frame = SubPath((0.0, 0.0), tuple(Line(corner) for corner in corners), True).moved(room.matrix)
        clip = Clip((Shape((frame,), False, "the edge of an inner drawing"),))
        for item in items:
            yield replace(item, clips=(*item.clips, clip))

    def _shape(self, element: Element, tag: str, place: Place) -> Iterator[Item]:
        style = place.style
        name = self._checked(element, tag)
        filled = style.filled and tag != "line"
        if style.hidden or not (style.stroked or filled):
            return  # nothing to see
        paths = self._paths(element, tag)
        if not paths:
            return
        if filled and style.white:
            raise unreadable(f"{name} is filled white, which cuts no hole; make it a hole of the shape, or remove it")
        if filled:
            yield Shape(tuple(path.moved(place.matrix) for path in paths), style.fill_rule == "evenodd", name)
        if style.stroked and self.strokes:
            pen = pen_of(style, name)
            if pen is not None:
                yield Stroke(paths, place.matrix, pen, name)
        elif style.stroked and not filled:
            yield Stroke(paths, place.matrix, None, name)

    def _checked(self, element: Element, tag: str) -> str:
        """The name of a shape in messages; what it holds must not change it."""
        for child in element:
            if child.tag.startswith(SVG) and child.tag.removeprefix(SVG) not in SKIPPED:
                raise unreadable(f"a `{tag}` holds a `{excerpt(child.tag.removeprefix(SVG))}`, which is not supported")
        return f"the {tag} `{excerpt(element.get('id', ''))}`" if element.get("id") else f"a {tag}"

    def _paths(self, element: Element, tag: str) -> tuple[SubPath, ...]:
        paths, count = draw(element, tag, MOST_SEGMENTS - self.segments)
        self.segments += count
        return tuple(paths)

    # ---- clip paths (SVG 1.1 section 14.3)

    def _clipped(self, items: list[Item], reference: str, place: Place) -> Iterator[Item]:
        """Items behind a clip path; `place` is that of the element that has it."""
        clip = self._clip(reference, items, place)
        for item in items:
            yield replace(item, clips=(*item.clips, clip))

    def _clip(self, reference: str, items: list[Item], place: Place) -> Clip:
        href = reference.removeprefix("url(").removesuffix(")").strip("\"' ") if reference.startswith("url(") else ""
        target = self._target(href, "a `clip-path`")
        if target.tag != SVG + "clipPath":
            raise unreadable(f"a `clip-path` refers to `{excerpt(href)}`, which is no clip path")
        self._count(place.depth + 1)
        units = target.get("clipPathUnits", "userSpaceOnUse")
        if units not in ("userSpaceOnUse", "objectBoundingBox"):
            raise unreadable(f"the clipPathUnits `{excerpt(units)}` are unknown")
        # what a clip path is clipped by, and its style, come from where it stands, which none of these depends on
        style = self.sheet.compute(target, Style())
        within = Place(place.matrix, place.room, style, place.depth + 1)
        inside = within if units == "userSpaceOnUse" else within.moved(_onto_box(items, place.matrix))
        inside = inside.moved(values.transform(target.get("transform", "")))
        self.active.append(target)
        shapes = [shape for child in target for shape in self._clip_shape(child, inside, direct=True)]
        if style.clip_path != "none":
            outer = self._clip(style.clip_path, items, within)
            shapes = [replace(shape, clips=(*shape.clips, outer)) for shape in shapes]
        self.active.pop()
        return Clip(tuple(shapes))

    def _clip_shape(self, element: Element, place: Place, direct: bool) -> Iterator[Shape]:
        """The shapes of one child of a clip path, whatever their paint."""
        tag = element.tag.removeprefix(SVG)
        if not element.tag.startswith(SVG) or tag in SKIPPED:
            return
        self._count(place.depth + 1)
        style = self.sheet.compute(element, place.style)
        if style.display == "none":
            return
        place = place.deeper(style).moved(values.transform(element.get("transform", "")))
        if tag in SHAPES:
            name, paths = self._checked(element, tag), self._paths(element, tag) if tag != "line" else ()
            shapes = [Shape(tuple(path.moved(place.matrix) for path in paths), style.clip_rule == "evenodd", name)]
            shapes = [] if style.hidden or not paths else shapes
        elif tag == "use" and direct:
            target = self._target(element.get("href", element.get(XLINK_HREF, "")).strip(), "a `use` element")
            from fontTools.misc.transform import Transform

            x, y = (values.length(element.get(name, "0"), f"{name} of a `use` element") for name in "xy")
            self.active.append(target)
            shapes = list(self._clip_shape(target, place.moved(Transform().translate(x, y)), direct=False))
            self.active.pop()
        else:
            raise unreadable(f"a clip path holds a `{excerpt(tag)}`; apply the clip in the drawing program first")
        if style.clip_path != "none":
            clip = self._clip(style.clip_path, list(shapes), place)
            shapes = [replace(shape, clips=(*shape.clips, clip)) for shape in shapes]
        yield from shapes

    def _count(self, depth: int) -> None:
        self.visits += 1
        if self.visits > MOST_VISITS:
            raise unreadable(f"it draws more than {MOST_VISITS} elements; simplify it")
        if depth > DEEPEST:
            raise unreadable(f"its groups are nested more than {DEEPEST} deep")


def _onto_box(items: list[Item], matrix: Transform) -> Transform:
    """The map that puts the unit square on the box round the items, in the coordinates of their element."""
    from fontTools.misc.transform import Transform

    a, b, c, d, *_ = matrix
    if a * d - b * c == 0:
        raise unreadable("a transform flattens what a clip path is measured by")
    back = matrix.inverse()
    points = []
    for item in items:
        onto = back if isinstance(item, Shape) else back.transform(item.matrix)
        for path in item.paths:
            points += path.moved(onto).points([200] * len(path.segments))
    if not points:
        return Transform()
    xs, ys = [x for x, _ in points], [y for _, y in points]
    width, height = max(xs) - min(xs), max(ys) - min(ys)
    return Transform(width, 0, 0, height, min(xs), min(ys))
