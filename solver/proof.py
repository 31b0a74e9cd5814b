"""The proof: a solved card is checked by geometry alone before any file is written.

Nothing here knows a rule or a formula of a mechanism. The checks look at outlines, placements and what is glued to
what: if the solver or a mechanism's formulas were wrong, panels would part at their creases, tabs would miss what they
are glued to, or corners would show outside the closed cover.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from foldwright.solver.card import Bond, Card, Crossing, Panel, Placement, Stroke, Vector
from foldwright.solver.settle import fold_turn

MEET = 1e-6  # mm: rounding of a chain of a dozen rotations on parts of 300 mm stays below 1e-9
FIT = 0.01  # mm: artwork outlines are chords within 0.005 mm of the drawn curve; no machine cuts finer than 0.05
POSES = 13  # angles from closed to open
FLAT_TURN = 1.0  # degrees: a crease turned less than this has no sense yet


class ProofFailed(Exception):
    """A check of the proof failed: an internal error, not the script's. `check` names it."""

    def __init__(self, check: str, detail: str) -> None:
        super().__init__(f"{check}: {detail}")
        self.check = check
        self.detail = detail


@dataclass(frozen=True)
class Proof:
    """What was checked: each check's name and how many things it looked at."""

    looked_at: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Poses:
    """The card with its poses at the sampled angles, made once for all checks."""

    card: Card
    angles: tuple[float, ...]
    placed: tuple[dict[str, Placement], ...]
    panels: dict[str, Panel]


Check = Callable[[Poses], Iterator[tuple[bool, str]]]


def prove(card: Card) -> Proof:
    """Run all checks; raises ProofFailed at the first that does not hold, or that had nothing to look at.

    A card without crossings, glue or creases has nothing for those checks; every other check must see something.
    """
    angles = tuple(float(a) for a in np.linspace(0.0, card.opens, POSES))
    placed = tuple(card.pose(angle) for angle in angles)
    poses = Poses(card, angles, placed, {panel.name: panel for panel in card.panels})
    counts: dict[str, int] = {}
    for name, check in CHECKS.items():
        counts[name] = 0
        for holds, detail in check(poses):
            counts[name] += 1
            if not holds:
                raise ProofFailed(name, detail)
    for name in ("closed pose", "rigid panels", "simple parts", "mat"):
        if not counts[name]:
            raise ProofFailed(name, "there was nothing to look at")
    return Proof(counts)


def corners(panel: Panel) -> Vector:
    """Corners of a panel's outline in part coordinates, shape (n, 2)."""
    return np.asarray(panel.outline.exterior.coords)[:-1]


def closed_pose(poses: Poses) -> Iterator[tuple[bool, str]]:
    """Every panel lies inside the closed cover less its clear strip; the cover's own panels are the cover."""
    card, closed = poses.card, poses.placed[0]
    width, height = card.cover
    for panel in card.panels:
        points = closed[panel.name].points(corners(panel))
        low, high = points.min(axis=0), points.max(axis=0)
        clear = 0.0 if panel.part == "cover" else card.clear
        sink = card.gusset / 2  # the pleat of a gusset gives room behind the pages
        inside = (low[0] >= clear - FIT and high[0] <= height - clear + FIT
                  and low[2] >= -sink - FIT and high[2] <= width - clear + FIT)
        yield inside, (f"{panel.name} spans {low[0]:.2f} to {high[0]:.2f} along the spine and {low[2]:.2f} to "
                       f"{high[2]:.2f} from it; the page is {width:g} x {height:g} less {clear:g}")
        thick = card.gusset if card.gusset else MEET
        yield bool(abs(points[:, 1]).max() <= thick + FIT), f"{panel.name} is not flat when the card is closed"


def rigid_panels(poses: Poses) -> Iterator[tuple[bool, str]]:
    """Distances between a panel's corners are the same in space, at every angle, as on the flat sheet."""
    for angle, placed in zip(poses.angles, poses.placed, strict=True):
        for panel in poses.card.panels:
            flat = corners(panel)
            space = placed[panel.name].points(flat)
            there = np.linalg.norm(space - np.roll(space, 1, axis=0), axis=1)
            here = np.linalg.norm(flat - np.roll(flat, 1, axis=0), axis=1)
            half = len(flat) // 2
            far = np.linalg.norm(space - np.roll(space, half, axis=0), axis=1)
            near = np.linalg.norm(flat - np.roll(flat, half, axis=0), axis=1)
            off = max(float(abs(there - here).max()), float(abs(far - near).max()))
            yield off < MEET, f"{panel.name} changes its shape by {off:.2g} mm at {angle:g}°"


def creases_hold(poses: Poses) -> Iterator[tuple[bool, str]]:
    """Both panels at a crease have its ends at the same place, at every angle; the crease turns the way it is drawn."""
    for hinge in poses.card.hinges:
        ends = np.array([hinge.start, hinge.end])
        strongest = 0.0
        for angle, placed in zip(poses.angles, poses.placed, strict=True):
            gap = float(abs(placed[hinge.left].points(ends) - placed[hinge.right].points(ends)).max())
            yield gap < MEET, f"{hinge.left} and {hinge.right} part at their crease by {gap:.2g} mm at {angle:g}°"
            turn = fold_turn(placed[hinge.left], placed[hinge.right], poses.panels[hinge.left].outline, hinge.start, hinge.end)
            if abs(strongest) < abs(turn) < 179:  # at 180 the sense of a turn is undefined
                strongest = turn
        drawn = strongest > 0 if hinge.stroke is Stroke.MOUNTAIN else strongest < 0
        yield drawn or abs(strongest) < FLAT_TURN, f"the crease of {hinge.left} and {hinge.right} is drawn the wrong way"


def _on_host(bond: Bond, poses: Poses, placed: dict[str, Placement]) -> tuple[Vector, float]:
    """Corners of the glued panel in the host's part coordinates, and their largest distance from its plane."""
    host = placed[bond.host]
    points = placed[bond.panel].points(corners(poses.panels[bond.panel])) - host.origin
    normal = np.cross(host.along, host.up)
    return np.column_stack([points @ host.along, points @ host.up]), float(abs(points @ normal).max())


def glue_holds(poses: Poses) -> Iterator[tuple[bool, str]]:
    """Glued panels lie in the plane and inside the outline of what they are glued to, at the same place at every angle."""
    card = poses.card
    least = card.practice["cutout.glue"]
    for bond in card.bonds:
        host = poses.panels[bond.host].outline
        first: Vector | None = None
        for angle, placed in zip(poses.angles, poses.placed, strict=True):
            flat, off = _on_host(bond, poses, placed)
            yield off < MEET, f"{bond.panel} lifts off {bond.host} by {off:.2g} mm at {angle:g}°"
            if first is None:
                first = flat
            shift = float(abs(flat - first).max())
            yield shift < MEET, f"{bond.panel} slides on {bond.host} by {shift:.2g} mm at {angle:g}°"
        assert first is not None
        shape = Polygon(first)
        if bond.whole:
            paper = Polygon(host.exterior) if bond.spans else host
            yield paper.buffer(FIT).covers(shape), f"{bond.panel} does not lie wholly on {bond.host}"
        else:
            area = host.intersection(shape).area
            yield area >= least, f"{bond.panel} shares only {area:.0f} mm² with {bond.host}; {least:g} are needed"


def tabs_minimum(poses: Poses) -> Iterator[tuple[bool, str]]:
    """A tab is as deep as practice asks, and at least the least length on average."""
    practice = poses.card.practice
    glued = {bond.panel for bond in poses.card.bonds if bond.whole}
    for hinge in poses.card.hinges:
        panel = poses.panels[hinge.right]
        if not panel.tab or panel.name not in glued:
            continue
        edge = LineString([hinge.start, hinge.end])
        depth = max(edge.distance(shapely.Point(point)) for point in corners(panel))
        yield depth >= practice["tab.depth"] - FIT, f"{panel.name} is only {depth:.2f} mm deep"
        mean = panel.outline.area / depth
        least = practice["tab.length"] / 2 if panel.outline.area else 0.0
        yield mean >= least - FIT, f"{panel.name} is only {mean:.2f} mm long on average"


def _paper_on(outline: Polygon, line: LineString, start: Vector, along: Vector) -> list[tuple[float, float]]:
    """Stretches of paper on a line through a panel, as distances from `start` along the unit vector `along`."""
    cut = outline.intersection(line)
    pieces = [piece for piece in getattr(cut, "geoms", [cut]) if piece.geom_type == "LineString" and piece.length > MEET]
    out = []
    for piece in pieces:
        ends = (np.asarray(piece.coords) - start) @ along
        out.append((float(ends.min()), float(ends.max())))
    return sorted(out)


def _crossing_line(crossing: Crossing, placed: dict[str, Placement]) -> tuple[Vector, Vector]:
    """A point and unit direction of the line in which two panels' planes meet."""
    a, b = placed[crossing.first], placed[crossing.second]
    normals = np.array([np.cross(a.along, a.up), np.cross(b.along, b.up)])
    along = np.cross(normals[0], normals[1])
    along = along / np.linalg.norm(along)
    matrix = np.array([normals[0], normals[1], along])
    wanted = np.array([normals[0] @ a.origin, normals[1] @ b.origin, along @ a.origin])
    return np.linalg.solve(matrix, wanted), along


def slots_meet(poses: Poses) -> Iterator[tuple[bool, str]]:
    """On the line where two layers cross there is paper of one only, with no gap but the clearance, at every angle.

    The line has to lie at the same place on both layers all the way; closed and flat the planes coincide and have none.
    """
    card = poses.card
    clearance = card.practice["slot.depth"]
    for crossing in card.crossings:
        seen: list[Vector] = []
        for angle, placed in zip(poses.angles, poses.placed, strict=True):
            if angle == 0:
                continue
            point, along = _crossing_line(crossing, placed)
            runs, places = [], []
            for name in (crossing.first, crossing.second):
                placement = placed[name]
                start = np.array([(point - placement.origin) @ placement.along, (point - placement.origin) @ placement.up])
                direction = np.array([along @ placement.along, along @ placement.up])
                line = LineString([start - 1000 * direction, start + 1000 * direction])
                runs.append(_paper_on(poses.panels[name].outline, line, start, direction))
                places.append(start - (start @ direction) * direction)
            seen.append(np.concatenate(places))
            shift = float(abs(seen[-1] - seen[0]).max())
            yield shift < MEET, f"{crossing.first} and {crossing.second} cross at another place at {angle:g}°"
            holds = len(runs[0]) > 0 and len(runs[1]) > 0
            yield holds, f"{crossing.first} and {crossing.second} do not reach each other"
            gap = max(runs[0][0][0] - runs[1][-1][1], runs[1][0][0] - runs[0][-1][1])
            yield abs(gap - clearance) < FIT, (f"the slots of {crossing.first} and {crossing.second} leave {gap:.2f} mm between "
                                               f"them; {clearance:g} is meant")


def simple_parts(poses: Poses) -> Iterator[tuple[bool, str]]:
    """Each part is one simple outline, holds its creases, and is as large as its panels together."""
    for part in poses.card.parts:
        outline = part.outline
        yield outline.geom_type == "Polygon" and outline.is_valid and outline.area > 0, f"{part.name} is not one simple outline"
        panels = sum(panel.outline.area for panel in poses.card.panels if panel.part == part.name)
        yield abs(panels - outline.area) < FIT * outline.length, f"panels of {part.name} overlap or leave gaps"
        grown = outline.buffer(FIT)
        for line in part.lines:
            yield grown.covers(LineString(line.points)), f"a line of {part.name} leaves its outline"


def mat(poses: Poses) -> Iterator[tuple[bool, str]]:
    """Each part fits the machine's reach, upright or on its side."""
    reach = sorted(poses.card.mat)
    for part in poses.card.parts:
        u0, v0, u1, v1 = part.outline.bounds
        size = sorted((u1 - u0, v1 - v0))
        fits = size[0] <= reach[0] + FIT and size[1] <= reach[1] + FIT
        yield fits, f"{part.name} is {size[0]:.1f} x {size[1]:.1f}; the machine reaches {reach[0]:g} x {reach[1]:g}"


CHECKS: dict[str, Check] = {
    "closed pose": closed_pose,
    "rigid panels": rigid_panels,
    "creases": creases_hold,
    "glue": glue_holds,
    "tabs": tabs_minimum,
    "slots": slots_meet,
    "simple parts": simple_parts,
    "mat": mat,
}
