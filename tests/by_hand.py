"""Mechanisms made by hand, without script or search: random valid dimensions, and mechanisms on mechanisms.

A `Stand` is a mechanism with its dimensions on its host, down to the cover. The `draw_*` functions choose dimensions
from any source of numbers (a seeded generator, or Hypothesis), so that most of what they choose is valid; `valid`
says whether it is.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from math import atan2, cos, degrees, radians, sin
from typing import Protocol

import numpy as np

from foldwright.solver.card import Placement, Point, Vector
from foldwright.solver.evaluate import evaluate, holds
from foldwright.solver.expression import Const, Expr, Variable
from foldwright.solver.geometry import Fold
from foldwright.solver.mechanism import Flat, Frame, Mechanism, Pose, Site, registry
from foldwright.solver.practice import HABITS

KINDS = registry()
HABIT = {habit.name: habit.value for habit in HABITS}
CALIPER = Fraction(1, 4)
STEP = Fraction(1, 2)  # grid of the drawn dimensions, mm or degrees
Number = int | float | Fraction


class Source(Protocol):
    """Where random dimensions come from."""

    def number(self, low: Number, high: Number) -> Fraction: ...

    def word(self, *options: str) -> str: ...


class Seeded:
    """Numbers on a half grid from a seeded generator."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)

    def number(self, low: Number, high: Number) -> Fraction:
        return STEP * self.random.randint(*ticks(low, high))

    def word(self, *options: str) -> str:
        return self.random.choice(options)


def ticks(low: Number, high: Number) -> tuple[int, int]:
    """Whole half millimetres in a range; an empty range becomes its lower end."""
    first, last = -int(-Fraction(low) // STEP), int(Fraction(high) // STEP)
    return first, max(first, last)


@dataclass(frozen=True, eq=False)
class Stand:
    """A mechanism with its dimensions, on a crease (or in a ring, or on a face) of its host."""

    mechanism: Mechanism
    values: Mapping[str, Fraction]
    host: Stand | None = None
    place: str = ""

    @property
    def name(self) -> str:
        return self.mechanism.name

    @cached_property
    def sizes(self) -> dict[str, float]:
        """What `build` and `pose` are given, in mm and degrees."""
        mechanism = self.mechanism
        cover = self.chain[0].mechanism.environment()  # type: ignore[attr-defined]
        expressions = {**mechanism.site.parameters, **{f"cover.{k}": e for k, e in cover.items()}, **mechanism.needs()}
        return {name: float(evaluate(expression, self.values)) for name, expression in expressions.items()}

    @cached_property
    def flat(self) -> Flat:
        return self.mechanism.build(self.sizes)

    @property
    def chain(self) -> list[Stand]:
        """From the cover up to this mechanism."""
        return [*(self.host.chain if self.host else []), self]

    @property
    def opens(self) -> float:
        return float(self.chain[0].mechanism.site.choices["opens"])

    def fold(self, opening: float) -> Fold:
        """The host crease when the card is open by `opening` degrees."""
        if self.host is None:
            return Fold(np.zeros(3), np.array([1.0, 0, 0]), np.array([0, 0, 1.0]), float(opening))
        return self.host.pose(opening).folds[self.place]

    def pose(self, opening: float) -> Pose:
        return self.mechanism.pose(self.sizes, self.fold(opening))

    def placements(self, opening: float) -> dict[str, Placement]:
        """Every panel, hosts included."""
        return {name: placement for stand in self.chain for name, placement in stand.pose(opening).placements.items()}

    def value(self, expression: Expr) -> float:
        return float(evaluate(expression, self.values))

    def resolved(self, crease: str, side: str) -> Frame:
        """Axes of one side of a crease on a real panel, where a mechanism passes on the page of its host."""
        frame = self.flat.sides[crease, side]
        if not frame.panel.startswith("host."):
            return frame
        assert self.host is not None
        outer = self.host.resolved(self.place, frame.panel.removeprefix("host."))
        zero = np.array(outer.at(0, 0))
        first, second = (tuple(np.array(outer.at(*axis)) - zero) for axis in (frame.first, frame.second))
        return Frame(outer.panel, outer.at(*frame.origin), first, second)

    def page(self, side: str) -> Frame:
        """Axes (x, d) of one side of the host crease on a real panel."""
        assert self.host is not None
        return self.host.resolved(self.place, side)


def cover(width: Number = 600, height: Number = 900, strip: Number = 5, **words: str) -> Stand:
    """A cover, large unless told otherwise."""
    contents = Fraction(words.pop("contents", "0"))
    parameters = {"width": width, "height": height, "clear": 3, "strip": strip}
    site = Site("cover", {name: Const(Fraction(v)) for name, v in parameters.items()},
                {"opens": "180", "spine": "plain", **words}, {}, None, "ink", CALIPER, HABIT, contents=contents)
    return Stand(KINDS["cover"](site), {})


def stand(kind: str, name: str, host: Stand, place: str, dimensions: Mapping[str, Number],
          counts: tuple[int, int] | None = None, **words: str) -> Stand:
    """A mechanism on a crease of `host`; every given dimension is an unknown, one left out is derived."""
    made, top = KINDS[kind], host.mechanism
    values = {f"{name}.{key}": Fraction(v) for key, v in dimensions.items()}
    given: dict[str, Expr] = {key: Variable(f"{name}.{key}", STEP, 0, 10**6) for key in dimensions}
    crease = None if "ring" in made.stands_on else top.creases()[place]
    hints = {"astride": Const(Fraction(int(crease is not None and crease.astride)))}
    for parameter in made.parameters:
        if parameter.name not in given:
            assert parameter.derive is not None, f"{kind} needs {parameter.name}"
            given[parameter.name] = parameter.derive({**given, **hints})
    choices = {choice.name: choice.options[0] for choice in made.choices} | words
    environment = host.chain[0].mechanism.environment()  # type: ignore[attr-defined]
    site = Site(name, {p.name: given[p.name] for p in made.parameters}, choices,
                {"layers": counts} if counts else {}, None, "ink", CALIPER, HABIT,
                crease=crease, ring=top.ring() if "ring" in made.stands_on else None, cover=environment)
    return Stand(made(site), {**host.values, **values}, host, place)


def in_smaller_cover(mine: Stand, width: float, height: float) -> Stand:
    """The same chain of mechanisms in a cover of another size."""
    small = cover(Fraction(width), Fraction(height), **mine.chain[0].mechanism.site.choices)
    for link in mine.chain[1:]:
        kind = link.mechanism.keyword
        own = {key.removeprefix(f"{link.name}."): value for key, value in link.values.items()
               if key.startswith(f"{link.name}.")}
        small = stand(kind, link.name, small, link.place, own, link.mechanism.site.counts.get("layers"),
                      **link.mechanism.site.choices)
    return small


def broken(mine: Stand) -> list[str]:
    """Names of the rules that do not hold, of this mechanism and its hosts."""
    return [rule.name for link in mine.chain for rule in link.mechanism.rules() if not holds(rule, link.values)]


def with_change(mine: Stand, key: str, change: Number) -> Stand:
    """The same mechanisms with one dimension ("gull.wing") changed, whatever the rules say."""
    host = None if mine.host is None else with_change(mine.host, key, change)
    values = {name: value + Fraction(change) if name == key else value for name, value in mine.values.items()}
    return replace(mine, values=values, host=host)


# ---- random dimensions

# ranges of spread, of reach beyond both feet, of width, and of the place along the crease
TENT = {"any": ((9, 45), (3, 70), (21, 150), (60, 200)),
        "big": ((20, 45), (40, 70), (100, 150), (60, 200)),
        "small": ((9, 18), (3, 12), (21, 50), (2, 40))}
# ranges of foot, of ridge, and of the place along the crease
VFOLD = {"any": ((26, 120), (15, 150), (200, 400)),
         "big": ((100, 150), (100, 150), (200, 400)),
         "small": ((28, 40), (15, 60), (0, 120))}

def draw_tent(source: Source, name: str, host: Stand, place: str, size: str = "any") -> Stand:
    """A tent; a `small` one for the foot of a `big` mechanism."""
    spread, room, width, where = TENT[size]
    left = source.number(*spread)
    skew = source.word("even", "lopsided") == "lopsided"
    right = source.number(*spread) if skew else left
    reach = left + right + source.number(*room)
    own = {"at": source.number(*where), "width": source.number(*width), "spread": left,
           "wall": max(reach - left, Fraction(12), 12 + right - left)}
    if skew:
        own |= {"right_spread": right, "right_wall": left + own["wall"] - right}
    return stand("tent", name, host, place, own, tabs=source.word("inward", "outward"))


def draw_vfold(source: Source, name: str, host: Stand, place: str, size: str = "any") -> Stand:
    """A V-fold on a spine, an insert, a foot, or astride a ridge."""
    astride = host.mechanism.creases()[place].astride
    foot, ridge, where = VFOLD[size]
    left = source.number(20, 80)
    skew = source.word("even", "lopsided") == "lopsided"
    right = source.number(20, 80) if skew else left
    own = {"at": source.number(*where), "angle": left, "foot": source.number(*foot), "ridge": source.number(*ridge)}
    if astride:
        beyond = source.number(max(5, 25 - left, 25 - right), min(140 - left, 140 - right))
        own["wing"] = left + beyond
        wing = right + beyond
    else:
        crest = source.number(max(left + right + 5, left + 25, right + 25), min(175, left + 140, right + 140))
        own["wing"] = crest - left
        wing = crest - right
    if skew:
        own |= {"right_angle": right, "right_wing": wing}
    return stand("vfold", name, host, place, own, tabs=source.word("inward", "outward"), points=source.word("front", "back"))


def draw_ring(source: Source, name: str, host: Stand, place: str) -> Stand:
    """A ring on a spine."""
    wall = source.number(38, 110)
    own = {"at": source.number(150, 300), "wall": wall, "height": source.number(20, 60), "flap": source.number(20, min(wall, 50)),
           "spread": source.number(max(Fraction(2, 5) * wall, 10), Fraction(9, 10) * wall)}
    return stand("ring", name, host, place, own, tabs=source.word("inward", "outward"))


def draw_lattice(source: Source, name: str, ring: Stand) -> Stand:
    """A lattice in a ring."""
    own = {"rise": source.number(20, 90)}
    counts = (int(source.number(2, 6) / 2), int(source.number(2, 6) / 2))
    return stand("lattice", name, ring, "inside", own, counts)


def draw(kind: str, source: Source) -> Stand:
    """One of `TREES`: a mechanism on its hosts, with random dimensions that may or may not be valid."""
    base = cover()
    if kind == "tent":
        return draw_tent(source, "pier", base, "spine")
    if kind == "vfold":
        return draw_vfold(source, "gull", base, "spine")
    if kind == "ring":
        return draw_ring(source, "pool", base, "spine")
    if kind == "lattice":
        return draw_lattice(source, "weeds", draw_ring(source, "pool", base, "spine"))
    if kind.startswith("gusset "):
        thick = cover(strip=source.number(4, 10), spine="gusset", contents=str(source.number(1, 4)))
        page = stand("insert", "page", thick, "spine", {})
        return {"tent": draw_tent, "vfold": draw_vfold}[kind.split()[1]](source, "pier", page, "crease")
    upper, _, lower, crease = kind.split()
    below = {"tent": draw_tent, "vfold": draw_vfold}[lower](source, "rock", base, "spine", "big")
    if crease == "foot":
        crease = source.word("left_foot", "right_foot")
    return {"tent": draw_tent, "vfold": draw_vfold}[upper](source, "gull", below, crease, "small")


TREES = ("tent", "vfold", "ring", "lattice", "vfold on tent ridge", "vfold on tent foot", "tent on tent foot",
         "vfold on vfold foot", "vfold on vfold ridge", "tent on vfold foot")


def valid_sets(kind: str, count: int, most: int = 20000) -> Iterator[tuple[int, Stand]]:
    """The first `count` seeds whose dimensions break no rule, with what they draw."""
    found = 0
    for seed in range(most):
        mine = draw(kind, Seeded(seed))
        if not broken(mine):
            found += 1
            yield seed, mine
        if found == count:
            return
    raise AssertionError(f"only {found} valid sets of {kind} in {most} seeds")


def corners(stand: Stand, panels: Sequence[str] | None = None) -> dict[str, Vector]:
    """Corners of every panel of the chain in part coordinates, shape (n, 2)."""
    return {panel.name: np.asarray(panel.outline.exterior.coords)[:-1] for link in stand.chain for panel in link.flat.panels
            if panels is None or panel.name in panels}


def at(placement: Placement, point: Point) -> Vector:
    """Place in space of one part coordinate."""
    where: Vector = placement.points(np.array([point], dtype=float))[0]
    return where


# ---- angles in degrees

def sine(angle: float) -> float:
    return sin(radians(angle))


def cosine(angle: float) -> float:
    return cos(radians(angle))


def between(one: Vector, other: Vector) -> float:
    """Angle between two directions in degrees, exact to rounding near 0 and 180 too."""
    return degrees(atan2(float(np.linalg.norm(np.cross(one, other))), float(one @ other)))


def square_to(edge: Vector, inside: Vector) -> Vector:
    """The part of a direction that is square to an edge."""
    return inside - (inside @ edge) * edge
