"""What was chosen and why, and why nothing can be chosen, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice, product

from foldwright.grammar.problem import Problem
from foldwright.grammar.problems import CannotHold, OptionRefused
from foldwright.solver.bind import bind
from foldwright.solver.card import Choices, Chosen
from foldwright.solver.choices import LEFT_OUT, Decision, Picks, absent, decide
from foldwright.solver.choices_results import Found, NoBetter, Result, Solved, Unfit
from foldwright.solver.choices_search import Choosing
from foldwright.solver.conflict_words import conflict_problem
from foldwright.solver.model import Solution, WishResult
from foldwright.solver.refutation import Refutation, key
from foldwright.solver.words import amount

_CASES = 6  # groups of ways to decide that are explained
_EXPLAINED = 5000  # ways to decide that are asked for their reason
_COMPARED = 40  # ways to decide, if they are no more, whose rules are compared with all conflicts


# ---- what was chosen


def record(search: Choosing, found: Found) -> Choices:
    """How every decision was made, and why not otherwise."""
    chosen = []
    for number, decision in enumerate(search.made):
        away = decision.name in found.gone.blocks
        if away and not decision.optional:
            continue  # how something would be that is not there
        option = LEFT_OUT if away else decision.options[found.picks[number]].words
        if decision.optional:
            others = [0] if away else []
        else:
            others = [pick for pick in range(len(decision.options)) if pick != found.picks[number]]
        reasons = [(decision.options[pick].words, text) for pick in others for text in _reason(search, found, number, pick)]
        gone = tuple(_gone(search, found, number)) if away else ()
        words = tuple(option.words for option in decision.options)
        chosen.append(Chosen(decision.what, option, words, decision.optional, tuple(reasons), gone, decision.at.line))
    return Choices(tuple(chosen), search.complete and not search.unproved, search.seen, search.total)


def _reason(search: Choosing, found: Found, number: int, pick: int) -> Iterator[str]:
    """Why an option was not taken, all else being as it is; nothing if it was not looked at."""
    decision, picks = search.made[number], (*found.picks[:number], pick, *found.picks[number + 1 :])
    if decision.optional and found.picks[number] == 0:  # it is away for what it stands on, whatever was decided
        yield "what it stands on is left out"
        return
    result = search.result(picks)
    if isinstance(result, Refutation):
        problem = conflict_problem(result.rules, result.model, search.design.unit or "mm")
        yield problem.headline.partition(": ")[2] or problem.wrong()
    elif isinstance(result, Unfit):
        yield "; ".join(problem.wrong() for problem in result.problems)
    elif isinstance(result, Solved):
        yield from _worse(result.solution, found.solution, search.design.unit or "mm")
    elif isinstance(result, NoBetter):
        yield "is no better" if found.solution.wishes else "does as well, and is written later"


def _worse(one: Solution, best: Solution, unit: str) -> Iterator[str]:
    """The first wish of which another answer has less."""
    mine = {result.wish.at: result for result in one.wishes}
    for result in best.wishes:
        other = mine.get(result.wish.at)
        if other is None or other.value != result.value:
            yield f"{result.wish.text}: {'none' if other is None else _value(other, unit)}, not {_value(result, unit)}"
            return
    yield "does as well, and is written later"


def _value(result: WishResult, unit: str) -> str:
    match result.wish.dimension:
        case "length" | "angle":
            return amount(float(result.value), result.wish.dimension == "angle", unit)
        case "area":
            return f"{float(result.value):.0f} mm²"
    return f"{float(result.value):g}"


def _gone(search: Choosing, found: Found, number: int) -> Iterator[str]:
    """What is left out with an optional block: what stands on it, and the lines that name only it or those."""
    own = search.made[number].name
    picks = {n: pick for n, pick in enumerate(found.picks) if not search.made[n].optional or n == number}
    if not found.picks[number]:
        return
    with_it = absent(search.design, search.made, picks)
    yield from sorted(with_it - {own})
    for line in found.gone.lines:
        if any(f"{name}." in line.text for name in with_it):
            yield f"line {line.line}"


# ---- why nothing fits


@dataclass(frozen=True)
class _Case:
    """Some ways to decide that fail for one reason: for each decision, the options that they take; and one of these ways."""

    reason: Result
    options: tuple[tuple[int, ...], ...]
    first: Picks


def nothing_fits(search: Choosing) -> list[tuple[Problem, Picks | None]]:
    """Why no way to decide has an answer: one reason if it holds for all of them, else the reasons of each.

    With each problem comes a way to decide that fails for it, if it is about rules.
    """
    if not search.complete:
        words = f"no answer was found within the limit: {search.seen} of {search.total} ways to choose were looked at"
        return [(CannotHold(search.design.at, (words,)), None)]
    ways = list(islice(_ways(search), _EXPLAINED))
    every = set(ways) if len(ways) < _EXPLAINED else None
    reasons = _reasons(search, ways)
    common = [(reason, min(failing)) for reason, failing in reasons if len(failing) == len(ways) and every is not None]
    if common:
        return [problem for reason, first in common for problem in _problems(reason, "", first, search)]
    return [problem for case in islice(_cases(search, ways, every, reasons), _CASES)
            for problem in _problems(case.reason, _given(search.made, case), case.first, search)]


def _ways(search: Choosing) -> Iterator[Picks]:
    """All ways to decide in which nothing is there that is optional: that would fit even less."""
    for picks in product(*((1,) if decision.optional else range(len(decision.options)) for decision in search.made)):
        gone = absent(search.design, search.made, dict(enumerate(picks)))
        pairs = zip(picks, search.made, strict=True)
        if not any(pick and decision.name in gone and not decision.optional for pick, decision in pairs):
            yield picks


def _reasons(search: Choosing, ways: Sequence[Picks]) -> list[tuple[Result, set[Picks]]]:
    """Every reason met, with the ways to decide that fail for it."""
    failing: list[tuple[Result, set[Picks]]] = []
    for picks in ways:
        result = search.result(picks)
        assert result is not None, "all ways were gone through"
        same = next((others for other, others in failing if other == result), None)
        if same is None:
            failing.append((result, same := set()))
        same.add(picks)
    for picks in ways if len(ways) <= _COMPARED else ():
        if isinstance(search.result(picks), Refutation):
            rules = {key(rule): rule for rule in bind(decide(search.design, search.made, picks)[0]).model.rules}
            for result, others in failing:
                if isinstance(result, Refutation) and picks not in others and result.within(rules):
                    others.add(picks)
    return sorted(failing, key=lambda entry: -len(entry[1]))


def _cases(search: Choosing, ways: Sequence[Picks], every: set[Picks] | None,
           reasons: Sequence[tuple[Result, set[Picks]]]) -> Iterator[_Case]:
    """Groups of ways to decide that together are all of them, each the largest that one reason refutes."""
    left = dict.fromkeys(ways)
    unfit = {picks for reason, failing in reasons if isinstance(reason, Unfit) for picks in failing}  # out of the question
    while left:
        first = next(iter(left))
        boxes = [_Case(reason, _grown(search.made, first, failing | unfit, every), first)
                 for reason, failing in reasons if first in failing]
        case = max(boxes, key=lambda case: sum(1 for picks in left if _inside(picks, case)))
        yield case
        left = {picks: None for picks in left if not _inside(picks, case)}


def _grown(made: Sequence[Decision], first: Picks, failing: set[Picks], every: set[Picks] | None) -> tuple[tuple[int, ...], ...]:
    """As many options of each decision as can be added to one way to decide while all of them still fail for the reason.

    `every` has all ways to decide that make a difference, if all are known.
    """
    box: list[tuple[int, ...]] = [(pick,) for pick in first]
    for number, decision in enumerate(made):
        for pick in range(len(decision.options)):
            wider = [*box[:number], tuple(sorted({*box[number], pick})), *box[number + 1 :]]
            if all(picks in failing for picks in product(*wider) if every is None or picks in every):
                box = wider
    return tuple(box)


def _inside(picks: Picks, case: _Case) -> bool:
    return all(pick in options for pick, options in zip(picks, case.options, strict=True))


def _given(made: Sequence[Decision], case: _Case) -> str:
    """What a group of ways to decide has in common, as a script would say it."""
    parts = []
    for decision, options in zip(made, case.options, strict=True):
        if not decision.optional and len(options) < len(decision.options):
            words = " or ".join(decision.options[pick].words for pick in options)
            line = f"{decision.word} {words}".lstrip()
            parts.append(f"`{line}` for {decision.name}" if decision.line is None else f"`{line}` of {decision.name}")
    return " and ".join(parts)


def _problems(reason: Result, given: str, first: Picks, search: Choosing) -> Iterator[tuple[Problem, Picks | None]]:
    if isinstance(reason, Refutation):
        yield replace(conflict_problem(reason.rules, reason.model, search.design.unit or "mm"), given=given), first
    elif isinstance(reason, Unfit):
        for problem in reason.problems:
            yield (OptionRefused(problem.at, given, problem.wrong(), problem.hints()) if given else problem), None
