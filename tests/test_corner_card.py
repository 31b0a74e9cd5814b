"""Cards that open to a right angle and stand as an L: from the script to the files."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from by_hand import at, between, corners, cover, stand, valid_sets
from drawn import trees

from foldwright.api import build, check
from foldwright.grammar import Refused, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.card import Stroke
from foldwright.solver.proof import prove

EXAMPLES = Path(__file__).parent.parent / "examples"
HEAD = """
card "Corner"
  units mm
cover 100 x 150
  opens {opens}
  spine {spine}
  paper ink
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 300 x 300
"""
# a tent whose feet are farther apart than its walls are long, a V-fold with a wing narrower than its foot angle: both would
# be pulled taut on the way to 180
LOW_TENT = "tent roof on {crease}\n  paper sand\n  at 20\n  width 50\n  spread 45\n  wall 38\n"
LOW_FOLD = "vfold gull on {crease}\n  paper sand\n  at 60\n  angle 60\n  wing 50\n  foot 30\n  ridge 40\n"
INSERT = "insert page on spine\n  paper sand\n"
MEET = 1e-9  # mm: rounding of a few rotations on parts of 200 mm


def solved(*blocks: str, opens: int = 90, spine: str = "plain"):
    return solve_design(read_text(HEAD.format(opens=opens, spine=spine) + "".join(blocks)), seconds=20)


def refusal(*blocks: str, **words) -> str:
    with pytest.raises(Refused) as refused:
        solved(*blocks, **words)
    return " ".join(problem.wrong() for problem in refused.value.problems)


# ---- the pose

@pytest.mark.parametrize("spine", ["plain", "gusset"])
def test_the_pages_stop_at_a_left_angle(spine):
    card = solved(INSERT, spine=spine)
    assert card.opens == 90
    prove(card)
    placed = card.pose(90)
    out = {"left": placed["cover.left"].up, "right": -placed["cover.right"].up}
    assert between(out["left"], out["right"]) == pytest.approx(90, abs=1e-9)
    closed = card.pose(0)
    assert between(closed["cover.left"].up, -closed["cover.right"].up) == pytest.approx(0, abs=1e-6)
    # drawn with x to the right, the left page is the upper one: it stands behind the right one
    assert float(np.cross(placed["cover.left"].along, placed["cover.left"].up) @ out["right"]) == pytest.approx(1, abs=1e-9)
    spines = [hinge for hinge in card.hinges if hinge.left.startswith("cover.right")]
    assert spines
    assert {hinge.stroke for hinge in spines} == {Stroke.VALLEY}


@pytest.mark.parametrize(("block", "name"), [(LOW_TENT, "roof"), (LOW_FOLD, "gull")])
def test_what_would_be_taut_on_a_flat_card_stands_in_an_l(block, name):
    card = solved(block.format(crease="spine"))
    prove(card)
    assert f"{name} must not be pulled taut before the card is open" in refusal(block.format(crease="spine"), opens=180)
    points = [point for point in card.dead_points if point.owner == name]
    assert len(points) == 1
    assert 90 < points[0].angle < 180


def test_at_its_dead_point_the_tent_is_one_line():
    """The dead point is told in degrees of the crease; there the walls lie in one line, measured from the pose."""
    mine = stand("tent", "roof", cover(opens="90"), "spine", {"at": 20, "width": 50, "spread": 45, "wall": 38})
    ((angle, _),) = mine.mechanism.dead_points(mine.sizes)
    placed = mine.placements(angle - 1e-7)
    assert between(placed["roof.right"].up, placed["roof.left"].up) == pytest.approx(0, abs=0.02)  # a root near its zero
    assert between(*(mine.placements(90)[f"roof.{side}"].up for side in ("right", "left"))) > 30


# ---- measures

@pytest.mark.parametrize(("block", "name"), [(LOW_TENT, "roof"), (LOW_FOLD, "gull")])
def test_height_is_no_measure_of_an_l(block, name):
    """Which page lies on the table is the reader's choice, so `height` is not offered; `reach` is, as for every card."""
    words = refusal(block.format(crease="spine"), f"prefer largest {name}.height\n")
    assert f"{name}.height" in words
    card = solved(block.format(crease="spine"), f"require {name}.reach <= 90\n")
    assert any(checked.rule.name.startswith("require") for checked in card.rules)


CORNER_TREES = [name for name in trees() if name.split()[0] in ("box", "step")]


@pytest.mark.parametrize("kind", CORNER_TREES)
def test_no_mechanism_offers_a_height_on_a_crease_that_opens_no_farther_than_an_l(kind):
    seen = 0
    for _, mine in valid_sets(kind, 4):
        if mine.opens == 90:
            assert "height" not in mine.mechanism.measures()
            assert "reach" in mine.mechanism.measures()
        seen += 1
    assert seen == 4


@pytest.mark.parametrize("opens", ["90", "180"])
def test_a_step_reaches_as_far_when_closed_as_it_says(opens):
    mine = stand("step", "ledge", cover(opens=opens), "spine", {"at": 60, "width": 50, "depth": 31, "rise": 17})
    closed = mine.placements(0.0)
    farthest = max(float(at(closed[name], point)[2]) for name, shape in corners(mine).items() if name.startswith("ledge.")
                   for point in shape)
    assert farthest == pytest.approx(mine.value(mine.mechanism.measures()["reach"]), abs=MEET)


# ---- the files

@pytest.fixture(scope="module", params=["mountain-hut", "book-stall"])
def built(request, tmp_path_factory):
    out = tmp_path_factory.mktemp(request.param) / "cut"
    build(EXAMPLES / f"{request.param}.card", out)
    return request.param, out, json.loads((out / "report.json").read_text("utf-8"))


def test_the_examples_are_built(built):
    name, out, report = built
    assert report["opens"] == {"mountain-hut": 90, "book-stall": 180}[name]
    assert {sheet.stem for sheet in out.glob("sheet-*.svg")} == {sheet.stem for sheet in out.glob("sheet-*.dxf")}
    assert max(pose["angle"] for pose in report["poses"]) == report["opens"]
    texts = [step["text"] for step in report["steps"]]
    assert "Glue the insert into the cover last" in texts[-1] or name == "book-stall"
    handled = {part for step in report["steps"] for part in step["parts"]}
    assert handled == {part["name"] for part in report["parts"]}, "a step of the guide names a part that is none"


def test_the_hut_is_steps_on_steps_with_a_box_on_a_foot():
    card = check(EXAMPLES / "mountain-hut.card").card
    sheet = next(part for part in card.parts if part.name == "slope")
    assert len([line for line in sheet.lines if line.stroke is Stroke.CUT]) == 8
    assert len([line for line in sheet.lines if line.stroke is Stroke.MOUNTAIN]) == 4
    assert {panel.part for panel in card.panels if panel.name.endswith((".riser", ".tread"))} == {"slope"}
    # in the open L the floor of the hut lies level with the terrace
    placed, up = card.pose(90), np.cross(card.pose(90)["cover.right"].along, card.pose(90)["cover.right"].up)
    floor = placed["hut.right_floor"].points(np.array([[0.0, 0.0]]))[0]
    terrace = float(card.dimensions["terrace.rise"][0])
    assert float(floor @ up) == pytest.approx(terrace, abs=MEET)
    # and what stands highest is the tip of the peaks, lower than the page is wide
    tops = {panel.name: float((placed[panel.name].points(np.asarray(panel.outline.exterior.coords)) @ up).max())
            for panel in card.panels if not panel.name.startswith(("cover", "slope"))}
    assert max(tops, key=lambda name: tops[name]) == "peaks.front"
    assert tops["peaks.front"] < 130
