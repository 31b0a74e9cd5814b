"""Planes one behind the other and the strips between them: the parts of a scene, flat and standing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from shapely import unary_union
from shapely.geometry import Polygon

from foldwright.solver.building.floating import add_comb, comb_marks, pose_comb
from foldwright.solver.building.tabs import edge_tab, foot_cut
from foldwright.solver.card import Bond, Drawn, Line, Panel, Placement, Step, Stroke, Vector
from foldwright.solver.expression import Const
from foldwright.solver.flat import Flat, Frame, Pose, Seam
from foldwright.solver.geometry import Fold, rectangle
from foldwright.solver.host import Side, Site
from foldwright.solver.mechanism import Mechanism

ZERO = Const(Fraction(0))
GRID = 1e-6  # mm; artwork is joined to its plane on this grid, far below what any machine cuts
OTHER = {"left": "right", "right": "left"}


class Planes(Mechanism):
    """What a scene is made of: its planes by number (0 is the wall on the crease), and the strips behind them."""

    def __init__(self, site: Site) -> None:
        super().__init__(site)
        words = site.choices
        self.side, self.count = words["side"], int(words["planes"])
        self.centred, self.standing = words["parallel"] == "centre", words["feet"] == "yes"
        self.sense = -1.0 if self.side == "left" else 1.0  # seen from in front, u of a plane runs along the crease or against it
        self.rear = 0 if self.centred else 1  # number of the rearmost plane; a centre wall is number 0
        self.numbers = range(self.rear, self.count + 1)
        art = site.art
        self.art_height = art.aspect * self["width"] if art else ZERO
        self.levels = {"strip": self["level"]} | ({"lower": self["lower_level"]} if words["strips"] == "2" else {})
        self.lowest = self["lower_level"] if words["strips"] == "2" else self["level"]
        self.strip_start = self["at"] + (self["width"] - self["strip_length"]) / 2

    def plane(self, number: int) -> str:
        """Full name of a plane; number 0 is the wall on the crease."""
        return self.own(f"plane{number}" if number else "centre")

    @property
    def page(self) -> Side:
        """The panel that the planes stand on."""
        out: Side = getattr(self.crease, self.side)
        return out

    @property
    def wall(self) -> Side:
        """The other panel of the host."""
        out: Side = getattr(self.crease, OTHER[self.side])
        return out

    # ---- the flat side

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """Each plane and strip is a part: planes with v up, strips with v from the plane behind to the one in front."""
        flat = Flat()
        for number in self.numbers:
            self._plane(flat, sizes, number)
        for kind, level in self._heights(sizes).items():
            for number in range(1, self.count + 1):
                self._strip(flat, sizes, kind, number, level)
        self._sides(flat, sizes)
        flat.steps = list(self._steps())
        return flat

    def _heights(self, sizes: Mapping[str, float]) -> dict[str, float]:
        return {kind: sizes["level" if kind == "strip" else "lower_level"] for kind in self.levels}

    def _outline(self, sizes: Mapping[str, float], number: int) -> Polygon:
        width, art = sizes["width"], self.site.art
        foot = float(self.habit("tab.inset")) if number and not self.standing else 0.0
        tall = sizes["height"] - (number - self.rear) * sizes["drop"]
        if art is None:
            return rectangle(0, foot, width, tall)
        band = tall - width * float(art.aspect)
        return unary_union([rectangle(0, foot, width, band), art.placed(width, 0, band)], grid_size=GRID)

    def _drawn(self, sizes: Mapping[str, float], number: int) -> list[Drawn]:
        """The artwork in a plane's outline."""
        width, art = sizes["width"], self.site.art
        tall = sizes["height"] - (number - self.rear) * sizes["drop"]
        return [] if art is None else [art.drawn(width, 0, tall - width * float(art.aspect))]

    def _plane(self, flat: Flat, sizes: Mapping[str, float], number: int) -> None:
        name, width = self.plane(number), sizes["width"]
        flat.papers[name] = self.site.paper
        flat.drawn[name] = self._drawn(sizes, number)
        flat.panels.append(Panel(name, name, self._outline(sizes, number)))
        flat.faces[name.split(".")[1]] = Frame(name, (0, 0), (1, 0), (0, 1))
        if number == 0:
            panels = {side: getattr(self.crease, side).panel for side in OTHER}
            add_comb(self, flat, name, name, (width, 0, -1), panels)
            flat.cuts.extend(comb_marks(self, width, sizes["at"], self.sense))
        elif self.standing:
            tab, first, last = edge_tab(self, (0, 0), (width, 0), (0, -1))
            flat.panels.append(Panel(f"{name}_tab", name, tab, tab=True))
            flat.seams.append(Seam(name, f"{name}_tab", first, last))
            flat.bonds.append(Bond(f"{name}_tab", self.page.panel))
            line = self._on_page(sizes["at"], width, (first[0], last[0]), number * sizes["spacing"], self.side == "left")
            flat.cuts.append(foot_cut(self, self.side, line, f"{name}_tab"))

    @staticmethod
    def _on_page(start: float, long: float, us: tuple[float, float], d: float,
                 turned: bool) -> tuple[tuple[float, float], tuple[float, float]]:
        """Places along the crease of the two ends of an edge whose u runs along it, or against it if turned."""
        first, last = (start + long - u if turned else start + u for u in us)
        return (first, d), (last, d)

    def _strip(self, flat: Flat, sizes: Mapping[str, float], kind: str, number: int, level: float) -> None:
        """Tab (down behind), strip, tab (up in front): both lie flat when the card is closed."""
        name, long, deep = self.own(f"{kind}{number}"), sizes["strip_length"], sizes["strip_width"]
        flat.papers[name] = self.site.paper
        flat.panels.append(Panel(name, name, rectangle(0, 0, long, deep)))
        behind = self.wall.panel if number == self.rear else self.plane(number - 1)
        for end, v, away, onto in (("behind", 0.0, -1.0, behind), ("before", deep, 1.0, self.plane(number))):
            tab, first, last = edge_tab(self, (0, v), (long, v), (0, away))
            flat.panels.append(Panel(f"{name}_{end}", name, tab, tab=True))
            flat.seams.append(Seam(name, f"{name}_{end}", first, last))
            flat.bonds.append(Bond(f"{name}_{end}", onto))
        if number == self.rear:
            start = sizes["at"] + (sizes["width"] - long) / 2
            line = self._on_page(start, long, (first[0], last[0]), level, self.side == "right")
            flat.cuts.append(foot_cut(self, OTHER[self.side], line, f"{name}_behind"))
        else:
            margin = (sizes["width"] - long) / 2
            mark = tuple((margin + u, level) for u in sorted((first[0], last[0])))
            flat.lines.setdefault(behind, []).append(Line(mark, Stroke.MARK))

    def _sides(self, flat: Flat, sizes: Mapping[str, float]) -> None:
        at, width, long, level = (sizes[name] for name in ("at", "width", "strip_length", "level"))
        start, turned = at + (width - long) / 2, self.side == "left"

        def on_plane(number: int, x: float, v: float) -> Frame:
            return Frame(self.plane(number), (width - (x - at) if turned else x - at, v), (-1 if turned else 1, 0), (0, 1))

        def put(crease: str, page: Frame, wall: Frame, side: str = self.side) -> None:
            pair = (page, wall) if side == "left" else (wall, page)
            flat.sides |= {(crease, "left"): pair[0], (crease, "right"): pair[1]}

        if self.centred:
            put("front", Frame(f"host.{self.side}", (at, 0), (1, 0), (0, 1)), on_plane(0, at, 0))
            put("back", Frame(f"host.{OTHER[self.side]}", (at, 0), (1, 0), (0, 1)), on_plane(0, at, 0), OTHER[self.side])
        for number in range(1, self.count + 1):
            if self.standing:
                page = Frame(f"host.{self.side}", (at, number * sizes["spacing"]), (1, 0), (0, 1))
                put(f"foot{number}", page, on_plane(number, at, 0))
            strip = Frame(self.own(f"strip{number}"), (0 if turned else long, 0), (1 if turned else -1, 0), (0, 1))
            wall = (Frame(f"host.{OTHER[self.side]}", (start, level), (1, 0), (0, 1)) if number == self.rear
                    else on_plane(number - 1, start, level))
            put(f"ledge{number}", strip, wall)

    def _steps(self) -> Iterator[Step]:
        planes = [self.plane(number) for number in self.numbers]
        strips = [self.own(f"{kind}{number}") for kind in self.levels for number in range(1, self.count + 1)]
        if self.centred:
            yield Step(f"Fold the tabs of {planes[0]} to the left and to the right by turns; stand it on the crease and glue "
                       "them to their marks.", (planes[0],))
        yield Step(f"Fold the tabs of the strips of {self.name}, one down and one up, and glue the one that points down to its "
                   "mark: on the plane or page behind, the strip square to it.", (*planes, *strips))
        feet = ""
        if self.standing:
            feet = (f", fold its foot tab {self.site.choices['tabs']}, "
                    + ("pass it through its slit and glue it behind" if self.site.choices["joint"] == "slotted"
                       else "glue it to its mark"))
        yield Step(f"Plane by plane, from the crease outwards: glue {self.name}'s next plane to the free tab of each strip "
                   f"behind it{feet}; close the card while the glue sets.", (*planes, *strips))

    # ---- the standing side

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """Planes are the wall (or the other page) moved along the page; strips are the page moved along the wall."""
        page, other = (host.left, host.right) if self.side == "left" else (host.right, host.left)
        up = host.z if self.centred else other
        at, width, deep = sizes["at"], sizes["width"], sizes["spacing"]
        begin = host.origin + at * host.x
        corner = begin + width * host.x if self.side == "left" else begin
        pose = Pose()
        for number in self.numbers:
            name, foot = self.plane(number), corner + number * deep * page
            pose.placements[name] = Placement(foot, self.sense * host.x, up)
            if number and self.standing:
                turn = 1.0 if self.site.choices["tabs"] == "inward" else -1.0
                pose.placements[f"{name}_tab"] = Placement(foot, self.sense * host.x, turn * page)
                pose.folds[f"foot{number}"] = self._fold(host, begin + number * deep * page)
        if self.centred:
            pose_comb(self, pose, self.plane(0), (width, 0, -1), corner, host, self.sense)
            pose.folds |= {"front": self._fold(host, begin), "back": self._fold(host, begin, OTHER[self.side])}
        self._pose_strips(pose, sizes, host, page, up)
        return pose

    def _fold(self, host: Fold, origin: Vector, side: str = "") -> Fold:
        return host.half(side or self.side, origin) if self.centred else Fold(origin, host.x, host.z, host.opening)

    def _pose_strips(self, pose: Pose, sizes: Mapping[str, float], host: Fold, page: Vector, up: Vector) -> None:
        long, deep = sizes["strip_length"], sizes["strip_width"]
        start = host.origin + (sizes["at"] + (sizes["width"] - long) / 2) * host.x
        for kind, level in self._heights(sizes).items():
            for number in range(1, self.count + 1):
                name, edge = self.own(f"{kind}{number}"), start + (number - 1) * sizes["spacing"] * page + level * up
                if kind == "strip":
                    pose.folds[f"ledge{number}"] = self._fold(host, edge)
                corner = edge if self.side == "left" else edge + long * host.x
                along = -self.sense * host.x  # seen from above, the strips run the other way
                pose.placements[name] = Placement(corner, along, page)
                pose.placements[f"{name}_behind"] = Placement(corner, along, up)
                pose.placements[f"{name}_before"] = Placement(corner + deep * (page - up), along, up)
