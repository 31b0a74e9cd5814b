"""Times of the engine and of OR-Tools' CP-SAT: `python tests/bench/engine.py [family ...] [counts] [--seeds N] [--limit S]`.

Families: `loose` and `tight` are scripts of the product's own mechanisms (tests/generate_cards.py), read and bound as any
script is; `made` and `made-tight` are models made directly (tests/generate_models.py). Both solvers prove the same two
wishes (largest height, then least paper); CP-SAT gets the whole model with default parameters, once with one worker and
once with two, and the ratio is against the faster. What is not over after the limit counts as the limit. Printed, not
asserted: times belong to the machine they were taken on.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from math import log
from pathlib import Path
from statistics import linear_regression, median
from tempfile import TemporaryDirectory
from time import perf_counter, process_time

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from cpsat import optimum
from generate_cards import script
from generate_models import card

from foldwright.grammar import read
from foldwright.solver.bind import bind
from foldwright.solver.engine import solve
from foldwright.solver.model import Conflict, Model, Outcome, Solution

FAMILIES = ("loose", "tight", "made", "made-tight")
COUNTS = {"loose": [10, 20, 40, 80], "tight": [2, 3, 4, 5, 6, 8], "made": [10, 20, 40], "made-tight": [2, 4, 8]}


@dataclass(frozen=True)
class Run:
    """One model solved by both: seconds of the engine (and of its processor time), seconds of CP-SAT."""

    count: int
    variables: int
    ours: float
    ours_busy: float
    theirs: float
    proved: bool
    gap: float  # between what was reached and what was proved, as a share of the latter; the worst of the wishes

    @property
    def ratio(self) -> float:
        """How many times as long CP-SAT took."""
        return self.theirs / self.ours


def model_of(family: str, count: int, seed: int) -> Model:
    """The model of a family."""
    if family.startswith("made"):
        return card(count, seed, tight=family == "made-tight")
    with TemporaryDirectory() as folder:
        path = Path(folder) / f"{family}.card"
        path.write_text(script(count, seed, family), encoding="utf-8")
        return bind(read(path)).model


def other(model: Model, limit: float) -> tuple[list[float], list[list[object]]]:
    """Seconds of CP-SAT with one and with two workers, and the optima of the runs that came to an end."""
    times, optima = [], []
    for workers in (1, 2):
        start = perf_counter()
        status, values = optimum(model, seconds=limit / 2, workers=workers)  # of each of the two wishes
        times.append(min(perf_counter() - start, limit) if status in ("OPTIMAL", "INFEASIBLE") else limit)
        if status == "OPTIMAL":
            optima.append(list(values))
    return times, optima


def gap_of(outcome: Outcome) -> float:
    """The worst gap of a solution's wishes; infinite if there is none."""
    if not isinstance(outcome, Solution):
        return float("inf")
    gaps = [float(abs(r.value - r.bound) / abs(r.bound)) if r.bound else float(not r.proved) for r in outcome.wishes]
    return max(gaps, default=0.0)


def measure(family: str, count: int, seed: int, limit: float, alone: bool) -> Run | None:
    """Solve one model with both and print a line; None if its rules cannot hold together."""
    model = model_of(family, count, seed)
    start, busy = perf_counter(), process_time()
    outcome = solve(model, seconds=limit)
    ours, busy = perf_counter() - start, process_time() - busy
    if isinstance(outcome, Conflict):
        print(f"{count:10d} {seed:4d}   its rules cannot hold together")
        return None
    proved = isinstance(outcome, Solution) and all(result.proved for result in outcome.wishes)
    times, optima = ([limit, limit], []) if alone else other(model, limit)
    values = [result.value for result in outcome.wishes] if isinstance(outcome, Solution) else []
    same = ("yes" if all(found == values for found in optima) else "NO") if optima and proved else "-"
    run = Run(count, len(model.variables), ours, busy, min(times), proved, gap_of(outcome))
    against = "" if alone else f"{times[0]:11.2f} {times[1]:11.2f} {run.ratio:8.1f}   {same:4}"
    gap = "" if proved else f"not proved, gap {run.gap:.2%}"
    print(f"{count:10d} {seed:4d} {run.variables:10d} {1000 * ours:9.0f} {1000 * busy:9.0f} {against} {gap}".rstrip(), flush=True)
    return run


def summary(family: str, runs: list[Run], alone: bool) -> None:
    """Medians per count, and how the time grows with the number of variables."""
    if not runs:
        return
    print(f"\n{family}:")
    for count in sorted({run.count for run in runs}):
        some = [run for run in runs if run.count == count]
        ratios = [run.ratio for run in some]
        words = "" if alone else f"; CP-SAT takes {median(ratios):.1f} times as long in the median, {min(ratios):.1f} at least"
        print(f"  {count} mechanisms: {1000 * median(run.ours for run in some):.0f} ms in the median{words}")
    still = [run.gap for run in runs if not run.proved]
    if still:
        print(f"  not proved: {len(still)} of {len(runs)}; median gap {median(still):.2%}")
    if len({run.variables for run in runs}) > 1:
        slope = linear_regression([log(run.variables) for run in runs], [log(run.ours_busy) for run in runs]).slope
        print(f"  processor time grows with the variables to the power {slope:.2f}")
    if not alone:
        print(f"  all counts: CP-SAT takes {median(run.ratio for run in runs):.1f} times as long in the median")
    print()


def main() -> None:
    """Measure what the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", nargs="*", help=f"families ({', '.join(FAMILIES)}) and counts")
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--limit", type=float, default=30.0, help="seconds for each solver and model")
    parser.add_argument("--alone", action="store_true", help="without CP-SAT")
    asked = parser.parse_args()
    counts = [int(word) for word in asked.what if word.isdigit()]
    families = [word for word in asked.what if not word.isdigit()] or ["loose", "tight"]
    if unknown := set(families) - set(FAMILIES):
        parser.error(f"no such family: {', '.join(sorted(unknown))}")
    solve(card(1, 0))  # loads the library
    if not asked.alone:
        optimum(card(1, 0), 5, 1)
    for family in families:
        print(f"\n{family}\nmechanisms seed  variables   engine ms   busy ms   CP-SAT 1 s   CP-SAT 2 s   ratio   same optimum")
        cases = [(count, seed) for count in counts or COUNTS[family] for seed in range(asked.seeds)]
        runs = [run for case in cases if (run := measure(family, *case, asked.limit, asked.alone)) is not None]
        summary(family, runs, asked.alone)


if __name__ == "__main__":
    main()
