"""Rings on the spine."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from assembled import Bench, Guess
from by_hand import Source, Stand, cover, stand

from drawn import Kit, Tree
from drawn.tent import TABS
from foldwright.solver.card import Vector


def draw_ring(source: Source, name: str, host: Stand, place: str) -> Stand:
    """A ring on a spine."""
    wall = source.number(38, 110)
    own = {"at": source.number(150, 300), "wall": wall, "height": source.number(20, 60), "flap": source.number(20, min(wall, 50)),
           "spread": source.number(max(Fraction(2, 5) * wall, 10), Fraction(9, 10) * wall)}
    return stand("ring", name, host, place, own, tabs=source.word("inward", "outward"))


def guess(link: Stand) -> Guess:
    """Walls upright on a square ring, page joints at the spread."""
    s = link.sizes
    wall, flap, half = s["wall"], s["flap"], 0.7 * s["wall"]

    def place(panel: str, u: float, v: float) -> Vector:
        sign = 1.0 if panel in ("left_flap", "back_left", "back_right") else -1.0
        along = np.interp(u, [0, flap, flap + wall, flap + 2 * wall], [-flap, 0, half, 0])
        across = np.interp(u, [0, flap, flap + wall, flap + 2 * wall], [-1, -1, 0, 1]) * s["spread"]
        return np.array([s["at"] + sign * along, sign * across, v])

    return place


def join(bench: Bench, link: Stand) -> None:
    """The free edge of each half strip meets the first crease of the other one (the guide: "on the first wall")."""
    flap = link.sizes["flap"]
    for joint, onto in (("left", "front_right"), ("right", "back_left")):
        panel, *ends = bench.edges[link.mechanism.own(f"{joint}_joint")]
        for end in ends:
            bench.glue(panel, end, link.mechanism.own(onto), (flap, end[1]))


KIT = Kit({"ring": Tree(lambda source: draw_ring(source, "pool", cover(), "spine"), words=TABS)}, guess, join)
