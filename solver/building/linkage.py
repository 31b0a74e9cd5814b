"""Four-bar linkages over a crease: two feet on its panels, two walls, one ridge.

One closed form serves the planar linkage (parallel feet: lengths) and the spherical one (feet through one point of the
crease: sines of angles). With S, C the sine and cosine of half the host's opening, feet a, b, walls c, d (c on foot a)
and the reach h of the closed ridge (a + c = b + d; the sine of that sum of angles on the sphere)

    tan(turn of wall c / 2) = S b h / (C c b + sqrt(a b (c d - S² a b)))
    sin(opening of the ridge / 2) = S sqrt(a b / (c d))

which has no 0 / 0 from closed to open. It follows from the cosine law in the two triangles on either side of the
diagonal (F. Freudenstein, Trans. ASME 76, 1954, has the same linkage as one equation in both angles).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from foldwright.solver import expression as ex
from foldwright.solver.card import Vector
from foldwright.solver.expression import Const, Expr
from foldwright.solver.geometry import Fold, unit

SIDES = ("left", "right")
OTHER = {"left": "right", "right": "left"}


@dataclass(frozen=True)
class Linkage:
    """Feet and walls by side ("left", "right"), and the reach of the closed ridge: lengths, or sines of angles."""

    feet: Mapping[str, float]
    walls: Mapping[str, float]
    reach: float

    def turn(self, side: str, host: Fold) -> Vector:
        """Angle in radians between a wall and the page beyond its foot, shape (n, 1) or (1,)."""
        foot, wall, across = self.feet[side], self.walls[side], self.feet[OTHER[side]]
        spare = self._spare(host.sine)
        root = np.sqrt(np.maximum(foot * across * spare, 0.0))
        out: Vector = 2 * np.arctan2(host.sine * across * self.reach, host.cosine * wall * across + root)
        return out

    def ridge(self, host: Fold) -> Vector:
        """Angle in radians between the walls, shape (n, 1) or (1,)."""
        feet = np.sqrt(self.feet["left"] * self.feet["right"])
        out: Vector = 2 * np.arctan2(host.sine * feet, np.sqrt(np.maximum(self._spare(host.sine), 0.0)))
        return out

    def _spare(self, sine: Vector) -> Vector:
        """What is left before the walls lie in one plane."""
        out: Vector = self.walls["left"] * self.walls["right"] - sine**2 * self.feet["left"] * self.feet["right"]
        return out


def largest_turn(opening: Expr, feet: tuple[Expr, Expr], walls: tuple[Expr, Expr], reach: Expr) -> Expr:
    """sin² of half the turn of the first wall, from sin² of half the host's opening; own foot and wall come first.

    The turn grows with the opening as long as the linkage stands, so the largest opening gives the largest turn.
    """
    (foot, across), (wall, far) = feet, walls
    sine = opening * across * across * reach * reach
    if opening == Const(Fraction(1)):
        return ex.divide(across * reach * reach, across * reach * reach + foot * (wall * far - foot * across))
    spare = wall * far - opening * foot * across
    adjacent = ex.sqrt(1 - opening) * wall * across + ex.sqrt(foot * across * spare)
    return ex.divide(sine, sine + adjacent * adjacent)


@dataclass(frozen=True)
class Gable:
    """A standing planar linkage: its feet and ridge where they start along the crease, and its creases by name."""

    feet: Mapping[str, Vector]
    ridge: Vector
    folds: Mapping[str, Fold]


def gable(host: Fold, at: float, feet: Mapping[str, float], walls: Mapping[str, float]) -> Gable:
    """Two walls over a crease on parallel feet, from `at` along it; lengths in mm by side.

    Folds: `ridge` (the inside between both walls: its left panel is the right wall) and the outer side of both feet.
    """
    linkage = Linkage(feet, walls, feet["right"] + walls["right"])
    start = host.origin + at * host.x
    places, folds = {}, {}
    for side, out, normal in (("right", host.right, host.right_normal), ("left", host.left, host.left_normal)):
        turn = linkage.turn(side, host)
        places[side] = start + feet[side] * out
        axis = np.cos(turn / 2) * out + np.sin(turn / 2) * normal
        folds[f"{side}_foot"] = Fold(places[side], host.x, axis, np.degrees(turn))
        if side == "right":
            ridge = places[side] + walls[side] * (np.cos(turn) * out + np.sin(turn) * normal)
    inward = unit((places["right"] - ridge) / walls["right"] + (places["left"] - ridge) / walls["left"])
    folds["ridge"] = Fold(ridge, host.x, inward, np.degrees(linkage.ridge(host)))
    return Gable(places, ridge, folds)
