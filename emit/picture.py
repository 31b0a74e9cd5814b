"""A picture of the standing card as SVG: flat paper tones and thin lines, as a reader at the table sees it.

Panels have the colour of their paper, lighter or darker by how they face a fixed light, both sides of a sheet alike. What
is hidden is left out, not painted over (`visible.py`). Contours are drawn stronger than folds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from foldwright.emit.bsp import Face, Node, grow
from foldwright.emit.stacking import Stacking
from foldwright.emit.visible import GRID, Seen, View, visible
from foldwright.solver.card import Card, Hinge, Placement, Stroke, Vector
from foldwright.solver.gluing import normal

__all__ = ["Scene", "View", "picture"]

OUTLINE = -1  # tag of lines that are cut; folds carry the number of their hinge
LEAST_ANGLE = 0.5  # degrees: a closed card is drawn a little open, so that its sheets lie in order
INSET = 0.01  # mm: how far lines are moved into their panel
DETAIL = 0.02  # mm: outlines are thinned to this before they are cut; a tenth of the thinnest line
LIGHT = np.array([-0.44, -0.30, 0.85])  # towards the light, in the viewer's right, away and up: from the left, above
PAPER, SHADE = "#ffffff", "#14161f"
DARK = 0.30  # lightness, 0 to 1, of a paper on which dark lines are lost
MIDDLE = 0.62  # cosine at which a paper has its own colour
MARGIN = 6.0  # of the picture's own units
CONTOUR, FOLD, SEAM = 0.9, 0.5, 0.35  # widths of lines, and of the rim that closes the gap between two tones


@dataclass(frozen=True)
class Scene:
    """A card at one opening angle, ready to be seen from any side."""

    card: Card
    angle: float
    faces: tuple[Face, ...]
    placed: dict[str, Placement]
    stacking: Stacking
    tree: Node | None

    @classmethod
    def of(cls, card: Card, angle: float) -> Scene:
        """The scene at an opening angle in degrees, 0 to `card.opens`."""
        if not 0 <= angle <= card.opens:
            raise ValueError(f"the card opens from 0 to {card.opens:g} degrees, not to {angle:g}")
        angle = max(float(angle), LEAST_ANGLE)
        placed, stacking = card.pose(angle), Stacking(card)
        faces = tuple(_faces(card, placed))
        names = [panel.name for panel in card.panels]

        def stack(numbers: Sequence[int], along: Vector) -> list[int]:
            ordered = stacking.order([names[number] for number in numbers], placed, along)
            return [names.index(name) for name in ordered]

        return cls(card, angle, faces, placed, stacking, grow(faces, stack))

    def papers(self) -> dict[str, str]:
        """The paper of each panel, by names."""
        paper_of = {part.name: part.paper for part in self.card.parts}
        return {panel.name: paper_of[panel.part] for panel in self.card.panels}

    def seen(self, view: View) -> list[Seen]:
        """What is visible of each panel, in the order of the card's panels (mm in the picture plane, y up)."""
        return visible(self.faces, self.tree, view)


def _faces(card: Card, placed: dict[str, Placement]) -> Iterator[Face]:
    """Panels with their outline, folds and slits; an outline does not run along a fold.

    Lines lie a hair inside their panel: on the very edge, where two panels meet, rounding would decide which hides which.
    """
    slits = {part.name: [shapely.LineString(line.points) for line in part.lines if line.stroke is Stroke.CUT]
             for part in card.parts}
    for panel in card.panels:
        area = shapely.simplify(panel.outline, DETAIL)
        inner = shapely.buffer(area, -INSET, join_style="mitre")
        folds = [(number, shapely.LineString([hinge.start, hinge.end])) for number, hinge in enumerate(card.hinges)
                 if panel.name in (hinge.left, hinge.right)]
        cuts = shapely.union_all([inner.boundary, *(slit.intersection(inner) for slit in slits[panel.part])])
        if folds:
            cuts = cuts.difference(shapely.union_all([fold for _, fold in folds]).buffer(2 * INSET))
        yield Face(placed[panel.name], area, ((OUTLINE, cuts), *((tag, _inwards(fold, area)) for tag, fold in folds)))


def _inwards(fold: BaseGeometry, area: BaseGeometry) -> BaseGeometry:
    """A fold on the edge of a panel, moved a hair into it."""
    sides = [shapely.offset_curve(fold, side * INSET) for side in (1, -1)]
    return max(sides, key=lambda line: line.intersection(area).length)


def picture(card: Card, angle: float, view: View | None = None, width: float = 400) -> bytes:
    """The card at an opening angle (degrees) as an SVG file of the given width in pixels, UTF-8; height follows.

    `view` is the reader's seat if left out. Equal cards give equal bytes; coordinates have two decimals. Raises ValueError
    for an angle outside 0 to `card.opens`.
    """
    scene, view = Scene.of(card, angle), view or View.seat(card.opens, angle)
    seen = scene.seen(view)
    contours, folds = _lines(scene, seen, view)
    sheet = _Sheet.around([part.area for part in seen], width)
    return _svg(scene, sheet, seen, contours, folds, view)


Lines = dict[str, list[BaseGeometry]]  # by paper


def _lines(scene: Scene, seen: Sequence[Seen], view: View) -> tuple[Lines, Lines]:
    """Visible contours and folds by paper.

    A fold is drawn as a contour where only one of its panels shows: there the paper ends for the eye.
    """
    paper_of = scene.papers()
    contours: Lines = {paper.name: [] for paper in scene.card.papers}
    folds: Lines = {paper.name: [] for paper in scene.card.papers}
    seen_of = {panel.name: part for panel, part in zip(scene.card.panels, seen, strict=True)}
    for name, part in seen_of.items():
        contours[paper_of[name]].append(part.lines.get(OUTLINE, shapely.LineString()))
    for tag, hinge in enumerate(scene.card.hinges):
        matrix, shift = view.flat(scene.placed[hinge.left])
        start, end = np.array([hinge.start, hinge.end]) @ matrix.T + shift
        if np.allclose(start, end):
            continue
        left, right = (_shares(seen_of[name].lines.get(tag), start, end) for name in (hinge.left, hinge.right))
        folded = shapely.LineString() if _turned_away(scene, hinge, view) else left.intersection(right)
        paper = paper_of[hinge.left]
        folds[paper].append(_along(folded, start, end))
        contours[paper].append(_along(left.union(right).difference(folded), start, end))
    return contours, folds


def _shares(line: BaseGeometry | None, start: Vector, end: Vector) -> BaseGeometry:
    """Stretches of the line from `start` to `end` as lines on the x axis from 0 to 1, where they compare exactly."""
    along = (end - start) / ((end - start) @ (end - start))
    runs = [] if line is None else [(np.array(run.coords)[[0, -1]] - start) @ along for run in shapely.get_parts(line)]
    return shapely.union_all([shapely.LineString([(a, 0), (b, 0)]) for a, b in runs] or [shapely.LineString()])


def _along(shares: BaseGeometry, start: Vector, end: Vector) -> BaseGeometry:
    moved: BaseGeometry = shapely.transform(shares, lambda points: start + points[:, :1] * (end - start))
    return moved


def _turned_away(scene: Scene, hinge: Hinge, view: View) -> bool:
    """True if both panels lie on the same side of their fold in the picture: one hides the other."""
    sides = []
    for name in (hinge.left, hinge.right):
        matrix, _ = view.flat(scene.placed[name])
        outline = scene.stacking.panels[name].outline
        start, along = matrix @ hinge.start, matrix @ np.subtract(hinge.end, hinge.start)
        middle = np.mean([hinge.start, hinge.end], axis=0)
        near = shapely.Point(middle).buffer(1.0).intersection(outline).centroid
        away = matrix @ (near.x, near.y) - start
        sides.append(along[0] * away[1] - along[1] * away[0])
    return bool(sides[0] * sides[1] > 0)


@dataclass(frozen=True)
class _Sheet:
    """The picture's own coordinates: y down, two decimals, everything seen inside the margin."""

    left: float
    top: float
    scale: float
    width: float
    height: float

    @classmethod
    def around(cls, shapes: Sequence[BaseGeometry], width: float) -> _Sheet:
        """Fitted to some shapes in the picture plane."""
        x0, y0, x1, y1 = shapely.total_bounds([shape for shape in shapes if not shape.is_empty])
        scale = (width - 2 * MARGIN) / (x1 - x0)
        return cls(x0, y1, scale, width, round(scale * (y1 - y0) + 2 * MARGIN, 2))

    def place(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape of the picture plane in the picture's coordinates, without needless corners."""
        corner, turn = np.array([self.left, self.top]), np.array([self.scale, -self.scale])
        placed = shapely.transform(shape, lambda points: (points - corner) * turn + MARGIN)
        return shapely.simplify(placed, 0.02)


def _svg(scene: Scene, sheet: _Sheet, seen: Sequence[Seen], contours: Lines, folds: Lines, view: View) -> bytes:
    import svgwrite

    width, height = number(sheet.width), number(sheet.height)
    image = svgwrite.Drawing(size=(width, height), viewBox=f"0 0 {width} {height}", profile="full", debug=False)
    image.set_desc(title=scene.card.title, desc=f"The card opened to {number(scene.angle)} degrees, seen from "
                   "above. Each paper is shown in its colour, folds as thin lines.")
    tones = image.g(id="paper", stroke_width=number(SEAM), stroke_linejoin="round", fill_rule="evenodd")
    for panel, part, tone in zip(scene.card.panels, seen, _tones(scene, view), strict=True):
        data = rings(sheet.place(part.area))
        if data:
            path = image.path(d=data, fill=tone, stroke=tone)
            path.set_desc(title=panel.name)
            tones.add(path)
    image.add(tones)
    colours = {paper.name: paper.colour for paper in scene.card.papers}
    for name, lines, thick in (("folds", folds, FOLD), ("contours", contours, CONTOUR)):
        drawn = image.g(id=name, fill="none", stroke_width=number(thick), stroke_linecap="round", stroke_linejoin="round")
        for paper, shapes in lines.items():
            data = strokes(sheet.place(shapely.line_merge(shapely.union_all(shapes, grid_size=GRID))))
            if data:
                drawn.add(image.path(d=data, stroke=inked(colours[paper])))
        image.add(drawn)
    root = image.get_xml()
    root.set("role", "img")
    root.attrib.pop("xmlns:ev", None)  # a namespace that is not used here
    ElementTree.indent(root, " ")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{ElementTree.tostring(root, encoding="unicode")}\n'.encode()


def _tones(scene: Scene, view: View) -> list[str]:
    """The colour of each panel, as #rrggbb."""
    colours, paper_of = {paper.name: paper.colour for paper in scene.card.papers}, scene.papers()
    light = LIGHT @ view.table / np.linalg.norm(LIGHT)
    return [toned(colours[paper_of[panel.name]], abs(float(normal(scene.placed[panel.name]) @ light)))
            for panel in scene.card.panels]


def toned(colour: str, facing: float) -> str:
    """A paper's colour, `facing` 0 (edge to the light) to 1 (square to it): towards shade below, lighter above."""
    if facing < MIDDLE:
        return mixed(colour, SHADE, 0.34 * (1 - facing / MIDDLE))
    return mixed(colour, PAPER, 0.22 * (facing - MIDDLE) / (1 - MIDDLE))


def inked(colour: str) -> str:
    """The colour of lines on a paper: a dark one of the same hue, or a light one on dark paper."""
    red, green, blue = channels(colour)
    lightness = (0.299 * red + 0.587 * green + 0.114 * blue) / 255  # luma, ITU-R BT.601
    return mixed(colour, SHADE, 0.85) if lightness > DARK else mixed(colour, PAPER, 0.5)


def mixed(colour: str, other: str, share: float) -> str:
    """`share` 0 gives the colour, 1 the other one."""
    own = channels(colour)
    return "#" + "".join(f"{channel:02x}" for channel in np.rint(own + share * (channels(other) - own)).astype(int))


def channels(colour: str) -> NDArray[np.float64]:
    """Red, green and blue of #rrggbb, 0 to 255."""
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)], dtype=np.float64)


def number(value: float) -> str:
    """At most two decimals, no trailing zeros, never minus zero."""
    return f"{round(float(value), 2) + 0.0:.2f}".rstrip("0").rstrip(".")


Corners = list[tuple[float, float]]


def rings(area: BaseGeometry) -> str:
    """Path data of an area: each ring from its least corner, always in the same sense, so that equal areas give equal text."""
    found = []
    for polygon in shapely.get_parts(area):
        if polygon.geom_type == "Polygon":
            for ring in (polygon.exterior, *polygon.interiors):
                points = _corners(ring)[:-1]
                if shapely.is_ccw(ring):
                    points.reverse()
                first = points.index(min(points))
                found.append(points[first:] + points[:first])
    return "".join(_path(points) + "Z" for points in sorted(found))


def strokes(lines: BaseGeometry) -> str:
    """Path data of lines, each from its lesser end."""
    found = [_corners(line) for line in shapely.get_parts(lines)]
    return "".join(_path(points) for points in sorted(min(points, points[::-1]) for points in found))


def _corners(line: BaseGeometry) -> Corners:
    return [(float(x) + 0.0, float(y) + 0.0) for x, y in np.round(shapely.get_coordinates(line), 2)]


def _path(points: Corners) -> str:
    return "M" + " ".join(f"{number(x)} {number(y)}" for x, y in points)
