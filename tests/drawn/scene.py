"""Scenes at a centre wall in a card that opens flat, and beside a page in one that opens to 90 degrees."""

from __future__ import annotations

from math import sqrt

import numpy as np
from assembled import Bench, Guess
from by_hand import Source, Stand, cover, stand
from rigid import on_page

from drawn import Kit, Tree
from drawn.platform import upright
from drawn.tent import TABS, draw_tent
from foldwright.solver.card import Vector

SQUARE = sqrt(0.5)  # sine and cosine of half of 90 degrees


def draw_scene(source: Source, name: str, parallel: str, feet: str = "") -> Stand:
    """A scene; the other page is its backdrop, or a wall on the crease."""
    host = cover(opens="180" if parallel == "centre" else "90")
    level = source.number(20, 40)
    count = source.word("1", "2", "3", "4")
    drop = source.number(0, 12)
    own = {"at": source.number(60, 200), "width": source.number(50, 150), "spacing": source.number(17, 40), "drop": drop,
           "level": level, "height": level + 9 + int(count) * drop + source.number(0, 60), "strip_length": source.number(20, 50),
           "lower_level": source.number(10, 12)}
    feet = feet or source.word("yes", "no")
    return stand("scene", name, host, "spine", own, planes=count, parallel=parallel, side=source.word("right", "left"),
                 feet=feet, strips="2" if feet == "no" else source.word("1", "2"), tabs=source.word("inward", "outward"))


def directions(link: Stand) -> tuple[Vector, Vector]:
    """The page that planes stand on, and the way up a plane, in a card that opens as far as it can."""
    words = link.mechanism.site.choices
    sign = 1.0 if words["side"] == "left" else -1.0
    if words["parallel"] == "centre":
        return np.array([0, sign, 0]), np.array([0, 0, 1.0])
    return np.array([0, sign * SQUARE, SQUARE]), np.array([0, -sign * SQUARE, SQUARE])


def along(link: Stand, panel: str, u: float) -> float:
    """Where a point of a part lies along the crease: planes are seen from in front, strips from above."""
    s = link.sizes
    plane = not panel.startswith(("strip", "lower"))
    start, long = (s["at"], s["width"]) if plane else (s["at"] + (s["width"] - s["strip_length"]) / 2, s["strip_length"])
    return start + (u if plane == (link.mechanism.site.choices["side"] == "right") else long - u)


def guess(link: Stand) -> Guess:
    """Planes upright on the page, strips parallel to it."""
    s = link.sizes
    page, up = directions(link)

    def place(panel: str, u: float, v: float) -> Vector:
        number = 0 if panel == "centre" else int(panel[-1])
        x = np.array([along(link, panel, u), 0, 0])
        if panel.startswith(("strip", "lower")):
            level = s["level" if panel.startswith("strip") else "lower_level"]
            return x + ((number - 1) * s["spacing"] + v) * page + level * up
        return x + number * s["spacing"] * page + v * up

    return place


def glue(bench: Bench, link: Stand) -> None:
    """A centre wall on the crease; strips at their level on the plane behind and on the plane in front."""
    s, own = link.sizes, link.mechanism.own
    for name in link.mechanism.faces():
        for u in (0.0, s["width"]):
            bench.add(bench.panels[own(name)], (u, s["level"]))
            bench.add(bench.panels[own(name)], (u, s["level"] + 9))
    for u, v in list(bench.points.get(own("centre"), {}).values()):
        if not v:
            frame = link.page("left")
            bench.glue(bench.panels[own("centre")], (u, v), frame.panel, frame.at(along(link, "centre", u), 0.0))
    for tab, (panel, *ends) in bench.edges.items():
        piece, _, end = tab.removeprefix(f"{link.name}.").partition("_")
        if not tab.startswith(link.name) or end not in ("behind", "before"):
            continue
        number = int(piece[-1]) - (1 if end == "behind" else 0)
        plane = own(f"plane{number}" if number else "centre")
        for point in ends if plane in bench.panels else ():  # the first strip beside a page stands on its mark there
            level = s["level" if piece.startswith("strip") else "lower_level"]
            x = along(link, piece, point[0])
            u = x - s["at"] if link.mechanism.site.choices["side"] == "right" else s["at"] + s["width"] - x
            bench.glue(panel, point, plane, (u, level))


def join(bench: Bench, link: Stand) -> None:
    """Glued, and held: the spring of equal folds keeps a centre wall upright, and hung planes where feet would hold them."""
    glue(bench, link)
    s, own, words = link.sizes, link.mechanism.own, link.mechanism.site.choices
    if words["parallel"] == "centre":
        top = np.array([along(link, "centre", 0.0), 0.0, s["level"]])
        bench.assembly.pin(bench.add(bench.panels[own("centre")], (0.0, s["level"])), upright(top))
    for number in range(1, int(words["planes"]) + 1) if words["feet"] == "no" else ():
        name = f"plane{number}"
        foot = on_page(words["side"], along(link, name, 0.0), number * s["spacing"])
        bench.assembly.pin(bench.add(bench.panels[own(name)], (0.0, 0.0)), foot)


def on_ledge(source: Source) -> Stand:
    """A small tent in the back corner of a scene."""
    return draw_tent(source, "gull", draw_scene(source, "stage", "centre", "yes"), "back", "small")


WORDS = TABS | {"right", "left"}
KIT = Kit({  # planes that hang in front of a centre wall have no foot on the page: test_mechanism_scene.py
    "scene": Tree(lambda source: draw_scene(source, "stage", "centre", "yes"), words=WORDS),
    "scene beside a page": Tree(lambda source: draw_scene(source, "stage", "page"), words=WORDS | {"yes", "no"}),
    "tent behind a scene": Tree(on_ledge, rigid=False),
}, guess, join)
