"""Which shapes of a drawing are filled, and how: attributes, `style` attributes and simple style sheets.

Only what decides the silhouette is interpreted. What could change it and is not interpreted is refused by
name; what cannot (fonts, colours as such) is passed over.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache
from typing import TYPE_CHECKING

from foldwright.grammar.artwork_values import excerpt, unreadable

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

_INHERITED = (
    *("fill", "fill-opacity", "fill-rule", "clip-rule", "visibility", "stroke", "stroke-opacity", "stroke-width"),
    *("stroke-linecap", "stroke-linejoin", "stroke-miterlimit", "stroke-dasharray", "stroke-dashoffset"),
)
_OWN = ("display", "opacity", "clip-path", "overflow", "vector-effect")
_KNOWN = (*_INHERITED, *_OWN)
_CHANGES_SHAPE = (
    *("mask", "filter", "clip", "mask-image", "offset-path", "zoom"),
    *("marker", "marker-start", "marker-mid", "marker-end"),
)
_CSS_GEOMETRY = (  # SVG 2 lets a style sheet move and resize; a reader that skips that draws another shape
    *("transform", "translate", "rotate", "scale", "transform-origin", "transform-box", "d", "all"),
    *("x", "y", "cx", "cy", "r", "rx", "ry", "width", "height", "content", "background-image"),
)
_LONGEST_STYLE = 50_000  # characters of one style sheet or attribute
_MOST_RULES = 200  # selectors; each is tried on each element
_WEIGHT = {"*": 0, "element": 1, "class": 2, "id": 3}  # CSS 2.1 section 6.4.3, for selectors of one part


@dataclass(frozen=True, slots=True)
class Style:
    """Computed values of one element. `display`, `opacity` and `clip_path` tell about the element and all inside it."""

    fill: str = "black"
    fill_opacity: str = "1"
    fill_rule: str = "nonzero"
    clip_rule: str = "nonzero"
    visibility: str = "visible"
    stroke: str = "none"
    stroke_opacity: str = "1"
    stroke_width: str = "1"
    stroke_linecap: str = "butt"
    stroke_linejoin: str = "miter"
    stroke_miterlimit: str = "4"
    stroke_dasharray: str = "none"
    stroke_dashoffset: str = "0"
    display: str = "inline"
    opacity: str = "1"
    clip_path: str = "none"
    overflow: str = ""  # as each element has it of itself
    vector_effect: str = "none"

    @property
    def draws_nothing(self) -> bool:
        """True if neither the element nor anything in it is drawn."""
        return self.display == "none" or _is_zero(self.opacity)

    @property
    def hidden(self) -> bool:
        """True if the element itself is not drawn, though what is in it may be."""
        return self.visibility in ("hidden", "collapse")

    @property
    def filled(self) -> bool:
        """True if the inside is painted."""
        return not (_is_clear(self.fill) or _is_zero(self.fill_opacity))

    @property
    def stroked(self) -> bool:
        """True if the outline is painted."""
        return not (_is_clear(self.stroke) or _is_zero(self.stroke_opacity))

    @property
    def white(self) -> bool:
        """True if the fill is plain white, which looks like a hole and is none."""
        return _colour(self.fill) == (1.0, 1.0, 1.0, 1.0)


@dataclass
class StyleSheet:
    """Rules of the drawing's `style` elements: (weight, order, kind, name, declarations)."""

    rules: list[tuple[int, int, str, str, dict[str, str]]] = field(default_factory=list)

    def add(self, css: str) -> None:
        """Read one style sheet; a selector that is more than one element, class or id is refused."""
        import tinycss2

        _check_length(css)
        for rule in tinycss2.parse_stylesheet(css, skip_comments=True, skip_whitespace=True):
            if rule.type != "qualified-rule":
                raise unreadable(
                    "its style sheet holds more than simple rules; save the drawing as plain SVG"
                )
            declarations = _declarations(tinycss2.serialize(rule.content))
            for selector in tinycss2.serialize(rule.prelude).split(","):
                kind, name = _selector(selector.strip())
                self.rules.append((_WEIGHT[kind], len(self.rules), kind, name, declarations))
                if len(self.rules) > _MOST_RULES:
                    raise unreadable(
                        f"it has more than {_MOST_RULES} style rules; save the drawing as plain SVG"
                    )
        self.rules.sort(key=lambda rule: rule[:2])

    def compute(self, element: Element, parent: Style) -> Style:
        """Style of an element: attributes, then rules by weight and order, then its own `style`."""
        given = {name: element.get(name, "") for name in (*_KNOWN, *_CHANGES_SHAPE) if name in element.attrib}
        tag = element.tag.rpartition("}")[2]
        classes = set(element.get("class", "").split())
        for _weight, _order, kind, name, declarations in self.rules:
            if (
                kind == "*"
                or name == {"element": tag, "id": element.get("id")}.get(kind)
                or (kind == "class" and name in classes)
            ):
                given |= declarations
        given |= _declarations(element.get("style", ""))
        # a clip path is named by an id, in which capitals count
        values = {name: value.strip() if name == "clip-path" else value.strip().lower() for name, value in given.items()}
        for name in _CHANGES_SHAPE:
            if values.get(name, "none") not in ("none", "auto"):
                raise unreadable(
                    f"it uses `{name}`, which changes the shape; apply it in the drawing program first"
                )
        return _inherit(parent, values)


def _inherit(parent: Style, values: dict[str, str]) -> Style:
    changes = {}
    for name in _KNOWN:
        value = values.get(name, "inherit" if name in _INHERITED else "initial")
        key = name.replace("-", "_")
        if value in ("initial", "unset", "revert"):
            changes[key] = getattr(Style(), key)
        elif value != "inherit":
            changes[key] = value
    for rule in ("fill_rule", "clip_rule"):
        if changes.get(rule, "nonzero") not in ("nonzero", "evenodd"):
            raise unreadable(f"the {rule.replace('_', ' ')} `{excerpt(changes[rule])}` is unknown")
    return replace(parent, **changes)


@cache
def _declarations(css: str) -> dict[str, str]:
    import tinycss2

    _check_length(css)
    found: dict[str, str] = {}
    try:
        for item in tinycss2.parse_declaration_list(css, skip_comments=True, skip_whitespace=True):
            if item.type != "declaration":
                raise unreadable(f"the style `{excerpt(css)}` cannot be read")
            value = tinycss2.serialize(item.value).strip()
            if item.important:
                raise unreadable(
                    "its style says `!important`, which is not supported; save the drawing as plain SVG"
                )
            if item.lower_name in _CSS_GEOMETRY and value.lower() not in ("none", "initial", "auto"):
                raise unreadable(
                    f"its style sets `{item.lower_name}`, which changes the shape; write it as an attribute"
                )
            found[item.lower_name] = value
    except RecursionError:
        raise unreadable("its style is nested too deeply") from None
    return found


def _check_length(css: str) -> None:
    if len(css) > _LONGEST_STYLE:
        raise unreadable(f"it has a style of more than {_LONGEST_STYLE} characters")


def _selector(text: str) -> tuple[str, str]:
    if text == "*":
        return "*", ""
    kind = {".": "class", "#": "id"}.get(text[:1], "element")
    name = text if kind == "element" else text[1:]
    if not name or not all(character.isalnum() or character in "-_" for character in name):
        raise unreadable(
            f"the style selector `{excerpt(text)}` is not supported; save the drawing as plain SVG"
        )
    return kind, name


@cache
def _colour(text: str) -> tuple[float, float, float, float] | None:
    """Red, green, blue and alpha from 0 to 1; None for a gradient and all else that is no plain colour."""
    from tinycss2.color3 import RGBA, parse_color

    found = parse_color(text) if len(text) < 100 else None
    return (found.red, found.green, found.blue, found.alpha) if isinstance(found, RGBA) else None


def _is_clear(paint: str) -> bool:
    colour = _colour(paint)
    return paint == "none" or (colour is not None and colour[3] == 0)


def _is_zero(opacity: str) -> bool:
    try:
        return float(opacity.removesuffix("%")) <= 0
    except ValueError:
        return False
