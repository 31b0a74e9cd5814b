"""Rules by name: what a script can do without, what not, and what is told of it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner

from foldwright import api
from foldwright.api import build, check
from foldwright.command import main
from foldwright.emit.report import schema
from foldwright.grammar import Refused, read, read_text
from foldwright.solver import proof
from foldwright.solver.bind import bind
from foldwright.solver.mechanism import registry
from foldwright.solver.model import Kind
from foldwright.solver.waive import REST, can_waive
from tests.generate_cards import script

EXAMPLES = Path(__file__).parent.parent / "examples"

HEAD = """card "Quay"
  units mm
cover 100 x 150
  paper ink
paper ink   colour #22304a  weight 200 gsm
paper sand  colour #d8c49a  caliper 0.25
mat 11.5 in x 11.5 in
"""
# A tab has an inset of 1 at both ends and slants by its depth of 8 at both: mean length = width - 2 - 8.
TENT = HEAD + """tent quay on spine
  paper  sand
  at     40
  width  {width}
  spread 25 to 35
  wall   30 to 60
prefer largest quay.wall
require quay.wall <= 58  because "the lamp has to clear the page"
"""
WAIVED = ('without quay.left-tab.length because "glued with strong tape"\n'
          'without quay.right-tab.length because "glued with strong tape"\n')


def refused(text, of=api.check, **options):
    with pytest.raises(Refused) as caught:
        of(read_text(text, folder=EXAMPLES), **options)
    return caught.value.problems


def run(*call):
    return CliRunner().invoke(main, list(map(str, call)))


@pytest.fixture
def card(tmp_path):
    """Writes a script into a file of its own."""

    def write(text):
        path = tmp_path / "quay.card"
        path.write_text(text, "utf-8")
        return path

    return write


# ---- what is waived


def test_a_habit_that_is_in_the_way_can_be_waived_and_is_told_with_what_it_misses(card):
    text = TENT.format(width=19)
    assert {problem.code for problem in refused(text)} == {"cannot-hold"}
    checked = check(read_text(text + WAIVED))
    assert [w.checked.rule.name for w in checked.card.waived] == ["quay.left-tab.length", "quay.right-tab.length"]
    assert [w.checked.slack for w in checked.card.waived] == [pytest.approx(19 - 2 - 8 - 10)] * 2
    assert not {"quay.left-tab.length", "quay.right-tab.length"} & {each.rule.name for each in checked.card.rules}
    told = run("check", card(text + WAIVED)).output
    assert "Waived, as the script asks:" in told
    assert ("line 16: quay.left-tab.length, missed by 1 mm: the left tab of quay is 9 mm long on average; a tab needs 10 mm to "
            "hold; because glued with strong tape") in told


def test_a_habit_that_is_kept_all_the_same_is_told_too(card):
    path = card(TENT.format(width=40) + WAIVED)
    assert "quay.left-tab.length, kept all the same, slack 20 mm" in run("check", path).output
    waived = json.loads(run("check", path, "--json").output)["waived"]
    assert [(each["name"], each["slack"], each["because"], each["line"]) for each in waived] == [
        ("quay.left-tab.length", 20, "glued with strong tape", 16), ("quay.right-tab.length", 20, "glued with strong tape", 17)]


def test_the_report_says_what_is_waived(card, tmp_path):
    build(card(TENT.format(width=19) + WAIVED), tmp_path / "out")
    report = json.loads((tmp_path / "out" / "report.json").read_text("utf-8"))
    jsonschema.validate(report, schema())
    assert [(each["name"], each["slack"], each["line"]) for each in report["waived"]] == [
        ("quay.left-tab.length", -1, 16), ("quay.right-tab.length", -1, 17)]


def test_what_geometry_asks_stays_behind():
    # A trapezoid as deep as 8 with ends of 45 degrees needs a foot of 16 and a tip of at least 1; with its insets 19.
    (problem, *_) = refused(TENT.format(width=18.5) + WAIVED)
    assert problem.code == "cannot-hold"
    assert "8.5 mm long on average; a tab needs 9 mm" in problem.wrong()
    assert "so much even without the rule `quay." in problem.wrong()
    assert check(read_text(TENT.format(width=19) + WAIVED)).proof.looked_at["tabs"] > 0


def test_a_family_is_waived_at_once():
    checked = check(read_text(TENT.format(width=19) + 'without quay.left-tab because "taped"\n'
                              'without quay.right-tab because "taped"\n'))
    names = {w.checked.rule.name for w in checked.card.waived}
    assert {"quay.left-tab.length", "quay.left-tab.inner", "quay.right-tab.length", "quay.right-tab.inner"} <= names
    kept = {each.rule.name for each in checked.card.rules}
    assert any(name.startswith("quay.left-tab.end.") for name in kept), "closed fit of a tab is geometry and stays"


def test_waiving_never_makes_a_wish_worse():
    text = (EXAMPLES / "night-harbour.card").read_text("utf-8")
    before = check(read_text(text, folder=EXAMPLES), seconds=20).card.wishes[0]
    after = check(read_text(text + 'without quay.apart-from-sail because "they may touch"\n', folder=EXAMPLES), seconds=20).card
    assert before.wish.largest
    assert after.wishes[0].value >= before.value


# ---- what is not


@pytest.mark.parametrize(
    ("name", "code", "words", "hint"),
    [
        ("quay.end.fore-edge", "cannot-waive", "it is geometry, and without it the card would not fold", "change one of the dim"),
        ("quay.end", "cannot-waive", "it is geometry", "change one of the dim"),
        ("quay.mat-long.strip", "cannot-waive", "it is what the machine reaches", "write the `mat` of a larger machine"),
        ("require-1", "cannot-waive", "it is a rule of your own", "take its line out of the script"),
        ("quay.wall.most", "cannot-waive", "it is a rule of your own", "take its line out of the script"),
        ("quay.width.written", "cannot-waive", "it is a rule of your own", "take its line out of the script"),
        ("cover.clear.usual", "cannot-waive", "it is the usual range", "write a range of your own in the block `cover`, such as"),
        ("cover.clear", "cannot-waive", "it is the usual range", "such as `clear 20 to 90`"),
        ("quay.left-tab.lenght", "unknown-rule", "no rule called `quay.left-tab.lenght`", "did you mean"),
        ("quay", "unknown-rule", "no rule called `quay`", "name one of its rules: `quay."),
        ("pier.left-tab.length", "unknown-rule", "no rule called", "did you mean"),
    ],
)
def test_what_cannot_be_waived_says_why(name, code, words, hint):
    (problem,) = refused(f'{TENT.format(width=40)}without {name} because "no reason"\n')
    assert (problem.code, problem.at.text) == (code, name)
    assert words in problem.wrong()
    assert problem.hints()[0].startswith(hint) or hint in problem.hints()[0]


def test_a_rule_of_the_script_is_shown_at_its_line():
    (problem,) = refused(TENT.format(width=40) + 'without require-1 because "no reason"\n')
    assert [label.at.text for label in problem.related()] == ['require quay.wall <= 58  because "the lamp has to clear the page"']


@pytest.mark.parametrize("rest", ["", " because", ' because ""', ' because " "'])
def test_a_reason_is_required(rest):
    assert refused(f"{TENT.format(width=40)}without quay.left-tab.length{rest}\n")


def test_a_fault_elsewhere_does_not_make_rules_unknown():
    codes = [problem.code for problem in refused(TENT.format(width=40).replace("paper  sand", "paper sad") + WAIVED)]
    assert codes == ["unknown-name"]


def test_what_geometry_then_refuses_is_the_scripts_problem_and_names_the_rules(monkeypatch):
    def fails(_):
        yield False, "quay.left-tab is folded wrongly"

    monkeypatch.setitem(proof.CHECKS, "tabs", fails)
    (problem,) = refused(TENT.format(width=19) + WAIVED)
    assert (problem.code, problem.at.text) == ("waived-too-much", WAIVED.splitlines()[0])
    assert "`quay.left-tab.length` or `quay.right-tab.length`" in problem.wrong()
    with pytest.raises(proof.ProofFailed):  # nothing that is waived is missed here: then it is a fault of ours
        check(read_text(TENT.format(width=40) + WAIVED))
    with pytest.raises(proof.ProofFailed):
        check(read_text(TENT.format(width=40)))


# ---- names


SCRIPTS = {kind.keyword: kind.example for kind in registry().values() if kind.example}
SCRIPTS |= {path.stem: path.read_text("utf-8") for path in sorted(EXAMPLES.glob("*.card"))}
SCRIPTS |= {f"generated-{seed}": script(6, seed, "loose") for seed in range(3)}


@pytest.mark.parametrize("name", SCRIPTS)
def test_names_are_plain_and_one_of_a_kind_and_every_habit_can_be_waived_by_its_own(name):
    text = SCRIPTS[name]
    model = bind(read_text(text, folder=EXAMPLES)).model
    names = [rule.name for rule in model.rules]
    assert len(set(names)) == len(names)
    for each in names:
        assert re.fullmatch(r"[^\W\d_]\w*(?:[.-]\w+)*", each), each
    habits = [rule.name for rule in model.rules if can_waive(rule)]
    lines = "".join(f'without {habit} because "a trial"\n' for habit in habits)
    waived = bind(read_text(f"{text}\n{lines}", folder=EXAMPLES)).model
    assert {each.rule.name for each in waived.waived} == set(habits)
    left = {rule.name: rule.kind for rule in waived.rules if rule.name.endswith(f".{REST}")}
    assert set(left.values()) <= {Kind.GEOMETRY}
    assert {rule.name for rule in waived.rules} - set(left) == set(names) - set(habits)


@pytest.mark.parametrize("name", [name for name in SCRIPTS if name != "too-tight"])
def test_without_any_habit_a_card_still_stands_in_the_proof(name):
    text = SCRIPTS[name]
    habits = [rule.name for rule in bind(read_text(text, folder=EXAMPLES)).model.rules if can_waive(rule)]
    lines = "".join(f'without {habit} because "a trial"\n' for habit in habits)
    try:
        checked = check(read_text(f"{text}\n{lines}", folder=EXAMPLES), seconds=5)
    except Refused as stopped:  # without habits neighbours may strike each other; that is told, not an error of ours
        assert {problem.code for problem in stopped.problems} <= {"would-jam", "waived-too-much"}
    else:
        assert checked.proof.looked_at["closed pose"] > 0
        waived = {each.checked.rule.name for each in checked.card.waived}
        assert waived <= set(habits)
        assert waived == set(habits) or checked.card.choices is not None, "but for blocks that were left out"


def test_check_lists_all_rules_by_name(card):
    path = card(TENT.format(width=19) + WAIVED)
    listed = run("check", path, "--rules").output
    model = bind(read(path)).model
    for rule in model.rules:
        assert re.search(rf"^{re.escape(rule.name)} +(geometry|practice\*?|designer) ", listed, re.MULTILINE), rule.name
        starred = re.search(rf"^{re.escape(rule.name)} +practice\* ", listed, re.MULTILINE) is not None
        assert starred == can_waive(rule)
    assert "Waived, as the script asks:" in listed


def test_a_conflict_names_the_habits_that_can_be_waived_one_after_the_other(card):
    text = TENT.format(width=19)
    for _ in range(2):
        told = run("check", card(text)).output
        names = re.findall(r"write `without (\S+) because", told)
        assert set(names) <= {"quay.left-tab.length", "quay.right-tab.length"}
        text += "".join(f'without {name} because "taped"\n' for name in names)
    assert check(read_text(text)).card.parts
