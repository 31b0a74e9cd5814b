"""Problems as text and as JSON."""

import json
from dataclasses import dataclass, replace
from typing import ClassVar

import pytest

from foldwright.grammar import Label, Refused, Severity, Source, Span, as_json, in_order, read_text, render
from foldwright.grammar.problems import NameTwice, UnknownName, ValueMissing
from foldwright.grammar.render import WIDTH, columns


def source(text, name="tide-pool.card"):
    return Source(name, text)


def span(text, part, name="tide-pool.card"):
    """Where `part` first stands in a text."""
    start = text.index(part)
    return Span(start, start + len(part), source(text, name))


def unknown(text, part, name="tide-pool.card"):
    return UnknownName(span(text, part, name), part, ("tank",))


def test_whole_message():
    text = 'card "a"\npaper ink  colour #22304a\npaper ink  colour #9fc6c9\n'
    second = Span(text.rindex("ink"), text.rindex("ink") + 3, source(text))
    assert render([NameTwice(second, "ink", span(text, "ink"))]) == (
        "error[name-twice]: the name `ink` is given twice\n"
        "  --> tide-pool.card:3:7\n"
        "  3 | paper ink  colour #9fc6c9\n"
        "    |       ^^^\n"
        "  first given here:\n"
        "  2 | paper ink  colour #22304a\n"
        "    |       ---\n"
        "  help: give one of the two another name, such as `ink2`\n"
    )


def test_a_between_that_lacks_its_second_panel():
    with pytest.raises(Refused) as refused:
        read_text('card "a"\n  units mm\ncover 3 x 4\nvfold gull between quay.left cover.left\n')
    assert render(refused.value.problems) == (
        "error[syntax-error]: `and` was expected here, not `cover.left`\n"
        "  --> script.card:4:30\n"
        "  4 | vfold gull between quay.left cover.left\n"
        "    |                              ^^^^^^^^^^\n"
        "  help: write `and` here\n"
    )


def test_problem_without_place():
    assert render([ValueMissing(None, "the cover", "cover 3 x 4")]) == (
        "error[value-missing]: the cover is missing\n  help: write for example `cover 3 x 4`\n"
    )


def test_nothing_to_say():
    assert render([]) == ""


def marked(text, part):
    """What stands above the marks of a message, cut from the shown line by columns."""
    shown, marks = render([unknown(text, part)]).splitlines()[2:4]
    start, width = marks.index("^"), marks.count("^")
    line = ""
    cells = [(character, columns(character)) for character in shown]
    at = 0
    for character, cell in cells:
        if start <= at < start + width:
            line += character
        at += cell
    return line


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("require tanc.wall", "tanc.wall"),
        ("\trequire\ttanc.wall", "tanc.wall"),
        ("require tanc\r\nreef", "tanc"),
        ('art "貝殻" tanc 1', "tanc"),
        ("art 貝殻 1", "貝殻"),
        ('art "e\u0301e\u0301" tanc 1', "tanc"),
        ("a" * 500 + " tanc " + "b" * 500, "tanc"),
        ("tanc " + "b" * 500, "tanc"),
        ("a" * 500 + " tanc", "tanc"),
        ("貝" * 500 + " tanc " + "殻" * 500, "tanc"),
    ],
)
def test_marks_stand_below_the_place(text, part):
    assert marked(text, part) == part


@pytest.mark.parametrize("text", ["x" * 5000, "a " * 300 + "y" * 3000, "貝" * 3000, "\t" * 400 + "y"])
def test_wide_lines_are_cut(text):
    part = text.split()[-1]
    for line in render([unknown(text, part)]).splitlines()[2:4]:
        assert columns(line) <= len("  1 | ") + WIDTH


def test_place_over_several_lines():
    text = "ring tank\n  wall 3\nend"
    problem = UnknownName(Span(5, 18, source(text)), "tank", ())
    assert render([problem]).splitlines()[2:4] == ["  1 | ring tank", "    |      ^^^^ (to line 2)"]


@pytest.mark.parametrize("text", ["abc", "abc\n", "abc\r\n", ""])
def test_place_at_the_end_has_one_mark(text):
    end = len(text.rstrip())
    problem = UnknownName(Span(end, end, source(text)), "x", ())
    assert render([problem]).splitlines()[3] == "    | " + " " * end + "^"


def test_gutter_fits_the_largest_line_number():
    text = "\n" * 99 + "tanc\n"
    first = Span(0, 0, source(text))
    lines = render([NameTwice(span(text, "tanc"), "tanc", first)]).splitlines()
    assert lines[2:4] == ["  100 | tanc", "      | ^^^^"]
    assert lines[5:7] == ["    1 |", "      | -"]


HOSTILE = "a\x1b[31mb\x07\x9b\u202e\x00\ud800c"


def test_control_characters_never_reach_the_terminal():
    text = f"require {HOSTILE}"
    problem = UnknownName(span(text, HOSTILE, f"x{HOSTILE}.card"), HOSTILE, (HOSTILE + "1",))
    shown = render([problem])
    assert all(character.isprintable() or character == "\n" for character in shown)
    assert shown.encode("utf-8").count(b"\\x1b[31m") == 4  # message, file name, line and hint
    assert shown.splitlines()[3].count("^") == len("a\\x1b[31mb\\x07\\x9b\\u202e\\x00\\ud800c")


def test_colours_only_on_request():
    problem = unknown("require tanc", "tanc")
    assert "\x1b" not in render([problem])
    coloured = render([problem], colour=True)
    assert coloured.startswith("\x1b[1;31merror[unknown-name]\x1b[0m: ")
    assert coloured.count("\x1b[0m") == coloured.count("\x1b") / 2  # every tint ends


def test_sorted_by_place_without_repeats():
    text = "a b c"
    a, b, c = (unknown(text, part) for part in text.split())
    nowhere = ValueMissing(None, "the cover", "cover 3 x 4")
    other = unknown("z", "z", "harbour.card")
    assert in_order([c, a, b, a, nowhere, other, replace(c)]) == [nowhere, other, a, b, c]


def test_related_place_in_another_file_is_named():
    problem = NameTwice(span("ring tank", "tank"), "tank", span("tent tank", "tank", "fern.card"))
    assert "  first given here:\n  --> fern.card:1:6\n  1 | tent tank\n" in render([problem])


def test_other_severities():
    @dataclass(frozen=True)
    class Nearly(UnknownName):
        code: ClassVar[str] = ""
        severity: ClassVar[Severity] = Severity.WARNING

    assert render([Nearly(None, "a", ())]).startswith("warning[]: ")


def test_json():
    text = "ring tank\ntent tank\n"
    first = span(text, "tank")
    value = as_json(NameTwice(Span(15, 19, source(text)), "tank", first))
    assert json.loads(json.dumps(value)) == {
        "code": "name-twice",
        "severity": "error",
        "file": "tide-pool.card",
        "line": 2,
        "column": 6,
        "end_line": 2,
        "end_column": 10,
        "message": "the name `tank` is given twice",
        "help": ["give one of the two another name, such as `tank2`"],
        "related": [
            {
                "file": "tide-pool.card",
                "line": 1,
                "column": 6,
                "end_line": 1,
                "end_column": 10,
                "message": "first given here",
            }
        ],
    }


def test_json_without_place():
    value = as_json(ValueMissing(None, "the cover", "cover 3 x 4"))
    assert (value["file"], value["line"], value["related"]) == (None, None, [])


def test_a_label_may_stand_alone():
    problem = NameTwice(None, "tank", span("tent tank", "tank"))
    assert "  --> tide-pool.card:1:6" in render([problem])
    assert isinstance(problem.related()[0], Label)


def test_messages_of_a_real_script():
    script = 'card "Harbour"\n  units mm\ncover 130 y 180\n  clear 3 mmm\n'
    with pytest.raises(Refused) as refused:
        read_text(script, "harbour.card")
    assert render(refused.value.problems) == (
        "error[syntax-error]: `x` was expected here, not `y`\n"
        "  --> harbour.card:3:11\n"
        "  3 | cover 130 y 180\n"
        "    |           ^\n"
        "  help: write `x` here\n"
    )
