"""Design → solved card, in named stages: bind, search, settle, prove."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from time import monotonic
from typing import TYPE_CHECKING

from foldwright.grammar import design as ast
from foldwright.grammar.problem import Problem, Refused
from foldwright.grammar.problems import CannotHold
from foldwright.solver.bind import Bound, bind
from foldwright.solver.card import Card
from foldwright.solver.choices import Decision, decisions, faults
from foldwright.solver.mechanism import registry
from foldwright.solver.model import Conflict, GaveUp, Solution

if TYPE_CHECKING:
    from foldwright.solver.memory import Memory
    from foldwright.solver.repairs import Repairs

Progress = Callable[[str], None]
Accept = Callable[[Bound, Solution], Sequence[Problem]]


def solve_design(design: ast.Design, progress: Progress | None = None, seconds: float | None = None) -> Card:
    """The solved card of a design (not yet proved).

    Raises Refused with all problems if the script has faults or its rules cannot hold together.
    """
    from foldwright.solver.settle import settle

    bound, solution = solve_model(design, progress, seconds)
    if progress:
        progress("laying the parts flat")
    return settle(bound, solution)


def solve_model(design: ast.Design, progress: Progress | None = None, seconds: float | None = None,
                accept: Accept | None = None, memory: Memory | None = None) -> tuple[Bound, Solution]:
    """The bound design and the values of its unknowns, no card yet.

    Of a design with free choices the best way to decide them is bound, as a plain design. `accept` looks at its answer and
    returns what keeps it from being made; then the next best way is taken, as long as there is one.
    Raises Refused as `solve_design` does, and ProofFailed (a fault of ours) if an answer breaks a rule when it is checked
    without floats.
    """
    from foldwright.solver.engine.progress import in_unit
    from foldwright.solver.recheck import recheck

    tell = in_unit(progress, design.unit or "mm") if progress else (lambda _: None)
    tell("reading the design")
    made = decisions(design, registry())
    bound, outcome = _choose(design, made, tell, seconds, accept, memory) if made else _find(design, tell, seconds, memory)
    tell("checking the answer without rounding")
    recheck(bound.model, outcome, memory)
    return bound, outcome


def _choose(design: ast.Design, made: tuple[Decision, ...], tell: Progress, seconds: float | None,
            accept: Accept | None, memory: Memory | None) -> tuple[Bound, Solution]:
    """The best way to decide what a design leaves open, bound, and its answer."""
    from foldwright.solver.choices_repairs import helped
    from foldwright.solver.choices_search import Choosing
    from foldwright.solver.choices_words import nothing_fits, record
    from foldwright.solver.engine import solve

    problems = faults(design, made, registry())
    if problems:
        try:
            bind(design)
        except Refused as refused:
            problems = list(dict.fromkeys((*refused.problems, *problems)))
        raise Refused(problems)
    search = Choosing(design, made, seconds, tell, solve if memory is None else memory.answers.solve)
    found = search.run(accept)
    if found is None:
        tell("looking for changes that would help")
        raise Refused(helped(search, nothing_fits(search))[0])
    return replace(found.bound, choices=record(search, found)), found.solution


def repairs_of(design: ast.Design, progress: Progress | None = None, seconds: float | None = None) -> Repairs:
    """The changes of a script that make its card possible, in the order in which its problems number them.

    None if it has an answer, or if that is not known. Raises Refused for faults of the script.
    """
    from foldwright.solver.choices_repairs import helped
    from foldwright.solver.choices_search import Choosing
    from foldwright.solver.choices_words import nothing_fits
    from foldwright.solver.engine import solve
    from foldwright.solver.repairs import Repairs, repairs

    deadline = None if seconds is None else monotonic() + seconds
    made = decisions(design, registry())
    if made:
        search = Choosing(design, made, seconds, progress or (lambda _: None))
        return Repairs() if search.run() is not None else helped(search, nothing_fits(search))[1]
    bound = bind(design)
    outcome = solve(bound.model, seconds=seconds, progress=progress)
    return repairs(bound, outcome, deadline) if isinstance(outcome, Conflict) else Repairs()


def _find(design: ast.Design, tell: Progress, seconds: float | None, memory: Memory | None) -> tuple[Bound, Solution]:
    """A plain design, bound, and its answer."""
    from foldwright.solver.engine import solve

    deadline = None if seconds is None else monotonic() + seconds
    bound = bind(design, kept=None if memory is None else memory.bound)
    tell("finding the dimensions")
    outcome = (solve if memory is None else memory.answers.solve)(bound.model, seconds=seconds, progress=tell)
    if isinstance(outcome, Conflict):
        from foldwright.solver.conflict_words import conflict_problems
        from foldwright.solver.repairs import repairs, told

        tell("looking for changes that would help")
        problems = conflict_problems(outcome, bound.model, design.unit or "mm")
        raise Refused(told(problems, repairs(bound, outcome, deadline)))
    if isinstance(outcome, GaveUp):
        raise Refused([CannotHold(design.at, (f"no answer was found within the limit: {outcome.reason}",))])
    return bound, outcome
