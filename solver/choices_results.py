"""What is known of one way to decide the choices of a design, and the best way that was found."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from foldwright.grammar.problem import Problem
from foldwright.solver.bind import Bound
from foldwright.solver.choices import Gone, Picks
from foldwright.solver.model import Solution
from foldwright.solver.refutation import Refutation

# what keeps the best answer from being made; nothing if it can be
Accept = Callable[[Bound, Solution], Sequence[Problem]]


@dataclass(frozen=True)
class Unfit:
    """A way to decide that gives no card at all: something cannot stand where it is put, or names what is not there."""

    problems: tuple[Problem, ...]


@dataclass(frozen=True)
class Solved:
    """The best answer of one way to decide."""

    solution: Solution


@dataclass(frozen=True)
class NoBetter:
    """A way to decide that cannot beat the best answer so far; whether it has an answer was not asked."""


@dataclass(frozen=True)
class Open:
    """A way to decide that was given up for the time limit."""


Result = Refutation | Unfit | Solved | NoBetter | Open


@dataclass(frozen=True)
class Found:
    """A way to decide with its bound plain design, its answer, and what it leaves out."""

    picks: Picks
    bound: Bound
    solution: Solution
    gone: Gone
    rank: tuple[Any, ...]
