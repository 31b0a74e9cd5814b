"""Find the dimensions of a card: the best answer of a model, or why there is none."""

from __future__ import annotations

from collections.abc import Callable
from time import monotonic

from foldwright.solver.engine.canonical import preferred_count, settle
from foldwright.solver.engine.conflict import conflicts
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.optimise import Levels
from foldwright.solver.engine.propagate import TimeUp
from foldwright.solver.engine.search import Search
from foldwright.solver.evaluate import Undefined
from foldwright.solver.model import Conflict, GaveUp, Model, Outcome, Solution

Progress = Callable[[str], None]


def solve(model: Model, seconds: float | None = None, progress: Progress | None = None) -> Outcome:
    """The best answer of a model: wishes in their order, each proved, then the canonical answer among equals.

    Without a time limit the outcome is a proved Solution or a Conflict and depends on the model alone. With a
    limit of `seconds` it may be GaveUp, or a Solution whose last wishes are not proved. A variable's own
    range belongs to no rule; an empty one gives a Conflict whose only set is empty. A wish that has no value
    in any answer is left out of the result. `progress` is told in a few words what is being done.
    """
    tell = progress or (lambda text: None)
    deadline = None if seconds is None else monotonic() + seconds
    outcome = _attempt(model, deadline, tell, together=False)
    if outcome is None:
        tell("checking the wishes exactly")
        outcome = _attempt(model, deadline, tell, together=True)
    assert outcome is not None
    return outcome


def _attempt(model: Model, deadline: float | None, tell: Progress, together: bool) -> Outcome | None:
    """One run; None if a wish missed its mark by the rounding of its terms, which needs a run `together`."""
    tell("reading the rules")
    machine = Machine(model)
    if machine.empty:
        return Conflict(((),))
    search = Search(machine, deadline)
    search.guide = [preferred_count(variable) for variable in machine.declared]
    try:
        tell("looking for a first answer")
        witness = _first(machine, search)
        if witness is None:
            tell("looking for the smallest conflict")
            return _conflict(model, deadline)
    except TimeUp:
        return GaveUp("no answer was found within the time limit, and no proof that there is none")
    levels = Levels(machine, search, witness, together=together)
    _improve(model, levels, tell)
    if not together and not _kept(levels):
        return None
    return Solution(levels.values(), tuple(levels.results))


def _first(machine: Machine, search: Search) -> list[int] | None:
    """Counts of a first answer, or None if there is none."""
    store = machine.store
    if not store.propagate():
        return None
    declared = len(machine.declared)
    witness = store.low[:declared]
    for group in store.components(range(declared), lambda n: True):
        mark = store.mark()
        if not search.find(group):
            return None
        for v in group:
            witness[v] = store.low[v]
        store.undo(mark)
    return witness


def _conflict(model: Model, deadline: float | None) -> Outcome:
    try:
        return Conflict(conflicts(model, deadline))
    except TimeUp:
        return GaveUp("there is no answer, but the time limit was over before the smallest conflict was found")


def _improve(model: Model, levels: Levels, tell: Progress) -> None:
    """Settle the wishes and move to the canonical answer, as far as the time goes."""
    try:
        for wish in model.wishes:
            tell(wish.text)
            levels.settle(wish)
        tell("choosing among equal answers")
        settle(levels)
    except TimeUp:
        levels.machine.store.deadline = None  # what follows only measures
        for wish in model.wishes[len(levels.results) + levels.skipped :]:
            levels.leave(wish)


def _kept(levels: Levels) -> bool:
    """Whether the answer keeps every frozen wish when it is measured exactly."""
    values = levels.values()
    try:
        return all(target.measured(values) <= grains for target, grains in levels.frozen)
    except Undefined:
        return False
