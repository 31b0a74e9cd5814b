"""The hexagon: six walls standing on both pages, two of them flat on their feet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction

import numpy as np

from foldwright.solver import expression as ex
from foldwright.solver.building.tabs import JOINTS, TIP, TURNS, glue_words, taut_at
from foldwright.solver.building.upright import (
    KEPT,
    ZERO,
    Corner,
    Foot,
    add_foot,
    add_joint,
    add_strip,
    corner_angles,
    corner_crease,
    corner_fold,
    corner_sides,
    foot_areas,
    foot_creases,
    foot_rules,
    pose_foot,
    pose_strip,
    wall_face,
)
from foldwright.solver.card import Step
from foldwright.solver.expression import Const, Expr
from foldwright.solver.flat import Flat, Frame, Pose
from foldwright.solver.geometry import Closed, Fold
from foldwright.solver.host import Area, Crease, Face, Limits, Ring, Side
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import Choice, length

# Both halves of the strip, each from a flat wall over a free joint to the other flat wall.
HALVES = {"right": ("right_flat", "back_right", "back_left"), "left": ("left_flat", "front_left", "front_right")}


class Hexagon(Mechanism):
    """A room of six walls: two flat ones parallel to the crease, one on each page, and two pairs of slanted ones.

    `flat` is the length of the flat walls, which stand on their whole foot, `wall` that of the four slanted ones,
    `height` the height of all, `spread` the distance of the flat walls from the crease, `at` the middle of the room
    along it. Regular from above when open if flat and wall are alike and spread is 0.866 of them. `strip one` cuts
    all six walls in one piece, `strip halves` in two.

    Closed, all walls lie at spread from the crease and stretch to flat plus twice the wall along it. All six walls
    carry cut-outs: `front_right`, `front_left`, `back_right`, `back_left`, `right_flat`, `left_flat`. `front` and
    `back`, the free joints seen from inside, are upright creases; `right_foot` and `left_foot` lie between a flat
    wall and the page beyond it, and `floor` is the crease below the room, from the front end of the flat walls to their
    back end: what stands there stands inside. The room carries no lattice: a layer from a front wall to the back wall
    across would have to change its length.

    Kinematics: exact without flaps, as both flat walls keep parallel to the crease; each pair of slanted walls is an
    isosceles triangle on the line between two corners.
    """

    keyword = "hexagon"
    outside = True
    parameters = (
        length("at", "the middle of the room along the crease", 0, 900, 90),
        length("wall", "length of each of the four slanted walls", 20, 200, 45),
        length("flat", "length of the two walls parallel to the crease", 22, 200, 40),
        length("height", "height of the walls", 12, 150, 35),
        length("spread", "distance of the flat walls from the crease", 10, 150, 36),
    )
    choices = (TURNS, JOINTS, Choice("strip", ("halves", "one"), "two half strips, or all six walls in one strip"))
    example = """
card "One room"
  units mm
cover 120 x 180
  paper ink
hexagon room on spine
  paper wood
  wall 30 to 45
prefer largest room.wall
paper ink  colour #22304a weight 216 gsm
paper wood colour #b58b5e caliper 0.25
mat 300 x 300
"""

    def joint(self, name: str) -> Expr:
        """Where a free joint ("front" or "back") lies along the crease when the card is closed."""
        half = self["flat"] / 2 + self["wall"]
        return self["at"] - half if name == "front" else self["at"] + half

    def feet(self) -> tuple[Foot, Foot]:
        """Both flat walls."""
        start = self["at"] - self["flat"] / 2
        right, left = (Foot(side, self.own(f"{side}_flat"), start, self["flat"]) for side in ("right", "left"))
        return right, left

    def rules(self) -> Iterator[Rule]:
        """Reaching across, closed fit, and the tabs under the flat walls."""
        spread, wall = self["spread"], self["wall"]
        yield self.rule("reaches-across", Kind.GEOMETRY, spread, "<=", KEPT * wall,
                        f"the slanted walls of {self.name} must reach across: its flat walls lie {{left}} from the crease, and "
                        "for a room that keeps its corners nine tenths of the slanted wall, {right}, is the most")
        yield self.rule("keeps-open", Kind.PRACTICE, Fraction(2, 5) * wall, "<=", spread,
                        f"{self.name} should open into a room, not a slit: its flat walls lie {{right}} from the crease, "
                        "two fifths of the slanted wall are {left}")
        for end, name in (("tail", "front"), ("head", "back")):
            yield from self.inside(f"the upper edge at the {end} end", end, self.crease.closed, self.joint(name),
                                   spread + self["height"])
        yield from self.has_room(self.joint("front"), spread + self["height"])
        yield from foot_rules(self, self.feet(), spread)
        yield self.rule("joint", Kind.PRACTICE, self.habit("tab.length"), "<=",
                        self["height"] - 2 * self.habit("tab.inset") - self.habit("tab.depth"),
                        f"the tab that closes the strip of {self.name} is {{right}} long on average; a tab needs {{left}}",
                        still=(self.habit("tab.depth") + TIP,
                               self["height"] - 2 * self.habit("tab.inset") - self.habit("tab.depth")))
        yield self.rule("joint-depth", Kind.PRACTICE, self.habit("tab.depth") + self.habit("tab.inset"), "<=", self["flat"],
                        f"the tab that closes the strip of {self.name} needs {{left}} of the flat wall; that has {{right}}",
                        still=(self.habit("tab.depth"), self["flat"]))

    def dead_points(self, sizes: Mapping[str, float]) -> Iterator[tuple[float, str]]:
        """Two slanted walls in one line across the room."""
        yield from taut_at(sizes["wall"] ** 2, sizes["spread"] ** 2)

    def measures(self) -> dict[str, Expr]:
        """Extent of the open room across the pages and along the crease (for a card that opens flat)."""
        wall, spread = self["wall"], self["spread"]
        return {"across": 2 * spread, "along": self["flat"] + 2 * ex.sqrt(wall * wall - spread * spread),
                "reach": spread + self["height"]}

    def stretch(self) -> tuple[Expr, Expr]:
        """The closed room's extent (the open one is shorter)."""
        return self.joint("front"), self.joint("back")

    def glued(self) -> Iterator[Area]:
        """Under both flat walls, and where each strip ends on one."""
        yield from foot_areas(self, self.feet(), self["spread"])
        for strip in self._strips():
            yield Area(self.own(strip[-1]), (ZERO, Const(self.habit("tab.depth"))), (ZERO, self["height"]))

    def ring(self) -> Ring:
        """A ring, but not one for layers that are tied all round."""
        wall = self["wall"]
        return Ring(self.name, wall, wall, self["height"], self["spread"], self.joint("front"), self.crease.closed,
                    self.crease.opening,
                    refuses="between its front and back walls stand the flat ones, so the distance along a layer from a front "
                            "wall to the back wall across changes as the card closes; a lattice needs a ring of four walls")

    def corners(self) -> tuple[Corner, Corner]:
        """Both free joints, seen from inside."""
        named = {name: (self.own(name), self["wall"]) for names in HALVES.values() for name in names[1:]}
        return (Corner("front", 1, named["front_right"], named["front_left"]),
                Corner("back", -1, named["back_left"], named["back_right"]))

    def creases(self) -> dict[str, Crease]:
        """Both free joints from inside, and the outer side of both feet."""
        spread, height = self["spread"], self["height"]
        upright = {corner.name: corner_crease(self, corner, self.joint(corner.name), spread, height) for corner in self.corners()}
        return upright | foot_creases(self, self.feet(), spread, height) | {"floor": self._floor()}

    def _floor(self) -> Crease:
        """The host's own crease between the flat walls, x from where these begin."""
        host, start = self.crease, self["at"] - self["flat"] / 2
        left, right = (Side(page.panel, self._between_walls(page, start)) for page in (host.left, host.right))
        place = host.closed.then(Closed(start, ZERO, ZERO))
        return Crease(place, left, right, host.opening, slots=host.slots, flat=host.flat)

    def _between_walls(self, page: Side, start: Expr) -> Limits:
        inset = self.habit("tab.inset")
        taken = inset + (self.habit("tab.depth") if self.site.choices["tabs"] == "inward" else 0)

        def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            yield from page.limits(start + x, d)
            yield d, self["spread"] - taken, f"the flat walls of {self.name}"
            yield Const(inset), x, f"the front of the flat walls of {self.name}"
            yield x, self["flat"] - inset, f"the back of the flat walls of {self.name}"

        return limits

    def faces(self) -> dict[str, Face]:
        """All six walls, seen from outside."""
        half = self["flat"] / 2
        low, high = self["at"] - half, self["at"] + half
        starts = {"right_flat": (low, False), "left_flat": (high, True), "back_right": (high, False), "front_left": (low, True),
                  "back_left": (self.joint("back"), True), "front_right": (self.joint("front"), False)}
        return {name: wall_face(self, name, start, self["spread"], (self._long(name), self["height"]), turned)
                for name, (start, turned) in starts.items()}

    def _long(self, name: str) -> Expr:
        return self["flat" if name.endswith("flat") else "wall"]

    def bends(self) -> Expr:
        """The feet of both flat walls, a quarter circle at half the speed; on a host that stays bent the upright creases too."""
        return self["flat"] / 2 if self.crease.flat else 2 * self["flat"] + 8 * self["height"]

    def area(self) -> Expr:
        """Six walls, one or two joint tabs, two foot tabs."""
        depth = self.habit("tab.depth")
        return (4 * self["wall"] + 2 * self["flat"] + 2 * depth) * self["height"] + 2 * self["flat"] * depth

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """The strip, or one half of it (both are alike)."""
        depth, half = self.habit("tab.depth"), self["flat"] + 2 * self["wall"]
        if self.site.choices["strip"] == "one":
            yield "strip", 2 * half + depth, self["height"] + depth
        else:
            yield "half strip", half + depth, self["height"] + depth

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """Two walls, a joint tab and a foot tab on each page."""
        return 5 * caliper

    def _strips(self) -> tuple[tuple[str, ...], ...]:
        """The walls of each part in order, and last the wall that its end is glued to."""
        right, left = HALVES["right"], HALVES["left"]
        if self.site.choices["strip"] == "one":
            return ((*right, *left, right[0]),)
        return (*right, left[0]), (*left, right[0])

    def _part(self, strip: tuple[str, ...]) -> str:
        return self.name if self.site.choices["strip"] == "one" else self.own(f"{strip[0].removesuffix('_flat')}_half")

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """u along the strip, v up: flat | slanted | slanted, once or twice, with a foot tab below each flat wall."""
        height, wide = sizes["height"], sizes["flat"]
        flat, feet = Flat(), {foot.side: foot for foot in self.feet()}
        for strip in self._strips():
            part = self._part(strip)
            long = {name: wide if name.endswith("flat") else sizes["wall"] for name in strip}
            end = add_strip(flat, part, [(self.own(name), long[name]) for name in strip[:-1]], height, self.site.paper)
            name = self.own(f"{strip[0].removesuffix('_flat')}_joint")
            add_joint(self, flat, name, part, self.own(strip[-2]), self.own(strip[-1]), end, height)
            u = 0.0
            for wall in strip[:-1]:
                side = wall.removesuffix("_flat")
                flat.faces[wall] = Frame(self.own(wall), (u, 0), (1, 0), (0, 1))
                if side in feet:
                    start = sizes["at"] - wide / 2
                    add_foot(self, flat, feet[side], part, (u, u + wide), (start, sizes["spread"]), 1 if side == "right" else -1)
                u += long[wall]
        for corner in self.corners():
            near, far = corner.right[0], corner.left[0]  # the strip runs over the joint from one to the other
            u = flat.faces[far.removeprefix(f"{self.name}.")].origin[0]
            corner_sides(flat, corner.name, {"left": (far, u, 1), "right": (near, u, -1)})
        for side in ("left", "right"):
            flat.sides["floor", side] = Frame(f"host.{side}", (sizes["at"] - wide / 2, 0), (1, 0), (0, 1))
        parts = tuple(flat.papers)
        text = (f"Fold the strip of {self.name} and glue its end to its first wall." if len(parts) == 1 else
                f"Fold both half strips of {self.name} and glue them into one ring, each joint tab on the flat wall of the "
                "other strip.")
        flat.steps = [Step(text, parts), Step(f"Stand {self.name} on its flat walls: {glue_words(self)}.", parts)]
        return flat

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """Flat walls parallel to the crease, slanted ones in isosceles triangles."""
        wall, wide, half = sizes["wall"], sizes["flat"], sizes["spread"] * host.sine
        base = host.origin + sizes["at"] * host.x + sizes["spread"] * host.cosine * host.z
        turn, _ = corner_angles(half, wall, wall)
        along, across = np.cos(turn) * host.x, np.sin(turn) * host.y
        ways = {"right_flat": host.x, "back_right": along + across, "back_left": across - along,
                "left_flat": -host.x, "front_left": -along - across, "front_right": along - across}
        low = {"right": base - wide / 2 * host.x - half * host.y, "left": base - wide / 2 * host.x + half * host.y}
        pose, feet = Pose(), {foot.side: foot for foot in self.feet()}
        for strip in self._strips():
            side = strip[0].removesuffix("_flat")
            walls = [(self.own(name), wide if name.endswith("flat") else wall, ways[name]) for name in strip[:-1]]
            # the tab at the end lies on the wall that comes next round the room
            pose_strip(pose, low[side] + (0 if side == "right" else wide) * host.x,
                       [*walls, (self.own(f"{side}_joint"), 0.0, ways[strip[-1]])], host.z)
            u = 0.0
            for name, (_, size, _) in zip(strip, walls, strict=False):
                if name.endswith("flat"):
                    page, sign = name.removesuffix("_flat"), 1 if name == "right_flat" else -1
                    pose_foot(self, pose, feet[page], host, low[page], u if sign > 0 else u + wide, sign)
                u += size
        middle = {"front": base - (wide / 2) * host.x - wall * along, "back": base + (wide / 2) * host.x + wall * along}
        pose.folds["front"] = corner_fold(middle["front"], ways["front_right"], -ways["front_left"], host.z, 2 * turn)
        pose.folds["back"] = corner_fold(middle["back"], ways["back_left"], -ways["back_right"], host.z, 2 * turn)
        pose.folds["floor"] = replace(host, origin=host.origin + (sizes["at"] - wide / 2) * host.x)
        return pose
