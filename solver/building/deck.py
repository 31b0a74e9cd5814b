"""A creased sheet on two or three upright walls: the parts of a platform, flat and standing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction

from shapely.geometry import LineString

from foldwright.solver.building.floating import add_comb, comb_marks, pose_comb
from foldwright.solver.building.plain import Band, halves, pieces, plain_bands
from foldwright.solver.building.tabs import edge_tab, foot_cut
from foldwright.solver.card import Bond, Panel, Placement, Step, Vector
from foldwright.solver.expression import Const
from foldwright.solver.flat import Flat, Frame, Pose, Seam
from foldwright.solver.geometry import Fold, rectangle
from foldwright.solver.host import Site
from foldwright.solver.mechanism import Mechanism

ZERO = Const(Fraction(0))
SIDES = ("left", "right")


class Deck(Mechanism):
    """What a platform is made of: its sheet, a support on either page, and perhaps a wall on the crease."""

    def __init__(self, site: Site) -> None:
        super().__init__(site)
        self.centred = site.choices["supports"] == "three"
        art = site.art
        half = art.aspect * self["width"] / 2 if art else ZERO
        self.foot = {"right": self["spread"], "left": self["left_spread"]}
        self.over = {"right": self["overhang"], "left": self["left_overhang"]}
        self.edge = {side: half if art else self.foot[side] + self.over[side] for side in SIDES}  # from the sheet's crease
        self.start = self["at"] + self["end_overhang"]
        self.long = self["width"] - 2 * self["end_overhang"]  # of the supports
        self.bands: tuple[Band, ...] = plain_bands(art) if art else ()

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """The sheet, u along the crease, v across it, the right half below; and two or three strips, v upwards."""
        flat = Flat(papers=dict.fromkeys(map(self.own, self._parts()), self.site.paper))
        self._sheet(flat, sizes)
        for side in SIDES:
            self._support(flat, sizes, side)
        if self.centred:
            self._centre(flat, sizes)
        self._sides(flat, sizes)
        flat.steps = list(self._steps())
        return flat

    def shown(self, parts: Iterable[str]) -> dict[str, str]:
        """Sheet and walls are printed outside; a support in the middle is seen as the reader sees it."""
        return {part: "front" for part in parts if part != self.own("centre_support")}

    def _parts(self) -> tuple[str, ...]:
        return ("sheet", "right_support", "left_support", *(("centre_support",) if self.centred else ()))

    def _edges(self, sizes: Mapping[str, float]) -> dict[str, float]:
        if self.site.art is not None:
            return dict.fromkeys(SIDES, sizes["width"] * self.site.art.outline.bounds[3] / 2)
        return {"left": sizes["left_spread"] + sizes["left_overhang"], "right": sizes["spread"] + sizes["overhang"]}

    def _sheet(self, flat: Flat, sizes: Mapping[str, float]) -> None:
        part, width, edges, art = self.own("sheet"), sizes["width"], self._edges(sizes), self.site.art
        whole = rectangle(0, -edges["right"], width, edges["left"]) if art is None else art.placed(width, 0, -edges["right"])
        if art is not None:
            flat.drawn[part] = [art.drawn(width, 0, -edges["right"])]
        two = halves(whole)
        flat.panels += [Panel(self.own(side), part, pieces(two[side])[0]) for side in SIDES]
        crease = two["left"].intersection(LineString([(-1, 0), (width + 1, 0)]))
        for run in getattr(crease, "geoms", [crease]):
            if run.length > 0:
                flat.seams.append(Seam(self.own("right"), self.own("left"), run.coords[0], run.coords[-1]))

    def _support(self, flat: Flat, sizes: Mapping[str, float], side: str) -> None:
        """Foot tab, wall, top tab; the printed face looks away from the crease."""
        part, wall, long = self.own(f"{side}_support"), self.own(f"{side}_wall"), self._long(sizes)
        height, foot = sizes[f"{side}_height"], sizes["spread" if side == "right" else "left_spread"]
        flat.panels.append(Panel(wall, part, rectangle(0, 0, long, height)))
        for name, v, away, onto in (("tab", 0.0, -1.0, getattr(self.crease, side).panel), ("top", height, 1.0, self.own(side))):
            tab, first, last = edge_tab(self, (0, v), (long, v), (0, away))
            flat.panels.append(Panel(self.own(f"{side}_{name}"), part, tab, tab=True))
            flat.seams.append(Seam(wall, self.own(f"{side}_{name}"), first, last))
            flat.bonds.append(Bond(self.own(f"{side}_{name}"), onto))
        start = sizes["at"] + sizes["end_overhang"]
        base, sign = (start, 1) if side == "right" else (start + long, -1)
        line = ((base + sign * first[0], foot), (base + sign * last[0], foot))
        flat.cuts.append(foot_cut(self, side, line, self.own(f"{side}_tab")))

    def _long(self, sizes: Mapping[str, float]) -> float:
        return sizes["width"] - 2 * sizes["end_overhang"]

    def _centre(self, flat: Flat, sizes: Mapping[str, float]) -> None:
        """The wall on the crease, with tabs for both sides at either end."""
        part, wall, long, height = self.own("centre_support"), self.own("centre"), self._long(sizes), sizes["height"]
        flat.panels.append(Panel(wall, part, rectangle(0, 0, long, height)))
        add_comb(self, flat, part, wall, (long, 0, -1), {side: getattr(self.crease, side).panel for side in SIDES})
        add_comb(self, flat, part, wall, (long, height, 1), {side: self.own(side) for side in SIDES})
        flat.cuts.extend(comb_marks(self, long, sizes["at"] + sizes["end_overhang"]))

    def _sides(self, flat: Flat, sizes: Mapping[str, float]) -> None:
        start, long, width = sizes["at"] + sizes["end_overhang"], self._long(sizes), sizes["width"]
        flat.sides = {
            ("crease", "left"): Frame(self.own("left"), (0, 0), (1, 0), (0, 1)),
            ("crease", "right"): Frame(self.own("right"), (0, 0), (1, 0), (0, -1)),
            ("right_foot", "left"): Frame(self.own("right_wall"), (0, 0), (1, 0), (0, 1)),
            ("right_foot", "right"): Frame("host.right", (start, sizes["spread"]), (1, 0), (0, 1)),
            ("left_foot", "left"): Frame("host.left", (start, sizes["left_spread"]), (1, 0), (0, 1)),
            ("left_foot", "right"): Frame(self.own("left_wall"), (long, 0), (-1, 0), (0, 1)),
        }
        if self.centred:
            wall = Frame(self.own("centre"), (0, 0), (1, 0), (0, 1))
            flat.sides |= {("left_corner", "left"): Frame("host.left", (start, 0), (1, 0), (0, 1)),
                           ("left_corner", "right"): wall, ("right_corner", "left"): wall,
                           ("right_corner", "right"): Frame("host.right", (start, 0), (1, 0), (0, 1))}
        flat.faces = {"left": Frame(self.own("left"), (0, 0), (1, 0), (0, 1)),
                      "right": Frame(self.own("right"), (width, 0), (-1, 0), (0, -1))}

    def _steps(self) -> Iterator[Step]:
        sheet, *supports = map(self.own, self._parts())
        if self.centred:
            yield Step(f"Fold the tabs of {supports[-1]} to the left and to the right by turns, at both ends alike; stand it on "
                       "the crease and glue its feet to their marks.", (supports[-1],))
        feet = ("pass the foot tabs through their slits and glue them behind" if self.site.choices["joint"] == "slotted"
                else "glue the foot tabs to their marks")
        yield Step(f"Fold {supports[0]} and {supports[1]}: foot tabs {self.site.choices['tabs']}, top tabs "
                   f"{self.site.choices['top_tabs']}; {feet}.", tuple(supports[:2]))
        first = f"first the tabs of {supports[-1]} along its crease, then" if self.centred else "one support first,"
        yield Step(f"Fold {sheet} downwards and back. Glue it on its supports: {first} each support as far from its crease as "
                   "its foot lies from the crease below. Close the card while the glue sets, so that the last tab finds its "
                   "place.", (sheet, *supports))

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """Every wall stands upright on the bisector of the host; the sheet is the host once more, higher up."""
        height, up = sizes["height"], host.z
        begin = host.origin + sizes["at"] * host.x
        crease = begin + height * up
        pose = Pose()
        pose.placements[self.own("left")] = Placement(crease, host.x, host.left)
        pose.placements[self.own("right")] = Placement(crease, host.x, -host.right)
        pose.folds["crease"] = Fold(crease, host.x, host.z, host.opening)
        start = begin + sizes["end_overhang"] * host.x
        for side, foot in (("left", sizes["left_spread"]), ("right", sizes["spread"])):
            page = host.left if side == "left" else host.right
            self._pose_support(pose, side, start + foot * page, host.x, page, up, sizes)
            pose.folds[f"{side}_foot"] = host.half(side, start + foot * page)
            if self.centred:
                pose.folds[f"{side}_corner"] = host.half(side, start)
        if self.centred:
            pose.placements[self.own("centre")] = Placement(start, host.x, up)
            pose_comb(self, pose, self.own("centre"), (self._long(sizes), 0, -1), start, host)
            pose_comb(self, pose, self.own("centre"), (self._long(sizes), height, 1), start + height * up, host)
        return pose

    def _pose_support(self, pose: Pose, side: str, foot: Vector, along: Vector, page: Vector, up: Vector,
                      sizes: Mapping[str, float]) -> None:
        height = sizes[f"{side}_height"]
        if side == "left":  # seen from outside, u runs the other way
            foot, along = foot + self._long(sizes) * along, -along
        turns = {"tab": -1.0 if self.site.choices["tabs"] == "outward" else 1.0,
                 "top": 1.0 if self.site.choices["top_tabs"] == "outward" else -1.0}
        pose.placements[self.own(f"{side}_wall")] = Placement(foot, along, up)
        pose.placements[self.own(f"{side}_tab")] = Placement(foot, along, turns["tab"] * page)
        onward = turns["top"] * page
        pose.placements[self.own(f"{side}_top")] = Placement(foot + height * (up - onward), along, onward)
