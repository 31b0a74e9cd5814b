"""Times of the engine and of OR-Tools' CP-SAT on card-like models: `python tests/bench/engine.py
[loose|tight] [counts]`.

Both prove the same two wishes (largest rise, then least paper). CP-SAT gets the whole model with default
parameters, once with one worker and once with two; the ratio is against the faster. A run that is not over
after `LIMIT` seconds counts as `LIMIT`. Printed, not asserted: times belong to the machine they were taken
on.
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import perf_counter

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from cpsat import optimum
from generate_models import card

from foldwright.solver.engine import solve
from foldwright.solver.model import Model, Outcome, Solution

LIMIT = 60.0
SEEDS = range(3)


def own(model: Model) -> tuple[float, float, Outcome]:
    """Seconds to the first answer, seconds to the end, and the outcome."""
    marks: list[float] = []
    start = perf_counter()
    outcome = solve(model, seconds=LIMIT, progress=lambda text: marks.append(perf_counter() - start))
    return marks[2], perf_counter() - start, outcome


def other(model: Model, workers: int) -> tuple[float, str, list[object]]:
    start = perf_counter()
    status, values = optimum(model, seconds=LIMIT, workers=workers)
    return perf_counter() - start, status, list(values)


def main(arguments: list[str]) -> None:
    tight = "tight" in arguments
    counts = [int(word) for word in arguments if word.isdigit()] or [1, 8, 20, 40]
    own(card(1, 0))  # loads the library
    other(card(1, 0), 1)
    print("mechanisms seed  variables   first ms   proved ms   CP-SAT 1 s   CP-SAT 2 s   ratio   same optimum")
    for count in counts:
        for seed in SEEDS:
            model = card(count, seed, tight=tight)
            first, proved, outcome = own(model)
            times = [other(model, workers) for workers in (1, 2)]
            values = [r.value for r in outcome.wishes] if isinstance(outcome, Solution) else []
            ended = [run for run in times if run[1] == "OPTIMAL"]
            same = all(run[2] == values for run in ended) if ended else "CP-SAT did not end"
            best = min(min(run[0], LIMIT) for run in times)
            ours = isinstance(outcome, Solution) and all(r.proved for r in outcome.wishes)
            print(
                f"{count:10d} {seed:4d} {len(model.variables):10d} {first * 1000:10.1f} {proved * 1000:11.1f}"
                f" {times[0][0]:12.2f} {times[1][0]:12.2f} {best / proved:7.1f}   {same}{'' if ours else ' (not proved)'}",
                flush=True,
            )


if __name__ == "__main__":
    main(sys.argv[1:])
