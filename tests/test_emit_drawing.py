"""The drawing model: whole lines, none twice, bound to their part, and legible labels."""

from itertools import pairwise

import cards
import pytest
import shapely
from shapely.geometry import LineString, Polygon, box

from foldwright.emit.drawing import (
    Drawing,
    control_group,
    in_work_order,
    of_kind,
    part_group,
    sheet_drawing,
)
from foldwright.emit.labels import Label
from foldwright.emit.layout import Control, Placed, Sheet, lay_out
from foldwright.emit.lettering import text_box, text_strokes, text_width
from foldwright.emit.names import Unique, file_word, identifier, plain
from foldwright.emit.plate import plate_drawing
from foldwright.emit.trace import Trace, clean, rounded
from foldwright.solver.card import Line, Part, Stroke


def drawings() -> list[Drawing]:
    card, crowd = cards.harbour(), cards.crowd(12)
    sheets = [sheet_drawing(card.title, sheet, cards.labels(card)) for sheet in lay_out(card)]
    sheets += [sheet_drawing(crowd.title, sheet, cards.labels(crowd)) for sheet in lay_out(crowd)]
    return [*sheets, plate_drawing(card, cards.labels(card)), plate_drawing(crowd, cards.labels(crowd))]


def lines(trace: Trace) -> LineString:
    return LineString([*trace.points, trace.points[0]] if trace.closed else trace.points)


def test_every_sheet_draws_its_parts_and_one_control_line() -> None:
    card = cards.harbour()
    names = [group.name for sheet in lay_out(card) for group in sheet_drawing(card.title, sheet, {}).groups]
    assert names == ["part-cover", "part-boat--Mowe-", "control-line", "part-quay.wall", "control-line"]


def test_a_drawn_outline_is_the_parts_outline_to_the_last_decimal() -> None:
    for placed in lay_out(cards.harbour())[0].placed:
        rings = [t.points for t in part_group(placed, Unique(), {}).traces if t.closed]
        drawn = Polygon(rings[0], rings[1:])
        # Every corner moves by at most half a thousandth in x and in y.
        assert drawn.hausdorff_distance(placed.outline) <= 0.0005 * 2**0.5 + 1e-9
        assert len(rings) == 1 + len(placed.outline.interiors)


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_creases_turn_with_their_part_and_stay_whole(turn: int) -> None:
    part = cards.quay_part()
    placed = Placed(part, 200.0, 300.0, turn)
    group = part_group(placed, Unique(), {})
    creases = [trace for trace in group.traces if trace.kind in (Stroke.MOUNTAIN, Stroke.VALLEY)]
    assert [trace.kind for trace in creases] == [Stroke.VALLEY, Stroke.MOUNTAIN, Stroke.VALLEY]
    for crease in creases:
        assert lines(crease).length == pytest.approx(cards.LENGTH, abs=1e-9)  # from edge to edge
        assert placed.outline.covers(lines(crease))


def test_no_point_line_or_segment_is_drawn_twice() -> None:
    seen = 0
    for drawing in drawings():
        segments: set[tuple[object, object]] = set()
        for group in drawing.groups:
            for trace in group.traces:
                corners = [*trace.points, trace.points[0]] if trace.closed else trace.points
                for start, end in pairwise(corners):
                    assert start != end
                    assert (start, end) not in segments
                    assert (end, start) not in segments
                    segments.add((start, end))
                    seen += 1
    assert seen > 1000


def test_numbers_have_three_decimals_and_lie_on_the_sheet() -> None:
    for drawing in drawings():
        for group in drawing.groups:
            for trace in group.traces:
                for x, y in trace.points:
                    assert x == round(x, 3)
                    assert y == round(y, 3)
                    assert 0 <= x <= drawing.width
                    assert 0 <= y <= drawing.height


def test_clean_keeps_the_cut_when_a_crease_lies_on_it() -> None:
    cut = Trace(Stroke.CUT, ((0, 0), (4, 0), (4, 3), (0, 3)), True)
    crease = Trace(Stroke.VALLEY, ((0, 2), (0, 3), (4, 3), (4, 5)))
    again = Trace(Stroke.MARK, ((4, 5), (4, 3)))
    dot = Trace(Stroke.MARK, ((1, 1), (1, 1)))
    assert clean([crease, again, cut, dot]) == (Trace(Stroke.VALLEY, ((4, 3), (4, 5))), cut)


def test_clean_opens_an_outline_that_loses_a_side() -> None:
    slit = Trace(Stroke.CUT, ((4, 0), (0, 0)))
    square = Trace(Stroke.CUT, ((0, 0), (4, 0), (4, 4), (0, 4), (0, 0)), True)
    assert clean([slit, square]) == (slit, Trace(Stroke.CUT, ((4, 0), (4, 4), (0, 4), (0, 0))))
    assert clean([square]) == (Trace(Stroke.CUT, ((0, 0), (4, 0), (4, 4), (0, 4)), True),)


def test_a_stretch_that_two_lines_share_is_drawn_once() -> None:
    long, short = Trace(Stroke.CUT, ((0, 0), (9, 0))), Trace(Stroke.VALLEY, ((2, 0), (12, 0)))
    assert clean([long, short]) == (long, Trace(Stroke.VALLEY, ((9, 0), (12, 0))))
    assert clean([short, long]) == (Trace(Stroke.VALLEY, ((9, 0), (12, 0))), long)
    inside = Trace(Stroke.MARK, ((1, 1), (4, 1)))
    outside = Trace(Stroke.MARK, ((0, 1), (9, 1)))
    assert clean([inside, outside]) == (inside, Trace(Stroke.MARK, ((0, 1), (1, 1))), Trace(Stroke.MARK, ((4, 1), (9, 1))))
    # Slanting lines do not lie on each other to the last decimal: corners are rounded to a thousandth.
    slant = Trace(Stroke.CUT, ((0, 0), (30, 10)))
    third = Trace(Stroke.CUT, ((10, 3.333), (20, 6.667)))
    assert clean([slant, third]) == (slant,)
    crossing, fork = Trace(Stroke.CUT, ((0, 5), (30, 5))), Trace(Stroke.CUT, ((0, 0), (30, 11)))
    assert clean([slant, crossing, fork]) == (slant, crossing, fork)


def test_a_line_between_parts_that_touch_is_cut_once() -> None:
    left = Part("left", "1", "Ink blue", box(0, 0, 40, 30), (), (2, 2))
    right = Part("right", "2", "Ink blue", box(0, 0, 50, 20), (), (2, 2))
    sheet = Sheet("Ink blue", 1, 100.0, 100.0, (Placed(left, 0, 0, 0), Placed(right, 40, 5, 0)), None)
    drawing = sheet_drawing("", sheet, {})
    cuts = shapely.union_all([lines(trace) for group in drawing.groups for trace in group.traces])
    total = sum(lines(trace).length for group in drawing.groups for trace in group.traces)
    assert total == pytest.approx(cuts.length, abs=1e-9) == 2 * (40 + 30) + 2 * (50 + 20) - 20
    assert cuts.equals(shapely.union_all([box(0, 0, 40, 30).boundary, box(40, 5, 90, 25).boundary]))
    first, second = drawing.groups
    assert first.traces[0].closed
    assert [trace.closed for trace in second.traces] == [False]


def test_one_operation_of_a_sheet_has_that_kind_only_and_all_of_it() -> None:
    card = cards.harbour()
    for sheet in lay_out(card):
        whole = sheet_drawing(card.title, sheet, cards.labels(card))
        split = {kind: of_kind(whole, kind) for kind in Stroke}
        for kind, drawing in split.items():
            assert {trace.kind for group in drawing.groups for trace in group.traces} <= {kind}
            assert all(group.traces for group in drawing.groups)
            assert (drawing.width, drawing.height) == (whole.width, whole.height)
        assert sum(len(g.traces) for d in split.values() for g in d.groups) == sum(len(g.traces) for g in whole.groups)


def test_slots_and_holes_are_cut_before_what_holds_them() -> None:
    slots = shapely.union_all([box(5, 5, 6, 25), box(20, 5, 21, 25), shapely.Point(40, 15).buffer(4)])
    slits = (Line(((10, 5), (10, 25)), Stroke.CUT), Line(((0, 8), (0, 20)), Stroke.CUT))  # the second lies on the edge
    part = Part("comb", "1", "Ink blue", box(0, 0, 60, 30).difference(slots), slits, (2, 2))
    group = part_group(Placed(part, 0, 0, 0), Unique(), {})
    order = [lines(trace) for trace in in_work_order(group.traces)]
    outside = [line for line in order if line.distance(box(0, 0, 60, 30).boundary) < 1e-9]
    assert len(order) == 5 + (len(outside) - 1)
    assert order[-len(outside):] == outside


def test_work_goes_from_marks_to_the_outline() -> None:
    group = part_group(Placed(cards.quay_part(), 0, 0, 0), Unique(), {"quay.wall": Label((3, 12), 3, True)})
    order = in_work_order(group.traces)
    assert sorted(map(repr, order)) == sorted(map(repr, group.traces))
    assert order[0].kind is Stroke.MARK
    assert order[-1] == group.traces[0]
    assert order[-1].closed


def test_a_part_in_a_hole_is_worked_before_the_hole() -> None:
    frame = Part("frame", "1", "Ink blue", box(0, 0, 100, 100).difference(box(8, 8, 92, 92)), (), (2, 2))
    inner = Part("inner", "2", "Ink blue", box(0, 0, 30, 30), (), (2, 2))
    card = cards.harbour(parts=(frame, inner), mat=(100.0, 112.0))
    (sheet,) = lay_out(card)
    assert [placed.part.name for placed in sheet.placed] == ["frame", "inner"]
    assert [group.name for group in sheet_drawing("", sheet, {}).groups][:2] == ["part-inner", "part-frame"]


@pytest.mark.parametrize("upright", [False, True])
def test_the_control_line_is_fifty_millimetres_and_keeps_to_its_room(upright: bool) -> None:
    control = Control(3.25, 4.5, upright)
    group = control_group(control, Unique())
    assert {trace.kind for trace in group.traces} == {Stroke.MARK}
    lengths = sorted(lines(trace).length for trace in group.traces)
    assert lengths[-1] == pytest.approx(50, abs=1e-9)
    assert all(control.box.contains(lines(trace)) for trace in group.traces)


def test_letters_are_as_high_as_asked_and_as_wide_as_told() -> None:
    for text in ("H", "HELM 7", "Ww"):
        x = [point[0] for stroke in text_strokes(text, (10.0, 20.0), 4.2) for point in stroke]
        y = [point[1] for stroke in text_strokes(text, (10.0, 20.0), 4.2) for point in stroke]
        assert (min(y), max(y)) == pytest.approx((20.0, 24.2))
        assert min(x) >= 10.0
        assert max(x) <= 10.0 + text_width(text, 4.2)
    assert text_box("g", (0, 0), 3.0)[1] == pytest.approx(-1.0)  # descenders: a third of the cap height


def test_every_printable_character_but_the_space_leaves_ink() -> None:
    blank = [c for c in map(chr, range(32, 127)) if not list(text_strokes(c, (0, 0), 3.0))]
    assert blank == [" "]


def test_other_characters_are_folded_or_shown_as_missing() -> None:
    assert plain("Café Ørsted ﬁn 5×7 貝 Straße") == "Cafe ?rsted fin 5x7 ? Strasse"
    assert list(text_strokes("é", (0, 0), 3.0)) == list(text_strokes("e", (0, 0), 3.0))
    assert list(text_strokes("貝", (0, 0), 3.0)) == list(text_strokes("?", (0, 0), 3.0))


def test_names_are_safe_and_unique() -> None:
    assert file_word("Sable Doré / 2") == "sable-dore-2"
    assert file_word("貝") == "paper"
    assert (file_word("CON"), file_word("lpt1"), file_word("console")) == ("con-", "lpt1-", "console"), "devices of Windows"
    assert (len(file_word("reed " * 80)), file_word("reed " * 12)) == (59, "-".join(["reed"] * 12))
    assert identifier("quay.wall a:b") == "quay.wall-a-b"
    names = Unique()
    assert [names(name) for name in ("a", "A", "a", "b")] == ["a", "A-2", "a-3", "b"]


def test_the_plate_shows_every_part_once_upright_and_apart() -> None:
    card = cards.harbour()
    drawing = plate_drawing(card, {})
    names = [group.name for group in drawing.groups]
    parts = ["part-cover", "part-boat--Mowe-", "part-quay.wall"]
    assert [name for name in names if name.startswith("part-")] == parts
    assert [name for name in names if not name.startswith("part-")] == [
        "note-Ink-blue",
        "note-sable-dore",
        "control-line",
    ]
    boxes = [shapely.union_all([lines(t) for t in group.traces]).envelope for group in drawing.groups]
    for index, one in enumerate(boxes):
        assert all(one.distance(other) >= 2 for other in boxes[:index])
    width, height = boxes[names.index("part-cover")].bounds[2:]
    assert drawing.height > height
    assert drawing.width > width


def test_rounding_leaves_no_minus_zero() -> None:
    assert str(rounded(-0.0001)) == "0.0"
    assert rounded(1.2345678) == 1.235
