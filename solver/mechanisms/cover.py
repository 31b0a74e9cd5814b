"""The cover: two pages at a spine."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

import numpy as np

from foldwright.solver import expression as ex
from foldwright.solver.building.holes import Box, rectangle_within
from foldwright.solver.card import Panel, Placement, Step
from foldwright.solver.expression import Const, Expr
from foldwright.solver.flat import Flat, Frame, Pose, Seam
from foldwright.solver.geometry import SPINE, Fold, rectangle
from foldwright.solver.host import Crease, Face, Limits, Side
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import Choice, length
from foldwright.solver.practice import SCRAP

FLAT = Const(Fraction(1))  # sin² of half of 180°
CORNER = Const(Fraction(1, 2))  # sin² of half of 90°
ZERO: Expr = Const(Fraction(0))


def page_limits(width: Expr, height: Expr, room: Expr) -> Limits:
    """Limits of a page: a point stays `room` inside its three free edges."""

    def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
        yield d, width - room, "the fore-edge"
        yield x, height - room, "the head"
        yield room, x, "the tail"

    return limits


class Cover(Mechanism):
    """The outside of the card: a right and a left page, width from the spine by height along it.

    `opens 180` lies flat when open, `opens 90` stands as an L. `clear` is the strip at the free edges that stays
    empty when the card is closed. A plain spine is one crease. A gusset is a pleat of two strips that stands out
    behind the closed card: it makes room for the thickness of the contents and for the insert's crease, which sinks
    behind the pages as the card closes. Mechanisms stand on the spine only where it is plain; with a gusset they
    stand on an insert. Both pages, `right` and `left`, carry cut-outs and windows. Seen from outside with the tail
    down, the spine of the `left` page is on its left: it is the front of the closed card.

    `rests flat` asks that the pages outweigh the spring of the creases when the card lies open: an estimate, which takes
    every crease to remember the closed card and the strength of the spring from the workshop practice `crease.spring`.
    """

    keyword = "cover"
    stands_on = ("nothing",)
    parameters = (
        length("width", "width of one page, from the spine", 30, 600, 130),
        length("height", "height of a page, along the spine", 30, 900, 180),
        length("clear", "empty strip at the free edges of the closed card", 3, 3, 3),
        length("strip", "width of each of the two strips of a gusset", 1, 60),
    )
    choices = (
        Choice("opens", ("180", "90"), "how far the card opens, in degrees"),
        Choice("spine", ("plain", "gusset"), "one crease, or a pleat that makes room for the contents"),
        Choice("rests", ("free", "flat"), "whether the open card must stay flat by its own weight (an estimate)"),
    )
    example = """
card "Plain cover"
  units mm
cover 100 x 150
  paper ink
paper ink colour #22304a weight 216 gsm
mat 300 x 300
"""

    @property
    def gusset(self) -> bool:
        """True if the spine is a pleat."""
        return self.site.choices["spine"] == "gusset"

    @property
    def opens(self) -> int:
        """Largest opening angle in degrees."""
        return int(self.site.choices["opens"])

    def half_gap(self) -> Fraction:
        """Half the distance of the closed covers, in mm: the contents and one caliper (hinges on the mid-planes)."""
        return (self.site.contents + self.site.caliper) / 2 if self.gusset else Fraction(0)

    def environment(self) -> dict[str, Expr]:
        """What everything inside is told of the cover: sizes, clear strip, half gap, and where an insert is held."""
        edge = ex.largest(self.habit("insert.margin"), self["clear"])
        return {
            "width": self["width"], "height": self["height"], "clear": self["clear"], "edge": edge,
            "gap": Const(self.half_gap()), "held": self["width"] - edge - self.habit("insert.glue"),
        }

    def rules(self) -> Iterator[Rule]:
        """Room for the contents and for the sinking crease of the insert."""
        if not self.gusset:
            return
        gap, held = Const(self.half_gap()), self.environment()["held"]
        sink = ex.sqrt(held * held + 2 * gap * held) - held
        hollow = ex.sqrt(self["strip"] * self["strip"] - gap * gap)
        yield self.rule("gusset-hollow", Kind.GEOMETRY, sink, "<=", hollow,
                        "the insert's crease sinks {left} behind the pages as the card closes; "
                        "the pleat of the gusset makes room for {right}")
        yield self.rule("gusset-width", Kind.GEOMETRY, 2 * gap, "<=", 2 * self["strip"],
                        "the closed contents are {left} thick; the gusset gives {right}")

    def among(self, others: Sequence[Mechanism]) -> Iterator[Rule]:
        """A page wide enough to keep the open card flat, if it has to rest so.

        A page of the width w and weight p turns about the spine with p H w² / 2; a hole in it takes p A w at most. A
        crease of the length L springs with q L s² / 2, where s is the width of the scrap page that its spring just holds
        (`crease.spring`) and q the scrap's weight.
        """
        if self.site.choices["rests"] == "free":
            return
        if self.opens != 180:
            yield self.rule("rests-flat", Kind.GEOMETRY, 180, "<=", self.opens,
                            "a card can only rest flat if it opens to {left}; it opens to {right}", angle=True)
            return
        bends, holes = ZERO, ZERO
        for other in others:
            bends, holes = bends + other.bends(), holes + other.lightens()
        height = ex.largest(self["height"], 1)  # keeps the quotients bounded while the height is unknown
        spine = Fraction(1, 2) if self.gusset else Fraction(1)  # both scores of a gusset turn half as far and half as fast
        load = (spine + ex.divide(bends, height)) * (self.habit("crease.spring") ** 2 * SCRAP / self.site.grammage)
        lost = ex.divide(holes, height)
        wide = ex.sqrt(load) if lost == ZERO else lost + ex.sqrt(lost * lost + load)
        yield self.rule("rests-flat", Kind.PRACTICE, wide, "<=", self["width"],
                        "to stay open flat against the spring of its creases (an estimate) the page has to be {left} wide; "
                        "it is {right} wide")

    def creases(self) -> dict[str, Crease]:
        """The spine; with a gusset only an insert can stand there."""
        limits = page_limits(self["width"], self["height"], self["clear"])
        opening = FLAT if self.opens == 180 else CORNER
        refuses = "a gusset is no single crease: what stands on it would jam" if self.gusset else ""
        sides = [Side(self.own(side), limits) for side in ("left", "right")]
        return {"spine": Crease(SPINE, sides[0], sides[1], opening, one_sheet=True, flat=self.opens == 180, refuses=refuses)}

    def faces(self) -> dict[str, Face]:
        """Both pages, u along the spine from the tail and v away from the spine (from its outer score in a gusset)."""
        width, height = self["width"], self["height"]
        within = rectangle_within(Box((ZERO, height), (ZERO, width)), ("the tail", "the head", "the spine", "the fore-edge"))
        return {side: Face(self.own(side), SPINE, (height / 2, width / 2), within=within) for side in ("right", "left")}

    def area(self) -> Expr:
        """Both pages and the gusset."""
        strips = 2 * self["strip"] if self.gusset else Const(Fraction(0))
        return (2 * self["width"] + strips) * self["height"]

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """One sheet."""
        strips = 2 * self["strip"] if self.gusset else Const(Fraction(0))
        yield "cover", 2 * self["width"] + strips, self["height"]

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """The cover is counted apart from its contents."""
        return Fraction(0)

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """One part: u along the spine, v across it, the right page below."""
        width, height = sizes["width"], sizes["height"]
        half = sizes["strip"] if self.gusset else 0.0
        flat = Flat(papers={self.name: self.site.paper})
        flat.panels = [
            Panel(self.own("left"), self.name, rectangle(0, half, height, half + width)),
            Panel(self.own("right"), self.name, rectangle(0, -half - width, height, -half)),
        ]
        if self.gusset:
            flat.panels += [Panel(self.own("pleat_left"), self.name, rectangle(0, 0, height, half)),
                            Panel(self.own("pleat_right"), self.name, rectangle(0, -half, height, 0))]
            chain = ["right", "pleat_right", "pleat_left", "left"]
            levels = [-half, 0.0, half]
        else:
            chain, levels = ["right", "left"], [0.0]
        for below, above, v in zip(chain, chain[1:], levels, strict=False):
            flat.seams.append(Seam(self.own(below), self.own(above), (0, v), (height, v)))
        flat.sides = {("spine", "left"): Frame(self.own("left"), (0, half), (1, 0), (0, 1)),
                      ("spine", "right"): Frame(self.own("right"), (0, -half), (1, 0), (0, -1))}
        flat.faces = {"left": Frame(self.own("left"), (0, half), (1, 0), (0, 1)),
                      "right": Frame(self.own("right"), (0, -half), (1, 0), (0, -1))}
        flat.steps = [Step("Crease the cover along the spine as it is drawn, both ways, and fold it shut once.", (self.name,))]
        return flat

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """Pages hinge on the outer scores, a constant distance apart (mirror-symmetric opening)."""
        gap = float(self.half_gap())
        half = sizes["strip"] if self.gusset else 0.0
        pose = Pose()
        for side, sign, away in (("left", 1.0, host.left), ("right", -1.0, -host.right)):
            score = host.point(0, sign * gap, 0)
            pose.placements[self.own(side)] = Placement(score - sign * half * away, host.x, away)
        if self.gusset:
            depth = float(np.sqrt(max(half * half - gap * gap, 0.0)))
            centre = host.point(0, 0, -depth)
            for side, sign in (("pleat_left", 1.0), ("pleat_right", -1.0)):
                strip = (sign * gap * host.y + depth * host.z) / half
                pose.placements[self.own(side)] = Placement(centre, host.x, sign * strip)
        pose.folds["spine"] = self.inner_fold(host, gap, sizes["cover.held"]) if self.gusset else host
        return pose

    @staticmethod
    def inner_fold(spine: Fold, gap: float, held: float) -> Fold:
        """The crease of an insert held at `held` mm from each outer score, at the same moment of the swing.

        With half gap e and free strip e + m: height m C - sqrt((e + m)² - (e + m S)²), opening
        2 atan2(e + m S, m C - height).
        """
        across = gap + held * spine.sine
        drop = np.sqrt(np.maximum((gap + held) ** 2 - across**2, 0.0))
        opening = 2 * np.degrees(np.arctan2(across, drop))
        return Fold(spine.point(0, 0, held * spine.cosine - drop), spine.x, spine.z, opening, spine)

