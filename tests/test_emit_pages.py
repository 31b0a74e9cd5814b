"""Template pages, read back by pypdf and pdfplumber, which are not ours and not the writer's."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import cards
import numpy as np
import pdfplumber
import pypdf
import pytest
import shapely
from shapely.geometry import LineString, Polygon, box

from foldwright.emit.formats import FOOT, FORMATS, MARGIN, OVERLAP, live
from foldwright.emit.labels import label_places, with_beside
from foldwright.emit.pages import Page, template_pages
from foldwright.emit.pdf import POINT, write_pdf
from foldwright.emit.style import STYLES
from foldwright.emit.tiles import fill_pages
from foldwright.emit.wanted import Labels
from foldwright.solver.card import Card, Line, Part, Stroke

# The library writes a page's size with two decimals of a point: 0.002 mm. What is drawn has three.
CLOSE = 0.01  # mm, what the files promise


def pages(card: Card, form: str) -> list[Page]:
    return template_pages(card, form, with_beside(card, label_places(card), Labels.HIDDEN))


def part(name: str, outline: Polygon, lines: Sequence[Line] = ()) -> Part:
    return Part(name, "A1", cards.INK.name, outline, tuple(lines), (2.0, 2.0))


def shapes(page: Any) -> list[tuple[str, list[float], Any]]:
    """Colour, dash (mm) and line (mm from the lower left corner) of all lines, as pdfplumber reads them."""
    found = []
    for item in [*page.lines, *page.curves, *page.rects]:
        points = np.array(item["pts"], dtype=float) / POINT
        points[:, 1] = float(page.height) / POINT - points[:, 1]
        points = np.vstack([points, points[:1]]) if item["object_type"] == "rect" else points
        parts = np.atleast_1d(item["stroking_color"])  # a grey is one number
        colour = "#" + "".join(f"{round(255 * part):02x}" for part in np.broadcast_to(parts, 3))
        found.append((colour, [length / POINT for length in (item.get("dash") or ([], 0))[0]], LineString(points)))
    return found


@pytest.mark.parametrize(("form", "size"), [("a4", (210.0, 297.0)), ("letter", (8.5 * 25.4, 11 * 25.4))])
def test_pages_have_the_size_of_their_format(form: str, size: tuple[float, float]) -> None:
    # ISO 216: A4 is 210 x 297 mm; Letter is 8.5 x 11 in
    data = write_pdf("t", pages(cards.harbour(), form))
    reader = pypdf.PdfReader(io.BytesIO(data))
    assert len(reader.pages) == len(pages(cards.harbour(), form)) > 2
    for page in reader.pages:
        assert float(page.mediabox.width) * 25.4 / 72 == pytest.approx(size[0], abs=CLOSE)
        assert float(page.mediabox.height) * 25.4 / 72 == pytest.approx(size[1], abs=CLOSE)
        assert page.user_unit == 1
        assert page.get("/Rotate", 0) == 0
    assert reader.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"] == "/None"  # type: ignore[index]


@pytest.mark.parametrize("form", FORMATS)
def test_every_page_has_a_control_square_of_fifty_millimetres(form: str) -> None:
    with pdfplumber.open(io.BytesIO(write_pdf("t", pages(cards.harbour(), form)))) as pdf:
        for page in pdf.pages:
            squares = [line for _, _, line in shapes(page) if line.is_ring and line.bounds[3] <= MARGIN + FOOT
                       and line.length > 150]
            (square,) = squares
            left, low, right, high = square.bounds
            assert (right - left, high - low) == pytest.approx((50, 50), abs=CLOSE)
            assert "100 %" in page.extract_text()


@pytest.mark.parametrize("form", FORMATS)
def test_lines_are_read_where_they_were_drawn(form: str) -> None:
    made = pages(cards.harbour(), form)
    seen = set()
    with pdfplumber.open(io.BytesIO(write_pdf("t", made))) as pdf:
        for page, read in zip(made, pdf.pages, strict=True):
            got = shapes(read)
            for kind, style in STYLES.items():
                drawn = [LineString([*t.points, t.points[0]] if t.closed else t.points)
                         for t in (*page.traces, *page.samples) if t.kind is kind]
                lines = [line for colour, _, line in got if colour == style.colour]
                wanted, found = shapely.union_all(drawn), shapely.union_all(lines)
                assert shapely.hausdorff_distance(wanted, found) <= CLOSE
                assert found.length == pytest.approx(wanted.length, abs=CLOSE * len(drawn))
                dashes = [dash for colour, dash, _ in got if colour == style.colour]
                assert all(dash == pytest.approx(list(style.dash), abs=CLOSE) for dash in dashes)
                seen.add(kind)
    assert seen == set(Stroke)


@pytest.mark.parametrize("form", FORMATS)
def test_no_part_leaves_its_room_or_meets_another(form: str) -> None:
    card = cards.crowd(40)
    wide, high = live(form)
    room = box(MARGIN, MARGIN + FOOT, MARGIN + wide, MARGIN + FOOT + high).buffer(1e-6)
    filled = fill_pages(card.parts, form, True)
    assert sorted(placed.part.name for page in filled for placed in page.placed) == sorted(p.name for p in card.parts)
    for page in filled:
        outlines = [placed.outline for placed in page.placed]
        assert all(room.covers(outline) for outline in outlines)
        assert all(one.distance(other) >= 2 for n, one in enumerate(outlines) for other in outlines[:n])


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("size", [(180.0, 272.0), (500.0, 320.0), (900.0, 60.0), (211.0, 222.0), (2 * 194.0 - OVERLAP, 300.0)])
def test_tiles_put_together_are_the_part(form: str, size: tuple[float, float]) -> None:
    whole = box(0, 0, *size).difference(shapely.Point(size[0] / 2, size[1] / 2).buffer(20))
    large = part("large", whole)
    filled = fill_pages([large], form, True)
    tiles = [page.tile for page in filled]
    shown = []
    marks: dict[str, list[tuple[float, float]]] = {}
    for page, tile in zip(filled, tiles, strict=True):
        assert tile is not None
        (placed,) = page.placed
        dx, dy = placed.dx - filled[0].placed[0].dx, placed.dy - filled[0].placed[0].dy
        window = box(*tile.window)
        left, low, right, high = tile.window
        assert (right - left, high - low) <= tuple(length + 1.0 + 1e-6 for length in live(form))
        assert high - low <= live(form)[1] + 1.0 + 1e-6
        # what a page shows, moved to where the first page has it
        shown.append(shapely.affinity.translate(placed.outline.intersection(window), -dx, -dy))
        for join in tile.joins:
            for (x, y), name in join.marks:
                assert window.covers(shapely.Point(x, y))
                marks.setdefault(name, []).append((x - dx, y - dy))
    assert shapely.union_all(shown).symmetric_difference(filled[0].placed[0].outline).area < 1e-6
    assert [tile.number for tile in tiles if tile] == list(range(1, len(filled) + 1))
    assert len(filled) > 1
    assert marks
    for places in marks.values():  # each mark is on two pages, at one place of the part
        assert len(places) == 2
        assert places[0] == pytest.approx(places[1], abs=1e-9)
    # neighbours show the same strip
    for one, tile in zip(shown, tiles, strict=True):
        for join in tile.joins if tile else ():
            assert one.intersection(shown[join.neighbour - 1]).buffer(1e-9).area > 0
            across = shapely.box(*one.bounds).intersection(shapely.box(*shown[join.neighbour - 1].bounds)).bounds
            assert min(across[2] - across[0], across[3] - across[1]) >= OVERLAP - 1e-6


def test_a_join_keeps_off_creases() -> None:
    spine = Line(((0.0, 150.0), (180.0, 150.0)), Stroke.VALLEY)
    large = part("cover", box(0, 0, 180, 300), [spine])
    for form in FORMATS:
        filled = fill_pages([large], form, True)
        assert len(filled) == 2
        for page in filled:
            crease = page.placed[0].dy + 150.0
            assert page.tile is not None
            assert all(abs(join.start[1] - crease) > OVERLAP / 2 for join in page.tile.joins)


def test_a_part_of_paper_with_a_grain_is_not_turned_by_a_quarter() -> None:
    long = part("long", box(0, 0, 205, 40))
    (turned,) = fill_pages([long], "a4", True)
    assert turned.placed[0].turn == 90
    upright = fill_pages([long], "a4", False)
    assert [page.placed[0].turn for page in upright] == [0, 0]


def test_curves_stay_curves() -> None:
    from foldwright.emit.trace import Trace

    page = pages(cards.harbour(), "a4")[0]
    arc = Trace(Stroke.CUT, ((50.0, 100.0), (90.0, 100.0)), False, (((50.0, 130.0), (90.0, 130.0)),))
    data = write_pdf("t", [Page(page.size, (arc,), None, (), (), (), (), page.square, ())])
    content = pypdf.PdfReader(io.BytesIO(data)).pages[0].get_contents()
    assert content is not None
    curves = [[float(n) for n in operands] for operands, name in content.operations if name == b"c"]
    wanted = [v * POINT for v in (50.0, 297 - 130.0, 90.0, 297 - 130.0, 90.0, 297 - 100.0)]
    # y down from the page's upper edge, as the content's first transformation turns it; the ring-free page has one curve
    assert any(curve == pytest.approx(wanted, abs=CLOSE * POINT) for curve in curves)


def test_long_words_stay_in_the_foot() -> None:
    card = cards.harbour(title="A harbour with a very long name " * 5, parts=cards.crowd(40).parts)
    with pdfplumber.open(io.BytesIO(write_pdf(card.title, pages(card, "a4")))) as pdf:
        read = [page.extract_words() for page in pdf.pages]
        for page, words in zip(pdf.pages, read, strict=True):
            assert all(float(word["x1"]) <= float(page.width) - 0.9 * MARGIN * POINT for word in words)
            boxes = [box(*(float(word[side]) for side in ("x0", "top", "x1", "bottom"))) for word in words]
            assert max(one.intersection(other).area for n, one in enumerate(boxes) for other in boxes[:n]) < 1.0
        assert any(word["text"].endswith("...") for word in read[0])


def test_the_same_pages_give_the_same_bytes() -> None:
    first, again = (write_pdf("Hafen, früh & spät 貝", pages(cards.harbour(), "a4")) for _ in range(2))
    assert first == again
    assert pypdf.PdfReader(io.BytesIO(first)).metadata.creation_date.year == 2000  # type: ignore[union-attr]
