"""Swinging arms on V-folds: pointed and truncated ones, on the spine and astride a ridge."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np
from assembled import Bench, Guess
from by_hand import Source, Stand, cover, stand

from drawn import Kit, Tree
from drawn.vfold import draw_vfold, on_big_tent
from drawn.vfold import guess as vfold_guess
from foldwright.solver.card import Vector


def draw_arm(source: Source, name: str, hill: Stand) -> Stand:
    """An arm at the centre of a panel."""
    panel = source.word("right", "left")
    wing = hill.sizes["wing" if panel == "right" else "left_wing"]
    own = {"distance": source.number(40, 200), "angle": source.number(10, min(170, int(wing) + 30)),
           "strip": source.number(6, 10), "glued": source.number(8, 14)}
    return stand("arm", name, hill, panel, own)


def on_vfold(source: Source, truncated: bool = False) -> Stand:
    """On the spine."""
    return draw_arm(source, "kite", draw_vfold(source, "hill", cover(), "spine", "big", truncated=truncated))


def on_astride(source: Source) -> Stand:
    """On a V-fold astride the ridge of a tent."""
    return draw_arm(source, "kite", draw_vfold(source, "hill", on_big_tent(source), "ridge", "small", truncated=True))


def beside(low: Vector, tip: Vector) -> dict[str, Vector]:
    """Both ends of a strip, and a place beside the lower one."""
    along = tip - low
    return {"low": low, "tip": tip, "beside": low + 0.2 * np.array([-along[1], along[0]])}


def aimed_at(link: Stand) -> dict[str, Vector]:
    """Where the maker puts them on the sheet of the panel, v along the ridge and u away from it: polar round the V's point."""
    hill, panel, s = link.host, link.place, link.sizes
    wing = hill.sizes["wing" if panel == "right" else "left_wing"]
    side = -1.0 if hill.flat.faces[panel].first[0] < 0 else 1.0
    off = radians(wing - s["angle"])
    foot = np.array([side * sin(radians(wing)), cos(radians(wing))])
    corners = [(0.0, hill.sizes["ridge_from"]), (0.0, hill.sizes["ridge"]), hill.sizes["foot"] * foot]
    if hill.sizes["foot_from"]:
        corners.append(hill.sizes["foot_from"] * foot)
    low = np.mean(corners, axis=0)  # "at centre": the mean of where ridge and feet begin and end
    return beside(low, np.array([side * s["distance"] * sin(off), s["distance"] * cos(off)]))


def cut_out(link: Stand) -> dict[str, Vector]:
    """The same places of the strip as it is cut: half a width from the ends of the box round it."""
    box = np.asarray(link.flat.panels[0].outline.minimum_rotated_rectangle.exterior.coords)[:4]
    if np.linalg.norm(box[1] - box[0]) > np.linalg.norm(box[2] - box[1]):
        box = np.roll(box, -1, axis=0)
    ends = [(box[0] + box[1]) / 2, (box[2] + box[3]) / 2]
    along = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    middles = [ends[0] + along * link.sizes["strip"] / 2, ends[1] - along * link.sizes["strip"] / 2]
    low = aimed_at(link)["low"]
    near = int(np.linalg.norm(middles[1] - low) < np.linalg.norm(middles[0] - low))
    return beside(middles[near], middles[1 - near])


def guess(link: Stand) -> Guess:
    """Where the panel is thought to be."""
    near = vfold_guess(link.host)
    point = near(link.place, 0.0, 0.0)
    ridge, foot = near(link.place, 0.0, 1.0) - point, near(link.place, 1.0, 0.0) - point
    return lambda panel, u, v: point + v * ridge + abs(u) * foot


def join(bench: Bench, link: Stand) -> None:
    """Glued on the panel: lower end, a place beside it, and the tip, which the maker aims at."""
    strip, host = bench.panels[link.mechanism.own("strip")], link.host.mechanism.own(link.place)
    places = aimed_at(link)
    for name, (u, v) in cut_out(link).items():
        bench.glue(strip, (float(u), float(v)), host, tuple(places[name].tolist()))


KIT = Kit({
    "arm": Tree(on_vfold),
    "arm on truncated vfold": Tree(lambda source: on_vfold(source, truncated=True)),
    "arm on vfold on tent ridge": Tree(on_astride),
}, guess, join)
