"""Every problem: a script that causes it, its place, its words and its page."""

import inspect
import re
import textwrap

import pytest

from foldwright.grammar import (
    Label,
    Problem,
    Refused,
    Source,
    Span,
    explain,
    printable,
    read,
    read_text,
    registry,
    render,
)
from foldwright.grammar import problems as known

HEAD = 'card "Tide pool"\n  units mm\ncover 130 x 180\n'

# (code, script, text that is underlined). Scripts that begin with a blank line follow HEAD.
TEXT_PROBLEMS = [
    ("arguments-wrong", "\nprefer largest sqrt(2, 3)", "sqrt"),
    ("arguments-wrong", "\nprefer largest max(2)", "max"),
    ("bad-colour", "\npaper ink colour #223 weight 216 gsm", "#223"),
    ("bad-colour", "\npaper ink colour #22304af weight 216 gsm", "#22304af"),
    ("bad-colour", "\npaper ink colour 12 weight 216 gsm", "12"),
    ("bad-colour", '\npaper ink colour "blue" weight 216 gsm', '"blue"'),
    ("bad-number", "\nreef a\n  wall 5 1/0 in", "5 1/0 in"),
    ("bad-number", "\nreef a\n  wall 1234567890123", "1234567890123"),
    ("bad-number", "\nreef a\n  wall " + "9" * 6000, "9" * 6000),
    ("bad-text", '\nreef a\n  art "a.svg', '"a.svg'),
    ("bad-text", 'card ""\ncover 3 mm x 4 mm', '""'),
    ("bad-text", f'card "{"a" * 301}"\ncover 3 mm x 4 mm', f'"{"a" * 301}"'),
    ("bad-text", '\nreef a\n  art "a\x1b[31m.svg"', '"a\x1b[31m.svg"'),
    ("bad-text", '\nreef a\n  art "a\u202e.svg"', '"a\u202e.svg"'),
    ("bad-text", '\nrequire a >= b because " "', '" "'),
    ("division-by-zero", "\nmat 3 / (1 - 1) x 300", "1 - 1"),
    ("empty-file", "# nothing yet\n\n", ""),
    ("empty-file", "", ""),
    ("lines-unexpected", "\nmat 300 x 300\n  wall 3", "wall 3"),
    ("missing-statement", 'card "Tide pool"', "card"),
    ("missing-statement", "cover 130 mm x 180 mm", ""),
    ("name-twice", "\npaper ink colour #22304a\npaper ink colour #9fc6c9", "ink"),
    ("name-twice", "\nring tank on page\ntent tank on page", "tank"),
    ("nested-too-deep", "\nreef a\n  wall " + "(" * 101 + "1" + ")" * 101, "(" * 101 + "1" + ")" * 101),
    ("nested-too-deep", "\nprefer largest " + "a" + "+a" * 101, "a" + "+a" * 101),
    ("choice-not-here", 'card "Tide pool"\n  units mm or cm\ncover 3 x 4', "units mm or cm"),
    ("choice-not-here", "\nvariant small\n  mat 200 x 200 or 300 x 300", "mat 200 x 200 or 300 x 300"),
    ("optional-not-here", 'card "Tide pool"\n  units mm\noptional cover 3 x 4', "optional"),
    ("optional-not-here", "\noptional mat 300 x 300", "optional"),
    ("syntax-error", "\nmat 300 x 300 or 200 x 200", "or"),
    ("syntax-error", "\ntent quay on spine or page", "page"),
    ("too-many-options", "\nlattice weeds in tank\n  layers 1 to 500 by 1 to 500", "1 to 500 by 1 to 500"),
    ("value-wrong", "\nlattice weeds in tank\n  layers 2.5 to 4 by 3", "2.5 to 4"),
    ("not-positive", "\nmat 0 x 300", "0"),
    ("not-positive", "\npaper ink colour #22304a weight 0 gsm", "0 gsm"),
    ("not-positive", 'card "a"\n  step -1 mm\ncover 3 x 4', "-1 mm"),
    ("reason-missing", "\npractice tab.depth 10", "tab.depth"),
    ("reason-missing", "\nwithout weeds.slot-strip", "weeds.slot-strip"),
    ("setting-twice", '\nwithout a.joint because "a"\nwithout a.joint because "b"', "a.joint"),
    ("syntax-error", '\nwithout because "a"', '"a"'),
    ("setting-missing", "\npaper ink weight 216 gsm", "ink"),
    ("setting-twice", 'card "Tide pool"\n  units mm\n  units in\ncover 3 x 4', "units"),
    ("setting-twice", "\npaper ink colour #22304a colour #22304b", "colour"),
    ("setting-twice", '\npractice tab.depth 1 because "a"\npractice tab.depth 2 because "b"', "tab.depth"),
    ("out-of-bounds", "\nkerf 15 mm", "15 mm"),
    ("out-of-bounds", "\nkerf 1/16 in", "1/16 in"),
    ("out-of-bounds", "\ncreases perforated gap 0.8 mm", "0.8 mm"),
    ("out-of-bounds", "\ncreases perforated dash 30", "30"),
    ("out-of-bounds", "\nvariant small\n  creases ticked length 0.1", "0.1"),
    ("not-positive", "\nkerf -0.1 mm", "-0.1 mm"),
    ("unit-missing", 'card "a"\ncover 3 in x 4 in\nkerf 0.2', "0.2"),
    ("value-missing", "\nkerf", "kerf"),
    ("value-surplus", "\nkerf 0.1 mm 0.2 mm", "0.2 mm"),
    ("value-wrong", "\nkerf wide", "wide"),
    ("value-missing", "\ncreases", "creases"),
    ("value-missing", "\ncreases perforated dash", "dash"),
    ("value-surplus", "\ncreases half-cut depth 0.1", "depth 0.1"),
    ("unknown-choice", "\ncreases punched", "punched"),
    ("unknown-setting", "\ncreases perforated bridge 2", "bridge"),
    ("setting-twice", "\ncreases perforated gap 2 gap 3", "gap"),
    ("setting-twice", "\nvariant small\n  kerf 0.1\n  kerf 0.2", "kerf"),
    ("statement-twice", "\nkerf 0.1\nkerf 0.2", "kerf"),
    ("choice-not-here", "\nvariant small\n  creases ticked or creased", "creases ticked or creased"),
    ("lines-unexpected", "\ncreases perforated\n  dash 3", "dash 3"),
    ("value-missing", "\njoints", "joints"),
    ("unknown-choice", "\njoints glued", "glued"),
    ("value-surplus", "\njoints strip 20", "20"),
    ("statement-twice", "\njoints strip\njoints none", "joints"),
    ("choice-not-here", "\nvariant small\n  joints strip or overlap", "joints strip or overlap"),
    ("statement-twice", "\ncover 3 x 4", "cover"),
    ("statement-twice", '\ncard "Reef"', "card"),
    ("syntax-error", "\nrequire a > 3", ">"),
    ("syntax-error", "\nrequire a >= ", ""),
    ("syntax-error", "\nreef a\n  wall 3 ; 4", ";"),
    ("syntax-error", "\nmat 3 y 4", "y"),
    ("syntax-error", "\n40", "40"),
    ("unclear-minus", '\nreef a\n  art "a.svg" width -22', "-"),
    ("uneven-indentation", "\nreef a\n  wall 3\n    height 4\n    depth 5", "height"),
    ("uneven-indentation", "\nreef a\n   wall 3\n  height 4", "height"),
    ("uneven-indentation", "\nreef a\n  wall 3\n\theight 4", "height"),
    ("uneven-indentation", "  wall 3\n" + HEAD, "wall"),
    ("unit-missing", 'card "Tide pool"\ncover 3 x 4\nmat 300 x 300 mm', "300"),
    ("unit-missing", "\npaper ink colour #22304a weight 216", "216"),
    ("unit-wrong", "\npaper ink colour #22304a weight 3 mm", "3 mm"),
    ("unit-wrong", "\npaper ink colour #22304a caliper 11 pt", "11 pt"),
    ("unit-wrong", "\nmat 300 gsm x 300", "300 gsm"),
    ("unit-wrong", "\nmat 3 mm * 4 mm x 300", "4 mm"),
    ("unit-wrong", "\nmat 3 mm / 4 mm x 300", "4 mm"),
    ("unit-wrong", "\nmat 3 mm + 4 deg x 300", "4 deg"),
    ("unit-wrong", 'card "Tide pool"\n  units gsm\ncover 3 x 4', "gsm"),
    ("unknown-choice", "\nprefer biggest a", "biggest"),
    ("unknown-choice", "\npaper ink colour #22304a weight 65 lb card", "card"),
    ("unknown-function", "\nprefer largest maximum(2, 3)", "maximum"),
    ("unknown-setting", "\npaper ink colour #22304a color #22304a", "color"),
    ("unknown-setting", 'card "Tide pool"\n  unit mm\ncover 3 x 4', "unit"),
    ("unknown-unit", "\nreef a\n  wall 40ft", "ft"),
    ("unknown-unit", "\nreef a\n  wall 40 inches", "inches"),
    ("unknown-unit", "\nmat 40 furlong x 3", "furlong"),
    ("unknown-unit", "\nring tank 3 x 4 mm tank", "tank"),
    ("unknown-unit", 'card "Tide pool"\n  units furlong\ncover 3 x 4', "furlong"),
    ("value-missing", 'card "Tide pool"\n  units\ncover 3 x 4', "units"),
    ("value-missing", 'card "Tide pool"\ncover\n', "cover"),
    ("value-missing", "\npaper", "paper"),
    ("value-missing", "\npaper ink colour", "colour"),
    ("value-missing", "\npaper ink colour #22304a weight", "weight"),
    ("value-missing", "\npaper ink colour #22304a weight 65 lb", "65 lb"),
    ("value-surplus", 'card "Tide pool"\n  units mm cm\ncover 3 x 4', "cm"),
    ("value-wrong", '\npaper ink "blue" colour #22304a', '"blue"'),
    ("value-wrong", 'card "Tide pool"\n  units 3\ncover 3 x 4', "3"),
    ("value-wrong", "\nmat tank.wall x 300", "tank.wall"),
    ("value-wrong", "\nprefer least tank.wall", "tank.wall"),
    ("value-wrong", "\nring tank at 12", "12"),
]

# Problems of files, which need a file; each has a test of its own below.
FILE_PROBLEMS = {"file-missing", "file-unreadable", "file-too-large", "not-utf8"}

SOMEWHERE = Span(0, 4, Source("tide-pool.card", "reef a"))

# Problems of later stages, one sample each: their words are checked here, their causes with those stages.
SAMPLES = [
    known.ArtworkCrossing(SOMEWHERE, "art/crab.svg", "near x 3, y 4"),
    known.ArtworkMissing(SOMEWHERE, "art/crab.svg", "no such file"),
    known.ArtworkOpen(SOMEWHERE, "art/crab.svg", "a gap at x 3, y 4"),
    known.FallsApart(SOMEWHERE, "cover.left", 2, ("gap", "porthole")),
    known.ArtworkStroked(SOMEWHERE, "art/crab.svg", "a path is only a stroked line"),
    known.ArtworkUnreadable(SOMEWHERE, "art/crab.svg", "it is a photograph"),
    known.FontUnusable(SOMEWHERE, "fonts/harbour.ttf", "there is no such file"),
    known.LettersLong(SOMEWHERE, 70, 60),
    known.LettersScript(SOMEWHERE, "\u05e9"),
    known.LettersUnknown(SOMEWHERE, "\u2665"),
    known.LettersUnknown(SOMEWHERE, "\u2665", own=True),
    known.CannotCarry(SOMEWHERE, "cutout", "spine", "it is a crease", ("tank.front",)),
    known.CannotHold(SOMEWHERE, ("the ring is high", "the page is small"), (Label(SOMEWHERE, "the page"),)),
    known.CannotWaive(SOMEWHERE, "weeds.head.head", "geometry", "weeds", "head", SOMEWHERE),
    known.CannotWaive(SOMEWHERE, "weeds.mat-long.layer", "mat", "weeds", "mat-long", SOMEWHERE),
    known.CannotWaive(SOMEWHERE, "require-1", "own", "require-1", "", SOMEWHERE),
    known.CannotWaive(SOMEWHERE, "weeds.rise.usual-most", "usual", "weeds", "rise", None),
    known.UnknownRule(SOMEWHERE, "weeds.slotstrip", ("weeds.slot-strip", "tank.joint")),
    known.WaivedTooMuch(SOMEWHERE, ("weeds.slot-strip",), "weeds.a1 is not one simple outline"),
    known.UnknownVariant(None, "smal", ("small", "school"), (SOMEWHERE,)),
    known.UnknownVariant(None, "small", ()),
    known.CyclicExpression(SOMEWHERE, ("tank.wall", "tank.height")),
    known.AgainstGrain(SOMEWHERE, "ink", ("cover",)),
    known.NoSeam(SOMEWHERE, "tank.left_half", "310 mm x 38 mm", "3 mm", Label(SOMEWHERE, "tank")),
    known.LostToKerf(SOMEWHERE, "0.9 mm", ("weeds.a1", "weeds.b2")),
    known.PackerMissing(None),
    known.OptionRefused(SOMEWHERE, "`joint slotted` of quay", "`spine` cannot carry a `tent`"),
    known.NoCreaseBetween(SOMEWHERE, ("quay.left", "cover.right"), (), (("quay.left", "cover.left"),)),
    known.RangeUpsideDown(SOMEWHERE, "80", "50"),
    known.UnknownKeyword(SOMEWHERE, "rong", ("ring", "tent")),
    known.UnknownName(SOMEWHERE, "tanc", ("tank", "weeds")),
    known.UnknownPractice(SOMEWHERE, "tab.deep", ("tab.depth",)),
    known.WouldJam(SOMEWHERE, "passes-through", "pier.left and mast.front pass through each other", (Label(SOMEWHERE, "mast"),)),
]


def problems_of(script):
    """Problems of a script; of one that begins with a blank line, behind HEAD."""
    text = HEAD + script[1:] + "\n" if script.startswith("\n") else script
    try:
        read_text(text)
    except Refused as refused:
        return refused.problems
    return ()


@pytest.mark.parametrize(("code", "script", "underlined"), TEXT_PROBLEMS)
def test_script_causes_one_problem_at_its_place(code, script, underlined):
    (problem,) = problems_of(script)
    assert problem.code == code
    assert problem.at.text == underlined


def own_problems():
    """Problem classes of the grammar's own modules."""
    ours = "foldwright.grammar.problems"
    return {code: cls for code, cls in registry().items() if cls.__module__.startswith(ours)}


def test_every_problem_has_a_test():
    tested = {code for code, _, _ in TEXT_PROBLEMS} | FILE_PROBLEMS | {sample.code for sample in SAMPLES}
    assert set(own_problems()) == tested


@pytest.mark.parametrize("code", own_problems())
def test_codes_and_pages(code):
    cls = registry()[code]
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)+", code)
    page = explain(code)
    assert page.startswith(f"{code}\n\n")
    assert inspect.getdoc(cls) not in (None, inspect.getdoc(Problem)), "the base class explains nothing"
    assert max(map(len, page.splitlines())) <= 110


def spoken(problem):
    """All words of a problem, which have to be sentences without loose ends."""
    return [problem.wrong(), *problem.hints(), *(label.text for label in problem.related())]


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.code)
def test_samples_speak(sample):
    assert sample.hints(), "a problem says what to do"
    assert all(words.strip() == words and words and "\n" not in words for words in spoken(sample))
    assert sample.wrong() in render([sample])


@pytest.mark.parametrize(("code", "script", "underlined"), TEXT_PROBLEMS)
def test_text_problems_speak(code, script, underlined):
    (problem,) = problems_of(script)
    assert problem.hints(), f"{code} says what to do"
    assert all(words.strip() == words and words and "\n" not in words for words in spoken(problem))


def examples(code):
    """Indented blocks of a page: the first causes the problem, a second one is the cure."""
    page = inspect.getdoc(registry()[code])
    blocks = re.findall(r"(?:^    .*\n|^\n(?=    ))+", page + "\n", re.MULTILINE)
    return [textwrap.dedent(block).strip("\n") + "\n" for block in blocks]


def whole(script):
    """An example with the card and cover that it leaves out, unless leaving them out is the point."""
    if not re.search(r"^(card|cover)\b", script, re.MULTILINE):
        return "\n" + script
    if "\ncover" not in "\n" + script:
        return script + "cover 130 mm x 180 mm\n"
    return script if "\ncard" in "\n" + script else 'card "Tide pool"\n' + script


# The page of a missing statement shows a script without one; the script itself must stay as it is.
AS_WRITTEN = {"missing-statement", "empty-file"}
EXPLAINED = [code for code in own_problems() if code in {row[0] for row in TEXT_PROBLEMS} and examples(code)]


@pytest.mark.parametrize("code", EXPLAINED)
def test_example_on_the_page_causes_the_problem(code):
    first, *cures = examples(code)
    prepared = (lambda script: script) if code in AS_WRITTEN else whole
    assert [problem.code for problem in problems_of(prepared(first))] == [code]
    for cure in cures:
        assert problems_of(prepared(cure)) == ()


def test_most_pages_show_an_example():
    missing = {row[0] for row in TEXT_PROBLEMS} - set(EXPLAINED)
    assert missing == {"nested-too-deep"}, "its example would fill the page"


def file_problem(path):
    with pytest.raises(Refused) as refused:
        read(path)
    (problem,) = refused.value.problems
    assert problem.hints()
    assert printable(problem.wrong()) in render([problem])
    return problem


def test_file_missing(tmp_path):
    assert file_problem(tmp_path / "none.card").code == "file-missing"


def test_file_unreadable(tmp_path):
    assert file_problem(tmp_path).code == "file-unreadable"
    assert file_problem("/dev/null").code == "file-unreadable"
    assert file_problem("a\0b").code == "file-unreadable"
    (tmp_path / "a.card").write_text(HEAD)
    assert file_problem(tmp_path / "a.card" / "b.card").code == "file-unreadable"


def test_file_too_large_is_not_opened(tmp_path):
    script = tmp_path / "large.card"
    with script.open("wb") as file:
        file.truncate(10_000_000)
    script.chmod(0)  # reading would fail with another problem, except for a superuser
    problem = file_problem(script)
    assert (problem.code, problem.size) == ("file-too-large", 10_000_000)


def test_text_too_large():
    with pytest.raises(Refused) as refused:
        read_text("#" * 1_000_001)
    assert [problem.code for problem in refused.value.problems] == ["file-too-large"]


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_not_utf8(tmp_path, mark):
    script = tmp_path / "latin.card"
    script.write_bytes(mark + b'# harbour\ncard "Mar\xe9e"\n')
    problem = file_problem(script)
    assert (problem.code, problem.at.line, problem.at.column) == ("not-utf8", 2, 10)


def test_unknown_code_names_the_nearest():
    with pytest.raises(LookupError, match="unit-wrong"):
        explain("unit-worng")


@pytest.mark.parametrize(
    ("script", "hint"),
    [
        ("\nreef a\n  wall 40 inches", "write `in`"),
        ("\npaper ink colour #2b3 caliper 3", "write `#22bb33`"),
        ("\nrequire a == 3", "equality is written with one `=`"),
        ("\nmat 0,5 x 3", "write a decimal point: `0.5`"),
        ('\nmat 5" x 3', "write inches as `in`"),
        ("\nmat 3 x 4 or 4 x 5", "keep one: `or` stands in the blocks"),
        ("\noptional require a.b >= 3", "`optional` stands in front of a mechanism"),
        ("\ntent quay on spine or page", "behind `or` stands a whole option"),
        ("\nmat 3 x 4 #facade", "leave a blank behind the `#` of a comment"),
        ("\nring rock-pool on reef", "names are written with letters, digits and `_`"),
        ("\npaper ink color #22304a", "did you mean one of `colour`, `caliper`?"),
        ("\nreef a\n  wall 3 because \"thin\"", "only `require`, `practice` and `without` lines take a reason"),
    ],
)
def test_hints_for_common_slips(script, hint):
    assert any(found.startswith(hint) for problem in problems_of(script) for found in problem.hints())


@pytest.mark.parametrize(
    ("script", "words"),
    [
        ("\nrequire a 3", "`<=`, `>=` or `=` was expected here, not `3`"),
        ("\nreef a\n  wall 3 to", "a value was expected here, not the end of the line"),
        ("\nreef a\n  wall (3", "`)` was expected here, not the end of the line"),
        ("\nmat 3 x 4 5", "the end of the line was expected here, not `5`"),
        ("\nwall 3 to 4", "`x` was expected here, not `to`"),
        ("\n40", "a statement was expected here, not `40`"),
        (
            "\nring tank page",
            "a value, a place such as `on reef` or the end of the line was expected here, not `page`",
        ),
    ],
)
def test_syntax_errors_say_what_was_expected(script, words):
    assert [problem.wrong() for problem in problems_of(script)] == [words]


def test_a_second_declaration_points_to_the_first():
    (problem,) = problems_of("\npaper ink colour #22304a\npaper ink colour #9fc6c9")
    assert [label.at.line for label in problem.related()] == [4]
    assert problem.at.line == 5
