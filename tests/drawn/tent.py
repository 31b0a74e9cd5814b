"""Tents: on the spine, on an insert in a gusset, and on the feet of larger mechanisms."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from assembled import OPENINGS, Guess
from by_hand import Source, Stand, cover, stand

from drawn import Kit, Tree

# Open flat, an insert in a gusset is at a change point of its own (its crease could rise as well), so it starts lower.
IN_GUSSET = tuple(opening for opening in OPENINGS if opening < 180)
# ranges of spread, of reach beyond both feet, of width, and of the place along the crease
SIZES = {"any": ((9, 45), (3, 70), (21, 150), (60, 200)),
         "big": ((20, 45), (40, 70), (100, 150), (60, 200)),
         "small": ((9, 18), (3, 12), (21, 50), (2, 40))}


def draw_tent(source: Source, name: str, host: Stand, place: str, size: str = "any") -> Stand:
    """A tent; a `small` one for the foot of a `big` mechanism."""
    spread, room, width, where = SIZES[size]
    right = source.number(*spread)
    skew = source.word("even", "lopsided") == "lopsided"
    left = source.number(*spread) if skew else right
    reach = right + left + source.number(*room)
    own = {"at": source.number(*where), "width": source.number(*width), "spread": right,
           "wall": max(reach - right, Fraction(12), 12 + left - right)}
    if skew:
        own |= {"left_spread": left, "left_wall": right + own["wall"] - left}
    return stand("tent", name, host, place, own, tabs=source.word("inward", "outward"))


def in_gusset(source: Source) -> Stand:
    """The crease of an insert in a cover with a pleat."""
    thick = cover(strip=source.number(4, 10), spine="gusset", contents=str(source.number(1, 4)))
    return stand("insert", "page", thick, "spine", {})


def outer_foot(source: Source) -> str:
    """One of the two feet of a mechanism."""
    return source.word("right_foot", "left_foot")


def on_tent_foot(source: Source) -> Stand:
    """A small tent between the wall and the page of a big one."""
    return draw_tent(source, "gull", draw_tent(source, "rock", cover(), "spine", "big"), outer_foot(source), "small")


def under_tent_ridge(source: Source) -> Stand:
    """A small tent between the walls of a big one."""
    return draw_tent(source, "gull", draw_tent(source, "rock", cover(), "spine", "big"), "under_ridge", "small")


def guess(link: Stand) -> Guess:
    """Feet on the page, the ridge a wall's width above the spine; or hung under the ridge of a tent."""
    s = link.sizes
    if link.place == "under_ridge":
        top, x = link.host.sizes["wall"], link.host.sizes["at"] + s["at"]
        # its right foot is on the left wall of the one above, as seen from inside
        rough = {0.0: (0.5 * s["spread"], 0.8 * s["spread"]), s["wall"]: (0.0, s["wall"])}
        far = -0.5 * s["left_spread"], 0.8 * s["left_spread"]
        return lambda panel, u, v: np.array([x + u, rough.get(v, far)[0], top - rough.get(v, far)[1]])
    half = s["wall"]
    return lambda panel, u, v: np.array([s["at"] + u, (v - half) * s["spread"] / half, s["wall"] if v == half else 0.0])


TABS = frozenset({"inward", "outward"})
KIT = Kit({
    "tent": Tree(lambda source: draw_tent(source, "pier", cover(), "spine"), words=TABS),
    "tent on tent foot": Tree(on_tent_foot, rigid=False),
    "tent under tent ridge": Tree(under_tent_ridge, words=TABS),
    "gusset tent": Tree(lambda source: draw_tent(source, "pier", in_gusset(source), "crease"), openings=IN_GUSSET, words=TABS),
}, guess)
