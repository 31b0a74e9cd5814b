"""The trellis: layers that cross each other in slots and stand on the pages without a ring."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

import numpy as np

from foldwright.grammar.letters import Use
from foldwright.solver import expression as ex
from foldwright.solver.building.lettered import bridges_hold
from foldwright.solver.building.slots import (
    add_layer,
    cross_layers,
    crossing_angle,
    layer_art,
    layer_outline,
    plain_band,
    slot_notes,
    slot_rules,
    slot_width,
)
from foldwright.solver.building.tabs import JOINTS, TURNS, glue_words, taut_at
from foldwright.solver.building.upright import (
    KEPT,
    ZERO,
    Foot,
    add_foot,
    corner_angles,
    foot_areas,
    foot_creases,
    foot_rules,
    pose_foot,
)
from foldwright.solver.card import Note, Panel, Placement, Step
from foldwright.solver.expression import Expr
from foldwright.solver.flat import Flat, Frame, Pose, Seam
from foldwright.solver.geometry import Closed, Fold, rectangle
from foldwright.solver.host import Area, Crease, Face
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import Counts, length

HELD = {"left": "a1", "right": "b1"}  # the layers that are tied to the pages


class Trellis(Mechanism):
    """Two families of layers that cross in slots halved in pairs, tied to the pages by one upright hinge on each.

    `layers 3 by 3` counts both families: `a1`, `a2`, ... run towards the left page and are slotted from above, `b1`,
    `b2`, ... run towards the right page and are slotted from below. The front layers `a1` and `b1` end in a hinge flap
    each: only these two are glued to the pages, and with the layers behind them they act as a ring. `run` is the
    distance from the front crossing along `a1` to its hinge, `right_run` that along `b1`; the other layers follow at
    even distances and are as long. `spread` is the distance of both hinges from the crease, `at` their middle along
    it, `stub` how far every layer goes on in front of its first slot, `flap` the length of the hinge flaps, `rise` the
    height of a layer, artwork included. With unequal runs the left hinge lies farther along the crease by the
    difference; write `offset` only to have it checked. A second hinge on one page would tear: the spacing of two
    layers along the crease changes as they fold. Each layer needs two crossings to be held, so there are two or more
    each way.

    Kinematics: as the parallelogram ring; every mesh is a parallelogram at every angle.
    """

    keyword = "trellis"
    takes_art = "optional"
    letters = Use.EDGE
    parameters = (
        length("at", "the middle between both hinges along the crease", 0, 900, 90),
        length("run", "from the front crossing along a1 to the left hinge", 24, 200, 60),
        length("spread", "distance of both hinges from the crease", 10, 150, 40),
        length("rise", "height of the layers, artwork included", 15, 300, 50),
        length("stub", "length of a layer in front of its first slot", 4, 40, 5),
        length("flap", "length of the hinge flaps", 20, 60, 20),
        length("right_run", "from the front crossing along b1 to the right hinge", 24, 200, 60, lambda p: p["run"]),
        length("offset", "how much farther along the crease the left hinge lies", 0, 100, 0, lambda p: p["run"] - p["right_run"]),
    )
    choices = (TURNS, JOINTS)
    counts = (Counts("layers", 2, 8, (2, 2), "how many layers run each way"),)
    example = """
card "One fence"
  units mm
cover 120 x 170
  paper ink
trellis fence on spine
  paper reed
  run    40 to 60
  layers 3 by 2
prefer largest fence.rise
paper ink  colour #22304a weight 216 gsm
paper reed colour #8a8f4f caliper 0.25
mat 300 x 300
"""

    @property
    def layers(self) -> tuple[int, int]:
        """How many layers run each way."""
        return self.site.counts["layers"]

    @property
    def shift(self) -> Expr:
        """How much farther along the crease the left hinge lies than the right one, with its sign."""
        return ZERO if self["right_run"] == self["run"] else self["run"] - self["right_run"]

    @property
    def even(self) -> bool:
        """True if both runs are one dimension."""
        return self["right_run"] == self["run"]

    def long(self, family: str) -> Expr:
        """Run of the layers of a family."""
        return self["run" if family == "a" else "right_run"]

    def pitch(self, family: str) -> Expr:
        """Distance between neighbouring layers of a family, along the layers that cross them."""
        first, second = self.layers
        return self["right_run"] / first if family == "a" else self["run"] / second

    def densest(self) -> Expr:
        """The smaller pitch of both families."""
        return self["run"] / max(self.layers) if self.even else ex.smallest(self.pitch("a"), self.pitch("b"))

    def shorter(self) -> Expr:
        """The shorter run."""
        return self["run"] if self.even else ex.smallest(self["run"], self["right_run"])

    def band(self) -> Expr:
        """Height of the plain layer below its artwork."""
        longest = self["run"] if self.even else ex.largest(self["run"], self["right_run"])
        return plain_band(self, self["rise"], longest + self["stub"])

    def front(self) -> Expr:
        """Where the front crossing lies along the crease when the card is closed."""
        return self["at"] - (self["run"] if self.even else (self["run"] + self["right_run"]) / 2)

    def hinge(self, side: str) -> Expr:
        """Where a hinge lies along the crease."""
        return self["at"] + (self["offset"] / 2 if side == "left" else -self["offset"] / 2)

    def feet(self) -> tuple[Foot, Foot]:
        """Both hinge flaps: they go on from the hinges towards the head."""
        left, right = (Foot(side, self.own(f"{side}_flap"), self.hinge(side), self["flap"]) for side in ("left", "right"))
        return left, right

    def ends(self) -> Iterator[tuple[str, Expr, Expr]]:
        """What reaches farthest to the head when the card is closed: in words, where along the crease, and its height."""
        first, second = self.layers
        far = self.front() + self["run"] + self["right_run"]
        yield "the last layer to the left", far - self.pitch("a"), self["rise"]
        if not self.even or first != second:
            yield "the last layer to the right", far - self.pitch("b"), self["rise"]
        for side in ("left",) if self.even else ("left", "right"):
            yield f"the {side} hinge flap", self.hinge(side) + self["flap"], self.band()

    def rules(self) -> Iterator[Rule]:
        """Closing, reaching across, slots, stubs, closed fit and the tabs under the flaps."""
        spread, band = self["spread"], self.band()
        if self["offset"] != self["run"] - self["right_run"]:
            yield self.rule("closes", Kind.GEOMETRY, self["run"] - self["right_run"], "=", self["offset"],
                            f"the runs of {self.name} differ by {{left}}: so far apart along the crease its hinges must lie, or "
                            "the layers jam before they are closed; their offset is {right}")
        mean = self["run"] if self.even else ex.sqrt(self["run"] * self["right_run"])
        yield self.rule("reaches-across", Kind.GEOMETRY, spread, "<=", KEPT * mean,
                        f"the front layers of {self.name} must reach across: the hinges lie {{left}} from the crease, and for "
                        "meshes that stay open nine tenths of the run, {right}, is the most")
        yield self.rule("keeps-open", Kind.PRACTICE, Fraction(2, 5) * self.shorter(), "<=", spread,
                        f"the meshes of {self.name} should open, not stay slits: its hinges lie {{right}} from the crease, two "
                        "fifths of the run are {left}")
        yield from slot_rules(self, band, self.densest())
        yield from bridges_hold(self, self.shorter())
        yield self.rule("stub", Kind.PRACTICE, self.habit("slot.strip") + slot_width(self) / 2, "<=", self["stub"],
                        f"the layers of {self.name} go on {{right}} in front of their first slot; a slot and a strip "
                        "need {left}", still=(slot_width(self) / 2, self["stub"]))
        yield self.rule("stub-across", Kind.GEOMETRY, self["stub"], "<=", self.shorter() / max(self.layers),
                        f"no layer of {self.name} may reach farther across than its hinges: the stubs of {{left}} must not be "
                        "longer than a mesh, {right}")
        yield self.rule("hinge", Kind.PRACTICE, self.habit("tab.length"), "<=", band,
                        f"the hinges of {self.name} are {{right}} high; to keep the layers upright they need {{left}}")
        yield from self.inside("the upper edge at the tail end", "tail", self.crease.closed, self.front() - self["stub"],
                               spread + self["rise"])
        for number, (what, x, high) in enumerate(self.ends()):
            yield from self.inside(f"the upper edge of {what}", f"head-{number}", self.crease.closed, x, spread + high)
        yield from self.has_room(self.front() - self["stub"], spread + self["rise"])
        yield from foot_rules(self, self.feet(), spread)

    def dead_points(self, sizes: Mapping[str, float]) -> Iterator[tuple[float, str]]:
        """Both front layers in one line across the pages."""
        yield from taut_at(sizes["run"] * sizes["right_run"], sizes["spread"] ** 2)

    def notes(self, sizes: Mapping[str, float]) -> Iterator[Note]:
        """Slots that give way."""
        widest = crossing_angle(sizes["opening"], sizes["spread"], sizes["run"], sizes["right_run"])
        yield from slot_notes(self, sizes["band"], widest)

    def measures(self) -> dict[str, Expr]:
        """The plain band below the artwork, the extent across the pages, and where the upper edge lies when closed."""
        return {"band": self.band(), "across": 2 * self["spread"], "reach": self["spread"] + self["rise"]}

    def stretch(self) -> tuple[Expr, Expr]:
        """The closed extent (the open one is shorter)."""
        return self.front() - self["stub"], ex.largest(*(x for _, x, _ in self.ends()))

    def glued(self) -> Iterator[Area]:
        """Under both flaps."""
        yield from foot_areas(self, self.feet(), self["spread"])

    def creases(self) -> dict[str, Crease]:
        """The outer side of both feet."""
        return foot_creases(self, self.feet(), self["spread"], self.band())

    def _families(self) -> tuple[tuple[str, int, int], ...]:
        first, second = self.layers
        return ("a", first, second), ("b", second, first)

    def faces(self) -> dict[str, Face]:
        """All layers; the upper edge for cut-outs is that of the band, between two crossings."""
        faces = {}
        for family, own, other in self._families():
            gap = self.pitch("b" if family == "a" else "a")
            middle = gap * Fraction(2 * (other // 2) + 1, 2)
            for number in range(own):
                place = self.crease.closed.then(Closed(self.front() + number * self.pitch(family), self["spread"], ZERO))
                name = f"{family}{number + 1}"
                faces[name] = Face(self.own(name), place, (middle, self.band() / 2), (middle, self.band()),
                                   gap - slot_width(self))
        return faces

    def bends(self) -> Expr:
        """The feet of both flaps, a quarter circle at half the speed; on a host that stays bent their hinges too."""
        return self["flap"] / 2 if self.crease.flat else 2 * self["flap"] + 2 * self["rise"]

    def area(self) -> Expr:
        """All layers, flaps and foot tabs."""
        layers = [count * (self.long(family) + self["stub"]) for family, count, _ in self._families()]
        return (layers[0] + layers[1] + 2 * self["flap"]) * self["rise"] + 2 * self["flap"] * self.habit("tab.depth")

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """The two layers with hinge flaps."""
        for side, family in (("left", "a"), ("right", "b")):
            if side == "left" or not self.even:
                yield (f"layer {HELD[side]}", self.long(family) + self["stub"] + self["flap"],
                       self["rise"] + self.habit("tab.depth"))

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """All layers lie on each other near the middle when closed, and a foot tab on either side."""
        return (sum(counts["layers"]) + 2) * caliper

    def needs(self) -> dict[str, Expr]:
        """The band, both hinges, and how far the crease opens."""
        return {"band": self.band(), "opening": self.crease.opening,
                "left.hinge": self.hinge("left"), "right.hinge": self.hinge("right")}

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """Each layer is a part: u along it from the front crossing, v up; the front ones go on into a flap on a tab."""
        flat, names, band, stub = Flat(), {}, sizes["band"], sizes["stub"]
        feet = {foot.side: foot for foot in self.feet()}
        run = {"a": sizes["run"], "b": sizes["right_run"]}
        for family, own, other in self._families():
            places = [run[family] * number / other for number in range(other)]
            outline = layer_outline(self, (-stub, run[family]), band, places, family == "a")
            names[family] = [self.own(f"{family}{number}") for number in range(1, own + 1)]
            for name in names[family]:
                add_layer(flat, self, name, outline, layer_art(self, (-stub, run[family]), band))
                flat.faces[name.removeprefix(f"{self.name}.")] = Frame(name, (0, 0), (1, 0), (0, 1))
        for side, family in (("left", "a"), ("right", "b")):
            layer, flap, end = self.own(HELD[side]), feet[side].panel, run[family]
            flat.panels.append(Panel(flap, layer, rectangle(end, 0, end + sizes["flap"], band)))
            flat.seams.append(Seam(layer, flap, (end, 0), (end, band)))
            add_foot(self, flat, feet[side], layer, (end, end + sizes["flap"]), (sizes[f"{side}.hinge"], sizes["spread"]), 1)
        cross_layers(flat, self, names["a"], names["b"])
        front = (self.own("a1"), self.own("b1"))
        flat.steps.append(Step(f"Stand {self.name} on the flaps of {front[0]} and {front[1]}: {glue_words(self)}. "
                               "Fold it flat and open it ten times before the glue is hard.", front))
        return flat

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """Hinges on the pages, the front crossing where both front layers meet, all others parallel to these."""
        run, right = sizes["run"], sizes["right_run"]
        half = sizes["spread"] * host.sine
        base = host.origin + sizes["spread"] * host.cosine * host.z
        to_left, to_right = corner_angles(half, run, right)
        ways = {"a": np.cos(to_left) * host.x + np.sin(to_left) * host.y,
                "b": np.cos(to_right) * host.x - np.sin(to_right) * host.y}
        hinges = {side: base + sizes[f"{side}.hinge"] * host.x + sign * half * host.y
                  for side, sign in (("left", 1.0), ("right", -1.0))}
        front = hinges["left"] - run * ways["a"]
        pose = Pose()
        for (family, own, _), across, size in zip(self._families(), ("b", "a"), (right, run), strict=True):
            for number in range(own):
                start = front + size * number / own * ways[across]
                pose.placements[self.own(f"{family}{number + 1}")] = Placement(start, ways[family], host.z)
        for foot, long in zip(self.feet(), (run, right), strict=True):
            hinge = hinges[foot.side]
            pose.placements[foot.panel] = Placement(hinge - long * host.x, host.x, host.z)
            pose_foot(self, pose, foot, host, hinge, long, 1)
        return pose
