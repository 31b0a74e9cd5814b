"""Times and memory of the commands as whole processes: `python tests/bench/commands.py [runs]`.

Printed, not asserted: times belong to the machine they were taken on. The medians of a few runs are quoted, with the
ratio to starting Python alone, which a slower or busier machine changes least. With `--stages [NAME ...]` the stages of
building examples (all of them, if none is named): processor seconds in one process for the search, the layout, and the
rest, which is to stay under 3 s.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from itertools import pairwise
from pathlib import Path
from statistics import median
from time import perf_counter, process_time

EXAMPLES = Path(__file__).resolve().parent.parent.parent / "examples"
CALL = [sys.executable, "-P", "-m", "foldwright.command"]
# What a build says as a stage begins; everything else belongs to the search.
_STAGES = (("opening and closing", "swing"), ("proving", "proof"), ("laying out", "layout"), ("writing", "writing"))


def run(command: list[str]) -> tuple[float, float]:
    """Wall seconds and peak memory in MB of one process; raises if it fails."""
    start = perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    seconds = perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{' '.join(command)} ended with {process.returncode}")
    return seconds, usage.ru_maxrss / 1024


def main(runs: int) -> None:
    """Print a line a command."""
    with tempfile.TemporaryDirectory() as folder:
        out = str(Path(folder) / "out")
        commands = {
            "python alone": [sys.executable, "-P", "-c", "pass"],
            "import of the command line": [sys.executable, "-P", "-c", "import foldwright.command"],
            **{f"check {name}": [*CALL, "check", str(EXAMPLES / f"{name}.card")] for name in ("tide-pool", "night-harbour")},
            **{f"build {name}": [*CALL, "build", str(EXAMPLES / f"{name}.card"), "--out", f"{out}-{name}"]
               for name in ("tide-pool", "night-harbour")},
        }
        base = 0.0
        for name, command in commands.items():
            taken = [run(command) for _ in range(runs + 1)][1:]  # the first run fills the caches
            seconds, memory = median(t for t, _ in taken), max(m for _, m in taken)
            base = base or seconds
            print(f"{name:28} {seconds:6.2f} s {memory:6.0f} MB {seconds / base:7.1f} x python alone")


def stages(names: list[str]) -> None:
    """Print for each example where the processor time of its build goes, by the words that it says."""
    from foldwright.api import Checked, build
    from foldwright.grammar import Refused

    print(f"{'card':20} {'parts':>5} {'search':>8} {'swing':>8} {'proof':>8} {'layout':>8} {'writing':>8} {'not layout':>11}")
    for name in names or sorted(path.stem for path in EXAMPLES.glob("*.card")):
        said: list[tuple[float, str]] = [(process_time(), "reading")]
        parts: list[int] = []

        def say(words: str, said: list[tuple[float, str]] = said) -> None:
            said.append((process_time(), words))

        def told(checked: Checked, parts: list[int] = parts) -> None:
            parts.append(len(checked.card.parts))

        with tempfile.TemporaryDirectory() as folder:
            try:
                build(EXAMPLES / f"{name}.card", Path(folder) / "out", say, told=told)
            except Refused:
                continue  # an example of what cannot be
        said.append((process_time(), "done"))
        spent = dict.fromkeys(("search", "swing", "proof", "layout", "writing"), 0.0)
        for (start, words), (end, _) in pairwise(said):
            spent[next((stage for first, stage in _STAGES if words.startswith(first)), "search")] += end - start
        rest = sum(spent.values()) - spent["layout"]
        print(f"{name:20} {parts[0]:5}" + "".join(f" {seconds:6.2f} s" for seconds in spent.values()) + f" {rest:9.2f} s")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--stages"]:
        stages(sys.argv[2:])
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
