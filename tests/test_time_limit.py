"""A search that is stopped, by its time or by Ctrl-C: the best answer so far, its bound, and what is said meanwhile."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction

import pytest
from generate_cards import script

from foldwright.grammar import read
from foldwright.interrupt import STOPPING, interruptible
from foldwright.solver.bind import bind
from foldwright.solver.engine import progress, solve
from foldwright.solver.engine.progress import SoFar, Teller, in_unit
from foldwright.solver.engine.stopping import is_running
from foldwright.solver.evaluate import holds, measure
from foldwright.solver.expression import Variable
from foldwright.solver.model import GaveUp, Model, Solution, Wish, WishResult
from foldwright.solver.wishes import unproved

HARD = script(8, 0, "tight")  # two spreads whose mechanisms compete: takes seconds to prove


@pytest.fixture(scope="module")
def hard(tmp_path_factory) -> Model:
    path = tmp_path_factory.mktemp("hard") / "hard.card"
    path.write_text(HARD, encoding="utf-8")
    return bind(read(path)).model


class After:
    """Asks to stop from the n-th question on."""

    def __init__(self, questions: int) -> None:
        self.left = questions

    def __call__(self) -> bool:
        self.left -= 1
        return self.left < 0


def is_honest(model: Model, outcome: object) -> bool:
    """The answer keeps all rules, the wishes come to what is said, and no bound is on the wrong side."""
    assert isinstance(outcome, Solution)
    assert [rule.name for rule in model.rules if not holds(rule, outcome.values)] == []
    for result in outcome.wishes:
        assert measure(result.wish, outcome.values) == result.value
        assert result.bound >= result.value if result.wish.largest else result.bound <= result.value
    return not all(result.proved for result in outcome.wishes)


def test_stopping_leaves_the_best_so_far_with_its_bound(hard):
    stopped = solve(hard, stop=After(1500))
    assert is_honest(hard, stopped)
    longer = solve(hard, stop=After(4000))
    is_honest(hard, longer)
    assert len(stopped.wishes) == len(longer.wishes) == 2
    assert [r.bound for r in longer.wishes if not r.wish.largest] >= [r.bound for r in stopped.wishes if not r.wish.largest]


def test_stopping_by_questions_is_the_same_every_time(hard):
    assert solve(hard, stop=After(1500)) == solve(hard, stop=After(1500))


def test_stopping_before_the_first_answer_gives_up(hard):
    assert isinstance(solve(hard, stop=lambda: True), GaveUp)


def test_stop_that_never_comes_changes_nothing(hard):
    few = replace(hard, wishes=hard.wishes[:1])
    assert solve(few, stop=lambda: False) == solve(few)


def test_progress_tells_how_far_a_wish_has_come(hard, monkeypatch):
    monkeypatch.setattr(progress, "_PAUSE", 0.0)
    told: list[str] = []
    solve(hard, progress=in_unit(told.append, "in"), stop=After(2500))
    standing = [words for words in told if isinstance(words, SoFar)]
    assert any(re.fullmatch(r"largest m0\.height: [\d.]+ in so far, at most [\d.]+ in", words) for words in standing)
    assert any(re.fullmatch(r"least paper: \d+ mm² so far, at least \d+ mm²", words) for words in standing)
    assert "least paper" in told


def test_progress_is_told_now_and_then_only(monkeypatch):
    told: list[str] = []
    clock = iter([0.0, 0.1, 0.3, 0.4, 0.6])
    monkeypatch.setattr(progress, "monotonic", lambda: next(clock))
    result = WishResult(Wish("largest a.wall", Variable("a", Fraction(1), 0, 9), True, Fraction(1)), Fraction(3), Fraction(5))
    teller = Teller(told.append)  # at 0.0: quiet until 0.2
    for _ in range(3):  # at 0.1 quiet, at 0.3 told (the clock is read again: 0.4), at 0.6 told or the clock would run out
        if len(told) < 1:
            teller(lambda: result)
    assert told == ["largest a.wall: 3 mm so far, at most 5 mm"]


@pytest.mark.parametrize(("value", "bound", "largest", "words"), [
    (54, 60, True, "not proved; at most 10 % better is possible: more than 60 mm is not possible"),
    (101, 100, False, "not proved; at most 1 % better is possible: less than 100 mm is not possible"),
    (100001, 100000, False, "not proved; at most 0.1 % better is possible: less than 100000 mm is not possible"),
    (5, 0, False, "not proved; less than 0 mm is not possible"),
    (5, 1, False, "not proved; less than 1 mm is not possible"),
])
def test_gap_in_words(value, bound, largest, words):
    wish = Wish("w", Variable("a", Fraction(1), 0, 9), largest, Fraction(1))
    assert unproved(WishResult(wish, Fraction(value), Fraction(bound))) == words


# Ctrl-C --------------------------------------------------------------------------------------------------------


def press() -> None:
    os.kill(os.getpid(), signal.SIGINT)


def test_first_interrupt_stops_the_search(hard):
    before, told = signal.getsignal(signal.SIGINT), []

    def tell(words: str) -> None:
        if words == "least paper":
            assert is_running()
            press()

    with interruptible(told.append):
        outcome = solve(hard, progress=tell)
    assert is_honest(hard, outcome)
    assert outcome.wishes[0].proved
    assert told == [STOPPING]
    assert signal.getsignal(signal.SIGINT) is before


def test_second_interrupt_leaves_at_once(hard):
    def tell(words: str) -> None:
        if words == "least paper":
            press()
            press()

    with pytest.raises(KeyboardInterrupt), interruptible(lambda words: None):
        solve(hard, progress=tell)


def test_interrupt_outside_a_search_leaves_at_once():
    before = signal.getsignal(signal.SIGINT)
    with pytest.raises(KeyboardInterrupt), interruptible(lambda words: None):
        press()
    assert signal.getsignal(signal.SIGINT) is before


APART = """
card "Pier and gull"
  units mm
cover 120 x 260
  paper ink
tent pier on spine
  paper sand
  at 10 to 20
  width 30 to 50
  spread 10 to 30
  wall 30 to 60
vfold gull on spine
  paper sand
  at 150 to 160
  angle 40 to 60
  wing 80 to 100
  foot 30 to 60
  ridge 30 to 60
prefer largest pier.height
prefer least paper
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 320 x 320
"""

DRIVER = """
import os, signal
from foldwright import command
class Bar(command.Bar):  # presses Ctrl-C when the second wish is begun
    def __call__(self, words):
        super().__call__(words)
        if words == "least paper":
            os.kill(os.getpid(), signal.SIGINT)
command.Bar = Bar
command.main(["find", "hard.card"])
"""


def test_interrupted_command_goes_on_with_the_best_so_far(tmp_path):
    (tmp_path / "hard.card").write_text(APART, encoding="utf-8")
    done = subprocess.run([sys.executable, "-c", DRIVER], cwd=tmp_path, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    gap = r"^least paper: \d+ mm² \(not proved; at most [\d.]+ % better is possible: less than \d+ mm² is not possible\)"
    assert re.search(gap, done.stdout, re.M)
    assert re.search(r"^largest pier.height: [\d.]+ mm \(proved best\)$", done.stdout, re.M)


def test_command_says_so_when_the_time_is_over_before_there_is_an_answer(tmp_path):
    (tmp_path / "hard.card").write_text(HARD, encoding="utf-8")
    command = [sys.executable, "-P", "-m", "foldwright.command", "find", "hard.card", "--seconds", "0.01"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=300)
    assert done.returncode == 1
    assert "no answer was found within the" in done.stderr
