"""The ring: four walls standing on both pages."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

import numpy as np

from foldwright.solver import expression as ex
from foldwright.solver.building.tabs import JOINTS, TIP, TURNS, taut_at
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
from foldwright.solver.geometry import Fold
from foldwright.solver.host import Area, Crease, Face, Ring
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import Choice, length

# The two half strips: which joint they start from, their walls in order round the ring, and the wall that their end
# is glued to.
STRIPS = (("right", "back_right", "back_left", "front_left"), ("left", "front_left", "front_right", "back_right"))


class RingWall(Mechanism):
    """Four walls in a ring, hinged on both pages at the same distance from the crease.

    `wall` is the length of the front walls (towards the tail, the reader), `height` of the ring, `spread` the distance
    of both hinges from the crease, `flap` the length of the hinge flaps, `at` its middle along the crease. Right alone,
    all four walls are equal: a rhombus seen from above. `back_wall` makes a kite. `offset` moves the hinges apart
    along the crease, the one on the page named by `ahead` towards the head, and makes a parallelogram: at either end
    one wall is longer by the offset, or the ring jams. `long_wall`, `long_back_wall` and `left_spread` follow from
    the other dimensions; write them only to have them checked.

    Each hinge is a real line: a flap that continues a wall beyond the joint and stands on a tab; a corner merely
    glued at a point would let the ring lean. Closed, the ring lies at spread from the crease and stretches to two
    walls along it. Its inside carries a lattice (`in` the ring) unless it is a kite; `front` and `back`, the free
    joints seen from inside, are upright creases; `right_foot` and `left_foot` lie between a flap and the page beyond
    it. Its walls carry cut-outs: `front_right`, `front_left`, `back_right`, `back_left`.

    Kinematics: a triangle on the line between the hinges at either end, by the cosine law in half-angle form.
    """

    keyword = "ring"
    outside = True
    parameters = (
        length("at", "the middle of the ring along the crease", 0, 900, 90),
        length("wall", "length of the front walls, or of the shorter one", 20, 200, 60),
        length("height", "height of the ring", 12, 150, 30),
        length("spread", "distance of both hinges from the crease", 10, 150, 42),
        length("flap", "length of the hinge flaps", 20, 60, 20),
        length("back_wall", "length of the back walls, or of the shorter one", 20, 200, 60, lambda p: p["wall"]),
        length("offset", "how much farther along the crease one hinge lies than the other", 0, 100, 0, lambda p: ZERO),
        length("long_wall", "length of the longer front wall", 20, 300, 60, lambda p: p["wall"] + p["offset"]),
        length("long_back_wall", "length of the longer back wall", 20, 300, 60, lambda p: p["back_wall"] + p["offset"]),
        length("left_spread", "distance of the left hinge from the crease", 10, 150, 42, lambda p: p["spread"]),
    )
    choices = (TURNS, JOINTS, Choice("ahead", ("left", "right"), "which hinge an offset moves towards the head of the crease"))
    example = """
card "One tank"
  units mm
cover 120 x 160
  paper ink
ring tank on spine
  paper glass
  wall 40 to 60
prefer largest tank.wall
paper ink   colour #22304a weight 216 gsm
paper glass colour #9fc6c9 caliper 0.25
mat 300 x 300
"""

    @property
    def shift(self) -> Expr:
        """How much farther along the crease the left hinge lies than the right one, with its sign."""
        return self["offset"] if self.site.choices["ahead"] == "left" else -self["offset"]

    @property
    def walls(self) -> dict[str, Expr]:
        """Lengths of the four walls: the hinge that lies ahead has the longer front wall and the shorter back wall."""
        ahead = self.site.choices["ahead"]
        behind = "right" if ahead == "left" else "left"
        return {f"front_{ahead}": self["long_wall"], f"front_{behind}": self["wall"],
                f"back_{behind}": self["long_back_wall"], f"back_{ahead}": self["back_wall"]}

    def hinge(self, side: str) -> Expr:
        """Where a hinge lies along the crease."""
        return self["at"] + (self.shift / 2 if side == "left" else -self.shift / 2)

    def joint(self, name: str) -> Expr:
        """Where a free joint ("front" or "back") lies along the crease when the card is closed."""
        if name == "front":
            return self.hinge("left") - self.walls["front_left"]
        return self.hinge("right") + self.walls["back_right"]

    def feet(self) -> tuple[Foot, Foot]:
        """Both hinge flaps."""
        flap = self["flap"]
        return (Foot("right", self.own("right_flap"), self.hinge("right") - flap, flap),
                Foot("left", self.own("left_flap"), self.hinge("left"), flap))

    def rules(self) -> Iterator[Rule]:
        """Closing, reaching across, closed fit, and the tabs under the flaps."""
        spread, wall, back = self["spread"], self["wall"], self["back_wall"]
        yield from self._closing()
        yield from self._reaching()
        shorter = wall if back == wall else ex.smallest(wall, back)
        yield self.rule("keeps-open", Kind.PRACTICE, Fraction(2, 5) * shorter, "<=", spread,
                        f"{self.name} should open into a ring, not a slit: its hinges lie {{right}} from the crease, "
                        "two fifths of the wall are {left}")
        yield self.rule("flap", Kind.GEOMETRY, self["flap"], "<=", shorter,
                        f"the hinge flaps of {self.name} must not be longer than its walls")
        for end, x in (("tail", self.joint("front")), ("head", self.joint("back"))):
            yield from self.inside(f"the upper edge at the {end} end", end, self.crease.closed, x, spread + self["height"])
        yield from self.has_room(self.joint("front"), spread + self["height"])
        yield from foot_rules(self, self.feet(), spread)
        yield self.rule("joint", Kind.PRACTICE, self.habit("tab.length"), "<=",
                        self["height"] - 2 * self.habit("tab.inset") - self.habit("tab.depth"),
                        f"the tabs that close the ring {self.name} are {{right}} long on average; a tab needs {{left}}",
                        still=(self.habit("tab.depth") + TIP,
                               self["height"] - 2 * self.habit("tab.inset") - self.habit("tab.depth")))

    def _closing(self) -> Iterator[Rule]:
        """What a script can break only by writing a dimension that follows from the others."""
        spread, offset = self["spread"], self["offset"]
        if self["left_spread"] != spread:
            yield self.rule("level", Kind.GEOMETRY, spread, "=", self["left_spread"],
                            f"both hinges of {self.name} must lie at the same distance from the crease, or the ring tips over "
                            "and cannot close flat: the right one lies at {left}, the left one at {right}")
        for end, short, long in (("front", "wall", "long_wall"), ("back", "back_wall", "long_back_wall")):
            if self[long] != self[short] + offset:
                yield self.rule(f"{end}-closes", Kind.GEOMETRY, self[long] - self[short], "=", offset,
                                f"the {end} walls of {self.name} differ by {{left}}: so far apart along the crease its "
                                "hinges must lie, or the ring jams before it is closed; their offset is {right}")

    def _reaching(self) -> Iterator[Rule]:
        spread = self["spread"]
        for end, short, long in (("front", self["wall"], self["long_wall"]), ("back", self["back_wall"], self["long_back_wall"])):
            if end == "back" and (short, long) == (self["wall"], self["long_wall"]):
                continue
            words = "walls" if self["back_wall"] == self["wall"] else f"{end} walls"
            mean, what = (short, "the wall") if short == long else (ex.sqrt(short * long), "the walls' geometric mean")
            name = "reaches-across" if end == "front" else "back-reaches-across"
            yield self.rule(name, Kind.GEOMETRY, spread, "<=", KEPT * mean,
                            f"the {words} of {self.name} must reach across: its hinges lie {{left}} from the crease, and for "
                            f"a ring that keeps an inside nine tenths of {what}, {{right}}, is the most")

    def dead_points(self, sizes: Mapping[str, float]) -> Iterator[tuple[float, str]]:
        """Two walls in one line across the ring: sin²(opening / 2) = product of the two over that of the spreads."""
        reach = min(sizes["wall"] * sizes["long_wall"], sizes["back_wall"] * sizes["long_back_wall"])
        yield from taut_at(reach, sizes["spread"] ** 2)

    def measures(self) -> dict[str, Expr]:
        """Extent of the open ring across the pages and along the crease (for a card that opens flat)."""
        ends = [self._end(self.walls[f"{end}_right"], self.walls[f"{end}_left"]) for end in ("front", "back")]
        along = 2 * ends[0] if ends[0] == ends[1] else ends[0] + ends[1]
        return {"across": 2 * self["spread"], "along": along, "reach": self["spread"] + self["height"]}

    def _end(self, one: Expr, other: Expr) -> Expr:
        """How far an open free joint lies from the ring's middle along the crease."""
        spread = self["spread"]
        if one == other:
            return ex.sqrt(one * one - spread * spread)
        root = ex.sqrt(one * other - spread * spread)
        return (one + other) / 2 - ex.divide(2 * spread * spread, one + other + 2 * root)

    def stretch(self) -> tuple[Expr, Expr]:
        """The closed ring's extent (the open one is shorter)."""
        return self.joint("front"), self.joint("back")

    def glued(self) -> Iterator[Area]:
        """Under both flaps, and where each half strip ends on the first wall of the other one."""
        yield from foot_areas(self, self.feet(), self["spread"])
        for _, first, _, _ in STRIPS:
            yield Area(self.own(first), (ZERO, Const(self.habit("tab.depth"))), (ZERO, self["height"]))

    def ring(self) -> Ring:
        """The inside."""
        walls = self.walls
        return Ring(self.name, walls["front_left"], walls["front_right"], self["height"], self["spread"], self.joint("front"),
                    self.crease.closed, self.crease.opening,
                    ((walls["front_right"], walls["back_left"]), (walls["front_left"], walls["back_right"])))

    def corners(self) -> tuple[Corner, Corner]:
        """Both free joints, seen from inside."""
        walls = self.walls
        named = {name: (self.own(name), size) for name, size in walls.items()}
        return (Corner("front", 1, named["front_right"], named["front_left"]),
                Corner("back", -1, named["back_left"], named["back_right"]))

    def creases(self) -> dict[str, Crease]:
        """Both free joints from inside, and the outer side of both feet."""
        spread, height = self["spread"], self["height"]
        upright = {corner.name: corner_crease(self, corner, self.joint(corner.name), spread, height) for corner in self.corners()}
        return upright | foot_creases(self, self.feet(), spread, height)

    def faces(self) -> dict[str, Face]:
        """The four walls, seen from outside."""
        right, left = self.hinge("right"), self.hinge("left")
        starts = {"back_right": (right, False), "front_left": (left, True),
                  "back_left": (self.joint("back"), True), "front_right": (self.joint("front"), False)}
        return {name: wall_face(self, name, start, self["spread"], (self.walls[name], self["height"]), turned)
                for name, (start, turned) in starts.items()}

    def bends(self) -> Expr:
        """The feet of both flaps, a quarter circle at half the speed; on a host that stays bent the upright creases too."""
        return self["flap"] / 2 if self.crease.flat else 2 * self["flap"] + 6 * self["height"]

    def area(self) -> Expr:
        """Four walls, flaps and tabs."""
        depth, offset = self.habit("tab.depth"), self["offset"]
        walls = 4 * self["wall"] if self["back_wall"] == self["wall"] else 2 * self["wall"] + 2 * self["back_wall"]
        return (walls + 2 * offset + 2 * self["flap"] + 2 * depth) * self["height"] + 2 * self["flap"] * depth

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """Both half strips (one, if they are alike)."""
        alike = self["back_wall"] == self["wall"] and self["offset"] == ZERO
        depth, walls = self.habit("tab.depth"), self.walls
        for joint, first, second, _ in STRIPS[:1] if alike else STRIPS:
            both = 2 * self["wall"] if alike else walls[first] + walls[second]
            yield "half strip" if alike else f"{joint} half strip", self["flap"] + both + depth, self["height"] + depth

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """Two walls, a flap, a joint tab and a foot tab."""
        return 5 * caliper

    def needs(self) -> dict[str, Expr]:
        """Wall lengths, hinges and joints."""
        return {**{f"{name}.length": size for name, size in self.walls.items()},
                "right.hinge": self.hinge("right"), "left.hinge": self.hinge("left")}

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """Two half strips: flap | wall | wall | joint tab, with the foot tab below the flap."""
        height, flap = sizes["height"], sizes["flap"]
        flat, feet = Flat(), {foot.side: foot for foot in self.feet()}
        for joint, first, second, onto in STRIPS:
            part = self.own(f"{joint}_half")
            one, other = sizes[f"{first}.length"], sizes[f"{second}.length"]
            walls = ((feet[joint].panel, flap), (self.own(first), one), (self.own(second), other))
            end = add_strip(flat, part, walls, height, self.site.paper)
            add_joint(self, flat, self.own(f"{joint}_joint"), part, self.own(second), self.own(onto), end, height)
            start = sizes[f"{joint}.hinge"] - (flap if joint == "right" else 0)
            spread = sizes["spread" if joint == "right" else "left_spread"]
            add_foot(self, flat, feet[joint], part, (0, flap), (start, spread), 1 if joint == "right" else -1)
            flat.faces |= {first: Frame(self.own(first), (flap, 0), (1, 0), (0, 1)),
                           second: Frame(self.own(second), (flap + one, 0), (1, 0), (0, 1))}
            corner = {"left": (self.own(second), flap + one, 1), "right": (self.own(first), flap + one, -1)}
            corner_sides(flat, "back" if joint == "right" else "front", corner)
        halves = tuple(self.own(f"{joint}_half") for joint, *_ in STRIPS)
        through = self.site.choices["joint"] == "slotted"
        flat.steps = [
            Step(f"Fold both half strips of {self.name} and glue them into a ring, each joint tab on the first wall of "
                 "the other strip.", halves),
            Step(f"Stand {self.name} on its flaps: " + ("pass the foot tabs through their slits and glue them behind."
                 if through else "glue the foot tabs to their marks."), halves),
        ]
        return flat

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """The hinges lie on the pages; each pair of walls is a triangle on the line between them."""
        size = {name: sizes[f"{name}.length"] for names in STRIPS for name in names[1:3]}
        half = sizes["spread"] * host.sine
        base = host.origin + sizes["spread"] * host.cosine * host.z
        hinge = {side: base + sizes[f"{side}.hinge"] * host.x + sign * half * host.y
                 for side, sign in (("right", -1.0), ("left", 1.0))}
        pose, flap, ways, angles = Pose(), sizes["flap"], {}, {}
        for end, sign in (("front", 1.0), ("back", -1.0)):
            left, right = corner_angles(half, size[f"{end}_left"], size[f"{end}_right"])
            angles[end] = left + right
            # from the free joint to the hinges
            ways[f"{end}_left"] = sign * np.cos(left) * host.x + np.sin(left) * host.y
            ways[f"{end}_right"] = sign * np.cos(right) * host.x - np.sin(right) * host.y
        for joint, first, second, onto in STRIPS:
            sign = 1 if joint == "right" else -1
            start = hinge[joint] - sign * flap * host.x
            # a strip runs from a hinge to the free joint and on to the other hinge, where the other strip's wall begins
            walls = ((f"{joint}_flap", flap, sign * host.x), (first, size[first], -ways[first]),
                     (second, size[second], ways[second]), (f"{joint}_joint", 0.0, -ways[onto]))
            pose_strip(pose, start, [(self.own(name), long, way) for name, long, way in walls], host.z)
            pose_foot(self, pose, self.feet()[joint == "left"], host, start if sign > 0 else hinge[joint],
                      0.0 if sign > 0 else flap, sign)
        front = hinge["left"] - size["front_left"] * ways["front_left"]
        back = hinge["right"] - size["back_right"] * ways["back_right"]
        pose.folds["front"] = corner_fold(front, ways["front_right"], ways["front_left"], host.z, angles["front"])
        pose.folds["back"] = corner_fold(back, ways["back_left"], ways["back_right"], host.z, angles["back"])
        pose.folds["inside"] = pose.folds["front"]
        return pose
