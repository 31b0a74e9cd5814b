"""Free choices as they are read and decided: `or`, ranges of counts, `optional`."""

import pytest
from choice_cards import HEAD, RING, TENT, chosen, design_of
from scripts import refusal

from foldwright.grammar import Refused, read_text
from foldwright.solver.answer import solve_design, solve_model
from foldwright.solver.bind import bind
from foldwright.solver.choices import decide, decisions, name_of
from foldwright.solver.mechanism import registry


def applied(design):
    """The source's text with the edits of a plain design."""
    text = design.source.text
    for start, end, new in sorted(design.edits, reverse=True):
        text = text[:start] + new + text[end:]
    return text


# ---- reading


def test_or_stands_between_whole_options():
    design = design_of(TENT + '  at 10 or 20 to 30 or -3\n  art "a.svg" width 20 or "b.svg"\n')
    lines = {line.word.text: line for line in design.blocks[1].settings}
    assert [arguments[0].at.text for arguments in (lines["at"].arguments, *lines["at"].others)] == ["10", "20 to 30", "-3"]
    assert [len(arguments) for arguments in (lines["art"].arguments, *lines["art"].others)] == [3, 1]
    assert lines["wall"].others == ()


def test_a_range_of_counts_is_each_of_them():
    made = decisions(design_of(RING + "  layers 2 to 3 by 3 or 4 by 1 to 2\n"), registry())
    assert [option.words for option in made[0].options] == ["2 by 3", "3 by 3", "4 by 1", "4 by 2"]


def test_a_range_of_a_number_that_is_a_choice_is_each_of_them():
    made = decisions(design_of("scene yard on spine\n  paper sand\n  planes 2 to 9\n"), registry())
    assert [option.words for option in made[0].options] == ["2", "3", "4"]


def test_options_said_twice_are_one():
    assert decisions(design_of(TENT + "  tabs inward or inward\n"), registry()) == ()


def test_places_are_a_choice_too():
    design = design_of(TENT + "vfold gull on spine or on quay.ridge or between quay.left and cover.left\n  paper sand\n")
    block = design.blocks[-1]
    assert [place.at.text for place in (block.place, *block.others)] == [
        "on spine", "on quay.ridge", "between quay.left and cover.left"]


def test_the_words_stay_free_elsewhere():
    design = read_text(HEAD + 'paper or colour #111111\npaper optional colour #222222\ntent or on spine\n  paper optional\n')
    assert [paper.name.text for paper in design.papers][2:] == ["or", "optional"]
    assert design.blocks[1].name.text == "or"
    assert not design.blocks[1].optional


def test_optional_comes_before_all_else_and_all_in_the_order_written():
    script = TENT + "  tabs inward or outward\noptional tent pier on spine\n  paper sand or weed\n"
    made = decisions(design_of(script), registry())
    assert [decision.what for decision in made] == ["pier", "tabs of quay", "paper of pier"]


def test_left_open_the_first_option_counts():
    design = design_of(TENT + "  tabs outward or inward\n")
    (tent,) = [mechanism for mechanism in bind(design).mechanisms if mechanism.name == "quay"]
    assert tent.site.choices["tabs"] == "outward"


# ---- what is wrong with an option is told, whether or not it would be taken


@pytest.mark.parametrize(
    ("script", "underlined"),
    [
        (TENT + "  tabs inward or sideways\n", "sideways"),
        (TENT + "  joint glued or 3\n", "3"),
        (TENT + "  at 10 or quya.wall\n", "quya.wall"),
        (TENT + "  at 10 or far\n", "far"),
        ("tent quay on spine\n  paper sand or wede\n", "wede"),
        ("tent quay on spine or on quya.ridge\n  paper sand\n", "quya.ridge"),
        (RING + "  layers 3 by 3 or 3 by 9\n", "3 by 9"),
        (RING + "  layers 7 to 9 by 3\n", "7 to 9 by 3"),
        (TENT + "  width 30 or 40 deg\n", "40 deg"),
        (TENT + "  width 80 to 30 or 40\n", "80 to 30"),
    ],
)
def test_an_option_that_is_wrong_is_told(script, underlined):
    with pytest.raises(Refused) as refused:
        solve_model(design_of(script), seconds=20)
    assert [problem.at.text for problem in refused.value.problems] == [underlined]
    assert all(problem.hints() for problem in refused.value.problems)


def test_faults_beside_choices_are_told_together():
    script = TENT + "  tabs inward or sideways\n  wal 3\n"
    assert {"sideways", "wal"} <= set(refusal(HEAD + script).replace("`", " ").split())


def test_an_option_that_cannot_stand_is_passed_over_with_its_reason():
    """Slits need an insert; the third layer is there only if there are three."""
    script = TENT + "  joint slotted or glued\n"
    (only,) = solve_design(design_of(script)).choices.chosen
    assert (only.option, only.reasons[0][0]) == ("glued", "slotted")
    assert "insert" in only.reasons[0][1]
    star = 'optional vfold gull on spine or on quay.ridge\n  paper sand\n  wing 80\n'
    assert chosen(TENT + "  at 40\n" + star)["gull"] == "there"


# ---- deciding


def test_a_decision_leaves_a_plain_script_with_its_comments():
    script = """# two tents
optional tent quay on spine   # the first
  paper sand or weed   # thick?
  # how high
  wall 30 or 40 to 60
tent pier on spine or on quay.ridge
  paper sand
"""
    design = design_of(script)
    made = decisions(design, registry())
    plain, _ = decide(design, made, (0, 1, 1, 0))
    assert applied(plain).removeprefix(HEAD) == """# two tents
tent quay on spine   # the first
  paper weed   # thick?
  # how high
  wall 40 to 60
tent pier on spine
  paper sand
"""
    assert decisions(plain, registry()) == ()


def test_what_stands_on_something_absent_or_names_it_is_absent_too():
    script = """optional tent quay on spine
  paper sand
vfold gull on quay.ridge
  paper sand
vfold tern between quay.left and cover.left
  paper sand
tent pier on spine
  paper sand
  wall 20 to quay.wall
  width 30
require gull.ridge >= 20
require pier.wall >= 30
prefer largest tern.ridge
prefer least paper
"""
    design = design_of(script)
    plain, gone = decide(design, decisions(design, registry()), (1,))
    assert gone.blocks == {"quay", "gull", "tern"}
    assert [name_of(block) for block in plain.blocks] == ["cover", "pier"]
    assert [line.text for line in gone.lines] == ["wall 20 to quay.wall", "require gull.ridge >= 20", "prefer largest tern.ridge"]
    assert (len(plain.requires), len(plain.prefers)) == (1, 1)
    text = applied(plain)
    again = read_text(text)
    assert [block.keyword.text for block in again.blocks] == ["cover", "tent"]
    uncommented = "\n".join(line.removeprefix("# ") for line in text.splitlines()) + "\n"
    assert uncommented == design.source.text, "nothing is lost"


def test_what_is_glued_to_something_absent_goes_with_it_and_a_place_elsewhere_saves_it():
    script = TENT + "optional tent pier on spine\n  paper sand\nvfold gull on pier.ridge or on quay.ridge\n  paper sand\n"
    design = design_of(script)
    made = decisions(design, registry())
    assert decide(design, made, (1, 0))[1].blocks == {"pier", "gull"}
    assert decide(design, made, (1, 1))[1].blocks == {"pier"}


def test_a_rule_waived_for_something_absent_goes_with_it():
    script = TENT + 'optional tent pier on spine\n  paper sand\nwithout pier.joint because "wide glue"\n'
    design = design_of(script)
    plain, _ = decide(design, decisions(design, registry()), (1,))
    assert plain.withouts == ()
    assert '# without pier.joint because "wide glue"' in applied(plain)


def test_lines_of_a_variant_about_something_absent_go_with_it():
    script = TENT + "optional tent pier on spine\n  paper sand\n"
    script += "variant small\n  mat 250 x 250\n  pier.wall 30\nvariant low\n  pier.wall 20\n"
    design = design_of(script)
    plain, _ = decide(design, decisions(design, registry()), (1,))
    assert [variant.name.text for variant in read_text(applied(plain)).variants] == ["small"]
