"""What the tool says of scripts."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from foldwright.command import main
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


SHORE = """card "Quay"
  units mm
cover 100 x 150
  clear 3
  paper ink
paper ink   colour #22304a  weight 200 gsm
paper sand  colour #d8c49a  caliper 0.25
mat 11.5 in x 11.5 in
tent quay on spine
  paper  sand
  width  60
  spread 20 to 35
  wall   20 to 60
prefer largest quay.wall
"""


def call(*arguments: object) -> Result:
    """A command as a user calls it; it may refuse, but not break."""
    result = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert "Traceback" not in result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result


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
