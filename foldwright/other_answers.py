"""Other answers to a script, each checked like its own: rules, swing and proof."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from time import monotonic

from foldwright.api import Checked, Script, design_of, jams, waived_too_much
from foldwright.differences import words
from foldwright.grammar import Refused
from foldwright.grammar import design as ast
from foldwright.grammar.problems import WouldJam
from foldwright.solver.alternatives import LEAST, SHARE, Alternatives, Answer, alternatives, traits_of
from foldwright.solver.answer import Progress, solve_model
from foldwright.solver.bind import Bound
from foldwright.solver.binding import DEFAULT_STEP
from foldwright.solver.evaluate import slack
from foldwright.solver.model import Solution
from foldwright.solver.proof import prove
from foldwright.solver.recheck import recheck
from foldwright.solver.settle import settle
from foldwright.solver.swing import Memory
from foldwright.solver.swing import swing as swing_of
from foldwright.solver.words import amount

MOST = 26  # answers; each has a letter


@dataclass(frozen=True)
class Other:
    """One answer: its letter, its values, the checked card, and in words how it differs from the card's own."""

    letter: str
    answer: Answer
    checked: Checked
    words: tuple[str, ...]


@dataclass(frozen=True)
class Others:
    """The answers found, the card's own one first as A, and what the search says of them."""

    design: ast.Design
    asked: int
    answers: tuple[Other, ...]
    found: Alternatives[Checked]

    def remarks(self) -> Iterator[str]:
        """Sentences: why there are fewer than asked for, what was dropped, what is not proved."""
        unit, number = self.design.unit or "mm", len(self.answers)
        if number < self.asked:
            least = f"at least {amount(LEAST['length'], False, unit)} (a place {amount(LEAST['place'], False, unit)}), " \
                    f"{LEAST['angle']:g}° and {100 * SHARE:g} %"
            if self.found.stopped:
                yield f"The time was over with {_answers(number)} of {self.asked}; --seconds gives more."
            elif self.found.rigid:
                yield (f"There is no other answer that is clearly different: with the wishes at their best, no dimension can "
                       f"change by {least}.")
            else:
                jam = "would jam or " if self.found.dropped else ""
                yield (f"Only {_answers(number)} of {self.asked}: {self.found.seen} were looked at, and the others {jam}differ "
                       f"from these by too little to be seen (clearly different is {least} in at least one place).")
        if self.answers[0].checked.card.choices is not None:
            yield "What the script leaves to choose (`or`, `optional`) is decided alike in all of them."
        if self.found.dropped:
            yield f"{_answers(self.found.dropped)} dropped, because the card would jam or not fit together."
        unproved = [other.letter for other in self.answers if not other.answer.proved]
        if unproved:
            yield f"Not proved within the time: a better answer than {', '.join(unproved)} may exist."


def _answers(number: int) -> str:
    return f"{number} answer{'' if number == 1 else 's'}"


def find_others(path: Script, count: int, progress: Progress | None = None, seconds: float | None = None) -> Others:
    """At most `count` clearly different answers to a script, its own among them, each solved, swung and proved.

    Raises Refused as `foldwright.api.check` does (also if the script's own answer jams), ValueError for a count outside 1 to
    `MOST`. `seconds` bounds the search for all of them together.
    """
    if not 1 <= count <= MOST:
        raise ValueError(f"from 1 to {MOST} answers can be asked for, not {count}")
    begun, memory = monotonic(), Memory()
    design = design_of(path)

    def accept(bound: Bound, solution: Solution) -> list[WouldJam]:
        return jams(bound.design, swing_of(settle(bound, solution), None, memory))

    bound, first = solve_model(design, progress, seconds, accept)
    design = bound.design  # a plain one, all choices made
    own = replace(settle(bound, first), choices=bound.choices)

    def checked(answer: Answer) -> Checked:
        recheck(bound.model, answer.solution)
        with waived_too_much([(w.rule.name, float(slack(w.rule, answer.values)[2]), w.at) for w in bound.model.waived]):
            card = own if answer.values == first.values else settle(bound, answer.solution)
            swung = swing_of(card, None, memory)
            problems = jams(design, swung)
            if problems:
                raise Refused(problems)
            return Checked(design, card, swung, prove(card))

    def check(answer: Answer) -> Checked | None:
        try:
            return checked(answer)
        except Refused:
            if answer.values == first.values:
                raise
            return None

    left = None if seconds is None else max(0.0, seconds - (monotonic() - begun))
    traits = traits_of(bound, frozenset(own.dimensions))
    step = design.step or DEFAULT_STEP[design.unit or "mm"]
    found = alternatives(bound.model, first, traits, count, check, left, progress, step)
    base = found.answers[0][0]
    others = tuple(Other(chr(ord("A") + n), answer, checked, words(base, answer, found.traits, own.unit) if n else ())
                   for n, (answer, checked) in enumerate(found.answers))
    return Others(design, count, others, found)
