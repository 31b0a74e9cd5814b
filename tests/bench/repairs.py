"""All single repairs of the conflict of a generated card, verified: processor time beside that of finding the conflict.

    python tests/bench/repairs.py [mechanisms ...]

Printed for each seed: reading and binding, the minimal conflict, all repairs, their number, and whether CP-SAT agrees that
the first of them is possible and the next nearer value is not (not counted in the times).
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import process_time

sys.path.insert(0, str(Path(__file__).parents[1]))

from cpsat import Translation
from generate_cards import script

from foldwright.grammar import Design, read_text
from foldwright.solver.bind import bind
from foldwright.solver.engine import solve
from foldwright.solver.model import Conflict, Model
from foldwright.solver.repairs import repairs
from foldwright.solver.written import edited
from foldwright.solver.written_numbers import numbers

SEEDS = (1, 2, 3, 4, 5)


def possible(design: Design) -> bool:
    """Whether CP-SAT finds values for the rules of a design."""
    model = bind(design).model
    return Translation(Model(model.variables, model.rules)).solve(120, 2)[0] != "INFEASIBLE"


def run(count: int, seed: int) -> float:
    """Print one line; returns the seconds for all repairs."""
    text = script(count, seed, "clash")
    start = process_time()
    design = read_text(text)
    bound = bind(design)
    read = process_time()
    conflict = solve(bound.model)
    assert isinstance(conflict, Conflict)
    solved = process_time()
    found = repairs(bound, conflict)
    done = process_time()
    agrees = "-"
    if found.changes:
        (place, _, text), *_ = found.changes[0].edits
        number = next(n for n in numbers(design) if n.at.start == place)
        value = next(n.value for n in numbers(edited(design, found.changes[0].edits)) if n.at.start == place)
        nearer = value + (number.step if value < number.value else -number.step)
        agrees = str(possible(edited(design, found.changes[0].edits)) and not possible(edited(design, [number.edit(nearer)])))
    print(f"{count:3} {seed:2}  read {read - start:6.2f}  conflict {solved - read:6.2f}  repairs {done - solved:6.2f} s  "
          f"found {len(found.changes)}  undecided {found.undecided}  CP-SAT agrees {agrees}")
    return done - solved


if __name__ == "__main__":
    run(4, 1)  # what is loaded once is not counted
    for count in [int(word) for word in sys.argv[1:]] or [10, 20, 40]:
        times = sorted(run(count, seed) for seed in SEEDS)
        print(f"{count:3} mechanisms: median {times[len(times) // 2]:.2f} s, most {times[-1]:.2f} s")
