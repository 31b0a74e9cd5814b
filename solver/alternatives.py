"""Other answers to a card: clearly different from each other, and none better than another in every wish.

Where wishes compete, answers that cannot be improved in one wish without loss in another (Pareto-optimal ones) are found in
two ways. *Each wish first*: the wishes in another order. *Levels*: one wish is held to a level between its best and what it
comes to when another is first, and the wishes are settled in their order, that one last. Such an answer is Pareto-optimal:
one that is as good in every wish and better in one would hold the level as well, and so would have come out of the same
settling, which leaves no wish that could be better without loss in one before it (the method of the epsilon constraint:
Y. Y. Haimes, L. S. Lasdon, D. A. Wismer, "On a bicriterion formulation of the problems of integrated system identification
and system optimization", 1971, from memory).

Where that gives too few, all wishes are held at what an answer has, and what is still free is pushed apart: everything
at once in patterns, then one dimension at a time to its least and its greatest value. These answers are equal in the wishes.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import dist
from time import monotonic
from typing import Generic, TypeVar

from foldwright.solver.bind import Bound
from foldwright.solver.engine import solve
from foldwright.solver.engine.machine import Machine
from foldwright.solver.evaluate import Undefined, evaluate, holds, interval, measure
from foldwright.solver.expression import Expr
from foldwright.solver.model import Model, Rule, Solution, Wish, WishResult
from foldwright.solver.wishes import kept

T = TypeVar("T")

# What is clearly different. Two lengths side by side are told apart from some 3 % on (Weber's share for lengths, about 0.03:
# R. Teghtsoonian, 1971, from memory); two cards are not looked at side by side, so somewhat more. Below 2 mm or 3° a
# difference drowns in hand-folded paper (common practice, no source). A place is seen against the page, whatever its number.
SHARE = 0.05
LEAST = {"length": 2.0, "angle": 3.0, "place": 5.0}
PUSHED = 16  # dimensions pushed one by one at most, those with the most room first
QUARTER = 4  # one more answer may take this part of the time that is left


@dataclass(frozen=True)
class Trait:
    """Something in which answers differ: a dimension found, or a measure of how a mechanism stands (mm or degrees)."""

    name: str
    expr: Expr
    kind: str  # "length", "angle" or "place"
    standing: bool = False  # a measure, such as a height: it follows from the dimensions

    @property
    def measure(self) -> str:
        """The name without its mechanism: `wall` of `quay.wall`."""
        return self.name.split(".", 1)[1]

    def apart(self, one: float, other: float) -> bool:
        """Whether two values of it are clearly different."""
        share = 0.0 if self.kind == "place" else SHARE * max(abs(one), abs(other))
        return abs(one - other) >= max(LEAST[self.kind], share)


@dataclass(frozen=True)
class Answer:
    """One answer: the values of all unknowns, what each wish comes to, and the values of the traits in their order."""

    values: dict[str, Fraction]
    wishes: tuple[WishResult, ...]
    traits: tuple[float, ...]
    proved: bool  # that no answer is better in one wish and as good in the others

    @property
    def grains(self) -> tuple[int, ...]:
        """The wishes in whole grains, the greater the better."""
        return tuple(int(r.value / r.wish.grain) * (1 if r.wish.largest else -1) for r in self.wishes)

    @property
    def solution(self) -> Solution:
        """As the search gives it."""
        return Solution(self.values, self.wishes)


@dataclass(frozen=True)
class Alternatives(Generic[T]):
    """Answers with what their check made of them, the card's own answer first, then by their wishes.

    `seen` counts the different answers looked at, `dropped` those that failed their check. `stopped` tells that the time was
    over; `rigid` that with the wishes at their best nothing can change clearly, and that the wishes do not compete.
    """

    traits: tuple[Trait, ...]
    answers: tuple[tuple[Answer, T], ...]
    seen: int
    dropped: int
    stopped: bool
    rigid: bool


def dominates(one: Answer, other: Answer) -> bool:
    """True if `one` is as good in every wish and better in one."""
    return one.grains != other.grains and all(a >= b for a, b in zip(one.grains, other.grains, strict=True))


def clearly_different(one: Answer, other: Answer, traits: Sequence[Trait]) -> bool:
    """True if at least one trait is clearly different."""
    return any(trait.apart(a, b) for trait, a, b in zip(traits, one.traits, other.traits, strict=True))


def traits_of(bound: Bound, dimensions: Container[str]) -> tuple[Trait, ...]:
    """Everything in which answers of a card can differ: its unknowns among the `dimensions`, then what its mechanisms measure.

    An unknown that is none of its dimensions belongs to something that the card has not, such as the pleat of a plain spine.
    """
    angles = {f"{m.name}.{p.name}" for m in bound.mechanisms for p in m.parameters if p.dimension == "angle"}
    found = [Trait(v.name, v, "angle" if v.name in angles else "place" if v.name.endswith(".at") else "length")
             for v in bound.model.variables if v.name in dimensions]
    for mechanism in bound.mechanisms:
        found += [Trait(f"{mechanism.name}.{name}", expr, "length", standing=True)
                  for name, expr in mechanism.measures().items()]
    return tuple(found)


def alternatives(model: Model, first: Solution, traits: Sequence[Trait], count: int, check: Callable[[Answer], T | None],
                 seconds: float | None = None, progress: Callable[[str], None] | None = None,
                 step: Fraction = Fraction(1, 2)) -> Alternatives[T]:
    """At most `count` clearly different answers of a model, its own one (`first`) among them.

    `traits` say in what they may differ; they are pushed in steps of `step` mm. `check` is called for each answer chosen;
    where it gives None, the answer is dropped and another one takes its place.
    Without a limit of `seconds` the result depends on the model alone.
    """
    return _Gathering(model, first, traits, count, check, seconds, progress, step).run()


@dataclass
class _Gathering(Generic[T]):
    """The work of `alternatives`: a pool of answers that grows until enough of them can be chosen."""

    model: Model
    first: Solution
    wanted: Sequence[Trait]
    count: int
    check: Callable[[Answer], T | None]
    seconds: float | None
    progress: Callable[[str], None] | None
    step: Fraction
    pool: list[Answer] = field(default_factory=list)
    chosen: list[tuple[Answer, T]] = field(default_factory=list)
    failed: list[Answer] = field(default_factory=list)
    stopped: bool = False
    free: bool = False  # something can change clearly while the wishes are held

    def __post_init__(self) -> None:
        self.deadline = None if self.seconds is None else monotonic() + self.seconds
        self.wishes = tuple(result.wish for result in self.first.wishes)  # without those that never have a value
        self.traits = tuple(trait for trait in self.wanted if self._value(trait, self.first.values) is not None)

    def run(self) -> Alternatives[T]:
        """Stage by stage until there are enough."""
        own = self._answer(self.first.values, all(result.proved for result in self.first.wishes))
        assert own is not None
        self.pool.append(replace(own, wishes=self.first.wishes))
        for stage in self._stages():
            self._choose()
            if len(self.chosen) >= self.count or self.stopped:
                break
            for answer in stage:
                self._enter(answer)
        self._choose()
        # An own answer that time left unproved may turn out worse than another one.
        last = [pair for pair in self.chosen if not any(dominates(other, pair[0]) for other, _ in self.chosen)]
        last.sort(key=lambda pair: [-grain for grain in pair[0].grains])  # equal ones stay as chosen
        front = len({answer.grains for answer in self.pool}) > 1
        return Alternatives(self.traits, tuple(last), len(self.pool), len(self.failed), self.stopped, not front and not self.free)

    # ---- the pool

    def _enter(self, answer: Answer | None) -> None:
        known = (old.values for old in self.pool)
        if answer is not None and answer.values not in known and not any(dominates(old, answer) for old in self.pool):
            self.pool = [self.pool[0], *(old for old in self.pool[1:] if not dominates(answer, old)), answer]

    def _choose(self) -> None:
        """Choose the answer farthest from all that are chosen, as long as it is clearly different (Gonzalez, 1985)."""
        taken = [answer for answer, _ in self.chosen]
        while len(taken) < self.count:
            spans = self._spans()
            open_ = [answer for answer in self.pool if answer not in self.failed
                     and all(clearly_different(answer, other, self.traits) for other in taken)]
            if not open_:
                return
            farthest = max(open_, key=lambda answer: min((_distance(answer, other, spans) for other in taken), default=0.0))
            checked = self.check(farthest)
            if checked is None:
                self.failed.append(farthest)
                continue
            self.chosen.append((farthest, checked))
            taken.append(farthest)

    def _spans(self) -> list[float]:
        """The range of each trait over the pool; infinite where no two answers differ clearly, so that it does not count."""
        columns = zip(*(answer.traits for answer in self.pool), strict=True)
        ranges = [(min(column), max(column)) for column in columns]
        return [high - low if trait.apart(low, high) else float("inf")
                for trait, (low, high) in zip(self.traits, ranges, strict=True)]

    # ---- answers

    def _stages(self) -> Iterator[Iterator[Answer | None]]:
        """Ways to more answers, the cheaper first."""
        yield self._each_first()
        yield self._levels()
        fronts = list({answer.grains: answer for answer in reversed(self.pool)}.values())[::-1]
        for answer in fronts[: self.count]:
            room = self._room(answer)
            self.free = self.free or bool(room)
            yield self._patterns(answer, room)
            yield self._single(answer, room)

    def _each_first(self) -> Iterator[Answer | None]:
        for wish in self.wishes[1:]:
            yield self._ask((), (wish, *(other for other in self.wishes if other is not wish)))

    def _levels(self) -> Iterator[Answer | None]:
        """Each wish in turn held to levels between its best and its worst so far, and settled last."""
        extremes = [answer.wishes for answer in self.pool]
        for n, wish in enumerate(self.wishes if len(self.wishes) > 1 else ()):
            came = [int(results[n].value / wish.grain) for results in extremes]
            order = (*self.wishes[:n], *self.wishes[n + 1 :], wish)
            levels = sorted({min(came) + (max(came) - min(came)) * part // (self.count + 1) for part in range(1, self.count + 1)})
            for level in levels:
                if min(came) < level < max(came):
                    yield self._ask((kept(wish, level * wish.grain),), order)

    def _room(self, answer: Answer) -> list[Trait]:
        """Traits that may change clearly while the wishes are held, those with the most room first."""
        machine = Machine(Model(self.model.variables, (*self.model.rules, *self._held(answer))))
        if machine.empty or not machine.store.propagate():
            return []
        low, high = machine.store.low, machine.store.high
        bounds = {v.name: (v.step * low[n], v.step * high[n]) for n, v in enumerate(machine.declared)}
        rooms: list[tuple[float, int]] = []
        for n, trait in enumerate(self.traits):
            try:
                least, most = interval(trait.expr, bounds)
            except Undefined:
                continue
            if trait.apart(least, most):
                rooms.append(((least - most) / LEAST[trait.kind], n))
        return [self.traits[n] for _, n in sorted(rooms)]

    def _patterns(self, answer: Answer, room: list[Trait]) -> Iterator[Answer | None]:
        """Everything free pushed at once, up or down by the rows of a Walsh matrix: any two differ in half of the pushes."""
        pushed = [trait for trait in room if not trait.standing][:PUSHED] or room[:PUSHED]
        if not pushed:
            return
        for row in range(self.count):
            signs = [(row & n).bit_count() % 2 == 0 for n in range(len(pushed))]
            for up in (True, False):
                wishes = tuple(self._push(trait, sign == up) for trait, sign in zip(pushed, signs, strict=True))
                yield self._ask(self._held(answer), wishes, answer.proved)

    def _single(self, answer: Answer, room: list[Trait]) -> Iterator[Answer | None]:
        for trait in room[:PUSHED]:
            for up in (True, False):
                yield self._ask(self._held(answer), (self._push(trait, up),), answer.proved)

    def _push(self, trait: Trait, up: bool) -> Wish:
        grain = Fraction(1) if trait.kind == "angle" else self.step
        return Wish(trait.name, trait.expr, up, grain, None, "angle" if trait.kind == "angle" else "length")

    def _held(self, answer: Answer) -> tuple[Rule, ...]:
        return tuple(kept(result.wish, result.value) for result in answer.wishes)

    def _ask(self, rules: tuple[Rule, ...], wishes: tuple[Wish, ...], optimal: bool | None = None) -> Answer | None:
        """The answer under further rules and for other wishes, or None.

        `optimal` tells whether it is Pareto-optimal; if left out, it is if all its wishes are proved.
        """
        left = None if self.deadline is None else self.deadline - monotonic()
        if left is not None and left <= 0:
            self.stopped = True
            return None
        if self.progress:
            self.progress(f"looking for another answer ({len(self.pool)} so far)")
        model = Model(self.model.variables, (*self.model.rules, *rules), wishes)
        outcome = solve(model, seconds=None if left is None else left / QUARTER)
        if not isinstance(outcome, Solution):
            return None
        proved = all(result.proved for result in outcome.wishes) and len(outcome.wishes) == len(wishes)
        return self._answer(outcome.values, proved if optimal is None else optimal)

    def _answer(self, values: dict[str, Fraction], proved: bool) -> Answer | None:
        """Values with what they come to; None if a rule does not hold for them or something has no value."""
        traits = [self._value(trait, values) for trait in self.traits]
        try:
            reached = [measure(wish, values) for wish in self.wishes]
        except Undefined:
            return None
        if not all(holds(rule, values) for rule in self.model.rules):
            return None
        results = tuple(WishResult(wish, value, value) for wish, value in zip(self.wishes, reached, strict=True))
        known = tuple(value for value in traits if value is not None)
        return Answer(values, results, known, proved) if len(known) == len(traits) else None

    @staticmethod
    def _value(trait: Trait, values: dict[str, Fraction]) -> float | None:
        try:
            return float(evaluate(trait.expr, values))
        except Undefined:
            return None


def _distance(one: Answer, other: Answer, spans: Sequence[float]) -> float:
    return dist([a / span for a, span in zip(one.traits, spans, strict=True)],
                [b / span for b, span in zip(other.traits, spans, strict=True)])
