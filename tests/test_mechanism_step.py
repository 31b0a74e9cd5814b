"""Steps: how they are cut out of their sheet, what they refuse, and that they are a sheet with three creases."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from by_hand import at, cover, stand
from shapely.geometry import LineString

from foldwright.grammar import Refused, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.card import Stroke
from foldwright.solver.proof import ProofFailed, prove

HEAD = """
card "Quarry"
  units mm
cover 100 x 150
  opens {opens}
  {spine}
  paper ink
insert page on spine
  paper sand
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 300 x 300
"""
LEDGE = """
step ledge on page
  at 20
  width 60
  depth 30
  rise 22
"""
UPPER = """
step upper on ledge.{foot}
  at 12
  width 30
  depth 15
  rise 12
"""
MEET = 1e-9  # mm: rounding of a few rotations on parts of 200 mm


def script(*blocks: str, opens: str = "90", spine: str = "spine plain") -> str:
    return HEAD.format(opens=opens, spine=spine) + "".join(blocks)


def solved(*blocks: str, **words: str):
    return solve_design(read_text(script(*blocks, **words)), seconds=20)


def refusal(*blocks: str, **words: str) -> str:
    with pytest.raises(Refused) as refused:
        solved(*blocks, **words)
    return " ".join(problem.wrong() for problem in refused.value.problems)


# ---- how it is cut

def lines(card, stroke: Stroke) -> list[tuple]:
    """Lines of the insert, each with its lower left end first, to a thousandth of a millimetre."""
    part = next(part for part in card.parts if part.name == "page")
    return sorted(tuple(sorted(tuple(round(x, 3) + 0.0 for x in point) for point in line.points))
                  for line in part.lines if line.stroke is stroke)


def test_the_old_crease_stops_between_the_cuts():
    card = solved(LEDGE)
    assert lines(card, Stroke.CUT) == [((20, -30), (20, 22)), ((80, -30), (80, 22))]
    assert lines(card, Stroke.MOUNTAIN) == [((20, -8), (80, -8))]
    # the sheet's crease right and left of the step, and its feet
    assert lines(card, Stroke.VALLEY) == [((3, 0), (20, 0)), ((20, -30), (80, -30)), ((20, 22), (80, 22)), ((80, 0), (147, 0))]
    assert prove(card).looked_at["creases"] > 0


def test_pieces_of_a_crease_end_at_the_cut_exactly():
    """No hair of the old crease is left beside a cut: the outlines that it is clipped with are widened a little."""
    ends = {x for hinge in solved(LEDGE).hinges if {hinge.left, hinge.right} == {"page.right", "page.left"}
            for x, _ in (hinge.start, hinge.end)}
    assert sorted(ends) == pytest.approx([3, 20, 80, 147], abs=1e-9)


def test_the_sheet_keeps_its_paper():
    plain, cut = solved(), solved(LEDGE, UPPER.format(foot="right_foot"))
    sheets = [next(part for part in card.parts if part.name == "page") for card in (plain, cut)]
    assert sheets[1].outline.area == pytest.approx(sheets[0].outline.area, abs=1e-6)
    assert sheets[1].outline.symmetric_difference(sheets[0].outline).area < 1e-6
    own = {panel.name: panel.outline.area for panel in cut.panels if panel.part == "page"}
    # a step has the area of its two walls, and takes as much from the panels that it is cut out of
    assert own["upper.riser"] == pytest.approx(30 * 12)
    assert own["upper.tread"] == pytest.approx(30 * 15)
    assert own["ledge.riser"] == pytest.approx(60 * 22 - 30 * 12)
    assert own["ledge.tread"] == pytest.approx(60 * 30)
    assert sum(own.values()) == pytest.approx(sheets[1].outline.area)


@pytest.mark.parametrize("foot", ["right_foot", "left_foot"])
def test_steps_on_steps_are_proved(foot):
    card = solved(LEDGE, UPPER.format(foot=foot))
    prove(card)
    assert {panel.part for panel in card.panels if panel.name.startswith(("ledge.", "upper."))} == {"page"}
    start = {"right_foot": -30, "left_foot": 22}[foot]
    pieces = [line for line in lines(card, Stroke.VALLEY) if line[0][1] == line[1][1] == start]
    assert pieces == [((20, start), (32, start)), ((62, start), (80, start))]
    assert lines(card, Stroke.CUT)[1:3] == [((32, start - 15), (32, start + 12)), ((62, start - 15), (62, start + 12))]


def test_a_step_in_the_insert_of_a_gusset_is_proved():
    card = solved(LEDGE, spine="spine gusset")
    assert prove(card).looked_at["creases"] > 0
    assert len(lines(card, Stroke.CUT)) == 2


def test_a_ridge_on_the_old_crease_is_folded_the_other_way():
    card = solved(LEDGE.replace("rise 22", "rise 30"))
    assert lines(card, Stroke.MOUNTAIN) == [((20, 0), (80, 0))]
    assert [line for line in lines(card, Stroke.VALLEY) if line[0][1] == 0] == [((3, 0), (20, 0)), ((80, 0), (147, 0))]
    step = next(step for step in card.steps if "ledge" in step.text)
    assert "which lies on the sheet's own crease" in step.text
    assert "no glue" in step.text
    assert step.parts == ("page",)


def test_the_proof_sees_a_step_that_is_cut_wrongly():
    card = solved(LEDGE)
    wide = tuple(replace(panel, outline=panel.outline.buffer(1, join_style="mitre")) if panel.name == "ledge.riser" else panel
                 for panel in card.panels)
    with pytest.raises(ProofFailed, match="overlap or leave gaps"):
        prove(replace(card, panels=wide))
    beside = tuple(replace(hinge, start=(3, 1), end=(20, 1)) if hinge.start == (3.0, 0.0) else hinge for hinge in card.hinges)
    assert beside != card.hinges
    with pytest.raises(ProofFailed, match="part at their crease"):
        prove(replace(card, hinges=beside))


# ---- how it stands

def test_an_open_sheet_is_one_plane():
    """Fully open, every panel has the placement of its sheet: nothing was added to the paper, and nothing is stretched."""
    card = solved(LEDGE, UPPER.format(foot="left_foot"), opens="180")
    placed = card.pose(180)
    sheet = placed["page.left"]
    for name in ("ledge.riser", "ledge.tread", "upper.riser", "upper.tread", "page.right"):
        for axis in ("origin", "along", "up"):
            assert np.allclose(getattr(placed[name], axis), getattr(sheet, axis), rtol=0, atol=MEET), name


def test_depth_and_rise_in_an_l():
    """Open at a right angle the tread lies `rise` over the right page, the riser `depth` before the left one."""
    mine = stand("step", "ledge", cover(opens="90"), "spine", {"at": 60, "width": 50, "depth": 31, "rise": 17})
    fold, placed = mine.fold(90), mine.placements(90)
    for u, v in ((60, 17), (110, 17), (60, -14), (110, -14)):  # corners of the tread
        assert float(at(placed["ledge.tread"], (u, v)) @ fold.right_normal) == pytest.approx(17, abs=MEET)
    for u, v in ((60, -31), (110, -31), (60, -14), (110, -14)):  # corners of the riser
        assert float(at(placed["ledge.riser"], (u, v)) @ fold.left_normal) == pytest.approx(31, abs=MEET)
    assert mine.value(mine.mechanism.measures()["reach"]) == 48


def test_walls_stay_parallel_to_the_pages():
    """Opposite links of a parallelogram stay parallel (a change-point linkage of Grashof's kind: s + l = p + q)."""
    mine = stand("step", "ledge", cover(opens="90"), "spine", {"at": 60, "width": 50, "depth": 31, "rise": 17})
    for opening in (1, 30, 60, 90):
        placed = mine.placements(opening)
        assert np.allclose(placed["ledge.riser"].up, placed["cover.left"].up, rtol=0, atol=1e-12)
        assert np.allclose(placed["ledge.tread"].up, placed["cover.right"].up, rtol=0, atol=1e-12)


def test_a_step_on_a_flat_card_is_told_to_lie_flat():
    flat, corner = (solved(LEDGE, opens=opens) for opens in ("180", "90"))
    notes = [note for note in flat.notes if note.owner == "ledge"]
    assert len(notes) == 1
    assert "lies flat in its sheet" in notes[0].text
    # half open, the ridge lies over the crease at depth and rise
    placed = flat.pose(90)["ledge.riser"]
    assert notes[0].figure == pytest.approx(float(np.linalg.norm(at(placed, (0, -8)) * [0, 1, 1])), abs=MEET)
    assert not [note for note in corner.notes if note.owner == "ledge"]


# ---- what it refuses

@pytest.mark.parametrize(("blocks", "words", "said"), [
    ((LEDGE.replace("depth 30", "depth 80"),), {}, "when the card is closed, the start of the ridge"),
    ((LEDGE.replace("at 20", "at 6"),), {}, "must leave a strip of its sheet at the insert's tail"),
    ((LEDGE, UPPER.format(foot="right_foot").replace("rise 12", "rise 20")), {}, "a strip of its sheet at the far edge"),
    ((LEDGE, UPPER.format(foot="right_foot").replace("at 12", "at 2")), {}, "must leave a strip of its sheet at the start"),
    ((LEDGE, LEDGE.replace("ledge", "twin").replace("at 20", "at 83")), {}, "ledge with a gap behind it ends at"),
    ((LEDGE.replace("on page", "on spine"),), {}, "cut it out of the insert"),
    ((LEDGE + "  paper sand\n",), {}, "`step` has no setting `paper`"),
    ((LEDGE.replace("on page", "on roof.right_foot"), "tent roof on page\n  paper sand\n  at 20\n"), {}, "cut out of one sheet"),
    ((LEDGE.replace("on page", "on spine"),), {"spine": "spine gusset"}, "gusset is no single crease"),
])
def test_a_step_that_cannot_be_cut_is_refused(blocks, words, said):
    assert said in refusal(*blocks, **words)


def test_a_step_beside_a_step_leaves_paper_between_the_cuts():
    """Where both cuts come nearest, the strip between them is as wide as practice asks."""
    free = LEDGE.replace("ledge", "twin").replace("at 20", "at 80 to 120").replace("width 60", "width 20")
    card = solved(LEDGE, free, "prefer smallest twin.at\n")
    cuts = [LineString(line) for line in lines(card, Stroke.CUT)]
    apart = min(a.distance(b) for i, a in enumerate(cuts) for b in cuts[i + 1:])
    assert apart >= card.practice["slot.strip"]
