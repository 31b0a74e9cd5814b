"""Solution → Card: dimensions become panels, parts, creases and poses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import atan2, degrees

import numpy as np
import shapely
from shapely import unary_union
from shapely.geometry import Polygon

from foldwright.solver.bind import Bound
from foldwright.solver.card import (
    Card,
    CheckedRule,
    Hinge,
    Line,
    Panel,
    Part,
    Placement,
    Point,
    Step,
    Stroke,
    Vector,
)
from foldwright.solver.evaluate import evaluate, slack
from foldwright.solver.geometry import Fold
from foldwright.solver.mechanism import Flat, Frame, Mechanism
from foldwright.solver.model import Solution

GRID = 1e-6  # mm; outlines of one part are joined on this grid, far below what any machine cuts
STACK_CELL = 2.0  # mm between the places where the closed stack is counted
SIGN_ANGLES = (0.1, 0.25, 0.5, 0.75, 0.9)  # shares of the swing at which the sense of a crease is read


def settle(bound: Bound, solution: Solution) -> Card:
    """The solved card with every part and pose."""
    return Settler(bound, solution).card()


@dataclass(frozen=True)
class Stander:
    """Places every panel of the card at an opening angle."""

    mechanisms: tuple[Mechanism, ...]
    hosts: Mapping[str, tuple[str, str]]
    sizes: Mapping[str, dict[str, float]]
    flats: Mapping[str, Flat]

    def __call__(self, angle: float) -> dict[str, Placement]:
        """Placements by panel; `angle` in degrees."""
        spine = Fold(np.zeros(3), np.array([1.0, 0, 0]), np.array([0, 0, 1.0]), float(angle))
        folds: dict[tuple[str, str], Fold] = {}
        placements: dict[str, Placement] = {}
        for mechanism in self.mechanisms:
            host = self._host(mechanism, spine, folds, placements)
            pose = mechanism.pose(self.sizes[mechanism.name], host)
            placements |= pose.placements
            folds |= {(mechanism.name, crease): fold for crease, fold in pose.folds.items()}
        return placements

    def _host(self, mechanism: Mechanism, spine: Fold, folds: Mapping[tuple[str, str], Fold],
              placements: Mapping[str, Placement]) -> Fold:
        if mechanism.name not in self.hosts:
            return spine
        owner, place = self.hosts[mechanism.name]
        if "face" not in mechanism.stands_on:
            return folds[owner, place]
        frame = self.flats[owner].faces[place]
        panel = placements[frame.panel]
        right_handed = frame.first[0] * frame.second[1] - frame.first[1] * frame.second[0]
        x = right_handed * (frame.first[0] * panel.along + frame.first[1] * panel.up)
        y = frame.second[0] * panel.along + frame.second[1] * panel.up
        return Fold(panel.points(np.array([frame.origin]))[0], x, np.cross(x, y), 0.0)


class Settler:
    """The work of `settle`, stage by stage."""

    def __init__(self, bound: Bound, solution: Solution) -> None:
        self.bound = bound
        self.solution = solution
        self.mechanisms = {m.name: m for m in bound.mechanisms}
        self.sizes: dict[str, dict[str, float]] = {}
        self.flats: dict[str, Flat] = {}
        for mechanism in bound.mechanisms:  # hosts come first
            self.sizes[mechanism.name] = self._sizes(mechanism)
            self.flats[mechanism.name] = mechanism.build(self.sizes[mechanism.name])
        self.stander = Stander(bound.mechanisms, bound.hosts, self.sizes, self.flats)
        self.panels = [panel for flat in self.flats.values() for panel in flat.panels]
        self.part_of = {panel.name: panel.part for panel in self.panels}
        self.opens = float(self.mechanisms["cover"].site.choices["opens"])

    def _sizes(self, mechanism: Mechanism) -> dict[str, float]:
        """Values of everything that a mechanism builds from, in mm and degrees."""
        cover = mechanism.site.cover or self.mechanisms["cover"].environment()  # type: ignore[attr-defined]
        exprs = {**mechanism.site.parameters, **{f"cover.{k}": e for k, e in cover.items()}, **mechanism.needs()}
        sizes = {name: float(evaluate(expr, self.solution.values)) for name, expr in exprs.items()}
        if mechanism.site.face is not None:
            owner, place = self.bound.hosts[mechanism.name]
            sizes["face.sign"] = _handed(self.flats[owner].faces[place])
        return sizes

    def card(self) -> Card:
        """Everything put together."""
        values, cover = self.solution.values, self.sizes["cover"]
        hinges = self._hinges()
        steps = tuple(self._steps())
        return Card(
            title=self.bound.design.title,
            unit=self.bound.design.unit or "mm",
            opens=self.opens,
            cover=(cover["width"], cover["height"]),
            clear=cover["clear"],
            gusset=2 * cover["strip"] if self.mechanisms["cover"].site.choices["spine"] == "gusset" else 0.0,
            mat=(float(self.bound.mat[0]), float(self.bound.mat[1])),
            papers=tuple(self.bound.papers.values()),
            dimensions=self._dimensions(),
            rules=tuple(CheckedRule(rule, *(float(x) for x in slack(rule, values))) for rule in self.bound.model.rules),
            wishes=self.solution.wishes,
            parts=tuple(self._parts(hinges, steps)),
            panels=tuple(self.panels),
            hinges=tuple(hinges),
            bonds=tuple(bond for flat in self.flats.values() for bond in flat.bonds),
            crossings=tuple(crossing for flat in self.flats.values() for crossing in flat.crossings),
            steps=steps,
            practice={name: float(value) for name, value in self.bound.habits.items()},
            stack=self._stack(),
            pose=self.stander,
        )

    def _dimensions(self) -> dict[str, tuple[Fraction, str]]:
        """Every parameter of every mechanism, computed ones included, by name."""
        out = {}
        for mechanism in self.bound.mechanisms:
            for parameter in mechanism.parameters:
                value = evaluate(mechanism[parameter.name], self.solution.values)
                exact = value if isinstance(value, Fraction) else Fraction(value).limit_denominator(10**6)
                if parameter.name == "strip" and mechanism.site.choices.get("spine") == "plain":
                    continue
                out[f"{mechanism.name}.{parameter.name}"] = (exact, "°" if parameter.dimension == "angle" else "mm")
        return out

    # ---- creases

    def _hinges(self) -> list[Hinge]:
        angles = [share * self.opens for share in SIGN_ANGLES]
        poses = [self.stander(angle) for angle in angles]
        outlines = {panel.name: panel.outline for panel in self.panels}
        hinges = []
        for flat in self.flats.values():
            for seam in flat.seams:
                turns = [fold_turn(pose[seam.left], pose[seam.right], outlines[seam.left], seam.start, seam.end)
                         for pose in poses]
                strongest = max(turns, key=abs)
                stroke = Stroke.MOUNTAIN if strongest > 0 else Stroke.VALLEY
                hinges.append(Hinge(seam.left, seam.right, seam.start, seam.end, stroke))
        return hinges

    # ---- parts

    def _resolve(self, name: str, crease: str, side: str) -> Frame:
        """Axes of a crease's side on a real panel, through hosts that are only passed on."""
        frame = self.flats[name].sides[crease, side]
        while frame.panel.startswith("host."):
            outer = self._resolve(*self.bound.hosts[name], frame.panel.removeprefix("host."))
            origin = outer.at(*frame.origin)
            axes = []
            for axis in (frame.first, frame.second):
                x, y = outer.at(*axis)
                axes.append((x - outer.origin[0], y - outer.origin[1]))
            frame = Frame(outer.panel, origin, axes[0], axes[1])
        return frame

    def _lines(self, hinges: list[Hinge]) -> dict[str, list[Line]]:
        lines: dict[str, list[Line]] = {panel.part: [] for panel in self.panels}
        for hinge in hinges:
            lines[self.part_of[hinge.left]].append(Line((hinge.start, hinge.end), hinge.stroke))
        for name, flat in self.flats.items():
            for cut in flat.cuts:
                frame = self._resolve(*self.bound.hosts[name], cut.side)
                points = tuple(frame.at(*point) for point in cut.points)
                lines[self.part_of[frame.panel]].append(Line(points, cut.stroke))
        return lines

    def _parts(self, hinges: list[Hinge], steps: tuple[Step, ...]) -> list[Part]:
        lines = self._lines(hinges)
        papers = {part: paper for flat in self.flats.values() for part, paper in flat.papers.items()}
        labels = self._labels(papers, steps)
        parts = []
        for name, paper in papers.items():
            panels = [panel for panel in self.panels if panel.part == name]
            outline = unary_union([panel.outline for panel in panels], grid_size=GRID)
            at, height = _label_place(panels, labels[name])
            parts.append(Part(name, labels[name], paper, outline, tuple(lines[name]), at, height))
        return parts

    def _labels(self, papers: Mapping[str, str], steps: tuple[Step, ...]) -> dict[str, str]:
        """Letter of the paper and running number in the order of assembly."""
        letters = {paper: chr(ord("A") + i % 26) for i, paper in enumerate(self.bound.papers)}
        labels: dict[str, str] = {}
        counts: dict[str, int] = {}
        for part in [*(part for step in steps for part in step.parts), *papers]:
            if part in papers and part not in labels:
                paper = papers[part]
                counts[paper] = counts.get(paper, 0) + 1
                labels[part] = f"{letters[paper]}{counts[paper]}"
        return labels

    def _steps(self) -> list[Step]:
        """Inner mechanisms before what they are glued into: cover and insert are prepared first and joined last."""
        first, middle, last = [], [], []
        for name, flat in self.flats.items():
            if name in self.bound.hosts and "gusset" not in self.mechanisms[name].stands_on:
                middle.extend(flat.steps)
            else:
                first.extend(flat.steps[:1])
                last.extend(flat.steps[1:])
        return first + middle + last

    # ---- the closed stack

    def _stack(self) -> float:
        """Sheets times caliper at the thickest place of the closed card, covers included, in mm."""
        placements = self.stander(0.0)
        caliper = {paper.name: paper.caliper for paper in self.bound.papers.values()}
        papers = {part: paper for flat in self.flats.values() for part, paper in flat.papers.items()}
        width, height = self.sizes["cover"]["width"], self.sizes["cover"]["height"]
        grid_x, grid_z = np.meshgrid(np.arange(STACK_CELL / 2, height, STACK_CELL), np.arange(STACK_CELL / 2, width, STACK_CELL))
        total = np.zeros_like(grid_x)
        for panel in self.panels:
            outline = np.asarray(panel.outline.exterior.coords)
            flat = placements[panel.name].points(outline)[:, [0, 2]]
            shape = Polygon(flat).buffer(0)
            if shape.is_empty:
                continue
            x0, z0, x1, z1 = shape.bounds
            near = (grid_x >= x0) & (grid_x <= x1) & (grid_z >= z0) & (grid_z <= z1)
            shapely.prepare(shape)
            total[near] += shapely.contains_xy(shape, grid_x[near], grid_z[near]) * caliper[papers[panel.part]]
        return float(total.max())


def _handed(frame: Frame) -> float:
    """1 if the frame's axes are right-handed on the printed face, else -1."""
    return frame.first[0] * frame.second[1] - frame.first[1] * frame.second[0]


def fold_turn(left: Placement, right: Placement, outline: Polygon, start: Point, end: Point) -> float:
    """How far a crease is turned, in degrees: 0 flat, positive mountain, negative valley (on the printed face).

    `outline` is the left panel's, in part coordinates; it tells on which side of the crease that panel lies.
    """
    ends = left.points(np.array([start, end]))
    along = ends[1] - ends[0]
    along = along / np.linalg.norm(along)
    normals: list[Vector] = [np.cross(placement.along, placement.up) for placement in (left, right)]
    turn = degrees(atan2(float(np.cross(normals[0], normals[1]) @ along), float(normals[0] @ normals[1])))
    centre = outline.centroid
    beside = (end[0] - start[0]) * (centre.y - start[1]) - (end[1] - start[1]) * (centre.x - start[0])
    return turn if beside > 0 else -turn


def _label_place(panels: list[Panel], text: str) -> tuple[Point, float]:
    """Where a label stands: on the largest tab if there is one (glue hides it), else inside the largest panel."""
    tabs = [panel for panel in panels if panel.tab] or panels
    host = max(tabs, key=lambda panel: panel.outline.area)
    inside = host.outline.representative_point() if not host.tab else host.outline.centroid
    room = np.sqrt(host.outline.area)
    height = float(min(3.0, room / 3))
    return (inside.x - 0.4 * height * len(text), inside.y - height / 2), height

