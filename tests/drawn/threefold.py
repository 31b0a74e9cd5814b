"""Three panels and a tie on the spine, and on the feet of larger mechanisms."""

from __future__ import annotations

import numpy as np
from assembled import Bench, Guess
from by_hand import Source, Stand, cover, stand

from drawn import Kit, Tree
from drawn.tent import TABS, draw_tent, outer_foot
from drawn.vfold import draw_vfold
from foldwright.solver.card import Vector

# ranges of spread, of reach beyond wall and tie, of the left foot beyond the tie, of width, of the place along the crease
SIZES = {"any": ((9, 40), (3, 60), (9, 60), (21, 150), (60, 200)),
         "big": ((20, 40), (30, 60), (30, 60), (100, 150), (60, 200)),
         "small": ((9, 15), (3, 12), (9, 15), (21, 50), (2, 40))}


def draw_threefold(source: Source, name: str, host: Stand, place: str, size: str = "any") -> Stand:
    """A hut with its tie; what is left out is computed, or written out as it must be."""
    spread, room, gap, width, where = SIZES[size]
    right, tie = source.number(*spread), source.number(*spread)
    ridge = right + tie + source.number(*room)
    far = tie + source.number(*gap)
    own = {"at": source.number(*where), "width": source.number(*width), "spread": right, "wall": max(ridge - right, 12),
           "roof": source.number(12, 90), "left_spread": far, "tie_spread": tie}
    if source.word("computed", "written") == "written":
        own |= {"tie": right + own["wall"] - tie, "left_wall": right + own["wall"] + own["roof"] - far}
    return stand("threefold", name, host, place, own, tabs=source.word("inward", "outward"))


def on_tent_foot(source: Source) -> Stand:
    """A small one between the wall and the page of a big tent."""
    return draw_threefold(source, "gull", draw_tent(source, "rock", cover(), "spine", "big"), outer_foot(source), "small")


def on_foot_of_it(crease: str, source: Source) -> Stand:
    """A small V-fold on a big threefold."""
    return draw_vfold(source, "gull", draw_threefold(source, "rock", cover(), "spine", "big"), crease, "small")


def guess(link: Stand) -> Guess:
    """Right wall and tie upright over their feet, the roof level, the left wall down to its foot."""
    s = link.sizes
    first = np.array([0, -0.5 * s["spread"], 0.8 * s["wall"]])
    second = first + np.array([0, 0.8 * s["roof"], 0.4 * s["roof"]])
    levels = {0.0: np.array([0, -s["spread"], 0]), s["wall"]: first, s["wall"] + s["roof"]: second,
              s["wall"] + s["roof"] + s["left_wall"]: np.array([0, s["left_spread"], 0])}
    tie = {0.0: np.array([0, s["tie_spread"], 0]), s["tie"]: first}

    def place(panel: str, u: float, v: float) -> Vector:
        known = tie if panel == "tie" else levels
        near = min(known, key=lambda level: abs(level - v))
        return np.array([s["at"] + u, 0, 0]) + known[near]

    return place


def join(bench: Bench, link: Stand) -> None:
    """The tie's upper edge lies on the fold between right wall and roof, at the same places along it."""
    panel, *ends = bench.edges[link.mechanism.own("upper_tab")]
    for end in ends:
        bench.glue(panel, end, link.mechanism.own("roof"), (end[0], link.sizes["wall"]))


KIT = Kit({
    "threefold": Tree(lambda source: draw_threefold(source, "hut", cover(), "spine"), words=TABS),
    "threefold on tent foot": Tree(on_tent_foot, rigid=False),
    "vfold on threefold ridge": Tree(lambda source: on_foot_of_it("ridge", source), rigid=False),
    "vfold on threefold tie foot": Tree(lambda source: on_foot_of_it("tie_foot", source), rigid=False),
    "vfold on threefold foot": Tree(lambda source: on_foot_of_it(outer_foot(source), source), rigid=False),
}, guess, join)
