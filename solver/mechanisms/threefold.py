"""Three panels over a crease, held by a tie strip."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from math import acos, cos, degrees, sqrt

from foldwright.solver import expression as ex
from foldwright.solver.building.holes import Box, rectangle_within
from foldwright.solver.building.linkage import gable, largest_turn
from foldwright.solver.building.tabs import JOINTS, TURNS, beyond, edge_tab, foot_area, foot_cut, strip_limits, tab_fits, taut_at
from foldwright.solver.card import Bond, Panel, Placement, Point, Step, Vector
from foldwright.solver.expression import Const, Expr
from foldwright.solver.flat import Flat, Frame, Pose, Seam
from foldwright.solver.geometry import Closed, Fold, rectangle
from foldwright.solver.host import Area, Crease, Face, Side, Site
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import length

ZERO = Const(Fraction(0))
FLAT = Const(Fraction(1))
SPARE = 2  # mm by which a closed ridge lies beyond both feet together, at the least
STRAIGHT = Fraction(102, 100)  # the same on a crease that does not open flat: walls' product over that of the feet


class Threefold(Mechanism):
    """A strip with two ridges, glued to both panels of a crease, and a tie that holds its first ridge: a wall, a roof
    and a second wall stand up as the card opens.

    `spread` is the distance of the right foot from the crease, `wall` the width of the right wall, `roof` that of the
    middle panel, `left_wall` and `left_spread` the same on the left. Without the tie the strip could move while
    the card is held still. The tie is a strip of its own from the ridge between wall and roof to the left page:
    `tie_spread` is the distance of its foot from the crease, `tie` its width.

    It closes like two gables, one on the other: wall and tie over the crease, roof and left wall over the foot of
    the tie. So spread plus wall are tie spread plus tie, and tie plus roof are the distance of both left feet plus
    the left wall. Closed, wall and roof lie in one plane: only the upper ridge, between roof and left wall, carries
    a V-fold astride. The outer sides of both feet and the far side of the tie's foot carry what fits there.

    Of a card that opens flat, `eaves` is the height of the ridge between wall and roof; `reach` is the distance of the
    closed upper ridge from the crease.

    Kinematics: two planar four-bars in a chain, each with equal sums of neighbouring sides (Grashof's change point).
    """

    keyword = "threefold"
    parameters = (
        length("at", "where the strip begins along the crease", 0, 900, 20),
        length("width", "width of the strip along the crease", 21, 400, 40),
        length("spread", "distance of the right foot from the crease", 9, 200, 20),
        length("wall", "width of the right wall, from foot to ridge", 12, 300, 30),
        length("roof", "width of the middle panel", 12, 300, 30),
        length("left_spread", "distance of the left foot from the crease", 20, 250, 35),
        length("tie_spread", "distance of the tie's foot from the crease", 9, 200, 15),
        length("tie", "width of the tie, from its foot to the ridge", 12, 300, 30,
               lambda p: p["spread"] + p["wall"] - p["tie_spread"]),
        length("left_wall", "width of the left wall", 12, 300, 30,
               lambda p: p["spread"] + p["wall"] + p["roof"] - p["left_spread"]),
    )
    choices = (TURNS, JOINTS)
    example = """
card "One hut"
  units mm
cover 120 x 150
  paper ink
threefold hut on spine
  paper sand
  width 50
  wall 30
  roof 30 to 40
prefer largest hut.roof
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 300 x 300
"""

    def __init__(self, site: Site) -> None:
        super().__init__(site)
        self.ridge = self["spread"] + self["wall"]  # closed distances from the crease
        self.reach = self.ridge + self["roof"]

    @property
    def gap(self) -> Expr:
        """From the foot of the tie to the left foot."""
        return self["left_spread"] - self["tie_spread"]

    # ---- rules

    def rules(self) -> Iterator[Rule]:
        """Closing, standing, closed fit and tabs."""
        host = self.crease
        tie = self["tie_spread"] + self["tie"]
        yield self.rule("tie-closes", Kind.GEOMETRY, self.ridge, "=", tie,
                        f"the right wall and the tie of {self.name} must meet in one line when closed: the wall ends {{left}} "
                        "from the crease, the tie {right}")
        yield self.rule("closes", Kind.GEOMETRY, tie + self["roof"], "=", self["left_spread"] + self["left_wall"],
                        f"roof and left wall of {self.name} must meet in one line when closed: over the tie the roof ends "
                        "{left} from the crease, the left wall {right}")
        for piece, words in (("tie", "tie"), ("left_wall", "left wall")):
            yield self.rule(piece, Kind.GEOMETRY, 5, "<=", self[piece], f"the {words} of {self.name} needs a size")
        yield from self._standing(host)
        start, end = self["at"], self["at"] + self["width"]
        for corner, x in (("start", start), ("end", end)):
            yield from self.inside(f"the {corner} of the upper ridge", corner, host.closed, x, self.reach)
        yield from self.has_room(start, self.reach)
        yield from tab_fits(self, "right", host.right, start, end, self["spread"])
        yield from tab_fits(self, "left", host.left, start, end, self["left_spread"])
        depth, inset = self.habit("tab.depth"), self.habit("tab.inset")
        yield self.rule("tie-tab.apart", Kind.PRACTICE, depth + inset, "<=", self.gap,
                        f"the left foot of {self.name} and the foot of its tie are {{right}} apart; a tab with its inset "
                        "takes {left}", still=(depth, self.gap))
        if self.site.choices["tabs"] == "inward":
            yield self.rule("tie-tab.inner", Kind.PRACTICE, depth + inset, "<=", self["tie_spread"],
                            f"the foot tab of the tie of {self.name} with its inset needs {{left}} between foot and crease; "
                            "there is {right}", still=(depth, self["tie_spread"]))
        yield self.rule("tie-tab.roof", Kind.PRACTICE, depth + inset, "<=", self["roof"],
                        f"the upper tab of the tie of {self.name} with its inset needs {{left}} of roof; there is {{right}}",
                        still=(depth, self["roof"]))

    def _standing(self, host: Crease) -> Iterator[Rule]:
        """Neither linkage may be pulled taut: wall and tie over the host, roof and left wall over the tie's foot."""
        taut = f"{self.name} must not be pulled taut before the card is open"
        a, t = self["spread"], self["tie_spread"]
        if host.opening == FLAT:
            yield self.rule("stands", Kind.GEOMETRY, a + t + SPARE, "<=", self.ridge,
                            f"{taut}: its closed first ridge has to lie farther out than the feet of wall and tie together "
                            "({left}); it lies at {right}")
        else:
            yield self.rule("stands", Kind.GEOMETRY, host.opening * a * t * STRAIGHT, "<=", self["wall"] * self["tie"], taut)
        yield self.rule("roof-stands", Kind.GEOMETRY, self._tie_opening(host) * self["tie"] * self.gap * STRAIGHT, "<=",
                        self["roof"] * self["left_wall"],
                        f"{taut}: roof and left wall are too short to span from the first ridge to the left foot; make the "
                        "roof wider, or bring the left foot nearer to that of the tie")

    def _tie_opening(self, host: Crease) -> Expr:
        """sin² of half the largest opening between the tie and the page beyond its foot."""
        feet, walls = (self["tie_spread"], self["spread"]), (self["tie"], self["wall"])
        return largest_turn(host.opening, feet, walls, self.ridge)

    def dead_points(self, sizes: Mapping[str, float]) -> Iterator[tuple[float, str]]:
        """Wall and tie in one line, or roof and left wall: the tie is then turned by that much from its page."""
        a, c, t, k = (sizes[name] for name in ("spread", "wall", "tie_spread", "tie"))
        yield from taut_at(c * k, a * t)
        for turn, words in taut_at(sizes["roof"] * sizes["left_wall"], k * (sizes["left_spread"] - t)):
            # cosine laws in the triangles on both sides of the line from the crease to the first ridge
            across = sqrt(t * t + k * k + 2 * t * k * cos(turn / degrees(1)))
            shares = ((across**2 + foot**2 - wall**2) / (2 * across * foot) for foot, wall in ((a, c), (t, k)))
            opening = sum(degrees(acos(min(1.0, max(-1.0, share)))) for share in shares)
            if opening <= 180:
                yield opening, words

    def measures(self) -> dict[str, Expr]:
        """Reach; of a card that opens flat the height of the first ridge."""
        if not self.crease.flat:
            return {"reach": self.reach}
        a, t, h = self["spread"], self["tie_spread"], self.ridge
        return {"eaves": ex.divide(2 * ex.sqrt(a * t * h * (h - a - t)), a + t), "reach": self.reach}

    def stretch(self) -> tuple[Expr, Expr]:
        """The strip's own width."""
        return self["at"], self["at"] + self["width"]

    def shown(self, parts: Iterable[str]) -> dict[str, str]:
        """The strip is printed outside; the tie is seen as the reader sees it."""
        return {self.name: "front"}

    def glued(self) -> Iterator[Area]:
        """All three foot tabs, and the tie's upper tab inside on the roof."""
        for side, foot in (("right", "spread"), ("left", "left_spread"), ("left", "tie_spread")):
            yield foot_area(self, side, *self.stretch(), self[foot])
        yield Area(self.own("roof"), (ZERO, self["width"]), (ZERO, Const(self.habit("tab.depth"))))

    # ---- what it offers

    def creases(self) -> dict[str, Crease]:
        """The upper ridge (outside), the outer side of both feet, and that of the tie's foot."""
        host = self.crease
        inset = self.habit("tab.inset")
        sides = {name: Side(self.own(name), strip_limits(self["width"], self[size], inset))
                 for name, size in (("right", "wall"), ("roof", "roof"), ("left", "left_wall"), ("tie", "tie"))}
        feet = self._tie_opening(host) * self["tie"] * self.gap
        psi = ex.divide(feet, self["roof"] * self["left_wall"])
        ridge = host.closed.then(Closed(self["at"], self.reach, ZERO, mirrored=True))
        creases = {"ridge": Crease(ridge, sides["roof"], sides["left"], psi, astride=True)}
        for name, side, wall, foot, opening in (("right_foot", "right", "right", "spread", FLAT),
                                                ("left_foot", "left", "left", "left_spread", FLAT),
                                                ("tie_foot", "left", "tie", "tie_spread", self._tie_opening(host))):
            page: Side = getattr(host, side)
            out = Side(page.panel, beyond(page, self["at"], self[foot]))
            pair = (sides[wall], out) if side == "right" else (out, sides[wall])
            place = host.closed.then(Closed(self["at"], self[foot], ZERO))
            creases[name] = Crease(place, *pair, opening)
        return creases

    def faces(self) -> dict[str, Face]:
        """The three panels, seen from outside: v from the foot up the walls, and from the first ridge up the roof."""
        host, half = self.crease, self["width"] / 2
        # seen from its own side, the left wall runs the other way along the crease
        left = Closed(self["at"] + self["width"], self["left_spread"], Const(Fraction(180)), True)
        places = {"right": (Closed(self["at"], self["spread"], ZERO), "wall"),
                  "roof": (Closed(self["at"], self.ridge, ZERO), "roof"), "left": (left, "left_wall")}
        return {name: Face(self.own(name), host.closed.then(place), (half, self[size] / 2), (half, self[size]),
                           within=rectangle_within(Box((ZERO, self["width"]), (ZERO, self[size]))))
                for name, (place, size) in places.items()}

    def bends(self) -> Expr:
        """Feet of wall and tie: together they turn as fast as a host that opens flat; the other four creases no faster each
        (2 to 5 times the width in all was seen in the tests)."""
        return (5 if self.crease.flat else 6) * self["width"]

    def area(self) -> Expr:
        """Strip and tie with two tabs each."""
        panels = self["wall"] + self["roof"] + self["left_wall"] + self["tie"]
        return self["width"] * (panels + 4 * self.habit("tab.depth"))

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """Strip and tie."""
        tabs = 2 * self.habit("tab.depth")
        yield "strip", self["width"], self["wall"] + self["roof"] + self["left_wall"] + tabs
        yield "tie", self["width"], self["tie"] + tabs

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """Three panels, or two and a tab; outward tabs of both walls may lie on each other as well."""
        return (5 if choices["tabs"] == "outward" else 3) * caliper

    # ---- flat

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """u along the crease; v over the right wall, the roof and the left wall, or up the tie."""
        width, tie = sizes["width"], self.own("tie")
        levels = [0.0, sizes["wall"], sizes["wall"] + sizes["roof"], sizes["wall"] + sizes["roof"] + sizes["left_wall"]]
        names = [self.own(piece) for piece in ("right", "roof", "left")]
        flat = Flat(papers={self.name: self.site.paper, tie: self.site.paper})
        for name, low, high in zip(names, levels, levels[1:], strict=False):
            flat.panels.append(Panel(name, self.name, rectangle(0, low, width, high)))
        for below, above, v in zip(names, names[1:], levels[1:], strict=False):
            flat.seams.append(Seam(below, above, (0, v), (width, v)))
        flat.panels.append(Panel(tie, tie, rectangle(0, 0, width, sizes["tie"])))
        self._add_tab(flat, sizes, "right", names[0], 0.0, -1, ("right", "spread"))
        self._add_tab(flat, sizes, "left", names[2], levels[3], 1, ("left", "left_spread"))
        self._add_tab(flat, sizes, "tie", tie, 0.0, -1, ("left", "tie_spread"))
        self._add_tab(flat, sizes, "upper", tie, sizes["tie"], 1, None)
        self._axes(flat, sizes, levels)
        through = "pass its foot tab through its slit and glue it behind" if self.site.choices["joint"] == "slotted" else \
            "glue its foot tab to its mark"
        flat.steps = [
            Step(f"Fold the tie of {self.name}; glue its upper tab inside on the roof, edge to edge with the fold between right "
                 "wall and roof.", (self.name, tie)),
            Step(f"Stand up {self.name}: fix its right foot, then the tie: {through}; close the card and let the left foot find "
                 "its place.", (self.name, tie)),
        ]
        return flat

    def _add_tab(self, flat: Flat, sizes: Mapping[str, float], piece: str, panel: str, level: float, sense: int,
                 foot: tuple[str, str] | None) -> None:
        """A tab on an edge at v = `level`; `sense` is that of v into the tab.

        `foot` names the page and the distance of the foot from the crease; the tab without one is glued on the roof.
        """
        width, part = sizes["width"], next(p.part for p in flat.panels if p.name == panel)
        tab, start, end = edge_tab(self, (0, level), (width, level), (0, sense))
        name = self.own(f"{piece}_tab")
        flat.panels.append(Panel(name, part, tab, tab=True))
        flat.seams.append(Seam(panel, name, start, end))
        if foot is None:
            flat.bonds.append(Bond(name, self.own("roof")))
            return
        side, spread = foot[0], sizes[foot[1]]
        flat.bonds.append(Bond(name, getattr(self.crease, side).panel))
        ends: list[Point] = [(sizes["at"] + x, spread) for x, _ in (start, end)]
        flat.cuts.append(foot_cut(self, side, (ends[0], ends[1]), name))

    def _axes(self, flat: Flat, sizes: Mapping[str, float], levels: list[float]) -> None:
        right, roof, left, tie = (self.own(piece) for piece in ("right", "roof", "left", "tie"))
        width, at, first, second, top = sizes["width"], sizes["at"], *levels[1:]
        up, down = (0.0, 1.0), (0.0, -1.0)
        along = (1.0, 0.0)
        flat.sides = {
            ("ridge", "left"): Frame(roof, (0, second), along, down),
            ("ridge", "right"): Frame(left, (0, second), along, up),
            ("right_foot", "left"): Frame(right, (0, 0), along, up),
            ("right_foot", "right"): Frame("host.right", (at, sizes["spread"]), along, up),
            ("left_foot", "left"): Frame("host.left", (at, sizes["left_spread"]), along, up),
            ("left_foot", "right"): Frame(left, (0, top), along, down),
            ("tie_foot", "left"): Frame("host.left", (at, sizes["tie_spread"]), along, up),
            ("tie_foot", "right"): Frame(tie, (0, 0), along, up),
        }
        flat.faces = {"right": Frame(right, (0, 0), along, up), "roof": Frame(roof, (0, first), along, up),
                      "left": Frame(left, (width, top), (-1, 0), down)}

    # ---- standing

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """Wall and tie stand over the host, roof and left wall over the foot of the tie."""
        c, e, d, k = (sizes[name] for name in ("wall", "roof", "left_wall", "tie"))
        lower = gable(host, sizes["at"], {"right": sizes["spread"], "left": sizes["tie_spread"]}, {"right": c, "left": k})
        beside = lower.folds["left_foot"]  # its right panel is the tie: the roof's foot lies where the tie ends
        upper = gable(beside, 0.0, {"right": k, "left": sizes["left_spread"] - sizes["tie_spread"]}, {"right": e, "left": d})
        foot, first, second, far = lower.feet["right"], lower.ridge, upper.ridge, upper.feet["left"]
        over, down, tie = (second - first) / e, (far - second) / d, (first - beside.origin) / k
        pose = Pose()
        pose.placements = {
            self.own("right"): Placement(foot, host.x, (first - foot) / c),
            self.own("roof"): Placement(first - c * over, host.x, over),
            self.own("left"): Placement(second - (c + e) * down, host.x, down),
            self.own("tie"): Placement(beside.origin, host.x, tie),
            self.own("upper_tab"): Placement(first - k * over, host.x, over),
            **self._tabs(host, foot, far, beside.origin, c + e + d),
        }
        pose.folds = {"ridge": upper.folds["ridge"], "right_foot": lower.folds["right_foot"],
                      "left_foot": upper.folds["left_foot"], "tie_foot": beside}
        return pose

    def _tabs(self, host: Fold, right: Vector, left: Vector, tie: Vector, top: float) -> dict[str, Placement]:
        """Foot tabs on the pages: v falls into those of the right wall and the tie, and rises into that of the left wall."""
        turn = -1.0 if self.site.choices["tabs"] == "inward" else 1.0
        return {self.own("right_tab"): Placement(right, host.x, -turn * host.right),
                self.own("left_tab"): Placement(left - top * turn * host.left, host.x, turn * host.left),
                self.own("tie_tab"): Placement(tie, host.x, -turn * host.left)}
