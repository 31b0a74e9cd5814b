"""Glue tabs along straight feet: outline, rules, and what they need on the host. Shared by all mechanisms."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import asin, degrees, sqrt

from shapely.geometry import Polygon

from foldwright.solver.card import Point, Stroke
from foldwright.solver.expression import Const, Expr, Operand
from foldwright.solver.flat import Cut
from foldwright.solver.geometry import tab_outline
from foldwright.solver.host import Area, Limits, Side
from foldwright.solver.mechanism import Mechanism, taken
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import Choice

TURNS = Choice("tabs", ("inward", "outward"), "inward tabs lie flat when closed, outward tabs fold sharp")
JOINTS = Choice("joint", ("glued", "slotted"), "tabs glued on the page, or passed through a slit and glued behind it")


TIP = 1  # mm; the outer edge of a tab is at least so wide, or its slanted ends meet


_PAGE_EDGES = ("the fore-edge", "the head", "the tail")


def stays_on(owner: Mechanism, name: str, what: str, limit: tuple[Expr, Expr, str], room: Operand) -> Rule:
    """The rule that keeps a point on a panel, from one of the panel's limits.

    At the edges of the closed page that is closed fit, so geometry; elsewhere it is practice, by the `room` that the limit
    holds free beside an edge or a fold.
    """
    low, high, words = limit
    page = words in _PAGE_EDGES
    return owner.rule(f"{name}.{edge_word(words)}", Kind.GEOMETRY if page else Kind.PRACTICE, low, "<=", high,
                      f"{what} must stay inside {words}{taken(words)}", still=None if page else (low - room, high))


def edge_word(words: str) -> str:
    """An edge as a word of a rule's name: "the far edge of the wall" is `far-edge-of-the-wall`."""
    return words.removeprefix("the ").replace("'s", "").replace(" ", "-")


def edge_tab(owner: Mechanism, start: Point, end: Point, away: Point) -> tuple[Polygon, Point, Point]:
    """Tab on a straight edge, inset at both ends; returns its outline and the two ends of its crease."""
    inset, depth = float(owner.habit("tab.inset")), float(owner.habit("tab.depth"))
    taper = float(owner.habit("tab.taper"))
    size = ((end[0] - start[0]) ** 2 + (end[1] - start[1]) ** 2) ** 0.5
    ux, uy = (end[0] - start[0]) / size, (end[1] - start[1]) / size
    first = (start[0] + inset * ux, start[1] + inset * uy)
    last = (end[0] - inset * ux, end[1] - inset * uy)
    return tab_outline(first, last, away, depth, (taper, taper)), first, last


def tab_fits(owner: Mechanism, side: str, panel: Side, start: Expr, end: Expr, foot: Expr) -> Iterator[Rule]:
    """Rules of a tab along a foot parallel to the crease at distance `foot`: long enough, and on its panel."""
    depth, inset = owner.habit("tab.depth"), owner.habit("tab.inset")
    yield owner.rule(f"{side}-tab.length", Kind.PRACTICE, owner.habit("tab.length"), "<=", end - start - 2 * inset - depth,
                     f"the {side} tab of {owner.name} is {{right}} long on average; a tab needs {{left}} to hold",
                     still=(depth + TIP, end - start - 2 * inset - depth))
    if owner.site.choices["tabs"] == "inward":
        yield owner.rule(f"{side}-tab.inner", Kind.PRACTICE, depth + inset, "<=", foot,
                         f"the {side} tab of {owner.name} with its inset needs {{left}} between foot and crease; "
                         "there is {right}", still=(depth, foot))
        far = foot
    else:
        far = foot + depth
    for x in (start, end):
        for limit in panel.limits(x, far):
            end_of = "start" if x is start else "end"
            yield stays_on(owner, f"{side}-tab.{end_of}", f"the {side} tab of {owner.name}", limit, inset)


def foot_area(owner: Mechanism, side: str, start: Expr, end: Expr, foot: Expr) -> Area:
    """The rectangle on the host that a tab along a foot parallel to the crease at distance `foot` is glued to."""
    depth = owner.habit("tab.depth")
    inward = owner.site.choices["tabs"] == "inward"
    return Area(side, (start, end), (foot - depth, foot) if inward else (foot, foot + depth))


def taut_at(reach: float, needed: float) -> Iterator[tuple[float, str]]:
    """The dead point of a linkage that lies taut where sin²(opening / 2) = reach / needed; none if that exceeds 1."""
    if 0 < reach <= needed:
        yield 2 * degrees(asin(sqrt(reach / needed))), "would be pulled taut"


def glue_words(owner: Mechanism) -> str:
    """How a pair of foot tabs is fixed, for a step of the assembly."""
    if owner.site.choices["joint"] == "slotted":
        return "pass both tabs through their slits and glue them behind; close the card while the glue sets"
    return "glue one tab to its mark, close the card, and let the other tab find its place"


def foot_cut(owner: Mechanism, side: str, line: tuple[Point, Point], tab: str) -> Cut:
    """What a foot needs on its host: the mark of the foot line, or a slit a little longer than the `tab` (its name)."""
    if owner.site.choices["joint"] == "glued":
        return Cut(side, line, Stroke.MARK, tab)
    extra = float(owner.habit("slit.clearance")) / 2
    (x0, d0), (x1, d1) = line
    size = ((x1 - x0) ** 2 + (d1 - d0) ** 2) ** 0.5
    ux, ud = extra * (x1 - x0) / size, extra * (d1 - d0) / size
    return Cut(side, ((x0 - ux, d0 - ud), (x1 + ux, d1 + ud)), Stroke.CUT, tab)


def strip_limits(width: Expr, wall: Expr, inset: Fraction) -> Limits:
    """Limits on a rectangular wall, x along its foot or ridge and d away from it."""

    def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
        yield d, wall - inset, "the far edge of the wall"
        yield x, width - inset, "the end of the wall"
        yield Const(inset), x, "the start of the wall"

    return limits


def beyond(page: Side, x0: Expr, d0: Expr) -> Limits:
    """Limits on a page as seen from a line on it, parallel to the crease: what lies at (0, 0) there is at (x0, d0) here."""

    def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
        yield from page.limits(x0 + x, d0 + d)

    return limits
