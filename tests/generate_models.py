"""Card-like models of any size: tents, V-folds and slotted pairs along the spine, made directly as `Model`
objects.

The family follows what such cards ask for (closed reach inside the page, order and distance along the spine,
heights by sines and roots, slots that add up), with invented numbers. `tight` adds totals per spread, so that
mechanisms compete; `clash` plants a contradiction: the widths of some mechanisms exceed the spine together.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil
from random import Random

from foldwright.solver.expression import Expr, Variable, cos, lift, sin, sqrt
from foldwright.solver.model import Kind, Model, Rule, Wish

PAGE, SPINE, CLEAR, GAP, TAB = 150, 210, 3, 4, 8
DEGREE = Fraction(1)


class Maker:
    """Collects variables and rules of one model."""

    def __init__(self, step: Fraction) -> None:
        self.step = step
        self.variables: list[Variable] = []
        self.rules: list[Rule] = []
        self.area: Expr = lift(0)

    def length(self, name: str, low: int, high: int) -> Variable:
        variable = Variable(name, self.step, -(-low // self.step), high // self.step)
        self.variables.append(variable)
        return variable

    def angle(self, name: str, low: int, high: int) -> Variable:
        variable = Variable(name, DEGREE, low, high)
        self.variables.append(variable)
        return variable

    def rule(self, name: str, left: Expr, operator: str, right: Expr | int, kind: Kind = Kind.GEOMETRY) -> None:
        self.rules.append(Rule(name, kind, lift(left), operator, lift(right), name))


def tent(make: Maker, name: str) -> dict[str, Expr]:
    """A strip with one ridge over the gutter: feet a and b, walls c and d."""
    a, b = make.length(f"{name}.left", 10, 100), make.length(f"{name}.right", 10, 100)
    c, d = make.length(f"{name}.left-wall", 15, 140), make.length(f"{name}.right-wall", 15, 140)
    rise, width, place = _common(make, name)
    make.rule(f"{name}.flat", a + c, "=", b + d)
    make.rule(f"{name}.reach", a + c, "<=", PAGE - CLEAR, Kind.PRACTICE)
    make.rule(f"{name}.rise", rise, "<=", sqrt(c * c - a * a))
    make.rule(f"{name}.other", rise, "<=", sqrt(d * d - b * b))
    make.area = make.area + (c + d + 2 * TAB) * width
    return {"rise": rise, "width": width, "place": place}


def v_fold(make: Maker, name: str) -> dict[str, Expr]:
    """A V over the gutter: crease, panel width, angle of the base to the gutter, sector angle, lean."""
    crease, panel = make.length(f"{name}.crease", 20, 160), make.length(f"{name}.panel", 15, 120)
    base, sector = make.angle(f"{name}.base", 25, 70), make.angle(f"{name}.sector", 40, 110)
    lean = make.angle(f"{name}.lean", 20, 90)
    rise, width, place = _common(make, name)
    # cos(lean) = cos(sector) / cos(base), to the nearest degree
    make.rule(f"{name}.stands-low", cos(lean) * cos(base) - cos(sector), "<=", lift(Fraction(1, 100)))
    make.rule(f"{name}.stands-high", cos(lean) * cos(base) - cos(sector), ">=", lift(Fraction(-1, 100)))
    make.rule(f"{name}.rise", rise, "<=", crease * sin(lean))
    make.rule(f"{name}.reach", crease * sin(base + sector), "<=", PAGE - CLEAR, Kind.PRACTICE)
    make.rule(f"{name}.ahead", place + crease * cos(base + sector), ">=", CLEAR)
    make.rule(f"{name}.width", width, "<=", panel * cos(base) * 2)
    make.area = make.area + (crease + TAB) * panel * 2
    return {"rise": rise, "width": width, "place": place}


def slotted_pair(make: Maker, name: str) -> dict[str, Expr]:
    """Two crossing strips: heights, slot depths that add up to the shared height, lean."""
    first, second = make.length(f"{name}.first", 20, 140), make.length(f"{name}.second", 20, 140)
    upper, lower = make.length(f"{name}.upper-slot", 5, 80), make.length(f"{name}.lower-slot", 5, 80)
    shared, lean = make.length(f"{name}.shared", 10, 120), make.angle(f"{name}.lean", 45, 90)
    rise, width, place = _common(make, name)
    clearance = make.step * ceil(2 / make.step)  # about 2 mm, and on the grid
    make.rule(f"{name}.slots", upper + lower, "=", shared + clearance)
    make.rule(f"{name}.shared-first", shared, "<=", first)
    make.rule(f"{name}.shared-second", shared, "<=", second)
    make.rule(f"{name}.depth", upper * 2, ">=", shared)
    make.rule(f"{name}.strip", upper + 4, "<=", first, Kind.PRACTICE)
    make.rule(f"{name}.rise", rise, "<=", first * sin(lean))
    make.rule(f"{name}.closed", first + second * cos(lean), "<=", PAGE - CLEAR)
    make.rule(f"{name}.join", shared * 3, ">=", rise)
    make.area = make.area + (first + second + TAB) * width
    return {"rise": rise, "width": width, "place": place}


def _common(make: Maker, name: str) -> tuple[Variable, Variable, Variable]:
    return (make.length(f"{name}.rise", 10, 140), make.length(f"{name}.width", 10, 120), make.length(f"{name}.place", 0, SPINE))


MECHANISMS = (tent, v_fold, slotted_pair)


def card(count: int, seed: int, tight: bool = False, clash: bool = False, step: Fraction = Fraction(1)) -> Model:
    """A card of `count` mechanisms in spreads of up to four; `count` of 40 has about 320 variables."""
    random, make = Random(seed), Maker(step)
    made: list[dict[str, Expr]] = []
    for first in range(0, count, 4):
        spread = []
        for n in range(first, min(first + 4, count)):
            mechanism = random.choice(MECHANISMS)
            parts = mechanism(make, f"m{n}")
            make.rule(f"m{n}.least-rise", parts["rise"], ">=", random.randint(15, 60), Kind.DESIGNER)
            make.rule(f"m{n}.least-width", parts["width"], ">=", random.randint(12, 35), Kind.DESIGNER)
            make.rule(f"m{n}.end", parts["place"] + parts["width"], "<=", SPINE - CLEAR)
            if spread:
                before = spread[-1]
                make.rule(f"m{n}.order", before["place"] + before["width"] + GAP, "<=", parts["place"])
            spread.append(parts)
        if tight:
            _compete(make, spread, first)
        made.extend(spread)
    if clash:
        _clash(make, made[: min(4, count)])
    wishes = (Wish("largest rise", made[0]["rise"], True, step), Wish("least paper", make.area, False, Fraction(1)))
    return Model(tuple(make.variables), tuple(make.rules), wishes)


def _compete(make: Maker, spread: list[dict[str, Expr]], first: int) -> None:
    widths, rises = lift(0), lift(0)
    for parts in spread:
        widths, rises = widths + parts["width"], rises + parts["rise"]
    make.rule(f"s{first}.fill", widths, ">=", SPINE * 3 * len(spread) // 16, Kind.DESIGNER)
    make.rule(f"s{first}.mean", rises, ">=", 55 * len(spread), Kind.DESIGNER)


def _clash(make: Maker, spread: list[dict[str, Expr]]) -> None:
    for n, parts in enumerate(spread):
        least = (SPINE - CLEAR - GAP * (len(spread) - 1)) // len(spread) + 1
        make.rule(f"clash{n}", parts["width"], ">=", least, Kind.DESIGNER)
