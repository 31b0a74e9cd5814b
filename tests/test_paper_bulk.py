"""Caliper from weight and bulk, told as an estimate; slots from caliper, clearance and crossing angle, against geometry."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from shapely import affinity
from shapely.geometry import box

import foldwright
from foldwright.grammar import Refused, read_text
from foldwright.solver.papers import solved
from foldwright.tables import paper_lines

CARD = """card "Tide"
  units mm
cover 130 x 180
  opens 180
  paper ink
paper ink   colour #22304a  caliper 0.25
paper weed  colour #3f6f4b  {weed}
mat 300 x 300
ring tank on spine
  paper ink
lattice weeds in tank
  paper weed
  layers 2 by 2
"""

# Printed in mills' and dealers' tables: g/m², caliper in points of 0.001 in, and what apparent specific volume (bulk, ISO 534
# and TAPPI T 411: thickness over grammage) comes to, rounded to two decimals.
PRINTED = [(60.2, 3.2, 1.35), (75.2, 3.8, 1.29), (105.35, 5.8, 1.40), (131.68, 6.2, 1.20), (162, 8, 1.25), (176, 9, 1.30),
           (216, 10, 1.18), (271, 12, 1.12), (325, 14, 1.09)]


def weed(text: str):
    (paper,) = [paper for paper in read_text(CARD.format(weed=text)).papers if paper.name.text == "weed"]
    return paper


@pytest.mark.parametrize(("gsm", "points", "bulk"), PRINTED)
def test_caliper_from_weight_and_bulk_is_the_printed_one(gsm: float, points: float, bulk: float) -> None:
    paper = solved(weed(f"weight {gsm} gsm bulk {bulk}"))
    assert paper.caliper == pytest.approx(points * 0.0254, rel=0.5 * 0.01 / bulk + 0.002)  # the bulk is rounded to 0.01
    assert paper.estimated


def test_without_a_bulk_the_usual_one_is_taken_and_a_measured_caliper_counts_first() -> None:
    assert solved(weed("weight 200 gsm")).caliper == pytest.approx(0.24)
    measured = solved(weed("weight 200 gsm bulk 1.4 caliper 0.25"))
    assert (measured.caliper, measured.estimated) == (0.25, False)


@pytest.mark.parametrize(("line", "code"), [
    ("bulk 1.3", "value-missing"), ("weight 200 gsm bulk", "value-missing"), ("weight 200 gsm bulk 1.3 mm", "unit-wrong"),
    ("weight 200 gsm bulk 13", "value-wrong"), ("weight 200 gsm bulk 0", "value-wrong"),
    ("weight 200 gsm bulk 1.3 bulk 1.2", "setting-twice"),
])
def test_a_bulk_that_says_nothing_is_a_problem(line: str, code: str) -> None:
    with pytest.raises(Refused) as caught:
        read_text(CARD.format(weed=line))
    assert code in [problem.code for problem in caught.value.problems]


def test_told_as_an_estimate_and_slots_follow_it(tmp_path: Path) -> None:
    path = tmp_path / "tide.card"
    path.write_text(CARD.format(weed="weight 300 gsm bulk 1.4"), encoding="utf-8")
    checked = foldwright.check(path)
    assert "weed (0.42 mm) is an estimate" in paper_lines(checked)[0]
    assert {crossing.width for crossing in checked.card.crossings} == {0.42 + 0.15}  # clearance by practice
    assert Fraction(42, 100) + checked.card.practice["slot.clearance"] == pytest.approx(0.57)


@pytest.mark.parametrize("caliper", [0.15, 0.25, 0.4])
def test_where_rigid_sheets_jam_in_a_slot(tmp_path: Path, caliper: float) -> None:
    """Two sheets in cross-section, the second through the first at the angle told: what it takes of the first is the slot."""
    path = tmp_path / "tide.card"
    path.write_text(CARD.format(weed=f"caliper {caliper}"), encoding="utf-8")
    card = foldwright.check(path).card
    (note,) = [note for note in card.notes if "rigid sheets would jam" in note.text]
    sheet = box(-50, -caliper / 2, 50, caliper / 2)
    taken = sheet.intersection(affinity.rotate(sheet, note.figure, origin=(0, 0)))
    left, _, right, _ = taken.bounds
    assert right - left == pytest.approx(card.crossings[0].width, abs=1e-6)
