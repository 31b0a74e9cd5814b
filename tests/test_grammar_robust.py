"""No text, however odd, gives anything but a design or problems; and reading costs little."""

import io
import logging
import subprocess
import sys
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lark import Lark, logger

from foldwright.grammar import Design, Refused, read, read_text, render
from foldwright.grammar.syntax import BUDGET, Margin, parser
from foldwright.grammar.units import MM_PER_UNIT, UNITS

HEAD = 'card "Tide pool"\n  units mm\ncover 130 x 180\n'

# Pieces of the language in any order go far deeper into the reader than arbitrary characters do.
WORDS = (
    "card cover paper mat practice require prefer ring tank a.b x to by on in at along because units step mm "
    "in pt ° lb gsm colour "
    "weight caliper largest least #22304a # 40 0.5 1/2 1/0 0 - + * / ( ) min( sqrt( foo( , "
    '> >= <= = == × ½ 40ft 9999999999999 "a.svg" ""'
)
SIGNS = ['"', "# c", "5 1/2", "\x00", "\x1b", "\ufeff", "\u2028", "\ud800", "\r", "\t"]
ENDS = ["\n", "\n", "\n", "\n  ", "\n  ", "\n\t", "\n    ", "\r\n"]
PIECES = st.sampled_from(WORDS.split(" ") + SIGNS + ENDS)
JUMBLES = st.lists(st.tuples(PIECES, st.sampled_from(["", " ", "  "])), max_size=60).map(
    lambda pieces: "".join(piece + space for piece, space in pieces)
)


def outcome(reader, script):
    """The design, or the problems; anything else that is raised fails the test."""
    try:
        return reader(script)
    except Refused as refused:
        return refused.problems


def check(reader, script):
    """A design, or problems that can be shown and lie within the text."""
    found = outcome(reader, script)
    if isinstance(found, Design):
        return
    assert found, "a refusal says why"
    for problem in found:
        assert problem.hints()
        if problem.at is not None:
            assert 0 <= problem.at.start <= problem.at.end <= len(problem.at.source.text)
    shown = render(found)
    assert all(character.isprintable() or character == "\n" for character in shown)
    assert shown.encode("utf-8")


# No deadline: the first parse builds the parser, and machines differ.
@settings(deadline=None, max_examples=200, derandomize=True)
@given(st.text(st.characters(), max_size=200))
def test_any_text(text):
    check(read_text, text)


@settings(deadline=None, max_examples=200, derandomize=True)
@given(JUMBLES)
def test_any_jumble_of_pieces(text):
    check(read_text, text)


@settings(deadline=None, max_examples=150, derandomize=True)
@given(JUMBLES)
def test_any_jumble_inside_a_card(text):
    check(read_text, f"{HEAD}ring tank on spine\n  wall {text}\nmat 300 x 300\n")


@settings(deadline=None, max_examples=200, derandomize=True)
@given(st.binary(max_size=200))
def test_any_bytes(tmp_path_factory, data):
    script = tmp_path_factory.getbasetemp() / "bytes.card"
    script.write_bytes(data)
    check(read, script)


@pytest.mark.parametrize(
    "line",
    [
        "(" * 100_000,
        "(" * 20_000 + "1" + ")" * 20_000,
        "-" * 100_000 + "1",
        "- (" * 10_000 + "1" + ")" * 10_000,
        "min(1, " * 10_000 + "1" + ")" * 10_000,
        "1" + " + 1" * 20_000,
        "1" + " * -1" * 20_000,
        "1" + " -1" * 20_000,
        "1 " * 20_000,
        '"' * 100_001,
        "#22304a " * 10_000,
        "on a " * 10_000,
    ],
    ids=lambda line: line[:8],
)
def test_endless_lines(line):
    check(read_text, f"{HEAD}reef a\n  wall {line}\n")
    check(read_text, f"{HEAD}prefer largest {line}\n")


def test_ever_deeper_indentation():
    text = HEAD + "".join(" " * depth + "wall 3\n" for depth in range(1300))
    with pytest.raises(Refused) as refused:
        read_text(text)
    # The first line stands at the margin and is no block; the third is deeper than the second.
    assert [problem.code for problem in refused.value.problems] == ["syntax-error", "uneven-indentation"]


def test_hundred_layers_are_read_and_one_more_is_not():
    def script(layers):
        return f"{HEAD}prefer largest {'(' * layers}1{')' * layers}\n"

    assert read_text(script(100)).prefers
    with pytest.raises(Refused, match="1 problem"):
        read_text(script(101))


def test_errors_in_a_large_script_come_to_an_end():
    text = HEAD + "ring tank on\n" * 30_000
    passes = BUDGET // len(text) + 1
    with pytest.raises(Refused) as refused:
        read_text(text)
    assert {problem.code for problem in refused.value.problems} == {"syntax-error"}
    assert len(refused.value.problems) == passes


def test_every_error_of_an_ordinary_script_is_found():
    text = HEAD + "ring tank on\n" * 50
    with pytest.raises(Refused) as refused:
        read_text(text)
    assert len(refused.value.problems) == 50


def test_parser_is_built_once():
    assert parser() is parser()


def test_the_grammar_has_no_conflicts():
    """Lark settles shift/reduce conflicts silently unless it is told to be strict about all of them."""
    log = io.StringIO()
    handler, level = logging.StreamHandler(log), logger.level
    logger.addHandler(handler)
    logger.setLevel(logging.DEBUG)
    try:
        Lark(parser().source_grammar, parser="lalr", postlex=Margin(), start="script", debug=True)
        Lark('start: a | b a\na: "x" b?\nb: "x"\n', parser="lalr", debug=True)  # one that has a conflict
    finally:
        logger.removeHandler(handler)
        logger.setLevel(level)
    assert log.getvalue().count("Shift/Reduce") == 1, "only the second, which shows that they are logged"


def test_importing_the_grammar_does_not_load_the_parser():
    code = "import sys, foldwright.grammar; sys.exit('lark' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_a_card_is_read_quickly():
    text = HEAD + "".join(f"ring tank{number} on spine\n  wall 50 to 80\n" for number in range(100))
    read_text(text)
    start = time.process_time()
    read_text(text)
    # About 0.05 s on an ordinary machine; the bound is wide because test machines are shared.
    assert time.process_time() - start < 2


def test_units_of_the_grammar_are_those_of_the_table():
    grammar = parser().source_grammar
    assert grammar.count("(?:" + "|".join(unit for unit in UNITS) + ")") == 2
    assert set(MM_PER_UNIT) < set(UNITS)
