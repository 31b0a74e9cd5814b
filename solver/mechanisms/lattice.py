"""The lattice: layers that cross each other in slots, hung in a ring."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

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
from foldwright.solver.building.tabs import TIP
from foldwright.solver.card import Bond, Note, Panel, Placement, Step, Vector
from foldwright.solver.expression import Const, Expr
from foldwright.solver.flat import Flat, Frame, Pose, Seam
from foldwright.solver.geometry import Closed, Fold, tab_outline
from foldwright.solver.host import Area, Face, Ring
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import Counts, length

# The walls that the layers of a family start and end on.
ENDS = {"a": ("front_right", "back_left"), "b": ("front_left", "back_right")}


class Lattice(Mechanism):
    """Two families of layers that cross in slots halved in pairs, glued with upright tabs to the walls of a ring.

    `layers 3 by 3` counts both families: `a1`, `a2`, ... run from the ring's front right wall to its back left one
    and are slotted from above; `b1`, `b2`, ... run the other way and are slotted from below. They divide the walls
    evenly. `rise` is the height of a layer, artwork included; artwork `along top` is joined to its upper edge at the
    layer's own width. As the ring closes the layers fold flat with it and fan out along the spine.

    Each layer keeps parallel to two opposite walls, so these must be equal: a rhombus or a parallelogram carries a
    lattice, a kite does not. Every crossing keeps its place on both layers, at every angle.
    """

    keyword = "lattice"
    stands_on = ("ring",)
    takes_art = "optional"
    letters = Use.EDGE
    parameters = (length("rise", "height of the layers, artwork included", 15, 300, 60),)
    counts = (Counts("layers", 1, 8, (2, 2), "how many layers run each way"),)
    example = """
card "One thicket"
  units mm
cover 120 x 160
  paper ink
ring tank on spine
  paper glass
  wall 66
lattice weeds in tank
  paper weed
  layers 2 by 3
  rise 30 to 60
prefer largest weeds.rise
paper ink   colour #22304a weight 216 gsm
paper glass colour #9fc6c9 caliper 0.25
paper weed  colour #3f6f4b caliper 0.28
mat 300 x 300
"""

    @property
    def frame(self) -> Ring:
        """The ring that this lattice hangs in."""
        assert self.site.ring is not None
        return self.site.ring

    @property
    def layers(self) -> tuple[int, int]:
        """How many layers run each way."""
        return self.site.counts["layers"]

    def _families(self) -> tuple[tuple[str, int, int], ...]:
        """Both families: letter, number of layers, number of layers that cross them."""
        first, second = self.layers
        return ("a", first, second), ("b", second, first)

    def long(self, family: str) -> Expr:
        """Length of the layers of a family."""
        return self.frame.wall if family == "a" else self.frame.cross

    @property
    def longest(self) -> Expr:
        """Length of the longest layer."""
        ring = self.frame
        return ring.wall if ring.wall == ring.cross else ex.largest(ring.wall, ring.cross)

    def band(self) -> Expr:
        """Height of the plain layer below its artwork."""
        return plain_band(self, self["rise"], self.longest)

    def pitch(self, family: str) -> Expr:
        """Distance between neighbouring layers of a family, along the wall that they are tied to."""
        first, second = self.layers
        return self.frame.cross / (first + 1) if family == "a" else self.frame.wall / (second + 1)

    def densest(self) -> Expr:
        """The smaller pitch of both families."""
        if self.frame.wall == self.frame.cross:
            return self.frame.wall / (max(self.layers) + 1)
        return ex.smallest(self.pitch("a"), self.pitch("b"))

    def rules(self) -> Iterator[Rule]:
        """Equal opposite walls, slots, end tabs and closed fit."""
        ring, band = self.frame, self.band()
        depth, inset = self.habit("tab.depth"), self.habit("tab.inset")
        for number, (one, other) in enumerate(ring.opposite):
            if one != other:
                yield self.rule(f"opposite-walls.{number}", Kind.GEOMETRY, one, "=", other,
                                f"a lattice needs a ring with equal opposite walls; those of {ring.name} are {{left}} and "
                                f"{{right}}: every layer of {self.name} keeps parallel to two opposite walls, and in a kite "
                                "it would have to change its length as the card closes")
        dense = self.densest()
        yield from slot_rules(self, band, dense)
        yield from bridges_hold(self, ring.wall if ring.wall == ring.cross else ex.smallest(ring.wall, ring.cross))
        yield self.rule("tab-pitch", Kind.GEOMETRY, depth + inset, "<=", dense,
                        f"the end tabs of {self.name} must lie side by side on the wall: the layers are {{right}} apart, a "
                        "tab with its inset needs {left}")
        yield self.rule("joint-tab", Kind.PRACTICE, 2 * depth, "<=", self.pitch("b"),
                        f"the last end tab of {self.name} and the tab that closes {ring.name} must lie side by side on their "
                        "wall: the layers are {right} apart, both tabs need {left}")
        tall = ex.smallest(band, ring.height) - 2 * inset - depth
        yield self.rule("tab-length", Kind.PRACTICE, self.habit("tab.length"), "<=", tall,
                        f"the end tabs of {self.name} are {{right}} long on average; a tab needs {{left}} to hold",
                        still=(depth + TIP, tall))
        far = ring.front + ring.wall + ring.cross
        for end, x in (("tail", ring.front + dense), ("head", far - dense)):
            yield from self.inside(f"the upper edge at the {end} end", end, ring.closed, x, ring.spread + self["rise"])

    def measures(self) -> dict[str, Expr]:
        """The plain band below the artwork, and where the upper edge lies when closed."""
        return {"band": self.band(), "reach": self.frame.spread + self["rise"]}

    def glued(self) -> Iterator[Area]:
        """Both end tabs of every layer, on the walls of the ring."""
        ring, depth = self.frame, self.habit("tab.depth")
        up = (Const(Fraction(0)), ex.smallest(self.band(), ring.height))
        for family, count, _ in self._families():
            side = ring.cross if family == "a" else ring.wall
            for number in range(1, count + 1):
                off = self.pitch(family) * number
                # from the front joint along the wall, and against the u of the walls that run to the front or back joint
                spans = {"front_right": (off, off + depth), "back_right": (off, off + depth),
                         "front_left": (side - off - depth, side - off), "back_left": (side - off - depth, side - off)}
                for wall in ENDS[family]:
                    yield Area(f"{ring.name}.{wall}", spans[wall], up)

    def faces(self) -> dict[str, Face]:
        """All layers; the upper edge for cut-outs is that of the band, between two crossings."""
        ring, faces = self.frame, {}
        for family, own, other in self._families():
            gap = self.pitch("b" if family == "a" else "a")
            middle = gap * Fraction(2 * (other // 2) + 1, 2)
            for number in range(1, own + 1):
                start = ring.front + self.pitch(family) * number
                place = ring.closed.then(Closed(start, ring.spread, Const(Fraction(0))))
                faces[f"{family}{number}"] = Face(self.own(f"{family}{number}"), place, (middle, self.band() / 2),
                                                  (middle, self.band()), gap - slot_width(self))
        return faces

    def area(self) -> Expr:
        """All layers with their end tabs."""
        if self.frame.wall == self.frame.cross:
            return sum(self.layers) * self["rise"] * (self.frame.wall + 2 * self.habit("tab.depth"))
        first, second = (count * (self.long(family) + 2 * self.habit("tab.depth")) for family, count, _ in self._families())
        return self["rise"] * (first + second)

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """The longest layer."""
        yield "layer", self.longest + 2 * self.habit("tab.depth"), self["rise"]

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """All layers lie on each other near the middle of the closed ring; their tabs add one sheet each way."""
        return (sum(counts["layers"]) + 2) * caliper

    def needs(self) -> dict[str, Expr]:
        """Sizes of the ring."""
        ring = self.frame
        return {"wall": ring.wall, "cross": ring.cross, "height": ring.height, "spread": ring.spread, "opening": ring.opening,
                "band": self.band()}

    def notes(self, sizes: Mapping[str, float]) -> Iterator[Note]:
        """Slots that give way."""
        widest = crossing_angle(sizes["opening"], sizes["spread"], sizes["wall"], sizes["cross"])
        yield from slot_notes(self, sizes["band"], widest)

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """Each layer is a part: u along it, v up; an end tab at both ends."""
        depth, inset = float(self.habit("tab.depth")), float(self.habit("tab.inset"))
        tall = min(sizes["band"], sizes["height"]) - inset
        flat, names = Flat(), {}
        for family, own, other in self._families():
            size = sizes["wall" if family == "a" else "cross"]
            places = [size * number / (other + 1) for number in range(1, other + 1)]
            outline = layer_outline(self, (0.0, size), sizes["band"], places, family == "a")
            names[family] = [self.own(f"{family}{number}") for number in range(1, own + 1)]
            for name in names[family]:
                add_layer(flat, self, name, outline, layer_art(self, (0.0, size), sizes["band"]))
                for end, u, away, onto in (("start", 0.0, -1.0, ENDS[family][0]), ("end", size, 1.0, ENDS[family][1])):
                    line = ((u, tall), (u, inset)) if away > 0 else ((u, inset), (u, tall))
                    tab = tab_outline(line[0], line[1], (away, 0), depth, (60, 60))
                    flat.panels.append(Panel(f"{name}_{end}", name, tab, tab=True))
                    flat.seams.append(Seam(name, f"{name}_{end}", *line))
                    flat.bonds.append(Bond(f"{name}_{end}", f"{self.frame.name}.{onto}"))
                flat.faces[name.removeprefix(f"{self.name}.")] = Frame(name, (0, 0), (1, 0), (0, 1))
        cross_layers(flat, self, names["a"], names["b"])
        flat.steps.append(
            Step(f"Glue the end tabs of {self.name} to the inside of {self.frame.name}, all turned the same way; "
                 "fold it flat and open it ten times before the glue is hard.", (*names["a"], *names["b"])))
        return flat

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """Layers stay parallel to the walls of the ring; `host` is the ring's front corner, upright."""
        up = host.x
        pose = Pose()
        for family, own, along, across, size, side in (
                ("a", self.layers[0], host.right, host.left, sizes["wall"], sizes["cross"]),
                ("b", self.layers[1], host.left, host.right, sizes["cross"], sizes["wall"])):
            for number in range(1, own + 1):
                name = self.own(f"{family}{number}")
                start = host.origin + side * number / (own + 1) * across
                pose.placements[name] = Placement(start, along, up)
                self._pose_tabs(pose, name, start, along, across, up, size)
        return pose

    @staticmethod
    def _pose_tabs(pose: Pose, name: str, start: Vector, along: Vector, across: Vector, up: Vector, size: float) -> None:
        """Both tabs turn the same way: on along the wall, away from the front corner."""
        pose.placements[f"{name}_start"] = Placement(start, -across, up)
        end = start + size * along
        pose.placements[f"{name}_end"] = Placement(end - size * across, across, up)
