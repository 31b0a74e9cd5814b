"""Syntax errors in plain words: what could have stood here, and advice for the common slips."""

from __future__ import annotations

import re

from lark.exceptions import UnexpectedInput, UnexpectedToken

from foldwright.grammar.problem import Problem
from foldwright.grammar.problems import BadText, SyntaxFault, UnknownUnit
from foldwright.grammar.source import Source, Span
from foldwright.grammar.units import UNITS

# Kinds of token in the order in which a message names them. Some stand for others: whoever may write a number
# may write any value, and where a value may end an operator may follow, which helps nobody.
_WORDS = {
    "NUMBER": "a value",
    "WORD": "a word",
    "DOTTED": "a name",
    "STRING": "a text in quotes",
    "COMPARE": "`<=`, `>=` or `=`",
    "X": "`x`",
    "ON": "a place such as `on reef`",
    "AND": "`and`",
    "BECAUSE": "`because`",
    "LPAR": "`(`",
    "RPAR": "`)`",
    "COMMA": "`,`",
    "_NL": "the end of the line",
    "PLUS": "an operator",
}
_OPERATORS = frozenset({"PLUS", "MINUS", "STAR", "SLASH"})
_STATEMENTS = frozenset({"CARD", "PAPER", "MAT"})
# Where the token on the left may stand, those on the right go without saying.
_COVERED = {
    "COLOUR": {"STRING", "ON", "X", "GRAIN"} | _OPERATORS,  # among the arguments of a setting
    "NUMBER": {"WORD", "DOTTED", "LPAR", "MINUS"},
    "DOTTED": {"WORD"},
}

_ADVICE = {
    "#": "leave a blank behind the `#` of a comment: six digits from 0-9 and a-f make a colour",
    "==": "equality is written with one `=`",
    ">": "write `>=`: on a grid of dimensions the two differ by one step at most",
    "<": "write `<=`: on a grid of dimensions the two differ by one step at most",
    "≥": "write `>=`",
    "≤": "write `<=`",
    "because": "only `require`, `practice` and `without` lines take a reason; put it behind a `#` as a comment",
    ";": "write one statement on each line",
    ":": "no colon is needed",
    "'": "text stands between double quotes",
    "“": "text stands between straight double quotes",
    "”": "text stands between straight double quotes",
    "^": "write a power as a product",
    "//": "a comment begins with `#`",
    "--": "put parentheses round a negative value: `- (-3)`",
}


def syntax_problem(source: Source, text: str, at: int, error: UnexpectedInput) -> Problem:
    """The problem for a parser error at an offset of `text`, which is the source's with parts blanked."""
    line_end = text.find("\n", at)
    rest = text[at:line_end].rstrip("\r")
    before = text[text.rfind("\n", 0, at) + 1 : at]
    found = _found(rest)
    accepted = _accepted(error)
    if found == '"' and not before[-1:].isdigit():
        advice = 'write `"` at its end, on the same line'
        return BadText(_span(source, at, rest), "this text", "is not closed", advice)
    if _is_word(error) and _meant_as_unit(before, found) and not accepted & {"WORD", "STRING"}:
        return UnknownUnit(_span(source, at, found), found, UNITS)
    named = f"`{found}`" if found else "the end of the line"
    return SyntaxFault(_span(source, at, found), named, _expected(accepted), _advice(before, rest))


def _span(source: Source, at: int, words: str) -> Span:
    return Span(min(at, len(source.text)), min(at + len(words), len(source.text)), source)


def _is_word(error: UnexpectedInput) -> bool:
    """Whether the place of the error holds a word that the language does not reserve."""
    return isinstance(error, UnexpectedToken) and error.token.type == "WORD"


def _accepted(error: UnexpectedInput) -> frozenset[str]:
    """Names of the tokens with which the parser could have gone on."""
    if isinstance(error, UnexpectedToken) and error.accepts:
        return frozenset(error.accepts)
    cursor = getattr(error, "interactive_parser", None)
    return frozenset(cursor.accepts()) if cursor is not None else frozenset()


def _found(rest: str) -> str:
    """The word, number, text or sign at the start of the rest of a line; empty at its end or a comment."""
    match = re.match(r'[\w.]+|"[^"]*"|#\w+|[<>=]=|//|--|[^\s\w]', rest)
    return match.group() if match else ""


def _meant_as_unit(before: str, found: str) -> bool:
    """True for a word of some length right behind a number; a single letter is more likely a slip for `x`."""
    return len(found) > 1 and found.isalpha() and bool(re.search(r"(?<![\w.])[0-9./]*[0-9][ \t]*$", before))


def _expected(accepted: frozenset[str]) -> tuple[str, ...]:
    """What could have stood here, in words."""
    if accepted >= _STATEMENTS:
        return ("a statement",)
    kinds = set(accepted)
    for kind, covered in _COVERED.items():
        if kind in kinds:
            kinds -= covered
    kinds = kinds - _OPERATORS or kinds
    return tuple(words for kind, words in _WORDS.items() if kind in kinds)


def _advice(before: str, rest: str) -> tuple[str, ...]:
    """Advice for a slip that is known, or nothing."""
    if before[-1:].isdigit() and re.match(r",[0-9]", rest):
        return ("write a decimal point: `0.5`",)
    if before[-1:].isdigit() and rest.startswith(('"', "'")):
        return ("write inches as `in`",)
    if re.match(r"optional\b", before):
        return ("`optional` stands in front of a mechanism: `optional vfold gull on spine`",)
    if re.match(r"or\b", rest):
        return ("keep one: `or` stands in the blocks of the cover and of mechanisms, as in `layers 3 by 3 or 4 by 4`",)
    if re.search(r"\bor[ \t]+$", before):
        return ("behind `or` stands a whole option: `wall 40 or 60`, `on spine or on quay.ridge`",)
    if rest.startswith("-") and re.search(r"[^\W\d]$", before):
        return ("names are written with letters, digits and `_`",)
    for slip, advice in _ADVICE.items():
        if rest.startswith(slip) or (len(slip) == 2 and before[-1:] + rest[:1] == slip):
            return (advice,)
    return ()
