"""Solution → Card: dimensions become panels, parts, creases and poses."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import partial

import numpy as np
import shapely
from fontTools.misc.transform import Transform
from shapely import unary_union
from shapely.geometry import Polygon

from foldwright.grammar.problem import Refused
from foldwright.grammar.problems import FallsApart
from foldwright.solver.artnotes import art_notes, thin_places
from foldwright.solver.bind import Bound
from foldwright.solver.card import (
    Card,
    CheckedRule,
    DeadPoint,
    Drawn,
    Hinge,
    Line,
    Panel,
    Part,
    Point,
    Step,
    WaivedRule,
)
from foldwright.solver.creasing import GRID, seams, stroke
from foldwright.solver.engine.blueprint import shared
from foldwright.solver.evaluate import evaluate, slack
from foldwright.solver.expression import Expr, Variable
from foldwright.solver.flat import HOST, Flat, Frame
from foldwright.solver.frames import cut_from_host, handed, moved, within
from foldwright.solver.inked import inked
from foldwright.solver.joints import with_joints
from foldwright.solver.machine import machine
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.memory import Memory
from foldwright.solver.model import Rule, Solution
from foldwright.solver.posing import SIGN_ANGLES, Stander, usual_angles
from foldwright.solver.stack import stack_map


def settle(bound: Bound, solution: Solution, memory: Memory | None = None) -> Card:
    """The solved card with every part and pose."""
    memory = memory or Memory()
    settler = Settler(bound, solution, memory)
    card = settler.card()
    card = replace(card, notes=(*card.notes, *art_notes(card, bound.mechanisms, settler.sizes, settler.flats)))
    card = with_joints(card, memory.built)
    return replace(card, stack=stack_map(card, memory.sheets).maximum)


class Settler:
    """The work of `settle`, stage by stage."""

    def __init__(self, bound: Bound, solution: Solution, memory: Memory) -> None:
        self.bound = bound
        self.solution = solution
        self.memory = memory
        self.mechanisms = {m.name: m for m in bound.mechanisms}
        self.sizes: dict[str, dict[str, float]] = {}
        self.flats: dict[str, Flat] = {}
        self.local: dict[str, Frame] = {}
        for mechanism in bound.mechanisms:  # hosts come first
            sizes = self.sizes[mechanism.name] = self._sizes(mechanism)
            self.flats[mechanism.name] = memory.built.get(("flat", mechanism, *sizes.values()),
                                                          partial(mechanism.build, sizes))
            self._cut_from_host(mechanism.name)
        self.opens = float(self.mechanisms["cover"].site.choices["opens"])
        self.stander = Stander(bound.mechanisms, bound.hosts, self.sizes, self.flats, self.local,
                               usual_angles(self.opens, float(bound.habits["stand.margin"])), memory.built)
        self.panels = self._opened()
        self.part_of = {panel.name: panel.part for panel in self.panels}

    def _sizes(self, mechanism: Mechanism) -> dict[str, float]:
        """Values of everything that a mechanism builds from, in mm and degrees."""
        exprs, names = self.memory.built.get(("measured", mechanism), partial(self._measured, mechanism))
        values = self.solution.values
        key = ("sizes", mechanism, *[values[name] for name in names])
        known: dict[str, float] = self.memory.built.get(
            key, lambda: {name: float(evaluate(expr, values)) for name, expr in exprs.items()})
        sizes = dict(known)
        if mechanism.site.face is not None:
            owner, place = self.bound.hosts[mechanism.name]
            sizes["face.sign"] = handed(self.flats[owner].faces[place])
        return sizes

    def _measured(self, mechanism: Mechanism) -> tuple[dict[str, Expr], tuple[str, ...]]:
        """What a mechanism builds from, and the names of all unknowns in it."""
        cover = mechanism.site.cover or self.mechanisms["cover"].environment()  # type: ignore[attr-defined]
        exprs = {**mechanism.site.parameters, **{f"cover.{k}": e for k, e in cover.items()}, **mechanism.needs()}
        return exprs, tuple(dict.fromkeys(name for expr in exprs.values() for name in shared().shapes.of(expr)[1]))

    def card(self) -> Card:
        """Everything put together."""
        cover = self.sizes["cover"]
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
            rules=tuple(self._all_checked()),
            wishes=self.solution.wishes,
            parts=tuple(self._parts(hinges, steps)),
            panels=tuple(self.panels),
            hinges=tuple(hinges),
            bonds=tuple(bond for flat in self.flats.values() for bond in flat.bonds),
            crossings=tuple(crossing for flat in self.flats.values() for crossing in flat.crossings),
            steps=steps,
            practice={name: float(value) for name, value in self.bound.habits.items()},
            stack=0.0,  # counted on the closed pose, once the card can be posed
            notes=tuple(note for m in self.bound.mechanisms for note in m.notes(self.sizes[m.name])),
            dead_points=tuple(DeadPoint(m.name, self.bound.hosts.get(m.name, ("", "")), angle, why)
                              for m in self.bound.mechanisms for angle, why in m.dead_points(self.sizes[m.name])),
            pose=self.stander,
            openings=self.stander.openings,
            choices=self.bound.choices,
            machine=machine(self.bound.design),
            waived=tuple(WaivedRule(self._checked(w.rule), w.because, w.at.line) for w in self.bound.model.waived),
        )

    def _all_checked(self) -> Iterator[CheckedRule]:
        for rule, key in zip(self.bound.model.rules, self.memory.said(self.bound.model, self.solution), strict=True):
            yield CheckedRule(rule, *self.memory.sides.get(key, partial(self._sides, rule)))

    def _sides(self, rule: Rule) -> tuple[float, float, float]:
        left, right, room = slack(rule, self.solution.values)
        return float(left), float(right), float(room)

    def _checked(self, rule: Rule) -> CheckedRule:
        return CheckedRule(rule, *self._sides(rule))

    def _dimensions(self) -> dict[str, tuple[Fraction, str]]:
        """Every parameter of every mechanism, computed ones included, by name."""
        out = {}
        for mechanism in self.bound.mechanisms:
            for parameter in mechanism.parameters:
                expr = mechanism[parameter.name]
                value = self.solution.values[expr.name] if type(expr) is Variable else evaluate(expr, self.solution.values)
                exact = value if isinstance(value, Fraction) else Fraction(value).limit_denominator(10**6)
                if parameter.name == "strip" and mechanism.site.choices.get("spine") == "plain":
                    continue
                out[f"{mechanism.name}.{parameter.name}"] = (exact, "°" if parameter.dimension == "angle" else "mm")
        return out

    # ---- what a mechanism cuts out of its host

    def _cut_from_host(self, name: str) -> None:
        """Panels cut out of the host's own sheet get that part and its coordinates."""
        flat = self.flats[name]
        if any(panel.part == HOST for panel in flat.panels):
            flat = self.flats[name] = replace(flat, sides=dict(flat.sides), faces=dict(flat.faces))  # the one kept stays as it is
            axes = {side: self._resolve(*self.bound.hosts[name], side) for side in ("left", "right")}
            part = next(p.part for f in self.flats.values() for p in f.panels if p.name == axes["left"].panel)
            self.local |= cut_from_host(flat, axes, part)

    def _opened(self) -> list[Panel]:
        """All panels, less the paper that mechanisms take out of their hosts."""
        panels = {panel.name: panel for flat in self.flats.values() for panel in flat.panels}
        holes: dict[str, list[str]] = {}
        for name, flat in self.flats.items():
            for opening in flat.openings:
                frame = self._host_axes(name, opening.side)
                old = panels[frame.panel]
                outline = old.outline.difference(moved(opening.outline, frame), grid_size=GRID)
                holes[frame.panel] = [*holes.get(frame.panel, []), name]
                if outline.geom_type != "Polygon" or outline.is_empty:
                    raise Refused([self._apart(old.name, len(shapely.get_parts(outline)), holes[frame.panel])])
                panels[frame.panel] = Panel(old.name, old.part, outline, old.tab)
        return list(panels.values())

    def _apart(self, panel: str, pieces: int, holes: list[str]) -> FallsApart:
        blocks = {(block.name or block.keyword).text: block.at for block in self.bound.design.blocks}
        return FallsApart(blocks[holes[-1]], panel, pieces, tuple(holes))

    # ---- creases

    def _hinges(self) -> list[Hinge]:
        poses = self.stander(np.array(SIGN_ANGLES) * self.opens)
        outlines = {panel.name: panel.outline for panel in self.panels}
        stands = {panel: standing for standing in self.stander.standing.values() for panel in standing.placements}
        hinges = []
        for seam in seams(self.flats.values(), self.panels):
            outline = outlines[seam.left]
            key = ("stroke", seam.left, seam.right, seam.start, seam.end, stands[seam.left], stands[seam.right], outline)
            sense = self.memory.built.get(key, partial(stroke, poses, outlines, seam))
            hinges.append(Hinge(seam.left, seam.right, seam.start, seam.end, sense))
        return hinges

    # ---- parts

    def _resolve(self, name: str, crease: str, side: str) -> Frame:
        """Axes of a crease's side on a real panel, through hosts that are only passed on."""
        frame = self.flats[name].sides[crease, side]
        if frame.panel.startswith("host."):
            outer = self._resolve(*self.bound.hosts[name], frame.panel.removeprefix("host."))
            frame = replace(within(outer, frame), panel=outer.panel)
        return frame

    def _host_axes(self, name: str, side: str) -> Frame:
        """Axes of one side of a mechanism's host crease ("left", "right"), or of its host "face", on a real panel."""
        owner, place = self.bound.hosts[name]
        return self.flats[owner].faces[place] if side == "face" else self._resolve(owner, place, side)

    def _lines(self, hinges: list[Hinge]) -> dict[str, list[Line]]:
        lines: dict[str, list[Line]] = {panel.part: [] for panel in self.panels}
        for hinge in hinges:
            lines[self.part_of[hinge.left]].append(Line((hinge.start, hinge.end), hinge.stroke))
        for name, flat in self.flats.items():
            for cut in flat.cuts:
                frame = self._host_axes(name, cut.side)
                points = tuple(frame.at(*point) for point in cut.points)
                lines[self.part_of[frame.panel]].append(Line(points, cut.stroke))
            for part, own in flat.lines.items():
                lines[part].extend(own)
        return lines

    def _parts(self, hinges: list[Hinge], steps: tuple[Step, ...]) -> list[Part]:
        lines = self._lines(hinges)
        papers = {part: paper for flat in self.flats.values() for part, paper in flat.papers.items()}
        labels = self._labels(papers, steps)
        places = {part: place for flat in self.flats.values() for part, place in flat.labels.items()}
        drawn, shown = {name: tuple(self._drawn(name)) for name in papers}, self._shown()
        parts = []
        for name, paper in papers.items():
            panels = [panel for panel in self.panels if panel.part == name]
            shapes = tuple([(panel.outline, panel.tab) for panel in panels])
            outline = self.memory.built.get(("joined", shapes), partial(joined, [panel.outline for panel in panels]))
            at, height = self.memory.built.get(("label", labels[name], shapes), partial(_label_place, panels, labels[name]))
            own = (*lines[name], *inked(drawn[name], outline))
            narrow = thin_places(outline, drawn[name], float(self.bound.habits["art.thinnest"]), self.memory)
            parts.append(Part(name, labels[name], paper, outline, own, places.get(name, at), height, drawn[name],
                              shown.get(name, ""), narrow))
        return parts

    def _shown(self) -> dict[str, str]:
        """The printed face of parts, where it is settled by what they are; what a part's own mechanism says counts first."""
        said = [mechanism.shown(self.flats[mechanism.name].papers) for mechanism in self.bound.mechanisms]
        own = {part: face for faces, flat in zip(said, self.flats.values(), strict=True) for part, face in faces.items()
               if part in flat.papers}
        return {part: face for faces in said for part, face in faces.items()} | own

    def _drawn(self, part: str) -> Iterator[Drawn]:
        """The artwork that a part's outline follows: its own, and that of openings."""
        for name, flat in self.flats.items():
            yield from flat.drawn.get(part, ())
            for opening in flat.openings:
                if opening.drawn and self.part_of[(frame := self._host_axes(name, opening.side)).panel] == part:
                    matrix = Transform(*frame.first, *frame.second, *frame.origin)
                    yield from (drawn.then(matrix) for drawn in opening.drawn)

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


def joined(outlines: list[Polygon]) -> Polygon:
    """The outlines of a part's panels as one.

    A tab may end within its panel's edge; rounded to the grid, its corner then lies a little beside that edge, and the union
    on the grid alone can leave the two apart, wholly or along a stretch of their crease. So the corners are put into the
    edges first.
    """
    if len(outlines) == 1:
        alone: Polygon = unary_union(outlines, grid_size=GRID)
        return alone
    rounded = shapely.set_precision(outlines, GRID)
    corners = shapely.points(np.unique(shapely.get_coordinates(rounded), axis=0))
    fitted = []
    for outline in rounded.tolist():
        near = corners[shapely.dwithin(outline.boundary, corners, 2 * GRID)]
        fitted.append(shapely.snap(outline, shapely.MultiPoint(near.tolist()), 2 * GRID))
    whole: Polygon = unary_union(fitted, grid_size=GRID)
    return whole


def _label_place(panels: list[Panel], text: str) -> tuple[Point, float]:
    """Where a label stands: on the largest tab if there is one (glue hides it), else inside the largest panel."""
    tabs = [panel for panel in panels if panel.tab] or panels
    host = max(tabs, key=lambda panel: panel.outline.area)
    inside = host.outline.representative_point() if not host.tab else host.outline.centroid
    room = np.sqrt(host.outline.area)
    height = float(min(3.0, room / 3))
    return (inside.x - 0.4 * height * len(text), inside.y - height / 2), height
