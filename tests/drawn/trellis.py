"""Trellises on the spine."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from assembled import Bench, Guess
from by_hand import Source, Stand, cover, stand

from drawn import Kit, Tree
from drawn.lattice import cross
from drawn.tent import TABS
from foldwright.solver.card import Vector


def draw_trellis(source: Source, name: str, host: Stand, place: str) -> Stand:
    """Layers with one hinge on each page."""
    run = source.number(30, 100)
    own = {"at": source.number(150, 300), "run": run, "rise": source.number(20, 80), "flap": source.number(20, 40),
           "stub": source.number(4, 12), "spread": source.number(max(Fraction(2, 5) * run, 10), Fraction(9, 10) * run)}
    if source.word("even", "uneven") == "uneven":
        own["right_run"] = source.number(30, 100)
    counts = (int(source.number(4, 8) / 2), int(source.number(4, 8) / 2))
    return stand("trellis", name, host, place, own, counts, tabs=source.word("inward", "outward"))


def guess(link: Stand) -> Guess:
    """Layers across a squarish ring whose left and right corners are the hinges; the flaps go on along the spine."""
    s, counts = link.sizes, link.mechanism.site.counts["layers"]
    run, right = s["run"], s["right_run"]

    def place(panel: str, u: float, v: float) -> Vector:
        flap = 0.0
        if panel.endswith("flap"):
            panel = {"left_flap": "a1", "right_flap": "b1"}[panel]
            flap = u - (run if panel == "a1" else right)
            u -= flap
        family, number = panel[0], int(panel[1:]) - 1
        p, q = (u, right * number / counts[0]) if family == "a" else (run * number / counts[1], u)
        across = s["spread"] * (p / run - q / right)
        return np.array([s["at"] + 0.7 * (p + q - (run + right) / 2) + flap, across, v])

    return place


def join(bench: Bench, link: Stand) -> None:
    """Slots divide each run evenly from the front crossing on. Layers that hold no hinge get a point to be placed by."""
    s, (first, second) = link.sizes, link.mechanism.site.counts["layers"]
    for family, count, run in (("a", first, s["run"]), ("b", second, s["right_run"])):
        for number in range(1, count + 1):
            panel = bench.panels[link.mechanism.own(f"{family}{number}")]
            for corner in ((0.0, 0.0), (run, 0.0), (run, s["band"])):
                bench.add(panel, corner)
    cross(bench, link, lambda b: s["run"] * (b - 1) / second, lambda a: s["right_run"] * (a - 1) / first)


KIT = Kit({"trellis": Tree(lambda source: draw_trellis(source, "fence", cover(), "spine"), words=TABS)}, guess, join)
