"""The ring: four equal walls standing on both pages."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

import numpy as np

from foldwright.solver import expression as ex
from foldwright.solver.card import Bond, Panel, Placement, Step
from foldwright.solver.expression import Const, Expr
from foldwright.solver.geometry import Closed, Fold, rectangle, tab_outline
from foldwright.solver.mechanism import Face, Flat, Frame, Mechanism, Pose, Ring, Seam, length
from foldwright.solver.model import Kind, Rule
from foldwright.solver.tabs import JOINTS, TURNS, edge_tab, foot_cut, tab_fits, taut_at

# The two half strips: which joint they start from, and their walls in order round the ring.
STRIPS = (("left", "back_left", "back_right", "front_right"), ("right", "front_right", "front_left", "back_left"))


class RingWall(Mechanism):
    """Four equal walls in a ring (a rhombus seen from above), hinged on both pages at the same distance.

    `wall` is the length of each wall, `height` of the ring, `spread` the distance of both hinges from the crease,
    `flap` the length of the hinge flaps, `at` its middle along the crease. Each hinge is a real line: a flap that
    continues a wall beyond the joint and stands on a tab; a corner merely glued at a point would let the ring lean.
    Closed, the ring lies at spread from the crease and stretches to twice its wall along it. Its inside carries a
    lattice (`in` the ring); its walls carry cut-outs: `front_left`, `front_right` (towards the tail, the reader),
    `back_left`, `back_right`.
    """

    keyword = "ring"
    parameters = (
        length("at", "the middle of the ring along the crease", 0, 900, 90),
        length("wall", "length of each of the four walls", 20, 200, 60),
        length("height", "height of the ring", 12, 150, 30),
        length("spread", "distance of both hinges from the crease", 10, 150, 42),
        length("flap", "length of the hinge flaps", 20, 60, 20),
    )
    choices = (TURNS, JOINTS)
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

    def rules(self) -> Iterator[Rule]:
        """Reaching across, closed fit, and the tabs under the flaps."""
        host = self.crease
        wall, spread, at = self["wall"], self["spread"], self["at"]
        yield self.rule("reaches-across", Kind.GEOMETRY, spread, "<=", Fraction(9, 10) * wall,
                        f"the walls of {self.name} must reach across: its hinges lie {{left}} from the crease, and for "
                        "a ring that keeps an inside nine tenths of the wall, {right}, is the most")
        yield self.rule("keeps-open", Kind.PRACTICE, Fraction(2, 5) * wall, "<=", spread,
                        f"{self.name} should open into a ring, not a slit: its hinges lie {{right}} from the crease, "
                        "two fifths of the wall are {left}")
        yield self.rule("flap", Kind.GEOMETRY, self["flap"], "<=", wall,
                        f"the hinge flaps of {self.name} must not be longer than its walls")
        for end, x in (("tail", at - wall), ("head", at + wall)):
            yield from self.inside(f"the upper edge at the {end} end", end, host.closed, x, spread + self["height"])
        yield from tab_fits(self, "left", host.left, at - self["flap"], at, spread)
        yield from tab_fits(self, "right", host.right, at, at + self["flap"], spread)
        yield self.rule("joint", Kind.PRACTICE, self.habit("tab.length"), "<=",
                        self["height"] - 2 * self.habit("tab.inset") - self.habit("tab.depth"),
                        f"the tabs that close the ring {self.name} are {{right}} long on average; a tab needs {{left}}")

    def dead_points(self, sizes: Mapping[str, float]) -> Iterator[tuple[float, str]]:
        """Two walls in one line across the ring."""
        yield from taut_at(sizes["wall"] ** 2, sizes["spread"] ** 2)

    def measures(self) -> dict[str, Expr]:
        """Extent of the open ring across the pages and along the crease (for a card that opens flat)."""
        wall, spread = self["wall"], self["spread"]
        return {"across": 2 * spread, "along": 2 * ex.sqrt(wall * wall - spread * spread),
                "reach": spread + self["height"]}

    def stretch(self) -> tuple[Expr, Expr]:
        """The closed ring's extent (the open one is shorter)."""
        return self["at"] - self["wall"], self["at"] + self["wall"]

    def ring(self) -> Ring:
        """The inside."""
        host = self.crease
        return Ring(self.name, self["wall"], self["height"], self["spread"], self["at"], host.closed)

    def faces(self) -> dict[str, Face]:
        """The four walls, seen from outside."""
        host = self.crease
        wall, height = self["wall"], self["height"]
        faces = {}
        for name, start in (("back_left", self["at"]), ("front_right", self["at"])):
            turned = name.startswith("front")
            zero = Const(Fraction(180 if turned else 0))
            place = host.closed.then(Closed(start, self["spread"], zero, mirrored=turned))
            faces[name] = Face(self.own(name), place, (wall / 2, height / 2), (wall / 2, height))
        for name, start, turned in (("back_right", self["at"] + wall, True), ("front_left", self["at"] - wall, False)):
            zero = Const(Fraction(180 if turned else 0))
            place = host.closed.then(Closed(start, self["spread"], zero, mirrored=turned))
            faces[name] = Face(self.own(name), place, (wall / 2, height / 2), (wall / 2, height))
        return faces

    def area(self) -> Expr:
        """Four walls, flaps and tabs."""
        depth = self.habit("tab.depth")
        return (4 * self["wall"] + 2 * self["flap"] + 2 * depth) * self["height"] + 2 * self["flap"] * depth

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """One half strip (both are alike)."""
        depth = self.habit("tab.depth")
        yield "half strip", self["flap"] + 2 * self["wall"] + depth, self["height"] + depth

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """Two walls, a flap, a joint tab and a foot tab."""
        return 5 * caliper

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """Two half strips: flap | wall | wall | joint tab, with the foot tab below the flap."""
        wall, height, flap = sizes["wall"], sizes["height"], sizes["flap"]
        inset, depth = float(self.habit("tab.inset")), float(self.habit("tab.depth"))
        host = self.crease
        flat = Flat(papers={self.own(f"{joint}_half"): self.site.paper for joint, *_ in STRIPS})
        for joint, first, second, onto in STRIPS:
            part = self.own(f"{joint}_half")
            names = [self.own(f"{joint}_flap"), self.own(first), self.own(second)]
            edges = [0.0, flap, flap + wall, flap + 2 * wall]
            for name, u0, u1 in zip(names, edges, edges[1:], strict=False):
                flat.panels.append(Panel(name, part, rectangle(u0, 0, u1, height)))
            for before, after, u in zip(names, names[1:], edges[1:], strict=False):
                flat.seams.append(Seam(before, after, (u, 0), (u, height)))
            glue = self.own(f"{joint}_joint")
            end = edges[-1]
            ends = ((end, height - inset), (end, inset))
            flat.panels.append(Panel(glue, part, tab_outline(ends[0], ends[1], (1, 0), depth, (60, 60)), tab=True))
            flat.seams.append(Seam(names[-1], glue, *ends))
            flat.bonds.append(Bond(glue, self.own(onto)))
            foot = self.own(f"{joint}_foot")
            tab, start, stop = edge_tab(self, (0, 0), (flap, 0), (0, -1))
            flat.panels.append(Panel(foot, part, tab, tab=True))
            flat.seams.append(Seam(names[0], foot, start, stop))
            flat.bonds.append(Bond(foot, getattr(host, joint).panel))
            x0 = sizes["at"] - flap if joint == "left" else sizes["at"]
            sign = 1 if joint == "left" else -1
            base = x0 if joint == "left" else sizes["at"] + flap
            line = tuple((base + sign * u, sizes["spread"]) for u in (start[0], stop[0]))
            flat.cuts.append(foot_cut(self, joint, (line[0], line[1]), foot))
            for name, u in ((first, flap), (second, flap + wall)):
                flat.faces[name] = Frame(self.own(name), (u, 0), (1, 0), (0, 1))
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
        """Rhombus of walls; the hinges lie on the pages, the free joints on the plane of symmetry."""
        wall, spread = sizes["wall"], sizes["spread"]
        half = spread * host.sine
        chi = np.arcsin(np.minimum(half / wall, 1.0))
        e1 = np.cos(chi) * host.x + np.sin(chi) * host.y  # left hinge to back joint; front joint to right hinge
        e2 = np.cos(chi) * host.x - np.sin(chi) * host.y
        base = host.origin + sizes["at"] * host.x + spread * host.cosine * host.z
        pose = Pose()
        for joint, sign, names in (("left", 1.0, STRIPS[0][1:3]), ("right", -1.0, STRIPS[1][1:3])):
            corner = base - sign * half * host.y
            first, second = sign * e1, -sign * e2
            flap = sizes["flap"]
            pose.placements[self.own(f"{joint}_flap")] = Placement(corner - flap * sign * host.x, sign * host.x, host.z)
            pose.placements[self.own(names[0])] = Placement(corner - flap * first, first, host.z)
            turn = corner + wall * first
            pose.placements[self.own(names[1])] = Placement(turn - (flap + wall) * second, second, host.z)
            # the joint tab goes on in the direction of the other strip's first wall
            onward = -sign * e1
            pose.placements[self.own(f"{joint}_joint")] = Placement(
                turn + wall * second - (flap + 2 * wall) * onward, onward, host.z)
            page = host.left if joint == "left" else host.right
            inward = self.site.choices["tabs"] == "inward"
            pose.placements[self.own(f"{joint}_foot")] = Placement(
                corner - flap * sign * host.x, sign * host.x, page if inward else -page)
        pose.folds["inside"] = Fold(base - wall * np.cos(chi) * host.x, host.z, host.x, 2 * np.degrees(chi))
        return pose
