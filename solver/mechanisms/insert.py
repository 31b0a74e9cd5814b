"""The insert: a sheet with one crease inside the cover."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction

from foldwright.solver.building.holes import Box, rectangle_within
from foldwright.solver.card import Bond, Panel, Placement, Step
from foldwright.solver.expression import Const, Expr
from foldwright.solver.flat import Flat, Frame, Pose, Seam
from foldwright.solver.geometry import SPINE, Fold, rectangle
from foldwright.solver.host import Area, Crease, Face, Limits, Side
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Rule

# Quarter turn of an insert's caliper round the cover's: pi/4 rounded up, so that the insert never comes out short.
CREEP = Fraction(7854, 10000)


class Insert(Mechanism):
    """A sheet with one crease that lines the cover: it hides glued tabs and carries mechanisms on its crease.

    In a plain cover it is glued all over, its crease in the spine, and is a little narrower than the page, because
    the inner sheet comes out at the fore-edge when both fold. In a gusseted cover it is glued only along a strip at
    each fore-edge; the rest hangs free, so that its single crease can sink into the pleat as the card closes. Tabs
    can pass through slits in the insert and be glued behind it. Its halves, `right` and `left`, carry cut-outs and windows.
    """

    keyword = "insert"
    stands_on = ("crease", "gusset")
    example = """
card "Lined cover"
  units mm
cover 100 x 150
  spine gusset
  paper ink
insert page on spine
  paper glass
paper ink   colour #22304a weight 216 gsm
paper glass colour #9fc6c9 caliper 0.25
mat 300 x 300
"""

    @property
    def gusset(self) -> bool:
        """True if the cover has a pleat."""
        gap = self.site.cover["gap"]
        return not (isinstance(gap, Const) and gap.value == 0)

    def free(self) -> Expr:
        """From the crease to where the sheet is glued down for good (gusset), or to its edge."""
        cover = self.site.cover
        if self.gusset:
            return cover["gap"] + cover["held"]
        return cover["width"] - cover["edge"] - CREEP * 2 * self.site.caliper

    def half(self) -> Expr:
        """From the crease to the sheet's edge."""
        return self.free() + self.habit("insert.glue") if self.gusset else self.free()

    def rules(self) -> Iterator[Rule]:
        """An insert has no rules of its own: its size follows the cover's."""
        return iter(())

    def _limits(self) -> Limits:
        cover = self.site.cover
        inset = self.habit("tab.inset")

        def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            yield d, self.free() - inset, "the insert's free edge"
            yield x, cover["height"] - cover["edge"] - inset, "the insert's head"
            yield cover["edge"] + inset, x, "the insert's tail"

        return limits

    def creases(self) -> dict[str, Crease]:
        """The sheet's own crease."""
        host = self.crease
        left, right = (Side(self.own(side), self._limits()) for side in ("left", "right"))
        return {"crease": Crease(SPINE, left, right, host.opening, slots=True, one_sheet=True, flat=host.flat)}

    def faces(self) -> dict[str, Face]:
        """Both halves, u along the spine (counted from the cover's tail) and v away from the crease."""
        cover, free = self.site.cover, self.free()
        box = Box((cover["edge"], cover["height"] - cover["edge"]), (Const(Fraction(0)), free))
        edge = "the strip glued to the cover" if self.gusset else "the insert's free edge"
        within = rectangle_within(box, ("the insert's tail", "the insert's head", "the insert's crease", edge))
        return {side: Face(self.own(side), SPINE, (cover["height"] / 2, free / 2), within=within) for side in ("right", "left")}

    def glued(self) -> Iterator[Area]:
        """In a gusseted cover, the strip at each fore-edge; a whole lining closes a window of the cover instead."""
        cover = self.site.cover
        if self.gusset:
            for side in ("left", "right"):
                yield Area(side, (cover["edge"], cover["height"] - cover["edge"]),
                           (cover["held"], cover["held"] + self.habit("insert.glue")))

    def lines(self) -> dict[str, str]:
        """Each half lies on its page."""
        return {self.own("left"): self.crease.left.panel, self.own("right"): self.crease.right.panel}

    def shown(self, parts: Iterable[str]) -> dict[str, str]:
        """It is looked at from above, and what it lines from the other side."""
        return {self.crease.left.panel.split(".")[0]: "back", self.name: "front"}

    def bends(self) -> Expr:
        """Its crease, which opens with the spine or, in a gusset, a little more slowly."""
        cover = self.site.cover
        return cover["height"] - 2 * cover["edge"]

    def area(self) -> Expr:
        """One sheet."""
        cover = self.site.cover
        return 2 * self.half() * (cover["height"] - 2 * cover["edge"])

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """One sheet."""
        cover = self.site.cover
        yield "insert", 2 * self.half(), cover["height"] - 2 * cover["edge"]

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """One sheet on either side."""
        return 2 * caliper

    def _sizes(self, sizes: Mapping[str, float]) -> tuple[float, float, float, float]:
        """Tail, head, free width and half width in mm."""
        edge = sizes["cover.edge"]
        if self.gusset:
            free = sizes["cover.gap"] + sizes["cover.held"]
            half = free + float(self.habit("insert.glue"))
        else:
            free = half = sizes["cover.width"] - edge - float(CREEP * 2 * self.site.caliper)
        return edge, sizes["cover.height"] - edge, free, half

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """u along the spine, v across it, the right half below."""
        tail, head, free, half = self._sizes(sizes)
        flat = Flat(papers={self.name: self.site.paper})
        flat.panels = [Panel(self.own("left"), self.name, rectangle(tail, 0, head, free)),
                       Panel(self.own("right"), self.name, rectangle(tail, -free, head, 0))]
        flat.seams = [Seam(self.own("right"), self.own("left"), (tail, 0), (head, 0))]
        if self.gusset:
            for side, sign in (("left", 1), ("right", -1)):
                v0, v1 = sorted((sign * free, sign * half))
                strip = self.own(f"{side}_glue")
                flat.panels.append(Panel(strip, self.name, rectangle(tail, v0, head, v1), tab=True))
                flat.seams.append(Seam(self.own(side), strip, (tail, sign * free), (head, sign * free)))
                flat.bonds.append(Bond(strip, f"cover.{side}", spans=True))
            text = ("Glue the insert into the cover last, along the strip at each fore-edge: glue one strip, close the "
                    "card, then let the other strip find its place.")
        else:
            flat.bonds = [Bond(self.own(side), f"cover.{side}", spans=True) for side in ("left", "right")]
            text = ("Glue the insert into the cover last, crease in the spine: glue one half, close the card, then "
                    "let the other half find its place.")
        flat.sides = {("crease", "left"): Frame(self.own("left"), (0, 0), (1, 0), (0, 1)),
                      ("crease", "right"): Frame(self.own("right"), (0, 0), (1, 0), (0, -1))}
        flat.faces = {side: frame for (_, side), frame in flat.sides.items()}
        flat.steps = [Step("Crease the insert and cut its slits.", (self.name,)), Step(text, (self.name, "cover"))]
        return flat

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """Both halves stand in the host fold; glued strips lie on the pages."""
        _, _, free, _ = self._sizes(sizes)
        pose = Pose(folds={"crease": host})
        pose.placements = {self.own("left"): Placement(host.origin, host.x, host.left),
                           self.own("right"): Placement(host.origin, host.x, -host.right)}
        if self.gusset:
            pages = host.pages or host
            for side, sign, own, page in (("left", 1.0, host.left, pages.left), ("right", -1.0, host.right, pages.right)):
                hinge = host.origin + free * own
                pose.placements[self.own(f"{side}_glue")] = Placement(hinge - free * page, host.x, sign * page)
        return pose


