"""Find the dimensions of a card: the best answer of a model, or why there is none."""

from __future__ import annotations

from functools import partial
from time import monotonic

from foldwright.solver.engine.canonical import preferred_count, settle
from foldwright.solver.engine.conflict import conflicts
from foldwright.solver.engine.local import owner
from foldwright.solver.engine.lookahead import decide
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.optimise import Levels
from foldwright.solver.engine.progress import Progress, Teller
from foldwright.solver.engine.propagate import TimeUp
from foldwright.solver.engine.reuse import Reuse
from foldwright.solver.engine.search import Search
from foldwright.solver.engine.stopping import Stop, running, stopping
from foldwright.solver.evaluate import Undefined
from foldwright.solver.model import Conflict, GaveUp, Model, Outcome, Solution

_MANY = 24  # variables of a component that is first tried one mechanism after the other
_FEW = 40  # nodes for each of them
_LABELLING = 2000  # nodes of labelling a component of fewer variables before it is looked ahead at


def solve(
    model: Model,
    seconds: float | None = None,
    progress: Progress | None = None,
    stop: Stop | None = None,
    reuse: Reuse | None = None,
) -> Outcome:
    """The best answer of a model: wishes in their order, each proved, then the canonical answer among equals.

    Without a time limit the outcome is a proved Solution or a Conflict and depends on the model alone. With a
    limit of `seconds` it may be GaveUp, or a Solution whose last wishes are not proved. A variable's own
    range belongs to no rule; an empty one gives a Conflict whose only set is empty. A wish that has no value
    in any answer is left out of the result. `progress` is told in a few words what is being done, and now and then how
    far a wish has come (`SoFar`). Once `stop()` is True (asked often), all is as if the time were over. What is kept in
    `reuse` makes it faster and changes no finished answer.
    """
    tell = progress or (lambda text: None)
    deadline = None if seconds is None else monotonic() + seconds
    with stopping(stop), running():
        outcome = _attempt(model, deadline, tell, together=False, reuse=reuse)
        if outcome is None:
            tell("checking the wishes exactly")
            outcome = _attempt(model, deadline, tell, together=True)
    assert outcome is not None
    return outcome


def _attempt(
    model: Model, deadline: float | None, tell: Progress, together: bool, reuse: Reuse | None = None
) -> Outcome | None:
    """One run; None if a wish missed its mark by the rounding of its terms, which needs a run `together`."""
    tell("reading the rules")
    machine = Machine(model)
    if machine.empty:
        return Conflict(((),))
    search = Search(machine, deadline)
    search.guide = [preferred_count(variable) for variable in machine.declared]
    try:
        tell("looking for a first answer")
        witness = _first(machine, search, [] if reuse is None else reuse.counts(machine))
        if witness is None:
            tell("looking for the smallest conflict")
            return _conflict(machine, deadline)
    except TimeUp:
        return GaveUp("no answer was found within the time limit, and no proof that there is none")
    machine.store.retire()
    levels = Levels(machine, search, witness, together=together, teller=Teller(tell), reuse=reuse)
    _improve(model, levels, tell)
    if not together and not _kept(levels):
        return None
    return Solution(levels.values(), tuple(levels.results))


def _first(machine: Machine, search: Search, last: list[int | None]) -> list[int] | None:
    """Counts of a first answer, or None if there is none; `last` are the counts of an answer to a similar model."""
    store = machine.store
    if not store.propagate():
        return None
    declared = len(machine.declared)
    witness = store.low[:declared]
    for group in store.components(range(declared), lambda n: True):
        mark = store.mark()
        again = bool(last) and _again(machine, group, [last[v] for v in group])
        easy = again or (len(group) > _MANY and _one_by_one(machine, search, group))
        if not easy and not _found(search, group):
            return None
        for v in group:
            witness[v] = store.low[v]
        store.undo(mark)
    return witness


def _again(machine: Machine, group: list[int], counts: list[int | None]) -> bool:
    """Fix a component as it was in another answer, if its rules allow that; otherwise all is undone."""
    store = machine.store
    mark = store.mark()
    point = [count for count in counts if count is not None]
    if len(point) == len(group) and store.narrow(group, point, point):
        return True
    store.undo(mark)
    return False


def _one_by_one(machine: Machine, search: Search, group: list[int]) -> bool:
    """Whether it is easy to settle one mechanism of a component after the other; the store is left so, or as it was."""
    store, pieces = machine.store, dict[str, list[int]]()
    for v in group:
        pieces.setdefault(owner(machine, v), []).append(v)
    mark = store.mark()
    if all(search.attempt(partial(search.find, piece), _FEW) for piece in pieces.values()):
        return True
    store.undo(mark)
    return False


def _found(search: Search, group: list[int]) -> bool:
    """Fix the variables of a component, if it can be done; what labelling does not settle soon is mostly impossible."""
    if len(group) > _MANY:
        return search.find(group)
    found = search.attempt(lambda: search.find(group), _LABELLING)
    return decide(search, group) if found is None else found


def _conflict(machine: Machine, deadline: float | None) -> Outcome:
    try:
        return conflicts(machine, deadline)
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
        levels.machine.store.deadline = levels.machine.store.stop = None  # what follows only measures
        for wish in model.wishes[len(levels.results) + levels.skipped :]:
            levels.leave(wish)


def _kept(levels: Levels) -> bool:
    """Whether the answer keeps every frozen wish when it is measured exactly."""
    values = levels.values()
    try:
        return all(target.measured(values) <= grains for target, grains in levels.frozen)
    except Undefined:
        return False
