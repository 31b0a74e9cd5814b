"""The tent: a parallel fold across a crease."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from foldwright.solver import expression as ex
from foldwright.solver.building.holes import Box, rectangle_within
from foldwright.solver.building.linkage import gable as four_bar
from foldwright.solver.building.tabs import (
    JOINTS,
    TURNS,
    beyond,
    edge_tab,
    foot_area,
    foot_cut,
    glue_words,
    strip_limits,
    tab_fits,
    taut_at,
)
from foldwright.solver.card import Bond, Panel, Placement, Step
from foldwright.solver.expression import Const, Expr
from foldwright.solver.flat import Flat, Frame, Pose, Seam
from foldwright.solver.geometry import Closed, Fold, rectangle
from foldwright.solver.host import Area, Crease, Face, Limits, Side, Site
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import length

ZERO = Const(Fraction(0))


class Tent(Mechanism):
    """A strip with one ridge, glued to both panels of a crease: it stands up as a gable when the card opens.

    `spread` is the distance of a foot from the crease, `wall` the width of the wall from that foot to the ridge;
    `left_spread` and `left_wall` make it lopsided. Closed, the ridge lies at spread plus wall from the crease, on
    both sides alike, or the tent jams. The ridge carries a V-fold astride; each foot carries whatever fits between
    the wall and the page beyond it; `under_ridge` is the inside of the ridge, where something can hang between the
    walls.

    Kinematics: planar four-bar (crease, two feet, ridge) in half-angle form.
    """

    keyword = "tent"
    outside = True
    parameters = (
        length("at", "where the strip begins along the crease", 0, 900, 20),
        length("width", "width of the strip along the crease", 8, 400, 40),
        length("spread", "distance of the (right) foot from the crease", 8, 200, 25),
        length("wall", "width of the (right) wall, from foot to ridge", 12, 300, 40),
        length("left_spread", "distance of the left foot from the crease", 8, 200, 25, lambda p: p["spread"]),
        length("left_wall", "width of the left wall", 12, 300, 40,
               lambda p: p["spread"] + p["wall"] - p["left_spread"]),
    )
    choices = (TURNS, JOINTS)
    example = """
card "One tent"
  units mm
cover 100 x 150
  paper ink
tent pier on spine
  paper sand
  width 50
prefer largest pier.height
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 300 x 300
"""

    def __init__(self, site: Site) -> None:
        super().__init__(site)
        self.reach = self["spread"] + self["wall"]

    def rules(self) -> Iterator[Rule]:
        """Closing, standing, closed fit and tabs."""
        host = self.crease
        a, c, b, d = self["spread"], self["wall"], self["left_spread"], self["left_wall"]
        yield self.rule("closes", Kind.GEOMETRY, a + c, "=", b + d,
                        f"both walls of {self.name} must meet in one line when closed: the right side comes to {{left}}, "
                        "the left side to {right}")
        yield self.rule("left-wall", Kind.GEOMETRY, 5, "<=", d, f"the left wall of {self.name} needs a size")
        if host.opening == Const(Fraction(1)):
            yield self.rule("stands", Kind.GEOMETRY, a + b + 2, "<=", self.reach,
                            f"{self.name} must not be pulled taut before the card is open: its closed ridge has to lie "
                            "farther out than both feet together ({left}); it lies at {right}")
        else:
            yield self.rule("stands", Kind.GEOMETRY, host.opening * a * b * Fraction(102, 100), "<=", c * d,
                            f"{self.name} must not be pulled taut before the card is open")
        start, end = self["at"], self["at"] + self["width"]
        for corner, x in (("start", start), ("end", end)):
            yield from self.inside(f"the {corner} of the ridge", corner, host.closed, x, self.reach)
        yield from self.has_room(start, self.reach)
        yield from tab_fits(self, "right", host.right, start, end, a)
        yield from tab_fits(self, "left", host.left, start, end, b)

    def dead_points(self, sizes: Mapping[str, float]) -> Iterator[tuple[float, str]]:
        """Both walls in one line: sin²(opening / 2) = c d / (a b)."""
        yield from taut_at(sizes["wall"] * sizes["left_wall"], sizes["spread"] * sizes["left_spread"])

    def measures(self) -> dict[str, Expr]:
        """Height of the ridge over the open pages (where they open flat); its distance from its own crease when closed."""
        a, b, h = self["spread"], self["left_spread"], self.reach
        if not self.crease.flat:
            return {"reach": h}
        if a == b:  # the same, but each unknown stands in it once, so that its bounds are sharp
            return {"height": ex.sqrt(self["wall"] * self["wall"] - a * a), "reach": h}
        return {"height": ex.divide(2 * ex.sqrt(a * b * h * (h - a - b)), a + b), "reach": h}

    def stretch(self) -> tuple[Expr, Expr]:
        """The strip's own width."""
        return self["at"], self["at"] + self["width"]

    def glued(self) -> Iterator[Area]:
        """Both foot tabs."""
        for side, foot in (("right", self["spread"]), ("left", self["left_spread"])):
            yield foot_area(self, side, *self.stretch(), foot)

    def creases(self) -> dict[str, Crease]:
        """The ridge (outside) and the outer side of both feet."""
        host = self.crease
        inset = self.habit("tab.inset")
        a, c, b, d = self["spread"], self["wall"], self["left_spread"], self["left_wall"]
        right, left = (strip_limits(self["width"], wall, inset) for wall in (c, d))
        ridge = host.closed.then(Closed(self["at"], self.reach, ZERO, mirrored=True))
        psi = ex.divide(host.opening * a * b, c * d)
        walls = Side(self.own("right"), right), Side(self.own("left"), left)
        creases = {"ridge": Crease(ridge, *walls, psi, astride=True)}
        for side, foot, limits, page in (("right", a, right, host.right), ("left", b, left, host.left)):
            wall, outer = Side(self.own(side), limits), Side(page.panel, beyond(page, self["at"], foot))
            pair = (wall, outer) if side == "right" else (outer, wall)
            place = host.closed.then(Closed(self["at"], foot, ZERO))
            creases[f"{side}_foot"] = Crease(place, pair[0], pair[1], Const(Fraction(1)))
        creases["under_ridge"] = Crease(ridge, *walls, psi, room=self._room() if host.flat else None)
        return creases

    def _room(self) -> Limits:
        """The ridge sinks as the card opens: least is left below it on the open card."""
        def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            yield d, self.measures()["height"], "through the pages of the open card"

        return limits

    def faces(self) -> dict[str, Face]:
        """Both walls, v from the foot up to the ridge."""
        host = self.crease
        half = self["width"] / 2
        right = host.closed.then(Closed(self["at"], self["spread"], ZERO))
        # seen from its own side, the left wall runs the other way along the crease
        left = host.closed.then(Closed(self["at"] + self["width"], self["left_spread"], Const(Fraction(180)), True))
        return {side: Face(self.own(side), place, (half, wall / 2), (half, wall),
                           within=rectangle_within(Box((ZERO, self["width"]), (ZERO, wall))))
                for side, place, wall in (("right", right, self["wall"]), ("left", left, self["left_wall"]))}

    def bends(self) -> Expr:
        """Both feet: together they turn as fast as a host that opens flat; elsewhere all four creases, roughly."""
        return self["width"] if self.crease.flat else 4 * self["width"]

    def area(self) -> Expr:
        """The strip and both tabs."""
        return self["width"] * (self["wall"] + self["left_wall"] + 2 * self.habit("tab.depth"))

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """One strip."""
        yield "strip", self["width"], self["wall"] + self["left_wall"] + 2 * self.habit("tab.depth")

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """u along the crease, v from the right foot over the ridge to the left foot."""
        width, c, d = sizes["width"], sizes["wall"], sizes["left_wall"]
        host = self.crease
        flat = Flat(papers={self.name: self.site.paper})
        flat.panels = [Panel(self.own("right"), self.name, rectangle(0, 0, width, c)),
                       Panel(self.own("left"), self.name, rectangle(0, c, width, c + d))]
        flat.seams = [Seam(self.own("right"), self.own("left"), (0, c), (width, c))]
        for side, level, sign, foot in (("right", 0.0, -1.0, sizes["spread"]), ("left", c + d, 1.0, sizes["left_spread"])):
            tab, start, end = edge_tab(self, (0, level), (width, level), (0, sign))
            flat.panels.append(Panel(self.own(f"{side}_tab"), self.name, tab, tab=True))
            flat.seams.append(Seam(self.own(side), self.own(f"{side}_tab"), start, end))
            flat.bonds.append(Bond(self.own(f"{side}_tab"), getattr(host, side).panel))
            line = ((sizes["at"] + start[0], foot), (sizes["at"] + end[0], foot))
            flat.cuts.append(foot_cut(self, side, line, self.own(f"{side}_tab")))
        self._sides(flat, sizes)
        flat.steps = [Step(f"Fold {self.name} along its ridge and feet; {glue_words(self)}.", (self.name,))]
        return flat

    def _sides(self, flat: Flat, sizes: Mapping[str, float]) -> None:
        c, d = sizes["wall"], sizes["left_wall"]
        width, at = sizes["width"], sizes["at"]
        flat.sides = {
            ("ridge", "left"): Frame(self.own("right"), (0, c), (1, 0), (0, -1)),
            ("ridge", "right"): Frame(self.own("left"), (0, c), (1, 0), (0, 1)),
            ("under_ridge", "left"): Frame(self.own("right"), (0, c), (1, 0), (0, -1)),
            ("under_ridge", "right"): Frame(self.own("left"), (0, c), (1, 0), (0, 1)),
            ("right_foot", "left"): Frame(self.own("right"), (0, 0), (1, 0), (0, 1)),
            ("right_foot", "right"): Frame("host.right", (at, sizes["spread"]), (1, 0), (0, 1)),
            ("left_foot", "left"): Frame("host.left", (at, sizes["left_spread"]), (1, 0), (0, 1)),
            ("left_foot", "right"): Frame(self.own("left"), (0, c + d), (1, 0), (0, -1)),
        }
        flat.faces = {"right": Frame(self.own("right"), (0, 0), (1, 0), (0, 1)),
                      "left": Frame(self.own("left"), (width, c + d), (-1, 0), (0, -1))}

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """The planar linkage, its strip, and tabs on the pages."""
        c, d = sizes["wall"], sizes["left_wall"]
        gable = four_bar(host, sizes["at"], {"right": sizes["spread"], "left": sizes["left_spread"]}, {"right": c, "left": d})
        foot_a, foot_b, ridge = gable.feet["right"], gable.feet["left"], gable.ridge
        down_b = (foot_b - ridge) / d
        pose = Pose(folds={**gable.folds, "under_ridge": gable.folds["ridge"]})
        pose.placements[self.own("right")] = Placement(foot_a, host.x, (ridge - foot_a) / c)
        pose.placements[self.own("left")] = Placement(ridge - c * down_b, host.x, down_b)
        turn = -1.0 if self.site.choices["tabs"] == "inward" else 1.0
        # the tab's v axis: below the right foot v falls into the tab, beyond the left foot it rises into it
        pose.placements[self.own("right_tab")] = Placement(foot_a, host.x, -turn * host.right)
        pose.placements[self.own("left_tab")] = Placement(foot_b - (c + d) * turn * host.left, host.x, turn * host.left)
        return pose
