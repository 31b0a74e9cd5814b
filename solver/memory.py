"""What is kept between checks of one design in a process that stays up: an edit then costs what it touches."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, field
from typing import Any

from foldwright.grammar.again import Statement
from foldwright.grammar.kept import Kept
from foldwright.solver.engine.answers import Answers
from foldwright.solver.engine.blueprint import shared
from foldwright.solver.model import Model, Solution
from foldwright.solver.stack import Sheet
from foldwright.solver.swing.memory import Memory as Swings


@dataclass
class Memory:
    """Kept results, each under everything that decides it, so that a check with a memory says what one without it says.

    One memory serves one design that is edited: beyond the last answers it keeps what the last two checks needed.
    `sides` are both sides and the slack of rules, `sound` the rules that were checked without floats; `sheets` lie in the
    closed stack; `proved` are things that the proof has looked at. `read` are statements of the script; `bound` are mechanisms
    by what they are told, and what they offer; `built` is what they come to: sizes, panels, poses, parts.
    """

    read: Kept[str, Statement] = field(default_factory=Kept)
    answers: Answers = field(default_factory=Answers)
    bound: Kept[Hashable, Any] = field(default_factory=Kept)
    built: Kept[Hashable, Any] = field(default_factory=Kept)
    sides: Kept[Hashable, tuple[float, float, float]] = field(default_factory=Kept)
    sound: Kept[Hashable, bool] = field(default_factory=Kept)
    sheets: Kept[bytes, Sheet] = field(default_factory=Kept)
    proved: Kept[Hashable, int] = field(default_factory=Kept)
    swings: Swings = field(default_factory=Swings)
    _last: tuple[Model, Solution, list[Hashable]] | None = field(default=None, repr=False)

    def turn(self) -> None:
        """Begin a new check."""
        for kept in (self.bound, self.built, self.sides, self.sound, self.sheets, self.proved):
            kept.turn()

    def said(self, model: Model, solution: Solution) -> list[Hashable]:
        """For each rule of a model, what it says about its values: equal for rules whose sides come to the same."""
        if self._last is None or self._last[0] is not model or self._last[1] is not solution:
            self._last = model, solution, _said(model, solution)
        return self._last[2]


def _said(model: Model, solution: Solution) -> list[Hashable]:
    plan = shared().plan(model)
    counts = {v.name: solution.values[v.name] / v.step for v in plan.declared if v.name in solution.values}
    places = {name: (count.numerator, count.denominator) for name, count in counts.items()}
    return [(planned.number, *[places.get(name) for name in planned.names]) for planned in plan.rules]
