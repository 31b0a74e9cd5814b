"""Why there is no answer: smallest sets of rules that cannot hold together.

The refutation is run once with reasons recorded; the rules behind its failures are a core, mostly a handful out of
hundreds. The core is thinned to a minimal set, each member of which was seen to be needed: without it the rest has an
answer. Then its rules are left out and the others are asked again, until they can hold: those conflicts have nothing to
do with each other. At last the sets that overlap with them are found (`minimal.py`), so that each conflict can be shown
by its smallest set.

All limits are counted in nodes, so that the same script gives the same conflicts; the clock only ends everything.
"""

from __future__ import annotations

from collections.abc import Sequence

from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.minimal import Found, Limits, cost, enumerate_sets, minimise
from foldwright.solver.engine.propagate import TimeUp
from foldwright.solver.engine.questions import Questions
from foldwright.solver.model import Conflict, Rule

_SETS = 8  # conflicts of one run
_HARD = 4000  # nodes of one question at most, where the first one was hard
_GROUND = "cover."  # rules of the cover: everything stands on it, so two conflicts may share them
_LIMITS = Limits()


def conflicts(machine: Machine, deadline: float | None, limits: Limits = _LIMITS) -> Conflict:
    """The conflicts of a model without an answer; its machine is left as it was. Raises TimeUp before the first."""
    oracle = Questions(machine, deadline)
    try:
        found = _apart(oracle, limits)
        if not found.complete:
            found = enumerate_sets(oracle, found.sets, found.unsure, limits)
    finally:
        oracle.close()
    return _arranged(found, machine.model.rules)


def _apart(oracle: Questions, limits: Limits) -> Found:
    """Minimal sets that share no rule but of the ground, one after the other."""
    rules = oracle.machine.model.rules
    found = Found()
    remaining = list(range(len(rules)))
    before = oracle.search.nodes
    if oracle.possible(remaining):
        raise ValueError("the rules can hold together")
    # a question about a part of the rules may well be as hard as the first one, but there are many of them
    question = min(max(limits.question, 2 * (oracle.search.nodes - before)), _HARD)
    while True:
        members, sure = minimise(oracle, oracle.core, question)
        found.sets.append(members)
        if not sure:
            found.unsure.append(members)
        gone = _own(members, rules)
        remaining = [n for n in remaining if n not in gone]
        if len(found.sets) == _SETS:
            return found
        try:
            if oracle.possible(remaining, limits.question) is not False:
                return found
        except TimeUp:
            return found


def _own(members: Sequence[int], rules: Sequence[Rule]) -> set[int]:
    """The rules of a set that are not of the ground; all, if it has no others."""
    return {n for n in members if not rules[n].name.startswith(_GROUND)} or set(members)


def _arranged(found: Found, rules: Sequence[Rule]) -> Conflict:
    """The sets that stand for a conflict each, smallest first, with those that overlap."""
    order = sorted(found.sets, key=lambda members: (cost(rules, members), members))
    own = [_own(members, rules) for members in order]
    chosen = _packed(own, _greatest(own, [order.index(members) for members in found.sets]))
    others: list[list[list[int]]] = [[] for _ in chosen]
    for place, members in enumerate(order):
        if place not in chosen:
            mine = next((n for n, first in enumerate(chosen) if own[first] & own[place]), len(chosen) - 1)
            others[mine].append(members)

    def named(members: Sequence[int]) -> tuple[Rule, ...]:
        return tuple(rules[n] for n in members)

    return Conflict(
        tuple(named(order[place]) for place in chosen),
        tuple(tuple(named(members) for members in group) for group in others),
        tuple(n for n, place in enumerate(chosen) if order[place] in found.unsure),
        tuple(named(members) for members in found.corrections),
        found.complete,
    )


def _greatest(own: list[set[int]], places: list[int]) -> int:
    """How many conflicts share no rule, taken in turn at these places: those found apart come first."""
    count, taken = 0, set[int]()
    for place in places:
        if not own[place] & taken:
            count, taken = count + 1, taken | own[place]
    return count


def _packed(own: list[set[int]], wanted: int) -> list[int]:
    """Places of sets without common rules, at least as many as wanted, the early ones preferred."""

    def go(start: int, taken: set[int], chosen: list[int]) -> list[int] | None:
        for place in range(start, len(own)):
            if not own[place] & taken:
                full = go(place + 1, taken | own[place], [*chosen, place])
                if full is not None:
                    return full
        return chosen if len(chosen) >= wanted else None

    return go(0, set(), []) or []
