"""Each mechanism's closing condition broken on purpose in a script, and the sentence that a designer then reads."""

from __future__ import annotations

import re

import pytest

from foldwright.grammar import Refused, read_text
from foldwright.grammar.problems import CannotHold
from foldwright.solver.answer import solve_design
from foldwright.solver.mechanism import registry

# keyword: (line of its example, or None for its last setting; lines written after it; what is said)
BROKEN = {
    "tent": ("  width 50", "  spread 20\n  wall 40\n  left_wall 50",
             "both walls of pier must meet in one line when closed"),
    "vfold": ("  angle 40", "  wing 90\n  left_wing 96",
     "both halves of gull must end on the same line when closed"),
    "ring": ("  wall 40 to 60", "  spread 30\n  left_spread 32",
     "both hinges of tank must lie at the same distance from the crease, or the ring tips over"),
    "hexagon": ("  wall 30 to 45", "  spread 60",
     "the slanted walls of room must reach across"),
    "lattice": ("  wall 66", "  back_wall 50",
     "a lattice needs a ring with equal opposite walls"),
    "trellis": ("  run    40 to 60", "  right_run 50\n  offset 60",
     "so far apart along the crease its hinges must lie, or the layers jam before they are closed"),
    "platform": ("  width  50", "  left_height 12",
     "all supports of deck must be equally tall, or its sheet slopes and jams"),
    "scene": ("  width  90", "  spacing 20\n  strip_width 18",
     "the strips of stage must be exactly as wide as its planes are apart, or the planes lean and jam"),
    "box": ("  opens 90", "  opens 180",
     "crate would lie flat: its crease opens to 180°"),
    "step": ("  depth 40", "  depth 85", "the page less its clear strip"),
    "threefold": ("  width 50", "  spread 20\n  tie_spread 20\n  tie 40",
     "the right wall and the tie of hut must meet in one line when closed"),
    "arm": ("  angle 70", "  angle 170",
     "of pointer must not come out behind the spine"),
    "window": ("  up     end", "  at 5 x 5",
     "the window porthole must leave a strip of paper"),
}


def broken(keyword: str, line: str, more: str) -> str:
    """The example of a mechanism with lines added, each in place of the one that sets the same."""
    example = registry()[keyword].example
    assert example.count(f"\n{line}\n") >= 1, f"the example of {keyword} has no line `{line}`"
    head, tail = example.split(f"\n{line}\n", 1)
    words = {added.split()[0] for added in more.splitlines()}
    kept = "" if line.split()[0] in words else f"{line}\n"
    return f"{head}\n{kept}{more}\n{tail}"


@pytest.mark.parametrize("keyword", BROKEN)
def test_a_broken_closing_condition_is_told_in_plain_words(keyword):
    line, more, said = BROKEN[keyword]
    with pytest.raises(Refused) as refused:
        solve_design(read_text(broken(keyword, line, more)))
    problems = [problem for problem in refused.value.problems if isinstance(problem, CannotHold)]
    assert len(problems) == len(refused.value.problems) >= 1
    text = " ".join(problem.wrong() for problem in problems)
    assert said in text
    assert not re.search(r"[{}]", text), "a figure is missing"


def test_no_mechanism_is_left_out():
    """Cover, insert and cut-out have no closing condition of their own: what is refused of them, other tests say."""
    assert {*BROKEN, "cover", "insert", "cutout"} == set(registry())
