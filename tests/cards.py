"""Small solved cards, made by hand, so that the writers are tested without the solver.

`harbour` has one of everything: a cover, a quay wall as a parallel fold (glued at `FOOT` on both pages, walls
of `WALL`), a boat with round portholes, a slit, and a name with an accent. Its poses are the fold's closed
form: in the plane across the spine both feet lie at +-FOOT * sin(angle / 2) and the ridge stands above their
middle.
"""

from __future__ import annotations

import math
import random
from fractions import Fraction

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from foldwright.emit.labels import Label, label_places, on_parts
from foldwright.emit.wanted import Labels
from foldwright.grammar.source import Source, Span
from foldwright.solver.card import (
    Bond,
    Card,
    CheckedRule,
    Choices,
    Chosen,
    Hinge,
    Line,
    Note,
    Panel,
    Paper,
    Part,
    Placement,
    Step,
    Stroke,
    WaivedRule,
)
from foldwright.solver.expression import Const, Variable
from foldwright.solver.model import Kind, Rule, Wish, WishResult

PAGE = (120.0, 160.0)
FOOT, WALL, TAB, LENGTH = 50.0, 65.0, 10.0, 90.0
INK = Paper("Ink blue", "#22304a", 216.0, 0.28, True)
SAND = Paper("sable doré", "#d8c49a", None, 0.25, False)

_SCRIPT = Source("harbour.card", 'card "Hafen, früh"\nring quay\n  wall 60 to 70\nprefer largest quay.wall\n')


def _lattice_line(points: list[tuple[float, float]], stroke: Stroke) -> Line:
    return Line(tuple(points), stroke)


def cover_part() -> Part:
    width, height = PAGE
    return Part(
        "cover",
        "1",
        INK.name,
        box(0, 0, 2 * width, height),
        (_lattice_line([(width, 0), (width, height)], Stroke.VALLEY),),
        (5.0, 5.0),
    )


def quay_part() -> Part:
    """Tabs left and right of two walls; a slit as an open cut, and the ridge as a mountain fold."""
    us = (0.0, TAB, TAB + WALL, TAB + 2 * WALL, 2 * TAB + 2 * WALL)
    outline = Polygon(
        [
            (us[0], 5),
            (us[1], 0),
            (us[3], 0),
            (us[4], 5),
            (us[4], LENGTH - 5),
            (us[3], LENGTH),
            (us[1], LENGTH),
            (us[0], LENGTH - 5),
        ]
    )
    lines = (
        _lattice_line([(us[1], 0), (us[1], LENGTH)], Stroke.VALLEY),
        _lattice_line([(us[2], 0), (us[2], LENGTH)], Stroke.MOUNTAIN),
        _lattice_line([(us[3], 0), (us[3], LENGTH)], Stroke.VALLEY),
        _lattice_line([(us[1] + 20, 30), (us[1] + 20, 60), (us[1] + 40, 60)], Stroke.CUT),
        _lattice_line([(us[2] + 10, 10), (us[2] + 50, 10)], Stroke.MARK),
    )
    return Part("quay.wall", "2", SAND.name, outline, lines, (3.0, 12.0))


def boat_part() -> Part:
    hull = Polygon([(-30, 0), (-20, -14), (22, -14), (34, 2), (6, 2), (6, 26), (0, 30), (0, 2)])
    holes = shapely.union_all([shapely.Point(x, -6).buffer(3.0) for x in (-12, 2, 16)])
    return Part("böat 'Möwe'", "3", INK.name, hull.difference(holes), (), (-25.0, -4.5), 2.5)


def _rule(
    name: str, kind: Kind, left: float, operator: str, right: float, sentence: str, line: int
) -> CheckedRule:
    start = _SCRIPT.text.index(_SCRIPT.line(line))
    span = Span(start, start + 4, _SCRIPT)
    rule = Rule(name, kind, Const(Fraction(left)), operator, Const(Fraction(right)), sentence, (span,))
    return CheckedRule(rule, left, right, abs(right - left))


def pose(angle: float) -> dict[str, Placement]:
    """The harbour's panels at an opening angle: closed form of the symmetric parallel fold."""
    half = math.radians(angle) / 2
    along = np.array([1.0, 0.0, 0.0])
    right = np.array([0.0, math.sin(half), math.cos(half)])
    left = right * (1, -1, 1)
    ridge = np.array([0, 0, FOOT * math.cos(half) + math.sqrt(WALL**2 - (FOOT * math.sin(half)) ** 2)])
    up = -along  # v runs along the spine
    feet = {"left": FOOT * left, "right": FOOT * right}
    centre = np.array([PAGE[1] / 2, 0.0, 0.0])
    wall_left = (ridge - feet["left"]) / WALL
    wall_right = (feet["right"] - ridge) / WALL
    middle = np.array([LENGTH / 2, 0.0, 0.0])
    return {
        "cover.left": Placement(centre + PAGE[0] * left, -left, up),
        "cover.right": Placement(centre - PAGE[0] * right, right, up),
        "quay.left-tab": Placement(middle + feet["left"] - TAB * left, left, up),
        "quay.left": Placement(middle + feet["left"] - TAB * wall_left, wall_left, up),
        "quay.right": Placement(middle + ridge - (TAB + WALL) * wall_right, wall_right, up),
        "quay.right-tab": Placement(middle + feet["right"] - (TAB + 2 * WALL) * -right, -right, up),
        "boat": Placement(ridge, along, np.array([0.0, 0.0, -1.0])),
    }


def harbour(**changes: object) -> Card:
    """The harbour card; keyword arguments replace fields."""
    cover, quay, boat = cover_part(), quay_part(), boat_part()
    us = (0.0, TAB, TAB + WALL, TAB + 2 * WALL, 2 * TAB + 2 * WALL)
    panels = (
        Panel("cover.left", cover.name, box(0, 0, PAGE[0], PAGE[1])),
        Panel("cover.right", cover.name, box(PAGE[0], 0, 2 * PAGE[0], PAGE[1])),
        Panel("quay.left-tab", quay.name, Polygon([(0, 5), (TAB, 0), (TAB, LENGTH), (0, LENGTH - 5)]), True),
        Panel("quay.left", quay.name, box(us[1], 0, us[2], LENGTH)),
        Panel("quay.right", quay.name, box(us[2], 0, us[3], LENGTH)),
        Panel(
            "quay.right-tab",
            quay.name,
            Polygon([(us[3], 0), (us[4], 5), (us[4], LENGTH - 5), (us[3], LENGTH)]),
            True,
        ),
        Panel("boat", boat.name, boat.outline),
    )
    wish = Wish("largest quay.wall", Variable("quay.wall", Fraction(1, 2), 120, 140), True, Fraction(1, 2))
    fields: dict[str, object] = {
        "title": "Hafen, früh & spät",
        "unit": "mm",
        "opens": 180.0,
        "cover": PAGE,
        "clear": 3.0,
        "gusset": 0.0,
        "mat": (292.1, 292.1),
        "papers": (INK, SAND),
        "dimensions": {
            "quay.wall": (Fraction(65), "mm"),
            "quay.tab": (Fraction(79, 8), "mm"),
            "boat.lean": (Fraction(90), "°"),
        },
        "rules": (
            _rule(
                "quay.closed-fit",
                Kind.GEOMETRY,
                FOOT + WALL,
                "<=",
                PAGE[0] - 3,
                "the ridge reaches {left} from the spine and may reach {right}",
                2,
            ),
            _rule("quay.tab", Kind.PRACTICE, TAB, ">=", 8, "a tab of {left} is at least {right} {wide}", 2),
        ),
        "waived": (
            WaivedRule(
                _rule("quay.tab.length", Kind.PRACTICE, 10, "<=", 9.875, "the tab is {right} long; it needs {left}", 3),
                "strong tape",
                4,
            ),
        ),
        "wishes": (WishResult(wish, Fraction(65), Fraction(70)),),
        "parts": (cover, quay, boat),
        "panels": panels,
        "hinges": (Hinge("cover.left", "cover.right", (PAGE[0], 0), (PAGE[0], PAGE[1]), Stroke.VALLEY),),
        "bonds": (Bond("quay.left-tab", "cover.left"), Bond("quay.right-tab", "cover.right")),
        "crossings": (),
        "steps": (
            Step("Crease the cover and open it.", ("cover",)),
            Step("Glue the quay's tabs, one page after the other.", ("quay.wall",)),
        ),
        "practice": {"tab": 8.0, "strip": 3.0, "joint.thickness": 0.1, "spine.gape": 10.0, "crease.spring": 160.0,
                     "sheet.spacing": 2.0, "sheet.border": 0.0},
        "stack": 1.62,
        "notes": (Note("quay", "the ridge of quay may sway by {figure}", 0.4),),
        "dead_points": (),
        "openings": lambda angles: {},
        "pose": pose,
        "choices": Choices(
            (Chosen("opens of cover", "180", ("90", "180"), False, (("90", "the quay does not close"),), (), 2),
             Chosen("lamp", "left out", ("there", "left out"), True, (("there", "it is too high"),), ("line 4",), 3)),
            True, 4, 4,
        ),
    }
    fields.update(changes)
    return Card(**fields)  # type: ignore[arg-type]



def labels(card: Card) -> dict[str, Label]:
    """All parts labelled on themselves."""
    return on_parts(label_places(card), Labels.ALL)


def _leaf(noise: random.Random) -> Polygon:
    length, width = noise.uniform(25, 70), noise.uniform(10, 24)
    steps = [k * math.pi / 12 for k in range(13)]
    upper = [(length * k / 12, width / 2 * math.sin(t) ** 0.8) for k, t in enumerate(steps)]
    lower = [(x, -y) for x, y in reversed(upper[1:-1])]
    return Polygon([*upper, *lower])


def _comb(noise: random.Random) -> Polygon:
    length, height = noise.uniform(60, 140), noise.uniform(20, 45)
    slots = [box(length * k / 4 - 0.2, height / 2, length * k / 4 + 0.2, height + 1) for k in (1, 2, 3)]
    return box(0, 0, length, height).difference(shapely.union_all(slots))


def _frame(noise: random.Random) -> Polygon:
    side = noise.uniform(50, 95)
    return box(0, 0, side, side * 0.8).difference(box(9, 9, side - 9, side * 0.8 - 9))


def crowd(count: int, seed: int = 11, **changes: object) -> Card:
    """A card of one paper with `count` kelp leaves, slotted combs and window frames of seeded sizes."""
    noise = random.Random(seed)
    parts = []
    for index in range(count):
        outline = (_leaf, _comb, _frame)[index % 3](noise)
        parts.append(
            Part(
                f"p{index}",
                f"{index + 1}",
                INK.name,
                outline,
                (),
                (2.0, 2.0) if index % 3 else (9.0, -1.0),
                2.0,
            )
        )
    panels = tuple(Panel(part.name, part.name, part.outline) for part in parts)
    where = Placement(np.zeros(3), np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.6, 0.8]))
    fields = {"panels": panels, "hinges": (), "bonds": (), "pose": lambda _: dict.fromkeys([p.name for p in parts], where)}
    return harbour(parts=tuple(parts), papers=(INK,), **{**fields, **changes})
