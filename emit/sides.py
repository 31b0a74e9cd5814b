"""Parts as they are seen from the side that lies up: from the printed one, or from the back of it.

A part whose printed face is its front is drawn as it is in the model for a look on the printed side, and as its mirror image
for a look on the back; one that is printed on its back the other way round. In a mirror image mountains are valleys.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import shapely
from fontTools.misc.transform import Transform
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from foldwright.emit.labels import Label, label_places
from foldwright.emit.lettering import mirrored_text
from foldwright.emit.placed import Placed, Sheet
from foldwright.solver.card import Card, Line, Part, Stroke
from foldwright.solver.gluing import Gluing, onto
from foldwright.solver.inked import inked
from foldwright.solver.pieces import as_cut, wholes
from foldwright.solver.sides import printed_faces

_OTHER = {Stroke.MOUNTAIN: Stroke.VALLEY, Stroke.VALLEY: Stroke.MOUNTAIN}
_MIRROR = Transform(-1, 0, 0, 1, 0, 0)
_NEAR = 2.0  # mm; a mark of where something is glued lies nearer to it than this
SEEN = {True: "Seen from the printed side, which lies up on the mat.",
        False: "Seen from the back: the printed side lies down on the mat."}


class Sides:
    """A card's parts, and their labels, from either side; up means a look on the printed side."""

    def __init__(self, card: Card) -> None:
        self._card = card
        self._gluing = Gluing(card)
        self.printed = printed_faces(card, self._gluing)

    def faces(self, up: bool) -> dict[str, int]:
        """By part the face that is seen: 1 its front, -1 its back."""
        return {name: face if up else -face for name, face in self.printed.items()}

    def seen(self, up: bool, marks: bool = False, whole: bool = False) -> Card:
        """The card with its parts as they look from there: as they are cut, joined ones in pieces, or all of them `whole`.

        Of the marks only those of what is glued on the face that is seen are there, for a pen would draw the others where
        nobody needs them; or all `marks`.
        """
        card, faces, parts = self._card if whole else as_cut(self._card), self.faces(up), []
        strips = {strip.name for one in card.joined for strip in one.strips}
        for part in card.parts:
            face, owner = faces[part.name], wholes(card).get(part.name, part.name)
            if marks:
                lines = part.lines
            elif part.name in strips:  # what is marked on it is where it goes, behind the seam
                lines = part.lines if up else ()
            else:
                lines = tuple(_on_face(part, owner, face, self._gluing))
            own = replace(part, lines=lines)
            parts.append(own if face > 0 else mirrored(own))
        return replace(card, parts=tuple(parts))

    def labels(self, up: bool) -> dict[str, Label]:
        """Where labels stand on what is seen."""
        return label_places(self._card, self.faces(up), self._gluing)


def mirrored(part: Part) -> Part:
    """A part seen from the other side, its u turned round; its label's text is not mirrored."""
    return replace(
        part,
        outline=_turned(part.outline),
        lines=tuple(Line(tuple((-x + 0.0, y) for x, y in line.points), _OTHER.get(line.stroke, line.stroke))
                    for line in part.lines),
        label_at=mirrored_text(part.label, part.label_at, part.label_height),
        drawn=tuple(drawn.then(_MIRROR) for drawn in part.drawn),
        thin=tuple(replace(place, at=(-place.at[0], place.at[1])) for place in part.thin),
    )


def turned_over(sheet: Sheet, parts: Mapping[str, Part]) -> Sheet:
    """A sheet with its other side up; `parts` are its parts as they are seen from there, by name."""
    control = sheet.control
    if control is not None:
        control = replace(control, x=sheet.width - control.box.bounds[2])
    placed = tuple(Placed(parts[one.part.name], sheet.width - one.dx, one.dy, -one.turn % 360) for one in sheet.placed)
    return replace(sheet, placed=placed, control=control)


def _turned(outline: Polygon) -> Polygon:
    """Mirrored; its rings keep the sense in which they run."""
    moved: Polygon = shapely.reverse(shapely.transform(outline, lambda points: points * (-1.0, 1.0)))
    return moved


def _on_face(part: Part, whole: str, face: int, gluing: Gluing) -> Iterator[Line]:
    """The lines of a part, or of a piece of a `whole` one, without the marks of what is glued on its other face.

    Lines that its artwork draws are kept on both.
    """
    glued: list[tuple[BaseGeometry, int]] = []
    placed = gluing.poses[0]
    for bond in gluing.bonds:
        host = gluing.panels[bond.host]
        if host.part == whole:
            under = onto(gluing.panels[bond.panel].outline, placed[bond.panel], placed[bond.host])
            glued.append((under, gluing.sides[bond.panel, bond.host]))
    ink = set(inked(part.drawn, part.outline))
    for line in part.lines:
        if line.stroke is not Stroke.MARK or line in ink or _face(LineString(line.points), glued) != -face:
            yield line


def _face(mark: LineString, glued: Sequence[tuple[BaseGeometry, int]]) -> int:
    """The face on which the sheet nearest to a mark is glued, 0 if there is none near."""
    middle = mark.interpolate(0.5, normalized=True)
    away = [(round(area.distance(middle), 6), face) for area, face in glued]
    distance, face = min(away, key=lambda each: each[0], default=(_NEAR, 0))
    return face if distance < _NEAR else 0
