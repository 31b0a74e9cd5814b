"""Rings on the spine: rhombus, kite, parallelogram and the general quadrilateral; small ones in their joints, on their feet."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from assembled import Bench, Guess
from by_hand import Source, Stand, cover, stand

from drawn import Kit, Tree
from drawn.tent import TABS
from foldwright.solver.card import Vector

SHAPES = ("rhombus", "kite", "parallelogram", "quadrilateral")


def draw_ring(source: Source, name: str, host: Stand, place: str, *shapes: str) -> Stand:
    """A ring on a crease, of one of some shapes."""
    wall, shape = source.number(38, 90), source.word(*shapes)
    own = {"at": source.number(200, 350), "wall": wall, "height": source.number(20, 60), "flap": source.number(20, min(wall, 50)),
           "spread": source.number(max(Fraction(2, 5) * wall, 10), Fraction(9, 10) * wall)}
    if shape in ("kite", "quadrilateral"):
        own["back_wall"] = source.number(38, 100)
    if shape in ("parallelogram", "quadrilateral"):
        own["offset"] = source.number(1, 60)
    return stand("ring", name, host, place, own, tabs=source.word("inward", "outward"), ahead=source.word("left", "right"))


def draw_small(source: Source, kind: str, name: str, host: Stand, place: str) -> Stand:
    """A ring or a hexagon that fits a joint or a foot of a big ring."""
    size = {"wall": source.number(22, 30), "spread": source.number(10, 22), "at": source.number(22, 60), "height": 20}
    size |= {"flap": 20} if kind == "ring" else {"flat": source.number(22, 26)}
    return stand(kind, name, host, place, size, tabs=source.word("inward", "outward"))


def draw_big(source: Source, *shapes: str) -> Stand:
    """A ring with room on its walls and flaps."""
    wall = source.number(70, 90)
    own = {"at": source.number(200, 300), "wall": wall, "height": 60, "flap": 60,
           "spread": source.number(Fraction(2, 5) * wall, Fraction(9, 10) * wall)}
    if source.word(*shapes) == "quadrilateral":
        own |= {"back_wall": source.number(70, 90), "offset": source.number(1, 30)}
    return stand("ring", "pool", cover(), "spine", own, tabs=source.word("inward", "outward"))


def on_ring(source: Source, kind: str, *places: str) -> Stand:
    """A small one on a crease of a big ring."""
    return draw_small(source, kind, "nest", draw_big(source, "rhombus", "quadrilateral"), source.word(*places))


def seat(link: Stand, local: Guess) -> Guess:
    """A guess for one on the spine, made one for where it stands: a free joint of a ring, or one of its feet."""
    host, place = link.host, link.place
    if host is None or host.mechanism.keyword == "cover":
        return local
    s = host.sizes
    shift = s["offset"] / 2
    if place in ("front", "back"):  # x up the joint, z to the middle of the ring
        out = 1.0 if place == "back" else -1.0
        start = np.array([s["at"] + out * 0.7 * s["wall"], 0.0, 0.0])
        axes = np.array([[0, 0, 1.0], [0, out, 0], [-out, 0, 0]])
    else:  # x along the flap, z between it and the page beyond
        sign = 1.0 if place == "left_foot" else -1.0
        start = np.array([s["at"] + (shift if sign > 0 else -shift - s["flap"]), sign * s["spread"], 0.0])
        axes = np.array([[1.0, 0, 0], [0, 0.7, -0.7 * sign], [0, 0.7 * sign, 0.7]])
    half = link.sizes["spread"] * 0.7  # both hosts open to about a right angle

    def place_there(panel: str, u: float, v: float) -> Vector:
        x, y, z = local(panel, u, v)
        return start + np.array([x, 0.7 * y, z + half]) @ axes

    return place_there


def guess(link: Stand) -> Guess:
    """Walls upright on a squarish ring, page joints at the spread."""
    s = link.sizes
    flap, shift = s["flap"], s["offset"] * (1 if link.mechanism.site.choices["ahead"] == "left" else -1)

    def place(panel: str, u: float, v: float) -> Vector:
        sign, first, second = ((1.0, "back_right", "back_left") if panel in ("right_flap", "back_right", "back_left")
                               else (-1.0, "front_left", "front_right"))
        one, other = s[f"{first}.length"], s[f"{second}.length"]
        steps = [0, flap, flap + one, flap + one + other]
        along = np.interp(u, steps, [-flap - shift / 2, -shift / 2, 0.35 * (one + other), shift / 2])
        across = np.interp(u, steps, [-1, -1, 0, 1]) * s["spread"]
        return np.array([s["at"] + sign * along, sign * across, v])

    return seat(link, place)


def join(bench: Bench, link: Stand) -> None:
    """The free edge of each half strip meets the first crease of the other one (the guide: "on the first wall")."""
    flap = link.sizes["flap"]
    for joint, onto in (("right", "front_left"), ("left", "back_right")):
        panel, *ends = bench.edges[link.mechanism.own(f"{joint}_joint")]
        for end in ends:
            bench.glue(panel, end, link.mechanism.own(onto), (flap, end[1]))


KIT = Kit({"ring": Tree(lambda source: draw_ring(source, "pool", cover(), "spine", "rhombus"), words=TABS),
           "ring of any shape": Tree(lambda source: draw_ring(source, "pool", cover(), "spine", *SHAPES[1:]),
                                     words=TABS | {"left", "right"}),
           "ring in a ring's joint": Tree(lambda source: on_ring(source, "ring", "front", "back"), words=TABS),
           "ring on a ring's foot": Tree(lambda source: on_ring(source, "ring", "right_foot", "left_foot"), words=TABS)},
          guess, join)
