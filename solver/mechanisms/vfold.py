"""The V-fold: two panels that meet in a ridge through a point of the crease."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import cos, radians, sin

import numpy as np
from shapely.geometry import Polygon

from foldwright.solver import expression as ex
from foldwright.solver.card import Bond, Panel, Placement, Step, Vector
from foldwright.solver.expression import Const, Expr
from foldwright.solver.geometry import Closed, Fold, dot, tab_outline, tab_placement, unit
from foldwright.solver.mechanism import (
    Choice,
    Crease,
    Face,
    Flat,
    Frame,
    Limits,
    Mechanism,
    Pose,
    Seam,
    Side,
    Site,
    angle,
    length,
)
from foldwright.solver.model import Kind, Rule
from foldwright.solver.tabs import JOINTS, TURNS, foot_cut, glue_words, taut_at

SIDES = ("right", "left")


@dataclass(frozen=True)
class Half:
    """One half in the closed form: foot angle and wing (degrees), with sines and cosines."""

    foot: float
    wing: float

    @property
    def sf(self) -> float:
        """Sine of the foot angle."""
        return sin(radians(self.foot))

    @property
    def cf(self) -> float:
        """Cosine of the foot angle."""
        return cos(radians(self.foot))

    @property
    def sw(self) -> float:
        """Sine of the wing."""
        return sin(radians(self.wing))

    @property
    def cw(self) -> float:
        """Cosine of the wing."""
        return cos(radians(self.wing))


class VFold(Mechanism):
    """Two panels glued along slanted feet that meet in a point of the crease: a ridge rises as the card opens.

    `angle` is the angle between crease and foot, `wing` the angle on the panel between foot and ridge; `right_angle`
    and `right_wing` make it lopsided. Both sides must close onto the same line: angle plus wing agree. A wing of 90
    stands upright on an open card, less leans over its feet, more leans back; under 90 the ridge rises past its
    final height on the way. `points front` puts the point towards the tail of the spine (the reader), so that the
    ridge faces the reader; `points back` shows the inside of the V.

    On a ridge the V-fold sits astride: its feet run down both walls of the host, and closed the V lies beyond the
    host's ridge (wing minus angle agree on both sides).

    Kinematics: spherical four-bar in half-angle form; flat closing is Kawasaki's alternating sum on the cone.
    """

    keyword = "vfold"
    stands_on = ("crease", "ridge")
    parameters = (
        length("at", "where the point of the V lies along the crease", 0, 900, 60),
        angle("angle", "between the crease and the (left) foot", 20, 80, 45),
        angle("wing", "on the (left) panel, between foot and ridge", 25, 140, 90),
        length("foot", "length of both feet", 26, 250, 40),
        length("ridge", "length of the ridge", 15, 300, 50),
        angle("right_angle", "between the crease and the right foot", 20, 80, 45, lambda p: p["angle"]),
        angle("right_wing", "on the right panel, between foot and ridge", 25, 140, 90, lambda p: _other_wing(p)),
    )
    choices = (Choice("points", ("front", "back"), "which way the point of the V looks along the crease"), TURNS, JOINTS)
    example = """
card "One gull"
  units mm
cover 100 x 150
  paper ink
vfold gull on spine
  paper foam
  angle 40
prefer largest gull.height
paper ink  colour #22304a weight 216 gsm
paper foam colour #e8eef0 caliper 0.25
mat 300 x 300
"""

    def __init__(self, site: Site) -> None:
        super().__init__(site)
        host = site.crease
        self.astride = host is not None and host.astride
        toward = 1 if site.choices["points"] == "front" else -1
        # astride is the mirror image of the closed form: one formula serves both
        self.run = -toward if self.astride else toward
        feet = {"right": self["right_angle"], "left": self["angle"]}
        self.angles = {side: 180 - foot if self.astride else foot for side, foot in feet.items()}
        self.wings = {"right": self["right_wing"], "left": self["wing"]}
        self.crest = self.angles["left"] + self.wings["left"]  # angle of the closed ridge

    def rules(self) -> Iterator[Rule]:
        """Closing, standing, closed fit and tabs."""
        host = self.crease
        yield self.rule("closes", Kind.GEOMETRY, self.crest, "=", self.angles["right"] + self.wings["right"],
                        f"both halves of {self.name} must end on the same line when closed: the left one ends at "
                        "{left}, the right one at {right}", angle=True)
        yield self.rule("right-wing", Kind.GEOMETRY, 10, "<=", self.wings["right"],
                        f"the right wing of {self.name} needs an angle", angle=True)
        yield from self._standing(host)
        crest = Closed(self["at"], Const(Fraction(0)), Const(Fraction(0)))
        x, d = self._polar(self["ridge"], self.crest)
        yield from self.inside("the tip of the ridge", "tip", host.closed.then(crest), x - self["at"], d)
        for side in SIDES:
            yield from self._tab_rules(side, getattr(host, side))

    def _standing(self, host: Crease) -> Iterator[Rule]:
        margin = self.habit("stand.margin")
        low = Const(Fraction(180)) if self.astride else Const(Fraction(0))
        yield self.rule("ridge-closed", Kind.GEOMETRY, low + margin, "<=", self.crest,
                        f"the closed ridge of {self.name} must clear the crease", angle=True)
        yield self.rule("ridge-page", Kind.GEOMETRY, self.crest, "<=", low + 180 - margin,
                        f"the closed ridge of {self.name} must lie on the page, not behind the spine: it lies at {{left}} "
                        "to the crease", angle=True)
        if host.opening == Const(Fraction(1)):
            yield self.rule("stands", Kind.GEOMETRY, self["angle"] + self["right_angle"] + margin, "<=", self.crest,
                            f"{self.name} must not be pulled taut before the card is open: its closed ridge has to lie "
                            "beyond both foot angles together ({left}); it lies at {right}", angle=True)
        else:
            feet = ex.sin(self["angle"]) * ex.sin(self["right_angle"])
            yield self.rule("stands", Kind.GEOMETRY, host.opening * feet * Fraction(102, 100), "<=",
                            ex.sin(self.wings["left"]) * ex.sin(self.wings["right"]),
                            f"{self.name} must not be pulled taut before the card is open", angle=True)

    def _polar(self, radius: Expr, turn: Expr) -> tuple[Expr, Expr]:
        """Host (x, d) of a point at a distance from the V's point, at an angle from the way the feet run."""
        return self["at"] + self.run * radius * ex.cos(turn), radius * ex.sin(turn)

    def _tab_rules(self, side: str, panel: Side) -> Iterator[Rule]:
        depth, inset = self.habit("tab.depth"), self.habit("tab.inset")
        foot, turn = self["foot"], self.angles[side]
        away = 1 if self.site.choices["tabs"] == "outward" else -1
        sine, taper = ex.sin(turn), Const(self.habit("tab.taper"))
        slope = ex.divide(ex.cos(taper), ex.sin(taper))
        # near the point of the V the tab's end turns with the foot, or it would cross the crease
        near = ex.largest(slope, ex.divide(-away * ex.cos(turn), sine))
        base = foot - inset - ex.divide(inset, sine)
        yield self.rule(f"{side}-tab.length", Kind.PRACTICE, self.habit("tab.length"), "<=", base - depth * (slope + near) / 2,
                        f"the {side} tab of {self.name} is {{right}} long on average; a tab needs {{left}} to hold")
        yield self.rule(f"{side}-tab.tip", Kind.GEOMETRY, 1, "<=", base - depth * (slope + near),
                        f"the slanted ends of the {side} tab of {self.name} must not meet: its tip is {{right}} wide")
        end = self._polar(foot, turn)
        shift = (-away * self.run * depth * sine, away * depth * ex.cos(turn))
        corner = (end[0] + shift[0], end[1] + shift[1])
        start = self._polar(ex.divide(inset, sine), turn)
        inner = self._polar(ex.divide(inset, sine) + depth * near, turn)
        places = {"foot": end, "tab": corner, "foot near the point": start,
                  "tab near the point": (inner[0] + shift[0], inner[1] + shift[1])}
        if side == "left":
            yield from self._point_on(panel)
        for place, (x, d) in places.items():
            for number, (low, high, words) in enumerate(panel.limits(x, d)):
                yield self.rule(f"{side}-{place}.{number}", Kind.PRACTICE, low, "<=", high,
                                f"the {side} {place} of {self.name} must stay inside {words}: {{left}} against {{right}}")
        yield self.rule(f"{side}-tab.inner", Kind.PRACTICE, inset, "<=", corner[1],
                        f"the {side} tab of {self.name} must keep {{left}} from the crease; it keeps {{right}}")

    def _point_on(self, panel: Side) -> Iterator[Rule]:
        """The point of the V lies on the crease itself, within the ends of the panel there."""
        for number, (low, high, words) in enumerate(panel.limits(self["at"], Const(Fraction(0)))):
            if words != "the panel":  # that limit keeps away from the crease
                yield self.rule(f"point.{number}", Kind.PRACTICE, low, "<=", high,
                                f"the point of {self.name} must stay inside {words}: {{left}} against {{right}}")

    def dead_points(self, sizes: Mapping[str, float]) -> Iterator[tuple[float, str]]:
        """Both panels in one plane: sin²(opening / 2) = product of the wings' sines over that of the feet's."""
        right, left = self._halves(sizes)["right"], self._halves(sizes)["left"]
        yield from taut_at(right.sw * left.sw, right.sf * left.sf)

    def measures(self) -> dict[str, Expr]:
        """Height of the tip over the open pages (where they open flat); its distance from its own crease when closed."""
        reach = self["ridge"] * ex.sin(self.crest)
        if self.astride or not self.crease.flat:
            return {"reach": reach}
        if self["right_angle"] == self["angle"]:
            ratio = ex.divide(ex.cos(self["wing"]), ex.cos(self["angle"]))
            return {"reach": reach, "height": self["ridge"] * ex.sqrt(1 - ratio * ratio)}
        both = self["angle"] + self["right_angle"]
        inner = ex.sin(self["angle"]) * ex.sin(self["right_angle"]) * ex.sin(self.crest) * ex.sin(self.crest - both)
        return {"reach": reach, "height": ex.divide(2 * self["ridge"] * ex.sqrt(inner), ex.sin(both))}

    def stretch(self) -> tuple[Expr, Expr]:
        """From the point of the V to the end of its feet."""
        toward = -self.run if self.astride else self.run
        # the flatter foot reaches farther along the crease
        flatter = ex.largest(ex.cos(self["angle"]), ex.cos(self["right_angle"]))
        if self["angle"] == self["right_angle"]:
            flatter = ex.cos(self["angle"])
        end = self["at"] + toward * self["foot"] * flatter
        return (self["at"], end) if toward > 0 else (end, self["at"])

    def creases(self) -> dict[str, Crease]:
        """The outer side of the ridge, and the outer side of both feet."""
        host = self.crease
        halves = {side: Side(self.own(side), self._panel_limits(side, along_ridge=True)) for side in SIDES}
        first, second = ("left", "right") if self.run > 0 else ("right", "left")
        sines = {side: ex.sin(self.wings[side]) for side in SIDES}
        psi = ex.divide(host.opening * ex.sin(self["angle"]) * ex.sin(self["right_angle"]), sines["left"] * sines["right"])
        creases = {"ridge": Crease(self._ridge_place(host), halves[first], halves[second], psi, astride=True)}
        for side in SIDES:
            panel = Side(self.own(side), self._panel_limits(side, along_ridge=False))
            page: Side = getattr(host, side)
            beyond = Side(page.panel, self._beyond(side, page))
            swap = (side == "right") != (self.run > 0)
            turn = self.angles[side] if self.run > 0 else 180 - self.angles[side]
            place = host.closed.then(Closed(self["at"], Const(Fraction(0)), turn, self.run < 0))
            pair = (panel, beyond) if swap else (beyond, panel)
            creases[f"{side}_foot"] = Crease(place, pair[0], pair[1], Const(Fraction(1)))
        return creases

    def _ridge_place(self, host: Crease) -> Closed:
        turn = self.crest if self.run > 0 else 180 - self.crest
        return host.closed.then(Closed(self["at"], Const(Fraction(0)), turn, self.run > 0))

    def _panel_limits(self, side: str, along_ridge: bool) -> Limits:
        """Limits inside the triangular panel; x along the ridge or the foot from the V's point."""
        sine, cosine = ex.sin(self.wings[side]), ex.cos(self.wings[side])
        own, other = (self["ridge"], self["foot"]) if along_ridge else (self["foot"], self["ridge"])

        def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            yield Const(self.habit("tab.inset")), x * sine - d * cosine, "the panel"
            yield other * sine * (x - own), (other * cosine - own) * (d + self.habit("tab.inset")), "the panel's outer edge"

        return limits

    def _beyond(self, side: str, page: Side) -> Limits:
        sine, cosine = ex.sin(self.angles[side]), ex.cos(self.angles[side])

        def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            yield from page.limits(self["at"] + self.run * (x * cosine - d * sine), x * sine + d * cosine)

        return limits

    def faces(self) -> dict[str, Face]:
        """Both panels: u from the ridge outwards, v along the ridge from the V's point."""
        host = self.crease
        place = self._ridge_place(host).swapped()
        out = {}
        for side in SIDES:
            u = self["foot"] * ex.sin(self.wings[side]) / 3
            v = (self["ridge"] + self["foot"] * ex.cos(self.wings[side])) / 3
            out[side] = Face(self.own(side), place, (u, v))
        return out

    def area(self) -> Expr:
        """Two triangles and two tabs."""
        both = ex.sin(self.wings["left"]) + ex.sin(self.wings["right"])
        return self["ridge"] * self["foot"] * both / 2 + 2 * self["foot"] * self.habit("tab.depth")

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """Two triangles side by side, with tabs."""
        tabs = 2 * self.habit("tab.depth")
        yield "V-fold", 2 * self["foot"] + tabs, self["ridge"] + self["foot"] + tabs

    def _sign(self, side: str) -> float:
        """Sense of u on a half, so that the printed face is the one that the reader sees."""
        return -1.0 if (side == "right") != self.astride else 1.0

    def _halves(self, sizes: Mapping[str, float]) -> dict[str, Half]:
        feet = {"right": sizes["right_angle"], "left": sizes["angle"]}
        wings = {"right": sizes["right_wing"], "left": sizes["wing"]}
        return {side: Half(180 - foot if self.astride else foot, wings[side]) for side, foot in feet.items()}

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """u across the ridge, v along it from the V's point; the printed face looks to the tail of the crease."""
        foot, ridge = sizes["foot"], sizes["ridge"]
        flat = Flat(papers={self.name: self.site.paper})
        for side, half in self._halves(sizes).items():
            sign = self._sign(side)
            edge = (sign * half.sw, half.cw)
            end = (foot * edge[0], foot * edge[1])
            flat.panels.append(Panel(self.own(side), self.name, Polygon([(0, 0), (0, ridge), end])))
            self._foot(flat, sizes, side, half, edge)
            flat.faces[side] = Frame(self.own(side), (0, 0), (sign, 0), (0, 1))
        flat.seams.insert(0, Seam(self.own("left"), self.own("right"), (0, 0), (0, ridge)))
        self._sides(flat, sizes)
        flat.steps = [Step(f"Fold {self.name} along its ridge and feet; {glue_words(self)}.", (self.name,))]
        return flat

    def _foot(self, flat: Flat, sizes: Mapping[str, float], side: str, half: Half, edge: tuple[float, float]) -> None:
        inset, depth = float(self.habit("tab.inset")), float(self.habit("tab.depth"))
        taper = float(self.habit("tab.taper"))
        outward = self.site.choices["tabs"] == "outward"
        near = min(taper, 180 - half.foot if outward else half.foot)  # or the tab would cross the crease
        first, last = inset / half.sf, sizes["foot"] - inset
        start, end = ((s * edge[0], s * edge[1]) for s in (first, last))
        away = (half.cw * self._sign(side), -half.sw)
        tab = tab_outline(start, end, away, depth, (near, taper))
        flat.panels.append(Panel(self.own(f"{side}_tab"), self.name, tab, tab=True))
        flat.seams.append(Seam(self.own(side), self.own(f"{side}_tab"), start, end))
        host: Side = getattr(self.crease, side)
        flat.bonds.append(Bond(self.own(f"{side}_tab"), host.panel))
        line = tuple((sizes["at"] + self.run * s * half.cf, s * half.sf) for s in (first, last))
        flat.cuts.append(foot_cut(self, side, (line[0], line[1]), self.own(f"{side}_tab")))

    def _sides(self, flat: Flat, sizes: Mapping[str, float]) -> None:
        halves = self._halves(sizes)
        first, second = ("left", "right") if self.run > 0 else ("right", "left")
        for side, name in (("right", first), ("left", second)):
            out = self._sign(name)
            flat.sides["ridge", side] = Frame(self.own(name), (0, 0), (0, 1), (out, 0))
        for name, half in halves.items():
            out = self._sign(name)
            panel = Frame(self.own(name), (0, 0), (out * half.sw, half.cw), (-out * half.cw, half.sw))
            page = Frame(f"host.{name}", (sizes["at"], 0), (self.run * half.cf, half.sf), (-self.run * half.sf, half.cf))
            swap = (name == "right") != (self.run > 0)
            flat.sides[f"{name}_foot", "right"] = panel if swap else page
            flat.sides[f"{name}_foot", "left"] = page if swap else panel

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """Spherical four-bar in half-angle form (no 0/0 from closed to open)."""
        halves, sine, cosine = self._halves(sizes), host.sine, host.cosine
        right, left = halves["right"], halves["left"]
        crest = sin(radians(left.foot + left.wing))
        root = np.sqrt(np.maximum(right.sf * left.sf * (right.sw * left.sw - sine**2 * right.sf * left.sf), 0.0))
        kappa = {"right": 2 * np.arctan2(sine * left.sf * crest, cosine * right.sw * left.sf + root),
                 "left": 2 * np.arctan2(sine * right.sf * crest, cosine * left.sw * right.sf + root)}
        psi = 2 * np.arctan2(sine * np.sqrt(right.sf * left.sf),
                             np.sqrt(np.maximum(right.sw * left.sw - sine**2 * right.sf * left.sf, 0.0)))
        point = host.origin + sizes["at"] * host.x
        feet, beyond, edges = {}, {}, {}
        for side, page in (("right", host.right), ("left", host.left)):
            half = halves[side]
            feet[side] = self.run * half.cf * host.x + half.sf * page
            beyond[side] = -self.run * half.sf * host.x + half.cf * page
        rise = np.cos(kappa["right"]) * beyond["right"] + np.sin(kappa["right"]) * host.right_normal
        ridge = unit(right.cw * feet["right"] + right.sw * rise)
        pose = Pose()
        for side, half in halves.items():
            edges[side] = unit(feet[side] - dot(feet[side], ridge) * ridge)
            sign = self._sign(side)
            pose.placements[self.own(side)] = Placement(point, sign * edges[side], ridge)
            self._pose_tab(pose, side, half, point, feet[side], beyond[side])
        pose.folds["ridge"] = Fold(point, ridge, unit(edges["right"] + edges["left"]), np.degrees(psi))
        for side, normal in (("right", host.right_normal), ("left", host.left_normal)):
            axis = np.cos(kappa[side] / 2) * beyond[side] + np.sin(kappa[side] / 2) * normal
            pose.folds[f"{side}_foot"] = Fold(point, feet[side], axis, np.degrees(kappa[side]))
        return pose

    def _pose_tab(self, pose: Pose, side: str, half: Half, point: Vector, foot: Vector, beyond: Vector) -> None:
        edge = (half.sw * self._sign(side), half.cw)
        away = (half.cw * self._sign(side), -half.sw)
        out = beyond if self.site.choices["tabs"] == "outward" else -beyond
        pose.placements[self.own(f"{side}_tab")] = tab_placement(point, foot, (0.0, 0.0), edge, away, out)


def _other_wing(p: Mapping[str, Expr]) -> Expr:
    """The right wing that closes: equal sums on the spine, equal differences astride a ridge."""
    if p["astride"] == Const(Fraction(1)):
        return p["wing"] - p["angle"] + p["right_angle"]
    return p["wing"] + p["angle"] - p["right_angle"]
