"""The lattice: layers that cross each other in slots, hung in a ring."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from shapely import unary_union
from shapely.geometry import Polygon

from foldwright.solver import expression as ex
from foldwright.solver.card import Bond, Crossing, Panel, Placement, Step, Vector
from foldwright.solver.expression import Const, Expr
from foldwright.solver.geometry import Closed, Fold, rectangle, tab_outline
from foldwright.solver.mechanism import Counts, Face, Flat, Frame, Mechanism, Pose, Ring, Seam, length
from foldwright.solver.model import Kind, Rule

GRID = 1e-6  # mm; snapping of outlines, far below what any machine cuts


class Lattice(Mechanism):
    """Two families of layers that cross in slots halved in pairs, glued with upright tabs to the walls of a ring.

    `layers 3 by 3` counts both families: `a1`, `a2`, ... run from the ring's front left wall to its back right one
    and are slotted from above; `b1`, `b2`, ... run the other way and are slotted from below. They divide the walls
    evenly. `rise` is the height of a layer, artwork included; artwork `along top` is joined to its upper edge at the
    layer's own width. As the ring closes the layers fold flat with it and fan out along the spine.
    """

    keyword = "lattice"
    stands_on = ("ring",)
    takes_art = "optional"
    parameters = (length("rise", "height of the layers, artwork included", 15, 300, 60),)
    counts = (Counts("layers", 1, 8, (2, 2), "how many layers run each way"),)
    example = """
card "One thicket"
  units mm
cover 120 x 160
  paper ink
ring tank on spine
  paper glass
  wall 50
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

    def band(self) -> Expr:
        """Height of the plain layer below its artwork."""
        art = self.site.art
        return self["rise"] if art is None else self["rise"] - art.aspect * self.frame.wall

    def slot_width(self) -> Fraction:
        """Width of all slots, in mm."""
        return self.site.caliper + self.habit("slot.clearance")

    def pitch(self, count: int) -> Expr:
        """Distance between neighbouring layers of a family of `count`."""
        return self.frame.wall / (count + 1)

    def rules(self) -> Iterator[Rule]:
        """Slots, end tabs and closed fit."""
        ring, band = self.frame, self.band()
        depth, inset, strip = self.habit("tab.depth"), self.habit("tab.inset"), self.habit("slot.strip")
        half_slot = (band - self.habit("slot.depth")) / 2
        yield self.rule("slot-strip", Kind.PRACTICE, strip, "<=", half_slot,
                        f"the slots of {self.name} leave {{right}} of the layer whole; at least {{left}} should stay")
        dense = self.pitch(max(self.layers))
        yield self.rule("slot-pitch", Kind.PRACTICE, strip + self.slot_width(), "<=", dense,
                        f"the slots of {self.name} lie {{right}} apart; a strip and a slot need {{left}}")
        yield self.rule("tab-pitch", Kind.GEOMETRY, depth + inset, "<=", dense,
                        f"the end tabs of {self.name} must lie side by side on the wall: the layers are {{right}} apart, a "
                        "tab with its inset needs {left}")
        tall = ex.smallest(band, ring.height) - 2 * inset - depth
        yield self.rule("tab-length", Kind.PRACTICE, self.habit("tab.length"), "<=", tall,
                        f"the end tabs of {self.name} are {{right}} long on average; a tab needs {{left}} to hold")
        spread = ring.wall - self.pitch(max(self.layers))
        for end, x in (("tail", ring.middle - spread), ("head", ring.middle + spread)):
            yield from self.inside(f"the upper edge at the {end} end", end, ring.closed, x, ring.spread + self["rise"])

    def measures(self) -> dict[str, Expr]:
        """The plain band below the artwork, and where the upper edge lies when closed."""
        return {"band": self.band(), "reach": self.frame.spread + self["rise"]}

    def faces(self) -> dict[str, Face]:
        """All layers; the upper edge for cut-outs is that of the band, between two crossings."""
        ring, faces = self.frame, {}
        for family, own, other in self._families():
            gap = self.pitch(other)
            middle = gap * Fraction(2 * (other // 2) + 1, 2)
            for number in range(1, own + 1):
                start = ring.middle + self.pitch(own) * number - ring.wall
                place = ring.closed.then(Closed(start, ring.spread, Const(Fraction(0))))
                faces[f"{family}{number}"] = Face(self.own(f"{family}{number}"), place, (middle, self.band() / 2),
                                                  (middle, self.band()), gap - self.slot_width())
        return faces

    def area(self) -> Expr:
        """All layers with their end tabs."""
        return sum(self.layers) * self["rise"] * (self.frame.wall + 2 * self.habit("tab.depth"))

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """One layer."""
        yield "layer", self.frame.wall + 2 * self.habit("tab.depth"), self["rise"]

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """All layers lie on each other near the middle of the closed ring; their tabs add one sheet each way."""
        return (sum(counts["layers"]) + 2) * caliper

    def needs(self) -> dict[str, Expr]:
        """Sizes of the ring."""
        return {"wall": self.frame.wall, "height": self.frame.height, "band": self.band()}

    def _outline(self, sizes: Mapping[str, float], from_above: bool, others: int) -> Polygon:
        """One layer with its artwork and slots, without its tabs."""
        wall, band, width = sizes["wall"], sizes["band"], float(self.slot_width())
        clearance = float(self.habit("slot.depth")) / 2
        shape = rectangle(0, 0, wall, band)
        if self.site.art is not None:
            shape = unary_union([shape, self.site.art.placed(wall, 0, band)], grid_size=GRID)
        top = shape.bounds[3] + 1
        low, high = (band / 2 - clearance, top) if from_above else (-1.0, band / 2 + clearance)
        slots = []
        for number in range(1, others + 1):
            u = wall * number / (others + 1)
            slots.append(rectangle(u - width / 2, low, u + width / 2, high))
        cut = shape.difference(unary_union(slots), grid_size=GRID)
        return _main_piece(cut)

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """Each layer is a part: u along it, v up; an end tab at both ends."""
        wall, depth = sizes["wall"], float(self.habit("tab.depth"))
        inset = float(self.habit("tab.inset"))
        tall = min(sizes["band"], sizes["height"]) - inset
        ends = {"a": ("front_left", "back_right"), "b": ("front_right", "back_left")}
        flat = Flat()
        for family, own, other in self._families():
            outline = self._outline(sizes, family == "a", other)
            for number in range(1, own + 1):
                name = self.own(f"{family}{number}")
                flat.papers[name] = self.site.paper
                flat.panels.append(Panel(name, name, outline))
                for end, u, away, onto in (("start", 0.0, -1.0, ends[family][0]), ("end", wall, 1.0, ends[family][1])):
                    line = ((u, tall), (u, inset)) if away > 0 else ((u, inset), (u, tall))
                    tab = tab_outline(line[0], line[1], (away, 0), depth, (60, 60))
                    flat.panels.append(Panel(f"{name}_{end}", name, tab, tab=True))
                    flat.seams.append(Seam(name, f"{name}_{end}", *line))
                    flat.bonds.append(Bond(f"{name}_{end}", f"{self.frame.name}.{onto}"))
                flat.faces[f"{family}{number}"] = Frame(name, (0, 0), (1, 0), (0, 1))
        first, second = ([self.own(f"{family}{i + 1}") for i in range(count)]
                         for family, count in zip("ab", self.layers, strict=True))
        flat.crossings = [Crossing(a, b) for a in first for b in second]
        flat.steps = [
            Step(f"Stand the layers {first[0]} to {first[-1]} side by side, slots up, and push {second[0]} to "
                 f"{second[-1]} down onto them, slots down, until the upper edges meet.", (*first, *second)),
            Step(f"Glue the end tabs of {self.name} to the inside of {self.frame.name}, all turned the same way; "
                 "fold it flat and open it ten times before the glue is hard.", (*first, *second)),
        ]
        return flat

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """Layers stay parallel to the walls of the ring; `host` is the ring's front corner, upright."""
        wall, up = sizes["wall"], host.x
        along = {"a": host.left, "b": host.right}
        pose = Pose()
        for family, own, across in (("a", self.layers[0], host.right), ("b", self.layers[1], host.left)):
            for number in range(1, own + 1):
                name = self.own(f"{family}{number}")
                start = host.origin + wall * number / (own + 1) * across
                pose.placements[name] = Placement(start, along[family], up)
                self._pose_tabs(pose, name, start, along[family], across, up, wall)
        return pose

    @staticmethod
    def _pose_tabs(pose: Pose, name: str, start: Vector, along: Vector, across: Vector, up: Vector, wall: float) -> None:
        """Both tabs turn the same way: on along the wall, away from the front corner."""
        pose.placements[f"{name}_start"] = Placement(start, -across, up)
        end = start + wall * along
        pose.placements[f"{name}_end"] = Placement(end - wall * across, across, up)


def _main_piece(shape: Polygon) -> Polygon:
    """The largest piece; crumbs that a slot cuts off the artwork are dropped."""
    if shape.geom_type == "Polygon":
        return shape
    pieces = sorted(shape.geoms, key=lambda piece: piece.area)
    return pieces[-1]
