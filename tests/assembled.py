"""Mechanisms put together as a maker does, for the solver of rigid panels (rigid.py).

A `Bench` takes a stand's flat parts: panels keep the lengths of the cut sheet, creases join panels, feet stand on the
marks drawn on their host; what else is glued where, each mechanism's file in `drawn` says in the guide's words. It
starts from a guess made by hand ("the ridge stands about a wall's width above the page"), shaken by up to 3 mm along
each axis with the seed of the set; no pose of a mechanism enters it.
"""

from __future__ import annotations

from collections.abc import Callable

from by_hand import Stand, at
from rigid import Assembly, Solved, on_page, weights

from foldwright.solver.card import Panel, Point, Vector

OPENINGS = (180.0, 165.0, 145.0, 120.0, 95.0, 70.0, 50.0, 35.0, 22.0, 14.0, 9.0, 6.0, 4.0, 2.8, 2.0, 1.4, 1.0)
# mm. Rounding of coordinates near 500 mm is 1e-13; near its change point a linkage magnifies it by up to 1 / STIFFNESS,
# about 1e3 at one degree. The largest deviation seen is 4e-11; the factor of 250 is for other machines' rounding.
AGREE = 1e-8
SOLVED = 1e-9  # mm; a residual of an assembly that fits is rounding only
STIFF = 1e-5  # least singular value: an assembly with a free motion has 0 (1e-16), at one degree these keep 1e-4 or more
FIRM = (165.0, 50.0, 1.0)  # openings at which stiffness is looked at
SHAKE = 3.0  # mm

Guess = Callable[[str, float, float], Vector]  # panel without its owner's name, u, v -> a place in space, mm
Join = Callable[["Bench", Stand], None]


def _nothing(bench: Bench, link: Stand) -> None:
    """Feet on their marks are all that holds most mechanisms."""


def name_of(panel: Panel, point: Point) -> str:
    """Points of one part are the same point if they lie at the same place of the sheet."""
    return f"{panel.part}({point[0] + 0.0:.6f},{point[1] + 0.0:.6f})"


class Bench:
    """Puts the parts of a stand together in an assembly, from the cover inwards."""

    def __init__(self, mine: Stand, guesses: dict[str, Guess], joins: dict[str, Join]) -> None:
        self.mine, self.guesses = mine, guesses
        self.assembly = Assembly()
        self.panels = {panel.name: panel for link in mine.chain for panel in link.flat.panels}
        self.points: dict[str, dict[str, Point]] = {name: {} for name in self.panels}
        self.edges: dict[str, tuple[Panel, Point, Point]] = {}  # of each tab: the panel that it hangs on, and its crease
        for link in mine.chain[1:]:
            self.creases(link)
        for link in mine.chain[1:]:
            self.feet(link)
            joins.get(link.name, _nothing)(self, link)
        for points in self.points.values():
            if points:
                self.assembly.panel(points)

    def add(self, panel: Panel, point: Point) -> str:
        name = name_of(panel, point)
        self.points[panel.name][name] = point
        if name not in self.assembly.guesses and name not in self.assembly.known:
            self.assembly.free(name, self.guesses[panel.name.split(".")[0]](panel.name.split(".")[1], *point))
        return name

    def creases(self, link: Stand) -> None:
        for seam in link.flat.seams:
            if self.panels[seam.right].tab:
                self.edges[seam.right] = (self.panels[seam.left], seam.start, seam.end)
            for side in (seam.left, seam.right):
                if not self.panels[side].tab:
                    for end in (seam.start, seam.end):
                        self.add(self.panels[side], end)

    def feet(self, link: Stand) -> None:
        """Foot edges on the marks that the maker finds on the host."""
        for cut in link.flat.cuts:
            if cut.tab:
                frame, (panel, *ends) = link.page(cut.side), self.edges[cut.tab]
                for end, mark in zip(ends, cut.points, strict=True):
                    self.glue(panel, end, frame.panel, frame.at(*mark))

    def glue(self, panel: Panel, point: Point, host: str, place: Point) -> None:
        """A point of a panel lies at a place of another panel, or of a page."""
        name = self.add(panel, point)
        if host.startswith("cover."):
            side = host.split(".")[1]
            self.assembly.pin(name, on_page(side, place[0], abs(place[1])))
        else:
            self.assembly.join(((name, 1.0),), weights(self.points[host], place))

    def follow(self, seed: int, openings: tuple[float, ...] = OPENINGS) -> list[Solved]:
        self.assembly.shaken(SHAKE, seed)
        return list(self.assembly.track(openings))

    def deviation(self, solved: Solved) -> float:
        """Largest distance in a coordinate between the pose and the solved points."""
        placed = self.mine.placements(solved.opening)
        off = [abs(at(placed[name], point) - solved.points[label]).max()
               for name, points in self.points.items() for label, point in points.items()]
        assert len(off) > 3
        return float(max(off))
