"""Hexagons on the spine, in one strip or two."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from assembled import Bench, Guess
from by_hand import Source, Stand, cover, stand

from drawn import Kit, Tree
from drawn.ring import on_ring, seat
from drawn.tent import TABS
from drawn.vfold import draw_vfold
from foldwright.solver.card import Vector

ROUND = ("right_flat", "back_right", "back_left", "left_flat", "front_left", "front_right")


def draw_hexagon(source: Source, name: str, host: Stand, place: str) -> Stand:
    """A room of six walls."""
    wall = source.number(25, 90)
    own = {"at": source.number(150, 300), "wall": wall, "flat": source.number(22, 120), "height": source.number(20, 60),
           "spread": source.number(max(Fraction(2, 5) * wall, 10), Fraction(9, 10) * wall)}
    return stand("hexagon", name, host, place, own, tabs=source.word("inward", "outward"), strip=source.word("halves", "one"))


def corners_open(size: dict[str, float]) -> list[Vector]:
    """The six corners, roughly, from the start of the right flat wall round the room."""
    half, out, across = size["flat"] / 2, size["flat"] / 2 + 0.7 * size["wall"], size["spread"]
    return [np.array([size["at"] + x, y, 0.0])
            for x, y in ((-half, -across), (half, -across), (out, 0), (half, across), (-half, across), (-out, 0))]


def guess(link: Stand) -> Guess:
    """Walls upright round a hexagon; each panel starts where its frame on the part does."""
    places = corners_open(link.sizes)

    def place(panel: str, u: float, v: float) -> Vector:
        number = ROUND.index(panel)
        long = link.sizes["flat" if panel.endswith("flat") else "wall"]
        share = (u - link.flat.faces[panel].origin[0]) / long
        return (1 - share) * places[number] + share * places[(number + 1) % 6] + np.array([0, 0, v])

    return seat(link, place)


def join(bench: Bench, link: Stand) -> None:
    """The free edge of a strip meets the start of the flat wall that comes next round the room."""
    halves = link.mechanism.site.choices["strip"] == "halves"
    for joint, onto in (("right", "left_flat"), ("left", "right_flat")) if halves else (("right", "right_flat"),):
        panel, *ends = bench.edges[link.mechanism.own(f"{joint}_joint")]
        for end in ends:
            bench.glue(panel, end, link.mechanism.own(onto), (0.0, end[1]))


def on_floor(source: Source) -> Stand:
    """A V-fold inside a room."""
    own = {"at": source.number(200, 300), "wall": source.number(60, 90), "flat": 110, "height": 30, "spread": 54}
    return draw_vfold(source, "gull", stand("hexagon", "room", cover(), "spine", own), "floor", "small")


KIT = Kit({"hexagon": Tree(lambda source: draw_hexagon(source, "room", cover(), "spine"), words=TABS | {"halves", "one"}),
           "hexagon in a ring's joint": Tree(lambda source: on_ring(source, "hexagon", "front", "back"), words=TABS),
           "hexagon on a ring's foot": Tree(lambda source: on_ring(source, "hexagon", "right_foot", "left_foot"), words=TABS),
           "vfold on a hexagon's floor": Tree(on_floor, rigid=False)}, guess, join)
