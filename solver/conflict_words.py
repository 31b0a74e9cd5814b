"""A conflict in words: one sentence that says what clashes, and every rule once, at its line.

The numbers in a rule's sentence are what its two sides come to when the *other* rules of the set hold, found by the
engine; of a range the end is shown that clashes. A number that says nothing is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from foldwright.grammar.problem import Label
from foldwright.grammar.problems_card import CannotHold, Told
from foldwright.grammar.source import Span
from foldwright.solver.conflict_sides import Sides
from foldwright.solver.expression import Const, Variable, variables
from foldwright.solver.grid import grid_is_to_blame
from foldwright.solver.model import Conflict, Kind, Model, Rule
from foldwright.solver.waive import can_waive
from foldwright.solver.words import amount, filled

_WRITTEN = ", as written"
_WEIGHT = {Kind.GEOMETRY: 0, Kind.PRACTICE: 1, Kind.DESIGNER: 2}  # what the first line tells of first
_OPENING = {Kind.GEOMETRY: "this cannot be made: ", Kind.PRACTICE: "workshop practice is against this: ",
            Kind.DESIGNER: "this cannot be had: "}


def conflict_problems(conflict: Conflict, model: Model, unit: str = "mm") -> list[CannotHold]:
    """The problems that show the conflicts of a model, in their order."""
    everything = [rule for members in (*conflict.sets, *(one for group in conflict.others for one in group)) for rule in members]
    sides = Sides(model, everything)
    problems = []
    for number, members in enumerate(conflict.sets):
        others = conflict.others[number] if number < len(conflict.others) else ()
        problem = _problem(members, sides, model, unit)
        problems.append(replace(problem, others=tuple(_told(one, sides, unit) for one in others), rank=number,
                                sure=number not in conflict.unsure, complete=conflict.complete))
    return problems


def conflict_problem(rules: tuple[Rule, ...], model: Model, unit: str = "mm") -> CannotHold:
    """The problem that shows one minimal set of rules that cannot hold together; `sentences` are those of the rules."""
    return _problem(rules, Sides(model, rules), model, unit)


def told(rules: Sequence[Rule], model: Model, unit: str = "mm") -> tuple[Told, ...]:
    """The rules of one minimal set in words, in their order."""
    return _told(rules, Sides(model, rules), unit)


def describe(rule: Rule, among: Sequence[Rule], model: Model, unit: str = "mm") -> str:
    """The rule's sentence, with what its sides come to under the other rules of the set."""
    return _sentence(rule, among, Sides(model, among), unit)


def _problem(rules: Sequence[Rule], sides: Sides, model: Model, unit: str) -> CannotHold:
    told = _told(rules, sides, unit)
    chief = _chief(rules, sides)
    if len(chief) == 1:
        (n,) = chief
        text = _sentence(rules[n], rules, sides, unit, closely=True)
        told = (*told[:n], replace(told[n], sentence=text), *told[n + 1 :])
        headline = _OPENING[rules[n].kind] + _plain(text)
    else:
        headline = "these cannot hold together: " + "; ".join(_plain(told[n].sentence) for n in chief)
    at = _span(rules[chief[0]])
    # what the first line tells of is not told again, but where it stands is shown
    labelled = tuple(each for n, each in enumerate(told) if n not in chief)
    labels = _labels(labelled)
    labels += [Label(place, "and") for n in chief[1:] if (place := _span(rules[n])) is not None]
    if at is None and labels:
        at = labels[0].at
    blame = grid_is_to_blame(model, rules)
    grid = "" if blame is None else f"on a finer grid these can hold: write `step {amount(float(blame), unit=unit)}` below `card`"
    return CannotHold(
        at, tuple(each.sentence for each in told), tuple(labels), grid=grid, headline=headline, told=told,
        unplaced=tuple(_labelled(each) for each in labelled if each.at is None),
        waivable=tuple(rule.name for rule in rules if can_waive(rule)),
    )


def _told(rules: Sequence[Rule], sides: Sides, unit: str) -> tuple[Told, ...]:
    return tuple(Told(rule.name, _asker(rule), _sentence(rule, rules, sides, unit), _span(rule)) for rule in rules)


def _chief(rules: Sequence[Rule], sides: Sides) -> list[int]:
    """Which rules the first line tells of: one that brings several dimensions together, geometry before all.

    If no such rule shows by its numbers that it cannot hold, those that the designer requires; if there are none, the
    first that brings dimensions together; if there is none either, all rules.
    """
    together = [n for n, rule in enumerate(rules) if not _is_bound(rule)]

    def worth(n: int) -> tuple[int, int, int]:
        names = {v.name for side in (rules[n].left, rules[n].right) for v in variables(side)}
        return _WEIGHT[rules[n].kind], -len(names), n

    telling = [n for n in together if sides.clash(rules[n], rules)]
    if telling:
        return [min(telling, key=worth)]
    required = [n for n in together if rules[n].kind is Kind.DESIGNER]
    if required:
        return required
    return [min(together, key=worth)] if together else list(range(len(rules)))


def _is_bound(rule: Rule) -> bool:
    """Whether a rule is a value or an end of a range, written or usual, that is a number."""
    return isinstance(rule.left, Variable) and isinstance(rule.right, Const) and rule.name.startswith(f"{rule.left.name}.")


def _sentence(rule: Rule, among: Sequence[Rule], sides: Sides, unit: str, closely: bool = False) -> str:
    ends = sides.ends(rule, among, closely)
    return filled(rule, {side: None if end is None else (end[0], amount(end[1], rule.angle, unit)) for side, end in ends.items()})


def _span(rule: Rule) -> Span | None:
    """The line that a rule is told at: what sets the one dimension it limits; else the head of its block, or its own line."""
    if not rule.at:
        return None
    return rule.at[0] if _is_bound(rule) else rule.at[-1]


def _asker(rule: Rule) -> str:
    """Who asks for a rule, in the word that `Told` knows."""
    last = rule.name.rpartition(".")[2]
    if rule.kind is Kind.PRACTICE and last.startswith("usual"):
        return "usual"
    if rule.kind is Kind.GEOMETRY and ".mat-" in rule.name:
        return "mat"
    return str(rule.kind)


def _labelled(told: Told) -> str:
    return f"{told.asks()}: {_plain(told.sentence)}"


def _plain(text: str) -> str:
    """A sentence without what the label says already."""
    return text.removesuffix(_WRITTEN)


def _labels(told: Sequence[Told]) -> list[Label]:
    """The rules at their places, in the order of the script; what has one place shares one label."""
    places: dict[Span, dict[str, list[str]]] = {}
    for each in told:
        if each.at is not None:
            places.setdefault(each.at, {}).setdefault(each.asks(), []).append(_plain(each.sentence))
    labels = []
    for at in sorted(places, key=lambda span: (span.source.name, span.start, span.end)):
        labels.append(Label(at, "; ".join(f"{asks}: {_joined(texts)}" for asks, texts in places[at].items())))
    return labels


def _joined(texts: Sequence[str]) -> str:
    """Sentences in one line; both ends of a range in one sentence."""
    joined: list[str] = []
    for text in texts:
        before, _, least = joined[-1].rpartition(" is at least ") if joined else ("", "", "")
        if before and text.startswith(f"{before} is at most "):
            joined[-1] = f"{before} is {least} to {text.removeprefix(f'{before} is at most ')}"
        else:
            joined.append(text)
    return ", and ".join(joined)
