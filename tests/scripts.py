"""What the tool says of scripts."""

from __future__ import annotations

from pathlib import Path

import pytest

from foldwright.grammar import Refused, read_text
from foldwright.grammar.problems import CannotHold
from foldwright.solver.answer import solve_design

QUAY = """card "Quay"
  units mm

cover 120 x 170
  paper night

paper night  colour #1f2740  caliper 0.25

mat 300 x 300

tent quay on spine
  paper night
  at 60
  spread 20 to 35
  wall 30 to 60

prefer largest quay.wall
"""


def refusal(script: str, folder: Path | str = ".") -> str:
    """All that is said of a script that is refused, in one line."""
    with pytest.raises(Refused) as refused:
        solve_design(read_text(script, folder=folder), seconds=20)
    return " ".join(problem.wrong() for problem in refused.value.problems)


def sentences(script: str) -> list[str]:
    """The sentences of the rules of a script that cannot hold together."""
    with pytest.raises(Refused) as refused:
        solve_design(read_text(script), seconds=20)
    assert all(isinstance(problem, CannotHold) for problem in refused.value.problems)
    return [text for problem in refused.value.problems for text in problem.sentences]
