"""An answer is checked once more at its grid point, every rule and every wish, without floats.

The search works with padded floats and asks `evaluate.holds` for the last word. This check uses neither: it works the
rules out in whole numbers of 2**-128, rounded outward (`enclosure.py`), and in exact fractions where that is too close to
call. A linear rule must hold exactly, another within its tolerance. A rule that misses it by less than floats can be off
at this very point (a proved bound, mostly 1e-13 mm) was a matter of rounding and is let pass; beyond that, the answer is
wrong and no card is made of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import partial
from math import inf

from foldwright.solver.enclosure import Enclosure, Enclosures, fixed, minus, number
from foldwright.solver.evaluate import TOLERANCE, Undefined, evaluate, is_linear
from foldwright.solver.expression import Variable
from foldwright.solver.memory import Memory
from foldwright.solver.model import Model, Rule, Solution, WishResult
from foldwright.solver.proof import ProofFailed

_TOLERANCE = fixed(Fraction(TOLERANCE)) + 1


def recheck(model: Model, solution: Solution, memory: Memory | None = None) -> int:
    """Check a solution; returns how many things were looked at. Raises ProofFailed (an internal error) at the first fault."""
    looked_at = 0
    for fault in Recheck(model, solution, memory or Memory()).faults():
        if fault:
            raise ProofFailed("answer checked without floats", fault)
        looked_at += 1
    return looked_at


class Recheck:
    """The checks of one solution."""

    def __init__(self, model: Model, solution: Solution, memory: Memory) -> None:
        self.model, self.solution, self.values = model, solution, solution.values
        self.sound, self.said = memory.sound, memory.said(model, solution)
        self.enclosures = Enclosures(solution.values)

    def faults(self) -> Iterator[str]:
        """A sentence for every fault, an empty one for everything that is as it should be."""
        for variable in self.model.variables:
            yield self._off_the_grid(variable)
        for rule, key in zip(self.model.rules, self.said, strict=True):
            sound = self.sound.get(key, partial(self._is_sound, rule))
            yield "" if sound else self._tried(self._broken, rule)
        for result in self.solution.wishes:
            yield self._tried(self._mismeasured, result)

    def _is_sound(self, rule: Rule) -> bool:
        return not self._tried(self._broken, rule)

    def _tried(self, check: Callable[..., str], subject: Rule | WishResult) -> str:
        name = subject.name if isinstance(subject, Rule) else f"the wish {subject.wish.text}"
        try:
            return check(subject)
        except Undefined as undefined:
            return f"{name} has no value: {undefined}"

    def _off_the_grid(self, variable: Variable) -> str:
        if variable.name not in self.values:
            return f"{variable.name} has no value"
        value = self.values[variable.name]
        count = value / variable.step
        if count.denominator != 1 or not variable.low <= count <= variable.high:
            return f"{variable.name} is {value}, not on its grid of {variable.step} or out of its range"
        return ""

    def _broken(self, rule: Rule) -> str:
        apart = minus(self.enclosures.of(rule.left), self.enclosures.of(rule.right))
        # Positive is too much: what the enclosure leaves open is not held against the answer, except in linear rules.
        beyond = {"<=": apart.low, ">=": -apart.high}.get(rule.operator, max(apart.low, -apart.high))
        settled = {"<=": apart.high, ">=": -apart.low}.get(rule.operator, max(apart.high, -apart.low)) <= 0
        if settled:
            return ""
        if is_linear(rule.left) and is_linear(rule.right):
            exact = Fraction(evaluate(rule.left, self.values)) - Fraction(evaluate(rule.right, self.values))
            kept = {"<=": exact <= 0, ">=": exact >= 0}.get(rule.operator, exact == 0)
            return "" if kept else f"{rule.name} is broken by {float(abs(exact))}"
        room = _room(apart)
        return f"{rule.name} is broken by {number(beyond)}" if room is not None and beyond > room else ""

    def _mismeasured(self, result: WishResult) -> str:
        """A wish counts whole grains, rounded to the worse side; of a largest one everything is turned round."""
        wish, sign = result.wish, -1 if result.wish.largest else 1
        if (result.value / wish.grain).denominator != 1:
            return f"the wish {wish.text} is {result.value}, no multiple of {wish.grain}"
        if sign * result.value < sign * result.bound:
            return f"the wish {wish.text} is {float(result.value)}, better than the bound {float(result.bound)}"
        if is_linear(wish.target):
            exact = sign * Fraction(evaluate(wish.target, self.values))
            kept = exact <= sign * result.value < exact + wish.grain
            return "" if kept else f"the wish {wish.text} comes to {float(sign * exact)}, not to {float(result.value)}"
        return self._missed(result, self.enclosures.of(wish.target), sign)

    @staticmethod
    def _missed(result: WishResult, target: Enclosure, sign: int) -> str:
        room = _room(target)
        if room is None:
            return ""
        low, high = sorted((sign * target.low, sign * target.high))
        counted, grain = fixed(sign * result.value), fixed(result.wish.grain)
        if counted < low - room or counted - grain > high + room:
            return f"the wish {result.wish.text} comes to {number(sign * low)}, not to {float(result.value)}"
        return ""


def _room(value: Enclosure) -> int | None:
    """How far a value may miss its limit: the tolerance, and what floats are off by; None if that cannot be told."""
    return None if value.blur == inf else _TOLERANCE + fixed(Fraction(value.blur)) + 1
