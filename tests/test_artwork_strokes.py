"""Clip paths, inner drawings and strokes of artwork against an independent renderer (resvg) and closed formulas."""

from __future__ import annotations

from math import pi, sqrt
from pathlib import Path

import numpy as np
import pytest
import resvg_py
import shapely
from test_artwork import PIXELS, opacity, read, svg

from foldwright.grammar.artwork import read_artwork
from foldwright.grammar.artwork_curves import Arc, Cubic, Line, SubPath
from foldwright.grammar.artwork_ink import stroke_shapes
from foldwright.grammar.artwork_outline import CHORD, outline_in_drawing_units
from foldwright.grammar.artwork_pen import Pen
from foldwright.grammar.artwork_strokes import outlines
from foldwright.grammar.artwork_svg import read_drawing

BOX = "0 0 20 20"
SHAPE = '<path d="M1 1H19V19H1z"/>'
PICTURES = {  # all drawn whole inside 0 0 20 20
    "clip path": (
        '<clipPath id="a"><circle cx="9" cy="9" r="7"/></clipPath><g clip-path="url(#a)"><rect width="20" height="12"/></g>'
    ),
    "clip path with a rule": (
        '<clipPath id="a"><path clip-rule="evenodd" d="M2 2H18V18H2zM6 6H14V14H6z"/></clipPath>'
        '<rect width="20" height="16" clip-path="url(#a)"/>'
    ),
    "clip path moved by its element": (
        '<clipPath id="a"><rect x="2" y="2" width="8" height="8"/></clipPath>'
        '<rect width="20" height="20" transform="translate(3 4) rotate(10)" clip-path="url(#a)"/>'
    ),
    "clip path with a transform of its own": (
        '<clipPath id="a" transform="rotate(30 10 10)"><rect x="4" y="4" width="12" height="12" transform="skewX(5)"/></clipPath>'
        '<rect width="20" height="20" clip-path="url(#a)"/>'
    ),
    "clip path by the box of its element": (
        '<clipPath id="a" clipPathUnits="objectBoundingBox"><circle cx=".5" cy=".4" r=".5"/></clipPath>'
        '<g transform="rotate(8) translate(1 0)" clip-path="url(#a)"><rect x="2" y="2" width="15" height="10"/>'
        '<path d="M4 11h9q3 8-9 5z"/></g>'
    ),
    "clipped clip path": (
        '<clipPath id="b"><rect x="3" y="3" width="10" height="14"/></clipPath>'
        '<clipPath id="a" clip-path="url(#b)"><circle cx="9" cy="10" r="8"/><rect x="2" y="8" width="17" height="3"/></clipPath>'
        '<rect width="20" height="20" style="clip-path: url(#a)"/>'
    ),
    "clip path of a copy, hidden parts": (
        '<defs><path id="leaf" d="M2 10C6 2 14 2 18 10 14 18 6 18 2 10z" fill="none"/></defs>'
        '<clipPath id="A"><use href="#leaf" x="1"/><rect width="20" height="20" visibility="hidden"/>'
        '<rect width="20" height="20" display="none"/></clipPath><rect width="20" height="13" clip-path="url(#A)"/>'
    ),
    "clips in clips of groups": (
        '<clipPath id="a"><rect width="20" height="12"/></clipPath><clipPath id="b"><rect width="11" height="20"/></clipPath>'
        '<g clip-path="url(#a)"><g clip-path="url(#b)"><circle cx="10" cy="10" r="9"/></g></g>'
    ),
    "clip by a class": (
        '<style>.c{clip-path:url(#a)}</style><clipPath id="a"><rect width="14" height="14"/></clipPath>'
        '<circle class="c" cx="10" cy="10" r="9"/>'
    ),
    "inner drawing": '<svg x="2" y="3" width="14" height="10" viewBox="0 0 7 10"><rect x="-2" width="9" height="10"/></svg>',
    "inner drawing, slice": (
        '<svg x="2" y="3" width="14" height="10" viewBox="0 0 7 10" preserveAspectRatio="xMinYMax slice">'
        '<circle cx="3" cy="6" r="4"/></svg>'
    ),
    "inner drawing, stretched": (
        '<svg x="2" y="3" width="14" height="10" viewBox="0 0 7 10" preserveAspectRatio="none">'
        '<circle cx="3" cy="6" r="3.5"/></svg>'
    ),
    "inner drawing without a size": '<svg viewBox="0 0 40 20"><circle cx="20" cy="10" r="15"/></svg>',
    "inner drawing in percent": '<svg x="10%" y="5%" width="60%" height="50%"><circle cx="6" cy="5" r="6"/></svg>',
    "inner drawing that shows more": (
        '<svg x="4" y="4" width="8" height="8" overflow="visible"><circle cx="4" cy="4" r="5"/></svg>'
    ),
    "symbol": (
        '<symbol id="s" viewBox="0 0 10 10" preserveAspectRatio="xMaxYMid"><path d="M0 0H10L6 12H2z"/></symbol>'
        '<use href="#s" x="2" y="4" width="16" height="12"/>'
    ),
    "symbol without a viewBox": (
        '<defs><symbol id="s"><circle cx="3" cy="3" r="3.5"/></symbol></defs><g transform="scale(2)">'
        '<use href="#s" x="2" y="1"/></g>'
    ),
    "copy of an inner drawing": (
        '<defs><svg id="s" width="4" height="4" viewBox="0 0 2 2"><path d="M0 0H2V2z"/></svg></defs>'
        '<use href="#s" x="3" y="3" width="12" height="9"/>'
    ),
    "link": '<a><circle cx="9" cy="9" r="5"/></a>',
}
STROKED = {
    "corners by mitre": '<path d="M3 17L6 4 10 15 13 13 17 4" stroke-width="2"/>',
    "mitre limit": '<path d="M3 17L6 4 9 15 13 13 17 4" stroke-width="2" stroke-miterlimit="2.5"/>',
    "round corners and ends": (
        '<path d="M3 17L6 4 10 15 13 13 17 4" stroke-width="2" stroke-linejoin="round" stroke-linecap="round"/>'
    ),
    "bevelled corners, square ends": (
        '<path d="M4 16L6 4 10 15 13 13 16 4" stroke-width="2.5" stroke-linejoin="bevel" stroke-linecap="square"/>'
    ),
    "closed": '<path d="M4 4H15L10 16z" stroke-width="2"/>',
    "curves": '<path d="M3 10C3 3 17 3 17 10S10 19 10 12" stroke-width="1.5"/>',
    "circle and ellipse": '<circle cx="8" cy="8" r="6"/><ellipse cx="13" cy="13" rx="6" ry="3" stroke-width="1.5"/>',
    "tight curve": '<path d="M4 14C4 2 7 2 7 14" stroke-width="5"/>',
    "loop": '<path d="M3 15C25 2-5 2 17 15" stroke-width="1.2"/>',
    "arcs": '<path d="M3 12a5 5 0 0110 0 3 6 20 005 2" stroke-width="1.7"/>',
    "stretched": '<path d="M2 3C4 6 6 1 7 5L5 8" transform="scale(2.2 1.5) rotate(5)" stroke-width="1" stroke-linecap="round"/>',
    "dashes": '<path d="M2 4H18V16" stroke-width="3" stroke-dasharray="5 2 1"/><path d="M2 5.5H19V16" stroke-width="1"/>',
    "dashes on a curve": (
        '<path d="M3 10C3 3 17 3 17 10S10 19 10 12" stroke-width="1.5" stroke-dasharray="3,1" stroke-dashoffset="1.7"/>'
        '<path d="M3 10C3 3 17 3 17 10S10 19 10 12" stroke-width=".5"/>'
    ),
    "round dots": (
        '<path d="M3 10C3 3 17 3 17 10" stroke-width="2" stroke-linecap="round" stroke-dasharray="0 3"/>'
        '<path d="M3 10C3 3 17 3 17 10" stroke-width=".6"/>'
    ),
    "square dots": (
        '<path d="M3 10C3 3 17 3 17 10" stroke-width="2" stroke-linecap="square" stroke-dasharray="0 3"/>'
        '<path d="M3 10C3 3 17 3 17 10" stroke-width=".6"/>'
    ),
    "square dashes": (
        '<path d="M3 10C3 3 17 3 17 10" stroke-width="2" stroke-linecap="square" stroke-dasharray=".5 3"/>'
        '<path d="M3 10C3 3 17 3 17 10" stroke-width=".6"/>'
    ),
    "dot": '<path d="M10 10h0" stroke-width="9" stroke-linecap="round"/>',
    "by classes, in mm": '<style>.t{stroke-width:.6mm;stroke-linecap:round}</style><path class="t" d="M4 4Q10 16 16 5"/>',
    "filled too": '<path d="M4 4H15L10 16z" fill="black" stroke-width="2" stroke-linejoin="round"/>',
    "clear stroke": '<path d="M4 4H15L10 16z" fill="black" stroke-opacity="0" stroke-width="3"/>',
    "clipped": (
        '<clipPath id="a"><rect width="20" height="10"/></clipPath>'
        '<circle cx="10" cy="10" r="7" stroke-width="2" clip-path="url(#a)"/>'
    ),
    "backwards": '<path d="M3 10H15H8" stroke-width="4" stroke-linejoin="round"/>',
    "control points on the ends": '<path d="M3 16C3 16 3 4 15 4C16 4 17 17 17 17" stroke-width="2.4"/>',
    "rectangle and polyline": (
        '<rect x="3" y="3" width="10" height="9" rx="2" stroke-width="1.3"/><polyline points="8 8 17 10 11 17" stroke-width="2"/>'
    ),
}


def mismatch(text: str, strokes: bool) -> tuple[int, int]:
    """Pixels that differ from the renderer's picture, and pixels painted there."""
    png = resvg_py.svg_to_bytes(svg_string=text, width=20 * PIXELS, height=20 * PIXELS, dpi=96)
    seen = opacity(bytes(png)) >= 128
    drawing = read_drawing(text.encode(), strokes)
    outline = outline_in_drawing_units([*drawing.shapes, *stroke_shapes(drawing)])
    middles = (np.arange(20 * PIXELS) + 0.5) / PIXELS
    ours = shapely.contains_xy(outline, *np.meshgrid(middles, middles))
    return int(np.count_nonzero(ours != seen)), int(np.count_nonzero(seen))


@pytest.mark.parametrize("name", PICTURES)
def test_clips_and_inner_drawings_are_those_of_an_independent_renderer(name: str) -> None:
    wrong, painted = mismatch(svg(PICTURES[name], BOX), False)
    assert painted > 0.05 * (20 * PIXELS) ** 2, "the renderer drew next to nothing: this compared nothing"
    assert wrong < 0.005 * painted  # as in test_artwork: antialiasing rounds some pixels on the outline across one half


@pytest.mark.parametrize("name", STROKED)
def test_strokes_are_those_of_an_independent_renderer(name: str) -> None:
    wrong, painted = mismatch(svg(f'<g fill="none" stroke="black">{STROKED[name]}</g>', BOX), True)
    assert painted > 0.02 * (20 * PIXELS) ** 2, "the renderer drew next to nothing: this compared nothing"
    # A stroke a twentieth of the picture wide, or a dash three times as long as wide, has three times the outline to its area
    # of the filled shapes, and the renderer's own curves are off by up to a tenth of a pixel.
    assert wrong < 0.0125 * painted


def swept(path: SubPath, width: float) -> shapely.Geometry:
    """The stroke with round corners and ends, by the geometry library: all that is near the line."""
    return shapely.LineString(path.points([4000] * len(path.segments))).buffer(width / 2, quad_segs=500)


@pytest.mark.parametrize(
    "path",
    [
        SubPath((0, 0), (Cubic((0, 60), (100, 60), (100, 0)),), False),
        SubPath((0, 0), (Cubic((80, 90), (-20, 90), (60, 0)), Line((60, 40))), False),
        SubPath((30, 0), (Arc((0, 0), (30, 0), (0, 30), 0.0, 2.0, (30 * np.cos(2.0), 30 * np.sin(2.0))),), False),
        SubPath((40, 0), (Arc((0, 0), (40, 0), (0, 15), 0.0, pi, (-40, 0)),), False),
    ],
    ids=["cubic", "loop and corner", "arc", "ellipse"],
)
def test_edges_stay_within_the_tolerance(path: SubPath) -> None:
    """On shapes about 100 mm large: 0.005 mm, of which the pieces take a quarter and their chords the rest."""
    tolerance = 100 * CHORD / 4
    pieces = outlines([path], Pen(6.0, "round", "round"), tolerance, 1000)
    joined = shapely.union_all([shapely.Polygon(piece.points(piece.steps(tolerance))) for piece in pieces], grid_size=1e-6)
    exact = swept(path, 6.0)
    assert shapely.hausdorff_distance(joined.boundary, exact.boundary, densify=0.1) <= 100 * CHORD
    assert len(pieces) < 100  # no more than a few to each curve and corner of this one, which turns by more than a whole turn


def test_area_of_a_mitred_frame_and_of_a_ring(tmp_path: Path) -> None:
    """A square frame of outer side 14 and inner 10; a ring between radii 6 and 4: pi (36 - 16)."""
    square = '<rect x="4" y="4" width="12" height="12" fill="none" stroke="red" stroke-width="2"/>'
    (tmp_path / "frame.svg").write_text(svg(square))
    frame = read_artwork(Path("frame.svg"), tmp_path, strokes=True)
    assert frame.scaled(14).area == pytest.approx(14**2 - 10**2, abs=1e-4)
    (tmp_path / "ring.svg").write_text(svg('<circle cx="9" cy="9" r="5" fill="none" stroke="red" stroke-width="2"/>'))
    ring = read_artwork(Path("ring.svg"), tmp_path, strokes=True)
    assert ring.scaled(12).area == pytest.approx(pi * 20, abs=2 * pi * 10 * 12 * CHORD)
    assert len(ring.outline.interiors) == 1


def test_length_of_a_mitre() -> None:
    """SVG 1.1 section 11.4: the mitre is 1 / sin(theta / 2) widths long; at a right angle sqrt(2), measured across the corner."""
    corner = SubPath((0, 0), (Line((10, 0)), Line((10, 10))), False)
    *_, mitre = outlines([corner], Pen(2.0, limit=1.42), 1e-4, 100)
    tip, inner = np.array(max(mitre.points([1] * 4), key=lambda at: at[0] - at[1])), np.array((9.0, 1.0))
    assert np.hypot(*(tip - inner)) == pytest.approx(2 * sqrt(2))
    bevelled = outlines([corner], Pen(2.0, limit=1.41), 1e-4, 100)
    assert max(x - y for piece in bevelled for x, y in piece.points([1] * len(piece.segments))) < 11 - -1


def test_without_the_word_strokes_of_filled_shapes_are_left_out(tmp_path: Path) -> None:
    body = '<path d="M4 4H14V14H4z" stroke="red" stroke-width="3"/>'
    assert read(tmp_path, svg(body)).width == pytest.approx(10 * 25.4 / 96)
    assert read_artwork(Path("drawing.svg"), tmp_path, strokes=True).width == pytest.approx(13 * 25.4 / 96)


def test_edges_of_strokes_keep_their_curves(tmp_path: Path) -> None:
    """The outline has curves to follow: arcs of the right radius round a circle, cubics along a curve."""
    (tmp_path / "ring.svg").write_text(svg('<circle cx="9" cy="9" r="5" fill="none" stroke="red" stroke-width="2"/>'))
    ring = read_artwork(Path("ring.svg"), tmp_path, strokes=True)
    radii = {round(12 * np.hypot(*curve.segment.u), 6) for curve in ring.curves if isinstance(curve.segment, Arc)}
    assert radii == {4.0, 6.0}
    (tmp_path / "reed.svg").write_text(svg('<path d="M4 18C4 8 9 9 12 2" fill="none" stroke="red" stroke-width="2"/>'))
    reed = read_artwork(Path("reed.svg"), tmp_path, strokes=True)
    assert sum(isinstance(curve.segment, Cubic) for curve in reed.curves) >= 2


REFUSED = {
    "percent": ("a number", 'stroke-width="5%"'),
    "below 0": ("below 0", 'stroke-width="-1"'),
    "unknown corner": ("corners", 'stroke-linejoin="arcs"'),
    "fixed width": ("non-scaling-stroke", 'vector-effect="non-scaling-stroke"'),
    "many dashes": ("pieces", 'stroke-dasharray=".0001"'),
    "many dash numbers": ("more than 100 numbers", f'stroke-dasharray="{"1 " * 500}"'),
    "dash below 0": ("below 0", 'stroke-dasharray="1 -1"'),
    "nan": ("a number", 'stroke-width="nan"'),
    "huge": ("too large", 'stroke-width="1e9"'),
}


@pytest.mark.parametrize("name", REFUSED)
def test_strokes_that_cannot_be_followed_are_refused(tmp_path: Path, name: str) -> None:
    from foldwright.grammar.artwork import ArtworkFault

    words, attributes = REFUSED[name]
    (tmp_path / "drawing.svg").write_text(svg(f'<path id="reed" d="M2 2Q9 9 2 18" fill="none" stroke="red" {attributes}/>'))
    with pytest.raises(ArtworkFault) as caught:
        read_artwork(Path("drawing.svg"), tmp_path, strokes=True)
    assert words in caught.value.why


@pytest.mark.parametrize("shift", [1e-4, 3e-4, 1e-3, 3e-3, 1e-2])
@pytest.mark.parametrize("turn", [0, 37])
def test_outlines_that_nearly_coincide_are_joined(tmp_path: Path, shift: float, turn: float) -> None:
    """Copies of a curved shape 100 mm large, moved by 0.1 to 10 micrometres: one outline, no sliver, as large as the shape."""
    leaf = "M0 50C10-10 60-20 100 40S60 120 30 95A40 30 10 0 1 0 50z"
    body = "".join(f'<path d="{leaf}" transform="rotate({turn}) translate({shift * dx} {shift * dy})"/>'
                   for dx, dy in ((0, 0), (1, 0), (0, 1), (-1, 0.5)))
    art = read(tmp_path, svg(f'<g transform="translate(200 200)">{body}</g>', "0 0 400 400", 'width="400mm" height="400mm"'))
    alone = read(tmp_path, svg(f'<path d="{leaf}" transform="rotate({turn})"/>', "0 0 400 400", 'width="400mm" height="400mm"'))
    assert len(art.outline.interiors) == 0
    both = [each.scaled(each.width) for each in (art, alone)]
    assert both[0].area == pytest.approx(both[1].area, abs=4 * shift * both[1].length + 0.01)
    assert 0 <= art.width - alone.width <= 3 * shift + 1e-4


@pytest.mark.parametrize("shift", [1e-4, 1e-3, 1e-2])
def test_strokes_that_nearly_coincide_are_joined(tmp_path: Path, shift: float) -> None:
    line = '<path d="M10 80C30 0 60 0 90 80L50 20z" fill="none" stroke="red" stroke-width="6"/>'
    (tmp_path / "two.svg").write_text(svg(f'{line}<g transform="translate({shift} {shift / 3})">{line}</g>', "0 0 100 100"))
    assert read_artwork(Path("two.svg"), tmp_path, strokes=True).outline.is_valid
