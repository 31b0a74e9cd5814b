"""The swinging arm: a strip glued on a panel of a V-fold."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from math import atan2, ceil

import numpy as np
from fontTools.misc.transform import Transform
from shapely import affinity, maximum_inscribed_circle, unary_union
from shapely.geometry import LineString, Polygon

from foldwright.solver import expression as ex
from foldwright.solver.building import sector
from foldwright.solver.building.lettered import bridges_hold
from foldwright.solver.building.tabs import edge_word
from foldwright.solver.card import Bond, Drawn, Panel, Placement, Step, Stroke
from foldwright.solver.expression import Expr
from foldwright.solver.flat import Cut, Flat, Pose
from foldwright.solver.geometry import Fold
from foldwright.solver.host import Area, Fan
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import Choice, angle, length

GRID = 1e-6  # mm; snapping of outlines, far below what any machine cuts
ROUND = 16  # chords to a quarter of the rounded ends: 0.01 mm off the circle at 8 mm of strip
SHARE = 1000  # the place in the artwork that lies on the tip is rounded to so many parts of its width


class Arm(Mechanism):
    """A strip glued on a panel of a V-fold: it swings with the panel, and its tip sweeps out as the card opens.

    `glue on hill.right at centre` says where its round lower end is glued; `at 12 x 20` is a distance from the ridge
    and one along it, from the point of the V. Its tip lies at `distance` from the point of the V, at `angle` from the
    panel's own foot: less than the wing is above the panel, more is beyond the ridge. `strip` is the width of the
    strip, `glued` the length of it that must lie on the panel. Artwork sits on the tip with its broadest place, upright
    as the ridge is, or going on in the direction of the strip; `width` is the width of the artwork.

    Closed, the arm hides between the pages. It stays above its own page as long as its angle is less than 180, and off
    the other page as long as it does not lie too far beyond the ridge. Over the ridge it may reach only if the V-fold
    points to the reader: it is glued on the printed face, and inside of the V the other panel is in its way.

    Of a card that opens flat, `height` is that of the tip over the pages, and `sweep` how far the tip has moved, seen
    from its own page; `reach` is its distance from the V-fold's own crease when closed.

    Kinematics: seen from its page the tip moves on a circle about the line of the foot, in space on a sphere about the
    point of the V.
    """

    keyword = "arm"
    stands_on = ("face",)
    takes_art = "optional"
    glue_by = ("glue",)
    needs_of_face = ("fan", "an arm swings with a panel of a V-fold: this panel does not turn about a point of a crease")
    parameters = (
        length("distance", "from the point of the V to the tip", 15, 400, 60),
        angle("angle", "from the foot of the panel to the tip, seen from the point of the V", 10, 170, 60),
        length("strip", "width of the strip", 6, 30, 8),
        length("glued", "length of strip that is glued on the panel", 8, 60, 12),
        length("width", "width of the artwork", 4, 300, 25, lambda p: None if "aspect" in p else p["strip"]),
    )
    choices = (Choice("artwork", ("upright", "turned"), "artwork at the tip stands as the ridge does, or turns with the strip"),)
    example = """
card "One pointer"
  units mm
cover 110 x 150
  paper ink
vfold hill on spine
  paper foam
  at 40
  angle 45
  foot 50
  ridge 45
arm pointer
  paper ink
  glue on hill.right at centre
  distance 50 to 80
  angle 70
prefer largest pointer.height
paper ink  colour #22304a weight 216 gsm
paper foam colour #e8eef0 caliper 0.25
mat 300 x 300
"""

    # ---- where it lies, in the (u, v) of the panel

    @property
    def fan(self) -> Fan:
        """The same as a sector."""
        assert self.face.fan is not None
        return self.face.fan

    @property
    def inward(self) -> Expr:
        """Angle of the tip from the ridge, towards the foot."""
        return self.fan.wing - self["angle"]

    def tip(self) -> tuple[Expr, Expr]:
        """The middle of the round upper end."""
        return self["distance"] * ex.sin(self.inward), self["distance"] * ex.cos(self.inward)

    def start(self) -> tuple[Expr, Expr]:
        """The middle of the round lower end."""
        place = self.site.at
        if "word" in place:
            return self.face.centre
        u, v = place["u"], place["v"]
        assert isinstance(u, Expr)
        assert isinstance(v, Expr)
        return u, v

    def span(self) -> Expr:
        """Length of the strip between the middles of its ends."""
        (u, v), (x, y) = self.start(), self.tip()
        return ex.sqrt((x - u) * (x - u) + (y - v) * (y - v))

    def held(self) -> tuple[Expr, Expr]:
        """Where the glued stretch ends."""
        (u, v), (x, y), share = self.start(), self.tip(), ex.divide(self["glued"], self.span())
        return u + share * (x - u), v + share * (y - v)

    @property
    def turned(self) -> bool:
        """True if the artwork goes on along the strip."""
        return self.site.choices["artwork"] == "turned"

    def anchor(self) -> tuple[Fraction, Fraction]:
        """The place of the artwork that lies on the tip, as shares of its width: the middle of its broadest place."""
        assert self.site.art is not None
        line = maximum_inscribed_circle(self.site.art.outline, tolerance=1 / (4 * SHARE))
        u, v = line.coords[0]
        return Fraction(round(u * SHARE), SHARE), Fraction(round(v * SHARE), SHARE)

    def box(self) -> tuple[Expr, Expr, Expr]:
        """What the tip takes to either side, below and above, artwork included (which may be seen from either side)."""
        half = self["strip"] / 2
        if self.site.art is None:
            return half, half, half
        u, v = self.anchor()
        width = self["width"]
        if self.turned:
            corners = np.asarray(self.site.art.outline.exterior.coords) - (float(u), float(v))
            around = ex.largest(half, Fraction(ceil(np.hypot(*corners.T).max() * SHARE), SHARE) * width)
            return around, around, around
        return (ex.largest(half, max(u, 1 - u) * width), ex.largest(half, v * width),
                ex.largest(half, (self.site.art.aspect - v) * width))

    # ---- rules

    def rules(self) -> Iterator[Rule]:
        """Glue on the panel, closed fit, and clear of both pages."""
        yield self.rule("glued-area", Kind.PRACTICE, ex.divide(self.habit("cutout.glue"), self["strip"]), "<=", self["glued"],
                        f"the glued stretch of {self.name} is {{right}} long; a strip of its width needs {{left}} to hold")
        yield self.rule("strip", Kind.GEOMETRY, self["glued"] + self["strip"], "<=", self.span(),
                        f"the tip of {self.name} lies {{right}} from its lower end; the glued stretch and the round end take "
                        "{left}")
        for words, place in (("lower end", self.start()), ("glued stretch", self.held())):
            yield from self._on_panel(words, *place)
        yield from bridges_hold(self, self["width"])
        u, v = self.tip()
        side, below, above = self.box()
        for words, x, y in (("towards the ridge, below", u - side, v - below), ("towards the foot, below", u + side, v - below),
                            ("towards the ridge, above", u - side, v + above), ("towards the foot, above", u + side, v + above)):
            name = words.replace(", ", "-").replace(" ", "-")
            yield from self.inside(f"the tip ({words})", name, self.face.closed, x, y)
            yield from sector.stays_clear(self, self.fan, f"the tip ({words})", name, x, y)
        if not self.fan.outside:
            yield self.rule("inside-v", Kind.GEOMETRY, 0, "<=", u - side,
                            f"{self.name} is glued on the printed face of its panel, which looks into the V: its tip must not "
                            "reach over the ridge, or it would run into the other panel; it lies {right} from the ridge")

    def _on_panel(self, words: str, u: Expr, v: Expr) -> Iterator[Rule]:
        """A round end of the strip keeps an inset from all edges of the panel."""
        assert self.face.within is not None  # panels of a V-fold are plain
        name, room = words.replace(" ", "-"), self["strip"] / 2 + self.habit("tab.inset")
        for low, high, edge in self.face.within(room)(u, v):
            yield self.rule(f"{name}.{edge_word(edge)}", Kind.PRACTICE, low, "<=", high,
                            f"the {words} of {self.name} must lie wholly on the panel, with an inset from {edge}",
                            still=(low - self.habit("tab.inset"), high))

    def glued(self) -> Iterator[Area]:
        """The box round the glued stretch."""
        (u, v), (x, y), half = self.start(), self.held(), self["strip"] / 2
        yield Area(self.face.panel, (ex.smallest(u, x) - half, ex.largest(u, x) + half),
                   (ex.smallest(v, y) - half, ex.largest(v, y) + half))

    def measures(self) -> dict[str, Expr]:
        """Reach of the closed tip; of a card that opens flat its height and its way."""
        place = self.tip()
        known = {"height": sector.height(self.fan, *place), "sweep": sector.sweep(self.fan, *place)}
        return {"reach": sector.from_crease(self.fan, *place), **{name: expr for name, expr in known.items() if expr is not None}}

    def needs(self) -> dict[str, Expr]:
        """Both ends and the glued stretch, in the (u, v) of the panel."""
        places = {"start": self.start(), "held": self.held(), "tip": self.tip()}
        return {f"{name}.{axis}": expr for name, place in places.items() for axis, expr in zip("uv", place, strict=True)}

    def area(self) -> Expr:
        """The strip, and the box of the artwork."""
        art = self.site.art
        strip = self["strip"] * (self.span() + self["strip"])
        return strip if art is None else strip + self["width"] * self["width"] * art.aspect

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """The box of strip and artwork."""
        (u, v), (x, y), (side, below, above) = self.start(), self.tip(), self.box()
        half = self["strip"] / 2
        width = ex.largest(u + half, x + side) - ex.smallest(u - half, x - side)
        yield "arm", width, ex.largest(v + half, y + above) - ex.smallest(v - half, y - below)

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """One sheet."""
        return caliper

    # ---- flat and standing

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """One part in the axes of the panel; seen from the panel's printed face."""
        sign = sizes["face.sign"]
        start, held, tip = ((sizes[f"{name}.u"], sizes[f"{name}.v"]) for name in ("start", "held", "tip"))
        flat = Flat(papers={self.name: self.site.paper})
        flat.panels = [Panel(self.own("strip"), self.name, self._outline(sizes, sign, start, tip))]
        flat.drawn[self.name] = self._drawn(sizes, sign, start, tip)
        flat.bonds = [Bond(self.own("strip"), self.face.panel, whole=False)]
        flat.cuts = [Cut("face", (start, held), Stroke.MARK)]
        flat.steps = [Step(f"Glue {self.name} on {self.face.panel}, its lower end over the mark; keep the glue off the folds and "
                           "off the edge that it passes.", (self.name,))]
        return flat

    def _outline(self, sizes: Mapping[str, float], sign: float, start: tuple[float, float], tip: tuple[float, float]) -> Polygon:
        strip = LineString([(sign * start[0], start[1]), (sign * tip[0], tip[1])]).buffer(sizes["strip"] / 2, quad_segs=ROUND)
        if self.site.art is None:
            return strip
        u, v = (float(share) * sizes["width"] for share in self.anchor())
        art = self.site.art.placed(sizes["width"], sign * tip[0] - u, tip[1] - v)
        if self.turned:
            lean = atan2(sign * (tip[0] - start[0]), tip[1] - start[1])
            art = affinity.rotate(art, -lean, origin=(sign * tip[0], tip[1]), use_radians=True)
        joined = unary_union([strip, art], grid_size=GRID)
        assert isinstance(joined, Polygon)
        return joined

    def _drawn(self, sizes: Mapping[str, float], sign: float, start: tuple[float, float],
               tip: tuple[float, float]) -> list[Drawn]:
        """The artwork in that outline."""
        if self.site.art is None:
            return []
        u, v = (float(share) * sizes["width"] for share in self.anchor())
        drawn = self.site.art.drawn(sizes["width"], sign * tip[0] - u, tip[1] - v)
        if self.turned:
            lean = atan2(sign * (tip[0] - start[0]), tip[1] - start[1])
            x, y = sign * tip[0], tip[1]
            drawn = drawn.then(Transform(1, 0, 0, 1, x, y).rotate(-lean).translate(-x, -y))
        return [drawn]

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """In the plane of the panel: `host` has the face's u axis (seen from the printed face) as x and its v axis as y."""
        return Pose({self.own("strip"): Placement(host.origin, host.x, host.y)})
