"""The swing from the outside: the command, problems with their places, and checks that are repeated."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from scripts import call

from foldwright.api import Memory, check, swing
from foldwright.grammar import Refused, read
from foldwright.solver.answer import solve_design
from foldwright.solver.bind import bind

EXAMPLES = Path(__file__).parent.parent / "examples"
HEAD = """card "Slipway"
  units mm
cover 120 x 200
  paper ink
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 300 x 300
"""
SHED = "tent shed on spine\n  paper sand\n  at {at}\n  width 50\n  spread 25\n  wall 40\n"
BAR = '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="10mm" viewBox="0 0 40 10"><path d="M0 0 H40 V10 H0 Z"/></svg>'


@pytest.fixture
def script(tmp_path):
    (tmp_path / "bar.svg").write_text(BAR, "utf-8")
    path = tmp_path / "slipway.card"

    def write(text):
        path.write_text(HEAD + text, "utf-8")
        return path

    return write


def jamming(script):
    """A long bar glued on the wall of one tent, which reaches into the wall of the next one: their planes cross there."""
    bar = 'cutout bar\n  paper sand\n  art "bar.svg" width 60\n  glue on shed.right at 60 x 10\n'
    pier = "tent pier on spine\n  paper sand\n  at 100\n  width 60\n  spread 30\n  wall 35\n"
    return script(SHED.format(at=30) + pier + bar)


def test_a_card_that_jams_is_shown_and_gives_1(script):
    path = jamming(script)
    result = call("swing", path)
    assert result.exit_code == 1
    assert "pass through each other" in result.stdout
    assert result.stdout.startswith("Slipway: ")
    data = json.loads(call("swing", path, "--json").stdout)
    assert data["holds"] is False
    (worst, *_) = [event for event in data["events"] if event["severity"] == "error"]
    assert {panel.split(".")[0] for panel in worst["panels"]} == {"bar", "pier"}
    assert 0 <= worst["angle"] < worst["until"] <= 180
    assert worst["size"] > 1


@pytest.mark.parametrize("command", [["check"], ["find"], ["build", "--out"]])
def test_a_card_that_jams_is_not_built_and_both_places_are_named(command, script, tmp_path):
    path, out = jamming(script), tmp_path / "cut"
    result = call(command[0], path, *([*command[1:], out] if command[1:] else []))
    assert result.exit_code == 1
    assert "error[would-jam]" in result.stderr
    assert "tent pier" in result.stderr
    assert "cutout bar" in result.stderr
    assert "help: " in result.stderr
    assert not out.exists()


def test_one_problem_for_each_pair_of_mechanisms(script):
    with pytest.raises(Refused) as refused:
        check(jamming(script))
    owners = [(problem.kind, problem.at.text, *(label.at.text for label in problem.places)) for problem in refused.value.problems]
    assert len(owners) == len(set(owners))
    assert {code.code for code in refused.value.problems} == {"would-jam"}


def test_a_sound_card_says_so_and_gives_0(script):
    result = call("swing", script(SHED.format(at=30)))
    assert result.exit_code == 0
    assert result.stdout.endswith("Nothing jams, rubs or sticks out.\n")


def test_a_finer_grid_has_more_rows(script):
    path = script(SHED.format(at=30))
    rows = [len(json.loads(call("swing", path, "--json", "--step", step).stdout)["rows"]) for step in (10, 2)]
    assert rows == [19, 91]
    assert call("swing", path, "--step", 0).exit_code == 2


def test_a_cut_out_that_shares_too_little_with_its_panel_is_told(script):
    bar = 'cutout bar\n  paper sand\n  art "bar.svg" width 30\n  glue on shed.right at 35 x 20\n'
    corner = bar.replace("35 x 20", "64 x 20")  # 1 mm of the bar lies on the wall
    check(script(SHED.format(at=30) + bar))
    with pytest.raises(Refused) as refused:
        check(script(SHED.format(at=30) + corner))
    (problem,) = refused.value.problems
    assert (problem.code, problem.kind) == ("would-jam", "holds-little")
    assert "needs 40 mm² of glue" in problem.wrong()


def test_a_cut_out_too_small_to_hold_at_all_is_refused_by_a_rule(script):
    """40 mm² of a bar four times as wide as high: the square root of 160, 12.65 mm."""
    bar = 'cutout bar\n  paper sand\n  art "bar.svg" width 12\n  glue on shed.left at centre\n'
    with pytest.raises(Refused) as refused:
        check(script(SHED.format(at=30) + bar))
    (problem,) = refused.value.problems
    assert problem.code == "cannot-hold"
    assert "bar must be at least 12.65 mm wide" in problem.wrong()


def test_a_repeated_check_looks_only_at_what_has_changed(script):
    two = SHED.format(at=20) + SHED.format(at=90).replace("shed", "hall")
    memory = Memory()
    first = swing(script(two), memory=memory)
    made = memory.swings.computed
    again = swing(script(two), memory=memory)
    assert memory.swings.computed == made
    assert again.swing == first.swing
    moved = swing(script(two.replace("at 90", "at 95")), memory=memory)
    assert made < memory.swings.computed < 2 * made
    assert moved.swing == swing(script(two.replace("at 90", "at 95"))).swing


def test_mechanisms_stand_in_the_order_of_the_places_written_for_them(script):
    """The second block is written to stand nearer to the tail; of a range its middle counts."""
    late = SHED.format(at="100 to 120") + SHED.format(at=30).replace("shed", "hall")
    values = solve_design(read(script(late))).dimensions
    assert values["hall.at"][0] == 30
    assert values["shed.at"][0] >= 100


def depth(bound, name):
    """Storeys below a mechanism, from what stands on the spine (1)."""
    host = bound.hosts.get(name, ("cover", ""))[0]
    return 1 if bound.mechanisms[0].name == host or host == "lake" else 1 + depth(bound, host)


def test_the_fair_has_three_storeys_and_more_than_forty_panels():
    bound = bind(read(EXAMPLES / "winter-fair.card"))
    folding = [m.name for m in bound.mechanisms if m.name in bound.hosts and "face" not in m.stands_on]
    assert max(depth(bound, name) for name in folding) == 3
    card = solve_design(read(EXAMPLES / "winter-fair.card"))
    assert sum(not panel.tab for panel in card.panels) >= 40
