"""The closed stack against an exact overlay of polygons, hand counts, and what the script's gusset gives."""

import math
import random
import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

import cards
import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

from foldwright.grammar import Refused, read, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.card import Bond, Card, Panel, Part, Placement
from foldwright.solver.mechanism import registry
from foldwright.solver.stack import ASIDE, Stack, lopsided, stack_map, stack_words

ROOT = Path(__file__).parent.parent
WHOLE = sorted(path.name for path in (ROOT / "examples").glob("*.card") if path.stem != "too-tight")
INK, SAND = cards.INK.caliper, cards.SAND.caliper


def flat_card(outlines: list[Polygon], page: tuple[float, float] = (120, 160), **changes: object) -> Card:
    """A closed card whose panels are sheets of one paper, given where they lie: (along the spine, away from it)."""
    noise = random.Random(5)
    panels, placed, parts = [], {}, []
    for number, outline in enumerate(outlines):
        name, turn, mirror = f"sheet{number}", noise.uniform(0, 2 * math.pi), noise.choice((1.0, -1.0))
        # a part lies on its sheet by axes of its own; the placement brings it back to where it was given
        first = np.array([math.cos(turn), 0, math.sin(turn)])
        second = mirror * np.array([-math.sin(turn), 0, math.cos(turn)])
        place = Placement(np.array([noise.uniform(-50, 50), 0, noise.uniform(-50, 50)]), first, second)
        shape = affinity.affine_transform(outline, [1, 0, 0, 1, -place.origin[0], -place.origin[2]])
        shape = affinity.affine_transform(shape, [first[0], first[2], second[0], second[2], 0, 0])
        panels.append(Panel(name, name, shape))
        placed[name] = place
        parts.append(Part(name, str(number), cards.SAND.name, shape, (), (0, 0)))
    fields = {"cover": page, "panels": tuple(panels), "parts": tuple(parts), "hinges": (), "bonds": (), "pose": lambda _: placed}
    return cards.harbour(**{**fields, **changes})


def blob(noise: random.Random, whole: bool) -> Polygon:
    """A rectangle on whole millimetres, or a turned one with a hole."""
    x, d = noise.randint(0, 100), noise.randint(0, 70)
    shape = box(x, d, x + noise.randint(5, 60), d + noise.randint(5, 50))
    if whole:
        return shape
    return affinity.rotate(shape.difference(shape.buffer(-2).centroid.buffer(noise.uniform(0.5, 9))), noise.uniform(0, 90))


def overlay(outlines: list[Polygon]) -> tuple[list[Polygon], list[int]]:
    """The plane cut along all edges: its faces, and how many sheets lie over each."""
    edges = shapely.unary_union([outline.boundary for outline in outlines])
    faces = list(shapely.polygonize([edges]).geoms)
    return faces, [sum(outline.contains(face.representative_point()) for outline in outlines) for face in faces]


@pytest.mark.parametrize("seed", range(6))
def test_whole_millimetres_are_counted_exactly(seed: int) -> None:
    noise = random.Random(seed)
    outlines = [blob(noise, whole=True) for _ in range(16)]
    found = Counter(stack_map(flat_card(outlines)).sheets.ravel().tolist())
    page = box(0, 0, 160, 120)
    areas: Counter[int] = Counter()
    for face, count in zip(*overlay(outlines), strict=True):
        areas[count] += face.intersection(page).area
    assert max(areas) > 3, "nothing much lies on each other"
    for count, area in areas.items():
        if count:
            assert found[count] == pytest.approx(area, abs=1e-6)  # rounding of the exact areas


@pytest.mark.parametrize("seed", range(6))
def test_every_cell_agrees_with_the_exact_overlay(seed: int) -> None:
    noise = random.Random(seed)
    outlines = [blob(noise, whole=False) for _ in range(16)]
    found = stack_map(flat_card(outlines))
    faces, counts = overlay(outlines)
    x, d = np.meshgrid(np.arange(160) + 0.5 + ASIDE[0], np.arange(120) + 0.5 + ASIDE[1])
    point, face = shapely.STRtree(faces).query(shapely.points(x.ravel(), d.ravel()), predicate="within")
    exact = np.zeros(x.size, dtype=int)
    exact[point] = np.array(counts)[face]
    assert exact.max() > 3
    assert (found.sheets.ravel() == exact).all()


def test_a_page_of_odd_size_is_divided_evenly() -> None:
    found = stack_map(flat_card([box(-1, -1, 200, 200)], (107.95, 139.7)))  # 4 1/4 by 5 1/2 inches
    assert found.sheets.shape == (108, 140)
    assert found.cell == pytest.approx((139.7 / 140, 107.95 / 108))
    assert (found.sheets == 1).all()


def test_the_harbour_by_hand() -> None:
    found = stack_map(cards.harbour())
    # this card has its origin in the middle of the spine; the quay ends at 45 along it: tabs from 40 to 50 away from it,
    # walls from there to 115
    assert found.sheets[45, 20] == 4
    assert found.thickness[45, 20] == pytest.approx(2 * INK + 2 * SAND + 2 * 0.1)
    assert found.thickness[60, 44] == pytest.approx(2 * INK + 2 * SAND)
    assert found.thickness[60, 45] == found.thickness[20, 20] == pytest.approx(2 * INK)
    # the boat hangs from the ridge, its sail on the walls, in the plane of symmetry: on neither side
    assert found.sheets[100, 3] == 5
    assert found.maximum == pytest.approx(3 * INK + 2 * SAND)
    assert found.right[100, 3] == found.left[100, 3] == pytest.approx(INK + SAND)
    assert found.needs.contents == pytest.approx(found.maximum - 2 * INK)
    assert found.needs.gusset == pytest.approx(found.maximum - INK)


def test_a_hole_is_no_paper() -> None:
    outlines = [box(0, 0, 160, 120).difference(box(20, 30, 60, 50))]
    found = stack_map(flat_card(outlines))
    assert (found.sheets == 0).sum() == 40 * 20
    assert not found.sheets[30:50, 20:60].any()


def test_contents_hold_a_plain_spine_open_like_a_wedge() -> None:
    found = stack_map(cards.harbour())
    away = 85.5  # the top of the boat's sail, the nearest line with five sheets
    assert found.sheets[85].max() == 5 > found.sheets[84].max()
    half = math.radians(found.needs.held_open) / 2
    covers = np.array([[away * math.sin(half), away * math.cos(half)], [-away * math.sin(half), away * math.cos(half)]])
    assert np.linalg.norm(covers[0] - covers[1]) == pytest.approx(found.needs.contents)
    assert found.needs.takes
    tight = cards.harbour()
    tight = replace(tight, practice={**tight.practice, "spine.gape": 0.1})
    told = " ".join(stack_words(stack_map(tight)))
    assert "more than a plain spine takes; a gusset of 1.06 mm" in told


@pytest.mark.parametrize(("outline", "words"), [
    (box(60, 40, 100, 80), []),
    (box(20, 40, 60, 80), ["towards the tail"]),
    (box(60, 80, 100, 118), ["towards the fore-edge"]),
    (box(100, 2, 150, 25), ["towards the head", "towards the spine", "one quarter"]),
    (box(52, 40, 108, 80).union(box(90, 70, 100, 80)), []),
    (box(75, 55, 125, 105), ["one quarter"]),
])  # fmt: skip
def test_lopsided_stacks_are_told(outline: Polygon, words: list[str]) -> None:
    told = list(lopsided(stack_map(flat_card([outline]))))
    assert len(told) == len(words)
    assert all(word in sentence for word, sentence in zip(words, told, strict=True))


def test_a_sixth_is_the_limit() -> None:
    beyond, within = (flat_card([box(80 - 160 / 6 - 10 + shift, 50, 80 - 160 / 6 + 10 + shift, 70)]) for shift in (-1, 1))
    assert any("towards the tail" in words for words in lopsided(stack_map(beyond)))
    assert not any("towards the tail" in words for words in lopsided(stack_map(within)))


def lined(gsm: float, area: Polygon) -> Stack:
    """The harbour with a sheet glued on its left page."""
    card = cards.harbour()
    paper = replace(cards.SAND, name="lining", gsm=gsm)
    part = Part("lining", "9", paper.name, area, (), (0, 0))
    where = card.pose
    return stack_map(replace(
        card, papers=(*card.papers, paper), parts=(*card.parts, part), panels=(*card.panels, Panel("lining", "lining", area)),
        bonds=(*card.bonds, Bond("lining", "cover.left")),
        pose=lambda angle: {**where(angle), "lining": where(angle)["cover.left"]}))  # fmt: skip


def test_a_page_lined_alone_asks_for_a_lining_of_the_other() -> None:
    # 65 lb cover is 176 g/m² in the printed equivalence tables that data/grammage.csv names
    found = lined(176, box(120, 3, 237, 157)).balance
    assert found.lighter == "right"
    assert found.size == (154, 117)
    assert found.grammage == pytest.approx(176)
    assert found.left - found.right == pytest.approx(176 * 154 * 117 / (160 * 120))
    assert found.sheets == pytest.approx(1)  # the lining itself is the card's lightest paper


def test_a_scrap_on_one_page_asks_for_nothing() -> None:
    found = lined(176, box(150, 20, 180, 50))
    assert found.balance.lighter == ""
    assert found.balance.left > found.balance.right
    assert "no balancing sheet" in " ".join(stack_words(found))


def test_words_speak_the_cards_unit() -> None:
    told = " ".join(stack_words(stack_map(replace(cards.harbour(), unit="in"))))
    assert "0.053 in thick where 5 sheets" in told
    assert " mm" not in told


# ---- what the binder gives a gusset

THICK = """card "Thick"
  units mm
cover 180 x 260
  spine gusset
  paper ink
paper ink caliper 0.3 colour #22304a
paper sand caliper 0.3 colour #d9c39a
mat 600 x 600
insert page on spine
  paper sand
"""
STANDS = {
    "nothing": "",
    "tent": "tent pier on page\n  paper sand\n  {}\n",
    "vfold": "vfold gull on page\n  paper sand\n  {}\n",
    "sharp vfold": "vfold gull on page\n  paper sand\n  angle 20\n  wing 80\n  {}\n",
    "ring": "ring tank on page\n  paper sand\n  {}\n",
    "lattice": "ring tank on page\n  paper sand\n  {}\nlattice weeds in tank\n  paper sand\n  layers 1 by 1\n  rise 20\n",
    "dense lattice": "ring tank on page\n  paper sand\n  wall 80\n  spread 50\n  {}\n"
                     "lattice weeds in tank\n  paper sand\n  layers 4 by 4\n  rise 60\n",
}  # fmt: skip


def assert_roomy(card: Card) -> None:
    """The closed pages stand as far apart as the map of the stack asks, and so does the gusset."""
    closed, needs = card.pose(0.0), stack_map(card).needs
    apart = float(closed["cover.left"].origin[1] - closed["cover.right"].origin[1])
    assert needs.gusset <= apart + 1e-6  # rounding of decimal calipers
    assert needs.gusset <= card.gusset
    assert needs.takes


@pytest.mark.parametrize("words", ["tabs inward", "tabs outward", "tabs outward\n  joint slotted"])
@pytest.mark.parametrize("stands", STANDS)
def test_what_the_mechanisms_say_of_their_thickness_covers_the_map(stands: str, words: str) -> None:
    assert_roomy(solve_design(read_text(THICK + STANDS[stands].format(words))))


def in_a_gusset(example: str) -> str:
    """An example script on an insert in a larger gusseted cover."""
    paper = re.search(r"^paper (\w+)", example, re.MULTILINE)
    assert paper
    example = re.sub(r"^mat .*$", "mat 900 x 900", example, flags=re.MULTILINE)
    example = re.sub(r" on spine$", " on sheet0", example, flags=re.MULTILINE)
    return re.sub(r"^cover .*$", f"insert sheet0 on spine\n  paper {paper[1]}\ncover 300 x 420\n  spine gusset", example,
                  flags=re.MULTILINE)  # fmt: skip


def test_every_mechanism_fits_the_gusset_that_it_asks_for() -> None:
    tried = []
    for keyword, kind in registry().items():
        if keyword in ("cover", "insert", "window", "cutout") or not kind.example:
            continue
        try:
            card = solve_design(read_text(in_a_gusset(kind.example)))
        except Refused:  # one that needs the cover's own sheet
            continue
        assert_roomy(card)
        tried.append(keyword)
    assert {"tent", "vfold", "ring", "lattice"} <= set(tried)


@pytest.mark.parametrize("name", WHOLE)
def test_the_examples(name: str) -> None:
    card = solve_design(read(ROOT / "examples" / name))
    found = stack_map(card)
    assert card.stack == pytest.approx(found.maximum)
    assert found.needs.takes
    # covers everywhere but in their windows, and every sheet is on one side or stands in the middle
    assert (found.right + found.left <= found.thickness + 1e-9).all()
    if card.gusset:
        assert_roomy(card)


def test_most_lies_where_most_sheets_cross() -> None:
    """Of the rock pool the cut-outs over the fanned layers are thickest, beyond the ring, not the bare pages."""
    card = solve_design(read(ROOT / "examples/tide-pool.card"))
    found = stack_map(card)
    across = [panel for panel in card.panels if panel.part.startswith("weeds.") and not panel.tab]
    assert len(across) == 6
    row, column = int(found.thickest[1] / found.cell[1]), int(found.thickest[0] / found.cell[0])
    assert found.sheets[row, column] > 8
    assert (found.sheets[:2] <= 4).all()  # along the spine only cover and insert lie
