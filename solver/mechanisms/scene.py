"""The scene: planes that stand one behind the other, tied to each other by strips."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from foldwright.grammar.letters import Use
from foldwright.solver import expression as ex
from foldwright.solver.building.floating import comb_fits, sway
from foldwright.solver.building.holes import Box, rectangle_within
from foldwright.solver.building.lettered import bridges_hold
from foldwright.solver.building.planes import OTHER, Planes
from foldwright.solver.building.tabs import JOINTS, TIP, TURNS, beyond, foot_area, stays_on, strip_limits, tab_fits
from foldwright.solver.card import Note
from foldwright.solver.expression import Const, Expr
from foldwright.solver.geometry import Closed, half_opening
from foldwright.solver.host import Area, Crease, Face, Limits, Side
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import Choice, length

ZERO = Const(Fraction(0))
RIGHT_ANGLE = Const(Fraction(1, 2))  # sin² of half of 90°


class Scene(Planes):
    """Planes one behind the other on one page, like the wings of a stage, kept parallel by strips from plane to plane.

    `parallel centre` stands them parallel to a centre wall on the crease, `centre`, which is the rearmost plane: for a
    card that opens flat. `parallel page` stands them parallel to the other page, which is the backdrop: for a card that
    opens to 90. `side` is the page that they stand on (right unless told otherwise: the one on the table), `planes` how many
    there are besides a centre wall: `plane1` is the nearest to the crease. They stand `spacing` apart. `height` is that
    of the rearmost plane, artwork included, and each one in front is `drop` lower: closed, a plane lies as far out as
    it stands from the crease, so the farther out it is, the lower it must be. Artwork `along top` is joined to the
    upper edge of every plane at its own width.

    Every plane has two holds, or it swings: its foot on the page and a strip to the plane behind it (`feet yes`,
    `strips 1`), or two strips, one above the other, and it hangs just above the page (`feet no`, `strips 2`). Strips
    lie parallel to the page, `level` above it (the lower ones at `lower_level`), are `strip_length` long along the
    crease, and exactly as wide as the planes are apart. Between a plane and the strip in front of it is a crease that
    opens as far as the foot of a plane does: `ledge1` and so on; the feet are `foot1` and so on; a centre wall has two
    corners, `front` towards the planes and `back`.

    Kinematics: a chain of parallelograms of page, plane, strip and plane. Beside a page they are exact; at a centre
    wall all planes may lean together (one free motion), so that they stand upright by symmetry alone.
    """

    keyword = "scene"
    takes_art = "optional"
    letters = Use.EDGE
    parameters = (
        length("at", "where the planes begin along the crease", 0, 900, 20),
        length("width", "length of the planes along the crease", 30, 400, 80),
        length("spacing", "distance from plane to plane, and from the crease to the first", 8, 100, 20),
        length("height", "height of the rearmost plane, artwork included", 20, 300, 50),
        length("drop", "how much lower each plane is than the one behind it", 0, 100, 8),
        length("level", "height of the (upper) strips over the page", 8, 250, 20),
        length("strip_length", "length of the strips along the crease", 20, 400, 24),
        length("strip_width", "width of the strips, from plane to plane", 8, 100, 20, lambda p: p["spacing"]),
        length("lower_level", "height of the lower strips over the page, where there are two", 8, 250, 10,
               lambda p: p["level"] / 2),
    )
    choices = (
        Choice("planes", ("2", "1", "3", "4"), "how many planes stand one behind the other, besides a centre wall"),
        Choice("parallel", ("centre", "page"), "to a wall on the crease, or to the other page"),
        Choice("side", ("right", "left"), "the page that the planes stand on"),
        Choice("feet", ("yes", "no"), "planes stand on the page, or hang just above it"),
        Choice("strips", ("1", "2"), "how many strips hold a plane to the one behind it, one above the other"),
        TURNS, JOINTS,
    )
    example = """
card "One stage"
  units mm
cover 120 x 150
  paper ink
scene stage on spine
  paper  sand
  planes 3
  width  90
  height 50 to 60
prefer largest stage.height
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 300 x 300
"""

    def tall(self, number: int) -> Expr:
        """Height of a plane, artwork included."""
        return self["height"] - (number - self.rear) * self["drop"]

    def band(self, number: int) -> Expr:
        """Height of a plane below its artwork."""
        return self.tall(number) - self.art_height

    # ---- rules

    def rules(self) -> Iterator[Rule]:
        """Two holds for each plane, strips as wide as the planes are apart, tabs and closed fit."""
        yield from self._holds()
        yield from self._strip_rules()
        start, end = self["at"], self["at"] + self["width"]
        if self.standing:
            for number in range(1, self.count + 1):
                yield from tab_fits(self, f"plane{number}", self.page, start, end, number * self["spacing"])
        yield from self._spacing()
        reach = ex.largest(*(number * self["spacing"] + self.tall(number) for number in self.numbers))
        what = "the farthest upper edge (the farther out a plane stands, the lower it must be)"
        for name, x in (("tail", start), ("head", end)):
            yield from self.inside(what, name, self.crease.closed, x, reach)
        yield from self.has_room(start, reach)
        yield from bridges_hold(self, self["width"])

    def _holds(self) -> Iterator[Rule]:
        holds = len(self.levels) + (1 if self.standing else 0)
        if holds < 2:
            yield self.rule("holds", Kind.GEOMETRY, 2, "<=", holds,
                            f"each plane of {self.name} needs two holds, a foot and a strip or two strips one above the other: "
                            "one strip alone lets it swing")
        yield self.rule("strip-width", Kind.GEOMETRY, self["strip_width"], "=", self["spacing"],
                        f"the strips of {self.name} must be exactly as wide as its planes are apart, or the planes lean and jam: "
                        "the strips are {left} wide, the planes {right} apart")
        if not self.centred and self.crease.opening != RIGHT_ANGLE:
            yield self.rule("opens", Kind.GEOMETRY, self.crease.opening, "<=", RIGHT_ANGLE,
                            f"the planes of {self.name} are parallel to a page, so they lie down where it opens beyond 90°: take "
                            "`parallel centre`, or a card that `opens 90`")

    def _strip_rules(self) -> Iterator[Rule]:
        depth, inset, width = self.habit("tab.depth"), self.habit("tab.inset"), self["strip_length"]
        yield self.rule("strip-tab.length", Kind.PRACTICE, self.habit("tab.length"), "<=", width - 2 * inset - depth,
                        f"the tabs of the strips of {self.name} are {{right}} long on average; a tab needs {{left}} to hold",
                        still=(depth + TIP, width - 2 * inset - depth))
        yield self.rule("strip-on-plane", Kind.GEOMETRY, width, "<=", self["width"] - 2 * inset,
                        f"the strips of {self.name} are {{left}} long; its planes have room for {{right}}")
        yield self.rule("strip-low", Kind.PRACTICE, depth + 2 * inset, "<=", self.lowest,
                        f"the strips of {self.name} have tabs below their upper ends: they need {{left}} above the page, and "
                        "lie at {right}", still=(depth, self.lowest))
        if "lower" in self.levels:
            yield self.rule("strips-apart", Kind.GEOMETRY, depth + inset, "<=", self["level"] - self["lower_level"],
                            f"the two strips of {self.name} lie {{right}} above each other; their tabs need {{left}}, and two "
                            "strips at one level would let the planes swing")
        for number in range(1, self.count + 1):
            yield self.rule(f"strip-high.{number}", Kind.PRACTICE, self["level"] + depth + inset, "<=", self.band(number),
                            f"the strip behind plane {number} of {self.name} with its tab needs {{left}} of plain plane; there "
                            "is {right}", still=(self["level"] + depth, self.band(number)))
        if not self.centred:  # the first strip is glued on the other page
            for name, x in (("start", self.strip_start), ("end", self.strip_start + width)):
                for limit in self.wall.limits(x, self["level"]):
                    yield stays_on(self, f"strip-page.{name}", f"the first strip of {self.name}", limit, inset)

    def _spacing(self) -> Iterator[Rule]:
        depth, inset = self.habit("tab.depth"), self.habit("tab.inset")
        inward = self.site.choices["tabs"] == "inward"
        if (self.standing and self.count > 1) or (self.centred and not inward):
            yield self.rule("planes-apart", Kind.PRACTICE, depth + inset, "<=", self["spacing"],
                            f"the planes of {self.name} are {{right}} apart; a foot tab between two of them needs {{left}}",
                            still=(depth, self["spacing"]))
        if self.centred:
            yield from comb_fits(self, "centre", self["width"])
        if self.centred and self.standing and inward:
            yield self.rule("beside-centre", Kind.PRACTICE, 2 * depth + inset, "<=", self["spacing"],
                            f"the foot tabs of the centre wall and of the first plane of {self.name} need {{left}} beside each "
                            "other; there is {right}", still=(2 * depth, self["spacing"]))

    def notes(self, sizes: Mapping[str, float]) -> Iterator[Note]:
        """Free motions of rigid panels while the pages are held, and what they come to within the play of the folds."""
        free = (1 if self.centred else 0) + (0 if self.standing else self.count)
        if free:
            ways = [*(["all planes leaning together"] if self.centred else []),
                    *([] if self.standing else ["each plane rising or sinking on its strips"])]
            yield Note(self.name, f"the planes of {self.name} stand true only by the spring of equal folds: as rigid panels they "
                       f"keep {{figure}} free motion{'s' if free > 1 else ''} ({', and '.join(ways)})"
                       + ("" if self.standing else "; `feet yes` takes the latter away"), free, "plain")
        if self.centred:
            yield Note(self.name, f"if every fold of {self.name} gives by one caliper at the outer edge of its tab, the upper "
                       "edge of its rearmost plane sways by {figure} to either side", sway(self, sizes["height"]))
        if not self.standing:
            yield Note(self.name, f"if every fold of {self.name} gives by one caliper at the outer edge of its tab, its farthest "
                       "plane sinks by {figure}", sway(self, self.count * sizes["spacing"]))

    # ---- what it offers

    def measures(self) -> dict[str, Expr]:
        """Depth from the crease to the farthest plane, and the distance of the farthest edge from it when closed."""
        return {"depth": self.count * self["spacing"],
                "reach": ex.largest(*(number * self["spacing"] + self.tall(number) for number in self.numbers))}

    def stretch(self) -> tuple[Expr, Expr]:
        """The planes' own width."""
        return self["at"], self["at"] + self["width"]

    def glued(self) -> Iterator[Area]:
        """Under the feet, and on every plane where strips are glued to it."""
        depth, end = self.habit("tab.depth"), self["at"] + self["width"]
        for number in range(1, self.count + 1) if self.standing else ():
            yield foot_area(self, self.side, self["at"], end, number * self["spacing"])
        if self.centred:
            for side in OTHER:
                yield Area(side, (self["at"], end), (ZERO, Const(depth)))
        along = (self.strip_start - self["at"], self.strip_start - self["at"] + self["strip_length"])
        for level in self.levels.values():
            for number in self.numbers:  # the tab of the strip behind it points up, that of the strip in front down
                low = level - depth if number < self.count else level
                yield Area(self.plane(number), along, (low, level + depth if number else level))
            if not self.centred:
                yield Area(OTHER[self.side], (self.strip_start, self.strip_start + self["strip_length"]), (level - depth, level))

    def area(self) -> Expr:
        """Planes and strips with their tabs."""
        depth = self.habit("tab.depth")
        planes = sum((self["width"] * (self.tall(number) + depth) for number in self.numbers), ZERO)
        return planes + self.count * len(self.levels) * self["strip_length"] * (self["strip_width"] + 2 * depth)

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """The largest plane, and a strip."""
        depth = self.habit("tab.depth")
        yield "rearmost plane", self["width"], self["height"] + depth
        yield "strip", self["strip_length"], self["strip_width"] + 2 * depth

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """All planes, a foot tab, and two sheets at every level of strips."""
        return (int(choices["planes"]) + 2 + 2 * int(choices["strips"])) * caliper

    def faces(self) -> dict[str, Face]:
        """All planes as seen from in front, v from the page upwards."""
        host, half, faces = self.crease, self["width"] / 2, {}
        for number in self.numbers:
            place = (Closed(self["at"], number * self["spacing"], ZERO) if self.side == "right" else
                     Closed(self["at"] + self["width"], number * self["spacing"], Const(Fraction(180)), True))
            name, band = self.plane(number), self.band(number)
            faces[name.split(".")[1]] = Face(name, host.closed.then(place), (half, band / 2), (half, band),
                                             within=rectangle_within(Box((ZERO, self["width"]), (ZERO, band))))
        return faces

    def creases(self) -> dict[str, Crease]:
        """Corners of a centre wall, feet, and the ledges in front of each plane."""
        return {**(self._corners() if self.centred else {}), **(self._feet() if self.standing else {}), **self._ledges()}

    def _crease(self, place: Closed, page: Side, wall: Side, room: Limits | None, side: str = "") -> Crease:
        """A crease between something parallel to the page (of `side`, or of the planes) and something parallel to the wall."""
        left, right = (page, wall) if (side or self.side) == "left" else (wall, page)
        opening = half_opening(self.crease.opening) if self.centred else self.crease.opening
        return Crease(self.crease.closed.then(place), left, right, opening, room=room)

    def _corners(self) -> dict[str, Crease]:
        inset, other = self.habit("tab.inset"), OTHER[self.side]
        page = Side(self.wall.panel, beyond(self.wall, self["at"], ZERO))
        wall = Side(self.plane(0), strip_limits(self["width"], self.band(0), inset))
        return {"front": self._foot(0), "back": self._crease(Closed(self["at"], ZERO, ZERO), page, wall, None, other)}

    def _feet(self) -> dict[str, Crease]:
        return {f"foot{number}": self._foot(number) for number in range(1, self.count + 1)}

    def _foot(self, number: int) -> Crease:
        """Between a plane and the page in front of it; below the strip, and up to the next plane, if there is one."""
        inset, start, foot = self.habit("tab.inset"), self["at"], number * self["spacing"]
        last = number == self.count
        high = self.band(number) if last else self.lowest - self.habit("tab.depth")
        wall = Side(self.plane(number), strip_limits(self["width"], high, inset))
        page = Side(self.page.panel, self._floor(beyond(self.page, start, foot), last))
        return self._crease(Closed(start, foot, ZERO), page, wall, None if last else self._below)

    def _floor(self, outer: Limits, last: bool) -> Limits:
        taken = self.habit("tab.inset") + (self.habit("tab.depth") if self.site.choices["tabs"] == "inward" else 0)

        def limits(x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
            if not last:
                yield d, self["spacing"] - taken, "the next plane"
            yield from outer(x, d)

        return limits

    def _below(self, x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
        """What is no longer than the strip is high, nor than the next plane is far, never touches either."""
        yield d, ex.smallest(self.lowest, self["spacing"]), "through the strip above or the plane in front"

    def _before(self, x: Expr, d: Expr) -> Iterator[tuple[Expr, Expr, str]]:
        yield d, self["spacing"], "through the plane in front"

    def _ledges(self) -> dict[str, Crease]:
        """On top of the upper strip, at the plane (or page) behind it."""
        inset, long, out = self.habit("tab.inset"), self["strip_length"], {}
        for number in range(1, self.count + 1):
            strip = Side(self.own(f"strip{number}"), strip_limits(long, self["strip_width"], inset))
            wall = Side(self.plane(number - 1), strip_limits(long, self.band(number - 1) - self["level"], inset))
            if number == self.rear:
                wall = Side(self.wall.panel, beyond(self.wall, self.strip_start, self["level"]))
            place = Closed(self.strip_start, (number - 1) * self["spacing"] + self["level"], ZERO)
            out[f"ledge{number}"] = self._crease(place, strip, wall, self._before)
        return out
