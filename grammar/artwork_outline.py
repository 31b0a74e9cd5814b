"""From the shapes of a drawing to the one outline that can be cut: flattened, checked, filled and joined.

The result is a polygon, because everything downstream joins and cuts it with other polygons. Chords stay
within 1/20000 of the drawing's larger extent: 0.005 mm on artwork 100 mm large, far less than paper and blade
can show (common practice, no source). Points are then rounded to about a ten-millionth of that extent, so
that the last bit of a sine, which differs between machines, decides nothing, and shapes that share an edge do
share it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import hypot

import numpy as np
import shapely
from fontTools.misc.transform import Transform
from numpy.typing import NDArray
from shapely.errors import GEOSException
from shapely.geometry import MultiPolygon, Polygon
from shapely.validation import explain_validity

from foldwright.grammar.artwork_curves import Curve, Ink, Line, SubPath
from foldwright.grammar.artwork_items import Clip, Drawing, Item, Shape
from foldwright.grammar.artwork_values import LARGEST_NUMBER, ArtworkFault, unreadable

Ring = NDArray[np.float64]

CHORD = 1 / 20_000  # of the larger extent
CLOSES = 0.01  # drawing units between the ends of a line that still counts as closed
SMALLEST_EXTENT = 1e-3  # drawing units; below it, rounding would eat the shape
MOST_RINGS = 1_000  # closed lines; telling which lies in which takes the square of their number
MOST_POINTS = 100_000
MOST_MEETINGS = 200_000  # places where outlines cross or touch; honest drawings have a few hundred
_OF_A_PIECE = 20  # meetings that a piece of a stroke has with its neighbours


@dataclass(frozen=True, slots=True)
class Scale:
    """How finely this drawing is treated, from its larger extent in drawing units."""

    extent: float

    @property
    def chord(self) -> float:
        """How far a chord may be from its curve."""
        return self.extent * CHORD

    @property
    def decimals(self) -> int:
        """Decimals kept; the power of ten is read from text, as platform logarithms may differ."""
        return 7 - int(f"{self.extent:e}".partition("e")[2])

    @property
    def step(self) -> float:
        """The grid of all points."""
        return float(f"1e{-self.decimals}")

    @property
    def closes(self) -> float:
        """How far the ends of a line that counts as closed may be apart."""
        return min(CLOSES, self.extent / 1000)


@dataclass(frozen=True, slots=True)
class Outlined:
    """A drawing as a silhouette: `outline` in units of its own width, y up, lower left corner at 0.

    `curves` are the lines and curves that it follows, `ink` what is drawn inside it, all in the same units; `width` and
    `height` are in mm as drawn.
    """

    outline: Polygon
    curves: tuple[Curve, ...]
    ink: Ink
    width: float
    height: float


def outline_of(drawing: Drawing) -> Outlined:
    """The silhouette of a drawing; raises `ArtworkFault` if it does not make one simple polygon."""
    from foldwright.grammar.artwork_ink import drawn_lines, stroke_shapes

    shapes = [*drawing.shapes, *stroke_shapes(drawing)]
    if not shapes and drawing.lines:
        raise ArtworkFault("stroked", f"nothing in it is filled: {drawing.lines[0].name} is only a stroked line")
    try:
        joined = outline_in_drawing_units(shapes)
        ink = drawn_lines(drawing.lines, joined, Scale(extent(shapes)))
    except GEOSException:
        raise unreadable("its outline is too intricate to be computed; simplify it") from None
    left, top, right, bottom = joined.bounds
    across, down = drawing.unit
    factor = np.array((1.0, -down / across)) / (right - left)
    outline = shapely.transform(joined, lambda xy: (xy - (left, bottom)) * factor)
    fx, fy = factor.tolist()
    matrix = Transform(fx, 0, 0, fy, -left * fx, -bottom * fy)
    curves = tuple(curve.moved(matrix) for curve in curves_of(shapes))
    if not outline.is_valid:
        raise unreadable("it is so much longer than wide that its outline cannot be kept")
    return Outlined(shapely.normalize(outline), curves, ink.moved(matrix), (right - left) * across, (bottom - top) * down)


def curves_of(shapes: Sequence[Shape]) -> tuple[Curve, ...]:
    """Every line and curve of the shapes and their clips where the drawing has it, the line that closes an open sub-path
    included."""
    chord = Scale(extent(shapes)).chord
    clips = {id(clip): clip for shape in shapes for clip in _all_clips(shape)}
    found: list[Curve] = []
    for path in (path for shape in (*shapes, *(s for clip in clips.values() for s in clip.shapes)) for path in shape.paths):
        found.extend(path.curves(chord))
        if path.end != path.start:
            found.append(Curve(path.end, Line(path.start), 1))
    return tuple(found)


def outline_in_drawing_units(shapes: Sequence[Shape]) -> Polygon:
    """The outline where the drawing has it, y down.

    Raises `ArtworkFault`, or `GEOSException` for a topology beyond what the geometry library can compute.
    """
    if not shapes:
        raise unreadable("nothing in it is filled, so there is no outline to cut")
    scale = Scale(extent(shapes))
    _check_size(shapes, scale)
    fill = Fill(scale)
    rings = [fill.rings(shape) for shape in shapes]
    clips = {id(clip): clip for shape in shapes for clip in _all_clips(shape)}
    meeting = [ring for of_shape in rings for ring in of_shape]
    meeting += [ring for clip in clips.values() for shape in clip.shapes for ring in fill.rings(shape)]
    _check_meetings(meeting, sum(shape.piece for shape in shapes))
    areas = [fill.area(shape, of_shape) for shape, of_shape in zip(shapes, rings, strict=True)]
    return _one_piece(shapely.union_all(areas, grid_size=scale.step), scale)


def _all_clips(item: Item) -> Iterator[Clip]:
    """The clips of an item, and those of the clips' own shapes."""
    for clip in item.clips:
        yield clip
        for shape in clip.shapes:
            yield from _all_clips(shape)


def extent(shapes: Sequence[Shape]) -> float:
    """The larger extent of what is seen, of a rough flattening: at most the true one, as its points lie on the curves."""
    boxes = np.array([box for shape in shapes if (box := _box(shape)) is not None])
    if not len(boxes):
        raise unreadable("nothing of it is seen, so there is no outline to cut")
    found = float((boxes[:, 2:].max(axis=0) - boxes[:, :2].min(axis=0)).max())
    if found < SMALLEST_EXTENT:
        raise unreadable(f"it is less than {SMALLEST_EXTENT:g} drawing units large")
    return found


def _box(shape: Shape) -> NDArray[np.float64] | None:
    """Left, top, right and bottom of what is seen of a shape, from a rough flattening; None of nothing."""
    rough = np.array([at for path in shape.paths for at in path.points([8] * len(path.segments))])
    if not (np.abs(rough) <= LARGEST_NUMBER).all():  # written so that nan fails too
        raise unreadable(f"its coordinates go past {LARGEST_NUMBER:g} drawing units")
    box = np.concatenate((rough.min(axis=0), rough.max(axis=0)))
    for clip in shape.clips:
        boxes = [other for each in clip.shapes if (other := _box(each)) is not None]
        if not boxes:
            return None
        whole = np.array(boxes)
        box[:2] = np.maximum(box[:2], whole[:, :2].min(axis=0))
        box[2:] = np.minimum(box[2:], whole[:, 2:].max(axis=0))
    return box if (box[:2] <= box[2:]).all() else None


def _check_size(shapes: Sequence[Shape], scale: Scale) -> None:
    rings = sum(len(shape.paths) for shape in shapes if not shape.piece)
    if rings > MOST_RINGS:
        raise unreadable(f"it has {rings} outlines, more than {MOST_RINGS}; simplify it")
    points = sum(sum(path.steps(scale.chord)) for shape in shapes for path in shape.paths)
    if points > MOST_POINTS:
        raise unreadable(
            f"its curves need {points} points to be followed, more than {MOST_POINTS}; simplify it"
        )


@dataclass(frozen=True, slots=True)
class Fill:
    """Shapes of one drawing as areas; a clip is worked out once."""

    scale: Scale
    clips: dict[int, Polygon | MultiPolygon] = field(default_factory=dict)

    def rings(self, shape: Shape) -> list[Ring]:
        """Its sub-paths as points; those of a stroke's piece that is too small for a ring are none."""
        found = (_ring(shape, path, self.scale) for path in shape.paths)
        return [ring for ring in found if ring is not None]

    def area(self, shape: Shape, rings: Sequence[Ring]) -> Polygon | MultiPolygon:
        """What is seen of a shape."""
        if not rings:
            return Polygon()
        return self.seen(shape, _filled(shape, rings, self.scale))

    def seen(self, item: Item, whole: shapely.Geometry) -> shapely.Geometry:
        """What the clips of an item leave of it."""
        for clip in item.clips:
            if id(clip) not in self.clips:
                areas = [self.area(shape, self.rings(shape)) for shape in clip.shapes]
                self.clips[id(clip)] = shapely.union_all(areas, grid_size=self.scale.step)
            whole = shapely.intersection(whole, self.clips[id(clip)], grid_size=self.scale.step)
        return whole


def _ring(shape: Shape, path: SubPath, scale: Scale) -> Ring | None:
    """Rounded points of a closed ring, shape (n, 2), the first repeated at the end, neighbours distinct."""
    (x0, y0), (x1, y1) = path.start, path.end
    if not path.closed and hypot(x1 - x0, y1 - y0) > scale.closes:
        raise ArtworkFault(
            "open",
            f"{shape.name} is an open line from {_place(path.start)} to {_place(path.end)}; join its ends",
        )
    points = np.round(np.array(path.points(path.steps(scale.chord))), scale.decimals)
    points[-1] = points[0]
    keep = np.append(True, (points[1:] != points[:-1]).any(axis=1))
    ring: Ring = points[keep]
    if len(ring) < 4 or Polygon(ring).convex_hull.area < scale.step * scale.extent:
        if shape.piece:
            return None
        raise ArtworkFault(
            "open", f"{shape.name} encloses nothing near {_place(path.start)}; remove it, or close it"
        )
    return ring


def _check_meetings(rings: Sequence[Ring], pieces: int) -> None:
    """Count how often outline meets outline, as the work of everything after this grows with it."""
    if not rings:
        return
    chords = shapely.linestrings(np.concatenate([np.stack((ring[:-1], ring[1:]), axis=1) for ring in rings]))
    tree = shapely.STRtree(chords)
    meetings = -3 * len(chords)  # each chord meets itself and its two neighbours
    for first in range(0, len(chords), 200):
        meetings += tree.query(chords[first : first + 200], predicate="intersects").shape[1]
        if meetings > MOST_MEETINGS + _OF_A_PIECE * pieces:
            raise ArtworkFault(
                "crossing", f"its outlines cross in more than {MOST_MEETINGS // 2} places; simplify it"
            )


def _filled(shape: Shape, rings: Sequence[Ring], scale: Scale) -> Polygon | MultiPolygon:
    """What the fill rule paints inside the rings of one shape."""
    polygons = np.array([_simple(shape, ring) for ring in rings])
    if len(rings) == 1:
        return polygons[0]
    linework = shapely.union_all(shapely.boundary(polygons), grid_size=scale.step)
    faces = np.array(shapely.get_parts(shapely.polygonize(shapely.get_parts(linework))))
    inside = shapely.point_on_surface(faces)
    face, ring = shapely.STRtree(polygons).query(inside, predicate="within")
    turns = np.where(shapely.is_ccw(shapely.get_exterior_ring(polygons)), 1, -1)
    winding = np.bincount(face, weights=turns[ring], minlength=len(faces)).astype(int)
    painted = winding % 2 != 0 if shape.evenodd else winding != 0
    return shapely.union_all(faces[painted], grid_size=scale.step)


def _simple(shape: Shape, ring: Ring) -> shapely.Geometry:
    polygon = Polygon(ring)
    if shape.piece and not polygon.is_valid:
        return shapely.make_valid(polygon)
    if not polygon.is_valid:
        found = re.search(r"\[(\S+) (\S+)\]", explain_validity(polygon))
        where = f" at {_place((float(found[1]), float(found[2])))}" if found else ""
        raise ArtworkFault("crossing", f"{shape.name} meets itself{where}")
    return polygon


def _one_piece(joined: Polygon | MultiPolygon, scale: Scale) -> Polygon:
    """The only polygon of the union, without the slivers that flattening leaves between shapes that abut."""
    pieces = [piece for piece in shapely.get_parts(joined) if not _is_sliver(piece, scale)]
    if not pieces:
        raise unreadable("nothing in it is filled, so there is no outline to cut")
    if len(pieces) > 1:
        places = " and ".join(_place(piece.representative_point().coords[0]) for piece in pieces[:2])
        raise unreadable(
            f"it is in {len(pieces)} separate pieces, such as at {places}; join them, or they fall apart"
        )
    holes = [hole for hole in pieces[0].interiors if not _is_sliver(Polygon(hole), scale)]
    return Polygon(pieces[0].exterior, holes)


def _is_sliver(piece: Polygon, scale: Scale) -> bool:
    return bool(piece.buffer(-scale.chord, quad_segs=1).is_empty)


def _place(at: tuple[float, ...]) -> str:
    """A place in drawing units (y down, as the drawing program shows it), to a hundredth."""
    return f"({at[0]:.2f}, {at[1]:.2f})"
