"""Changes of a script that alter which rules there are: counts, papers, calipers, workshop practice.

They cannot be made unknown, so their values are tried one by one: the changed text is read, bound and solved. Which of
them bear on a conflict at all is seen first, by comparing the rules of its minimal sets before and after a small change.
Values are tried outward in doubling distance, then halved; what was passed over is tried as well, if it is not too much.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from time import monotonic

from foldwright.grammar.problem import Refused
from foldwright.grammar.source import Span
from foldwright.solver.bind import Bound, bind
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.propagate import TimeUp
from foldwright.solver.engine.questions import Questions
from foldwright.solver.freeing import CAN_BE_FREE
from foldwright.solver.model import Model, Rule
from foldwright.solver.notation import decimal, fitting
from foldwright.solver.practice import HABITS, Habit
from foldwright.solver.refutation import alike
from foldwright.solver.written import CALIPER, COUNT, PRACTICE, WEIGHT, Edit, NamedPaper, Written, edited, papers

TRIALS = 80  # scripts that are bound and solved at most, for all conflicts of a card together
_NODES = 1000  # of one of them
_PASSED = 12  # values passed over that are tried afterwards
_HINTS = 3
_PLACEHOLDER = "..."


@dataclass(frozen=True)
class Change:
    """Another value for something that is written, or for a habit that is not (`value` in mm, degrees or mm²)."""

    what: Written | NamedPaper | Habit
    value: Fraction | str
    size: Fraction = Fraction(0)  # of a paper

    def __post_init__(self) -> None:
        if not isinstance(self.what, NamedPaper):
            assert isinstance(self.value, Fraction)
            before = self.what.value
            least = self.what.step if isinstance(self.what, Written) else habit_step(self.what)
            object.__setattr__(self, "size", abs(self.value - before) / max(abs(before), least))

    @property
    def at(self) -> Span:
        """Where it is written."""
        assert not isinstance(self.what, Habit)
        return self.what.at

    @property
    def line(self) -> int:
        """The line of the script, 0 for a habit."""
        return 0 if isinstance(self.what, Habit) else self.what.at.line

    @cached_property
    def edit(self) -> Edit:
        """The change of the text."""
        if isinstance(self.what, Written):
            assert isinstance(self.value, Fraction)
            return self.what.edit(self.value)
        assert isinstance(self.what, NamedPaper)
        assert isinstance(self.value, str)
        return self.what.at.start, self.what.at.end, self.value


def habit_step(habit: Habit) -> Fraction:
    """The step in which a habit is changed: about a twentieth of it, for lengths no more than half a millimetre."""
    return Fraction(1) if habit.dimension != "length" else fitting(habit.value, Fraction(1, 2))


def _half_a_step_off(habit: Habit) -> Fraction:
    """Half a step below what is usual; above it where that would be less than nothing."""
    half = habit_step(habit) / 2
    return habit.value - half if habit.value >= half else habit.value + half


def habit_line(habit: Habit, value: Fraction) -> str:
    """The line of a script that sets a habit."""
    unit = {"length": " mm", "angle": " deg"}.get(habit.dimension, "")
    return f'practice {habit.name} {decimal(value)}{unit} because "{_PLACEHOLDER}"'


class Rebinding:
    """Trials with the text of one design. `groups` are the minimal sets of each conflict."""

    def __init__(self, bound: Bound, groups: Sequence[Sequence[Sequence[Rule]]], written: Sequence[Written],
                 deadline: float | None) -> None:
        self.bound, self.design, self.groups, self.deadline = bound, bound.design, groups, deadline
        self.written = [number for number in written if number.role not in CAN_BE_FREE]
        self.undecided: set[int] = set()
        self.trials = 0
        self._known: dict[tuple[tuple[Edit, ...], frozenset[str]], bool | None] = {}
        self._bound: dict[tuple[Edit, ...], Model | None] = {}

    # ---- what bears on conflicts

    def changes(self, ends: tuple[int, ...], left_out: frozenset[str] = frozenset()) -> Iterator[tuple[Change, ...]]:
        """The nearest value of each count, caliper, weight and written practice with which some conflicts end; other papers."""
        for number in self._bearing([n for n in self.written if n.role in (CALIPER, WEIGHT, PRACTICE)], ends):
            yield from self._numbers((number,), ends, left_out)
        counts = [n for n in self.written if n.role == COUNT]
        bearing = [number for number in counts if self._bears([number], ends)]
        for number in bearing:
            yield from self._numbers((number,), ends, left_out)
        for change in self._papers(ends, left_out):
            yield (change,)

    def both_counts(self, ends: tuple[int, ...]) -> Iterator[tuple[Change, ...]]:
        """The two counts of a line made equal, at the nearest number with which some conflicts end."""
        counts = [n for n in self.written if n.role == COUNT]
        for one, other in pairwise(counts):
            if one.shown == other.shown and self._bears([one, other], ends):
                yield from self._numbers((one, other), ends, frozenset())

    def hints(self, ends: tuple[int, ...]) -> Iterator[Change]:
        """The nearest values of habits that the script does not set, with which some conflicts end."""
        set_here = {practice.name.text for practice in self.design.practices}
        habits = [habit for habit in HABITS if habit.name not in set_here]
        found = 0
        for habit in self._bearing(habits, ends):
            step = habit_step(habit)
            rooms = max(0, int(habit.value / step) - 1), int(2 * habit.value / step)

            def edits(k: int, habit: Habit = habit, step: Fraction = step) -> list[Edit]:
                return [self._habit_edit([(habit, habit.value + k * step)])]

            best = self._nearest(edits, rooms, ends, frozenset(), 0)
            if best is not None and abs(best) * step <= habit.value / 2:  # less than half of a habit is none
                found += 1
                yield Change(habit, habit.value + best * step)
            if found == _HINTS:
                return

    def _bearing(self, things: Sequence[Written] | Sequence[Habit], ends: tuple[int, ...]) -> list:  # type: ignore[type-arg]
        """Those of some numbers or habits that bear on all the conflicts; asked in halves, since mostly none does."""
        if not things or not self._bears(things, ends):
            return []
        if len(things) == 1:
            return list(things)
        middle = len(things) // 2
        return [*self._bearing(things[:middle], ends), *self._bearing(things[middle:], ends)]

    def _bears(self, things: Sequence[Written] | Sequence[Habit], ends: tuple[int, ...]) -> bool:
        """Whether a step of all of these at once alters a rule in each minimal set of the conflicts."""
        edits = [thing.edit(thing.moved(-1 if thing.down else 1)) for thing in things if isinstance(thing, Written)]
        habits = [(thing, _half_a_step_off(thing)) for thing in things if isinstance(thing, Habit)]
        model = self._model([*edits, *([self._habit_edit(habits)] if habits else [])])
        if model is None:
            return False
        rules = {rule.name: rule for rule in model.rules}
        return all(any((other := rules.get(rule.name)) is None or not alike(rule, other) for rule in members)
                   for n in ends for members in self.groups[n])

    def _habit_edit(self, habits: Sequence[tuple[Habit, Fraction]]) -> Edit:
        end = len(self.design.source.text)
        return end, end, "\n" + "\n".join(habit_line(habit, value) for habit, value in habits) + "\n"

    # ---- values

    def _numbers(self, numbers: Sequence[Written], ends: tuple[int, ...],
                 left_out: frozenset[str]) -> Iterator[tuple[Change, ...]]:
        """The nearest values of one number, or of several that are made equal and then changed alike."""
        low, high = min(n.value for n in numbers), max(n.value for n in numbers)
        step = numbers[0].step

        def moved(k: int) -> Fraction:
            return (high if k > 0 else low) + k * step

        down = int((low - max(n.least for n in numbers)) / step)
        up = int((min(n.most for n in numbers) - high) / step)
        best = self._nearest(lambda k: [n.edit(moved(k)) for n in numbers], (down, up), ends, left_out, numbers[0].at.start)
        if best is not None:
            yield tuple(Change(n, moved(best)) for n in numbers)

    def _papers(self, ends: tuple[int, ...], left_out: frozenset[str]) -> Iterator[Change]:
        """Other papers that are declared, for blocks whose paper bears on the conflicts."""
        thick = {name: Fraction(paper.caliper).limit_denominator(10**6) for name, paper in self.bound.papers.items()}
        thickness = [number for number in self.written if number.role in (CALIPER, WEIGHT)]
        bearing = {number.owner for number in self._bearing(thickness, ends)}
        for named in papers(self.design):
            if named.name not in bearing:
                continue
            for other in sorted(named.others, key=lambda name: (abs(thick[name] - thick[named.name]), name)):
                change = Change(named, other, abs(thick[other] - thick[named.name]) / (thick[named.name] or 1))
                if change.size and self._try([change.edit], ends, left_out):
                    yield change
                    break

    def _nearest(self, edits: Callable[[int], list[Edit]], rooms: tuple[int, int], ends: tuple[int, ...],
                 left_out: frozenset[str], place: int) -> int | None:
        """The number of steps, nearest to 0, with which some conflicts end; None if there is none, or it was not found."""
        best: int | None = None
        for sense, room in ((-1, rooms[0]), (1, rooms[1])):
            room = room if best is None else min(room, abs(best) - 1)
            tried: dict[int, bool | None] = {}

            def ask(k: int, sense: int = sense, tried: dict[int, bool | None] = tried) -> bool | None:
                if k not in tried:
                    tried[k] = self._try(edits(sense * k), ends, left_out)
                return tried[k]

            at = self._first(ask, room)
            if at is None:
                if None in tried.values():
                    self.undecided.add(place)
                continue
            passed = [k for k in range(1, at) if k not in tried]
            best = sense * next((k for k in passed[:_PASSED] if ask(k)), at)
        return best

    @staticmethod
    def _first(ask: Callable[[int], bool | None], room: int) -> int | None:
        """The first of 1 .. room with the answer yes, if answers go from no to yes once."""
        low, k = 0, 1
        while k <= room and not (answer := ask(k)):
            if answer is None:
                return None
            if k == room:
                return None
            low, k = k, min(2 * k, room)
        if room < 1:
            return None
        high = k
        while high - low > 1:
            middle = (low + high) // 2
            if ask(middle):
                high = middle
            else:
                low = middle
        return high

    # ---- trials

    def possible(self, edits: Sequence[Edit]) -> bool | None:
        """Whether all rules of the script can hold after some changes; None if the limits were not enough to tell."""
        return self._try(edits, tuple(range(len(self.groups))), frozenset())

    def _try(self, edits: Sequence[Edit], ends: tuple[int, ...], left_out: frozenset[str]) -> bool | None:
        key = tuple(sorted(edits)), left_out
        if key not in self._known:
            self._known[key] = self._tried(edits, ends, left_out)
        return self._known[key]

    def _tried(self, edits: Sequence[Edit], ends: tuple[int, ...], left_out: frozenset[str]) -> bool | None:
        if self.trials >= TRIALS or (self.deadline is not None and monotonic() > self.deadline):
            return None
        self.trials += 1
        model = self._model(edits)
        if model is None:
            return False
        rules = {rule.name: rule for rule in model.rules if rule.name not in left_out}
        try:
            for members in (members for n in ends for members in self.groups[n]):
                few = [rules[rule.name] for rule in members if rule.name in rules]
                if len(few) == len(members) and self._solved(Model(model.variables, tuple(few)), 1) is False:
                    return False
            return self._solved(Model(model.variables, tuple(rules.values())), _NODES)
        except TimeUp:
            return None

    def _solved(self, model: Model, nodes: int) -> bool | None:
        machine = Machine(model)
        return False if machine.empty else Questions(machine, self.deadline).possible(range(len(model.rules)), nodes)

    def _model(self, edits: Sequence[Edit]) -> Model | None:
        """The model of the changed script; None if that has faults."""
        key = tuple(sorted(edits))
        if key not in self._bound:
            try:
                self._bound[key] = bind(edited(self.design, edits)).model
            except Refused:
                self._bound[key] = None
        return self._bound[key]
