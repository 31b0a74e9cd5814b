"""Frames that mechanisms stand in: a crease in space at one opening angle, and its place in the closed card."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import cos as cos_rad
from math import radians
from math import sin as sin_rad

import numpy as np
from shapely.geometry import Polygon

from foldwright.solver import expression as ex
from foldwright.solver.card import Placement, Point, Vector
from foldwright.solver.expression import Const, Expr, Operand


@dataclass(frozen=True)
class Fold:
    """A crease in space: the host of a mechanism at one moment of the swing, or at n moments at once.

    `x` runs along the crease, `z` along the bisector of its two panels into the opening, y = z x x; both are unit
    vectors, of shape (3,) or (n, 3). `opening` is the angle between the panels in degrees, 0 closed to 180 flat, of
    shape (1,) or (n, 1), so that it multiplies vectors; a plain number may be given. `pages` is the fold of the
    cover's pages where it differs (a gusset).
    """

    origin: Vector
    x: Vector
    z: Vector
    opening: Vector
    pages: Fold | None = None

    def __post_init__(self) -> None:
        """A plain number becomes an array of shape (1,)."""
        object.__setattr__(self, "opening", np.atleast_1d(np.asarray(self.opening, dtype=np.float64)))

    @cached_property
    def y(self) -> Vector:
        """Third axis: from the right panel to the left one."""
        return cross(self.z, self.x)

    @cached_property
    def sine(self) -> Vector:
        """Sine of half the opening."""
        out: Vector = np.sin(np.radians(self.opening) / 2)
        return out

    @cached_property
    def cosine(self) -> Vector:
        """Cosine of half the opening."""
        out: Vector = np.cos(np.radians(self.opening) / 2)
        return out

    @cached_property
    def left(self) -> Vector:
        """Unit vector in the left panel, square to the crease and away from it."""
        out: Vector = self.sine * self.y + self.cosine * self.z
        return out

    @cached_property
    def right(self) -> Vector:
        """Unit vector in the right panel, square to the crease and away from it."""
        out: Vector = -self.sine * self.y + self.cosine * self.z
        return out

    @cached_property
    def left_normal(self) -> Vector:
        """Normal of the left panel, into the opening."""
        out: Vector = -self.cosine * self.y + self.sine * self.z
        return out

    @cached_property
    def right_normal(self) -> Vector:
        """Normal of the right panel, into the opening."""
        out: Vector = self.cosine * self.y + self.sine * self.z
        return out

    def point(self, x: float | Vector, y: float | Vector, z: float | Vector) -> Vector:
        """A point given in the axes of this crease."""
        out: Vector = self.origin + x * self.x + y * self.y + z * self.z
        return out

    def half(self, side: str, origin: Vector | None = None) -> Fold:
        """The half host between one page ("left" or "right") and a wall that halves the opening; opens half as far."""
        page = self.left if side == "left" else self.right
        axis = unit(page + self.z)
        return Fold(self.origin if origin is None else origin, self.x, axis, self.opening / 2)


def spine_fold(opening: float | Vector) -> Fold:
    """The spine in the card's own axes, open by some angle (degrees) or by n angles, shape (n,)."""
    angles = np.atleast_1d(np.asarray(opening, dtype=np.float64))
    angles = angles if np.ndim(opening) == 0 else angles[:, None]
    return Fold(np.zeros(3), np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0]), angles)


def half_opening(opening: Expr) -> Expr:
    """sin² of a quarter of an angle, from sin² of its half: the `opening` of a half host."""
    if opening == Const(Fraction(1)):
        return Const(Fraction(1, 2))
    return (1 - ex.sqrt(1 - opening)) / 2


def cross(a: Vector, b: Vector) -> Vector:
    """Vector product along the last axis (several times as fast as numpy's on few vectors)."""
    ax, ay, az = a[..., 0], a[..., 1], a[..., 2]
    bx, by, bz = b[..., 0], b[..., 1], b[..., 2]
    return np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx], axis=-1)


def dot(a: Vector, b: Vector) -> Vector:
    """Scalar product along the last axis, which stays: shape (n, 1), or (1,) of two single vectors."""
    out: Vector = (a * b).sum(axis=-1, keepdims=True)
    return out


def unit(vector: Vector) -> Vector:
    """The vector (or each of n) scaled to length one."""
    out: Vector = vector / np.sqrt(dot(vector, vector))
    return out


@dataclass(frozen=True)
class Closed:
    """Where a crease or face lies when the card is closed flat: an isometry of the page plane, in unknowns.

    A point (x, d), x along the crease and d away from it, goes to (X, D) of the page: X along the spine, D away
    from it. `turn` is the angle of x in degrees; `mirrored` flips d.
    """

    x: Expr
    d: Expr
    turn: Expr
    mirrored: bool = False

    def point(self, x: Operand, d: Operand) -> tuple[Expr, Expr]:
        """Page coordinates of a point."""
        sine, cosine = ex.sin(self.turn), ex.cos(self.turn)
        side = -1 if self.mirrored else 1
        along, away = ex.lift(x), ex.lift(d)
        return self.x + cosine * along - side * sine * away, self.d + sine * along + side * cosine * away

    def swapped(self) -> Closed:
        """The same place with its two axes exchanged: point(d, x) here is point(x, d) there."""
        return Closed(self.x, self.d, self.turn - 90 if self.mirrored else self.turn + 90, not self.mirrored)

    def inverse(self) -> Closed:
        """The isometry back: where a point of the page lies in the (x, d) of this place."""
        back = Closed(Const(Fraction(0)), Const(Fraction(0)), self.turn if self.mirrored else -self.turn, self.mirrored)
        x, d = back.point(self.x, self.d)
        return Closed(-x, -d, back.turn, self.mirrored)

    def then(self, inner: Closed) -> Closed:
        """The place of something that lies at `inner` as seen from here."""
        x, d = self.point(inner.x, inner.d)
        turn = self.turn - inner.turn if self.mirrored else self.turn + inner.turn
        return Closed(x, d, turn, self.mirrored != inner.mirrored)


SPINE = Closed(Const(Fraction(0)), Const(Fraction(0)), Const(Fraction(0)))


def tab_outline(start: Point, end: Point, away: Point, depth: float, tapers: tuple[float, float]) -> Polygon:
    """A glue tab on the edge from `start` to `end`, `depth` mm deep towards the unit vector `away`.

    `tapers` are the angles in degrees between the edge and the tab's two ends (90 is square).
    """
    (x0, y0), (x1, y1) = start, end
    length = float(np.hypot(x1 - x0, y1 - y0))
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    shift = [depth * cos_rad(radians(t)) / sin_rad(radians(t)) for t in tapers]
    far = [(x1 + depth * away[0] - shift[1] * ux, y1 + depth * away[1] - shift[1] * uy),
           (x0 + depth * away[0] + shift[0] * ux, y0 + depth * away[1] + shift[0] * uy)]
    return Polygon([start, end, *far])


def tab_placement(corner: Vector, along: Vector, start: Point, edge: Point, away: Point, out: Vector) -> Placement:
    """Placement of a tab: the edge point `start` lies at `corner`, the edge runs along `along` in space.

    `edge` and `away` are unit vectors on the part (along the edge, and into the tab); `out` is where `away` points
    in space, square to `along`.
    """
    # (u, v) axes of the part expressed in the pair (edge, away), which is orthonormal
    u = edge[0] * along + away[0] * out
    v = edge[1] * along + away[1] * out
    return Placement(corner - start[0] * u - start[1] * v, u, v)


def rectangle(u0: float, v0: float, u1: float, v1: float) -> Polygon:
    """An upright rectangle."""
    return Polygon([(u0, v0), (u1, v0), (u1, v1), (u0, v1)])
