"""The insert in a gusseted cover: no tree of its own, what stands on it draws it."""

from __future__ import annotations

import numpy as np
from assembled import Bench, Guess
from by_hand import HABIT, Stand
from rigid import on_page

from drawn import Kit


def guess(link: Stand) -> Guess:
    """The sheet lies on the pages; its crease sinks into the pleat."""
    return lambda panel, u, v: np.array([u, v, -5.0])


def join(bench: Bench, link: Stand) -> None:
    """In a gusset: glued strips up to the insert's margin at the fore-edge, pages that turn about two scores."""
    size, gap = link.sizes, link.sizes["cover.gap"]
    held = size["cover.width"] - max(HABIT["insert.margin"], 3) - HABIT["insert.glue"]  # the cover's clear strip is 3
    for side in ("left", "right"):
        panel, *ends = bench.edges[link.mechanism.own(f"{side}_glue")]
        for end in ends:
            bench.assembly.pin(bench.add(panel, end), on_page(side, end[0], float(held), gap))
    for seam in link.host.flat.seams:
        for strip in (seam.left, seam.right):
            for end in (seam.start, seam.end) if "pleat" in strip else ():
                name = bench.add(bench.panels[strip], end)
                if end[1]:
                    bench.assembly.pin(name, on_page("left" if end[1] > 0 else "right", end[0], 0.0, gap))


KIT = Kit({}, guess, join)
