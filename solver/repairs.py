"""What would help a card that cannot be made: changes of single numbers of the script, found and tried.

Only a number that takes part in every minimal set of a conflict can end it. Those are made unknown all at once
(`freeing.py`), and for each the nearest value is found with which all rules hold while the others stay as written. What
decides which rules there are (`rebinding.py`) is tried value by value. At last every change is made in the text, the text
is read again, and its rules are held against the answer found: only what passes is told.

Where no single number is enough, pairs are looked for in the same way, and of several conflicts each also gets the changes
that end it alone.
All limits are counted in nodes and trials, so that the same script gets the same changes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import combinations, product

from foldwright.grammar.problem import Refused
from foldwright.grammar.problems_card import CannotHold
from foldwright.solver.bind import Bound, bind
from foldwright.solver.change_words import hint_words, words
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.nearest import Nearest, Values
from foldwright.solver.engine.propagate import TimeUp
from foldwright.solver.evaluate import holds, postorder
from foldwright.solver.expression import Variable
from foldwright.solver.freeing import MARK, Freed
from foldwright.solver.model import Conflict, Model, Rule
from foldwright.solver.rebinding import Change, Rebinding
from foldwright.solver.written import Edit, edited, says_all
from foldwright.solver.written_numbers import numbers

SHOWN = 8  # changes told of one conflict at most
_EACH = 4  # changes of each of several conflicts that are told, and tried together
_PAIRS = 16  # pairs of numbers that are looked at
_TOGETHER = 12  # ways to end several conflicts that are tried
_SEVERAL = 3  # of these that are told


@dataclass(frozen=True)
class Repair:
    """One or several numbers written otherwise. `ends` are the conflicts (places in `Conflict.sets`) that it ends.

    `size` is how large it is for the size of the numbers; `nearest` tells that each number has the nearest value, in its
    steps, with which this can be done while the others stay.
    """

    edits: tuple[Edit, ...]
    words: str
    line: int
    size: Fraction
    ends: tuple[int, ...]
    nearest: bool
    whole: bool = True  # it makes the whole card possible


@dataclass(frozen=True)
class Repairs:
    """All changes found, in the order in which they are numbered; hints are tried, but need a line of their own.

    `undecided` counts the numbers that were given up for the limits.
    """

    changes: tuple[Repair, ...] = ()
    hints: tuple[str, ...] = ()
    undecided: int = 0


def repairs(bound: Bound, conflict: Conflict, deadline: float | None = None) -> Repairs:
    """The changes that make a card possible whose rules cannot hold together, the smallest first."""
    if not any(conflict.sets) or not says_all(bound.design):
        return Repairs()  # no rule takes part, or part of the design stands elsewhere: no number of the script can help
    return _Repairing(bound, conflict, deadline).run()


def told(problems: Sequence[CannotHold], found: Repairs) -> list[CannotHold]:
    """The problems of a card's conflicts, each with the changes that end it; the last one has those of the whole card."""
    out = list(problems)
    several, last = len(problems) > 1, len(problems) - 1
    for number, change in enumerate(found.changes, 1):
        place = last if change.whole else change.ends[0]
        text = change.words if change.nearest else f"{change.words}; something nearer may do as well"
        if several:
            text = f"for the whole card: {text}" if change.whole else f"for this alone: {text}"
        out[place] = replace(out[place], changes=(*out[place].changes, text), numbers=(*out[place].numbers, number))
    also = list(found.hints)
    if found.undecided:
        many = "s were" if found.undecided > 1 else " was"
        also.append(f"{found.undecided} more number{many} not decided: the search was too long")
    if found.changes:
        also.append("`foldwright check` with `--apply K` prints the script with change K made, comments and layout kept")
    if out:
        out[last] = replace(out[last], also=(*out[last].also, *also))
    return out


@dataclass
class _Way:
    """Numbers with other values, and the values of all unknowns where these are known."""

    changes: tuple[Change, ...]
    nearest: bool
    values: Mapping[str, Fraction] = field(default_factory=dict)

    @property
    def edits(self) -> tuple[Edit, ...]:
        return tuple(change.edit for change in self.changes)

    @property
    def order(self) -> tuple[Fraction, tuple[Edit, ...]]:
        """Smallest first; of equals the one that comes first in the script."""
        return sum((change.size for change in self.changes), Fraction(0)), self.edits


class _Repairing:
    """The work of `repairs`."""

    def __init__(self, bound: Bound, conflict: Conflict, deadline: float | None) -> None:
        self.bound, self.design = bound, bound.design
        self.unit = bound.design.unit or "mm"
        more = conflict.others or ((),) * len(conflict.sets)
        self.groups = [[members, *others] for members, others in zip(conflict.sets, more, strict=True)]
        self.everything = tuple(range(len(self.groups)))
        written = numbers(self.design)
        free = bind(self.design, written)
        rules = {rule.name: rule for rule in free.model.rules}
        # by number: the minimal sets, as pairs of places, that it takes part in
        places: dict[str, set[tuple[int, int]]] = {}
        for n, group in enumerate(self.groups):
            for k, members in enumerate(group):
                for name in {name for rule in members for name in _steps(rules.get(rule.name, rule))}:
                    places.setdefault(name, set()).add((n, k))
        self.touched = {freed: frozenset(places.get(freed.steps.name, ())) for freed in free.freed}
        self.concerned = [freed for freed, touched in self.touched.items() if touched]
        self.within = list(dict.fromkeys(rule for freed in self.concerned for rule in freed.within))
        self.model = Model(free.model.variables, (*free.model.rules, *self.within))
        self.number = {rule: n for n, rule in enumerate(self.model.rules)}
        self.deadline = deadline
        self.undecided: set[int] = set()  # places of numbers
        self.rebinding = Rebinding(bound, self.groups, written, deadline)

    def run(self) -> Repairs:
        """Single changes of the whole card; or else those of each conflict, and several that end all of them."""
        values = Values(Machine(self.model), self.deadline)
        try:
            whole = self._passing(self._singles(values, self.everything), SHOWN)
            if whole:
                return self._told(self._repair(way, self.everything) for way in whole)
            each = [self._singles(values, (n,))[:_EACH] for n in self.everything] if len(self.everything) > 1 else []
            several = [*self._pairs(values, each), *self._together(each)]
            several += [_Way(changes, True) for changes in self.rebinding.both_counts(self.everything)]
        finally:
            values.close()
        told = [self._repair(way, (n,)) for n, ways in enumerate(each) for way in ways]
        last = self._passing(several, _SEVERAL)
        return self._told([*told, *(self._repair(way, self.everything) for way in last)])

    def _told(self, changes: Iterable[Repair]) -> Repairs:
        hints = tuple(hint_words(change, self.unit) for change in self.rebinding.hints(self.everything))
        return Repairs(tuple(changes), hints, len(self.undecided | self.rebinding.undecided))

    def _repair(self, way: _Way, ends: tuple[int, ...]) -> Repair:
        return Repair(way.edits, words(way.changes, self.design), way.changes[0].line, way.order[0], ends, way.nearest,
                      ends == self.everything)

    # ---- single numbers

    def _singles(self, values: Values, ends: tuple[int, ...]) -> list[_Way]:
        """Nearest values that end some conflicts while the rules of the others are left out, the smallest change first."""
        found = list(self._free(values, ends))
        found += [_Way(changes, True) for changes in self.rebinding.changes(ends, self._left_out(ends))]
        return sorted(found, key=lambda way: way.order)

    def _free(self, values: Values, ends: tuple[int, ...]) -> Iterator[_Way]:
        """The numbers that can be made unknown."""
        wanted = {(n, k) for n in ends for k in range(len(self.groups[n]))}
        able = [freed for freed in self.concerned if wanted <= self.touched[freed]]
        if not able or not self._settle(values, self._left_out(ends)):
            return
        for freed in able:
            got = self._nearest(values, freed, {})
            if got.count is not None:
                yield _Way((Change(freed.number, freed.value(got.count)),), got.proved, got.values)
            elif not got.proved:
                self.undecided.add(freed.number.at.start)

    def _left_out(self, ends: tuple[int, ...]) -> frozenset[str]:
        """Names of the rules of the other conflicts, by which these do not count."""
        mine = {rule.name for n in ends for members in self.groups[n] for rule in members}
        others = {rule.name for n, group in enumerate(self.groups) if n not in ends for members in group for rule in members}
        return frozenset(others - mine)

    def _settle(self, values: Values, left_out: frozenset[str] = frozenset()) -> bool:
        """Switch on all rules but those that keep a number that takes part in a conflict."""
        off = {freed.kept for freed in self.concerned} | set(self.within)
        try:
            return values.settle(n for rule, n in self.number.items() if rule not in off and rule.name not in left_out)
        except TimeUp:
            return False

    def _nearest(self, values: Values, freed: Freed, others: Mapping[Freed, int | None]) -> Nearest:
        """The nearest value of a number; `others` have another value than written, or any."""
        counts = {other.steps.name: others.get(other, 0) for other in self.concerned if other is not freed}
        fixed = {name: count for name, count in counts.items() if count is not None}
        within = [self.number[rule] for each in (freed, *others) for rule in each.within]
        try:
            return values.nearest(freed.steps.name, fixed, within)
        except TimeUp:
            return Nearest(None, False, {})

    # ---- several numbers

    def _pairs(self, values: Values, each: Sequence[Sequence[_Way]]) -> Iterator[_Way]:
        """Two numbers that take part in all minimal sets together: the nearest value of one, then that of the other."""
        every = frozenset((n, k) for n, group in enumerate(self.groups) for k in range(len(group)))
        pairs = [pair for pair in combinations(self.concerned, 2) if self.touched[pair[0]] | self.touched[pair[1]] == every]
        sizes = {change.at.start: change.size for ways in each for way in ways for change in way.changes}
        pairs.sort(key=lambda pair: sum(sizes.get(freed.number.at.start, Fraction(1)) for freed in pair))
        if not pairs or not self._settle(values):
            return
        for one, other in pairs[:_PAIRS]:
            found = [way for first, second in ((one, other), (other, one)) if (way := self._pair(values, first, second))]
            if found:
                yield min(found, key=lambda way: way.order)

    def _pair(self, values: Values, first: Freed, second: Freed) -> _Way | None:
        near = self._nearest(values, first, {second: None})
        if near.count is None:
            return None
        rest = self._nearest(values, second, {first: near.count})
        if rest.count is None:
            return None
        changes = _in_order(Change(freed.number, freed.value(count))
                            for freed, count in ((first, near.count), (second, rest.count)))
        return _Way(changes, near.proved and rest.proved, rest.values)

    def _together(self, each: Sequence[Sequence[_Way]]) -> Iterator[_Way]:
        """One change for each conflict, made together."""
        ways = [_Way(_in_order(change for way in several for change in way.changes), all(way.nearest for way in several))
                for several in product(*each)] if each else []
        ways = [way for way in ways if len({edit[0] for edit in way.edits}) == len(way.edits)]
        yield from sorted(ways, key=lambda way: way.order)[:_TOGETHER]

    # ---- the last word

    def _passing(self, ways: Iterable[_Way], most: int) -> list[_Way]:
        """The smallest changes after which the script can be read and all its rules can hold."""
        found: dict[tuple[Edit, ...], _Way] = {}
        for way in sorted(ways, key=lambda way: way.order):
            if len(found) < most and way.edits not in found and self._passes(way):
                found[way.edits] = way
        return list(found.values())

    def _passes(self, way: _Way) -> bool:
        if way.values and self._holds(way):
            return True
        possible = self.rebinding.possible(way.edits)
        if possible is None:
            self.undecided |= {change.at.start for change in way.changes}
        return possible is True

    def _holds(self, way: _Way) -> bool:
        """Whether the values known of a way keep all rules of the changed script."""
        try:
            model = bind(edited(self.design, way.edits)).model
        except Refused:
            return False
        values = way.values
        return all(v.name in values and (values[v.name] / v.step).denominator == 1 for v in model.variables) and all(
            holds(rule, values) for rule in model.rules)


def _in_order(changes: Iterable[Change]) -> tuple[Change, ...]:
    """Changes by their place in the script."""
    return tuple(sorted(changes, key=lambda change: change.at.start))


def _steps(rule: Rule) -> set[str]:
    """Names of the steps of numbers that stand in a rule."""
    return {node.name for side in (rule.left, rule.right) for node in postorder(side)
            if isinstance(node, Variable) and node.name.startswith(MARK)}
