"""The proof: a solved card is checked by geometry alone before any file is written.

Nothing here knows a rule or a formula of a mechanism. The checks look at outlines, placements and what is glued to
what: if the solver or a mechanism's formulas were wrong, panels would part at their creases, tabs would miss what they
are glued to, or corners would show outside the closed cover.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass, field
from functools import cached_property, partial
from hashlib import sha256
from itertools import repeat

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from foldwright.grammar.kept import Kept
from foldwright.solver.card import Bond, Card, Crossing, Hinge, Panel, Part, Placement, Stroke, Vector
from foldwright.solver.creasing import fold_turns
from foldwright.solver.memory import Memory
from foldwright.solver.pieces import as_cut
from foldwright.solver.posing import POSES
from foldwright.solver.proof_joints import joined_looks

MEET = 1e-6  # mm: rounding of a chain of a dozen rotations on parts of 300 mm stays below 1e-9
FIT = 0.01  # mm: artwork outlines are chords within 0.005 mm of the drawn curve; no machine cuts finer than 0.05
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
    """The card with its poses at the n sampled angles, made once for all checks; vectors of placements have shape (n, 3)."""

    card: Card
    angles: tuple[float, ...]
    placed: dict[str, Placement]
    panels: dict[str, Panel]
    proved: Kept[Hashable, int] = field(default_factory=Kept)

    @cached_property
    def known_by(self) -> dict[str, bytes]:
        """What decides how a panel lies: its outline and its placement at every angle."""
        return {name: sha256(b"".join([np.array(self.angles).tobytes(), panel.outline.wkb,
                                       *(np.ascontiguousarray(v).tobytes() for v in (at.origin, at.along, at.up))])).digest()
                for name, panel in self.panels.items() for at in (self.placed[name],)}

    def once(self, key: Hashable, look: Callable[[], Looks]) -> Looks:
        """What is seen of things that nothing but the `key` decides: not looked at again if all was well the last time."""
        count = self.proved.get(key, partial(_all_well, look))
        return look() if count < 0 else repeat((True, ""), count)


def _all_well(look: Callable[[], Looks]) -> int:
    """How many things were looked at; -1 if one of them is wrong."""
    seen = [holds for holds, _ in look()]
    return len(seen) if all(seen) else -1


Looks = Iterator[tuple[bool, str]]
Check = Callable[[Poses], Iterator[tuple[bool, str]]]


def prove(card: Card, memory: Memory | None = None) -> Proof:
    """Run all checks; raises ProofFailed at the first that does not hold, or that had nothing to look at.

    A card without crossings, glue or creases has nothing for those checks; every other check must see something.
    """
    angles = tuple(float(a) for a in np.linspace(0.0, card.opens, POSES))
    poses = Poses(card, angles, card.poses(np.array(angles)), {panel.name: panel for panel in card.panels},
                  Kept() if memory is None else memory.proved)
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
    card = poses.card
    for panel in card.panels:
        clear = 0.0 if panel.part == "cover" else card.clear
        key = ("closed", poses.known_by[panel.name], card.cover, clear, card.gusset)
        yield from poses.once(key, partial(_inside, panel, clear, poses))


def _inside(panel: Panel, clear: float, poses: Poses) -> Looks:
    (width, height), gusset = poses.card.cover, poses.card.gusset
    points = poses.placed[panel.name].moment(0).points(corners(panel))
    low, high = points.min(axis=0), points.max(axis=0)
    sink = gusset / 2  # the pleat of a gusset gives room behind the pages
    inside = (low[0] >= clear - FIT and high[0] <= height - clear + FIT
              and low[2] >= -sink - FIT and high[2] <= width - clear + FIT)
    yield inside, (f"{panel.name} spans {low[0]:.2f} to {high[0]:.2f} along the spine and {low[2]:.2f} to "
                   f"{high[2]:.2f} from it; the page is {width:g} x {height:g} less {clear:g}")
    thick = gusset if gusset else MEET
    yield bool(abs(points[:, 1]).max() <= thick + FIT), f"{panel.name} is not flat when the card is closed"


def rigid_panels(poses: Poses) -> Iterator[tuple[bool, str]]:
    """Distances between a panel's corners are the same in space, at every angle, as on the flat sheet."""
    for panel in poses.card.panels:
        yield from poses.once(("rigid", poses.known_by[panel.name]), partial(_rigid, panel, poses))


def _rigid(panel: Panel, poses: Poses) -> Looks:
    flat = corners(panel)
    space = poses.placed[panel.name].points(flat)
    off = np.zeros(len(poses.angles))
    for shift in (1, len(flat) // 2):
        there = np.linalg.norm(space - np.roll(space, shift, axis=1), axis=2)
        here = np.linalg.norm(flat - np.roll(flat, shift, axis=0), axis=1)
        off = np.maximum(off, abs(there - here).max(axis=1))
    for angle, by in zip(poses.angles, off.tolist(), strict=True):
        yield by < MEET, f"{panel.name} changes its shape by {by:.2g} mm at {angle:g}°"


def creases_hold(poses: Poses) -> Iterator[tuple[bool, str]]:
    """Both panels at a crease have its ends at the same place, at every angle; the crease turns the way it is drawn."""
    for hinge in poses.card.hinges:
        sides = poses.known_by[hinge.left], poses.known_by[hinge.right]
        yield from poses.once(("crease", *sides, hinge.start, hinge.end, hinge.stroke), partial(_holds, hinge, poses))


def _holds(hinge: Hinge, poses: Poses) -> Looks:
    left, right, ends = poses.placed[hinge.left], poses.placed[hinge.right], np.array([hinge.start, hinge.end])
    gaps = abs(left.points(ends) - right.points(ends)).max(axis=(1, 2))
    for angle, gap in zip(poses.angles, gaps.tolist(), strict=True):
        yield gap < MEET, f"{hinge.left} and {hinge.right} part at their crease by {gap:.2g} mm at {angle:g}°"
    turns = fold_turns(left, right, poses.panels[hinge.left].outline, hinge.start, hinge.end).tolist()
    # at 180 the sense of a turn is undefined
    strongest = max((turn for turn in turns if abs(turn) < 179), key=abs, default=0.0)
    drawn = strongest > 0 if hinge.stroke is Stroke.MOUNTAIN else strongest < 0
    yield drawn or abs(strongest) < FLAT_TURN, f"the crease of {hinge.left} and {hinge.right} is drawn the wrong way"


def _on_host(bond: Bond, poses: Poses) -> tuple[Vector, Vector]:
    """Corners of the glued panel in the host's part coordinates, shape (n, m, 2), and how far they are off its plane, (n,)."""
    host = poses.placed[bond.host]
    points = poses.placed[bond.panel].points(corners(poses.panels[bond.panel])) - host.origin[:, None]
    axes = np.stack([host.along, host.up, np.cross(host.along, host.up)], axis=2)
    seen: Vector = points @ axes
    return seen[:, :, :2], abs(seen[:, :, 2]).max(axis=1)


def glue_holds(poses: Poses) -> Iterator[tuple[bool, str]]:
    """Glued panels lie in the plane and inside the outline of what they are glued to, at the same place at every angle."""
    card, waiving = poses.card, _waiving(poses.card)
    for bond in card.bonds:
        least = 0.0 if _owner(bond.panel) in waiving else card.practice["cutout.glue"]
        both = poses.known_by[bond.panel], poses.known_by[bond.host]
        yield from poses.once(("glue", *both, bond.whole, bond.spans, least), partial(_glued, bond, least, poses))


def _glued(bond: Bond, least: float, poses: Poses) -> Looks:
    host = poses.panels[bond.host].outline
    flat, lifted = _on_host(bond, poses)
    shifts = abs(flat - flat[0]).max(axis=(1, 2))
    for angle, off, shift in zip(poses.angles, lifted.tolist(), shifts.tolist(), strict=True):
        yield off < MEET, f"{bond.panel} lifts off {bond.host} by {off:.2g} mm at {angle:g}°"
        yield shift < MEET, f"{bond.panel} slides on {bond.host} by {shift:.2g} mm at {angle:g}°"
    shape = Polygon(flat[0])
    if bond.whole:
        paper = Polygon(host.exterior) if bond.spans else host
        yield paper.buffer(FIT).covers(shape), f"{bond.panel} does not lie wholly on {bond.host}"
    else:
        area = host.intersection(shape).area
        yield area >= max(least, FIT), f"{bond.panel} shares only {area:.0f} mm² with {bond.host}; {least:g} are needed"


def _owner(panel: str) -> str:
    """The mechanism that a panel belongs to."""
    return panel.split(".")[0]


def _waiving(card: Card) -> frozenset[str]:
    """Mechanisms of which the script waives some workshop practice: of these, only what paper cannot do without is asked."""
    return frozenset(_owner(waived.checked.rule.name) for waived in card.waived)


def tabs_minimum(poses: Poses) -> Iterator[tuple[bool, str]]:
    """A tab is as deep as practice asks, and at least the least length on average (unless the script waives that)."""
    practice, waiving = poses.card.practice, _waiving(poses.card)
    glued = {bond.panel for bond in poses.card.bonds if bond.whole}
    for hinge in poses.card.hinges:
        panel = poses.panels[hinge.right]
        if not panel.tab or panel.name not in glued:
            continue
        deep = practice["tab.depth"]
        least = practice["tab.length"] / 2 if panel.outline.area and _owner(panel.name) not in waiving else 2 * FIT
        key = ("tab", panel.outline, hinge.start, hinge.end, deep, least)
        yield from poses.once(key, partial(_large_enough, panel, hinge, deep, least))


def _large_enough(panel: Panel, hinge: Hinge, deep: float, least: float) -> Looks:
    edge = LineString([hinge.start, hinge.end])
    depth = max(edge.distance(shapely.Point(point)) for point in corners(panel))
    yield depth >= deep - FIT, f"{panel.name} is only {depth:.2f} mm deep"
    mean = panel.outline.area / depth
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
        for moment, angle in enumerate(poses.angles):
            if angle == 0:
                continue
            placed = {name: poses.placed[name].moment(moment) for name in (crossing.first, crossing.second)}
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
    panels: dict[str, list[Polygon]] = {}
    for panel in poses.card.panels:
        panels.setdefault(panel.part, []).append(panel.outline)
    for part in poses.card.parts:
        outlines, lines = tuple(panels.get(part.name, ())), tuple([line.points for line in part.lines])
        yield from poses.once(("part", part.outline, outlines, lines), partial(_simple, part, outlines))


def _simple(part: Part, panels: tuple[Polygon, ...]) -> Looks:
    outline = part.outline
    yield outline.geom_type == "Polygon" and outline.is_valid and outline.area > 0, f"{part.name} is not one simple outline"
    area = sum(panel.area for panel in panels)
    yield abs(area - outline.area) < FIT * outline.length, f"panels of {part.name} overlap or leave gaps"
    grown = outline.buffer(FIT)
    for line in part.lines:
        yield grown.covers(LineString(line.points)), f"a line of {part.name} leaves its outline"


def joints_meet(poses: Poses) -> Iterator[tuple[bool, str]]:
    """Pieces of a joined part make up its outline and lie on each other at their seams only, away from creases and slits."""
    card = poses.card
    for one in card.joined:
        margin = card.practice["joint.margin"] - FIT
        creases = tuple([(hinge.start, hinge.end) for hinge in card.hinges if poses.panels[hinge.left].part == one.whole.name])
        outlines = tuple([(sheet.name, sheet.outline) for sheet in (one.whole, *one.pieces, *one.strips)])
        laps = tuple([(lap.outline, lap.start, lap.end, lap.under, poses.panels[lap.panel].outline) for lap in one.laps])
        yield from poses.once(("joined", outlines, laps, creases, one.whole.lines, margin),
                              partial(joined_looks, one, poses.panels, creases, margin))


def mat(poses: Poses) -> Iterator[tuple[bool, str]]:
    """Each part, or piece of a joined one, fits a mat within the sheet's border and the kerf, upright or on its side."""
    card = poses.card
    border = 2 * card.practice["sheet.border"] + card.machine.kerf
    reaches = [sorted(side - border for side in mat) for mat in card.mats]
    for part in as_cut(card).parts:
        u0, v0, u1, v1 = part.outline.bounds
        size = sorted((u1 - u0, v1 - v0))
        fits = any(size[0] <= reach[0] + FIT and size[1] <= reach[1] + FIT for reach in reaches)
        told = " or ".join(f"{reach[0]:g} x {reach[1]:g}" for reach in reaches)
        yield fits, f"{part.name} is {size[0]:.1f} x {size[1]:.1f}; the machine reaches {told}"


CHECKS: dict[str, Check] = {
    "closed pose": closed_pose,
    "rigid panels": rigid_panels,
    "creases": creases_hold,
    "glue": glue_holds,
    "tabs": tabs_minimum,
    "slots": slots_meet,
    "simple parts": simple_parts,
    "joints": joints_meet,
    "mat": mat,
}
