"""Text → syntax tree, going on after errors.

This module imports lark and is itself imported only when a script is parsed, so that commands that parse
nothing start fast.

A syntax error concerns one line. The line is taken out (a setting is blanked, a block's head is replaced by a
stand-in so that the lines below it are still read), and the text is parsed again until nothing is wrong.
Positions never change. Every error costs a pass, so a budget of characters ends the search in huge files.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedInput, UnexpectedToken
from lark.indenter import Indenter

from foldwright.grammar.expected import syntax_problem
from foldwright.grammar.layout import BLANKS, blanked, first_word
from foldwright.grammar.problem import Problem
from foldwright.grammar.source import Source

# Characters parsed in all passes over one script: hundreds of errors in a script of a few pages, two in the
# largest.
BUDGET = 2_000_000
STAND_IN = "x"


class Margin(Indenter):
    """Tells the parser which lines are indented; how far does not matter here (see layout.py)."""

    NL_type = "_NL"
    OPEN_PAREN_types: list[str] = []  # noqa: RUF012 (the base class wants a list)
    CLOSE_PAREN_types: list[str] = []  # noqa: RUF012
    INDENT_type = "_INDENT"
    DEDENT_type = "_DEDENT"
    tab_len = 1

    def handle_NL(self, token: Token):  # type: ignore[no-untyped-def]
        """Pass the line end on, followed by an indent or dedent where the margin is left or reached again."""
        yield token
        indented = not token.endswith("\n")
        if indented and len(self.indent_level) == 1:
            self.indent_level.append(1)
            yield Token.new_borrow_pos(self.INDENT_type, "", token)
        elif not indented and len(self.indent_level) == 2:
            self.indent_level.pop()
            yield Token.new_borrow_pos(self.DEDENT_type, "", token)


@cache
def parser() -> Lark:
    """The parser of whole scripts, built once."""
    grammar = files("foldwright.grammar").joinpath("card.lark").read_text(encoding="utf-8")
    return Lark(grammar, parser="lalr", lexer="contextual", postlex=Margin(), start=["script", "change"],
                propagate_positions=True, maybe_placeholders=True)


def parse(source: Source, text: str) -> tuple[Tree[Token] | None, list[Problem], dict[int, str]]:
    """Tree of a text, its syntax problems, and the first words of heads that could not be read, by offset.

    `text` is the source's text, perhaps with parts blanked. A head that could not be read stands in the tree
    as a block called `x` at the same offset. There is no tree if the budget is spent before all is read.
    """
    problems: list[Problem] = []
    broken: dict[int, str] = {}
    text += "\n"
    spent = 0
    while spent <= BUDGET:
        spent += len(text)
        try:
            return parser().parse(text, start="script"), problems, broken
        except UnexpectedInput as error:
            at = error_offset(error)
            problems.append(syntax_problem(source, text, at, error))
            text = _without_line(text, at, broken)
    return None, problems, broken


def error_offset(error: UnexpectedInput) -> int:
    """Where a parser error is, as an offset into the text."""
    at: int | None = error.token.start_pos if isinstance(error, UnexpectedToken) else error.pos_in_stream
    assert at is not None, "lark gives every error a place"
    return at


def _without_line(text: str, at: int, broken: dict[int, str]) -> str:
    """The text with the faulty line blanked, or replaced by a stand-in if it heads a block."""
    start = text.rfind("\n", 0, at) + 1
    end = text.find("\n", at)
    line = text[start:end]
    text = blanked(text, start, end)
    if line.startswith(tuple(BLANKS)):
        return text
    broken[start] = first_word(line)
    return text[:start] + STAND_IN + text[start + 1 :]
