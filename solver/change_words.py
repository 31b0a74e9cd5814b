"""Changes of a script in words: what to write, in which line, and what that changes."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from foldwright.grammar import design as ast
from foldwright.grammar.source import Span
from foldwright.solver.notation import decimal, mixed, terminates
from foldwright.solver.practice import Habit
from foldwright.solver.rebinding import Change, Statement, habit_line
from foldwright.solver.words import amount
from foldwright.solver.written import NamedPaper, Written


def words(changes: Sequence[Change], design: ast.Design) -> str:
    """What to write instead; of several changes all of them, to be made together."""
    pieces: dict[int, list[Change]] = {}
    for change in changes:
        assert not isinstance(change.what, Habit)
        pieces.setdefault(change.what.shown.start, []).append(change)
    told = []
    for group in pieces.values():
        what = group[0].what
        if isinstance(what, Statement):
            told.append(f"`{what.text}` as a new line below line {group[0].line} ({what.meaning})")
            continue
        shown = what.shown  # type: ignore[union-attr]
        differences = ", ".join(_difference(change) for change in group)
        told.append(f"`{_changed(shown, group)}` in line {group[0].line} ({differences})")
    return "write " + ", and ".join(told)


def hint_words(change: Change, unit: str) -> str:
    """A habit that the script could set otherwise."""
    habit, value = change.what, change.value
    assert isinstance(habit, Habit)
    assert isinstance(value, Fraction)
    if habit.dimension == "area":
        before, after = decimal(habit.value), f"{decimal(value)} mm²"
    else:
        before, after = (amount(float(each), habit.dimension == "angle", unit) for each in (habit.value, value))
    return f"or, if your paper and glue allow it, add `{habit_line(habit, value)}` ({habit.meaning}: {before} -> {after})"


def _changed(shown: Span, changes: Sequence[Change]) -> str:
    """A piece of the script with some changes made in it, on one line."""
    text = shown.text
    for start, end, new in sorted((change.edit for change in changes), reverse=True):
        text = text[: start - shown.start] + new + text[end - shown.start :]
    return " ".join(text.split())


def _difference(change: Change) -> str:
    if isinstance(change.what, NamedPaper):
        return f"the paper of {change.what.owner}: {change.what.name} -> {change.value}"
    assert isinstance(change.what, Written)
    assert isinstance(change.value, Fraction)
    unit = change.what.unit
    after = _plain(change.value, unit) + (unit if unit in ("", "°") else f" {unit}")
    return f"{change.what.short} {_plain(change.what.value, unit)} -> {after}"


def _plain(value: Fraction, unit: str) -> str:
    return decimal(value) if unit != "in" and terminates(value) else mixed(value)
