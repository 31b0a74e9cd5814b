"""The cut-out: a piece of artwork glued on a panel."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction

from fontTools.misc.transform import Transform
from shapely import affinity

from foldwright.solver import expression as ex
from foldwright.solver.building.holes import Box
from foldwright.solver.building.lettered import bridges_hold
from foldwright.solver.building.sector import stays_clear
from foldwright.solver.building.turned import UPS, standing, upright
from foldwright.solver.card import Bond, Panel, Placement, Step
from foldwright.solver.expression import Const, Expr
from foldwright.solver.flat import Flat, Pose
from foldwright.solver.geometry import Fold
from foldwright.solver.host import Area
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import length


class Cutout(Mechanism):
    """A silhouette from an SVG file, glued on a panel: `glue on tank.front_right at centre`.

    `pair` makes two of them, mirror images, with the panel between: `pair on weeds.a2 at top`. `at top` glues the
    lowest strip of the artwork on the panel's straight upper edge and lets the rest stand above it; `at centre` puts
    the middle of the artwork on the middle of the panel, `at 12 x 30` at a distance along the panel and up it.
    `width` is the width of the artwork; its height follows. `up` turns it on its panel: on a page, `up end` is upright for
    who holds the card like a book.
    """

    keyword = "cutout"
    stands_on = ("face",)
    takes_art = "required"
    parameters = (length("width", "width of the artwork", 4, 300, 25),)
    choices = (UPS,)

    @property
    def up(self) -> str:
        """Where its top looks on its panel."""
        return self.site.choices["up"]

    def _middle(self) -> tuple[Expr, Expr]:
        """Face coordinates of the middle of the artwork."""
        place = self.site.at
        word, height = place.get("word"), self["width"] * self.art.aspect
        if word == "top":
            assert self.face.top is not None
            return self.face.top[0], self.face.top[1] - self.habit("cutout.overlap") + height / 2
        if word == "centre":
            return self.face.centre
        u, v = place["u"], place["v"]
        assert isinstance(u, Expr)
        assert isinstance(v, Expr)
        return u, v

    def box(self) -> Box:
        """The box of the artwork on its panel."""
        u, v = self._middle()
        sizes = (self["width"], self["width"] * self.art.aspect)
        along, away = sizes if upright(self.up) else reversed(sizes)
        return Box((u - along / 2, u + along / 2), (v - away / 2, v + away / 2))

    def rules(self) -> Iterator[Rule]:
        """Closed fit of the artwork's box, and enough of it on the panel."""
        height = self["width"] * self.art.aspect
        box, width = self.box(), self["width"]
        corners = {"lower left": (box.u[0], box.v[0]), "lower right": (box.u[1], box.v[0]),
                   "upper left": (box.u[0], box.v[1]), "upper right": (box.u[1], box.v[1])}
        for words, (a, b) in corners.items():
            yield from self.inside(f"the {words} corner", words.replace(" ", "-"), self.face.closed, a, b)
            if self.face.fan is not None:  # a panel of a V-fold: artwork that stands out from it swings with it
                yield from stays_clear(self, self.face.fan, f"the {words} corner", words.replace(" ", "-"), a, b)
        yield from bridges_hold(self, width)
        if self.art.share > 0:
            least = ex.sqrt(Const(self.habit("cutout.glue") / self.art.share))
            yield self.rule("holds", Kind.PRACTICE, least, "<=", width,
                            f"{self.name} must be at least {{left}} wide, or its whole back is too little to glue; "
                            "it is {right}")
        if self.site.at.get("word") != "top":
            return
        if self.up != "away":
            yield self.rule("upright", Kind.GEOMETRY, 1, "<=", 0,
                            f"{self.name} is glued at an upper edge, by its foot: it must stand `up away` there")
        stem = self.art.stem(self._overlap_share())
        yield self.rule("glued-strip", Kind.PRACTICE, self.habit("cutout.overlap"), "<=", height / 2,
                        f"{self.name} is glued over its lowest {{left}}; that should be no more than half of it ({{right}})")
        if self.face.free is not None:
            yield self.rule("between-slots", Kind.GEOMETRY, stem * width, "<=", self.face.free,
                            f"the foot of {self.name} is {{left}} wide; between the slots of its layer there are {{right}}")

    def _overlap_share(self) -> float:
        """The glued strip as a share of the height, at the smallest width allowed (the widest foot there is)."""
        lowest = float(self.site.lows.get("width", Fraction(4)))
        return min(1.0, float(self.habit("cutout.overlap")) / (lowest * float(self.art.aspect)))

    def shown(self, parts: Iterable[str]) -> dict[str, str]:
        """Each of a pair is printed on the side that looks away from the other one."""
        return dict.fromkeys(parts, "front") if self.pair else {}

    def glued(self) -> Iterator[Area]:
        """The box of the artwork."""
        box = self.box()
        yield Area(self.face.panel, box.u, box.v)

    def measures(self) -> dict[str, Expr]:
        """Height of the artwork."""
        return {"height": self["width"] * self.art.aspect}

    def needs(self) -> dict[str, Expr]:
        """Where its middle lies on its panel."""
        u, v = self._middle()
        return {"u": u, "v": v}

    @property
    def pair(self) -> bool:
        """True if there are two, with the panel between."""
        return self.site.choices["copies"] == "pair"

    def area(self) -> Expr:
        """The box of the artwork, once or twice."""
        return (2 if self.pair else 1) * self["width"] * self["width"] * self.art.aspect

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """The box of the artwork."""
        yield "artwork", self["width"], self["width"] * self.art.aspect

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """One sheet, or two."""
        return (2 if choices["copies"] == "pair" else 1) * caliper

    @classmethod
    def joints(cls, choices: Mapping[str, str]) -> int:
        """Each piece is glued once."""
        return 2 if choices["copies"] == "pair" else 1

    def _names(self) -> tuple[str, ...]:
        return (self.own("front"), self.own("back")) if self.pair else (self.own("front"),)

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """u and v of the artwork itself; the back of a pair is its mirror image."""
        outline = self.art.placed(sizes["width"], 0, 0)
        mirrored = affinity.translate(affinity.scale(outline, -1, 1, origin=(0, 0)), sizes["width"], 0)
        drawn = self.art.drawn(sizes["width"], 0, 0)
        back = drawn.then(Transform(-1, 0, 0, 1, sizes["width"], 0))
        flat = Flat()
        for name, shape, curves in zip(self._names(), (outline, mirrored), (drawn, back), strict=False):
            flat.drawn[name] = [curves]
            flat.papers[name] = self.site.paper
            flat.panels.append(Panel(name, name, shape))
            flat.bonds.append(Bond(name, self.face.panel, whole=False))
        where = self.face.panel
        text = (f"Glue both pieces of {self.name} together with {where} between them, edges meeting."
                if self.pair else f"Glue {self.name} on {where}.")
        flat.steps = [Step(text, self._names())]
        return flat

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """In the plane of the panel: `host` has the face's u axis (turned about, if left-handed) as x and its v axis as y."""
        width, sign = sizes["width"], sizes["face.sign"]
        left, top = standing(host, self.up, sign)
        foot = host.point(sign * sizes["u"], sizes["v"], 0) - width * float(self.art.aspect) / 2 * top
        pose = Pose({self.own("front"): Placement(foot - width / 2 * left, left, top)})
        if self.pair:
            pose.placements[self.own("back")] = Placement(foot + width / 2 * left, -left, top)
        return pose
