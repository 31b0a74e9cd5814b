"""Boxes in a cover that opens 90, and on the feet of steps and tents."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from assembled import Bench, Guess
from by_hand import Source, Stand, cover, stand

from drawn import Kit, Tree
from drawn.step import CORNER, corner, draw_step, rough
from drawn.tent import TABS, draw_tent, outer_foot
from drawn.vfold import draw_vfold
from foldwright.solver.card import Vector

# ranges of both spreads, of width, and of the place along the crease
SIZES = {"any": ((10, 90), (21, 150), (60, 200)),
         "big": ((40, 90), (100, 150), (60, 200)),
         "small": ((10, 25), (21, 50), (2, 40))}


def draw_box(source: Source, name: str, host: Stand, place: str, size: str = "any") -> Stand:
    """A box; a `small` one for the foot of a `big` mechanism."""
    spread, width, where = SIZES[size]
    own = {"at": source.number(*where), "width": source.number(*width), "spread": source.number(*spread)}
    if source.word("even", "lopsided") == "lopsided":
        own["left_spread"] = source.number(*spread)
    return stand("box", name, host, place, own, tabs=source.word("inward", "outward"), floor=source.word("closed", "open"))


def guess(link: Stand) -> Guess:
    """Feet on the panels; the ridge as far from the crease as both feet together."""
    start, left, right = rough(link)
    s = link.sizes
    a, b = s["spread"], s["left_spread"]
    levels = {-a - b: b * left, -a: 0 * left, 0.0: a * right, b: a * right + b * left, a + b: b * left}

    def place(panel: str, u: float, v: float) -> Vector:
        near = min(levels, key=lambda level: abs(level - v))
        return start + np.array([s["at"] + u, 0, 0]) + levels[near]

    return place


def join(bench: Bench, link: Stand) -> None:
    """A floor is glued on both panels: its crease on theirs, its edge on the mark of the foot."""
    if link.mechanism.site.choices["floor"] == "open":
        return
    s = link.sizes
    for side, crease, foot in (("right", -s["spread"], 0.0), ("left", -s["spread"], -s["spread"] - s["left_spread"])):
        panel, page = bench.panels[link.mechanism.own(f"{side}_floor")], link.page(side)
        for u in (0.0, s["width"]):
            for v in (crease, foot):
                bench.glue(panel, (u, v), page.panel, page.at(s["at"] + u, abs(v - crease)))


def on_step(source: Source) -> Stand:
    """A big step in an L."""
    return draw_step(source, "rock", corner(), "spine", "big")


def on_tent(source: Source) -> Stand:
    """A big tent on a flat card."""
    return draw_tent(source, "rock", cover(), "spine", "big")


def big_box(source: Source) -> Stand:
    """A big box in an L."""
    return draw_box(source, "rock", corner(), "spine", "big")


def on_box(draw: Callable[..., Stand], *places: str) -> Callable[[Source], Stand]:
    """Something small on one of the creases of a big box."""
    return lambda source: draw(source, "gull", big_box(source), source.word(*places), "small")


WORDS = TABS | {"closed", "open"}
KIT = Kit({
    "box": Tree(lambda source: draw_box(source, "crate", corner(), "spine"), openings=CORNER, words=WORDS),
    "box on tent foot": Tree(lambda source: draw_box(source, "crate", on_tent(source), outer_foot(source), "small"), words=WORDS),
    "box on step foot": Tree(lambda source: draw_box(source, "crate", on_step(source), outer_foot(source), "small"),
                             openings=CORNER, words=WORDS),
    "box under tent ridge": Tree(lambda source: draw_box(source, "crate", on_tent(source), "under_ridge", "small"), rigid=False),
    "box on box foot": Tree(lambda source: draw_box(source, "crate", big_box(source), outer_foot(source), "small"), rigid=False),
    "tent inside a box": Tree(on_box(draw_tent, "under_ridge", "floor"), rigid=False),
    "vfold on box ridge": Tree(on_box(draw_vfold, "ridge"), rigid=False),
    "vfold on step ridge": Tree(lambda source: draw_vfold(source, "gull", on_step(source), "ridge", "small"), rigid=False),
    "vfold on step foot": Tree(lambda source: draw_vfold(source, "gull", on_step(source), outer_foot(source), "small"),
                               rigid=False),
}, guess, join)
