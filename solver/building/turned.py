"""Which way up something lies on a panel."""

from __future__ import annotations

from foldwright.solver.card import Point, Vector
from foldwright.solver.geometry import Fold
from foldwright.solver.parameter import Choice

# Where its top looks, in the (u, v) of the panel.
UP: dict[str, Point] = {"away": (0.0, 1.0), "end": (1.0, 0.0), "foot": (0.0, -1.0), "start": (-1.0, 0.0)}
UPS = Choice("up", tuple(UP), "where its top looks on its panel: away from the foot (of a page, the spine), to the end (the "
             "head), to the foot, or to the start (the tail)")


def upright(up: str) -> bool:
    """True if its height runs along the panel's v axis."""
    return UP[up][0] == 0


def axes(up: str, sign: float) -> tuple[Point, Point]:
    """To its right as seen on the printed side, and up, in the (u, v) of its panel; `sign` is -1 if (u, v) are left-handed."""
    u, v = UP[up]
    return (sign * v, -sign * u), (u, v)


def standing(host: Fold, up: str, sign: float) -> tuple[Vector, Vector]:
    """The same two axes in space: `host` has the panel's u axis (turned about, if left-handed) as x and its v axis as y."""
    right, top = ((sign * u, v) for u, v in axes(up, sign))
    return right[0] * host.x + right[1] * host.y, top[0] * host.x + top[1] * host.y
