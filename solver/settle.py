"""Solution → Card: dimensions become panels, parts, creases and poses."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property, partial
from typing import Any

import numpy as np
import shapely
from fontTools.misc.transform import Transform
from shapely import affinity, unary_union
from shapely.geometry import LineString, Polygon

from foldwright.grammar.kept import Kept
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
    Placement,
    Point,
    Step,
    Stroke,
    Vector,
    WaivedRule,
)
from foldwright.solver.engine.blueprint import shared
from foldwright.solver.evaluate import evaluate, slack
from foldwright.solver.expression import Expr, Variable
from foldwright.solver.geometry import Fold, cross, dot, spine_fold, unit
from foldwright.solver.machine import machine
from foldwright.solver.mechanism import HOST, Flat, Frame, Mechanism, Pose, Seam
from foldwright.solver.memory import Memory
from foldwright.solver.model import Rule, Solution
from foldwright.solver.stack import stack_map
from foldwright.solver.swing.scene import STEPS

GRID = 1e-6  # mm; outlines of one part are joined on this grid, far below what any machine cuts
CRUMB = 0.01  # mm; a shorter piece of crease is rounding at an opening's corner
POSES = 13  # angles from closed to open at which the proof looks
SIGN_ANGLES = (0.1, 0.25, 0.5, 0.75, 0.9)  # shares of the swing at which the sense of a crease is read


def settle(bound: Bound, solution: Solution, memory: Memory | None = None) -> Card:
    """The solved card with every part and pose."""
    memory = memory or Memory()
    card = Settler(bound, solution, memory).card()
    return replace(card, stack=stack_map(card, memory.sheets).maximum)


def spread(placed: Mapping[str, Placement], count: int) -> dict[str, Placement]:
    """Placements with vectors of shape (count, 3); what stays where it is gets as many rows."""
    shape = (count, 3)
    return {name: Placement(*(np.broadcast_to(v, shape) for v in (p.origin, p.along, p.up))) for name, p in placed.items()}


def usual_angles(opens: float, margin: float) -> Vector:
    """Angles in degrees at which every card is looked at: by settling, swing (with a look near its end) and proof."""
    near_end = opens - min(margin, opens) / 10 * np.array([2.0, 1.0, 0.0])
    return np.unique(np.concatenate([np.array(SIGN_ANGLES) * opens, np.linspace(0.0, opens, STEPS + 1),
                                     np.linspace(0.0, opens, POSES), near_end]))


@dataclass(frozen=True, eq=False)
class Standing:
    """A mechanism at the usual angles: its pose, and its placements with a row for each angle. Equal only to itself."""

    placements: dict[str, Placement]
    folds: dict[str, Fold]
    spread: dict[str, Placement]


@dataclass(frozen=True)
class Stander:
    """Places every panel of the card at an opening angle."""

    mechanisms: tuple[Mechanism, ...]
    hosts: Mapping[str, tuple[str, str]]
    sizes: Mapping[str, dict[str, float]]
    flats: Mapping[str, Flat]
    local: Mapping[str, Frame]  # panels cut out of their host's sheet -> the axes in which their mechanism places them
    usual: Vector = field(default_factory=lambda: np.zeros(0))  # angles that are asked for again and again, in degrees
    kept: Kept[Hashable, Any] = field(default_factory=Kept)  # mechanisms at these angles, by all that decides how they stand

    def __call__(self, angle: float | Vector) -> dict[str, Placement]:
        """Placements by panel; `angle` in degrees, one or n of them (then the placements' vectors have shape (n, 3))."""
        one = np.ndim(angle) == 0
        rows = [self._rows.get(each) for each in np.atleast_1d(angle).tolist()]
        if None in rows:
            placed = self.stand(angle)[0]
            return placed if one else spread(placed, len(rows))
        at: Any = rows[0] if one else rows
        return {name: Placement(p.origin[at], p.along[at], p.up[at]) for name, p in self._usually.items()}

    @cached_property
    def _rows(self) -> dict[float, int]:
        return {angle: row for row, angle in enumerate(self.usual.tolist())}

    @cached_property
    def _usually(self) -> dict[str, Placement]:
        """At the usual angles, worked out together: the time of a pose goes by the number of mechanisms, not of angles."""
        found: dict[str, Placement] = {}
        for standing in self.standing.values():
            found |= standing.spread
        return found

    @cached_property
    def standing(self) -> dict[str, Standing]:
        """Every mechanism at the usual angles; the same object as long as nothing changes that decides how it stands."""
        spine, angles = spine_fold(self.usual), self.usual.tobytes()
        out: dict[str, Standing] = {}
        placed_by: dict[str, Standing] = {}
        for mechanism in self.mechanisms:
            name = mechanism.name
            local = tuple([self.local.get(panel.name) for panel in self.flats[name].panels])
            key = "stands", angles, mechanism, tuple(self.sizes[name].values()), local, self._told(mechanism, out, placed_by)
            out[name] = self.kept.get(key, partial(self._standing, mechanism, spine, out, placed_by))
            placed_by |= dict.fromkeys(out[name].placements, out[name])
        return out

    def _told(self, mechanism: Mechanism, out: Mapping[str, Standing], placed_by: Mapping[str, Standing]) -> Hashable:
        """What decides where the host of a mechanism stands."""
        if mechanism.name not in self.hosts:
            return None
        owner, place = self.hosts[mechanism.name]
        if "face" not in mechanism.stands_on:
            return out[owner], place
        frame = self.flats[owner].faces[place]
        return placed_by[frame.panel], frame

    def _standing(self, mechanism: Mechanism, spine: Fold, out: Mapping[str, Standing],
                  placed_by: Mapping[str, Standing]) -> Standing:
        folds, placements = {}, {}
        if mechanism.name in self.hosts:
            owner, place = self.hosts[mechanism.name]
            if "face" in mechanism.stands_on:
                panel = self.flats[owner].faces[place].panel
                placements = {panel: placed_by[panel].placements[panel]}
            else:
                folds = {(owner, place): out[owner].folds[place]}
        pose = self._pose(mechanism, self._host(mechanism, spine, folds, placements))
        return Standing(pose.placements, pose.folds, spread(pose.placements, len(self.usual)))

    def _pose(self, mechanism: Mechanism, host: Fold) -> Pose:
        """A mechanism at its host, its panels in part coordinates."""
        pose = mechanism.pose(self.sizes[mechanism.name], host)
        return Pose({name: on_sheet(p, self.local[name]) if name in self.local else p for name, p in pose.placements.items()},
                    pose.folds)

    def some(self, angles: Vector, panels: Collection[str]) -> dict[str, Placement]:
        """Placements of at least these panels at n angles in degrees: what neither they nor their hosts need is left out."""
        if all(each in self._rows for each in angles.tolist()):
            return self(angles)
        wanted: set[str] = set()
        todo = [panel.split(".")[0] for panel in panels]
        while todo:
            name = todo.pop()
            if name in wanted:
                continue
            wanted.add(name)
            if name in self.hosts:
                owner, place = self.hosts[name]
                face = self.flats[owner].faces.get(place)
                todo += [owner] if face is None else [owner, face.panel.split(".")[0]]
        return self.stand(angles, wanted)[0]

    def openings(self, angles: Vector) -> dict[tuple[str, str], Vector]:
        """Opening of every crease that carries or could carry something, degrees, shape (n,), by mechanism and name."""
        _, folds = self.stand(angles)
        return {key: np.broadcast_to(fold.opening[..., 0], np.shape(angles)) for key, fold in folds.items()}

    def stand(self, angle: float | Vector,
              only: Collection[str] | None = None) -> tuple[dict[str, Placement], dict[tuple[str, str], Fold]]:
        """Placements by panel and folds by mechanism and crease; of some mechanisms `only`, with all their hosts."""
        spine = spine_fold(angle)
        folds: dict[tuple[str, str], Fold] = {}
        placements: dict[str, Placement] = {}
        for mechanism in self.mechanisms:
            if only is not None and mechanism.name not in only:
                continue
            pose = self._pose(mechanism, self._host(mechanism, spine, folds, placements))
            placements |= pose.placements
            folds |= {(mechanism.name, crease): fold for crease, fold in pose.folds.items()}
        return placements, folds

    def _host(self, mechanism: Mechanism, spine: Fold, folds: Mapping[tuple[str, str], Fold],
              placements: Mapping[str, Placement]) -> Fold:
        if mechanism.name not in self.hosts:
            return spine
        owner, place = self.hosts[mechanism.name]
        if "face" not in mechanism.stands_on:
            return folds[owner, place]
        frame = self.flats[owner].faces[place]
        return face_fold(frame, placements[frame.panel])


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
        for name, flat in self.flats.items():
            for opening in flat.openings:
                frame = self._host_axes(name, opening.side)
                old = panels[frame.panel]
                outline = old.outline.difference(_moved(opening.outline, frame), grid_size=GRID)
                panels[frame.panel] = Panel(old.name, old.part, outline, old.tab)
        return list(panels.values())

    def _seams(self) -> Iterator[Seam]:
        """All seams; one that runs across an opening of its panels becomes the stretches that are left of it."""
        outlines = {panel.name: panel.outline for panel in self.panels}
        built = {panel.name: panel.outline for flat in self.flats.values() for panel in flat.panels}
        for flat in self.flats.values():
            for seam in flat.seams:
                if all(outlines[panel] is built[panel] for panel in (seam.left, seam.right)):
                    yield seam
                    continue
                paper = outlines[seam.left].buffer(10 * GRID).intersection(outlines[seam.right].buffer(10 * GRID))
                line = LineString([seam.start, seam.end])
                kept = line.intersection(paper)
                for piece in getattr(kept, "geoms", [kept]):
                    if piece.length > CRUMB:
                        yield Seam(seam.left, seam.right, *_trimmed(line, piece, 10 * GRID))

    # ---- creases

    def _hinges(self) -> list[Hinge]:
        poses = self.stander(np.array(SIGN_ANGLES) * self.opens)
        outlines = {panel.name: panel.outline for panel in self.panels}
        stands = {panel: standing for standing in self.stander.standing.values() for panel in standing.placements}
        hinges = []
        for seam in self._seams():
            outline = outlines[seam.left]
            key = ("stroke", seam.left, seam.right, seam.start, seam.end, stands[seam.left], stands[seam.right], outline)
            stroke = self.memory.built.get(key, partial(_stroke, poses, outlines, seam))
            hinges.append(Hinge(seam.left, seam.right, seam.start, seam.end, stroke))
        return hinges

    # ---- parts

    def _resolve(self, name: str, crease: str, side: str) -> Frame:
        """Axes of a crease's side on a real panel, through hosts that are only passed on."""
        frame = self.flats[name].sides[crease, side]
        if frame.panel.startswith("host."):
            outer = self._resolve(*self.bound.hosts[name], frame.panel.removeprefix("host."))
            frame = replace(_within(outer, frame), panel=outer.panel)
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
        drawn = {name: tuple(self._drawn(name)) for name in papers}
        parts = []
        for name, paper in papers.items():
            panels = [panel for panel in self.panels if panel.part == name]
            shapes = tuple([(panel.outline, panel.tab) for panel in panels])
            outline = self.memory.built.get(("joined", shapes), partial(joined, [panel.outline for panel in panels]))
            at, height = self.memory.built.get(("label", labels[name], shapes), partial(_label_place, panels, labels[name]))
            parts.append(Part(name, labels[name], paper, outline, tuple(lines[name]), places.get(name, at), height,
                              drawn[name]))
        return parts

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


def cut_from_host(flat: Flat, axes: Mapping[str, Frame], part: str) -> dict[str, Frame]:
    """Give panels of the part `HOST` the host's part and its coordinates, with their seams, sides and faces.

    `axes` are the (x, d) axes of the host's two sides in part coordinates. Returns, for each such panel, the axes in
    which its mechanism goes on to place it (`on_sheet` turns such a placement into one of the part).
    """
    mine = [panel.name for panel in flat.panels if panel.part == HOST]
    base, real = axes["left"], {f"host.{side}": frame.panel for side, frame in axes.items()}
    flat.panels = [Panel(p.name, part, _moved(p.outline, base), p.tab) if p.name in mine else p for p in flat.panels]
    flat.seams = [Seam(s.left, real.get(s.right, s.right), base.at(*s.start), base.at(*s.end)) if s.left in mine else s
                  for s in flat.seams]
    flat.sides |= {key: _within(base, frame) for key, frame in flat.sides.items() if frame.panel in mine}
    flat.faces |= {key: _within(base, frame) for key, frame in flat.faces.items() if frame.panel in mine}
    flat.steps = [Step(step.text, tuple(part if name == HOST else name for name in step.parts)) for step in flat.steps]
    return dict.fromkeys(mine, base)


def joined(outlines: list[Polygon]) -> Polygon:
    """The outlines of a part's panels as one.

    A tab may end within its panel's edge; rounded to the grid, its corner then lies a little beside that edge, and the union
    on the grid alone can leave the two apart. So where that happens the corners are put into the edges first.
    """
    whole: Polygon = unary_union(outlines, grid_size=GRID)
    if whole.geom_type == "MultiPolygon":
        fitted = shapely.snap(shapely.set_precision(outlines, GRID), shapely.MultiPoint(shapely.get_coordinates(whole)), 2 * GRID)
        whole = unary_union(fitted.tolist(), grid_size=GRID)
    return whole


def _trimmed(line: LineString, piece: LineString, slack: float) -> tuple[Point, Point]:
    """Ends of a piece of a crease, along the crease; those within it are `slack` too far out."""
    near, far = sorted(line.project(shapely.Point(end)) for end in (piece.coords[0], piece.coords[-1]))
    near = near + slack if near > slack else 0.0
    far = far - slack if far < line.length - slack else line.length
    ends = [line.interpolate(at) for at in (near, far)]
    return (ends[0].x, ends[0].y), (ends[1].x, ends[1].y)


def _moved(outline: Polygon, frame: Frame) -> Polygon:
    """An outline given along the axes of a frame, in the coordinates of the frame's part."""
    (a, b), (c, d) = frame.first, frame.second
    moved: Polygon = affinity.affine_transform(outline, [a, c, b, d, *frame.origin])
    return moved


def _within(outer: Frame, inner: Frame) -> Frame:
    """A frame given along the axes of another one, in part coordinates; the panel stays the inner one's."""
    zero, first, second = outer.at(*inner.origin), outer.at(*inner.first), outer.at(*inner.second)
    base = outer.origin
    return Frame(inner.panel, zero, (first[0] - base[0], first[1] - base[1]), (second[0] - base[0], second[1] - base[1]))


def _stroke(poses: Mapping[str, Placement], outlines: Mapping[str, Polygon], seam: Seam) -> Stroke:
    """Mountain or valley, as a crease is turned most."""
    turns = fold_turns(poses[seam.left], poses[seam.right], outlines[seam.left], seam.start, seam.end)
    return Stroke.MOUNTAIN if max(turns.tolist(), key=abs) > 0 else Stroke.VALLEY


def on_sheet(placement: Placement, frame: Frame) -> Placement:
    """A placement by the axes of a frame, as a placement by the part coordinates of the frame's sheet."""
    (a, b), (c, d) = frame.first, frame.second
    along = a * placement.along + c * placement.up
    up = b * placement.along + d * placement.up
    return Placement(placement.origin - frame.origin[0] * along - frame.origin[1] * up, along, up)


def face_fold(frame: Frame, panel: Placement) -> Fold:
    """A face in space, for what is glued on it: u (seen from the printed face) as x and v as y."""
    x = handed(frame) * (frame.first[0] * panel.along + frame.first[1] * panel.up)
    y = frame.second[0] * panel.along + frame.second[1] * panel.up
    return Fold(panel.points(np.array([frame.origin]))[..., 0, :], x, cross(x, y), np.zeros(1))


def handed(frame: Frame) -> float:
    """1 if the frame's axes are right-handed on the printed face, else -1."""
    return frame.first[0] * frame.second[1] - frame.first[1] * frame.second[0]


def fold_turns(left: Placement, right: Placement, outline: Polygon, start: Point, end: Point) -> Vector:
    """How far a crease is turned at n moments, degrees, shape (n,): 0 flat, positive mountain, negative valley.

    Seen on the printed face. `outline` is the left panel's, in part coordinates; it tells on which side of the crease that
    panel lies.
    """
    first, last = np.moveaxis(left.points(np.array([start, end])), 1, 0)
    along = unit(last - first)
    normals = [cross(placement.along, placement.up) for placement in (left, right)]
    sine, cosine = dot(cross(*normals), along)[:, 0], dot(*normals)[:, 0]
    turns: Vector = np.degrees(np.arctan2(sine, cosine))
    centre = outline.centroid
    beside = (end[0] - start[0]) * (centre.y - start[1]) - (end[1] - start[1]) * (centre.x - start[0])
    return turns if beside > 0 else -turns


def _label_place(panels: list[Panel], text: str) -> tuple[Point, float]:
    """Where a label stands: on the largest tab if there is one (glue hides it), else inside the largest panel."""
    tabs = [panel for panel in panels if panel.tab] or panels
    host = max(tabs, key=lambda panel: panel.outline.area)
    inside = host.outline.representative_point() if not host.tab else host.outline.centroid
    room = np.sqrt(host.outline.area)
    height = float(min(3.0, room / 3))
    return (inside.x - 0.4 * height * len(text), inside.y - height / 2), height

