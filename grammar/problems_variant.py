"""Problems of variants that a command asks for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from foldwright.grammar.problem import Label, Problem
from foldwright.grammar.problems_value import suggested
from foldwright.grammar.source import Span


@dataclass(frozen=True)
class UnknownVariant(Problem):
    """A command asks for a variant that the script does not have.

    A variant is a block of the script that says what another version of the card changes:

        variant small
          cover 100 x 150
          paper weed caliper 0.2

    The nearest known name is suggested.
    """

    code: ClassVar[str] = "unknown-variant"
    name: str
    known: tuple[str, ...]
    places: tuple[Span, ...] = ()

    def wrong(self) -> str:
        """Name it."""
        return f"this script has no variant called `{self.name}`"

    def hints(self) -> tuple[str, ...]:
        """The nearest, or how to write one."""
        if not self.known:
            return (f"write a block `variant {self.name}` with the lines that it changes, such as `mat 8 in x 11 in`",)
        return suggested(self.name, self.known)

    def related(self) -> tuple[Label, ...]:
        """Those that there are."""
        return tuple(Label(place, "a variant") for place in self.places)
