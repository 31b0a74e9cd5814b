"""The window: a hole in a panel."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from fontTools.misc.transform import Transform
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon

from foldwright.grammar.letters import Use
from foldwright.solver.building.holes import Box, apart
from foldwright.solver.building.lettered import bridges_hold
from foldwright.solver.building.turned import UPS, axes, standing, upright
from foldwright.solver.card import Bond, Drawn, Panel, Placement, Step
from foldwright.solver.expression import Const, Expr
from foldwright.solver.flat import Flat, Opening, Pose
from foldwright.solver.geometry import Closed, Fold, rectangle
from foldwright.solver.host import Area
from foldwright.solver.mechanism import Mechanism, taken
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import Choice, length


class Window(Mechanism):
    """A hole in a panel, rectangular or in the shape of an artwork: `window porthole on cover.left`, `at 40 x 60`.

    It can be cut in a page of the cover or of an insert, and in a wall. `at 40 x 60` puts its middle at a distance
    along the panel and up it (on a page: along the spine and away from it), `at centre` in the middle of the panel.
    `width` and `height` are those of the hole; with an artwork the height follows. `up` is where the top of the window
    looks: `away` from the foot of its panel, to its `end`, its `foot` or its `start`; the foot of a page is the spine, its
    end the head. An artwork is seen as drawn on the printed side of its panel, which in a cover is the inside;
    `mirrored yes` is for a look from the other side. What an artwork encloses falls out with it.

    `pane behind` closes it with a sheet of the window's paper (clear film, vellum), glued behind with a border all
    round. The window keeps a strip of paper to the edges and folds of its panel and to what is glued there. It does
    not cut the lining in front of it: for a look through cover and insert, give each of them a window.
    """

    keyword = "window"
    stands_on = ("face",)
    face_in_head = True
    takes_art = "optional"
    letters = Use.HOLES
    parameters = (
        length("width", "width of the hole", 6, 300, 40),
        length("height", "height of the hole", 6, 300, 30, lambda p: p["width"] * p["aspect"] if "aspect" in p else None),
    )
    choices = (
        Choice("pane", ("none", "behind"), "a sheet glued behind the window"),
        UPS,
        Choice("mirrored", ("no", "yes"), "turns an artwork round, for a look from the back of the panel"),
    )
    example = """
card "One window"
  units mm
cover 100 x 150
  paper ink
window porthole on cover.left
  paper film
  width  60
  height 40
  up     end
  pane   behind
paper ink  colour #22304a weight 216 gsm
paper film colour #dfe9ee caliper 0.1
mat 300 x 300
"""

    @property
    def pane(self) -> bool:
        """True if a sheet is glued behind it."""
        return self.site.choices["pane"] == "behind"

    @property
    def margin(self) -> Fraction:
        """What it keeps from everything else on its panel, in mm."""
        strip = self.habit("window.strip")
        return max(strip, self.habit("window.border") + self.habit("tab.inset")) if self.pane else strip

    def _middle(self) -> tuple[Expr, Expr]:
        u, v = self.site.at.get("u"), self.site.at.get("v")
        return (u, v) if isinstance(u, Expr) and isinstance(v, Expr) else self.face.centre

    def box(self) -> Box:
        """The box of the hole on its panel."""
        u, v = self._middle()
        sizes = (self["width"], self["height"])
        along, away = sizes if upright(self.site.choices["up"]) else reversed(sizes)
        return Box((u - along / 2, u + along / 2), (v - away / 2, v + away / 2))

    def rules(self) -> Iterator[Rule]:
        """A strip of paper to the edges and folds of the panel."""
        assert self.face.within is not None
        seen: list[tuple[Expr, Expr]] = []
        for u, v in self.box().corners():
            for low, high, words in self.face.within(self.margin)(u, v):
                if (low, high) in seen:  # two corners lie at the same distance from an edge along the axes
                    continue
                seen.append((low, high))
                yield self.rule(f"strip.{len(seen)}", Kind.PRACTICE, low, "<=", high,
                                f"the window {self.name} must leave a strip of paper at {words}{taken(words)}",
                                still=(low - self.margin, high))
        yield from bridges_hold(self, self["width"])
        art = self.site.art
        if art is not None and self["height"] != self["width"] * art.aspect:
            yield self.rule("shape", Kind.GEOMETRY, self["height"], "=", self["width"] * art.aspect,
                            f"the height of {self.name} follows from its artwork: {{right}}, not {{left}}")

    def among(self, others: Sequence[Mechanism]) -> Iterator[Rule]:
        """A strip of paper to whatever needs the same panel."""
        mine, names = self.box(), [other.name for other in others]
        linings = {own: host for other in others for own, host in other.lines().items()}
        for other in others[:names.index(self.name)]:
            if isinstance(other, Window) and other.face.panel == self.face.panel:
                both = sum((w.habit("window.border") for w in (self, other) if w.pane), Fraction(0))
                yield self._clear(other, "0", Const(max(self.margin, other.margin, both)), apart(mine, other.box()),
                                  f"the window {other.name}")
        for other in others:
            for number, area in enumerate(other.glued(), 1):
                panel, place = self._where(other, area)
                room: Expr = Const(self.margin)
                if panel != self.face.panel and other.site.choices.get("joint") == "slotted":
                    panel = linings.get(panel, panel)  # a tab that passes the lining is glued behind it, and would show
                    room = room + self.site.cover.get("gap", Const(Fraction(0)))  # in a gusset both lie shifted by this
                if panel == self.face.panel:
                    gap = apart(mine, Box(area.x, area.d), place)
                    yield self._clear(other, str(number), room, gap, f"the glue of {other.name}")

    def _where(self, other: Mechanism, area: Area) -> tuple[str, Closed | None]:
        """The panel on which an area lies, and the place of its axes as seen from this window's panel."""
        if area.side not in ("left", "right"):
            return area.side, None
        crease = other.crease
        return getattr(crease, area.side).panel, self.face.closed.inverse().then(crease.closed)

    def _clear(self, other: Mechanism, number: str, room: Expr, gap: Expr, words: str) -> Rule:
        return self.rule(f"clear-of-{other.name}.{number}", Kind.PRACTICE, room, "<=", gap,
                         f"between the window {self.name} and {words} on {self.face.panel} a strip of {{left}} must stay; "
                         "there is {right} (below 0 they overlap)", still=(0, gap))

    def needs(self) -> dict[str, Expr]:
        """Where its middle lies on the panel."""
        u, v = self._middle()
        return {"u": u, "v": v}

    def lightens(self) -> Expr:
        """The box of the hole."""
        return self["width"] * self["height"]

    def area(self) -> Expr:
        """The pane."""
        if not self.pane:
            return Const(Fraction(0))
        border = 2 * self.habit("window.border")
        return (self["width"] + border) * (self["height"] + border)

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """The pane."""
        if self.pane:
            border = 2 * self.habit("window.border")
            yield "pane", self["width"] + border, self["height"] + border

    @classmethod
    def takes_paper(cls, choices: Mapping[str, str]) -> bool:
        """Only a pane is of paper."""
        return choices["pane"] == "behind"

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """One sheet, or none."""
        return caliper if choices["pane"] == "behind" else Fraction(0)

    def _hole(self, sizes: Mapping[str, float]) -> Polygon | MultiPolygon:
        """The hole, or the holes of letters, in the (u, v) of its panel."""
        width, height = sizes["width"], sizes["height"]
        art = self.site.art
        shape = (rectangle(-width / 2, -height / 2, width / 2, height / 2) if art is None
                 else _unfilled(art.placed(width, -width / 2, -height / 2)))
        if self.site.choices["mirrored"] == "yes":
            shape = affinity.scale(shape, -1, 1, origin=(0, 0))
        left, up = axes(self.site.choices["up"], sizes["face.sign"])
        hole: Polygon | MultiPolygon = affinity.affine_transform(shape, [left[0], up[0], left[1], up[1], sizes["u"], sizes["v"]])
        return hole

    def _drawn(self, sizes: Mapping[str, float]) -> tuple[Drawn, ...]:
        """The artwork that the hole follows."""
        if self.site.art is None:
            return ()
        drawn = self.site.art.drawn(sizes["width"], -sizes["width"] / 2, -sizes["height"] / 2)
        turn = -1 if self.site.choices["mirrored"] == "yes" else 1
        left, up = axes(self.site.choices["up"], sizes["face.sign"])
        return (drawn.then(Transform(turn, 0, 0, 1, 0, 0)).then(Transform(*left, *up, sizes["u"], sizes["v"])),)

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """The hole, and the pane with (0, 0) in its middle."""
        flat = Flat(openings=[Opening("face", self._hole(sizes), self._drawn(sizes))])
        if not self.pane:
            return flat
        name, border = self.own("pane"), float(self.habit("window.border"))
        half, tall = sizes["width"] / 2 + border, sizes["height"] / 2 + border
        flat.papers = {name: self.site.paper}
        flat.panels = [Panel(name, name, rectangle(-half, -tall, half, tall))]
        flat.labels = {name: (1 - half, 1 - tall)}  # on the border
        flat.bonds = [Bond(name, self.face.panel, spans=True)]
        flat.steps = [Step(f"Glue the pane of {self.name} over its window by its border, on the side that is not looked at; "
                           "keep glue off the opening.", (name,))]
        return flat

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """In the plane of the panel: `host` has the face's u axis (turned about, if left-handed) as x and its v axis as y."""
        if not self.pane:
            return Pose()
        sign = sizes["face.sign"]
        middle = host.point(sign * sizes["u"], sizes["v"], 0)
        return Pose({self.own("pane"): Placement(middle, *standing(host, self.site.choices["up"], sign))})


def _unfilled(outline: Polygon | MultiPolygon) -> Polygon | MultiPolygon:
    """An outline without what it encloses."""
    shapes = [Polygon(shape.exterior) for shape in getattr(outline, "geoms", [outline])]
    return shapes[0] if len(shapes) == 1 else MultiPolygon(shapes)
