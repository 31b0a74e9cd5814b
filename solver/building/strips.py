"""Two walls on feet parallel to a crease, as a parallelogram over it: what a box and a step have in common.

The right wall stands on the right panel, the left wall on the left one; both meet in a ridge. In a parallelogram each
wall is as wide as the other foot is far from the crease, so that it stays parallel to the other panel of the crease:
left wall and right panel, right wall and left panel. That is the planar four-bar with two pairs of equal links.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from foldwright.solver.building.holes import Box, rectangle_within
from foldwright.solver.building.linkage import OTHER, SIDES
from foldwright.solver.building.tabs import beyond, strip_limits
from foldwright.solver.card import Placement, Point
from foldwright.solver.expression import Const, Expr
from foldwright.solver.flat import Frame, Pose
from foldwright.solver.geometry import Closed, Fold
from foldwright.solver.host import Crease, Face, Side
from foldwright.solver.mechanism import Mechanism

ZERO = Const(Fraction(0))


@dataclass(frozen=True)
class Parallelogram:
    """A parallelogram over a crease: the names of its walls, where it starts along the crease, its width and feet.

    `feet` are the distances of the right and the left foot from the crease. In part coordinates the right foot starts
    at `origin`, u runs along the crease and v over the right wall, the ridge and the left wall.
    """

    owner: Mechanism
    walls: Mapping[str, str]  # right and left -> piece of the owner
    at: str  # names of the owner's parameters
    width: str
    feet: Mapping[str, str]

    def foot(self, side: str) -> Expr:
        """Distance of one foot from the crease."""
        return self.owner[self.feet[side]]

    def wall(self, side: str) -> Expr:
        """Width of the wall on one foot: the distance of the other foot."""
        return self.foot(OTHER[side])

    @property
    def reach(self) -> Expr:
        """Distance of the closed ridge from the crease."""
        return self.foot("right") + self.foot("left")

    def _wall_side(self, side: str) -> Side:
        inset = self.owner.habit("tab.inset")
        return Side(self.owner.own(self.walls[side]), strip_limits(self.owner[self.width], self.wall(side), inset))

    def creases(self, one_sheet: bool = False) -> dict[str, Crease]:
        """The ridge (outside) and the outer side of both feet; all of them open as far as the host."""
        host, at = self.owner.crease, self.owner[self.at]
        walls = {side: self._wall_side(side) for side in SIDES}
        place = host.closed.then(Closed(at, self.reach, ZERO, mirrored=True))
        out = {"ridge": Crease(place, walls["right"], walls["left"], host.opening, astride=True, flat=host.flat)}
        for side in SIDES:
            page: Side = getattr(host, side)
            outer = Side(page.panel, beyond(page, at, self.foot(side)))
            pair = (walls[side], outer) if side == "right" else (outer, walls[side])
            place = host.closed.then(Closed(at, self.foot(side), ZERO))
            out[f"{side}_foot"] = Crease(place, *pair, host.opening, one_sheet=one_sheet, flat=host.flat)
        return out

    def faces(self) -> dict[str, Face]:
        """Both walls, v from the foot up to the ridge."""
        host, at, width = self.owner.crease, self.owner[self.at], self.owner[self.width]
        # seen from its own side, the left wall runs the other way along the crease
        places = {"right": Closed(at, self.foot("right"), ZERO),
                  "left": Closed(at + width, self.foot("left"), Const(Fraction(180)), True)}
        half = width / 2
        return {self.walls[side]: Face(self.owner.own(self.walls[side]), host.closed.then(places[side]),
                                       (half, self.wall(side) / 2), (half, self.wall(side)),
                                       within=rectangle_within(Box((ZERO, width), (ZERO, self.wall(side)))))
                for side in SIDES}

    def frames(self, sizes: Mapping[str, float], origin: Point) -> tuple[dict[tuple[str, str], Frame], dict[str, Frame]]:
        """Axes of the creases' sides and of the faces, in part coordinates."""
        a, b, at = sizes[self.feet["right"]], sizes[self.feet["left"]], sizes[self.at]
        u, v = origin
        right, left = (self.owner.own(self.walls[side]) for side in ("right", "left"))
        sides = {
            ("ridge", "left"): Frame(right, (u, v + b), (1, 0), (0, -1)),
            ("ridge", "right"): Frame(left, (u, v + b), (1, 0), (0, 1)),
            ("right_foot", "left"): Frame(right, (u, v), (1, 0), (0, 1)),
            ("right_foot", "right"): Frame("host.right", (at, a), (1, 0), (0, 1)),
            ("left_foot", "left"): Frame("host.left", (at, b), (1, 0), (0, 1)),
            ("left_foot", "right"): Frame(left, (u, v + a + b), (1, 0), (0, -1)),
        }
        faces = {self.walls["right"]: Frame(right, (u, v), (1, 0), (0, 1)),
                 self.walls["left"]: Frame(left, (u + sizes[self.width], v + a + b), (-1, 0), (0, -1))}
        return sides, faces

    def pose(self, sizes: Mapping[str, float], host: Fold, origin: Point) -> Pose:
        """Both walls and the creases: each wall is the opposite panel of the host, moved along the other one."""
        a, b = sizes[self.feet["right"]], sizes[self.feet["left"]]
        u, v = origin
        start = host.origin + sizes[self.at] * host.x
        feet = {"right": start + a * host.right, "left": start + b * host.left}
        ridge = feet["right"] + b * host.left
        pose = Pose()
        pose.placements[self.owner.own(self.walls["right"])] = Placement(
            feet["right"] - u * host.x - v * host.left, host.x, host.left)
        pose.placements[self.owner.own(self.walls["left"])] = Placement(
            ridge - u * host.x + (v + b) * host.right, host.x, -host.right)
        pose.folds["ridge"] = Fold(ridge, host.x, -host.z, host.opening)
        for side in SIDES:
            pose.folds[f"{side}_foot"] = Fold(feet[side], host.x, host.z, host.opening)
        return pose
