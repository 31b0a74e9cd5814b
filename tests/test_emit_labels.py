"""Where part numbers stand: hidden where it is said so, by poses that the labels were not placed with."""

from __future__ import annotations

from pathlib import Path

import cards
import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point

from foldwright.api import check
from foldwright.emit.drawing import part_group, sheet_drawing
from foldwright.emit.labels import HEIGHTS, ROOM, label_places, on_parts, with_beside
from foldwright.emit.layout import lay_out
from foldwright.emit.lettering import text_box
from foldwright.emit.names import Unique
from foldwright.emit.placed import Placed
from foldwright.emit.wanted import Labels
from foldwright.solver.card import Bond, Card, Panel, Part, Stroke
from foldwright.solver.gluing import normal

EXAMPLES = Path(__file__).parent.parent / "examples"


@pytest.fixture(scope="module")
def tide_pool() -> Card:
    return check(EXAMPLES / "tide-pool.card").card


@pytest.fixture(scope="module")
def winter_fair() -> Card:
    return check(EXAMPLES / "winter-fair.card").card


def covering(card: Card, part: str, at: tuple[float, float]) -> list[str]:
    """The panels that are glued where a point of a part lies, in a half-open card."""
    placed = card.pose(0.55 * card.opens)
    panels = {panel.name: panel for panel in card.panels}
    (own,) = [p for p in card.panels if p.part == part and p.outline.covers(Point(at))] or [None]
    if own is None:
        return []
    space = placed[own.name].points(np.array([at]))[0]
    found = []
    for bond in card.bonds:
        if own.name not in (bond.panel, bond.host):
            continue
        other = panels[bond.host if bond.panel == own.name else bond.panel]
        frame = placed[other.name]
        off = space - frame.origin
        assert abs(off @ normal(frame)) < 1e-6, "glued panels lie in one plane"
        if other.outline.covers(Point(off @ frame.along, off @ frame.up)):
            found.append(other.name)
    return found


@pytest.mark.parametrize("name", ["tide_pool", "winter_fair"])
def test_a_hidden_label_lies_under_a_sheet_that_is_glued_there(name: str, request: pytest.FixtureRequest) -> None:
    card: Card = request.getfixturevalue(name)
    places = label_places(card)
    hidden = 0
    for part in card.parts:
        label = places.get(part.name)
        if label and label.hidden:
            left, low, right, high = text_box(part.label, label.at, label.height)
            for corner in ((left, low), (right, low), (right, high), (left, high)):
                assert covering(card, part.name, corner), f"{part.label} {part.name} shows at {corner}"
            hidden += 1
    assert hidden >= 8


def test_both_faces_of_a_sheet_are_told_apart(tide_pool: Card) -> None:
    places = label_places(tide_pool)
    # the tabs of a layer of weed are glued with one face: with the printed one where its creases are mountains
    for part in tide_pool.parts:
        if part.name.startswith("weeds."):
            creases = {line.stroke for line in part.lines if line.stroke in (Stroke.MOUNTAIN, Stroke.VALLEY)}
            tab = places[part.name].hidden and places[part.name].at[0] < 0
            assert tab == (creases == {Stroke.MOUNTAIN}), part.name


def test_a_cut_out_whose_printed_face_is_seen_has_no_hidden_place(tide_pool: Card) -> None:
    places = label_places(tide_pool)
    seen = [part for part in tide_pool.parts if part.name.endswith(".front")]
    assert len(seen) == 6
    assert not any(places[part.name].hidden for part in seen)


def glued(hole: float) -> Card:
    """A strip glued face down onto the middle of a board, the board's printed face up, with a hole in the strip."""
    board, strip = shapely.box(0, 0, 60, 40), shapely.box(0, 0, 30, 20).difference(shapely.box(15 - hole, 4, 15 + hole, 16))
    parts = (Part("board", "A1", cards.INK.name, board, (), (2, 2)), Part("strip", "A2", cards.INK.name, strip, (), (2, 2)))
    panels = tuple(Panel(part.name, part.name, part.outline) for part in parts)
    x, y, _ = np.eye(3)
    pose = {"board": cards.Placement(np.zeros(3), x, y), "strip": cards.Placement(10 * x + 10 * y, x, y)}
    return cards.harbour(parts=parts, panels=panels, papers=(cards.INK,), hinges=(), bonds=(Bond("strip", "board"),),
                         pose=lambda _: pose)


def test_an_opening_hides_nothing_and_a_narrow_place_makes_the_label_smaller() -> None:
    whole = label_places(glued(0.0001))["board"]
    assert whole.hidden
    assert whole.height == HEIGHTS[0]
    for hole in (6.0, 11.0):
        label = label_places(glued(hole))["board"]
        box = shapely.box(*text_box("A1", label.at, label.height))
        assert label.hidden
        assert not box.intersects(shapely.box(25 - hole, 14, 25 + hole, 26))
        assert shapely.box(10, 10, 40, 30).covers(box)
    assert label_places(glued(11.0))["board"].height < HEIGHTS[0]
    assert not label_places(glued(0.0001))["strip"].hidden  # its printed face looks up


def test_labels_can_be_left_out_or_be_on_all_parts() -> None:
    card = cards.harbour()
    places = label_places(card)
    # tabs that are glued with the printed face, and a boat that nothing is glued to
    assert not places["böat 'Möwe'"].hidden
    for labels, expected in ((Labels.ALL, set(places)), (Labels.NONE, set()),
                             (Labels.HIDDEN, {name for name, label in places.items() if label.hidden})):
        shown = on_parts(places, labels)
        assert set(shown) == expected
        for sheet in lay_out(card):
            groups = {group.title: group for group in sheet_drawing(card.title, sheet, shown).groups}
            for placed in sheet.placed:
                own = [line for line in placed.part.lines if line.stroke is Stroke.MARK]
                marks = [t for t in groups[f"{placed.part.label} {placed.part.name}"].traces if t.kind is Stroke.MARK]
                assert (len(marks) > len(own)) == (placed.part.name in expected)
    assert with_beside(card, places, Labels.NONE) == {}


@pytest.mark.parametrize("name", ["tide_pool", "winter_fair"])
def test_a_label_keeps_off_holes_and_edges_or_is_left_out(name: str, request: pytest.FixtureRequest) -> None:
    card: Card = request.getfixturevalue(name)
    parts, places = {part.name: part for part in card.parts}, label_places(card)
    for part, label in places.items():
        assert shapely.covers(parts[part].outline, shapely.box(*text_box(parts[part].label, label.at, label.height)))
    if name == "tide_pool":
        assert "fish.front" in places, "there is room beside the gill and the eye"
        assert set(places) == set(parts)
    else:
        assert "bunting.front" not in places, "pennants on a string"
        assert len(places) > 0.7 * len(parts)


def test_a_label_beside_its_part_stands_clear_below_it() -> None:
    card = cards.crowd(6)
    shown = with_beside(card, label_places(card), Labels.HIDDEN)
    assert set(shown) == {part.name for part in card.parts}
    for part in card.parts:
        group = part_group(Placed(part, 0, 0, 0), Unique(), shown)
        ink = shapely.union_all([LineString(t.points) for t in group.traces if t.kind is Stroke.MARK])
        low = part.outline.bounds[1]
        assert low - ROOM < ink.bounds[1]
        assert ink.bounds[3] < low
