"""The artwork reader against an independent renderer (resvg), closed formulas, and our example drawings."""

from __future__ import annotations

import doctest
import zlib
from math import pi
from pathlib import Path
from struct import unpack

import numpy as np
import pytest
import resvg_py
import shapely
from numpy.typing import NDArray

from foldwright.grammar import artwork
from foldwright.grammar.artwork import Artwork, ArtworkFault, read_artwork
from foldwright.grammar.artwork_outline import CHORD, outline_in_drawing_units
from foldwright.grammar.artwork_svg import read_drawing

ART = Path(__file__).parents[1] / "examples" / "art"
PIXELS = 20  # per drawing unit


def svg(body: str, box: str = "0 0 20 20", attributes: str = "") -> str:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'viewBox="{box}" {attributes}>{body}</svg>'
    )


def read(tmp_path: Path, text: str) -> Artwork:
    (tmp_path / "drawing.svg").write_text(text, encoding="utf-8")
    return read_artwork(Path("drawing.svg"), tmp_path)


def fault(tmp_path: Path, text: str) -> ArtworkFault:
    with pytest.raises(ArtworkFault) as caught:
        read(tmp_path, text)
    return caught.value


def opacity(png: bytes) -> NDArray[np.int32]:
    """Alpha channel of an 8-bit RGBA picture without interlace, shape (rows, columns); PNG 1.2, chapter 6."""
    chunks, at = {}, 8
    while at < len(png):
        size, kind = unpack(">I4s", png[at : at + 8])
        chunks[kind] = chunks.get(kind, b"") + png[at + 8 : at + 8 + size]
        at += size + 12
    width, height, *form = unpack(">IIBBBBB", chunks[b"IHDR"])
    assert form == [8, 6, 0, 0, 0], "the renderer has changed its picture format"
    raw = np.frombuffer(zlib.decompress(chunks[b"IDAT"]), np.uint8).reshape(height, 1 + 4 * width)
    rows = np.zeros((height + 1, width + 1), np.int32)  # a zero row above and a zero column to the left
    for y in range(height):
        rows[y + 1] = unfiltered(raw[y, 0], [0, *raw[y, 4::4].tolist()], rows[y].tolist())
    return rows[1:, 1:]


def unfiltered(kind: int, row: list[int], above: list[int]) -> list[int]:
    for x in range(1, len(row)):
        a, b, c = row[x - 1], above[x], above[x - 1]
        nearest = min((abs(b - c), 0, a), (abs(a - c), 1, b), (abs(a + b - 2 * c), 2, c))[2]
        row[x] = (row[x] + (0, a, b, (a + b) // 2, nearest)[kind]) % 256
    return row


FEATURES = {
    "compact path": (
        "0 0 20 20",
        '<path d="M2 18V5L.5 4l9-3.5 9.5 3.5H18v14l-3 1.5-2.5-1L10 19l-2.5-.5L5 19.5z"/>',
    ),
    "curves": (
        "0 0 20 20",
        '<path d="m1 10c0-6 4-9 9-9s9 4 9 9q0 4-3 6t-6 2.5C5 18.5 1 16 1 10"/>',
    ),
    "smooth without a curve before it": ("0 0 20 20", '<path d="M2 2S18 0 18 10T10 19Q2 18 2 2"/>'),
    "arcs": (
        "0 0 20 20",
        '<path d="M2 10a8 8 0 0110-7.7 5 3 30 1 1 4 9.7A3 2-20 0112 18a1 1 0 00-2 0A8.5 8.5 0 012 10"/>',
    ),
    "arc with too small radii": ("0 0 20 20", '<path d="M2 10A1 .5 20 0 1 18 10A1 1 0 0 1 2 10z"/>'),
    "nested transforms": (
        "0 0 20 20",
        '<g transform="translate(10,10) rotate(30)"><g transform="scale(1.5 .8) skewX(10)">'
        '<path d="M-4-4H4V4H-4z" transform="rotate(20 1 1)"/></g></g>',
    ),
    "matrix and skewY": (
        "0 0 20 20",
        '<rect width="9" height="8" transform="matrix(1 .2 -.3 1 6 3) skewY(-8)"/>',
    ),
    "even-odd": (
        "0 0 20 20",
        '<path fill-rule="evenodd" d="M1 1H19V19H1z'
        'M4 4H9V16H4zm8 8a3 3 0 016 0 3 3 0 01-6 0M11 3q6 0 6 5h-6z"/>',
    ),
    "nonzero": ("0 0 20 20", '<path d="M1 1H15V15H1zM5 5H19V19H5zM3 3V7H7V3zM8 8V12H12V8zM7 7h2v2h-2z"/>'),
    "use": (
        "0 0 20 20",
        '<defs><g id="pair"><path id="leaf" d="M0 0C3-4 7-4 9 0 7 4 3 4 0 0"/>'
        '<use xlink:href="#leaf" transform="rotate(90)"/></g></defs>'
        '<use href="#pair" x="9" y="9"/><use href="#pair" transform="rotate(180 10 10)" x="9" y="9"/>',
    ),
    "viewBox with offset": ("-50 30.5 20 16", '<path d="M-48 32h10l6 6v6h-16z"/>'),
    "rounded rectangles": (
        "0 0 20 20",
        '<rect x="1" y="2" width="14" height="9" rx="3"/>'
        '<rect x="4" y="6" width="15" height="12" rx="20" ry="2"/>',
    ),
    "ellipse, circle and polygon": (
        "0 0 20 20",
        '<ellipse cx="10" cy="7" rx="9" ry="5"/><circle cx="9.5" cy="12" r="6"/>'
        '<polygon points="6,9 14 9,10-.5"/>',
    ),
    "closed polyline and lengths with units": (
        "0 0 20 20",
        '<polyline points="3 3 17 4 15 17 3 3"/><rect x="1mm" y=".1in" width="3pc" height="3pt"/>',
    ),
    "hidden and styled parts": (
        "0 0 20 20",
        "<style>.a { display: none } #b, ellipse { fill: none } * { fill-rule: evenodd }</style>"
        '<rect class="c a" width="20" height="20"/><rect id="b" width="20" height="20"/>'
        '<ellipse rx="9" ry="9"/>'
        '<g visibility="hidden"><rect width="20" height="3"/>'
        '<path visibility="visible" d="M2 2H18V18H2zM5 5H9V9H5z"/>'
        '</g><circle r="19" style="fill-opacity: 0"/><rect width="20" height="20" fill="transparent"/>',
    ),
}


@pytest.mark.parametrize("name", FEATURES)
def test_filled_area_is_that_of_an_independent_renderer(name: str) -> None:
    box, body = FEATURES[name]
    text = svg(body, box)
    left, top, width, height = (float(number) for number in box.split())
    png = resvg_py.svg_to_bytes(
        svg_string=text, width=int(width * PIXELS), height=int(height * PIXELS), dpi=96
    )
    seen = opacity(bytes(png)) >= 128
    outline = outline_in_drawing_units(read_drawing(text.encode()).shapes)
    x, y = np.meshgrid(
        left + (np.arange(seen.shape[1]) + 0.5) / PIXELS, top + (np.arange(seen.shape[0]) + 0.5) / PIXELS
    )
    ours = shapely.contains_xy(outline, x, y)
    # 0.5 %: these drawings have at most 0.7 units of outline to a square unit of area, so up to 3.5 % of
    # the painted pixels lie on the outline; antialiasing rounds a few of them across one half.
    assert np.count_nonzero(ours != seen) < 0.005 * np.count_nonzero(seen)
    assert np.count_nonzero(seen) > 0.05 * seen.size, (
        "the renderer drew next to nothing: this compared nothing"
    )


def test_area_of_the_pie_in_the_svg_specification(tmp_path: Path) -> None:
    """SVG 1.1 (second edition), section 8.3.8, example arcs01: three quarters of a disc with radius 150."""
    art = read(tmp_path, svg('<path d="M300,200 h-150 a150,150 0 1,0 150,-150 z"/>', "0 0 1200 400"))
    exact = 0.75 * pi * 150**2
    # chords cut off at most the chord error along the whole arc
    assert 0 <= exact - art.scaled(300).area <= 300 * CHORD * 1.5 * pi * 150


def test_area_under_a_cubic(tmp_path: Path) -> None:
    """Controls (0,0) (0,1) (1,1) (1,0): the integral of 3t(1-t) times 6t(1-t) over 0..1 is 18/30 = 3/5."""
    art = read(tmp_path, svg('<path d="M0 0C0 10 10 10 10 0z"/>'))
    assert art.scaled(1).area == pytest.approx(
        3 / 5, abs=3 * CHORD
    )  # chord error along a curve less than 3 long


@pytest.mark.parametrize(
    "path",
    ["M0 0C0 40 30 -30 90 5S100 90 60 80Q30 95 0 70z", "M0 50A70 20 33 1 1 100 60A50 45 0 0 1 0 50z"],
    ids=["cubics", "arcs"],
)
def test_chords_stay_within_the_stated_error(path: str) -> None:
    (shape,) = read_drawing(svg(f'<path d="{path}"/>').encode()).shapes
    outline = outline_in_drawing_units([shape])
    left, top, right, bottom = outline.bounds
    dense = shape.paths[0].points([2000] * len(shape.paths[0].segments))
    furthest = max(outline.exterior.distance(shapely.points(dense)))
    extent = max(right - left, bottom - top)
    assert furthest <= extent * (CHORD + 1e-7)  # 1e-7 for rounding
    assert furthest > extent * CHORD / 20, "far finer than stated: the outline has too many points"


def test_outline_stands_on_its_own_width(tmp_path: Path) -> None:
    art = read(tmp_path, svg('<path d="M5 2H9V10H5zM5 2V1H6V2z"/>', attributes='width="40mm" height="40mm"'))
    assert art.outline.bounds == pytest.approx((0, 0, 1, 9 / 4), abs=1e-12)
    assert (art.width, art.height) == pytest.approx((8, 18))  # 2 mm to the unit
    assert art.aspect == pytest.approx(9 / 4)
    assert art.scaled(12).bounds == pytest.approx((0, 0, 12, 27))
    assert art.scaled(4).contains(shapely.Point(0.5, 8.5)), "upside down"
    assert not art.scaled(4).contains(shapely.Point(3.5, 8.5)), "upside down or mirrored"


@pytest.mark.parametrize(
    ("attributes", "size"),
    [
        ("", (10 * 25.4 / 96, 5 * 25.4 / 96)),
        ('width="1in"', (12.7, 6.35)),
        ('height="100%" width="2cm"', (10, 5)),
        ('width="20mm" height="60mm"', (10, 5)),
        ('width="20mm" height="60mm" preserveAspectRatio="xMinYMin slice"', (30, 15)),
        ('width="20mm" height="60mm" preserveAspectRatio="none"', (10, 15)),
    ],
)
def test_size_as_drawn(tmp_path: Path, attributes: str, size: tuple[float, float]) -> None:
    art = read(tmp_path, svg('<rect width="10" height="5"/>', attributes=attributes))
    assert (art.width, art.height) == pytest.approx(size)
    assert art.aspect == pytest.approx(size[1] / size[0])


def test_shapes_that_abut_along_a_curve_leave_no_sliver(tmp_path: Path) -> None:
    half = "C3 4 7 6 10 10"
    art = read(tmp_path, svg(f'<path d="M0 0{half}V0z"/><path d="M0 0{half}H0z" transform="rotate(360)"/>'))
    assert len(art.outline.interiors) == 0
    assert art.outline.area == pytest.approx(1, abs=1e-6)


def test_the_example_in_the_documentation(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ART.parents[1])
    assert doctest.testmod(artwork) == (0, 3)


def test_reading_twice_gives_the_same_points(tmp_path: Path) -> None:
    text = svg(FEATURES["arcs"][1])
    assert read(tmp_path, text).outline.wkb == read(tmp_path, text).outline.wkb


REFUSED = {
    "open path": ("open", "open line from (0.00, 0.00) to (5.00, 5.00)", '<path d="M0 0H5V5"/>'),
    "almost closed": ("open", "open line", '<path d="M0 0H5V5H0V.02"/>'),
    "open polyline": ("open", "open line", '<polyline points="0 0 5 0 5 5"/>'),
    "line": ("stroked", "only a stroked line", '<line x2="5" y2="5" stroke="red"/>'),
    "stroke only": (
        "stroked",
        "the circle `ring` is only a stroked line",
        '<circle id="ring" r="3" fill="none" stroke="red"/>',
    ),
    "stroke by class": (
        "stroked",
        "only a stroked",
        '<style>.o{fill:none;stroke:#000}</style><path class="o" d="M0 0H5V5z"/>',
    ),
    "nothing": ("unreadable", "nothing in it is filled", "<title>empty</title>"),
    "nothing visible": (
        "unreadable",
        "nothing in it is filled",
        '<rect width="5" height="5" display="none"/>',
    ),
    "there and back": ("open", "encloses nothing", '<path d="M0 0L5 7z"/>'),
    "two islands": ("unreadable", "2 separate pieces", '<circle r="2"/><circle r="2" cx="9"/>'),
    "islands that touch in a point": (
        "unreadable",
        "2 separate pieces",
        '<path d="M0 0H5V5H0zM5 5H9V9H5z"/>',
    ),
    "bow tie": (
        "crossing",
        "`tie` meets itself at (5.00, 5.00)",
        '<path id="tie" d="M0 0L10 10V0L0 10z"/>',
    ),
    "spike": ("crossing", "meets itself", '<path d="M0 0H5V9V5H0z"/>'),
    "text": ("unreadable", "convert the text to paths", "<text>a</text>"),
    "image": ("unreadable", "trace the image", '<image href="fish.png"/>'),
    "line beside the silhouette": (
        "stroked",
        "lies beside all that is filled",
        '<rect width="5" height="5"/><path d="M7 7H9" fill="none" stroke="red"/>',
    ),
    "clip path in another file": ("unreadable", "not in this drawing", '<rect width="5" height="5" clip-path="url(b.svg#a)"/>'),
    "clipped by what is not there": ("unreadable", "not in this drawing", '<rect width="5" height="5" clip-path="url(#a)"/>'),
    "clipped by a shape": (
        "unreadable",
        "no clip path",
        '<rect width="5" height="5" id="a"/><circle r="4" clip-path="url(#a)"/>',
    ),
    "clip path that clips itself": (
        "unreadable",
        "draws itself",
        '<clipPath id="a" clip-path="url(#a)"><rect width="5" height="5"/></clipPath><circle r="4" clip-path="url(#a)"/>',
    ),
    "clip path with text": (
        "unreadable",
        "holds a `text`",
        '<clipPath id="a"><text>a</text></clipPath><circle r="4" clip-path="url(#a)"/>',
    ),
    "clipped away": (
        "unreadable",
        "nothing of it is seen",
        '<clipPath id="a"><rect x="9" width="5" height="5"/></clipPath><circle r="4" clip-path="url(#a)"/>',
    ),
    "marker": ("unreadable", "`marker-end`", '<marker id="a"/><path d="M0 0H5V5z" marker-end="url(#a)"/>'),
    "a size below 0": ("unreadable", "a size below 0", '<svg width="-1" height="2"><circle r="4"/></svg>'),
    "unknown preserveAspectRatio": (
        "unreadable",
        "preserveAspectRatio",
        '<svg viewBox="0 0 1 1" preserveAspectRatio="left"><circle r="4"/></svg>',
    ),
    "script": ("unreadable", "nothing in a drawing is run", "<script>alert(1)</script>"),
    "masked by style": ("unreadable", "`mask`", '<rect width="5" height="5" style="mask:url(#a)"/>'),
    "moved by style": (
        "unreadable",
        "`transform`",
        '<rect width="5" height="5" style="transform:scale(2)"/>',
    ),
    "animated": ("unreadable", "`animate`", '<rect width="5" height="5"><animate/></rect>'),
    "white knock-out": ("unreadable", "cuts no hole", '<circle r="9"/><circle r="3" fill="#FFF"/>'),
    "style with combinators": ("unreadable", "selector `g rect`", "<style>g rect{fill:none}</style>"),
    "style at-rule": ("unreadable", "simple rules", "<style>@media print{a{fill:none}}</style>"),
    "important": ("unreadable", "!important", '<rect width="5" height="5" style="fill:red!important"/>'),
    "another file": ("unreadable", "not in this drawing", '<use href="other.svg#a"/>'),
    "percent": ("unreadable", "a number", '<rect width="50%" height="5"/>'),
    "negative": ("unreadable", "below 0", '<rect width="5" height="-5"/>'),
    "odd points": ("unreadable", "odd number", '<polygon points="0 0 5 0 5"/>'),
    "garbage after a path": ("unreadable", "cannot go on with `x`", '<path d="M0 0H5V5zx"/>'),
    "missing number": ("unreadable", "groups of 6", '<path d="M0 0C1 1 2 2 3z"/>'),
    "bad arc flag": ("unreadable", "groups of 7", '<path d="M0 0A1 1 0 2 1 5 5z"/>'),
    "starts without a move": ("unreadable", "cannot go on with `L5", '<path d="L5 5z"/>'),
    "numbers after closing": ("unreadable", "cannot go on with `5", '<path d="M0 0H5V5z5 5"/>'),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused_with_the_reason(tmp_path: Path, name: str) -> None:
    kind, words, body = REFUSED[name]
    found = fault(tmp_path, svg(body))
    assert (found.kind, words in found.why) == (kind, True), found.why


def test_a_gap_below_a_hundredth_is_closed(tmp_path: Path) -> None:
    assert read(tmp_path, svg('<path d="M0 0H15V15H0V.009"/>')).outline.area == pytest.approx(1, abs=1e-3)


def test_editor_leftovers_are_skipped(tmp_path: Path) -> None:
    body = (
        '<e:namedview xmlns:e="http://example.org/editor"><e:grid/></e:namedview>'
        '<metadata><e xmlns="x"/></metadata>'
        '<desc>text</desc><defs><clipPath/><linearGradient id="a"/></defs><path d="M3 3"/>'
        '<rect width="0" height="4"/>'
        '<rect width="5" height="5" fill="url(#a)" stroke="none" style="font: 12px serif; -x-y: (1)"/>'
    )
    doctype = (
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    )
    assert read(tmp_path, '<?xml version="1.0"?>' + doctype + svg(body)).outline.area == pytest.approx(1)


EXAMPLES = {  # those of the first cards: width, height in mm as drawn, holes
    "boat": (46, 52, 1),
    "crab": (22, 24, 0),
    "fish": (24, 22, 2),
    "gull": (40, 18, 0),
    "house": (70, 26, 14),
    "lamp": (26, 44, 6),
    "star": (18, 17.4, 0),
    "weed": (60, 34, 0),
}


@pytest.mark.parametrize("name", sorted(path.stem for path in ART.glob("*.svg")))
def test_every_example_is_one_piece_that_can_be_cut(name: str) -> None:
    """Nothing but tips of grass and rays is thinner than 0.6 mm as drawn: opening by a disc takes off no more than those."""
    art = read_artwork(Path(f"{name}.svg"), ART)
    outline = art.scaled(art.width)
    assert outline.geom_type == "Polygon"
    assert outline.is_valid
    lost = outline.difference(outline.buffer(-0.29).buffer(0.31))
    assert max((piece.area for piece in shapely.get_parts(lost)), default=0) < 0.4  # mm²: the widest of the tips


@pytest.mark.parametrize("name", EXAMPLES)
def test_example_is_one_sturdy_piece(name: str) -> None:
    width, height, holes = EXAMPLES[name]
    art = read_artwork(Path(f"{name}.svg"), ART)
    # 0.25 mm: the tips are drawn by eye against the edges of the page
    assert (art.width, art.height) == pytest.approx((width, height), abs=0.25)
    outline = art.scaled(width)
    assert outline.is_valid
    assert len(outline.interiors) == holes
    # Nothing thinner than 1.5 mm: opening by a disc of 1.48 mm takes off only corners. A square corner
    # would lose (1 - pi/4) r^2 = 0.12 mm2; a strip of 1 mm that is as long as it is wide would lose 1 mm2.
    lost = outline.difference(outline.buffer(-0.74).buffer(0.76))
    assert max((piece.area for piece in shapely.get_parts(lost)), default=0) < 0.25


@pytest.mark.parametrize(("name", "stem"), [("crab", 7), ("fish", 7)])
def test_stem_is_plain_for_nine_millimetres(name: str, stem: float) -> None:
    width = EXAMPLES[name][0]
    outline = read_artwork(Path(f"{name}.svg"), ART).scaled(width)
    plain = shapely.box((width - stem) / 2, 0, (width + stem) / 2, 8.9)
    assert (
        outline.intersection(shapely.box(0, 0, width, 8.9)).symmetric_difference(plain).area
        < 0.02 * plain.area
    )


@pytest.mark.parametrize(("name", "left", "right"), [("weed", 0, 60), ("house", 0, 70), ("boat", 13, 33)])
def test_base_is_straight(name: str, left: float, right: float) -> None:
    outline = read_artwork(Path(f"{name}.svg"), ART).scaled(EXAMPLES[name][0])
    base = shapely.LineString([(left, 0), (right, 0)])
    assert outline.exterior.intersection(base.buffer(0.05)).length >= base.length


def test_weed_leaves_room_for_crossing_slots() -> None:
    blades = read_artwork(Path("weed.svg"), ART).scaled(60).intersection(shapely.box(0, 3.6, 60, 40))
    assert len(shapely.get_parts(blades)) == 7
    for quarter in (15, 30, 45):
        slot = shapely.LineString([(quarter, 0), (quarter, 40)]).buffer(0.25)
        assert blades.distance(slot) > 0.4  # a slot 0.5 mm wide, and nearly its own width of air beside it
