"""Lines and their indentation: what stands at the margin, what belongs to it, and what is set unevenly.

Only two levels exist, so the parser is told no more than "at the margin" or "indented"; a wrong amount is
reported here and does not disturb the rest.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from foldwright.grammar.problem import Problem
from foldwright.grammar.problems import UnevenIndentation
from foldwright.grammar.source import Source, Span

BLANKS = " \t"


@dataclass(frozen=True, slots=True)
class Line:
    """A line that says something: where it starts and ends (without the line end), and how it is indented."""

    start: int
    end: int
    indent: str


def lines(text: str) -> Iterator[Line]:
    """All lines of a text except blank ones and those that hold only a comment."""
    start = 0
    while start < len(text):
        end = text.find("\n", start)
        end = len(text) if end < 0 else end
        content = text[start:end].rstrip("\r")
        body = content.lstrip(BLANKS)
        if body.strip("\r" + BLANKS) and not body.startswith("#"):
            yield Line(start, start + len(content), content[: len(content) - len(body)])
        start = end + 1


def blanked(text: str, start: int, end: int) -> str:
    """The text with blanks in place of some characters, so that all others keep their place."""
    return text[:start] + " " * (end - start) + text[end:]


def first_word(line: str) -> str:
    """The first word of a line that begins with one; only blanks and tabs end a word."""
    return line.replace("\t", " ").split(" ", 1)[0]


def check(source: Source) -> tuple[str, list[Problem]]:
    """The text without lines that belong to no statement, and the problems of indentation."""
    problems: list[Problem] = []
    stray_end = 0
    headed = uneven = False
    first: Line | None = None  # the line that sets the indentation of this block
    for line in lines(source.text):
        if not line.indent:
            headed, uneven, first = True, False, None
        elif not headed:
            if not stray_end:
                problems.append(_problem(source, line, None))
            stray_end = line.end
        elif first is None:
            first = line
        elif line.indent != first.indent and not uneven:
            problems.append(_problem(source, line, first))
            uneven = True
    text = source.text
    return (_without_lines(text, stray_end) if stray_end else text), problems


def _without_lines(text: str, end: int) -> str:
    """The text with everything up to `end` blanked, except line ends."""
    return "".join(character if character == "\n" else " " for character in text[:end]) + text[end:]


def _problem(source: Source, line: Line, first: Line | None) -> Problem:
    at = _content(source, line)
    if first is None:
        return UnevenIndentation(at, "but no statement stands above it", None)
    if line.indent.startswith(first.indent):
        how = "further than the lines around it"
    elif first.indent.startswith(line.indent):
        how = "less than the lines around it"
    else:
        how = "with other blanks or tabs than the lines around it"
    return UnevenIndentation(at, how, _content(source, first))


def _content(source: Source, line: Line) -> Span:
    """The first word of a line."""
    start = line.start + len(line.indent)
    return Span(start, start + len(first_word(source.text[start : line.end])), source)
