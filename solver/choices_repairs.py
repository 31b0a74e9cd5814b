"""What would help a script none of whose choices leads to a card: changes of one way to decide, brought back into the script.

The way is written as a script of its own (`edits`), which is repaired like any other. A change that makes this way possible
makes the script with its choices possible, since the way is one of them. Where the change stands in the script itself
follows from the edits; what they touched is left alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from foldwright.grammar import design as ast
from foldwright.grammar.problem import Problem, Refused
from foldwright.grammar.problems import CannotHold
from foldwright.grammar.reader import read_text
from foldwright.solver.bind import bind
from foldwright.solver.choices import Picks, decide, decisions
from foldwright.solver.choices_search import Choosing
from foldwright.solver.engine import solve
from foldwright.solver.mechanism import registry
from foldwright.solver.model import Conflict
from foldwright.solver.repairs import Repair, Repairs, repairs
from foldwright.solver.written import Edit, edited_text

_EACH = 4  # changes told of each reason


def helped(search: Choosing, found: Sequence[tuple[Problem, Picks | None]]) -> tuple[list[Problem], Repairs]:
    """The problems of a script without an answer, each with the changes that help, and all of these as they are numbered.

    `found` has with each problem a way to decide that fails for it, if its rules are known.
    """
    problems: list[Problem] = []
    changes: list[Repair] = []
    for problem, picks in found:
        mine = [] if picks is None or not isinstance(problem, CannotHold) else _changes(search, picks)
        mine = [change for change in mine if change.edits not in [other.edits for other in changes]][:_EACH]
        if mine and isinstance(problem, CannotHold):
            numbers = tuple(range(len(changes) + 1, len(changes) + len(mine) + 1))
            problem = replace(problem, changes=tuple(change.words for change in mine), numbers=numbers)
        changes += mine
        problems.append(problem)
    if changes:
        number = max(n for n, problem in enumerate(problems) if isinstance(problem, CannotHold) and problem.changes)
        last = problems[number]
        assert isinstance(last, CannotHold)
        how = "`foldwright check` with `--apply K` prints the script with change K made, comments and layout kept"
        problems[number] = replace(last, also=(*last.also, how))
    return problems, Repairs(tuple(changes))


def _changes(search: Choosing, picks: Picks) -> list[Repair]:
    """Changes of the script by each of which one way to decide becomes possible."""
    design = search.design
    if design.variant is not None:
        return []  # its lines stand in two places
    plain, _ = decide(design, search.made, picks)
    alone = read_text(edited_text(design.source.text, plain.edits), design.source.name, design.source.folder)
    try:
        bound = bind(alone)
    except Refused:
        return []
    outcome = solve(bound.model, seconds=search.left())
    if not isinstance(outcome, Conflict):
        return []
    out = []
    for change in repairs(bound, outcome, search.deadline).changes:
        edits = _back(change.edits, plain.edits)
        if change.whole and edits is not None and _says(design, edits, picks, edited_text(alone.source.text, change.edits)):
            out.append(replace(change, edits=edits))
    return out


def _says(design: ast.Design, edits: Sequence[Edit], picks: Picks, text: str) -> bool:
    """Whether the script after some edits, decided as before, says the text that was tried."""
    changed = read_text(edited_text(design.source.text, edits), design.source.name, design.source.folder)
    made = decisions(changed, registry())
    if len(made) != len(picks) or any(pick >= len(decision.options) for pick, decision in zip(picks, made, strict=True)):
        return False  # two options have become one
    return edited_text(changed.source.text, decide(changed, made, picks)[0].edits) == text


def _back(edits: Iterable[Edit], made: Sequence[Edit]) -> tuple[Edit, ...] | None:
    """Edits of the text after some edits were made, as edits of the text before; None if they touch what was made."""
    out = []
    for start, end, new in edits:
        grown = 0
        for first, last, text in sorted(made):
            if end <= first + grown:
                break
            if start < first + grown + len(text):
                return None
            grown += len(text) - (last - first)
        out.append((start - grown, end - grown, new))
    return tuple(out)
