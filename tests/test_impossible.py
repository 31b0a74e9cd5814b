"""The scripts in examples/impossible: the rules that cannot hold together, and what would help, as worked out by hand.

The sums behind the expected changes stand beside them. That nothing nearer would do is put to CP-SAT in test_repairs.py.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from foldwright.api import applied, check, repairs
from foldwright.grammar import Refused, read
from foldwright.grammar.problems import CannotHold
from foldwright.solver.bind import bind
from foldwright.solver.engine import solve
from foldwright.solver.model import Conflict, Kind, Model, Solution

FOLDER = Path(__file__).parents[1] / "examples" / "impossible"

# per script: the minimal sets shown, and the changes offered (`*`: for the whole card, where there are several conflicts)
EXPECTED: dict[str, tuple[list[set[str]], list[str]]] = {
    # 45 + 85 on one side, 40 + at most 85 on the other
    "crooked-gull": (
        [{"gull.angle.written", "gull.wing.written", "gull.left_angle.written", "gull.left_wing.most", "gull.closes"}],
        ["wing 80", "left_wing 80 to 90", "angle 40", "left_angle 45"]),
    # a tab of 16 with its inset of 1 does not lie between foot and crease; 12 + 1 is what 15 - 2 mm of taut margin leave
    "deep-tabs": (
        [{"kerb.spread.most", "kerb.right-tab.inner"}, {"kerb.wall.most", "kerb.stands", "kerb.left-tab.inner"}],
        ["*practice tab.depth 12"]),
    # three layers leave four gaps of the wall, and two tabs need 16 mm: 4 x 16
    "dense-reeds": ([{"pool.wall.most", "reeds.joint-tab"}], ["wall 40 to 64"]),
    # two multiples of 2 mm never differ by 5
    "even-walls": ([{"require-1"}], ["require barn.wall = shed.wall + 4"]),
    "far-moon": (
        [{"cover.width.written", "moon.width.least", "moon.upper-left.fore-edge"}],
        ["cover 118.5 x 150", "glue on cover.left at 120 x 91.5", 'art "art/moon.svg" width 13.5 to 40']),
    # 3 + 40 + 2 + 36 + 2 + 40 + 2 + 30 + 3 = 158
    "market-row": (
        [{"cover.height.written", "fruit.width.least", "bread.width.least", "fish.width.least", "flowers.width.written",
          "flowers.end.head", "bread.apart-from-fruit", "fish.apart-from-bread", "flowers.apart-from-fish"}],
        ["cover 110 x 158", "width 32 to 50", "width 32 to 50", "width 28 to 50", "width 22"]),
    "tall-mast": (
        [{"cover.width.written", "cover.clear.usual", "cabin.spread.least", "cabin.wall.least", "mast.angle.written",
          "mast.wing.least", "mast.ridge.least", "mast.tip.fore-edge"}],
        ["cover 92 x 140", "wing 83 to 90", "ridge 57.5 to 80", "angle 47", "wall 28 to 40", "spread 18 to 25"]),
    # round the circle 1.2 x 1.1 x 0.9 is more than 1; 1 / (1.2 x 1.1) = 0.757
    "three-peaks": (
        [{"east.stands", "require-1", "require-2", "require-3"}],
        ["require west.height >= 0.75 * east.height"]),
    # the kiosk ends at 100 + 60 and has to end at 150 - 3
    "two-troubles": (
        [{"sign.ridge.most", "require-1"},
         {"cover.height.written", "kiosk.at.written", "kiosk.width.written", "kiosk.end.head"}],
        ["require sign.ridge >= 60", "ridge 20 to 75", "cover 100 x 163", "at 87", "width 47"]),
    # the open cover is 2 x 5 in long
    "wide-stage": (
        [{"cover.width.written", "cover.mat-long.cover"}],
        ["cover 4 1/2 x 7", "mat 8 in x 10 in", "mat 10 in x 9 in"]),
}


def test_there_are_ten_and_each_is_expected() -> None:
    assert {path.stem for path in FOLDER.glob("*.card")} == set(EXPECTED)
    assert len(EXPECTED) == 10


@pytest.mark.parametrize("name", EXPECTED)
def test_the_sets_are_those_expected_and_none_of_their_rules_can_be_spared(name: str) -> None:
    model = bind(read(FOLDER / f"{name}.card")).model
    outcome = solve(model)
    assert isinstance(outcome, Conflict)
    assert [{rule.name for rule in members} for members in outcome.sets] == EXPECTED[name][0]
    assert [len(members) for members in outcome.sets] == sorted(len(members) for members in outcome.sets)
    for members in outcome.sets:
        assert isinstance(solve(Model(model.variables, members)), Conflict)
        for rule in members:
            rest = tuple(other for other in members if other is not rule)
            assert isinstance(solve(Model(model.variables, rest)), Solution), f"{rule.name} is not needed"


@pytest.mark.parametrize("name", EXPECTED)
def test_the_changes_are_those_expected_and_make_the_card(name: str, tmp_path: Path) -> None:
    told = repairs(FOLDER / f"{name}.card")
    wanted = EXPECTED[name][1]
    for words, change in zip(wanted, told.changes, strict=False):
        assert f"write `{words.removeprefix('*')}` in line" in change.words
    assert len(told.changes) >= len(wanted)
    whole = [change for change in told.changes if change.whole]
    assert whole
    text = (FOLDER / f"{name}.card").read_text("utf-8")
    (tmp_path / "art").mkdir()
    for drawing in (FOLDER / "art").iterdir():
        (tmp_path / "art" / drawing.name).write_bytes(drawing.read_bytes())
    for change in whole[:2]:
        new = applied(FOLDER / f"{name}.card", change)
        assert new.splitlines()[:3] == text.splitlines()[:3], "the comment stays"
        assert sum(a != b for a, b in zip(new.splitlines(), text.splitlines(), strict=True)) == len(change.edits)
        (tmp_path / "new.card").write_text(new, "utf-8")
        assert check(tmp_path / "new.card", seconds=60).proof.looked_at


@pytest.mark.parametrize("name", EXPECTED)
def test_every_rule_is_told_once_with_who_asks_for_it(name: str) -> None:
    with pytest.raises(Refused) as refused:
        check(FOLDER / f"{name}.card")
    problems = [problem for problem in refused.value.problems if isinstance(problem, CannotHold)]
    assert len(problems) == len(EXPECTED[name][0])
    for problem in problems:
        words = " ".join([problem.wrong(), *(label.text for label in problem.related())])
        assert problem.at is not None
        for code in ("{", "}", "None", "Const", "rule.", "-1", " inf"):
            assert code not in words, words


def test_kinds_are_those_of_the_trade() -> None:
    """What folds only so is geometry, what a hand is used to is practice, the rest is what the script says."""
    kinds = {}
    for name in EXPECTED:
        outcome = solve(bind(read(FOLDER / f"{name}.card")).model)
        assert isinstance(outcome, Conflict)
        kinds |= {rule.name: rule.kind for members in outcome.sets for rule in members}
    assert {kinds[name] for name in ("gull.closes", "kerb.stands", "east.stands")} == {Kind.GEOMETRY}
    assert {kinds[name] for name in ("kerb.right-tab.inner", "bread.apart-from-fruit", "reeds.joint-tab")} == {Kind.PRACTICE}
    assert {kinds[name] for name in ("require-1", "gull.wing.written", "pool.wall.most")} == {Kind.DESIGNER}
