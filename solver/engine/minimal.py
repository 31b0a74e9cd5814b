"""All minimal sets of rules that cannot hold together, and the smallest sets of rules whose loss makes the rest hold.

Each known minimal set has to lose a rule, or the rest cannot hold. So a smallest choice of rules that takes one from each
known set is tried: if the rest can hold without them, they are a correction; if not, the rest has a minimal set not seen
before. When every such choice has turned out to be a correction, there are no further sets. (R. Reiter, "A theory of
diagnosis from first principles", 1987; M. Liffiton, K. Sakallah, "Algorithms for computing minimal unsatisfiable subsets
of constraints", 2008; M. Liffiton, A. Previti, A. Malik, J. Marques-Silva, "Fast, flexible MUS enumeration", 2016, whose
map this is, with the largest seeds first.)

Sets of rules are kept as whole numbers, one bit for each rule.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from foldwright.solver.engine.propagate import TimeUp
from foldwright.solver.engine.questions import Questions
from foldwright.solver.model import Kind, Rule

# Geometry is dropped first, and so least likely to stay: what the designer can change is the better explanation.
_RANK = {Kind.DESIGNER: 0, Kind.PRACTICE: 1, Kind.GEOMETRY: 2}
_THINNING = 16_000  # nodes of all questions that make one set minimal
NOTHING = -1  # no choice is left
_CHOICES = 20_000  # steps of one search for the next choice of rules


@dataclass(frozen=True)
class Limits:
    """How much is spent at most: nodes of one question, nodes in all, sets and corrections."""

    question: int = 1000
    nodes: int = 3000
    sets: int = 16
    corrections: int = 32


@dataclass
class Found:
    """Minimal sets and corrections by rule number; `unsure` holds those sets that were not proved minimal."""

    sets: list[list[int]] = field(default_factory=list)
    unsure: list[list[int]] = field(default_factory=list)
    corrections: list[list[int]] = field(default_factory=list)
    complete: bool = False


def minimise(oracle: Questions, core: Sequence[int], question: int) -> tuple[list[int], bool]:
    """A minimal set among some rules that cannot hold together, and whether it was proved minimal.

    The smaller of two sets that propagation refutes, thinned again with the full search. When the time is over, what is
    left by then.
    """
    core = sorted(core)
    part = oracle.part(core)
    rules = part.machine.model.rules
    best = list(range(len(core)))
    try:
        best = _shrink(part, best)
        orders = [sorted(best, key=lambda n: (-_RANK[rules[n].kind], sign * n)) for sign in (1, -1)]
        thinned = [_thin(part, order, None)[0] for order in orders]
        best = min(thinned, key=lambda members: (cost(rules, members), members))
        best, sure = _thin(part, best, question)
    except TimeUp:
        sure = False
    oracle.search.nodes += part.search.nodes
    return sorted(core[n] for n in best), sure


def cost(rules: Sequence[Rule], members: Sequence[int]) -> int:
    """What sets are ordered by: fewest rules; of equals, fewer of geometry and then fewer of practice."""
    return sum(10_000 + _RANK[rules[n].kind] * 100 for n in members)


def _shrink(oracle: Questions, core: list[int]) -> list[int]:
    """The core of the core, while it gets smaller."""
    while oracle.refuted(core) and len(oracle.core) < len(core):
        core = oracle.core
    return core


def _thin(oracle: Questions, order: list[int], question: int | None) -> tuple[list[int], bool]:
    """Drop each rule in turn if what is left still cannot hold (J. W. Chinneck, E. W. Dravnieks, 1991); keeps the order.

    Without `question` only propagation is asked; with it, the second result says that no answer was missing.
    """
    kept, sure = list(order), True
    stop_at = oracle.search.nodes + _THINNING
    for number in order:
        if number not in kept:
            continue
        rest = [other for other in kept if other != number]
        if question is None:
            possible: bool | None = not oracle.refuted(rest)
        else:
            possible = oracle.possible(rest, max(1, min(question, stop_at - oracle.search.nodes)))
        if possible is None:
            sure = False
        elif not possible:
            core = set(oracle.core)
            kept = [other for other in rest if other in core]
    return kept, sure


def enumerate_sets(oracle: Questions, known: Sequence[list[int]], unsure: Sequence[list[int]], limits: Limits) -> Found:
    """All minimal sets of the oracle's model as far as the limits go, beginning with some known ones."""
    found = Found(list(known), list(unsure))
    rules = oracle.machine.model.rules
    every = range(len(rules))
    masks = [_mask(members) for members in found.sets]
    tried: list[int] = []  # choices that were no news
    stop_at = oracle.search.nodes + limits.nodes
    decided = True
    try:
        while len(found.sets) < limits.sets and len(tried) < limits.corrections and oracle.search.nodes < stop_at:
            choice = next_choice(masks, tried, rules)
            if choice is None:
                break
            if choice == NOTHING:
                found.complete = decided
                break
            possible = oracle.possible([n for n in every if not choice >> n & 1], limits.question)
            if possible is False:
                members, sure = minimise(oracle, oracle.core, limits.question)
                found.sets.append(members)
                masks.append(_mask(members))
                if not sure:
                    found.unsure.append(members)
                continue
            tried.append(choice)
            if possible:
                found.corrections.append(list(_bits(choice)))
            else:
                decided = False
    except TimeUp:
        pass
    return found


def next_choice(sets: Sequence[int], tried: Sequence[int], rules: Sequence[Rule]) -> int | None:
    """The cheapest set that meets all `sets` and holds none of those `tried`; NOTHING if there is none, None if unknown."""
    return _Choice(sets, tried, rules).run()


class _Choice:
    """Branch and bound over the members of the set that has the fewest left to choose from."""

    def __init__(self, sets: Sequence[int], tried: Sequence[int], rules: Sequence[Rule]) -> None:
        self.sets = sets
        self.tried = tried
        self.weight = {n: cost(rules, [n]) for one in sets for n in _bits(one)}
        self.best = NOTHING
        self.least: int | None = None
        self.steps = 0

    def run(self) -> int | None:
        self._go(0, 0, 0)
        return None if self.steps > _CHOICES else self.best

    def _go(self, chosen: int, barred: int, weight: int) -> None:
        self.steps += 1
        if self.steps > _CHOICES or any(one & chosen == one for one in self.tried):
            return
        unmet = [one & ~barred for one in self.sets if not one & chosen]
        if not unmet:
            if self.least is None or weight < self.least:
                self.best, self.least = chosen, weight
            return
        if not all(unmet) or (self.least is not None and weight + self._bound(unmet) >= self.least):
            return
        branch = min(unmet, key=lambda one: (one.bit_count(), one))
        for n in sorted(_bits(branch), key=lambda n: (self.weight[n], n)):
            self._go(chosen | 1 << n, barred, weight + self.weight[n])
            barred |= 1 << n

    def _bound(self, unmet: list[int]) -> int:
        """Weight that sets without a common member cost at least."""
        total, seen = 0, 0
        for one in unmet:
            if not one & seen:
                seen |= one
                total += min(self.weight[n] for n in _bits(one))
        return total


def _mask(members: Sequence[int]) -> int:
    return sum(1 << n for n in members)


def _bits(mask: int) -> Iterator[int]:
    while mask:
        bit = mask & -mask
        yield bit.bit_length() - 1
        mask ^= bit
