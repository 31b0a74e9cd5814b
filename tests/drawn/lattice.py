"""Lattices in a ring of equal or unequal walls."""

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
    """Layers across a squarish ring."""
    ring, counts = link.host.sizes, link.mechanism.site.counts["layers"]
    long = {"a": ring["front_left.length"], "b": ring["front_right.length"]}

    def place(panel: str, u: float, v: float) -> Vector:
        family, number = panel[0], int(panel[1:])
        off = number / (counts["ab".index(family)] + 1)
        s, t = (u / long["a"], off) if family == "a" else (off, u / long["b"])  # shares of both walls from the front joint
        along = 0.7 * (s * long["a"] + t * long["b"] - (long["a"] + long["b"]) / 2)
        return np.array([ring["at"] + along, ring["spread"] * (s - t), v])

    return place


def join(bench: Bench, link: Stand) -> None:
    """Layers divide the walls evenly: `a` from the front right wall to the back left one, `b` crosswise.

    On the half strips the wall runs over u: front left, back right from the page joint (flap) to the free joint
    (flap + wall), front right, back left on to the other page joint.
    """
    ring, flap = link.host, link.host.sizes["flap"]
    first, second = link.mechanism.site.counts["layers"]
    long = {name: ring.sizes[f"{name}.length"] for name in ("front_right", "front_left", "back_right", "back_left")}
    far = {"front_right": lambda s: flap + long["front_left"] + s,
           "back_left": lambda s: flap + long["back_right"] + long["back_left"] - s,
           "front_left": lambda s: flap + long["front_left"] - s, "back_right": lambda s: flap + s}
    for family, count, start, end in (("a", first, "front_right", "back_left"), ("b", second, "front_left", "back_right")):
        for number in range(1, count + 1):
            layer, off = link.mechanism.own(f"{family}{number}"), long[start] * number / (count + 1)
            for tab, onto in ((f"{layer}_start", start), (f"{layer}_end", end)):
                panel, *ends = bench.edges[tab]
                for point in ends:
                    bench.glue(panel, point, ring.mechanism.own(onto), (far[onto](off), point[1]))
    cross(bench, link, lambda b: long["front_left"] * b / (second + 1), lambda a: long["front_right"] * a / (first + 1))


def cross(bench: Bench, link: Stand, on_first, on_second) -> None:
    """Layers meet in their slots: `on_first` gives u on an `a` layer of the crossing with the b-th, `on_second` that on a `b`."""
    for crossing in link.flat.crossings:
        one, other = (bench.points[name] for name in (crossing.first, crossing.second))
        a, b = (int(name.split(".")[1][1:]) for name in (crossing.first, crossing.second))
        for height in (0.0, link.sizes["band"]):
            bench.assembly.join(weights(one, (on_first(b), height)), weights(other, (on_second(a), height)))


def drawn(*shapes: str):
    """A lattice in a ring of one of some shapes."""
    return lambda source: draw_lattice(source, "weeds", draw_ring(source, "pool", cover(), "spine", *shapes))


KIT = Kit({"lattice": Tree(drawn("rhombus")), "lattice in a parallelogram": Tree(drawn("parallelogram"))}, guess, join)
