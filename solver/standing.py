"""The open card at rest: its size on the table, what the reader sees, what leans, and whether it stays open by itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import asin, atan2, degrees, pi, radians

import numpy as np
from shapely.geometry import Polygon

from foldwright.solver.card import Card, Hinge, Panel, Placement, Vector
from foldwright.solver.pieces import lap_panels
from foldwright.solver.practice import SCRAP, grammage
from foldwright.solver.seat import EDGE_ON, seat
from foldwright.solver.sides import printed_faces
from foldwright.solver.words import amount

GRAVITY = 9.80665  # m/s², standard acceleration of free fall (ISO 80000-3)
NUDGE = 0.05  # degrees from the open pose, to see how fast creases turn; at 180° a ridge turns there by its square
MEET = 1e-6  # mm
PARALLEL = 1e-6  # sine
FAR = 1e5  # mm; larger than any part


@dataclass(frozen=True)
class Lean:
    """A ridge that rises from a point of a crease: how far it has swung past upright, in degrees.

    Negative if it stops short of upright (it leans the way it lay when the card was closed). Upright is square to the
    crease that it rises from.
    """

    part: str
    past: float


@dataclass(frozen=True)
class Rest:
    """What keeps an open card open, and what closes it: moments about the spine in N·mm. An estimate.

    `right` and `left` are the weights of the pages and of what stands over each of them; `spring` is the moment with
    which the creases, which remember the closed card, turn the pages towards each other. `flat` is True if the lighter
    page still outweighs the spring.
    """

    right: float
    left: float
    spring: float

    @property
    def flat(self) -> bool:
        """True if the card stays open by itself."""
        return min(self.right, self.left) >= self.spring


@dataclass(frozen=True)
class Standing:
    """The open card on the table, as its reader has it before them; lengths in mm.

    `width` runs across the line of sight, `depth` away from the reader, `height` is over the table that the pages lie on
    (the pleat of a gusset gives way). `reader` is the unit vector to the reader's eyes in the card's own axes. `faces`
    tells for each panel, but tabs and what an insert lines, whether its "printed" face or its "back" looks to the reader, or its
    "edge".
    `rest` is None for a card that stands as an L: its back wall rests on no table.
    """

    unit: str
    opens: float
    width: float
    depth: float
    height: float
    reader: Vector
    faces: dict[str, str]
    leans: tuple[Lean, ...]
    rest: Rest | None


def standing(card: Card) -> Standing:
    """The card at rest, open as far as it goes."""
    across, away, up, reader = seat(card.opens)
    placed = card.pose(card.opens)
    points = np.concatenate([placed[panel.name].points(_corners(panel)) for panel in card.panels])
    width, depth = (float(np.ptp(points @ axis)) for axis in (across, away))
    printed = printed_faces(card)
    lined = {part.name for part in card.parts if part.shown == "back"}
    faces = {panel.name: _face(placed[panel.name], reader, printed[panel.part]) for panel in card.panels
             if not panel.tab and panel.part not in lined}
    rest = rest_of(card) if card.opens == 180 else None
    return Standing(card.unit, card.opens, width, depth, float((points @ up).max()), reader, faces, tuple(_leans(card)), rest)


def _corners(panel: Panel) -> Vector:
    return np.asarray(panel.outline.exterior.coords)[:-1, :2]


def _face(placement: Placement, reader: Vector, printed: int) -> str:
    """Which face of a panel looks to the reader; `printed` as in `sides.py`."""
    towards = printed * float(np.cross(placement.along, placement.up) @ reader)
    return "edge" if abs(towards) < EDGE_ON else "printed" if towards > 0 else "back"


# ---- what leans

def _leans(card: Card) -> Iterator[Lean]:
    """Every crease inside a part that rises from a point of another part's crease, at every moment."""
    tabs = {panel.name for panel in card.panels if panel.tab}
    part = {panel.name: panel.part for panel in card.panels}
    poses = [card.pose(share * card.opens) for share in (0.0, 0.4, 1.0)]
    for ridge in card.hinges:
        if {ridge.left, ridge.right} & tabs or part[ridge.left] == "cover":
            continue
        hosts = (_rises(ridge, host, poses) for host in card.hinges if part[host.left] != part[ridge.left])
        slopes = next((slopes for slopes in hosts if slopes is not None), None)
        if slopes is not None:
            before, now = slopes
            past = degrees(asin(min(1.0, abs(now))))
            yield Lean(part[ridge.left], past if before * now < 0 else -past)


def _ends(hinge: Hinge, placed: dict[str, Placement]) -> Vector:
    return placed[hinge.left].points(np.array([hinge.start, hinge.end]))


def _rises(ridge: Hinge, host: Hinge, poses: list[dict[str, Placement]]) -> tuple[float, float] | None:
    """Cosine of the angle between a ridge and the crease that it rises from, closed and open; None if it does not."""
    slopes = []
    for placed in poses:
        foot, tip = _ends(host, placed), _ends(ridge, placed)
        along = (foot[1] - foot[0]) / np.linalg.norm(foot[1] - foot[0])
        run = (tip - foot[0]) @ along
        off = np.linalg.norm(tip - foot[0] - run[:, None] * along, axis=1)
        low = int(np.argmin(off))
        if off[low] > MEET or not -MEET <= run[low] <= np.linalg.norm(foot[1] - foot[0]) + MEET:
            return None
        rise = tip[1 - low] - tip[low]
        if off[1 - low] < PARALLEL * np.linalg.norm(rise):
            return None
        slopes.append(float(rise @ along / np.linalg.norm(rise)))
    return slopes[0], slopes[-1]


# ---- whether it stays open

def spring(habit: float) -> float:
    """Moment per length and turn of a crease, N per radian, from the habit `crease.spring` (mm).

    A page of the width w and 250 g/m² weighs p w per length, at w / 2 from the spine; it just rests if the spring of its
    crease, turned by half a circle from the closed card, is as strong: k pi = p w² / 2.
    """
    return SCRAP * 1e-9 * GRAVITY * habit**2 / (2 * pi)


def rest_of(card: Card) -> Rest:
    """The moments about the spine of the card as it lies open.

    The spring is the change of the creases' energy k L (turn)² / 2 with the opening of the card, turns measured from the
    closed card: the sum of k L turn d(turn)/d(opening).
    """
    weight = {part.name: GRAVITY * 1e-9 * grammage(paper.gsm, paper.caliper)
              for part in card.parts for paper in card.papers if paper.name == part.paper}  # N/mm²
    placed = card.pose(card.opens)
    sides = np.zeros(2)
    for panel in card.panels:
        sides += weight[panel.part] * _levers(panel.outline, placed[panel.name])
    for lap, carrier in lap_panels(card):
        sides += weight[lap.part] * _levers(lap.outline, placed[carrier])
    near, closed = card.pose(card.opens - NUDGE), card.pose(0.0)
    outlines = {panel.name: panel.outline for panel in card.panels}
    total = 0.0
    for hinge in card.hinges:
        now, before, first = (opening(hinge, outlines, pose) for pose in (placed, near, closed))
        length = float(np.hypot(hinge.end[0] - hinge.start[0], hinge.end[1] - hinge.start[1]))
        total += length * (now - first) * (now - before) / radians(NUDGE)
    return Rest(float(sides[0]), float(sides[1]), spring(card.practice["crease.spring"]) * total)


def _levers(outline: Polygon, placement: Placement) -> Vector:
    """Area times distance from the plane through the spine, of what lies over the right and over the left page, mm³."""
    y0, a, b = placement.origin[1], placement.along[1], placement.up[1]
    slope = float(np.hypot(a, b))
    out = np.zeros(2)
    for number, sign in enumerate((-1.0, 1.0)):
        piece = outline
        if slope > PARALLEL:  # the part of the panel on this side of the line y = 0
            normal = sign * np.array([a, b]) / slope
            foot = -sign * y0 / slope * normal
            edge = FAR * np.array([-normal[1], normal[0]])
            piece = outline.intersection(Polygon([foot - edge, foot + edge, foot + edge + FAR * normal,
                                                  foot - edge + FAR * normal]))
        if not piece.is_empty:
            centre = piece.centroid
            out[number] = piece.area * max(0.0, sign * (y0 + a * centre.x + b * centre.y))
    return out


def opening(hinge: Hinge, outlines: dict[str, Polygon], placed: dict[str, Placement]) -> float:
    """Angle between the two panels at a crease, radians: 0 folded onto each other, pi flat."""
    ends = _ends(hinge, placed)
    along = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    first, second = (_into(outlines[name], hinge, placed[name], along) for name in (hinge.left, hinge.right))
    return atan2(float(np.linalg.norm(np.cross(first, second))), float(first @ second))


def _into(outline: Polygon, hinge: Hinge, placement: Placement, along: Vector) -> Vector:
    """Unit vector in a panel, square to its crease and into its paper."""
    centre = outline.centroid
    (u, v), (p, q) = hinge.start, hinge.end
    beside = (p - u) * (centre.y - v) - (q - v) * (centre.x - u)
    out: Vector = np.sign(beside) * np.cross(np.cross(placement.along, placement.up), along)
    return out


# ---- words

def standing_words(found: Standing) -> Iterator[str]:
    """The open card in sentences for its designer."""
    def mm(value: float) -> str:
        return amount(value, unit=found.unit)

    size = f"{mm(found.height)} high over the table, {mm(found.width)} wide and {mm(found.depth)} deep"
    if found.opens == 180:
        yield f"{size}, both pages flat on the table; the reader sits at the tail and looks along the spine."
    else:
        yield (f"{size}, right page on the table, left page as back wall; the reader has the tail to their left and looks "
               "along the bisector of the pages.")
    yield _face_words(found.faces)
    for lean in found.leans:
        figure = amount(abs(lean.past), angle=True)
        yield (f"{lean.part} stands upright." if figure == "0°" else
               f"The ridge of {lean.part} stands {figure} past upright." if lean.past > 0 else
               f"The ridge of {lean.part} stops {figure} short of upright.")
    if found.rest is not None:
        yield _rest_words(found.rest)


def _face_words(faces: dict[str, str]) -> str:
    backs = [name for name, face in faces.items() if face == "back"]
    edges = sum(face == "edge" for face in faces.values())
    printed = len(faces) - len(backs) - edges
    text = f"Panels that show the reader their printed face: {printed}, their back: {len(backs)}"
    if edges:
        text += f", their edge: {edges}"
    return text + (f". Backs: {', '.join(backs)}." if backs else ".")


def _rest_words(rest: Rest) -> str:
    figures = (f"pages weigh {rest.right:.1f} (right) and {rest.left:.1f} N·mm (left) about the spine, the creases spring "
               f"with {rest.spring:.1f} N·mm")
    return (f"By an estimate it stays open flat by itself: its {figures}." if rest.flat else
            f"By an estimate it does not stay open flat by itself: its {figures}.")
