"""The platform: a creased sheet that floats parallel to both pages."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction

from foldwright.solver import expression as ex
from foldwright.solver.artwork import Art
from foldwright.solver.building.deck import SIDES, Deck
from foldwright.solver.building.floating import comb_fits, sway
from foldwright.solver.building.holes import Box, rectangle_within
from foldwright.solver.building.lettered import bridges_hold
from foldwright.solver.building.plain import Band, halves, pieces
from foldwright.solver.building.tabs import JOINTS, TURNS, beyond, foot_area, strip_limits, tab_fits
from foldwright.solver.card import Note
from foldwright.solver.expression import Const, Expr
from foldwright.solver.geometry import Closed, half_opening
from foldwright.solver.host import Area, Crease, Face, Limits, Side
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import Choice, length

ZERO = Const(Fraction(0))


class Platform(Deck):
    """A floating layer: a creased sheet that stays parallel to both pages, `height` above them, on upright supports.

    `spread` is the distance of the right support from the crease (`left_spread` makes it lopsided), `overhang` how far
    the sheet reaches beyond it, `width` the sheet's length along the crease from `at`, and `end_overhang` how far the
    supports stand back from its ends. `supports three` puts a centre wall on the crease, whose tabs are glued by turns
    to the left and to the right at both ends; `supports two` leaves it out. All supports are equally tall:
    `right_height` and `left_height` follow `height`, and a layer on unequal ones would slope. With artwork the sheet
    has its outline, at the platform's width and with the crease through its middle; the glued places lie on plain paper
    of the artwork, and `overhang` is then the least that it reaches beyond the supports.

    Closed, the layer slides outwards by its height. Its crease is a full copy of the host, higher up; the outer feet
    of the supports and the two corners at a centre wall open half as far as the host.

    Kinematics: on each side a parallelogram of page, support, sheet and centre wall. All walls may turn together (one
    free motion), and without a centre wall the crease may also rise and sink (two): upright supports are exact by
    symmetry alone.
    """

    keyword = "platform"
    takes_art = "optional"
    parameters = (
        length("at", "where the sheet begins along the crease", 0, 900, 20),
        length("width", "length of the sheet along the crease", 20, 400, 60),
        length("height", "height of the sheet over the pages, and of a centre wall", 8, 120, 20),
        length("spread", "distance of the right support from the crease", 10, 200, 30),
        length("overhang", "how far the sheet reaches beyond the right support", 0, 100, 10),
        length("end_overhang", "how far the supports stand back from both ends of the sheet", 0, 150, 0),
        length("left_spread", "distance of the left support from the crease", 10, 200, 30, lambda p: p["spread"]),
        length("left_overhang", "how far the sheet reaches beyond the left support", 0, 100, 10, lambda p: p["overhang"]),
        length("right_height", "height of the right support", 8, 120, 20, lambda p: p["height"]),
        length("left_height", "height of the left support", 8, 120, 20, lambda p: p["height"]),
    )
    choices = (
        Choice("supports", ("three", "two"), "right, left and a centre wall on the crease, or right and left alone"),
        Choice("top_tabs", ("outward", "inward"),
               "outward top tabs lie flat when closed and need as much overhang, inward ones fold sharp"),
        TURNS, JOINTS,
    )
    example = """
card "One deck"
  units mm
cover 100 x 150
  paper ink
platform deck on spine
  paper sand
  width  50
  height 20 to 30
prefer largest deck.height
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 300 x 300
"""

    def rules(self) -> Iterator[Rule]:
        """Level supports, tabs, closed fit, and glued places on the artwork."""
        host, depth, inset = self.crease, self.habit("tab.depth"), self.habit("tab.inset")
        for side in SIDES:
            yield self.rule(f"level-{side}", Kind.GEOMETRY, self[f"{side}_height"], "=", self["height"],
                            f"all supports of {self.name} must be equally tall, or its sheet slopes and jams: the {side} one "
                            "is {left} tall, the sheet floats at {right}")
            yield from tab_fits(self, side, getattr(host, side), self.start, self.start + self.long, self.foot[side])
            yield from self._room(side, depth, inset)
        if self.centred:
            yield from comb_fits(self, "centre", self.long)
        reach = self["height"] + ex.largest(self.edge["right"], self.edge["left"])
        for end, x in (("tail", self["at"]), ("head", self["at"] + self["width"])):
            yield from self.inside(f"the outer edge of the sheet at the {end} end", end, host.closed, x, reach)
        yield from self.has_room(self["at"], reach)
        yield from bridges_hold(self, self["width"])
        if self.site.art is not None:
            yield from self._on_artwork(self.site.art)

    def _room(self, side: str, depth: Fraction, inset: Fraction) -> Iterator[Rule]:
        """Room for the top tab, and beside the tabs of the centre wall."""
        foot = self.foot[side]
        room = self.edge[side] - foot if self.site.art else self.over[side]
        if self.site.choices["top_tabs"] == "outward":
            yield self.rule(f"{side}-top-tab", Kind.PRACTICE, depth + inset, "<=", room,
                            f"the {side} top tab of {self.name} needs {{left}} of sheet beyond its support; there is {{right}} "
                            "(`top_tabs inward` needs none, but folds sharp)", still=(depth, room))
        if self.centred and "inward" in (self.site.choices["tabs"], self.site.choices["top_tabs"]):
            yield self.rule(f"{side}-beside-centre", Kind.PRACTICE, 2 * depth + inset, "<=", foot,
                            f"the tabs of the {side} support of {self.name} and of its centre wall need {{left}} beside each "
                            "other; there is {right}", still=(2 * depth, foot))
        elif self.site.choices["top_tabs"] == "inward":
            yield self.rule(f"{side}-top-tab", Kind.PRACTICE, depth + inset, "<=", foot,
                            f"the {side} top tab of {self.name} needs {{left}} of sheet up to its crease; there is {{right}}",
                            still=(depth, foot))

    def _on_artwork(self, art: Art) -> Iterator[Rule]:
        """The artwork is one piece on each side of its crease, reaches far enough, and is plain where it is glued."""
        if any(len(pieces(half)) > 1 for half in halves(art.placed(1.0, 0, 0)).values()):
            yield self.rule("one-piece", Kind.GEOMETRY, 1, "<=", 0,
                            f"the artwork of {self.name} falls into pieces along the crease through its middle")
        depth, half = self.habit("tab.depth"), self.long / 2
        zones: list[tuple[str, Expr, Expr]] = [("centre", ZERO, Const(depth))] if self.centred else []
        outward = self.site.choices["top_tabs"] == "outward"
        for side, foot in self.foot.items():
            yield self.rule(f"{side}-reach", Kind.DESIGNER, foot + self.over[side], "<=", self.edge[side],
                            f"the artwork of {self.name} reaches {{right}} from its crease; the {side} support with the sheet "
                            "beyond it needs {left}")
            zones.append((side, foot if outward else foot - depth, foot + depth if outward else foot))
        width = self["width"]
        for name, near, far in zones:
            room = [ex.smallest(near - band.near * width, band.far * width - far, band.half * width - half)
                    for band in self.bands]
            yield self.rule(f"{name}-on-artwork", Kind.GEOMETRY, 0, "<=", ex.largest(*room) if room else Const(Fraction(-1)),
                            f"the glued strip on top of the {name} support of {self.name} must lie on its artwork: draw it "
                            "fuller there, make the sheet wider, or let the supports stand back (`end_overhang`)")

    def dead_points(self, sizes: Mapping[str, float]) -> Iterator[tuple[float, str]]:
        """On side supports alone both halves of the sheet lie in one line when the host is flat."""
        if not self.centred:
            yield 180.0, "would have both halves of its sheet in one line"

    def notes(self, sizes: Mapping[str, float]) -> Iterator[Note]:
        """Free motions of rigid panels while the pages are held, and how far the layer sways within the play of its folds."""
        if self.centred:
            yield Note(self.name, f"{self.name} floats level by symmetry alone: with its centre wall {{figure}} free motion is "
                       "right, all walls leaning together; the spring of equal folds holds them upright", 1, "plain")
        else:
            yield Note(self.name, f"{self.name} floats level by symmetry alone: on side supports {{figure}} free motions are "
                       "right, all walls leaning together and the crease rising or sinking; a centre wall "
                       "(`supports three`) takes away the second", 2, "plain")
        yield Note(self.name, f"if every fold of {self.name} gives by one caliper at the outer edge of its tab, the sheet sways "
                   "by {figure} to either side", sway(self, sizes["height"]))

    def measures(self) -> dict[str, Expr]:
        """Size of the sheet across the pages, and its distance from its own crease when closed."""
        return {"depth": self.edge["right"] + self.edge["left"],
                "reach": self["height"] + ex.largest(self.edge["right"], self.edge["left"])}

    def stretch(self) -> tuple[Expr, Expr]:
        """The sheet's own width."""
        return self["at"], self["at"] + self["width"]

    def glued(self) -> Iterator[Area]:
        """Under the feet on both pages, and on top of the supports under the sheet."""
        depth, end = self.habit("tab.depth"), self.start + self.long
        along = (self["end_overhang"], self["end_overhang"] + self.long)  # the same from either end of the sheet
        for side, foot in self.foot.items():
            yield foot_area(self, side, self.start, end, foot)
            top = (foot, foot + depth) if self.site.choices["top_tabs"] == "outward" else (foot - depth, foot)
            yield Area(self.own(side), along, top)
            if self.centred:
                yield Area(side, (self.start, end), (ZERO, Const(depth)))
                yield Area(self.own(side), along, (ZERO, Const(depth)))

    def area(self) -> Expr:
        """The sheet and its supports with their tabs."""
        support = self.long * (self["height"] + 2 * self.habit("tab.depth"))
        return self["width"] * (self.edge["right"] + self.edge["left"]) + (3 if self.centred else 2) * support

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """The sheet, and one support."""
        yield "sheet", self["width"], self.edge["right"] + self.edge["left"]
        yield "support", self.long, self["height"] + 2 * self.habit("tab.depth")

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """On either side sheet, support and two tabs; a centre wall and its tab."""
        return (10 if choices["supports"] == "three" else 8) * caliper

    def creases(self) -> dict[str, Crease]:
        """The sheet's own crease, the outer feet of the supports, and the corners at the centre wall."""
        host, inset = self.crease, self.habit("tab.inset")
        on_sheet = host.closed.then(Closed(self["at"], self["height"], ZERO))
        left, right = (Side(self.own(side), self._sheet_limits(side)) for side in SIDES)
        creases = {"crease": Crease(on_sheet, left, right, host.opening, one_sheet=True, flat=host.flat)}
        half, wall = half_opening(host.opening), strip_limits(self.long, self["height"], inset)
        for side, foot in self.foot.items():
            page: Side = getattr(host, side)
            pair = Side(page.panel, beyond(page, self.start, foot)), Side(self.own(f"{side}_wall"), wall)
            place = host.closed.then(Closed(self.start, foot, ZERO))
            creases[f"{side}_foot"] = Crease(place, *(pair if side == "left" else pair[::-1]), half, room=self._below)
        for side in SIDES if self.centred else ():
            page = getattr(host, side)
            pair = Side(page.panel, self._corner_limits(side, page)), Side(self.own("centre"), wall)
            place = host.closed.then(Closed(self.start, ZERO, ZERO))
            creases[f"{side}_corner"] = Crease(place, *(pair if side == "left" else pair[::-1]), half, room=self._below)
        return creases

    def _below(self, x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
        """What stands below the sheet and is no longer than the supports never touches it, however far they open."""
        yield d, self["height"], "through the sheet above"

    def _sheet_limits(self, side: str) -> Limits:
        inset = self.habit("tab.inset")
        plain = strip_limits(self["width"], self.edge[side], inset)
        if not self.bands:
            return plain
        best = max((band for band in self.bands if band.near == 0), key=lambda band: band.far * band.half,
                   default=Band(Fraction(0), Fraction(0), Fraction(0)))
        width = self["width"]
        inner = strip_limits(2 * best.half * width, best.far * width, inset)

        def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            yield from inner(x - (Fraction(1, 2) - best.half) * width, d)

        return limits

    def _corner_limits(self, side: str, page: Side) -> Limits:
        inset = self.habit("tab.inset")
        taken = inset + (self.habit("tab.depth") if self.site.choices["tabs"] == "inward" else 0)
        outer = beyond(page, self.start, ZERO)

        def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            yield d, self.foot[side] - taken, f"the {side} support"
            yield from outer(x, d)

        return limits

    def faces(self) -> dict[str, Face]:
        """Both halves of the sheet from above, v from the crease outwards."""
        host, half = self.crease, self["width"] / 2
        left = host.closed.then(Closed(self["at"], self["height"], ZERO))
        right = host.closed.then(Closed(self["at"] + self["width"], self["height"], Const(Fraction(180)), True))
        words = ("the end of the sheet", "the end of the sheet", "the crease of the sheet", "the outer edge of the sheet")
        faces = {}
        for side, place in (("left", left), ("right", right)):
            edge = self.edge[side]
            faces[side] = Face(self.own(side), place, (half, edge / 2))
            if self.site.art is None:  # an outline of artwork has no straight edges
                within = rectangle_within(Box((ZERO, self["width"]), (ZERO, edge)), words)
                faces[side] = replace(faces[side], top=(half, edge), within=within)
        return faces
