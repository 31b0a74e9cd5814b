"""The box: four panels round a parallelogram, over a crease."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from math import asin, sqrt

from foldwright.solver import expression as ex
from foldwright.solver.building.linkage import SIDES
from foldwright.solver.building.strips import ZERO, Parallelogram
from foldwright.solver.building.tabs import (
    JOINTS,
    TURNS,
    beyond,
    edge_tab,
    foot_area,
    foot_cut,
    glue_words,
    stays_on,
    strip_limits,
    tab_fits,
)
from foldwright.solver.card import Bond, Note, Panel, Placement, Step, Stroke
from foldwright.solver.expression import Const, Expr
from foldwright.solver.flat import Cut, Flat, Frame, Pose, Seam
from foldwright.solver.geometry import Closed, Fold, rectangle
from foldwright.solver.host import Area, Crease, Face, Limits, Side, Site
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import Choice, length

FEET = {"right": "spread", "left": "left_spread"}
WALLS = {"right": "right", "left": "left"}


class Box(Mechanism):
    """A box over a crease, open at both ends: two walls that meet in a ridge, and a floor on both panels.

    `spread` is the distance of the right foot from the crease, `left_spread` that of the left one. Each wall is as
    wide as the other foot is far from the crease, so the section is a parallelogram: the right wall stays parallel to
    the left panel, the left wall to the right panel. In a card that opens 90 it stands as a rectangle, as high over
    each page as the other foot is far away. Closed, the ridge lies at both spreads together from the crease.

    `floor closed` is one strip that goes all round: its floor is glued whole on both panels, its crease in theirs, and
    the free foot of the left wall is glued to it (inward tabs) or to the page (outward). `floor open` has foot tabs
    only. The box carries a V-fold astride its ridge, anything at its feet, and has two creases inside: `under_ridge`
    and `floor`.

    A box needs a crease that opens less than 180, or it lies flat when the card is open: a card that opens 90, or the
    foot of another mechanism.

    Kinematics: parallelogram linkage, each link stays parallel to the opposite one.
    """

    keyword = "box"
    outside = True
    parameters = (
        length("at", "where the box begins along the crease", 0, 900, 20),
        length("width", "width of the box along the crease", 8, 400, 40),
        length("spread", "distance of the right foot from the crease, and width of the left wall", 10, 200, 30),
        length("left_spread", "distance of the left foot from the crease, and width of the right wall", 10, 200, 30,
               lambda p: p["spread"]),
    )
    choices = (Choice("floor", ("closed", "open"), "a floor glued on both pages, or foot tabs only"), TURNS, JOINTS)
    example = """
card "One box"
  units mm
cover 100 x 150
  opens 90
  paper ink
box crate on spine
  paper sand
  width 50
prefer largest crate.spread
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 300 x 300
"""

    def __init__(self, site: Site) -> None:
        super().__init__(site)
        self.strip = Parallelogram(self, WALLS, "at", "width", FEET)
        self.closed = site.choices["floor"] == "closed"
        self.inward = site.choices["tabs"] == "inward"

    def rules(self) -> Iterator[Rule]:
        """Standing, closed fit, floor and tabs."""
        host = self.crease
        start, end = self["at"], self["at"] + self["width"]
        yield from self._opens(host)
        if self.closed and self.site.choices["joint"] == "slotted":
            yield self.rule("joint", Kind.GEOMETRY, 1, "<=", 0, f"a floor cannot pass through slits: {self.name} with "
                            "slotted tabs needs `floor open`")
        for corner, x in (("start", start), ("end", end)):
            yield from self.inside(f"the {corner} of the ridge", corner, host.closed, x, self.strip.reach)
        yield from self.has_room(start, self.strip.reach)
        for side in SIDES:
            page: Side = getattr(host, side)
            if not self.closed or side == "left":
                yield from tab_fits(self, side, page, start, end, self.strip.foot(side))
            if self.closed:
                yield from self._floor_fits(side, page)

    def _opens(self, host: Crease) -> Iterator[Rule]:
        """A box lies flat on a flat card. What a foot crease opens to is only bounded from above: less than 180."""
        margin = self.habit("stand.margin")
        if host.flat:
            yield self.rule("stands", Kind.GEOMETRY, 180, "<=", 180 - margin,
                            f"{self.name} would lie flat: its crease opens to {{left}}, and a box stands only where the crease "
                            "stays at {right} or less. Let the card open 90 (`opens 90`), or stand it on a crease that opens "
                            "less, such as the foot of a tent", angle=True)
        elif not isinstance(host.opening, Const):
            sine = ex.sin(Const(margin / 2))
            yield self.rule("stands", Kind.GEOMETRY, host.opening, "<=", 1 - sine * sine,
                            f"{self.name} would lie flat when the card is open: stand it on a crease that opens less")

    def _floor_fits(self, side: str, page: Side) -> Iterator[Rule]:
        for end, x in (("start", self["at"]), ("end", self["at"] + self["width"])):
            for limit in page.limits(x, self.strip.foot(side)):
                yield stays_on(self, f"{side}-floor.{end}", f"the {side} floor of {self.name}", limit, self.habit("tab.inset"))

    def dead_points(self, sizes: Mapping[str, float]) -> Iterator[tuple[float, str]]:
        """All four panels in one plane."""
        yield 180.0, "would lie flat"

    def notes(self, sizes: Mapping[str, float]) -> Iterator[Note]:
        """A floor bends inside the page's fold: its mid-plane is shorter by caliper times angle.

        The arc length of a sheet in a bend is angle times radius, as in the bend allowance of sheet metal.
        """
        if self.closed:
            turn = 2 * asin(sqrt(sizes["opening"]))
            yield Note(self.name, f"the floor of {self.name} lies inside the fold of the page: glued with the card closed, it is "
                       "tight by up to {figure} at the crease when the card is open", float(self.site.caliper) * turn)

    def glued(self) -> Iterator[Area]:
        """The floor, or the foot tabs."""
        start, end = self.stretch()
        for side in SIDES:
            foot = self.strip.foot(side)
            if self.closed:
                yield Area(side, (start, end), (ZERO, foot))
            if not self.closed or (side == "left" and not self.inward):
                yield foot_area(self, side, start, end, foot)

    def needs(self) -> dict[str, Expr]:
        """sin² of half the largest opening of its crease."""
        return {"opening": self.crease.opening}

    def measures(self) -> dict[str, Expr]:
        """Distance of the closed ridge from the box's own crease."""
        return {"reach": self.strip.reach}

    def stretch(self) -> tuple[Expr, Expr]:
        """The width of the box."""
        return self["at"], self["at"] + self["width"]

    def creases(self) -> dict[str, Crease]:
        """The ridge (outside), the outer side of both feet, and the two creases inside that close."""
        host, outside = self.crease, self.strip.creases()
        ridge = outside["ridge"]
        under = Crease(ridge.closed, ridge.left, ridge.right, host.opening, flat=host.flat, room=self._room())
        left, right = (self._floor_side(side) for side in ("left", "right"))
        floor = Crease(host.closed.then(Closed(self["at"], ZERO, ZERO)), left, right, host.opening,
                       slots=host.slots and not self.closed, flat=host.flat)
        return {**outside, "under_ridge": under, "floor": floor}

    def _room(self) -> Limits | None:
        """Straight below the ridge, along the bisector of the pages: the nearer foot's distance twice, times the cosine.

        The cosine is that of half the largest opening; None where that is only known to stay below 180.
        """
        if self.crease.opening == Const(Fraction(1)):
            return None
        cosine = ex.sqrt(1 - self.crease.opening)

        def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            yield d, 2 * cosine * ex.smallest(self.strip.foot("right"), self.strip.foot("left")), "through the floor"

        return limits

    def _floor_side(self, side: str) -> Side:
        """One half of the floor, or the page there up to the foot (less an inward tab)."""
        page: Side = getattr(self.crease, side)
        inset, depth = self.habit("tab.inset"), self.habit("tab.depth")
        taken = depth if self.inward and (side == "left" or not self.closed) else Fraction(0)
        floor = strip_limits(self["width"], self.strip.foot(side) - taken, inset)
        if self.closed:
            return Side(self.own(f"{side}_floor"), floor)
        sheet = beyond(page, self["at"], ZERO)

        def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            yield from floor(x, d)
            yield from sheet(x, d)

        return Side(page.panel, limits)

    def faces(self) -> dict[str, Face]:
        """Both walls, v from the foot up to the ridge."""
        return self.strip.faces()

    def _length(self) -> Expr:
        """From end to end of the flat strip."""
        depth = self.habit("tab.depth")
        return 2 * self.strip.reach + depth if self.closed else self.strip.reach + 2 * depth

    def bends(self) -> Expr:
        """All creases of the strip, as if each turned as fast as the spine."""
        return 5 * self["width"]

    def area(self) -> Expr:
        """The strip."""
        return self["width"] * self._length()

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """One strip."""
        yield "strip", self["width"], self._length()

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """u along the crease, v from the right foot over the ridge to the left foot; a floor lies below, right half first."""
        width, a, b = sizes["width"], sizes["spread"], sizes["left_spread"]
        right, left = self.own("right"), self.own("left")
        flat = Flat(papers={self.name: self.site.paper})
        flat.panels = [Panel(right, self.name, rectangle(0, 0, width, b)), Panel(left, self.name, rectangle(0, b, width, a + b))]
        flat.seams = [Seam(right, left, (0, b), (width, b))]
        if self.closed:
            self._floor(flat, sizes)
        else:
            self._tab(flat, sizes, "right", 0.0, -1.0)
        self._tab(flat, sizes, "left", a + b, 1.0)
        flat.sides, flat.faces = self.strip.frames(sizes, (0.0, 0.0))
        self._inner_sides(flat, sizes)
        flat.steps = [Step(self._words(), (self.name,))]
        return flat

    def _words(self) -> str:
        if not self.closed:
            return f"Fold {self.name} along its ridge and feet; {glue_words(self)}."
        where = "on the edge of its floor, inside" if self.inward else "on its mark on the page"
        glue = f"glue the tab of its left wall {where}"
        floor = "glue one half of its floor on the page, crease in crease, close the card, and let the other half find its place"
        steps = f"{glue}; {floor}" if self.inward else f"{floor}; {glue}"
        return f"Fold {self.name} along its ridge, feet and floor; {steps}."

    def _floor(self, flat: Flat, sizes: Mapping[str, float]) -> None:
        width, at = sizes["width"], sizes["at"]
        a, b = sizes["spread"], sizes["left_spread"]
        right, left = self.own("right_floor"), self.own("left_floor")
        flat.panels += [Panel(right, self.name, rectangle(0, -a, width, 0)),
                        Panel(left, self.name, rectangle(0, -a - b, width, -a))]
        flat.seams += [Seam(self.own("right"), right, (0, 0), (width, 0)), Seam(right, left, (0, -a), (width, -a))]
        for side in SIDES:
            flat.bonds.append(Bond(self.own(f"{side}_floor"), getattr(self.crease, side).panel))
        # the left foot is marked with its tab
        flat.cuts.append(Cut("right", ((at, a), (at + width, a)), Stroke.MARK))

    def _tab(self, flat: Flat, sizes: Mapping[str, float], side: str, level: float, sign: float) -> None:
        """A foot tab; with a floor, an inward one is glued on the floor, at its edge."""
        name, foot = self.own(f"{side}_tab"), sizes[FEET[side]]
        tab, start, end = edge_tab(self, (0, level), (sizes["width"], level), (0, sign))
        flat.panels.append(Panel(name, self.name, tab, tab=True))
        flat.seams.append(Seam(self.own(side), name, start, end))
        on_floor = self.closed and self.inward
        flat.bonds.append(Bond(name, self.own(f"{side}_floor") if on_floor else getattr(self.crease, side).panel))
        line = ((sizes["at"] + start[0], foot), (sizes["at"] + end[0], foot))
        flat.cuts.append(foot_cut(self, side, line, name))

    def _inner_sides(self, flat: Flat, sizes: Mapping[str, float]) -> None:
        flat.sides |= {("under_ridge", side): flat.sides["ridge", side] for side in SIDES}
        for side, sign in (("right", 1.0), ("left", -1.0)):
            flat.sides["floor", side] = (Frame(self.own(f"{side}_floor"), (0, -sizes["spread"]), (1, 0), (0, sign)) if self.closed
                                         else Frame(f"host.{side}", (sizes["at"], 0), (1, 0), (0, 1)))

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """The parallelogram on its floor."""
        a, b = sizes["spread"], sizes["left_spread"]
        pose = self.strip.pose(sizes, host, (0.0, 0.0))
        start, turn = host.origin + sizes["at"] * host.x, -1.0 if self.inward else 1.0
        pose.placements[self.own("left_tab")] = Placement(start + (b - turn * (a + b)) * host.left, host.x, turn * host.left)
        if self.closed:
            pose.placements[self.own("right_floor")] = Placement(start + a * host.right, host.x, host.right)
            pose.placements[self.own("left_floor")] = Placement(start - a * host.left, host.x, -host.left)
        else:
            pose.placements[self.own("right_tab")] = Placement(start + a * host.right, host.x, -turn * host.right)
        ridge = pose.folds["ridge"]
        pose.folds["under_ridge"] = ridge
        pose.folds["floor"] = Fold(start, host.x, host.z, host.opening)
        return pose
