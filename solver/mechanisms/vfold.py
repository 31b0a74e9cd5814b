"""The V-fold: two panels that meet in a ridge through a point of the crease."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from math import asin, degrees, sqrt

from foldwright.solver import expression as ex
from foldwright.solver.building.holes import wing_within
from foldwright.solver.building.linkage import OTHER, SIDES, largest_turn
from foldwright.solver.building.tabs import JOINTS, TURNS, stays_on, taut_at
from foldwright.solver.building.vfold_shape import VFoldShape
from foldwright.solver.card import Note
from foldwright.solver.expression import Const, Expr
from foldwright.solver.geometry import Closed
from foldwright.solver.host import Area, Crease, Face, Fan, Limits, Side, Site
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import Choice, angle, length

ZERO = Const(Fraction(0))
FLAT = Const(Fraction(1))
NOTCH = 4  # the notch under a ridge is at most so many times as high as it is wide (common practice, no source)
SHORTEST = 10  # mm of ridge that hold two panels together (common practice, no source)


class VFold(VFoldShape):
    """Two panels glued along slanted feet that meet in a point of the crease: a ridge rises as the card opens.

    `angle` is the angle between crease and foot, `wing` the angle on the panel between foot and ridge; `left_angle`
    and `left_wing` make it lopsided. Both sides must close onto the same line: angle plus wing agree. A wing of 90
    stands upright on an open card, less leans over its feet, more leans back; under 90 the ridge rises past its
    final height on the way. `points front` puts the point towards the tail of the spine (the reader), so that the
    ridge faces the reader; `points back` shows the inside of the V.

    `foot` and `ridge` are measured from the point of the V. With `foot_from` both feet begin at some distance from
    it, so that the V-fold stands clear of the crease; `ridge_from` is where the ridge begins then. The point is still
    there as the place on the crease where the lines of both feet and of the ridge meet.

    On a ridge the V-fold sits astride: its feet run down both walls of the host, and closed the V lies beyond the
    host's ridge (wing minus angle agree on both sides). Its own ridge carries another V-fold astride, `inside` is the
    inner side of the ridge, `right_foot` and `left_foot` lie between a panel and the page beyond its foot.

    Of a card that opens flat, `height` is that of the tip over the pages and `lean` how far the tip stands back behind
    the point of the V; `reach` is the distance of the closed tip from the crease.

    Kinematics: spherical four-bar in half-angle form; flat closing is Kawasaki's alternating sum on the cone.
    """

    keyword = "vfold"
    stands_on = ("crease", "ridge")
    parameters = (
        length("at", "where the point of the V lies along the crease", 0, 900, 60),
        angle("angle", "between the crease and the (right) foot", 20, 80, 45),
        angle("wing", "on the (right) panel, between foot and ridge", 25, 140, 90),
        length("foot", "from the point of the V to the end of both feet", 26, 250, 40),
        length("ridge", "from the point of the V to the tip of the ridge", 15, 300, 50),
        angle("left_angle", "between the crease and the left foot", 20, 80, 45, lambda p: p["angle"]),
        angle("left_wing", "on the left panel, between foot and ridge", 25, 140, 90, lambda p: _other_wing(p)),
        length("foot_from", "from the point of the V to where both feet begin", 0, 200, 0, lambda p: ZERO),
        length("ridge_from", "from the point of the V to where the ridge begins", 0, 200, 0, lambda p: p["foot_from"]),
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
        feet = {"left": self["left_angle"], "right": self["angle"]}
        self.angles = {side: 180 - foot if self.astride else foot for side, foot in feet.items()}
        self.wings = {"left": self["left_wing"], "right": self["wing"]}
        self.crest = self.angles["right"] + self.wings["right"]  # angle of the closed ridge

    @property
    def truncated(self) -> bool:
        """True if the feet may begin away from the V's point."""
        return self["foot_from"] != ZERO

    # ---- rules

    def rules(self) -> Iterator[Rule]:
        """Closing, standing, closed fit and tabs."""
        host = self.crease
        yield self.rule("closes", Kind.GEOMETRY, self.crest, "=", self.angles["left"] + self.wings["left"],
                        f"both halves of {self.name} must end on the same line when closed: the right one ends at "
                        "{left}, the left one at {right}", angle=True)
        yield self.rule("left-wing", Kind.GEOMETRY, 10, "<=", self.wings["left"],
                        f"the left wing of {self.name} needs an angle", angle=True)
        yield from self._standing(host)
        yield from self._beginning()
        crest = host.closed.then(Closed(self["at"], ZERO, ZERO))
        places = [("the tip of the ridge", "tip", self["ridge"])]
        if self.truncated:
            places.append(("the beginning of the ridge", "beginning", self["ridge_from"]))
        for what, name, radius in places:
            x, d = self._polar(radius, self.crest)
            yield from self.inside(what, name, crest, x - self["at"], d)
            if name == "tip":  # on its way it may stand square to the crease
                yield from self.has_room(x, self["ridge"])
        yield from self._point_on(host)
        for side in SIDES:
            yield from self._tab_rules(side, getattr(host, side))

    def _beginning(self) -> Iterator[Rule]:
        """Where ridge and feet begin."""
        low = self["ridge_from"]
        if low == ZERO:
            return
        yield self.rule("notch", Kind.PRACTICE, low, "<=", NOTCH * self["foot_from"],
                        f"the ridge of {self.name} begins {{left}} from the point of the V; with feet that begin where these do, "
                        "{right} is the most, or the notch under it is a sliver")
        yield self.rule("ridge-length", Kind.PRACTICE, SHORTEST, "<=", self["ridge"] - low,
                        f"the ridge of {self.name} is {{right}} long; it needs {{left}} to hold both panels together")

    def _standing(self, host: Crease) -> Iterator[Rule]:
        margin = self.habit("stand.margin")
        low = Const(Fraction(180)) if self.astride else ZERO
        yield self.rule("ridge-closed", Kind.GEOMETRY, low + margin, "<=", self.crest,
                        f"the closed ridge of {self.name} must clear the crease", angle=True)
        yield self.rule("ridge-page", Kind.GEOMETRY, self.crest, "<=", low + 180 - margin,
                        f"the closed ridge of {self.name} must lie on the page, not behind the spine: it lies at {{left}} "
                        "to the crease", angle=True)
        if host.opening == FLAT:
            yield self.rule("stands", Kind.GEOMETRY, self["angle"] + self["left_angle"] + margin, "<=", self.crest,
                            f"{self.name} must not be pulled taut before the card is open: its closed ridge has to lie "
                            "beyond both foot angles together ({left}); it lies at {right}", angle=True)
        else:
            feet = ex.sin(self["angle"]) * ex.sin(self["left_angle"])
            yield self.rule("stands", Kind.GEOMETRY, host.opening * feet * Fraction(102, 100), "<=",
                            ex.sin(self.wings["right"]) * ex.sin(self.wings["left"]),
                            f"{self.name} must not be pulled taut before the card is open", angle=True)

    def _polar(self, radius: Expr, turn: Expr) -> tuple[Expr, Expr]:
        """Host (x, d) of a point at a distance from the V's point, at an angle from the way the feet run."""
        return self["at"] + self.run * radius * ex.cos(turn), radius * ex.sin(turn)

    def _tab_rules(self, side: str, panel: Side) -> Iterator[Rule]:
        depth, inset = self.habit("tab.depth"), self.habit("tab.inset")
        foot, turn = self["foot"], self.angles[side]
        first = self._first(turn)
        away = 1 if self.site.choices["tabs"] == "outward" else -1
        sine, taper = ex.sin(turn), Const(self.habit("tab.taper"))
        slope = ex.divide(ex.cos(taper), ex.sin(taper))
        # near the point of the V the tab's end turns with the foot, or it would cross the crease
        near = ex.largest(slope, ex.divide(-away * ex.cos(turn), sine))
        base = foot - inset - first
        yield self.rule(f"{side}-tab.length", Kind.PRACTICE, self.habit("tab.length"), "<=", base - depth * (slope + near) / 2,
                        f"the {side} tab of {self.name} is {{right}} long on average; a tab needs {{left}} to hold")
        yield self.rule(f"{side}-tab.tip", Kind.GEOMETRY, 1, "<=", base - depth * (slope + near),
                        f"the slanted ends of the {side} tab of {self.name} must not meet: its tip is {{right}} wide")
        end = self._polar(foot, turn)
        shift = (-away * self.run * depth * sine, away * depth * ex.cos(turn))
        corner = (end[0] + shift[0], end[1] + shift[1])
        start = self._polar(first, turn)
        inner = self._polar(first + depth * near, turn)
        places = {"foot": end, "tab": corner, "foot near the point": start,
                  "tab near the point": (inner[0] + shift[0], inner[1] + shift[1])}
        for place, (x, d) in places.items():
            for limit in panel.limits(x, d):
                yield stays_on(self, f"{side}-{place}", f"the {side} {place} of {self.name}", limit, inset)
        yield self.rule(f"{side}-tab.inner", Kind.PRACTICE, inset, "<=", corner[1],
                        f"the {side} tab of {self.name} must keep {{left}} from the crease; it keeps {{right}}")

    def _first(self, turn: Expr) -> Expr:
        """Where a tab begins on its foot: an inset from the crease, and from where the foot begins."""
        inset = self.habit("tab.inset")
        from_crease = ex.divide(inset, ex.sin(turn))
        return ex.largest(from_crease, self["foot_from"] + inset) if self.truncated else from_crease

    def _point_on(self, host: Crease) -> Iterator[Rule]:
        """The point of the V lies on the crease itself, within the ends of both panels there; a truncated V needs none."""
        if self.truncated:
            return
        for side in SIDES[:1] if host.left.limits is host.right.limits else SIDES:
            for limit in getattr(host, side).limits(self["at"], ZERO):
                yield stays_on(self, f"point.{side}", f"the point of {self.name}", limit, self.habit("tab.inset"))

    def needs(self) -> dict[str, Expr]:
        """How far its own host opens: sin² of half that angle."""
        return {"opens": self.crease.opening}

    def dead_points(self, sizes: Mapping[str, float]) -> Iterator[tuple[float, str]]:
        """Both panels in one plane: sin²(opening / 2) = product of the wings' sines over that of the feet's."""
        left, right = self.halves(sizes)["left"], self.halves(sizes)["right"]
        yield from taut_at(left.sw * right.sw, left.sf * right.sf)

    def notes(self, sizes: Mapping[str, float]) -> Iterator[Note]:
        """A truncated V has its point on no paper: what a foot off its line costs."""
        if sizes["foot_from"] > 0:
            opens = 2 * degrees(asin(sqrt(min(sizes["opens"], 1.0))))
            yield Note(self.name, f"the point in which the lines of both feet and of the ridge of {self.name} meet lies on no "
                       "paper: glue both feet exactly to their lines; a millimetre along the crease between the points that "
                       "they aim at forces the ends of the ridge {figure} apart", self.play(sizes, opens))

    def measures(self) -> dict[str, Expr]:
        """Reach; of a card that opens flat the tip's height, and how far it stands back behind the V's point."""
        reach, rise = self["ridge"] * ex.sin(self.crest), self._rise()
        if rise is None:
            return {"reach": reach}
        if self["left_angle"] == self["angle"]:
            forward = ex.divide(ex.cos(self["wing"]), ex.cos(self["angle"]))
        else:
            crossed = ex.cos(self["left_wing"]) * ex.sin(self["angle"]) + ex.cos(self["wing"]) * ex.sin(self["left_angle"])
            forward = ex.divide(crossed, ex.sin(self["angle"] + self["left_angle"]))
        return {"reach": reach, "height": self["ridge"] * rise, "lean": -self["ridge"] * forward}

    def _rise(self) -> Expr | None:
        """Height over the pages of a millimetre of ridge on an open card, if that is flat: the unit ridge's share off the plane
        of both feet."""
        if self.astride or not self.crease.flat:
            return None
        if self["left_angle"] == self["angle"]:
            ratio = ex.divide(ex.cos(self["wing"]), ex.cos(self["angle"]))
            return ex.sqrt(1 - ratio * ratio)
        both = self["angle"] + self["left_angle"]
        inner = ex.sin(self["angle"]) * ex.sin(self["left_angle"]) * ex.sin(self.crest) * ex.sin(self.crest - both)
        return ex.divide(2 * ex.sqrt(inner), ex.sin(both))

    def stretch(self) -> tuple[Expr, Expr]:
        """From the point of the V, or where the feet begin, to the end of the feet."""
        toward = -self.run if self.astride else self.run
        # the flatter foot reaches farther along the crease
        flatter = ex.largest(ex.cos(self["angle"]), ex.cos(self["left_angle"]))
        if self["angle"] == self["left_angle"]:
            flatter = ex.cos(self["angle"])
        steeper = ex.smallest(ex.cos(self["angle"]), ex.cos(self["left_angle"]))
        start = self["at"] + toward * self["foot_from"] * steeper if self.truncated else self["at"]
        end = self["at"] + toward * self["foot"] * flatter
        return (start, end) if toward > 0 else (end, start)

    def glued(self) -> Iterator[Area]:
        """The boxes round both slanted tabs."""
        away = 1 if self.site.choices["tabs"] == "outward" else -1
        for side in SIDES:
            sine, cosine = ex.sin(self.angles[side]), ex.cos(self.angles[side])
            depth = away * self.habit("tab.depth")
            feet = [self._polar(self[foot], self.angles[side]) for foot in ("foot_from", "foot")]
            tabs = [(x - self.run * depth * sine, d + depth * cosine) for x, d in feet]
            xs, ds = zip(*feet, *tabs, strict=True)
            yield Area(side, (ex.smallest(*xs), ex.largest(*xs)), (ex.smallest(*ds), ex.largest(*ds)))

    def creases(self) -> dict[str, Crease]:
        """The outer side of the ridge, of both feet, and the inner side of the ridge."""
        host = self.crease
        halves = {side: Side(self.own(side), self._panel_limits(side, along_ridge=True)) for side in SIDES}
        pair = ("right", "left") if self.run > 0 else ("left", "right")
        sines = {side: ex.sin(self.wings[side]) for side in SIDES}
        psi = ex.divide(host.opening * ex.sin(self["angle"]) * ex.sin(self["left_angle"]), sines["right"] * sines["left"])
        place, walls = self._ridge_place(host), (halves[pair[0]], halves[pair[1]])
        creases = {"ridge": Crease(place, *walls, psi, astride=True)}
        for side in SIDES:
            panel = Side(self.own(side), self._panel_limits(side, along_ridge=False))
            page: Side = getattr(host, side)
            beyond = Side(page.panel, self._beyond(side, page))
            swap = (side == "left") != (self.run > 0)
            turn = self.angles[side] if self.run > 0 else 180 - self.angles[side]
            foot = host.closed.then(Closed(self["at"], ZERO, turn, self.run < 0))
            creases[f"{side}_foot"] = Crease(foot, *((panel, beyond) if swap else (beyond, panel)), FLAT)
        creases["inside"] = Crease(place, *walls, psi, room=self._room())
        return creases

    def _room(self) -> Limits | None:
        """Under a ridge that leans over its feet the page is near; least on the open card, where the ridge stands lowest."""
        measures = self.measures()
        if "lean" not in measures:
            return None

        def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            # of an even V-fold just so; a lopsided one turns its inside a little to one side
            yield -measures["lean"] * d, x * measures["height"], "through the pages of the open card"

        return limits

    def _ridge_place(self, host: Crease) -> Closed:
        turn = self.crest if self.run > 0 else 180 - self.crest
        return host.closed.then(Closed(self["at"], ZERO, turn, self.run > 0))

    def _panel_limits(self, side: str, along_ridge: bool) -> Limits:
        """Limits inside the panel; x along the ridge or the foot from the V's point. What lies on that edge keeps no inset."""
        sine, cosine = ex.sin(self.wings[side]), ex.cos(self.wings[side])
        names = ("ridge", "foot") if along_ridge else ("foot", "ridge")
        (own, other), (low, far) = ([self[f"{name}{end}"] for name in names] for end in ("", "_from"))

        def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            inset = Const(Fraction(0) if d == ZERO else self.habit("tab.inset"))
            yield inset, x * sine - d * cosine, "the panel"
            yield other * sine * (x - own), (other * cosine - own) * (d + inset), "the panel's outer edge"
            if low != ZERO or far != ZERO:
                yield (far * cosine - low) * d, far * sine * (x - low - inset), "the panel's lower edge"

        return limits

    def _beyond(self, side: str, page: Side) -> Limits:
        sine, cosine = ex.sin(self.angles[side]), ex.cos(self.angles[side])

        def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            yield from page.limits(self["at"] + self.run * (x * cosine - d * sine), x * sine + d * cosine)

        return limits

    def faces(self) -> dict[str, Face]:
        """Both panels: u from the ridge outwards, v along the ridge from the V's point."""
        place = self._ridge_place(self.crease).swapped()
        out = {}
        for side in SIDES:
            sine, cosine = ex.sin(self.wings[side]), ex.cos(self.wings[side])
            if self.truncated:  # the mean of four corners lies inside of them
                feet, ridges = self["foot"] + self["foot_from"], self["ridge"] + self["ridge_from"]
                centre = feet * sine / 4, (ridges + feet * cosine) / 4
            else:
                centre = self["foot"] * sine / 3, (self["ridge"] + self["foot"] * cosine) / 3
            within = wing_within((self["foot_from"], self["foot"]), (self["ridge_from"], self["ridge"]), self.wings[side])
            out[side] = Face(self.own(side), place, centre, fan=self._fan(side), within=within)
        return out

    def _fan(self, side: str) -> Fan:
        """What swings with a panel."""
        far, rise = OTHER[side], self._rise()
        turn = None
        if rise is not None:
            feet, walls = ([ex.sin(angles[key]) for key in (side, far)] for angles in (self.angles, self.wings))
            turn = largest_turn(self.crease.opening, (feet[0], feet[1]), (walls[0], walls[1]), ex.sin(self.crest))
        # with equal feet the closing makes the wings equal too, which keeps the rules of what swings short
        other = self.wings[side if self["angle"] == self["left_angle"] else far]
        return Fan(self.wings[side], other, self.crest, -1 if self.astride else 1,
                   self.site.choices["points"] == "front", rise, turn)

    def bends(self) -> Expr:
        """Both feet: at a flat host the turn of the spine is shared out along the two feet; elsewhere all creases, roughly.

        With feet at the angles a and b to the spine the right one turns sin b / sin(a + b) times as fast as the spine.
        """
        right, left = self["angle"], self["left_angle"]
        if not self.crease.flat:
            return 2 * (self["ridge"] + 2 * self["foot"])
        least = Fraction(1, 20)  # no V-fold comes near; it keeps the quotient bounded before the angles are known
        if right == left:
            return ex.divide(self["foot"], ex.largest(ex.cos(right), least))
        return ex.divide(self["foot"] * (ex.sin(right) + ex.sin(left)), ex.largest(ex.sin(right + left), least))

    def area(self) -> Expr:
        """Two triangles less what a truncated foot leaves out, and two tabs."""
        both = ex.sin(self.wings["right"]) + ex.sin(self.wings["left"])
        spared = self["ridge_from"] * self["foot_from"] if self.truncated else ZERO
        return (self["ridge"] * self["foot"] - spared) * both / 2 + 2 * self["foot"] * self.habit("tab.depth")

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """Two triangles side by side, with tabs."""
        tabs = 2 * self.habit("tab.depth")
        yield "V-fold", 2 * self["foot"] + tabs, self["ridge"] + self["foot"] + tabs


def _other_wing(p: Mapping[str, Expr]) -> Expr:
    """The left wing that closes: equal sums on the spine, equal differences astride a ridge."""
    if p["astride"] == Const(Fraction(1)):
        return p["wing"] - p["angle"] + p["left_angle"]
    return p["wing"] + p["angle"] - p["left_angle"]
