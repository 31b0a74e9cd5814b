"""Times and memory of the commands as whole processes: `python tests/bench/commands.py [runs]`.

Printed, not asserted: times belong to the machine they were taken on. The medians of a few runs are quoted, with the
ratio to starting Python alone, which a slower or busier machine changes least.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median
from time import perf_counter

EXAMPLES = Path(__file__).resolve().parent.parent.parent / "examples"
CALL = [sys.executable, "-P", "-m", "foldwright.command"]


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


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
