"""Where a drawing inside a drawing is shown: viewBox and preserveAspectRatio (SVG 1.1 sections 7.7 and 7.8)."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element

from foldwright.grammar import artwork_values as values
from foldwright.grammar.artwork_values import excerpt, unreadable

if TYPE_CHECKING:
    from fontTools.misc.transform import Transform

Size = tuple[float, float]

_ALIGN = re.compile(r"x(Min|Mid|Max)Y(Min|Mid|Max)")
_SHARE = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}


def view_box(element: Element) -> tuple[float, float, float, float] | None:
    """The four numbers of a viewBox, if there is one."""
    text = element.get("viewBox")
    box = values.numbers(text or "")
    if not box:
        return None
    if len(box) != 4 or min(box[2:]) <= 0:
        raise unreadable("its viewBox needs four numbers, the last two above 0")
    return box[0], box[1], box[2], box[3]


def aspect(element: Element) -> tuple[tuple[float, float] | None, bool]:
    """Where the viewBox lies in too large a room, as shares across and down (None: stretched), and if it is cut to fill it."""
    text = element.get("preserveAspectRatio", "xMidYMid meet")
    words = [word for word in text.split() if word != "defer"]
    align = _ALIGN.fullmatch(words[0]) if words else None
    if not words or len(words) > 2 or words[1:] not in ([], ["meet"], ["slice"]) or not (align or words[0] == "none"):
        raise unreadable(f"preserveAspectRatio `{excerpt(text)}` cannot be read")
    return (_SHARE[align[1]], _SHARE[align[2]]) if align else None, words[1:] == ["slice"]


def to_view(element: Element, size: Size) -> Transform:
    """From the coordinates inside an element with a viewBox to a room of that size with its corner at (0, 0)."""
    from fontTools.misc.transform import Transform

    box = view_box(element)
    if box is None:
        return Transform()
    across, down = size[0] / box[2], size[1] / box[3]
    shares, slice_ = aspect(element)
    if shares is None:
        return Transform(across, 0, 0, down, -box[0] * across, -box[1] * down)
    scale = max(across, down) if slice_ else min(across, down)
    left, top = shares[0] * (size[0] - scale * box[2]), shares[1] * (size[1] - scale * box[3])
    return Transform(scale, 0, 0, scale, left - scale * box[0], top - scale * box[1])


def side(text: str | None, whole: float | None, what: str) -> float:
    """A width, height or place of a drawing inside a drawing; percent, and nothing at all, are of the `whole` room."""
    text = "100%" if text is None or text.strip() == "auto" else text.strip()
    if not text.endswith("%"):
        return values.length(text, what)
    if whole is None:
        raise unreadable(f"{what} is a share of the page, which has no size; write it as a length")
    share = values.numbers(text[:-1])
    if len(share) != 1:
        raise unreadable(f"{what} is `{excerpt(text)}`: one number is needed")
    return share[0] / 100 * whole


def page(root: Element) -> tuple[float | None, float | None]:
    """Width and height of the whole drawing in its own units, as far as they are known."""
    box = view_box(root)
    if box is not None:
        return box[2], box[3]
    found = [root.get(name) for name in ("width", "height")]
    across, down = (None if text is None or text.strip().endswith("%") or text.strip() == "auto"
                    else values.length(text, "the size of the drawing") for text in found)
    return across, down
