"""Parts too long for every mat: cut in pieces at straight seams, and glued together again.

The card stays as it is; pieces only say what is cut. A seam never runs through or near a crease, slit, slot, hole or glued
place (`seams.py` and `splitting.py` look after the outline, this file after the rest). Tongues and strips lie behind, on the
face that is not printed.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from foldwright.grammar.kept import Kept
from foldwright.solver.card import Bond, Card, Joined, Lap, Line, Note, Panel, Part, Placement, Step, Stroke
from foldwright.solver.gluing import onto
from foldwright.solver.grain import fits, size_of, turns
from foldwright.solver.seams import Habits
from foldwright.solver.splitting import Split, split
from foldwright.solver.standing import standing

LINING = 0.5  # of a panel's area: a sheet glued over more of it lines it, and is no glued place that a seam has to avoid
_FRONT, _SHOWN = 2.0, 1.0  # how much a seam matters on the front of the closed card, and on a face that the reader sees
_KEEPS = 1e-6  # mm by which a line may stand out of its piece
_CRUMB = 0.01  # mm; a shorter piece of line is rounding
_TICK = 3.0  # mm, length of the marks on a strip that show where the seam comes


def with_joints(card: Card, kept: Kept[Hashable, Any] | None = None) -> Card:
    """The card with `joined` for every part that fits no mat, if its machine allows that and there is a place for seams.

    Each has a step of its own before its part is first handled, and a note of how thick the seam is.
    """
    known: Kept[Hashable, Any] = Kept() if kept is None else kept
    found = tuple(_Joining(card, known).all()) if card.machine.joints else ()
    if not found:
        return card
    caliper = {paper.name: paper.caliper for paper in card.papers}
    glue = card.practice["joint.thickness"]
    notes = [Note(one.whole.name.split(".")[0], f"where pieces of {one.whole.name} are joined it is {{figure}} thicker: a second "
                  "sheet, and glue", caliper[one.whole.paper] + glue) for one in found]
    return replace(card, joined=found, steps=tuple(_steps(card.steps, found)), notes=(*card.notes, *notes))


def unjoined(card: Card) -> tuple[Part, ...]:
    """Parts that fit no mat, and for which no place for a seam was found; none if the machine allows no joints."""
    if not card.machine.joints:
        return ()
    allowed, done = turns(card), {one.whole.name for one in card.joined}
    return tuple(part for part in card.parts if part.name not in done and not fits(card, allowed[part.name], size_of(part)))


class _Joining:
    """The work of `with_joints` on one card."""

    def __init__(self, card: Card, kept: Kept[Hashable, Any]) -> None:
        self.card, self.kept = card, kept
        self.allowed = turns(card)
        self.panels = {panel.name: panel for panel in card.panels}
        self.laps: dict[str, list[Lap]] = {}  # by panel
        self.faces: dict[str, str] | None = None
        self.closed: dict[str, Placement] | None = None

    def all(self) -> Iterator[Joined]:
        """Every part that can be joined, hosts first, as the card has them."""
        for part in self.card.parts:
            if not fits(self.card, self.allowed[part.name], size_of(part)):
                found = self._split(part)
                if found is not None:
                    yield self._joined(part, found)

    def _split(self, part: Part) -> Split | None:
        practice, strip = self.card.practice, self.card.machine.joints == "strip"
        habits = Habits(practice["joint.overlap"], practice["joint.margin"], practice["tab.inset"], strip)
        keep_off = shapely.union_all(list(self._keep_off(part)))
        own = tuple((panel.outline, self._seen(panel)) for panel in self.card.panels if panel.part == part.name)
        allowed, mats = self.allowed[part.name], (self.card.mats, practice["sheet.border"], self.card.machine.kerf)
        key = ("split", part.outline, keep_off.wkb, habits, own, allowed, mats)
        found: tuple[Split | None] = self.kept.get(key, lambda: (split(
            part.outline, keep_off, lambda *size: fits(self.card, allowed, size), habits, partial(_where, own)),))
        return found[0]

    # ---- what a seam keeps away from, and where it is seen

    def _keep_off(self, part: Part) -> Iterator[BaseGeometry]:
        """Creases, slits, drawn lines and glued places of a part, in its coordinates."""
        own = {panel.name for panel in self.card.panels if panel.part == part.name}
        for hinge in self.card.hinges:
            if hinge.left in own:
                yield LineString([hinge.start, hinge.end])
        for line in part.lines:  # slits, and what is drawn on it
            yield LineString(line.points)
        for bond in self.card.bonds:
            if not own.isdisjoint((bond.panel, bond.host)):
                yield from self._glued(bond, own)

    def _glued(self, bond: Bond, own: set[str]) -> Iterator[BaseGeometry]:
        """What a bond glues of the panels of a part; where a sheet lines another, only the other one's seams."""
        if self.closed is None:
            self.closed = self.card.pose(0.0)
        for mine, other in ((bond.panel, bond.host), (bond.host, bond.panel)):
            if mine not in own:
                continue
            move = partial(onto, own=self.closed[other], other=self.closed[mine])
            yield from (move(lap.outline) for lap in self.laps.get(other, ()))
            both = self.panels[mine].outline.intersection(move(self.panels[other].outline))
            if not (bond.whole and both.area > LINING * Polygon(self.panels[bond.host].outline.exterior).area):
                yield both

    def _seen(self, panel: Panel) -> float:
        """How much a seam in a panel is seen."""
        if panel.part == "cover":  # the left page is the front of the closed card
            return _FRONT if panel.name == "cover.left" else _SHOWN
        if self.faces is None:
            self.faces = standing(self.card).faces
        return _SHOWN if self.faces.get(panel.name) == "printed" else 0.0

    # ---- the parts that are cut

    def _joined(self, part: Part, found: Split) -> Joined:
        count, strips = len(found.pieces), self.card.machine.joints == "strip"
        names = [f"{part.name} {number} of {count}" for number in range(1, count + 1)]
        several = len(found.seams) > 1
        behind = [f"{part.name} strip{f' {number}' * several}" for number in range(1, len(found.seams) + 1)]
        panels = [panel for panel in self.card.panels if panel.part == part.name]
        laps = []
        for (start, end, outline, owner), strip in zip(found.seams, behind, strict=True):
            middle = outline.representative_point()
            panel = min(panels, key=lambda panel: panel.outline.distance(middle))
            laps.append(Lap(start, end, outline, panel.name, strip if owner < 0 else names[owner]))
            self.laps.setdefault(panel.name, []).append(laps[-1])
        pieces = []
        for number, (name, piece) in enumerate(zip(names, found.pieces, strict=True), 1):
            tongue = next((lap.outline for lap in laps if lap.under == name), None)
            pieces.append(_piece(part, name, number, piece.outline, _lines(part, piece.body), tongue))
        pieced = [_piece(part, lap.under, count + number, lap.outline, _ticks(lap), lap.outline)
                  for number, lap in enumerate(laps, 1)] if strips else []
        return Joined(part, tuple(pieces), tuple(replace(one, drawn=()) for one in pieced), tuple(laps))


def _where(panels: Sequence[tuple[Polygon, float]], lap: Polygon) -> float:
    """How much a lap is seen: as its panel."""
    middle = lap.representative_point()
    return min(panels, key=lambda panel: panel[0].distance(middle))[1]


def _piece(part: Part, name: str, number: int, outline: Polygon, lines: tuple[Line, ...], hidden: Polygon | None) -> Part:
    """A part of its own; its label stands where glue hides it, if there is such a place."""
    label = f"{part.label}.{number}"
    point = (outline if hidden is None else hidden).representative_point()
    at = (point.x - 0.4 * part.label_height * len(label), point.y - part.label_height / 2)
    return replace(part, name=name, label=label, outline=outline, lines=lines, label_at=at)


def _lines(part: Part, body: Polygon) -> tuple[Line, ...]:
    """The lines of a part that lie on one of its pieces."""
    near, found = body.buffer(_KEEPS), []
    for line in part.lines:
        drawn = LineString(line.points)
        if near.covers(drawn):
            found.append(line)
            continue
        kept = body.intersection(drawn)
        for piece in getattr(kept, "geoms", [kept]):
            if piece.length > _CRUMB:
                found.append(Line(tuple((x, y) for x, y, *_ in piece.coords), line.stroke))
    return tuple(found)


def _ticks(lap: Lap) -> tuple[Line, ...]:
    """Marks at both ends of a strip, where the seam comes."""
    across = lap.outline.intersection(LineString([lap.start, lap.end]))
    (x0, y0), (x1, y1) = across.coords[0], across.coords[-1]
    share = min(_TICK / across.length, 0.25)
    step = (share * (x1 - x0), share * (y1 - y0))
    return (Line(((x0, y0), (x0 + step[0], y0 + step[1])), Stroke.MARK),
            Line(((x1 - step[0], y1 - step[1]), (x1, y1)), Stroke.MARK))


# ---- the assembly

def _steps(steps: Sequence[Step], found: Sequence[Joined]) -> Iterator[Step]:
    """The steps of a card, each joint before its part is first handled."""
    left = {one.whole.name: one for one in found}
    for step in steps:
        for name in step.parts:
            if name in left:
                yield _step(left.pop(name))
        yield step
    yield from (_step(one) for one in left.values())


def _step(one: Joined) -> Step:
    names = tuple(part.name for part in (*one.pieces, *one.strips))
    if one.strips:
        several = len(one.strips) > 1
        text = (f"Join {one.whole.name}: lay its pieces edge to edge along a ruler, printed sides down, and glue "
                f"{'each strip' if several else 'the strip'} over {'its' if several else 'the'} seam, the seam at its marks.")
    else:
        listing = ", ".join(f"the tongue of {lap.under} behind {_other(one, lap)}" for lap in one.laps)
        text = f"Join {one.whole.name}: along a ruler, printed sides up, glue {listing}, the edges meeting."
    return Step(f"{text} Let it dry flat under a weight. (Cut by hand from the template pages it is one piece.)", names)


def _other(one: Joined, lap: Lap) -> str:
    """The piece that a tongue lies behind."""
    others: list[Part] = [piece for piece in one.pieces if piece.name != lap.under]
    return max(others, key=lambda piece: piece.outline.intersection(lap.outline).area).name

