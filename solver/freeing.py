"""Numbers of a script made unknown, so that one model tells of all other values that could stand there.

A number becomes its value plus so many grid steps of its own, and the steps are an unknown. One rule keeps them at 0, so
that the model says what the script says; without that rule, the number is free.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from foldwright.grammar import design as ast
from foldwright.grammar.source import Source
from foldwright.solver.evaluate import Undefined, evaluate
from foldwright.solver.expression import Const, Expr, Variable, variables
from foldwright.solver.model import Kind, Rule
from foldwright.solver.written import FIXED, INSIDE, LEAST, MAT, MOST, PLACE, REQUIRE, Written

MARK = "~"  # begins the names of steps; no script can write it
CAN_BE_FREE = (FIXED, LEAST, MOST, INSIDE, PLACE, REQUIRE, MAT)  # what else is written decides which rules there are


@dataclass(frozen=True)
class Freed:
    """A number made unknown: `steps` counts how many grid steps it is away from what is written, `kept` asks for none.

    `within` are further rules for whoever drops `kept`: the usual range of the setting that is computed with the number.
    They are not in the model.
    """

    number: Written
    steps: Variable
    kept: Rule
    within: tuple[Rule, ...] = ()

    def value(self, steps: int) -> Fraction:
        """The number so many steps away, in its own unit."""
        return self.number.moved(steps)


class Freedom:
    """The numbers of one script that are made unknown."""

    def __init__(self, source: Source, numbers: Sequence[Written]) -> None:
        self.source = source
        self.numbers = [number for number in numbers if number.role in CAN_BE_FREE]
        self.steps = {number.at.start: Variable(f"{MARK}{number.at.start}", Fraction(1), -number.down, number.up, Fraction(0))
                      for number in self.numbers}
        self.ends = {number.at.start: number for number in self.numbers}

    def expression(self, node: ast.Expression) -> Expr | None:
        """What a number of the script stands for, in the unit written; None if it is not free."""
        number = self.ends.get(node.at.start)
        if number is None or node.at.source is not self.source or node.at.end != number.at.end:
            return None
        return Const(number.value) + Const(number.step) * self.steps[node.at.start]

    def freed(self, within: dict[str, tuple[Rule, ...]]) -> tuple[Freed, ...]:
        """All with the rules that keep them; `within` holds the usual range of settings, by owner."""
        out = []
        for number in self.numbers:
            steps = self.steps[number.at.start]
            kept = Rule(f"{steps.name}.kept", Kind.DESIGNER, steps, "=", Const(Fraction(0)), f"{number.what} is as written",
                        (number.at,))
            out.append(Freed(number, steps, kept, within.get(number.owner, ()) if number.role in (INSIDE, LEAST, MOST) else ()))
        return tuple(out)


def as_written(expr: Expr) -> Fraction | None:
    """The number that an expression stands for while all numbers are as written; None if it depends on a dimension."""
    if isinstance(expr, Const):
        return expr.value
    names = [variable.name for variable in variables(expr)]
    if not all(name.startswith(MARK) for name in names):
        return None
    try:
        value = evaluate(expr, dict.fromkeys(names, Fraction(0)))
    except Undefined:
        return None
    return value if isinstance(value, Fraction) else None
