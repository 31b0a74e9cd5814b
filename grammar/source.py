"""Where a piece of a script stands: the text with its file, and a span of characters in it."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path


@dataclass(frozen=True)
class Source:
    """One script as it was read.

    `name` is shown in messages (the path as the user gave it); `folder` is where artwork is looked for.
    """

    name: str
    text: str
    folder: Path = field(default=Path("."), compare=False)

    @cached_property
    def _starts(self) -> list[int]:
        starts = [0]
        for offset, character in enumerate(self.text):
            if character == "\n":
                starts.append(offset + 1)
        return starts

    def place(self, offset: int) -> tuple[int, int]:
        """Line and column of a character offset, both counted from one."""
        line = bisect_right(self._starts, offset) - 1
        return line + 1, offset - self._starts[line] + 1

    def line(self, number: int) -> str:
        """Text of a line (counted from one) without its line end; empty past the end."""
        if number > len(self._starts):
            return ""
        start = self._starts[number - 1]
        end = self._starts[number] - 1 if number < len(self._starts) else len(self.text)
        return self.text[start:end].rstrip("\r")


@dataclass(frozen=True, slots=True)
class Span:
    """Characters `start` (included) to `end` (excluded) of a source."""

    start: int
    end: int
    source: Source = field(compare=False, repr=False)

    @property
    def line(self) -> int:
        """Line of the first character, counted from one."""
        return self.source.place(self.start)[0]

    @property
    def column(self) -> int:
        """Column of the first character, counted from one."""
        return self.source.place(self.start)[1]

    @property
    def text(self) -> str:
        """The characters themselves."""
        return self.source.text[self.start : self.end]

    def until(self, other: Span) -> Span:
        """The span from the start of this one to the end of another."""
        return Span(self.start, max(self.end, other.end), self.source)
