"""What a stroke looks like: width, ends, corners and dashes, from the style of an element (SVG 1.1 section 11.4)."""

from __future__ import annotations

from dataclasses import dataclass

from foldwright.grammar import artwork_values as values
from foldwright.grammar.artwork_style import Style
from foldwright.grammar.artwork_values import excerpt, unreadable

CAPS = ("butt", "round", "square")
JOINS = ("miter", "round", "bevel")
_MOST_DASHES = 100  # numbers in one pattern


@dataclass(frozen=True, slots=True)
class Pen:
    """A stroke `width` drawing units wide, in the coordinates of its element.

    `cap` and `join` are as SVG names them; a corner whose mitre would be longer than `limit` widths is bevelled. `dashes`
    are lengths of stroke and gap in turn, an even number of them, or none; the pattern begins `offset` into it.
    """

    width: float
    cap: str = "butt"
    join: str = "miter"
    limit: float = 4.0
    dashes: tuple[float, ...] = ()
    offset: float = 0.0


def pen_of(style: Style, name: str) -> Pen | None:
    """The pen of a stroked element; None if its stroke has no width. `name` stands in messages."""
    width = values.length(style.stroke_width, f"the stroke width of {name}")
    limit = values.numbers(style.stroke_miterlimit)
    if width < 0 or len(limit) != 1 or limit[0] < 1:
        raise unreadable(f"the stroke of {name} has a width below 0, or a mitre limit below 1")
    if style.stroke_linecap not in CAPS or style.stroke_linejoin not in JOINS:
        raise unreadable(f"the stroke of {name} has ends `{excerpt(style.stroke_linecap)}` and corners "
                         f"`{excerpt(style.stroke_linejoin)}`; ends can be {', '.join(CAPS)}, corners {', '.join(JOINS)}")
    if style.vector_effect != "none":
        raise unreadable(f"the stroke of {name} has the effect `{excerpt(style.vector_effect)}`, which is not supported")
    offset = values.length(style.stroke_dashoffset, f"the dash offset of {name}")
    dashes = _dashes(style.stroke_dasharray, name)
    return Pen(width, style.stroke_linecap, style.stroke_linejoin, limit[0], dashes, offset) if width else None


def _dashes(text: str, name: str) -> tuple[float, ...]:
    if text == "none":
        return ()
    words = text.replace(",", " ").split()
    if len(words) > _MOST_DASHES:
        raise unreadable(f"the dashes of {name} have more than {_MOST_DASHES} numbers")
    found = tuple(values.length(word, f"a dash of {name}") for word in words)
    if any(length < 0 for length in found):
        raise unreadable(f"{name} has a dash below 0")
    if not any(found):
        return ()
    return found if len(found) % 2 == 0 else found * 2
