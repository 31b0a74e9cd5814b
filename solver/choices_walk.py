"""The order in which the ways to decide the choices of a design are looked at: a search by python-constraint."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from foldwright.solver.choices import Picks


def walk(counts: Sequence[int], worth: Callable[[Mapping[int, int]], bool]) -> Iterator[Picks]:
    """All ways to decide that are worth a look when their turn comes, the most liked options first.

    `counts` has the number of options of each decision; `worth` is asked of some decisions, perhaps not all.
    """
    # Imported here, since most scripts leave nothing open.
    from constraint import Constraint, OptimizedBacktrackingSolver, Problem

    numbers = range(len(counts))

    class InOrder(OptimizedBacktrackingSolver):  # type: ignore[misc]
        """Decisions in their order."""

        def getSortedVariables(self, domains: Any, vconstraints: Any) -> list[int]:
            return list(numbers)

    class Worth(Constraint):  # type: ignore[misc]
        """Cuts the walk off where it leads to nothing better; asked at each step, with what is decided by then."""

        def preProcess(self, *_: Any) -> None:
            pass

        def __call__(self, variables: Any, domains: Any, assignments: Any, forwardcheck: Any = False) -> bool:
            return worth(assignments)

    problem = Problem(InOrder(forwardcheck=False))
    for number in numbers:
        problem.addVariable(number, list(range(counts[number]))[::-1])  # tried from the end
    problem.addConstraint(Worth(), list(numbers))
    for solution in problem.getSolutionIter():
        yield tuple(solution[number] for number in numbers)
