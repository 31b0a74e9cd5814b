"""Mechanisms made by hand, without script or search, on one another.

A `Stand` is a mechanism with its dimensions on its host, down to the cover. Random dimensions for each mechanism are
drawn in the folder `drawn`, one file each, from any source of numbers (a seeded generator, or Hypothesis).
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
from foldwright.solver.flat import HOST, Flat, Frame, Pose
from foldwright.solver.frames import cut_from_host, face_fold, handed, on_sheet
from foldwright.solver.geometry import Fold, spine_fold
from foldwright.solver.host import Site
from foldwright.solver.mechanism import Mechanism, registry
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
        sizes = {name: float(evaluate(expression, self.values)) for name, expression in expressions.items()}
        return sizes | ({"face.sign": handed(self.page("face"))} if self.on_face else {})

    @property
    def on_face(self) -> bool:
        """True if it is glued on a panel."""
        return self.mechanism.site.face is not None

    @cached_property
    def flat(self) -> Flat:
        """Panels cut out of the host's sheet have their place on it, as in a settled card."""
        return self._flat_and_axes[0]

    @cached_property
    def _flat_and_axes(self) -> tuple[Flat, dict[str, Frame]]:
        flat = self.mechanism.build(self.sizes)
        if not any(panel.part == HOST for panel in flat.panels):
            return flat, {}
        axes = {side: self.page(side) for side in ("left", "right")}
        part = next(p.part for link in self.host.chain for p in link.flat.panels if p.name == axes["left"].panel)
        return flat, cut_from_host(flat, axes, part)

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
            return spine_fold(opening)
        if self.on_face:
            frame = self.page("face")
            return face_fold(frame, self.host.pose(opening).placements[frame.panel])
        return self.host.pose(opening).folds[self.place]

    def pose(self, opening: float) -> Pose:
        pose = self.mechanism.pose(self.sizes, self.fold(opening))
        for name, axes in self._flat_and_axes[1].items():
            pose.placements[name] = on_sheet(pose.placements[name], axes)
        return pose

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
        """Axes (x, d) of one side of the host crease on a real panel; or (u, v) of the host "face"."""
        assert self.host is not None
        return self.host.flat.faces[self.place] if side == "face" else self.host.resolved(self.place, side)


def cover(width: Number = 600, height: Number = 900, strip: Number = 5, **words: str) -> Stand:
    """A cover, large unless told otherwise."""
    contents = Fraction(words.pop("contents", "0"))
    parameters = {"width": width, "height": height, "clear": 3, "strip": strip}
    site = Site("cover", {name: Const(Fraction(v)) for name, v in parameters.items()},
                {"opens": "180", "spine": "plain", **words}, {}, None, "ink", CALIPER, HABIT, contents=contents)
    return Stand(KINDS["cover"](site), {})


def stand(kind: str, name: str, host: Stand, place: str, dimensions: Mapping[str, Number],
          counts: tuple[int, int] | None = None, **words: str) -> Stand:
    """A mechanism on a crease or at the centre of a face of `host`; every given dimension is an unknown, one left out is
    derived."""
    made, top = KINDS[kind], host.mechanism
    values = {f"{name}.{key}": Fraction(v) for key, v in dimensions.items()}
    given: dict[str, Expr] = {key: Variable(f"{name}.{key}", STEP, 0, 10**6) for key in dimensions}
    face = top.faces()[place] if "face" in made.stands_on else None
    crease = None if face or "ring" in made.stands_on else top.creases()[place]
    hints = {"astride": Const(Fraction(int(crease is not None and crease.astride)))}
    for parameter in made.parameters:
        if parameter.name not in given:
            assert parameter.derive is not None, f"{kind} needs {parameter.name}"
            given[parameter.name] = parameter.derive({**given, **hints})
    choices = {choice.name: choice.options[0] for choice in made.choices} | words
    environment = host.chain[0].mechanism.environment()  # type: ignore[attr-defined]
    site = Site(name, {p.name: given[p.name] for p in made.parameters}, choices,
                {"layers": counts} if counts else {}, None, "ink", CALIPER, HABIT,
                crease=crease, face=face, at={"word": "centre"} if face else {},
                ring=top.ring() if "ring" in made.stands_on else None, cover=environment)
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
    return list(_broken(mine))


def valid(mine: Stand) -> bool:
    """Whether all rules hold, of this mechanism and its hosts; the first that does not ends the look."""
    return next(_broken(mine), None) is None


def _broken(mine: Stand) -> Iterator[str]:
    return (rule.name for link in mine.chain for rule in link.mechanism.rules() if not holds(rule, link.values))


def with_change(mine: Stand, key: str, change: Number) -> Stand:
    """The same mechanisms with one dimension ("gull.wing") changed, whatever the rules say."""
    host = None if mine.host is None else with_change(mine.host, key, change)
    values = {name: value + Fraction(change) if name == key else value for name, value in mine.values.items()}
    return replace(mine, values=values, host=host)


# ---- random dimensions

def draw(kind: str, source: Source) -> Stand:
    """One of the trees in `drawn`: a mechanism on its hosts, with random dimensions that may or may not be valid."""
    from drawn import trees

    return trees()[kind].draw(source)


def valid_sets(kind: str, count: int, most: int = 20000) -> Iterator[tuple[int, Stand]]:
    """The first `count` seeds whose dimensions break no rule, with what they draw."""
    found = 0
    for seed in range(most):
        mine = draw(kind, Seeded(seed))
        if valid(mine):
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
