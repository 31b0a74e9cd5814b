"""Problems as text for a terminal, and as plain values for JSON.

    error[name-twice]: the name `ink` is given twice
      --> tide-pool.card:9:7
       9 | paper ink  colour #9fc6c9
         |       ^^^
      first given here:
       8 | paper ink  colour #22304a
         |       ---
      help: give one of the two another name, such as `ink2`

Everything that comes from a script or a path is made printable first, so that a file cannot steer the
terminal.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator

from foldwright.grammar.problem import Label, Problem, Severity
from foldwright.grammar.source import Span

WIDTH = 160  # columns of a source line that are shown; a longer one is cut round the place
TAB = 4
_CUT = "..."

_BOLD, _PLAIN = "\x1b[1m", "\x1b[0m"
_TINTS = {Severity.ERROR: "\x1b[1;31m", Severity.WARNING: "\x1b[1;33m", Severity.NOTE: "\x1b[1;36m"}
_HELP_TINT = "\x1b[32m"


def render(problems: Iterable[Problem], colour: bool = False) -> str:
    """All problems as text, by order, file and place, each once; `colour` adds terminal colours."""
    return "\n".join(_one(problem, colour) for problem in in_order(problems))


def in_order(problems: Iterable[Problem]) -> list[Problem]:
    """Problems by their order, then file and place, without repeats; those of no place come first."""
    once: dict[tuple[str, int, int, str, str], Problem] = {}
    for problem in problems:
        at = problem.at
        place = ("", -1, -1) if at is None else (at.source.name, at.start, at.end)
        once.setdefault((*place, problem.code, problem.wrong()), problem)
    return [problem for _, problem in sorted(once.items(), key=lambda item: (item[1].order(), *item[0][:3]))]


def as_json(problem: Problem) -> dict[str, object]:
    """A problem as plain values; lines and columns count from one, the end is one past the last."""
    return {
        "code": problem.code,
        "severity": str(problem.severity),
        **_where(problem.at),
        "message": problem.wrong(),
        "help": list(problem.hints()),
        "related": [{**_where(label.at), "message": label.text} for label in problem.related()],
        **problem.facts(),
    }


def _where(at: Span | None) -> dict[str, object]:
    if at is None:
        return dict.fromkeys(("file", "line", "column", "end_line", "end_column"))
    end_line, end_column = at.source.place(at.end)
    start_line, start_column = at.source.place(at.start)
    return {
        "file": at.source.name,
        "line": start_line,
        "column": start_column,
        "end_line": end_line,
        "end_column": end_column,
    }


def _one(problem: Problem, colour: bool) -> str:
    tint = _TINTS[problem.severity]
    title = f"{problem.severity}[{problem.code}]"
    lines = [f"{_tinted(title, tint, colour)}: {_tinted(printable(problem.wrong()), _BOLD, colour)}"]
    related = problem.related()
    spans = [label.at for label in related] + ([problem.at] if problem.at else [])
    gutter = max((len(str(span.line)) for span in spans), default=1)
    if problem.at is not None:
        lines.append(f"  --> {_place(problem.at)}")
        lines.extend(_excerpt(problem.at, "^", gutter, tint if colour else ""))
    for label in related:
        lines.extend(_related(label, problem.at, gutter, colour))
    lines.extend(f"  {_tinted('help', _HELP_TINT, colour)}: {printable(hint)}" for hint in problem.hints())
    return "\n".join(lines) + "\n"


def _related(label: Label, primary: Span | None, gutter: int, colour: bool) -> Iterator[str]:
    """A second place; its file is named only if it is another one. What belongs to the first place is not shown again."""
    elsewhere = primary is None or primary.source.name != label.at.source.name
    if label.at == primary and not elsewhere:
        yield f"  {printable(label.text)}"
        return
    yield f"  {printable(label.text)}:"
    if elsewhere:
        yield f"  --> {_place(label.at)}"
    yield from _excerpt(label.at, "-", gutter, _TINTS[Severity.NOTE] if colour else "")


def _place(at: Span) -> str:
    return f"{printable(at.source.name)}:{at.line}:{at.column}"


def _tinted(text: str, tint: str, colour: bool) -> str:
    return f"{tint}{text}{_PLAIN}" if colour else text


def _excerpt(at: Span, mark: str, gutter: int, tint: str) -> Iterator[str]:
    """The line of a place, and below it the marks; of a place over several lines, the first line only."""
    number, column = at.source.place(at.start)
    line = at.source.line(number)
    end_line, end_column = at.source.place(at.end)
    last = len(line) if end_line > number else min(end_column - 1, len(line))
    text, start, length = _window(line, min(column - 1, len(line)), last)
    more = f" (to line {end_line})" if end_line > number else ""
    marks = mark * max(length, 1)
    yield f"  {number:>{gutter}} | {text}".rstrip()
    yield f"  {'':>{gutter}} | {' ' * start}{_tinted(marks, tint, bool(tint))}{more}"


def _window(line: str, start: int, end: int) -> tuple[str, int, int]:
    """The part of a line that is shown, with the first column and the number of columns of a place in it.

    `start` and `end` count characters of the line; columns count what the terminal shows.
    """
    cells = [_cell(character) for character in line]
    if sum(map(columns, cells)) <= WIDTH:
        return "".join(cells), _columns(cells[:start]), _columns(cells[start:end])
    room = WIDTH - 2 * len(_CUT)
    first = _step_back(cells, start, room // 3)
    last = first
    used = 0
    while last < len(cells) and used + columns(cells[last]) <= room:
        used += columns(cells[last])
        last += 1
    head = _CUT if first else ""
    tail = _CUT if last < len(cells) else ""
    shown = head + "".join(cells[first:last]) + tail
    return shown, len(head) + _columns(cells[first:start]), _columns(cells[start : min(end, last)])


def _step_back(cells: list[str], start: int, room: int) -> int:
    """The first of the cells before `start` that fit into some columns."""
    while start > 0 and room >= columns(cells[start - 1]):
        start -= 1
        room -= columns(cells[start])
    return start


def printable(text: str) -> str:
    """A text with everything that a terminal might act on, or not show, written out as an escape."""
    return "".join(_cell(character) if character != "\t" else " " for character in text)


def _cell(character: str) -> str:
    """What stands for one character of a line."""
    if character == "\t":
        return " " * TAB
    if character.isprintable():
        return character
    code = ord(character)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def _columns(cells: list[str]) -> int:
    return sum(map(columns, cells))


def columns(text: str) -> int:
    """Columns that a terminal gives a printable text: two for a wide character, none for a combining mark."""
    if text.isascii():
        return len(text)
    return sum(_columns_of(character) for character in text)


def _columns_of(character: str) -> int:
    if unicodedata.combining(character):
        return 0
    return 2 if unicodedata.east_asian_width(character) in ("W", "F") else 1
