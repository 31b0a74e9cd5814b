"""Lattices in a ring."""

from __future__ import annotations

import numpy as np
from assembled import Bench, Guess
from by_hand import Source, Stand, cover, stand
from rigid import weights

from drawn import Kit, Tree
from drawn.ring import draw_ring
from foldwright.solver.card import Vector


def draw_lattice(source: Source, name: str, ring: Stand) -> Stand:
    """A lattice in a ring."""
    own = {"rise": source.number(20, 90)}
    counts = (int(source.number(2, 6) / 2), int(source.number(2, 6) / 2))
    return stand("lattice", name, ring, "inside", own, counts)


def guess(link: Stand) -> Guess:
    """Layers across a square ring."""
    ring, counts = link.host.sizes, link.mechanism.site.counts["layers"]
    half, wall = 0.7 * ring["wall"], ring["wall"]

    def place(panel: str, u: float, v: float) -> Vector:
        family, number = panel[0], int(panel[1:])
        off = number / (counts["ab".index(family)] + 1)
        s, t = (u / wall, off) if family == "a" else (off, u / wall)  # shares of the two walls from the front joint
        return np.array([ring["at"] - half + half * (s + t), ring["spread"] * (s - t), v])

    return place


def join(bench: Bench, link: Stand) -> None:
    """Layers divide the walls evenly: `a` from the front left wall to the back right one, `b` crosswise.

    On the half strips the wall runs over u: front right, back left from the page joint (flap) to the free joint
    (flap + wall), front left, back right on to the other page joint.
    """
    ring, wall, flap = link.host, link.sizes["wall"], link.host.sizes["flap"]
    first, second = link.mechanism.site.counts["layers"]
    far = {"front_left": lambda s: flap + wall + s, "back_right": lambda s: flap + 2 * wall - s,
           "front_right": lambda s: flap + wall - s, "back_left": lambda s: flap + s}
    for family, count, start, end in (("a", first, "front_left", "back_right"), ("b", second, "front_right", "back_left")):
        for number in range(1, count + 1):
            layer, off = link.mechanism.own(f"{family}{number}"), wall * number / (count + 1)
            for tab, onto in ((f"{layer}_start", start), (f"{layer}_end", end)):
                panel, *ends = bench.edges[tab]
                for point in ends:
                    bench.glue(panel, point, ring.mechanism.own(onto), (far[onto](off), point[1]))
    for crossing in link.flat.crossings:
        one, other = (bench.points[name] for name in (crossing.first, crossing.second))
        a, b = (int(name.split(".")[1][1:]) for name in (crossing.first, crossing.second))
        for height in (0.0, link.sizes["band"]):
            bench.assembly.join(weights(one, (wall * b / (second + 1), height)),
                               weights(other, (wall * a / (first + 1), height)))


KIT = Kit({"lattice": Tree(lambda source: draw_lattice(source, "weeds", draw_ring(source, "pool", cover(), "spine")))},
          guess, join)
