"""Platforms: what is refused in plain words, what is left free, measures, and artwork as the sheet's outline.

Outside: mobility counted by the rank of the equations of rigid panels (rigid.py), no formula of a platform in it; a
parallelogram is the change-point case of Grashof's classification (R. L. Norton, Design of Machinery, chapter 2: a pair
of equal shortest and longest links, s + l = p + q).
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from assembled import AGREE, SOLVED, Bench
from by_hand import Stand, at, broken, cover, stand, valid_sets, with_change
from drawn import bench_of, kits
from drawn.platform import glue
from scripts import sentences

from foldwright.grammar import Refused, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.card import Card
from foldwright.solver.proof import prove

HEAD = 'card "Harbour"\n  units mm\ncover 120 x 160\n  paper ink\nmat 300 x 300\n'
HEAD += "paper ink colour #22304a weight 216 gsm\npaper sand colour #d9c39a caliper 0.25\n"
DECK = HEAD + "platform deck on spine\n  paper sand\n"
NULL = 1e-9  # singular values of a free motion are rounding (1e-16), those of a held one at these openings 1e-3 or more
HELD = 1e-4
RAFT = "M0 20 L20 0 H60 L80 20 V40 L60 60 H20 L0 40 Z"  # 80 x 60, corners cut off
DUMBBELL = "M0 0 H80 V20 H60 V25 H80 V60 H0 V25 H20 V20 H0 Z"  # slit on both sides, beside its middle
SPLIT = "M0 0 H80 V10 H50 V50 H80 V60 H0 V50 H30 V10 H0 Z"  # an I: its middle is 20 wide
RING = "M0 0 H80 V60 H0 Z M10 10 V50 H70 V10 Z"  # a frame of 10 mm
TWINS = "M0 0 H30 V60 H0 Z M50 0 H80 V60 H50 Z M30 10 H50 V20 H30 Z"  # two towers, joined on one side of the middle


def with_art(tmp_path, outline: str, settings: str) -> Card:
    """A deck of that outline, solved and proved."""
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 80 60"><path fill-rule="evenodd" d="{outline}"/></svg>'
    (tmp_path / "deck.svg").write_text(svg)
    script = tmp_path / "deck.card"
    script.write_text(DECK + '  art "deck.svg" along top\n' + settings)
    from foldwright.grammar import read

    card = solve_design(read(script))
    prove(card)
    return card


@pytest.mark.parametrize(("setting", "said"), [
    ("  height 25\n  right_height 24\n", "must be equally tall, or its sheet slopes and jams: the right one is 24 mm tall, the "
     "sheet floats at 25 mm"),
    ("  height 25\n  left_height 30 to 40\n", "must be equally tall"),
    ("  spread 40\n  overhang 5\n", "needs 9 mm of sheet beyond its support; there is 5 mm"),
    ("  spread 12\n", "support of deck and of its centre wall need 17 mm beside each other; there is 12 mm"),
    ("  width 30\n", "two of them would be at most 5 mm long on average; a tab needs 10 mm to hold"),
    ("  spread 60\n  overhang 20\n  height 40\n", "lies 120 mm from the spine; the page less its clear strip is 117 mm"),
])
def test_what_cannot_hold_is_told(setting, said):
    assert any(said in text for text in sentences(DECK + setting)), sentences(DECK + setting)


def test_a_lopsided_platform_without_a_centre_wall_holds():
    card = solve_design(read_text(DECK + "  supports two\n  spread 20\n  left_spread 45\n  top_tabs inward\n  overhang 0\n"))
    prove(card)
    assert not [part for part in card.parts if "centre" in part.name]


# ---- free motions

def free_motions(mine: Stand, openings: tuple[float, ...]) -> int:
    """Free motions of the rigid panels while the pages are held: nothing keeps the layer in the middle here."""
    upright = bench_of(mine).follow(1, openings)[-1]
    bench = Bench(mine, {mine.name: kits()["platform"].guess(mine)}, {mine.name: glue})
    bench.assembly.guesses = {name: upright.points[name] for name in bench.assembly.guesses}
    found = next(iter(bench.assembly.track(openings[-1:])))
    assert found.residual < SOLVED
    values = np.linalg.svd(found.slopes, compute_uv=False)
    assert not ((values >= NULL) & (values < HELD)).any(), "neither free nor held"
    return int((values < NULL).sum()) + found.slopes.shape[1] - len(values)


@pytest.mark.parametrize(("supports", "free"), [("three", 1), ("two", 2)])
def test_free_motions_are_as_many_as_the_notes_say(supports, free):
    looked = 0
    for _, mine in valid_sets("platform", 16):
        if mine.mechanism.site.choices["supports"] != supports:
            continue
        assert free_motions(mine, (165.0, 150.0, 135.0, 120.0)) == free
        said = [note.figure for note in mine.mechanism.notes(mine.sizes) if note.dimension == "plain"]
        assert said == [free]
        looked += 1
    assert looked > 3


def test_a_tilted_layer_keeps_all_lengths():
    """The sway is a motion of the whole layer: every wall leans by one angle, and the assembly still fits (rigid panels)."""
    mine = next(mine for _, mine in valid_sets("platform", 8) if mine.mechanism.site.choices["supports"] == "three")
    bench = bench_of(mine)
    solved = bench.follow(3, (180.0, 160.0, 140.0, 120.0))[-1]
    off, lean = {}, np.radians(5)
    height = mine.sizes["height"]
    shift = height * np.array([0.0, np.sin(lean), np.cos(lean) - 1])  # of everything at the walls' tops
    for name, points in bench.points.items():
        for label, point in points.items():
            high = name.endswith(("left", "right")) or point[1] > 0
            off[label] = solved.points[label] + (shift if high else 0)
    assert bench.assembly.lengths
    for a, b, length in bench.assembly.lengths:
        if a in off and b in off:
            assert np.linalg.norm(off[a] - off[b]) == pytest.approx(length, abs=1e-9), (a, b)


def test_sway_within_the_play_of_the_folds():
    """Tab 8 deep, caliper 0.25: a fold turns by 1/32; at a height of 32 mm that is 1 mm."""
    mine = stand("platform", "deck", cover(), "spine", {"at": 60, "width": 80, "height": 32, "spread": 30, "overhang": 12,
                                                        "end_overhang": 0})
    assert not broken(mine)
    assert [note.figure for note in mine.mechanism.notes(mine.sizes)] == [1, 1.0]
    # beyond it the layer would have to leave the middle: it stays parallel to the pages by the rigid motion above
    tall = with_change(mine, "deck.height", 32)
    assert list(tall.mechanism.notes(tall.sizes))[1].figure == 2.0


def test_each_side_is_a_change_point_parallelogram():
    """Grashof: s + l = p + q, with equal opposite links; so the closed card is its only dead point, but on two supports."""
    for _, mine in valid_sets("platform", 20):
        s = mine.sizes
        for side, foot in (("left", s["left_spread"]), ("right", s["spread"])):
            placed = mine.pose(90.0).placements
            top = at(placed[mine.mechanism.own(f"{side}_wall")], (0.0, s[f"{side}_height"]))
            links = sorted([foot, s[f"{side}_height"], float(np.hypot(*(top - placed[mine.mechanism.own(side)].origin)[1:])),
                            s["height"]])
            assert links[0] + links[3] == pytest.approx(links[1] + links[2], abs=AGREE)
        dead = [angle for angle, _ in mine.mechanism.dead_points(s)]
        assert dead == ([] if mine.mechanism.site.choices["supports"] == "three" else [180.0])


# ---- measures

def test_measures_are_those_of_the_open_and_closed_card():
    for _, mine in valid_sets("platform", 40):
        said = {name: mine.value(expression) for name, expression in mine.mechanism.measures().items()}
        ends = {}
        for opening in (0.0, 180.0):
            placed = mine.pose(opening).placements
            points = [at(placed[panel.name], corner) for panel in mine.flat.panels if panel.part.endswith("sheet")
                      for corner in list(panel.outline.exterior.coords)[:-1]]
            ends[opening] = np.array(points)
        assert said["depth"] == pytest.approx(np.ptp(ends[180.0][:, 1]), abs=1e-9)
        assert said["reach"] == pytest.approx(ends[0.0][:, 2].max(), abs=1e-9)
        assert ends[180.0][:, 2] == pytest.approx(mine.sizes["height"], abs=1e-9)


# ---- artwork

def test_a_sheet_takes_the_outline_of_its_artwork(tmp_path):
    card = with_art(tmp_path, RAFT, "  width 80 to 100\n  end_overhang 15 to 25\n  spread 17 to 25\nprefer largest deck.width\n")
    sheet = next(part for part in card.parts if part.name == "deck.sheet")
    u0, v0, u1, v1 = sheet.outline.bounds
    assert (u1 - u0) / (v1 - v0) == pytest.approx(80 / 60, abs=1e-6)
    assert sheet.outline.area / ((u1 - u0) * (v1 - v0)) == pytest.approx(5 / 6, abs=1e-6)  # four corners of 20 by 20 off
    assert v0 == pytest.approx(-v1)
    assert sum(line.stroke.value == "valley" for line in sheet.lines) == 1


def test_an_outline_with_a_waist_keeps_its_crease_in_pieces(tmp_path):
    settings = "  width 100\n  end_overhang 28\n  spread 17 to 20\n"
    assert with_art(tmp_path, DUMBBELL, settings).parts


@pytest.mark.parametrize(("outline", "said"), [
    (SPLIT, "the glued strip on top of the"), (RING, "the glued strip on top of the"),
    (TWINS, "falls into pieces along the crease through its middle")])
def test_artwork_that_cannot_be_glued_is_told(tmp_path, outline, said):
    with pytest.raises(Refused) as caught:
        with_art(tmp_path, outline, "  width 80\n  spread 17 to 20\n")
    texts = [text for problem in caught.value.problems for text in problem.sentences]
    assert any(said in text for text in texts), texts


def test_glue_stays_on_the_artwork_where_the_rules_say_so(tmp_path):
    """Without the rule the proof would find the strip off its sheet: the rule refuses what the proof would."""
    with pytest.raises(Refused):
        with_art(tmp_path, RAFT, "  width 80\n  end_overhang 0\n  spread 20\n")
    assert with_art(tmp_path, RAFT, "  width 80\n  end_overhang 18\n  spread 17\n").parts


def test_a_hundredth_of_a_millimetre_is_seen():
    mine = next(mine for _, mine in valid_sets("platform", 1))
    bench = bench_of(mine)
    bench.mine = with_change(mine, f"{mine.name}.spread", Fraction(1, 100))
    assert max(bench.deviation(solved) for solved in bench.follow(1)) > 1e5 * AGREE
