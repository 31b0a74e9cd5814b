"""The best way to decide the free choices of a design.

python-constraint walks through the decisions, one variable each; propagation prunes its walk. Half-made decisions are cut
off when blocks would be missing that the best answer so far has. Of a full one the plain design is bound, and refuted

- by a conflict that was met before, if all its rules come back: the same expressions, over the same unknowns;
- by propagation and, if that is not enough, by search: then the minimal conflict is remembered;
- if propagation, with the wishes held at what the best answer so far has, leaves nothing that would be better.

What is left is solved. Blocks that are there come before all wishes, in the order written, then the wishes, then the options
that are written first. The answer is the best of all ways to decide, unless a limit was met.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from math import prod
from time import monotonic
from typing import Any

from foldwright.grammar import design as ast
from foldwright.grammar.problem import Problem, Refused
from foldwright.grammar.problems import CannotCarry, NoCreaseBetween, UnknownChoice, UnknownName
from foldwright.solver.bind import Bound, bind
from foldwright.solver.choices import Decision, Gone, Picks, absent, decide, name_of
from foldwright.solver.choices_reach import Reach
from foldwright.solver.choices_results import Accept, Found, NoBetter, Open, Result, Solved, Unfit
from foldwright.solver.choices_walk import walk
from foldwright.solver.engine import solve
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.minimal import minimise
from foldwright.solver.engine.propagate import TimeUp
from foldwright.solver.engine.questions import Questions
from foldwright.solver.engine.stopping import current, running
from foldwright.solver.expression import Const
from foldwright.solver.model import Conflict, GaveUp, Kind, Model, Outcome, Rule, Solution
from foldwright.solver.refutation import Refutation, key

MOST = 20_000  # ways to decide that are looked at, at some 10 ms each
_NODES = 300  # spent on the question whether a way could be better, before it is solved
_QUESTION = 1000  # nodes to prove a rule needed in a conflict; more rules than needed only make it recur less often

@dataclass
class Choosing:
    """The search over all ways to decide the choices of one design. `learn` False forgets conflicts (for comparison)."""

    design: ast.Design
    made: tuple[Decision, ...]
    seconds: float | None = None
    tell: Callable[[str], None] = lambda _: None
    solve: Callable[..., Outcome] = solve
    learn: bool = True
    results: dict[Picks, Result] = field(default_factory=dict)
    refutations: list[Refutation] = field(default_factory=list)
    best: Found | None = None
    seen: int = 0
    solved: int = 0
    complete: bool = True  # that no limit was met
    unproved: list[Picks] = field(default_factory=list)  # whose answer may not be the best of its way to decide

    def __post_init__(self) -> None:
        self.total = prod(len(decision.options) for decision in self.made)
        self.deadline = None if self.seconds is None else monotonic() + self.seconds
        self._share = 2
        self._reach = Reach(self.design, self.made)
        self._names = [name_of(block) for block in self.design.blocks]

    def run(self, accept: Accept | None = None) -> Found | None:
        """The best answer, or None if no way to decide has one (or none was met within the limits, see `complete`).

        `accept` looks at the best answer and returns what keeps it from being made; then the next best is looked for. If
        none is accepted, the very best one is returned all the same.
        """
        first: Found | None = None
        while True:
            with running():
                self._all()
            if self.best is None or accept is None:
                return self.best or first
            problems = tuple(accept(self.best.bound, self.best.solution))
            if not problems:
                return self.best
            first = first or self.best
            if not self.complete:
                return first
            self.results[self.best.picks] = Unfit(problems)
            self.best = None

    def _all(self) -> None:
        try:
            for number, picks in enumerate(walk([len(decision.options) for decision in self.made], self.worth)):
                self._consider(picks)
                if number == 0 and self.best is None:
                    self._seed()
            again, self.unproved = self.unproved, []
            for number, picks in enumerate(again):  # now with an equal share of the time that is left
                del self.results[picks]
                self._share = len(again) - number
                self._consider(picks)
        except TimeUp:
            self.complete = False

    # ---- what the walk asks

    def worth(self, picks: Mapping[int, int]) -> bool:
        """Whether some decisions, perhaps not all, may still lead to a better answer than the best so far."""
        if self.known(picks) is not None:
            return False
        gone = absent(self.design, self.made, picks)
        if any(pick and self.made[n].name in gone and not (self.made[n].optional and self._leaves_out(n, picks, gone))
               for n, pick in picks.items()):
            return False  # what an absent block would look like makes no difference: only its first options are looked at
        return self.best is None or self._there(gone) >= self.best.rank[0]

    def known(self, picks: Mapping[int, int]) -> Refutation | None:
        """A conflict met before that is sure to come back under some decisions, perhaps not all."""
        for refutation in self.refutations:
            if refutation.under is not None and all(picks.get(number) == pick for number, pick in refutation.under):
                return refutation
        return None

    def result(self, picks: Picks) -> Result | None:
        """What is known of a way to decide, whether or not it was looked at."""
        return self.results.get(picks) or self.known(dict(enumerate(picks)))

    def _leaves_out(self, number: int, picks: Mapping[int, int], gone: frozenset[str]) -> bool:
        """Whether a block is absent by its own decision, and not already for what it stands on."""
        return self.made[number].name not in absent(self.design, self.made, {**picks, number: 0})

    def _there(self, gone: frozenset[str]) -> tuple[bool, ...]:
        return tuple(name not in gone for name in self._names)

    # ---- one way to decide

    def _consider(self, picks: Picks) -> None:
        """Look at one way to decide, and keep its answer if it is the best so far. Raises TimeUp, Refused."""
        known = self.results.get(picks)
        if isinstance(known, Refutation | Unfit | Open):
            return
        self._check_limits()
        plain, gone = decide(self.design, self.made, picks)
        if isinstance(known, Solved):
            self._keep(picks, bind(plain), known.solution, gone)
            return
        self.seen += picks not in self.results
        bound = self._bound(plain, picks)
        if bound is None:
            return
        result: Result = self._refuted(bound, picks) or self._no_better(picks, gone) or self._solve(bound.model, picks)
        self.results[picks] = result
        if isinstance(result, Solved):
            self._keep(picks, bound, result.solution, gone)

    def left(self) -> float | None:
        """Seconds that are left, if there is a limit."""
        return None if self.deadline is None else max(0.01, self.deadline - monotonic())

    def _check_limits(self) -> None:
        stop = current()
        late = self.deadline is not None and monotonic() > self.deadline
        if self.seen >= MOST or late or (stop is not None and stop()):
            raise TimeUp

    def _bound(self, plain: ast.Design, picks: Picks) -> Bound | None:
        """The bound design, or None if something cannot stand like this. Raises Refused for faults of the script itself."""
        try:
            return bind(plain)
        except Refused as refused:
            faults = [problem for problem in refused.problems if not self._by_choice(problem)]
            if faults:
                raise Refused(faults) from None
            self.results[picks] = Unfit(refused.problems)
            return None

    def _by_choice(self, problem: Problem) -> bool:
        """Whether a problem may come from the way to decide, and not from what is written."""
        if isinstance(problem, UnknownName):
            return problem.name.split(".")[0] in self._names
        if isinstance(problem, UnknownChoice):  # a panel that has an upper edge with one option, and none with another
            return problem.setting == "at" and problem.name == "top"
        return isinstance(problem, CannotCarry | NoCreaseBetween)

    def _refuted(self, bound: Bound, picks: Picks) -> Refutation | None:
        """The reason why a model has no answer, if it has none; `_oracle` is left ready for more questions."""
        model = bound.model
        known = {key(rule): rule for rule in model.rules}
        for refutation in self.refutations:
            if refutation.within(known):
                return refutation
        levels, self._steps = self._levels(model)
        machine = Machine(Model(model.variables, (*model.rules, *levels)))
        self._own = range(len(model.rules))
        self._oracle = Questions(machine, self.deadline)
        if self._oracle.possible(self._own):
            return None
        members, _ = minimise(self._oracle, self._oracle.core, _QUESTION)
        rules = tuple(bound.model.rules[n] for n in members)
        refutation = Refutation(rules, model, self._reach.under(rules, picks, bound))
        if self.learn:
            self.refutations.append(refutation)
        return refutation

    def _levels(self, model: Model) -> tuple[list[Rule], list[int | None]]:
        """Two rules for each wish, that it comes to as much as in the best answer so far, and to more.

        Also the numbers of the first of the two; none for a wish that has no value in the best answer.
        """
        rules: list[Rule] = []
        steps: list[int | None] = []
        reached = {} if self.best is None else {_place(r.wish.at): r for r in self.best.solution.wishes}
        for wish in model.wishes if self.best is not None else ():
            result = reached.get(_place(wish.at))
            steps.append(None if result is None else len(model.rules) + len(rules))
            if result is not None:
                sign, operator = (1, ">=") if wish.largest else (-1, "<=")
                for more in (0, 1):
                    limit = Const(result.value + sign * more * wish.grain)
                    rules.append(Rule(f"level-{len(rules)}", Kind.DESIGNER, wish.target, operator, limit, ""))
        return rules, steps

    def _no_better(self, picks: Picks, gone: Gone) -> NoBetter | None:
        """Whether the model that `_refuted` had last can be seen to have no better answer than the best so far."""
        if self.best is None or self._there(gone.blocks) > self.best.rank[0]:
            return None
        asked = [*self._own]
        for number in self._steps:
            if number is None or self._oracle.possible([*asked, number + 1], _NODES) is not False:
                return None
            asked.append(number)
            if self._oracle.refuted(asked):
                return NoBetter()
        return NoBetter() if self.best.picks < picks else None

    def _solve(self, model: Model, picks: Picks) -> Result:
        left = self.left()
        share = None if left is None else left / self._share  # one hard way must not take the time of all
        self.solved += 1
        self.tell(f"{self.seen} of {self.total} ways to choose: {self.words(picks)}")
        outcome = self.solve(model, seconds=share, progress=self.tell)
        if isinstance(outcome, GaveUp):
            self.complete = False
            return Open()
        assert not isinstance(outcome, Conflict), "the oracle found that the rules can hold together"
        if not all(result.proved for result in outcome.wishes):
            self.unproved.append(picks)
        return Solved(outcome)

    def _keep(self, picks: Picks, bound: Bound, solution: Solution, gone: Gone) -> None:
        reached: dict[int, Fraction] = {_place(r.wish.at): r.value * (1 if r.wish.largest else -1) for r in solution.wishes}
        places = [_place(wish.at) for wish in self.design.prefers]
        wishes = tuple((place in reached, reached.get(place, Fraction(0))) for place in places)
        rank = (self._there(gone.blocks), wishes, tuple(-pick for pick in picks))
        if self.best is None or rank > self.best.rank:
            self.best = Found(picks, bound, solution, gone, rank)

    def words(self, picks: Picks) -> str:
        """A way to decide in words."""
        pairs = zip(self.made, picks, strict=True)
        return ", ".join(f"{decision.what}: {decision.options[pick].words}" for decision, pick in pairs)

    # ---- a first answer

    def _seed(self) -> None:
        """Where not everything fits: begin with nothing optional and add what fits, block by block in the order written.

        The walk begins with everything that is optional, and might meet the time limit before it meets an answer.
        """
        optional = [n for n, decision in enumerate(self.made) if decision.optional]
        picks = tuple(1 if decision.optional else 0 for decision in self.made)
        for number in (None, *optional):
            trial = picks if number is None else tuple(0 if n == number else pick for n, pick in enumerate(picks))
            plain, _ = decide(self.design, self.made, trial)
            if not self.worth(dict(enumerate(trial))):
                continue
            self._check_limits()
            bound = self._bound(plain, trial)
            refutation = None if bound is None else self._refuted(bound, trial)
            if refutation is not None:
                self.results[trial] = refutation
            if bound is not None and refutation is None:
                picks = trial
            elif number is None:
                return
        self._consider(picks)


def _place(at: Any) -> int:
    return -1 if at is None else at.start
