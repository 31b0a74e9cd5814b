"""Problems that the solver finds: each code caused by a script, at its place; damaged scripts never crash."""

import random
import shutil
from fractions import Fraction
from pathlib import Path

import pytest

from foldwright.grammar import Refused, read, read_text, render
from foldwright.solver.answer import solve_design
from foldwright.solver.card import Card
from foldwright.solver.mechanism import registry

EXAMPLES = Path(__file__).parent.parent / "examples"
UNITS = "  units mm\n"
PAPERS = "paper ink colour #22304a weight 216 gsm\npaper sand colour #d9c39a caliper 0.25\nmat 300 x 300\n"
PLAIN = 'card "Harbour"\n' + UNITS + "cover 100 x 150\n  paper ink\n" + PAPERS
GUSSET = PLAIN.replace("  paper ink\n", "  spine gusset\n  paper ink\n")
TENT = PLAIN + "tent quay on spine\n  paper sand\n"
RING = PLAIN + "ring tank on spine\n  paper sand\n"
NO_UNIT = TENT.replace(UNITS, "").replace("100 x 150", "100 mm x 150 mm").replace("300 x 300", "300 mm x 300 mm")
NO_UNIT = NO_UNIT.replace("0.25", "0.25 mm")
ART = TENT + "cutout boat\n  paper sand\n  glue on quay.right at top\n"

# (code, script, text that is underlined)
TABLE = [
    ("setting-missing", PLAIN + 'cutout boat\n  paper sand\n  art "boat.svg" width 20\n', "cutout boat"),
    ("statement-twice", PLAIN + "kerf 0.2\nkerf 0.3\n", "kerf"),
    ("missing-statement", PLAIN.replace("mat 300 x 300\n", ""), "card"),
    ("unknown-name", TENT + "tent pier on kay\n  paper sand\n", "kay"),
    ("unknown-name", TENT + "vfold sail on quay.rigde\n  paper sand\n", "quay.rigde"),
    ("unknown-name", PLAIN + "tent quay on spine\n  paper snad\n", "snad"),
    ("unknown-name", TENT + "require quay.hieght >= 3\n", "quay.hieght"),
    ("unknown-name", TENT + "prefer largest pier.wall\n", "pier.wall"),
    ("unknown-keyword", PLAIN + "tend quay on spine\n", "tend"),
    ("unknown-setting", TENT + "  wal 40\n", "wal"),
    ("unknown-setting", PLAIN + "vfold sail 3 x 4 on spine\n  paper sand\n", "3 x 4"),
    ("unknown-choice", TENT + "  joint sewn\n", "sewn"),
    ("unknown-choice", RING + "lattice weeds in tank\n  paper sand\n  layers 3 by 9\n", "3 by 9"),
    ("unknown-choice", TENT + "  wall 40 50\n", "50"),
    ("unit-missing", NO_UNIT + "  wall 40\n", "40"),
    ("unit-wrong", TENT + "  wall 40 deg\n", "40 deg"),
    ("unit-wrong", PLAIN + "vfold sail on spine\n  paper sand\n  angle 40 mm\n", "40 mm"),
    ("unit-wrong", TENT + "require quay.wall >= 3 deg\n", "3 deg"),
    ("range-upside-down", TENT + "  wall 80 to 50\n", "80 to 50"),
    ("not-positive", TENT + "  wall 0\n", "0"),
    ("not-positive", TENT + "  wall 3 - 5\n", "3 - 5"),
    ("division-by-zero", TENT + "  wall 40 / (2 - 2)\n", "2 - 2"),
    ("name-twice", TENT + "tent quay on spine\n  paper sand\n", "quay"),
    ("cannot-carry", GUSSET + "tent quay on spine\n  paper sand\n", "spine"),
    ("cannot-carry", TENT + "tent pier on quay.ridge\n  paper sand\n", "quay.ridge"),
    ("cannot-carry", TENT + "  joint slotted\n", "spine"),
    ("cannot-carry", TENT + "lattice weeds in quay\n  paper sand\n", "quay"),
    ("cannot-carry", RING + "lattice weeds in tank\n  paper sand\ntent pier on weeds\n  paper sand\n", "weeds"),
    ("setting-missing", PLAIN + "tent quay on spine\n", "tent quay on spine"),
    ("setting-missing", PLAIN + "tent quay\n  paper sand\n", "tent quay"),
    ("setting-twice", TENT + "  wall 40\n  wall 50\n", "wall"),
    ("artwork-missing", ART + '  art "none.svg" width 20\n', '"none.svg"'),
    ("artwork-unreadable", ART + '  art "unreadable.svg" width 20\n', '"unreadable.svg"'),
    ("falls-apart", PLAIN + "window gap on cover.left\n  at 75 x 50\n  width 150\n  height 20\n"
     'without gap.strip because "a slit page"\n', "window gap on cover.left"),
    ("artwork-stroked", ART + '  art "stroked.svg" width 20\n', '"stroked.svg"'),
    ("value-wrong", PLAIN + "merge ink into ink\n", "ink"),
    ("letters-unknown", ART + '  letters "Ahoy \u2665" width 40\n', "\u2665"),
    ("letters-script", ART + '  letters "\u05e9\u05dc\u05d5\u05dd" width 40\n', "\u05e9"),
    ("letters-long", ART + f'  letters "{61 * "o"}" width 40\n', "o"),
    ("font-unusable", ART + '  letters "AHOY" width 40 font "none.ttf"\n', '"none.ttf"'),
    ("artwork-open", ART + '  art "open.svg" width 20\n', '"open.svg"'),
    ("artwork-crossing", ART + '  art "crossing.svg" width 20\n', '"crossing.svg"'),
    ("unknown-practice", TENT + 'practice tab.deep 9 because "wide glue"\n', "tab.deep"),
    ("unknown-rule", TENT + 'without quay.left-tub because "taped"\n', "quay.left-tub"),
    ("cannot-waive", TENT + 'without quay.closes because "it bends"\n', "quay.closes"),
    ("reason-missing", TENT + "practice tab.depth 9\n", "tab.depth"),
    ("cannot-hold", TENT + "  wall 140\n", "tent quay on spine"),
    ("value-missing", TENT + "  wall\n", "wall"),
    ("no-crease-between", TENT + "vfold sail between quay.right and cover.left\n  paper sand\n",
     "between quay.right and cover.left"),
    ("no-crease-between", TENT + "vfold sail between quay.right and quay.right\n  paper sand\n",
     "between quay.right and quay.right"),
    ("unknown-name", TENT + "vfold sail between quay.lift and cover.right\n  paper sand\n", "quay.lift"),
    ("unknown-name", TENT + "vfold sail between quay.right and covr.right\n  paper sand\n", "covr.right"),
    ("no-crease-between", TENT + "tent pier between quay.right and quay.left\n  paper sand\n",
     "between quay.right and quay.left"),
    ("unknown-choice", RING + "lattice weeds between tank.back_right and tank.back_left\n  paper sand\n",
     "between tank.back_right and tank.back_left"),
    ("setting-missing", PLAIN + "window hatch\n", "window hatch"),
    ("setting-missing", PLAIN + "window hatch on cover.left\n  pane behind\n", "window hatch on cover.left"),
    ("unknown-choice", PLAIN + "window hatch in cover.left\n", "in cover.left"),
    ("unknown-name", PLAIN + "window hatch on cover.front\n", "cover.front"),
    ("unknown-name", PLAIN + "window hatch on cover\n", "cover"),
    ("unknown-choice", TENT + "window hatch on quay.right\n  at top\n", "top"),
    ("unknown-choice", PLAIN + "window hatch on cover.left\n  at 40\n", "40"),
    ("unknown-choice", PLAIN + "window hatch on cover.left\n  at 40 x 60 70\n", "70"),
    ("unit-wrong", PLAIN + "window hatch on cover.left\n  at 40 deg x 60\n", "40 deg"),
    ("unknown-setting", PLAIN + "window hatch on cover.left\n  glue on cover.right\n", "glue"),
    ("cannot-carry", RING + "lattice weeds in tank\n  paper sand\nwindow hatch on weeds.a1\n", "weeds.a1"),
]
CODES = {row[0] for row in TABLE} | {"cyclic-expression", "option-refused"}  # which have tests of their own
SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 20 20">{}</svg>'
ARTWORK = {
    "unreadable.svg": "this is no drawing",
    "stroked.svg": SVG.format('<path d="M0 0 H10 V10" fill="none" stroke="black"/>'),
    "open.svg": SVG.format('<path d="M0 0 H10 V10"/>'),
    "crossing.svg": SVG.format('<path d="M0 0 L10 10 L10 0 L0 10 Z"/>'),
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A folder with faulty artwork."""
    path = tmp_path_factory.mktemp("faulty")
    for name, text in ARTWORK.items():
        (path / name).write_text(text, "utf-8")
    return path


def problems_of(script, folder):
    path = folder / "harbour.card"
    path.write_text(script, "utf-8")
    try:
        solve_design(read(path), seconds=5)
    except Refused as refused:
        return refused.problems
    return ()


@pytest.mark.parametrize(("code", "script", "underlined"), TABLE, ids=[f"{row[0]}-{i}" for i, row in enumerate(TABLE)])
def test_script_causes_one_problem_at_its_place(code, script, underlined, folder):
    problems = problems_of(script, folder)
    assert [(p.code, p.at.text) for p in problems] == [(code, underlined)]
    assert problems[0].hints(), "a problem says what to do"
    assert problems[0].wrong() in render(problems).replace("\n", " ") or problems[0].wrong() in render(problems)


def test_cutout_without_artwork_is_a_missing_setting(folder):
    assert [(p.code, p.at.text) for p in problems_of(ART, folder)] == [("setting-missing", "cutout boat")]


@pytest.mark.parametrize("script", [PLAIN, TENT, RING, GUSSET], ids=["plain", "tent", "ring", "gusset"])
def test_what_the_table_starts_from_is_sound(script):
    assert isinstance(solve_design(read_text(script), seconds=5), Card)


@pytest.mark.parametrize(
    ("script", "cycle"),
    [
        (TENT + "  wall quay.wall\n", {"quay.wall"}),
        (TENT + "  wall quay.spread + 5\n  spread quay.wall - 5\n", {"quay.wall", "quay.spread"}),
        (PLAIN + "tent quay on pier\n  paper sand\ntent pier on quay\n  paper sand\n", {"quay", "pier"}),
    ],
)
def test_cyclic_expression_names_the_whole_cycle(script, cycle, folder):
    problems = problems_of(script, folder)
    assert {p.code for p in problems} == {"cyclic-expression"}
    assert all(set(p.cycle) == cycle for p in problems)


def test_several_problems_in_one_run(folder):
    script = TENT + "  wal 40\n  joint sewn\n  spread 80 to 50\ntent pier on kay\n  paper sand\nprefer largest moon.wall\n"
    script += 'practice tab.deep 9 because "wide glue"\n'
    codes = {problem.code for problem in problems_of(script, folder)}
    assert codes >= {"unknown-setting", "unknown-choice", "range-upside-down", "unknown-name", "unknown-practice"}


def test_cannot_hold_shows_each_rule_with_its_line(folder):
    (problem,) = problems_of(TENT + "  wall 140\n", folder)
    lines = {label.at.line for label in problem.related()} | {problem.at.line}
    assert len(problem.sentences) >= 2
    assert {3, 10} <= lines, "the cover and the wall that are too large together"


def test_table_names_every_problem_of_the_solver():
    # the solver raises what it imports from the list of problems; the table has to keep up with it
    import foldwright.grammar.problems as known

    source = "".join(p.read_text("utf-8") for p in (EXAMPLES.parent / "solver").glob("*.py"))
    raised = {cls.code for name, cls in vars(known).items() if isinstance(cls, type) and f"{name}(" in source}
    raised |= {code for code in CODES if code.startswith("artwork-")}  # raised through a table of classes
    assert len(raised) > 15
    assert raised <= CODES


def mutated(text, seed):
    """The script with one to three lines deleted, doubled, swapped or replaced by another one."""
    dice = random.Random(seed)
    lines = text.splitlines()
    for _ in range(dice.randint(1, 3)):
        here, there = dice.randrange(len(lines)), dice.randrange(len(lines))
        action = dice.choice(("delete", "double", "swap", "replace", "word"))
        if action == "delete" and len(lines) > 1:
            del lines[here]
        elif action == "double":
            lines.insert(here, lines[here])
        elif action == "swap":
            lines[here], lines[there] = lines[there], lines[here]
        elif action == "replace":
            lines[here] = lines[there]
        elif words := lines[here].split():
            gone = dice.choice(words)
            lines[here] = lines[here].replace(gone, dice.choice(("0", "40", "to", "quay", "999", "#", gone * 2)), 1)
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def workshop(tmp_path_factory):
    """A folder with the artwork of the examples."""
    path = tmp_path_factory.mktemp("workshop")
    shutil.copytree(EXAMPLES / "art", path / "art")
    return path


STARTS = [kind.example for kind in registry().values() if kind.example]
STARTS += [(EXAMPLES / f"{name}.card").read_text("utf-8") for name in ("tide-pool", "too-tight", "night-harbour")]
# A damaged example may be searched for minutes: half a second is enough to come past reading and binding.
SECONDS = {start: 0.5 if len(start) > 600 else 5 for start in STARTS}


@pytest.mark.parametrize("seed", range(60))
def test_damaged_scripts_give_a_card_or_problems(seed, workshop):
    start = STARTS[seed % len(STARTS)]
    path = workshop / "damaged.card"
    path.write_text(mutated(start, seed), "utf-8")
    try:
        card = solve_design(read(path), seconds=SECONDS[start])
    except Refused as refused:
        assert refused.problems
        assert all(problem.wrong() for problem in refused.problems)
        assert render(refused.problems)
    else:
        assert isinstance(card, Card)


def test_braces_in_a_reason_are_the_designers_own(folder):
    script = TENT + '  wall 40\nrequire quay.wall >= 90 because "{odd} braces {0}"\n'
    (problem,) = problems_of(script, folder)
    assert problem.code == "cannot-hold"
    assert "{odd} braces {0}" in problem.wrong()


def test_a_written_angle_need_not_be_whole(folder):
    script = PLAIN + "vfold sail on spine\n  paper sand\n  angle 42.5\n  wing 82.5 to 90\n"
    card = solve_design(read_text(script, folder=folder))
    assert card.dimensions["sail.angle"] == (Fraction(85, 2), "°")
    assert card.dimensions["sail.wing"][0].denominator == 1, "angles that are found are whole degrees"


def test_a_card_in_inches_speaks_of_inches(folder):
    script = 'card "Quay"\n  units in\ncover 4 x 6\n  paper ink\ntent quay on spine\n  paper sand\n  wall 5\n'
    papers = PAPERS.replace("0.25", "0.01").replace("300 x 300", "11 1/2 x 11 1/2")
    (problem, *_) = problems_of(script + papers, folder)
    assert problem.code == "cannot-hold"
    text = render([problem])
    assert "you wrote: wall of quay is 5 in:" in text
    assert "the ridge of quay lies at least 5 in from the spine; the page less its clear strip is at most 4 in" in text
    assert " mm" not in text
