"""Numbers of scripts: found where they stand, written otherwise without touching anything else, and made unknown."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest

from foldwright.grammar import Design, Refused, read, read_text
from foldwright.solver.bind import bind
from foldwright.solver.evaluate import Undefined, evaluate
from foldwright.solver.expression import Const
from foldwright.solver.freeing import CAN_BE_FREE, MARK
from foldwright.solver.model import Model
from foldwright.solver.variants import varied
from foldwright.solver.written import (
    CALIPER,
    COUNT,
    FIXED,
    INSIDE,
    LEAST,
    MAT,
    MOST,
    PLACE,
    PRACTICE,
    REQUIRE,
    WEIGHT,
    Written,
    edited,
    edited_text,
    papers,
    says_all,
)
from foldwright.solver.written_numbers import numbers

EXAMPLES = Path(__file__).parents[1] / "examples"
SCRIPTS = sorted([*EXAMPLES.glob("*.card"), *(EXAMPLES / "impossible").glob("*.card")])

SCRIPT = """\
card "Pier"          # everything has a comment
  units mm

cover 120 x 170      # a page
  opens 180
  clear 4
  paper night

paper night colour #1f2740 weight 216 gsm
paper sail  colour #efe6d2 caliper 0.25
mat 11 1/2 in x 300

practice tab.depth 9.5 because "thick glue"

vfold gull on spine
  paper sail
  at    10 to 0.1 * cover.height + 23
  angle 45
  wing  85°
  ridge 2 cm to 0.7 * quay.wall

tent quay on spine
  paper  sail
  at     95
  spread 20 to 35
  wall   max(30, 40 / 2) to 60

insert page on spine
  paper sail

ring pool on page
  paper  sail
  wall   40 to 60
  height 25

lattice reeds in pool
  paper  sail
  layers 3 by 4

require gull.ridge * sin(gull.angle - 3) <= 0.8 * quay.wall  because "1 gull"
prefer largest quay.wall
"""


def named(design: Design) -> dict[tuple[int, str], Written]:
    """The numbers of a script by line and text."""
    return {(number.at.line, number.at.text): number for number in numbers(design)}


def test_every_number_that_matters_is_found_with_what_it_is() -> None:
    found = [(n.at.line, n.at.text, n.dimension, n.role) for n in numbers(read_text(SCRIPT))]
    assert found == [
        (4, "120", "length", FIXED), (4, "170", "length", FIXED), (6, "4", "length", FIXED),
        (9, "216 gsm", "weight", WEIGHT), (10, "0.25", "length", CALIPER),
        (11, "11 1/2 in", "length", MAT), (11, "300", "length", MAT),
        (13, "9.5", "length", PRACTICE),
        (17, "10", "length", LEAST), (17, "0.1", "plain", INSIDE), (17, "23", "length", INSIDE),
        (18, "45", "angle", FIXED), (19, "85°", "angle", FIXED), (20, "2 cm", "length", LEAST), (20, "0.7", "plain", INSIDE),
        (24, "95", "length", FIXED), (25, "20", "length", LEAST), (25, "35", "length", MOST),
        (26, "30", "length", INSIDE), (26, "40", "length", INSIDE), (26, "2", "plain", INSIDE), (26, "60", "length", MOST),
        (33, "40", "length", LEAST), (33, "60", "length", MOST), (34, "25", "length", FIXED),
        (38, "3", "count", COUNT), (38, "4", "count", COUNT),
        (40, "3", "angle", REQUIRE), (40, "0.8", "plain", REQUIRE),
    ]


def test_words_and_bounds_are_those_of_the_setting() -> None:
    found = named(read_text(SCRIPT))
    assert found[4, "120"].what == "the width of the cover"
    assert found[25, "35"].what == "the upper end of the spread of quay"
    assert found[24, "95"].what == "the place of quay"
    assert found[40, "0.8"].what == "the factor 0.8 in line 40"
    assert found[38, "3"].least == 1
    assert found[38, "3"].most == 8
    wall = found[26, "60"]
    assert (wall.least, wall.most) == (12, 300)  # the usual range of a tent's wall, as docs/mechanisms.md has it
    assert found[20, "2 cm"].least == Fraction(15, 10)  # of a ridge, 15 mm


@pytest.mark.parametrize(("text", "steps", "written"), [
    ("60", 1, "60.5"), ("60.3", 1, "60.4"), ("0.25 in", 1, "0.3125 in"), ("1 1/2 in", 1, "1 9/16 in"), ("1/2 in", 9, "1 1/16 in"),
    ("2 in", -1, "1 15/16 in"), ("3 cm", 1, "3.05 cm"), ("100pt", 1, "101pt"), ("7.25mm", 1, "7.5mm"),
])
def test_notation_and_unit_are_kept(text: str, steps: int, written: str) -> None:
    script = SCRIPT.replace("at     95", f"at     {text}")
    number = next(n for n in numbers(read_text(script)) if n.owner == "quay.at")
    assert number.text(number.moved(steps)) == written
    again = next(n for n in numbers(read_text(script.replace(f"at     {text}", f"at     {written}"))) if n.owner == "quay.at")
    assert again.value == number.moved(steps)


def test_steps_are_those_of_the_card_or_round_in_the_unit() -> None:
    inches = read_text(SCRIPT.replace("units mm", "units in\n  step 1/32 in").replace("120 x 170", "5 x 7"))
    found = named(inches)
    assert found[5, "5"].step == Fraction(1, 32)
    assert found[19, "45"].step == 1  # whole degrees
    assert found[21, "0.7"].step == Fraction(1, 20)
    assert found[21, "2 cm"].step == Fraction(1, 20)
    assert named(read_text(SCRIPT.replace("0.7", "0.72")))[20, "0.72"].step == Fraction(1, 100)  # 0.72 is no multiple of 0.05


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.stem)
def test_each_number_as_it_is_gives_the_script_as_it_is(path: Path) -> None:
    design = read(path)
    found = numbers(design)
    assert found
    assert edited_text(design.source.text, [number.edit(number.value) for number in found]) == design.source.text
    assert says_all(design)


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.stem)
def test_a_number_written_otherwise_changes_that_number_only(path: Path) -> None:
    design = read(path)
    before = numbers(design)
    for place, number in enumerate(before):
        value = number.moved(1 if number.up else -1)
        after = numbers(edited(design, [number.edit(value)]))
        assert [n.value for n in after] == [value if n == place else other.value for n, other in enumerate(before)]
        assert [(n.what.split()[1], n.role) for n in after] == [(n.what.split()[1], n.role) for n in before]


def test_comments_and_layout_stay() -> None:
    design = read_text(SCRIPT.replace("\n", "\r\n"))
    number = named(design)[4, "120"]
    text = edited(design, [number.edit(Fraction(125))]).source.text
    assert text == SCRIPT.replace("\n", "\r\n").replace("cover 120 x 170      # a page", "cover 125 x 170      # a page")


def test_a_change_that_cannot_be_read_is_refused() -> None:
    design = read_text(SCRIPT)
    with pytest.raises(Refused):
        edited(design, [(0, 4, "cart")])


def test_papers_that_could_be_taken_instead() -> None:
    found = [(paper.owner, paper.name, paper.others) for paper in papers(read_text(SCRIPT))]
    assert found[:2] == [("cover", "night", ("sail",)), ("gull", "sail", ("night",))]


def test_a_variant_is_read_again_as_itself_and_what_the_call_gave_is_not_lost_in_silence() -> None:
    design = read_text(SCRIPT + "\nvariant small\n  cover 100 x 150\n  quay.at 80\n")
    small = varied(design, design.variants[0])
    found = named(small)
    assert (44, "100") in found
    assert (4, "120") not in found
    again = edited(small, [found[44, "100"].edit(Fraction(104))])
    assert next(n for n in numbers(again) if n.owner == "cover.width").value == 104
    assert says_all(small)
    assert not says_all(replace(small, mats=()))


# ---- made unknown


def values_of(model: Model, random: Random) -> dict[str, Fraction]:
    """Some values for all unknowns, whether or not the rules hold."""
    return {v.name: random.randint(1, 200) * v.step if not v.name.startswith(MARK) else Fraction(0) for v in model.variables}


def sides(rule: object, values: dict[str, Fraction]) -> tuple[float, float] | None:
    """Both sides of a rule, or None where one has no value."""
    try:
        return float(evaluate(rule.left, values)), float(evaluate(rule.right, values))  # type: ignore[attr-defined]
    except Undefined:
        return None


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.stem)
def test_free_numbers_kept_as_written_change_no_rule(path: Path) -> None:
    design, random = read(path), Random(path.stem)
    plain, free = bind(design), bind(design, numbers(design))
    assert free.freed
    kept = {freed.kept.name for freed in free.freed}
    rules = {rule.name: rule for rule in free.model.rules}
    more = {name for name in rules if ".mat-short." in name}  # one rule is enough for a square mat, while it is one
    names = [rule.name for rule in plain.model.rules if rule.name not in more]
    assert names == [name for name in rules if name not in kept | more]
    for _ in range(3):
        values = values_of(free.model, random)
        for rule in plain.model.rules:
            assert sides(rule, values) == pytest.approx(sides(rules[rule.name], values), abs=1e-9)


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.stem)
def test_a_free_number_elsewhere_gives_the_rules_of_the_script_that_says_so(path: Path) -> None:
    design, random = read(path), Random(path.stem)
    written = numbers(design)
    free = bind(design, written)
    rules = {rule.name: rule for rule in free.model.rules}
    for freed in random.sample(free.freed, min(12, len(free.freed))):
        steps = random.choice([k for k in (-2, -1, 1, 3) if -freed.number.down <= k <= freed.number.up] or [0])
        try:
            changed = bind(edited(design, [freed.number.edit(freed.value(steps))])).model
        except Refused:
            continue  # a range turned upside down
        values = values_of(free.model, random) | {freed.steps.name: Fraction(steps)}
        for rule in changed.rules:
            if rule.name in rules and not rule.name.endswith(("glued-strip", "between-slots")):  # a foot at the least width
                assert sides(rule, values) == pytest.approx(sides(rules[rule.name], values), abs=1e-9), (rule.name, freed.number)


def test_what_decides_which_rules_there_are_is_not_made_unknown() -> None:
    design = read_text(SCRIPT)
    free = bind(design, numbers(design))
    assert {freed.number.role for freed in free.freed} <= set(CAN_BE_FREE)
    assert {freed.number.role for freed in free.freed} >= {FIXED, LEAST, MOST, INSIDE, REQUIRE, MAT}
    assert all(isinstance(freed.kept.right, Const) and freed.kept.right.value == 0 for freed in free.freed)
    assert PLACE in CAN_BE_FREE


def test_what_is_computed_keeps_its_usual_range_in_mind() -> None:
    design = read_text(SCRIPT)
    free = bind(design, numbers(design))
    inside = next(freed for freed in free.freed if freed.number.at.text == "0.7")
    assert [rule.name for rule in inside.within] == ["gull.ridge.within-least", "gull.ridge.within-most"]
    assert not next(freed for freed in free.freed if freed.number.at.text == "45").within
