"""Problems: what is wrong with a script, where, and what to do about it.

Every fault a user can cause is one subclass of `Problem`. Its fields are the facts, its docstring is the page
that `foldwright explain CODE` prints, and its methods put the facts into words. Layout is done in `render.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum
from typing import ClassVar

from foldwright.grammar.source import Span


class Severity(StrEnum):
    """How bad a problem is: an error stops the build, a warning and a note do not."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Label:
    """A second place that belongs to a problem, with a few words on why."""

    at: Span
    text: str


@dataclass(frozen=True)
class Problem:
    """Base of all problems; subclasses set `code` and override `wrong` and `hints`."""

    at: Span | None

    code: ClassVar[str] = ""
    severity: ClassVar[Severity] = Severity.ERROR

    def __init_subclass__(cls) -> None:
        """Enter the class in the registry; a code stands for one fault and is never used twice."""
        if not cls.code:
            return
        if cls.code in _REGISTRY:
            raise TypeError(f"two problems share the code {cls.code}")
        _REGISTRY[cls.code] = cls

    def wrong(self) -> str:
        """What is wrong, in one sentence that makes sense alone."""
        raise NotImplementedError(f"{type(self).__name__} does not say what is wrong")

    def hints(self) -> tuple[str, ...]:
        """Things to do about it, the most likely first."""
        return ()

    def related(self) -> tuple[Label, ...]:
        """Other places that belong to the problem."""
        return ()

    def order(self) -> int:
        """Problems of a lower number are shown first, those of equal numbers by their place."""
        return 0

    def facts(self) -> dict[str, object]:
        """More plain values for the JSON of the problem."""
        return {}


_REGISTRY: dict[str, type[Problem]] = {}


def registry() -> dict[str, type[Problem]]:
    """All problems by code, sorted by code."""
    return dict(sorted(_REGISTRY.items()))


class Refused(Exception):
    """A stage found problems that stop it; it carries all of them."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__(f"{len(problems)} problem(s)")
        self.problems = tuple(problems)


def nearest(name: str, known: Sequence[str]) -> tuple[str, ...]:
    """Hints naming the known words most like `name`: none, one, or up to three."""
    near = get_close_matches(name, sorted(known), n=3, cutoff=0.5)
    if not near:
        return ()
    if len(near) == 1:
        return (f"did you mean `{near[0]}`?",)
    return ("did you mean one of " + ", ".join(f"`{word}`" for word in near) + "?",)
