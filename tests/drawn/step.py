"""Steps in a cover that opens 90 or 180, and on the feet of larger steps."""

from __future__ import annotations

from math import sqrt

import numpy as np
from assembled import OPENINGS, Bench, Guess
from by_hand import Source, Stand, cover, stand
from rigid import on_page

from drawn import Kit, Tree
from foldwright.solver.card import Vector

# A parallelogram is at a change point where it lies flat: it is followed from a right angle down. By small steps at first:
# the foot of a shallow step moves by many times its depth, and the crossed linkage is near.
CORNER = (90.0, 89.0, 87.0, 84.0, 80.0, 75.0, 70.0, 60.0, 50.0, 42.0, *(opening for opening in OPENINGS if opening < 40))
# ranges of depth and rise (well over the shake of a guess), of width, and of the place along the crease
SIZES = {"any": ((8, 90), (8, 150), (60, 200)),
         "big": ((40, 90), (60, 150), (60, 200)),
         "small": ((10, 30), (8, 40), (5, 60))}


def draw_step(source: Source, name: str, host: Stand, place: str, size: str = "any") -> Stand:
    """A step; a `small` one for the foot of a `big` one."""
    feet, width, where = SIZES[size]
    own = {"at": source.number(*where), "width": source.number(*width)}
    own |= {foot: source.number(*feet) for foot in ("depth", "rise")}
    if source.word("even", "lopsided") == "even":
        own["rise"] = own["depth"]
    return stand("step", name, host, place, own)


def corner() -> Stand:
    """A cover that stands as an L."""
    return cover(opens="90")


def on_step_foot(source: Source) -> Stand:
    """A small step at a foot of a big one."""
    return draw_step(source, "ledge", draw_step(source, "rock", corner(), "spine", "big"),
                     source.word("right_foot", "left_foot"), "small")


def rough(mine: Stand) -> tuple[Vector, Vector, Vector]:
    """The host crease of something in the open card: its start, and the ways of its left and right panel.

    In an L both panels rise at half a right angle, and so do those of every foot of a step or box; on the foot of a
    tent on a flat card, one panel is the page, the other one the wall.
    """
    host, half = mine.host, sqrt(0.5)
    if host.mechanism.keyword == "tent":
        size = host.sizes
        sign = 1.0 if mine.place == "left_foot" else -1.0
        foot = size["left_spread"] if sign > 0 else size["spread"]
        page, wall = np.array([0, sign, 0]), np.array([0, -sign * 0.5, 0.8])
        start = np.array([size["at"], sign * foot, 0])
        return (start, page, wall) if sign > 0 else (start, wall, page)
    if host.host is None:
        return np.zeros(3), np.array([0, half, half]), np.array([0, -half, half])
    start, left, right = rough(host)
    names = ("rise", "depth") if host.mechanism.keyword == "step" else ("left_spread", "spread")
    away = host.sizes[names[0]] * left if mine.place == "left_foot" else host.sizes[names[1]] * right
    return start + np.array([host.sizes["at"], 0, 0]) + away, left, right


def guess(link: Stand) -> Guess:
    """Feet on the panels; the ridge as far from the crease as both feet together."""
    start, left, right = rough(link)
    a, b = link.sizes["depth"], link.sizes["rise"]
    zero = link.page("left").at(0, 0)[1]  # where the host crease lies on the sheet

    def place(panel: str, u: float, v: float) -> Vector:
        at = np.array([u, 0, 0]) + start * [0, 1, 1]
        d = v - zero
        return at + (a * right if d < -a + 1e-6 else b * left if d > b - 1e-6 else a * right + b * left)

    return place


def join(bench: Bench, link: Stand) -> None:
    """Its feet are creases of the sheet: where that is a page, their places are known."""
    for seam in link.flat.seams:
        if seam.right.startswith("cover."):
            for end in (seam.start, seam.end):
                name = bench.add(bench.panels[seam.left], end)
                bench.assembly.pin(name, on_page(seam.right.split(".")[1], end[0], abs(end[1])))
            bench.points[seam.right].clear()  # a page with both ends known is no unknown panel


KIT = Kit({
    "step": Tree(lambda source: draw_step(source, "ledge", cover(opens=source.word("90", "180")), "spine"), openings=CORNER,
                 glued=False),
    "step on step foot": Tree(on_step_foot, openings=CORNER, glued=False),
}, guess, join)
