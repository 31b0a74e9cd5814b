"""V-folds: on the spine, on an insert in a gusset, on feet, and astride ridges."""

from __future__ import annotations

import numpy as np
from assembled import Guess
from by_hand import Source, Stand, cover, stand

from drawn import Kit, Tree
from drawn.tent import IN_GUSSET, TABS, draw_tent, in_gusset, outer_foot
from foldwright.solver.card import Vector

# ranges of foot, of ridge, and of the place along the crease
SIZES = {"any": ((26, 120), (15, 150), (200, 400)),
         "big": ((100, 150), (100, 150), (200, 400)),
         "small": ((28, 40), (15, 60), (0, 120))}


def draw_vfold(source: Source, name: str, host: Stand, place: str, size: str = "any", truncated: bool = False) -> Stand:
    """A V-fold on a spine, an insert, a foot, inside a ridge, or astride one; a `truncated` one begins off the crease."""
    astride = host.mechanism.creases()[place].astride
    foot, ridge, where = SIZES[size]
    right = source.number(20, 80)
    skew = source.word("even", "lopsided") == "lopsided"
    left = source.number(20, 80) if skew else right
    own = {"at": source.number(*where), "angle": right, "foot": source.number(*foot), "ridge": source.number(*ridge)}
    if astride:
        beyond = source.number(max(5, 25 - right, 25 - left), min(140 - right, 140 - left))
        own["wing"] = right + beyond
        wing = left + beyond
    else:
        crest = source.number(max(right + left + 5, right + 25, left + 25), min(175, right + 140, left + 140))
        own["wing"] = crest - right
        wing = crest - left
    if skew:
        own |= {"left_angle": left, "left_wing": wing}
    if truncated:
        own["foot_from"] = source.number(1, 30)
        own["ridge"] += 30
        own["foot"] += own["foot_from"]
        if source.word("even", "odd") == "odd":
            own["ridge_from"] = source.number(0, min(40, 4 * own["foot_from"]))
    return stand("vfold", name, host, place, own, tabs=source.word("inward", "outward"), points=source.word("front", "back"))


def on_big_tent(source: Source) -> Stand:
    """What the smaller ones stand on."""
    return draw_tent(source, "rock", cover(), "spine", "big")


def on_big_vfold(source: Source) -> Stand:
    """The same, a V-fold."""
    return draw_vfold(source, "rock", cover(), "spine", "big")


def vfold_guess(apex: Vector, tip: Vector, feet: dict[str, Vector]) -> Guess:
    """The V's point, and rough directions of ridge and feet."""
    return lambda panel, u, v: apex + (v * tip if u == 0 else np.hypot(u, v) * feet[panel])


def open_spine_vfold(mine: Stand) -> Guess:
    """The ridge straight up; feet slanting as the V points."""
    run = 1.0 if mine.mechanism.site.choices["points"] == "front" else -1.0
    feet = {side: np.array([0.7 * run, 0.7 * sign, 0.0]) for side, sign in (("left", 1.0), ("right", -1.0))}
    return vfold_guess(np.array([mine.sizes["at"], 0, 0]), np.array([0, 0, 1.0]), feet)


def upper_vfold_guess(mine: Stand) -> Guess:
    """On a tent: astride its ridge, pointing up and along; or between a wall and the page beyond it."""
    low, s = mine.host.sizes, mine.sizes
    run = 1.0 if mine.mechanism.site.choices["points"] == "front" else -1.0
    x = low["at"] + s["at"]
    if mine.place == "ridge":
        feet = {side: np.array([0.7 * run, 0.5 * sign, -0.5]) for side, sign in (("left", -1.0), ("right", 1.0))}
        return vfold_guess(np.array([x, 0, low["wall"]]), np.array([0.7 * run, 0, 0.7]), feet)
    if mine.place == "under_ridge":
        feet = {side: np.array([0.7 * run, 0.5 * sign, -0.5]) for side, sign in (("left", -1.0), ("right", 1.0))}
        return vfold_guess(np.array([x, 0, low["wall"]]), np.array([0.3 * run, 0, -1.0]), feet)
    sign = 1.0 if mine.place == "left_foot" else -1.0
    outer = "left" if sign > 0 else "right"  # the half on the page; the other one is on the wall
    feet = {side: np.array([0.7 * run, 0.7 * sign, 0.0]) if side == outer else np.array([0.7 * run, -0.2 * sign, 0.7])
            for side in ("left", "right")}
    foot = low["left_spread"] if sign > 0 else low["spread"]
    return vfold_guess(np.array([x, sign * foot, 0]), np.array([0, 0.7 * sign, 0.7]), feet)


def guess(link: Stand) -> Guess:
    """By what it stands on."""
    return upper_vfold_guess(link) if link.host.mechanism.keyword == "tent" else open_spine_vfold(link)


WORDS = TABS | {"front", "back"}
KIT = Kit({
    "vfold": Tree(lambda source: draw_vfold(source, "gull", cover(), "spine"), words=WORDS),
    "vfold on tent ridge": Tree(lambda source: draw_vfold(source, "gull", on_big_tent(source), "ridge", "small"), words=WORDS),
    "vfold on tent foot": Tree(lambda source: draw_vfold(source, "gull", on_big_tent(source), outer_foot(source), "small"),
                               words=WORDS),
    "vfold on vfold foot": Tree(lambda source: draw_vfold(source, "gull", on_big_vfold(source), outer_foot(source), "small"),
                                rigid=False),
    "vfold on vfold ridge": Tree(lambda source: draw_vfold(source, "gull", on_big_vfold(source), "ridge", "small"), rigid=False),
    "tent on vfold foot": Tree(lambda source: draw_tent(source, "gull", on_big_vfold(source), outer_foot(source), "small"),
                               rigid=False),
    "truncated vfold": Tree(lambda source: draw_vfold(source, "gull", cover(), "spine", truncated=True), words=WORDS),
    "truncated vfold on tent ridge": Tree(
        lambda source: draw_vfold(source, "gull", on_big_tent(source), "ridge", "small", truncated=True), words=WORDS),
    "vfold under tent ridge": Tree(lambda source: draw_vfold(source, "gull", on_big_tent(source), "under_ridge", "small")),
    "vfold inside vfold": Tree(lambda source: draw_vfold(source, "gull", on_big_vfold(source), "inside", "small"), rigid=False),
    "tent inside vfold": Tree(lambda source: draw_tent(source, "gull", on_big_vfold(source), "inside", "small"), rigid=False),
    "gusset vfold": Tree(lambda source: draw_vfold(source, "pier", in_gusset(source), "crease"), openings=IN_GUSSET, words=WORDS),
}, guess)
