"""What limits a solved card: for each wish the rules that stop it, and what other numbers of the script would buy.

The wishes before it are held at what they come to. Then the model in which the wish comes to one grain more has no answer,
and a smallest set of its rules that cannot hold together tells what stops the wish: without any one of them the rest of the
set lets it go further. A number of the script can only help if the wish can go further while that number is free
(`freeing.py`); what a step of it buys is found by solving the script with the other value written in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from time import monotonic

from foldwright.grammar.problem import Refused
from foldwright.grammar.problems_card import Told
from foldwright.solver.bind import Bound, bind
from foldwright.solver.conflict_words import told
from foldwright.solver.engine import solve
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.propagate import TimeUp
from foldwright.solver.engine.questions import Questions
from foldwright.solver.expression import variables
from foldwright.solver.model import Conflict, Kind, Model, Rule, Solution, WishResult
from foldwright.solver.wishes import better, kept
from foldwright.solver.written import PRACTICE, Written, edited
from foldwright.solver.written_numbers import numbers

STEPS = (1, 2, 4, 10)  # of a number, tried until it buys something
_QUESTION = 400  # nodes for the question whether a number, or a step of it, can help
_COVER = Fraction(1)  # mm; a cover is not cut to half millimetres


@dataclass(frozen=True)
class Gain:
    """What another value of a number buys: the value in the number's own unit, and what the wish comes to then."""

    number: Written
    value: Fraction
    reached: Fraction
    proved: bool  # that it buys no more


@dataclass(frozen=True)
class Limit:
    """What stops one wish: a smallest set of rules, told in words, and what would help, the most for the least first.

    `others` counts further smallest sets that were met: the wish goes further only where each of them gives way. `earlier`
    are the texts of wishes before it that are in the set: they are kept at their best. `undecided` counts steps of numbers of
    which the search could not tell soon enough whether they help. `silent` tells why nothing is said.
    """

    result: WishResult
    rules: tuple[Rule, ...] = ()
    told: tuple[Told, ...] = ()
    earlier: tuple[str, ...] = ()
    others: int = 0
    gains: tuple[Gain, ...] = ()
    undecided: int = 0
    silent: str = ""

    @property
    def yours(self) -> bool:
        """True if a rule of the designer's own is in the set."""
        return any(rule.kind is Kind.DESIGNER for rule in self.rules)


def limits(bound: Bound, results: Sequence[WishResult], seconds: float | None = None,
           progress: Callable[[str], None] | None = None) -> tuple[Limit, ...]:
    """What limits each wish of a card, in their order; `results` are what its wishes came to.

    Without a limit of `seconds` it depends on the card alone.
    """
    search = _Limits(bound, results, None if seconds is None else monotonic() + seconds)
    found = []
    for n, result in enumerate(results):
        if progress:
            progress(f"looking for what limits {result.wish.text}")
        found.append(search.limit(n))
    return tuple(found)


class _Limits:
    """The work of `limits`."""

    def __init__(self, bound: Bound, results: Sequence[WishResult], deadline: float | None) -> None:
        self.bound, self.results, self.deadline = bound, results, deadline
        self.unit = bound.design.unit or "mm"
        self.undecided = 0
        self.written = numbers(bound.design)
        self.free = bind(bound.design, self.written)

    def limit(self, n: int) -> Limit:
        """What limits the wish at a place in the order."""
        result = self.results[n]
        if not result.proved:
            return Limit(result, silent="it is not proved that it cannot go further")
        self.undecided = 0
        held = [kept(earlier.wish, earlier.value, self.unit) for earlier in self.results[:n]]
        more = better(result.wish, result.value, self.unit)
        model = Model(self.bound.model.variables, (*self.bound.model.rules, *held, more))
        try:
            outcome = solve(model, self._left())
        except TimeUp:
            outcome = None
        if not isinstance(outcome, Conflict):
            return Limit(result, silent="the time was over before the rules that stop it were found")
        rules = tuple(rule for rule in outcome.sets[0] if rule is not more)
        words = told(outcome.sets[0], model, self.unit)
        stops = tuple(each for rule, each in zip(outcome.sets[0], words, strict=True) if rule not in (more, *held))
        earlier = tuple(each.wish.text for each, rule in zip(self.results, held, strict=False) if rule in rules)
        others = len(outcome.sets) - 1 + sum(len(group) for group in outcome.others)
        gains: list[Gain] = []
        silent = ""
        try:
            gains.extend(self._gains(n, [rules, *(one for group in outcome.others for one in group)]))
        except TimeUp:
            silent = "the time was over before all that helps was found"
        gains.sort(key=lambda gain: (-self._worth(gain, result), gain.number.at.start))
        return Limit(result, rules, stops, earlier, others, tuple(gains), self.undecided, silent)

    def _left(self) -> float | None:
        left = None if self.deadline is None else self.deadline - monotonic()
        if left is not None and left <= 0:
            raise TimeUp
        return left

    # ---- what would help

    def _gains(self, n: int, sets: Sequence[Sequence[Rule]]) -> Iterator[Gain]:
        """For each number that can help, the first of the `STEPS` up and down that buys something."""
        for number in self._helpful(n, sets):
            base = ceil(_COVER / (number.step * number.size)) if number.owner in ("cover.width", "cover.height") else 1
            for sense, room in ((1, number.up), (-1, number.down)):
                for steps in STEPS:
                    if steps * base > room:
                        break
                    gain = self._tried(n, number, number.moved(sense * steps * base))
                    if gain is not None:
                        yield gain
                        break

    def _helpful(self, n: int, sets: Sequence[Sequence[Rule]]) -> Iterator[Written]:
        """The numbers without which the wish can go further, and those of practice, which decide what rules there are.

        Only a number that changes a rule of every smallest set can help.
        """
        model = self.free.model
        wishes = {wish.text: wish for wish in model.wishes}
        held = [kept(wishes[earlier.wish.text], earlier.value) for earlier in self.results[:n]]
        more = better(wishes[self.results[n].wish.text], self.results[n].value)
        named = {rule.name: rule for rule in model.rules}
        changing = [{v.name for rule in (*(named[one.name] for one in members if one.name in named), *held, more)
                     for side in (rule.left, rule.right) for v in variables(side)} for members in sets]
        within = [rule for freed in self.free.freed for rule in freed.within]
        rules = (*model.rules, *held, more, *within)
        questions = Questions(Machine(Model(model.variables, rules)), self.deadline)
        place = {rule: number for number, rule in enumerate(rules)}
        always = set(range(len(rules))) - {place[rule] for rule in within}
        for freed in self.free.freed:
            asked = always - {place[freed.kept]} | {place[rule] for rule in freed.within}
            if all(freed.steps.name in names for names in changing) and questions.possible(asked, _QUESTION) is not False:
                yield freed.number
        yield from (number for number in self.written if number.role == PRACTICE)

    def _tried(self, n: int, number: Written, value: Fraction) -> Gain | None:
        """What the wish comes to with another value written in, if that is better."""
        result, wish_text = self.results[n], self.results[n].wish.text
        try:
            changed = bind(edited(self.bound.design, [number.edit(value)])).model
        except Refused:
            return None
        wishes = {wish.text: wish for wish in changed.wishes}
        held = [kept(wishes[earlier.wish.text], earlier.value) for earlier in self.results[:n]]
        model = Model(changed.variables, (*changed.rules, *held, better(wishes[wish_text], result.value)), (wishes[wish_text],))
        machine = Machine(model)  # asked first: a change that buys nothing needs no explanation
        answer = not machine.empty and Questions(machine, self.deadline).possible(range(len(model.rules)), _QUESTION)
        self.undecided += answer is None
        if not answer:
            return None
        outcome = solve(model, self._left())
        if not isinstance(outcome, Solution) or not outcome.wishes:
            return None
        reached = outcome.wishes[0]
        return Gain(number, value, reached.value, reached.proved)

    @staticmethod
    def _worth(gain: Gain, result: WishResult) -> Fraction:
        """How much of the wish is bought for how much of the number, both relative to what they are."""
        bought = abs(gain.reached - result.value) / (abs(result.value) or result.wish.grain)
        return bought / (abs(gain.value - gain.number.value) / (abs(gain.number.value) or gain.number.step))
