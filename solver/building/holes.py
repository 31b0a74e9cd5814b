"""What a hole in a panel keeps from: the panel's edges and folds, and rectangles that others need on it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from foldwright.solver import expression as ex
from foldwright.solver.expression import Const, Expr, Operand
from foldwright.solver.geometry import Closed
from foldwright.solver.host import Limits

Span = tuple[Expr, Expr]  # from low to high
Within = Callable[[Operand], Limits]
ZERO = Const(Fraction(0))
WALL = ("the start of the wall", "the end of the wall", "the foot of the wall", "the upper edge of the wall")


@dataclass(frozen=True)
class Box:
    """A rectangle along the axes of a panel."""

    u: Span
    v: Span

    def corners(self) -> Iterator[tuple[Expr, Expr]]:
        """Its four corners."""
        for u in self.u:
            for v in self.v:
                yield u, v


def rectangle_within(box: Box, words: tuple[str, str, str, str] = WALL) -> Within:
    """`Face.within` of a rectangular panel; `words` name its edges: least u, most u, least v, most v."""

    def within(room: Operand) -> Limits:
        def limits(u: Expr, v: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            yield box.u[0] + room, u, words[0]
            yield u, box.u[1] - room, words[1]
            yield box.v[0] + room, v, words[2]
            yield v, box.v[1] - room, words[3]

        return limits

    return within


def wing_within(foot: Span, ridge: Span, wing: Expr) -> Within:
    """`Face.within` of a panel between a ridge along v and a foot, `wing` degrees apart and both in line with (0, 0).

    `foot` and `ridge` are where they begin and end, in mm from there.
    """
    sine, cosine = ex.sin(wing), ex.cos(wing)

    def across(foot: Expr, ridge: Expr, u: Expr, v: Expr) -> tuple[Expr, Expr]:
        """Length of the edge from ridge to foot, and twice the area of the triangle over it, towards (0, 0)."""
        size = ex.sqrt(foot * foot + ridge * ridge - 2 * foot * ridge * cosine)
        return size, foot * sine * (ridge - v) - u * (ridge - foot * cosine)

    def within(room: Operand) -> Limits:
        def limits(u: Expr, v: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            yield ex.lift(room), u, "the ridge"
            yield ex.lift(room), v * sine - u * cosine, "the foot"
            size, area = across(foot[1], ridge[1], u, v)
            yield room * size, area, "the outer edge"
            if foot[0] != ZERO:
                size, area = across(foot[0], ridge[0], u, v)
                yield room * size, -area, "the edge towards the point"

        return limits

    return within


def square(place: Closed) -> bool:
    """True if the axes of a place lie along those that it is seen from."""
    return isinstance(place.turn, Const) and place.turn.value % 90 == 0


def seen(box: Box, place: Closed) -> Box:
    """The upright rectangle round a box whose axes lie at `place`, as seen from there."""
    corners = [place.point(u, v) for u, v in box.corners()]
    spans = []
    for axis in (0, 1):
        if square(place):  # which corner is the lowest does not depend on the sizes
            still = Closed(ZERO, ZERO, place.turn, place.mirrored)
            order = [still.point(x, d)[axis] for x in (0, 1) for d in (0, 1)]
            values = [each.value for each in order if isinstance(each, Const)]
            low, high = values.index(min(values)), values.index(max(values))
            spans.append((corners[low][axis], corners[high][axis]))
        else:
            along = [corner[axis] for corner in corners]
            spans.append((ex.smallest(*along), ex.largest(*along)))
    return Box(spans[0], spans[1])


def apart(first: Box, second: Box, place: Closed | None = None) -> Expr:
    """How far two rectangles are apart, at least (below 0 if they overlap).

    `place` is where the axes of the second lie as seen from the first; None if they are the same. Two rectangles are
    apart if they are so along a side of one of them (separating axes).
    """
    pairs = [(first, second if place is None else seen(second, place))]
    if place is not None and not square(place):
        pairs.append((seen(first, place.inverse()), second))
    gaps = [gap for one, two in pairs for low, high in ((one.u, two.u), (one.v, two.v))
            for gap in (high[0] - low[1], low[0] - high[1])]
    return ex.largest(*gaps)
