"""What is told of free choices: what was chosen and why, why nothing fits, and the script written back."""

import json

import pytest
from choice_cards import CASES, HEAD, RING, TENT, chosen, design_of, problems_of
from click.testing import CliRunner

from foldwright import api
from foldwright.command import main
from foldwright.grammar import Refused, read_text
from foldwright.grammar.problems import CannotHold
from foldwright.solver.answer import solve_design

# ---- what is optional


def test_what_fits_is_there_in_the_order_written_and_before_all_wishes():
    script = """optional tent quay on spine
  paper sand
  width 70
optional tent pier on spine
  paper sand
  width 60
optional tent shed on spine
  paper sand
  width 30
prefer largest pier.wall
prefer least paper
"""
    assert chosen(script) == {"quay": "there", "pier": "left out", "shed": "there"}


def test_what_is_left_out_is_told_with_its_reason():
    script = TENT + """optional tent tower on spine
  paper sand
  wall 120
vfold flag on tower.ridge
  paper sand
require flag.ridge >= 5
"""
    (tower,) = solve_design(design_of(script)).choices.chosen
    assert (tower.option, tower.options, tower.gone) == ("left out", ("there", "left out"), ("flag", "line 16"))
    ((option, reason),) = tower.reasons
    assert option == "there"
    assert "120 mm" in reason
    assert "100 mm" in reason


def test_something_optional_on_something_that_is_left_out():
    script = TENT + "optional tent tower on spine\n  paper sand\n  wall 120\noptional vfold flag on tower.ridge\n  paper sand\n"
    tower, flag = solve_design(design_of(script)).choices.chosen
    assert (tower.option, flag.option) == ("left out", "left out")
    assert flag.reasons == (("there", "what it stands on is left out"),)


def test_a_place_is_chosen_so_that_what_stands_there_is_not_lost():
    script = "optional tent tower on spine\n  paper sand\n  wall 120\ntent quay on tower.ridge or on spine\n  paper sand\n"
    script = script.replace("tent quay on tower.ridge", "vfold quay on tower.ridge")
    assert chosen(script) == {"tower": "left out", "place of quay": "on spine"}


JAMMING = """optional vfold gull on spine
  paper sand
  wing 60 to 80
  ridge 60
  foot 50 to 60
optional tent quay on spine
  paper sand
  wall 30 to 60
  width 50
prefer largest quay.wall
"""


def test_what_would_jam_does_not_fit_either(tmp_path):
    """Both hold by their rules, but pass through each other as the card opens; alone, either is sound."""
    path = tmp_path / "quay.card"
    path.write_text(HEAD + JAMMING, "utf-8")
    gull, quay = api.check(path).card.choices.chosen
    assert (gull.option, quay.option) == ("there", "left out")
    assert "pass through each other" in quay.reasons[0][1]
    path.write_text((HEAD + JAMMING).replace("optional ", ""), "utf-8")
    with pytest.raises(Refused) as refused:
        api.check(path)
    assert {problem.code for problem in refused.value.problems} == {"would-jam"}


def test_if_every_way_jams_the_best_one_tells_how(tmp_path):
    path = tmp_path / "quay.card"
    script = (HEAD + JAMMING).replace("optional ", "").replace("paper sand\n  wing", "paper sand or weed\n  wing")
    path.write_text(script, "utf-8")
    with pytest.raises(Refused) as refused:
        api.check(path)
    assert {problem.code for problem in refused.value.problems} == {"would-jam"}
    assert api.swing(path).swing.events


# ---- why nothing fits


def test_one_reason_for_all_ways_is_told_once():
    (problem,) = problems_of("tent quay on spine\n  paper sand or weed\n  wall 130\n  tabs inward or outward\n")
    assert isinstance(problem, CannotHold)
    assert problem.given == ""
    assert "130 mm" in problem.wrong()


def test_each_option_is_told_with_its_own_reason():
    script = "tent quay on spine\n  paper sand or weed\n  wall 130 or 20\n  tabs inward or outward\nrequire quay.wall >= 30\n"
    far, low = problems_of(script)
    assert (far.given, low.given) == ("`wall 130` of quay", "`wall 20` of quay")
    assert far.wrong().startswith("with `wall 130` of quay, ")
    assert "100 mm" in far.wrong()
    assert "quay.wall >= 30" in low.wrong()


def test_what_is_optional_is_not_to_blame_where_the_rest_does_not_fit():
    script = "tent quay on spine\n  paper sand\n  wall 130\noptional tent pier on spine\n  paper sand\n  wall 140\n"
    (problem,) = problems_of(script)
    assert "pier" not in problem.wrong()


def test_options_that_cannot_stand_are_told_beside_those_that_do_not_fit():
    script = "tent quay on spine\n  paper sand\n  wall 120\n  joint slotted or glued\n"
    by_code = {problem.code: problem for problem in problems_of(script)}
    assert set(by_code) == {"option-refused", "cannot-hold"}
    assert by_code["option-refused"].given == "`joint slotted` of quay"
    assert by_code["option-refused"].hints()
    assert by_code["cannot-hold"].given == "", "the wall is too high for whatever can stand"


def test_a_fault_of_all_ways_is_told_as_ever():
    (problem,) = problems_of(TENT + "  tabs inward or outward\nvfold gull on quay.rigde\n  paper sand\n")
    assert (problem.code, problem.at.text) == ("unknown-name", "quay.rigde")


def test_every_way_that_fails_is_in_one_of_the_cases():
    """Nine ways, all impossible; the messages together are about every one of them."""
    script = "tent quay on spine\n  paper sand\n  wall 130 or 140 or 20\n  spread 10 or 15 or 30\nrequire quay.wall >= 30\n"
    assert sorted(problem.given for problem in problems_of(script)) == [
        "`wall 130` of quay", "`wall 140` of quay", "`wall 20` of quay"]


# ---- what would help


IMPOSSIBLE = {
    "one reason": "tent quay on spine\n  paper sand or weed\n  wall 130   # high\n  tabs outward or inward\n",
    "two reasons": "tent quay on spine\n  wall 130 or 20\n  paper weed or sand\nrequire quay.wall >= 30\n",
    "beside what is left out": "optional tent pier on spine\n  paper sand\n"
                               "tent quay on spine\n  paper sand or weed\n  wall 130\n",
    "behind counts": RING + "  layers 1 to 2 by 1\n  rise 140 to 150\n",
}


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_each_change_makes_the_script_with_its_choices_possible(name, tmp_path):
    path = tmp_path / "quay.card"
    path.write_text(HEAD + IMPOSSIBLE[name], "utf-8")
    found = api.repairs(path).changes
    told = [words for problem in problems_of(IMPOSSIBLE[name]) for words in problem.changes]
    assert told == [change.words for change in found]
    assert found
    for change in found:
        text = api.applied(path, change)
        assert solve_design(read_text(text)).choices is not None, "the choices are still there"
        assert text.count("#") == (HEAD + IMPOSSIBLE[name]).count("#")


def test_apply_writes_the_script_with_its_choices(tmp_path):
    path, target = tmp_path / "quay.card", tmp_path / "better.card"
    path.write_text(HEAD + IMPOSSIBLE["two reasons"], "utf-8")
    done = CliRunner().invoke(main, ["check", str(path), "--apply", "1", "--write", str(target)])
    assert done.exit_code == 0, done.output
    before, after = (file.read_text("utf-8").splitlines() for file in (path, target))
    assert sum(one != other for one, other in zip(before, after, strict=True)) == 1
    assert CliRunner().invoke(main, ["check", str(target)]).exit_code == 0


# ---- the front


@pytest.mark.parametrize("name", ["everything fits", "not all at once", "later options are better"])
def test_what_was_chosen_written_back_is_found_again(name, tmp_path):
    path = tmp_path / "quay.card"
    path.write_text(HEAD + CASES[name], "utf-8")
    checked = api.check(path)
    text = api.fixed_script(checked)
    again = tmp_path / "again.card"
    again.write_text(text, "utf-8")
    found = api.check(again)
    assert found.card.dimensions == checked.card.dimensions
    assert found.card.choices is None, "nothing is left open"
    assert [r.value for r in found.card.wishes] == [r.value for r in checked.card.wishes]


def test_find_prints_what_was_chosen(tmp_path):
    path = tmp_path / "quay.card"
    path.write_text(HEAD + TENT + "  tabs inward or outward\noptional tent tower on spine\n  paper sand\n  wall 120\n", "utf-8")
    printed = CliRunner().invoke(main, ["find", str(path)]).output
    assert "tabs of quay: inward (of inward, outward)" in printed
    assert "tower: left out, because " in printed
    made = json.loads(CliRunner().invoke(main, ["find", "--json", str(path)]).output)
    assert {choice["what"]: choice["option"] for choice in made["choices"]} == {"tower": "left out", "tabs of quay": "inward"}
    assert made["choices_proved"] is True
    assert "tower: left out" in CliRunner().invoke(main, ["check", str(path)]).output


def test_a_variant_has_its_own_choices(tmp_path):
    """Its line takes the place of the card's own, options and all; what it says of something left out goes with it."""
    path, again = tmp_path / "quay.card", tmp_path / "again.card"
    script = HEAD + TENT + "  width 60 or 55   # wide\noptional tent pier on spine\n  paper weed\n  width 50\n"
    path.write_text(script + "variant tight\n  cover 100 x 100\n  pier.width 45 or 30\n", "utf-8")
    printed = CliRunner().invoke(main, ["find", str(path), "--variant", "tight", "--write", str(again)]).output
    assert "width of pier: 30 (of 45, 30)" in printed
    assert "width 60   # wide" in again.read_text("utf-8")
    assert api.check(again).card.choices is None
    path.write_text(script + "variant tight\n  cover 100 x 80\n  pier.width 45 or 30\n", "utf-8")
    assert "pier: left out" in CliRunner().invoke(main, ["find", str(path), "--variant", "tight"]).output


def test_a_card_without_choices_says_nothing_of_them(tmp_path):
    path = tmp_path / "quay.card"
    path.write_text(HEAD + TENT, "utf-8")
    assert api.check(path).card.choices is None
    assert "of " not in CliRunner().invoke(main, ["find", str(path)]).output
