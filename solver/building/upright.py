"""Upright walls that stand on both pages at one distance from the crease: rings of all kinds, and what is hung like one.

The foot of such a wall runs parallel to the crease, so the wall keeps parallel to the plane that halves the opening:
between its outer face and the page beyond it there is half the opening, and what opens half as far can stand there.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from foldwright.solver.building.holes import Box, rectangle_within
from foldwright.solver.building.tabs import beyond, edge_tab, foot_area, foot_cut, strip_limits, tab_fits
from foldwright.solver.card import Bond, Panel, Placement, Point, Vector
from foldwright.solver.expression import Const, Expr
from foldwright.solver.flat import Flat, Frame, Pose, Seam
from foldwright.solver.geometry import Closed, Fold, half_opening, rectangle, tab_outline, unit
from foldwright.solver.host import Area, Crease, Face, Side
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Rule

ZERO = Const(Fraction(0))
KEPT = Fraction(9, 10)  # share of the walls' reach across at which a ring still keeps an inside (common practice, no source)
TAPER = 60  # degrees; ends of the tab that closes a strip into a ring (common practice, no source)


@dataclass(frozen=True)
class Foot:
    """A wall on one page ("left" or "right"), parallel to the crease: its panel, where it starts along it, its length."""

    side: str
    panel: str
    start: Expr
    length: Expr


# ---- feet

def foot_rules(owner: Mechanism, feet: Sequence[Foot], spread: Expr) -> Iterator[Rule]:
    """Rules of the tabs under the feet."""
    for foot in feet:
        yield from tab_fits(owner, foot.side, getattr(owner.crease, foot.side), foot.start, foot.start + foot.length, spread)


def foot_creases(owner: Mechanism, feet: Sequence[Foot], spread: Expr, height: Expr) -> dict[str, Crease]:
    """The outer side of each foot: between the wall and the page beyond it, open half as far as the host."""
    host, inset, creases = owner.crease, owner.habit("tab.inset"), {}
    for foot in feet:
        page: Side = getattr(host, foot.side)
        wall = Side(foot.panel, strip_limits(foot.length, height, inset))
        outer = Side(page.panel, beyond(page, foot.start, spread))
        left, right = (outer, wall) if foot.side == "left" else (wall, outer)
        place = host.closed.then(Closed(foot.start, spread, ZERO))
        creases[f"{foot.side}_foot"] = Crease(place, left, right, half_opening(host.opening))
    return creases


def foot_areas(owner: Mechanism, feet: Sequence[Foot], spread: Expr) -> Iterator[Area]:
    """What the tabs under the feet need on the pages."""
    for foot in feet:
        yield foot_area(owner, foot.side, foot.start, foot.start + foot.length, spread)


def add_foot(owner: Mechanism, flat: Flat, foot: Foot, part: str, span: tuple[float, float], place: tuple[float, float],
             sign: int) -> None:
    """The tab below a wall that spans `span` of its part's u, its mark or slit, and the axes of its crease.

    `place` is where the foot starts along the crease and its distance from it; `sign` tells whether u runs along the
    crease (1) or against it (-1).
    """
    name, (u0, u1), (start, spread) = owner.own(f"{foot.side}_foot"), span, place
    tab, first, last = edge_tab(owner, (u0, 0), (u1, 0), (0, -1))
    flat.panels.append(Panel(name, part, tab, tab=True))
    flat.seams.append(Seam(foot.panel, name, first, last))
    flat.bonds.append(Bond(name, getattr(owner.crease, foot.side).panel))
    low = u0 if sign > 0 else u1  # the end that lies lowest along the crease
    ends = tuple((start + sign * (u - low), spread) for u in (first[0], last[0]))
    flat.cuts.append(foot_cut(owner, foot.side, (ends[0], ends[1]), name))
    wall = Frame(foot.panel, (low, 0), (sign, 0), (0, 1))
    page = Frame(f"host.{foot.side}", (start, spread), (1, 0), (0, 1))
    left, right = (page, wall) if foot.side == "left" else (wall, page)
    flat.sides |= {(f"{foot.side}_foot", "left"): left, (f"{foot.side}_foot", "right"): right}


def pose_foot(owner: Mechanism, pose: Pose, foot: Foot, host: Fold, start: Vector, low: float, sign: int) -> None:
    """The tab and the crease of a foot that starts at `start` in space, at u = `low` of its part."""
    page = host.right if foot.side == "right" else host.left
    inward = owner.site.choices["tabs"] == "inward"
    along = sign * host.x
    pose.placements[owner.own(f"{foot.side}_foot")] = Placement(start - low * along, along, page if inward else -page)
    pose.folds[f"{foot.side}_foot"] = host.half(foot.side, start)


# ---- strips of walls

def add_strip(flat: Flat, part: str, walls: Sequence[tuple[str, float]], height: float, paper: str) -> float:
    """Walls side by side, each with its length, from u = 0; gives where the last one ends."""
    flat.papers[part] = paper
    end = 0.0
    for number, (name, length) in enumerate(walls):
        if number:
            flat.seams.append(Seam(walls[number - 1][0], name, (end, 0), (end, height)))
        flat.panels.append(Panel(name, part, rectangle(end, 0, end + length, height)))
        end += length
    return end


def add_joint(owner: Mechanism, flat: Flat, name: str, part: str, wall: str, onto: str, end: float, height: float) -> None:
    """The tab at the end of a strip that closes it into a ring."""
    inset, depth = float(owner.habit("tab.inset")), float(owner.habit("tab.depth"))
    edge: tuple[Point, Point] = ((end, height - inset), (end, inset))
    flat.panels.append(Panel(name, part, tab_outline(*edge, (1, 0), depth, (TAPER, TAPER)), tab=True))
    flat.seams.append(Seam(wall, name, *edge))
    flat.bonds.append(Bond(name, onto))


def pose_strip(pose: Pose, start: Vector, walls: Sequence[tuple[str, float, Vector]], up: Vector) -> None:
    """Walls one after another in space from u = 0: name, length and direction of each."""
    place, u = start, 0.0
    for name, length, along in walls:
        pose.placements[name] = Placement(place - u * along, along, up)
        place, u = place + length * along, u + length


def wall_face(owner: Mechanism, wall: str, start: Expr, spread: Expr, size: tuple[Expr, Expr], turned: bool) -> Face:
    """A wall as a face: u from `start` along the closed crease, or against it if `turned`; v up. `size` is (length, height)."""
    zero = Const(Fraction(180 if turned else 0))
    place = owner.crease.closed.then(Closed(start, spread, zero, mirrored=turned))
    return Face(owner.own(wall), place, (size[0] / 2, size[1] / 2), (size[0] / 2, size[1]),
                within=rectangle_within(Box((ZERO, size[0]), (ZERO, size[1]))))


# ---- corners

def corner_angles(half: Vector, first: float, second: float) -> tuple[Vector, Vector]:
    """Angles to the crease of two walls that meet in a free upright joint; their sum is the angle between them.

    The walls are hinged at `half` on either side of the plane of symmetry, at places along the crease that differ by
    their difference in length: cosine law of that triangle in half-angle form (no 0/0 from closed to open).
    """
    sine = np.minimum(half / np.sqrt(first * second), 1.0)
    cosine = np.sqrt(np.maximum(1 - sine**2, 0.0))
    ratio = np.sqrt(first / second)
    return 2 * np.arctan2(sine, ratio + cosine), 2 * np.arctan2(sine, 1 / ratio + cosine)


@dataclass(frozen=True)
class Corner:
    """A free upright joint, seen from inside: the walls on both sides of its crease, with their lengths.

    `run` tells whether the ring lies along the host crease from it (1) or against it (-1).
    """

    name: str
    run: int
    left: tuple[str, Expr]
    right: tuple[str, Expr]


def corner_crease(owner: Mechanism, corner: Corner, at: Expr, spread: Expr, height: Expr) -> Crease:
    """The inside of a free joint: x up the joint, d along the walls. `at` is where the closed joint lies."""
    host, inset = owner.crease, owner.habit("tab.inset")
    left, right = (Side(name, strip_limits(height, length, inset)) for name, length in (corner.left, corner.right))
    opening = host.opening * spread * spread / (corner.left[1] * corner.right[1])
    place = host.closed.then(Closed(at, spread, Const(Fraction(90)), mirrored=corner.run > 0))
    return Crease(place, left, right, opening, room=_above_the_pages)


def _above_the_pages(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
    """On the open card the lower ends of the corners lie on the pages, or nearest to them."""
    yield ZERO, x, "through the pages below"


def corner_fold(joint: Vector, left: Vector, right: Vector, up: Vector, angle: Vector) -> Fold:
    """The inside of a free joint in space: `left` and `right` are the directions of its walls, `angle` in radians."""
    return Fold(joint, up, unit(left + right), np.degrees(angle))


def corner_sides(flat: Flat, name: str, walls: Mapping[str, tuple[str, float, int]]) -> None:
    """Axes of a free joint's sides: by side the panel, the joint's u on its part, and the way u runs from it."""
    for side, (panel, u, sign) in walls.items():
        flat.sides[name, side] = Frame(panel, (u, 0), (0, 1), (sign, 0))
