"""Platforms: on the spine, on an insert in a gusset, on one another, and with something on, under and beside them."""

from __future__ import annotations

import numpy as np
from assembled import Bench, Guess
from by_hand import Source, Stand, cover, stand
from rigid import Where

from drawn import Kit, Tree
from drawn.tent import IN_GUSSET, TABS, draw_tent, in_gusset, outer_foot
from drawn.vfold import draw_vfold
from foldwright.solver.card import Vector

# ranges of width, of height, of spread, of overhang, and of the place along the crease
SIZES = {"any": ((50, 150), (10, 50), (17, 60), (9, 40), (60, 200)),
         "big": ((180, 220), (40, 60), (60, 90), (40, 60), (60, 200)),
         "small": ((50, 70), (10, 20), (17, 24), (9, 12), (5, 60))}


def draw_platform(source: Source, name: str, host: Stand, place: str, size: str = "any", supports: str = "") -> Stand:
    """A platform; a `small` one for the crease of a `big` one."""
    width, height, spread, overhang, where = SIZES[size]
    own = {"at": source.number(*where), "width": source.number(*width), "height": source.number(*height),
           "spread": source.number(*spread), "overhang": source.number(*overhang), "end_overhang": source.number(0, 4)}
    if source.word("even", "lopsided") == "lopsided":
        own |= {"left_spread": source.number(*spread), "left_overhang": source.number(*overhang)}
    return stand("platform", name, host, place, own, tabs=source.word("inward", "outward"),
                 supports=supports or source.word("three", "two"), top_tabs=source.word("outward", "inward"))


def big(source: Source, supports: str = "") -> Stand:
    """What others stand on."""
    return draw_platform(source, "deck", cover(), "spine", "big", supports)


def base(link: Stand) -> Vector:
    """Where the host crease of a link begins on the open card: layers add up."""
    layers = [lower.sizes for lower in link.chain[1:-1] if lower.mechanism.keyword == "platform"]
    return np.array([sum(s["at"] for s in layers), 0.0, sum(s["height"] for s in layers)])


def guess(link: Stand) -> Guess:
    """The sheet flat at its height, every support upright below it."""
    s, origin = link.sizes, base(link)
    start, long = s["at"] + s["end_overhang"], s["width"] - 2 * s["end_overhang"]

    def place(panel: str, u: float, v: float) -> Vector:
        at = {"left": (s["at"] + u, v, s["height"]), "right": (s["at"] + u, v, s["height"]), "centre": (start + u, 0, v),
              "right_wall": (start + u, -s["spread"], v), "left_wall": (start + long - u, s["left_spread"], v)}
        return origin + np.array(at[panel])

    return place


def glue(bench: Bench, link: Stand) -> None:
    """Each support under the sheet as far from its crease as its foot lies from the crease below, the centre wall on both."""
    s, own = link.sizes, link.mechanism.own
    end, long = s["end_overhang"], s["width"] - 2 * s["end_overhang"]
    for side in ("left", "right"):
        sheet = bench.panels[own(side)]
        u0, v0, u1, v1 = sheet.outline.bounds
        for u in (u0, u1):
            bench.add(sheet, (u, v1 if side == "left" else v0))
    for side, foot, turned in (("left", s["left_spread"], True), ("right", -s["spread"], False)):
        panel, *ends = bench.edges[own(f"{side}_top")]
        for point in ends:
            bench.glue(panel, point, own(side), (end + (long - point[0] if turned else point[0]), foot))
    wall = bench.panels.get(own("centre"))
    for u, v in list(bench.points[own("centre")].values()) if wall else ():
        if v:
            bench.glue(wall, (u, v), own("left"), (end + u, 0.0))
        else:
            frame = link.page("left")
            bench.glue(wall, (u, v), frame.panel, frame.at(s["at"] + end + u, 0.0))


def upright(place: Vector) -> Where:
    """A place on the bisector of the card."""
    return lambda opening: place


def join(bench: Bench, link: Stand) -> None:
    """Glued, and held in the middle: the spring of equal folds keeps the layer's crease straight above the one below."""
    glue(bench, link)
    s = link.sizes
    sheet = bench.panels[link.mechanism.own("left")]
    bench.assembly.pin(bench.add(sheet, (0.0, 0.0)), upright(base(link) + np.array([s["at"], 0.0, s["height"]])))


def corner(source: Source) -> str:
    """One of the two corners at a centre wall."""
    return source.word("right_corner", "left_corner")


WORDS = TABS | {"three", "two"}
KIT = Kit({
    "platform": Tree(lambda source: draw_platform(source, "deck", cover(), "spine"), words=WORDS),
    "platform on platform": Tree(lambda source: draw_platform(source, "gull", big(source), "crease", "small"), words=WORDS),
    "vfold on platform": Tree(lambda source: draw_vfold(source, "gull", big(source), "crease", "small"), words=TABS),
    "tent on platform": Tree(lambda source: draw_tent(source, "gull", big(source), "crease", "small"), words=TABS),
    "tent on platform foot": Tree(lambda source: draw_tent(source, "gull", big(source), outer_foot(source), "small"),
                                  rigid=False),
    "tent in platform corner": Tree(lambda source: draw_tent(source, "gull", big(source, "three"), corner(source), "small"),
                                    rigid=False),
    "gusset platform": Tree(lambda source: draw_platform(source, "deck", in_gusset(source), "crease"), rigid=False,
                            openings=IN_GUSSET),
}, guess, join)
