"""Times of `check` in a process that stays up: `python tests/bench/recheck.py [counts] [--stages]`.

Generated cards (seeds kept). For each: the first check with an empty memory, the same script again, and the script with
one number changed, for several numbers one after the other; the medians, in milliseconds of processor time. Every answer is
compared with that of a check without memory. A first card, not counted, loads the libraries. Python's search for unused
cycles waits during a check; what it takes afterwards is a column of its own. Printed, not asserted: times belong to the
machine they were taken on.
"""

from __future__ import annotations

import gc
import re
import sys
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import process_time

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from generate_cards import script

from foldwright.api import Checked, Memory, check
from foldwright.grammar import Refused

SEEDS = (1, 2)
EDITS = 6  # numbers changed in each card
NUMBER = re.compile(r"(?<=>= )\d+")


def timed(path: Path, memory: Memory | None) -> tuple[float, Checked | None, dict[str, float]]:
    """Milliseconds of a check, what it found (None: refused), and the milliseconds of its stages by their words."""
    marks: list[tuple[str, float]] = []
    start = process_time()
    try:
        found = check(path, lambda words: marks.append((words, process_time())), memory=memory)
    except Refused:
        found = None
    marks.append(("end", process_time()))
    stages: dict[str, float] = {"reading the script": 1000 * (marks[0][1] - start)}
    for (words, begun), (_, ended) in zip(marks, marks[1:], strict=False):
        stages[words] = stages.get(words, 0.0) + 1000 * (ended - begun)
    return 1000 * (marks[-1][1] - start), found, stages


def edits(text: str) -> list[str]:
    """The script with one of its least sizes one more or less, each edit on top of the last."""
    out = []
    for n in range(EDITS):
        places = list(NUMBER.finditer(text))
        place = places[(n * len(places)) // EDITS]
        text = text[:place.start()] + str(int(place[0]) + (1 if n % 2 else -1)) + text[place.end():]
        out.append(text)
    return out


def alike(one: Checked | None, other: Checked | None) -> bool:
    """Whether two checks found the same."""
    if one is None or other is None:
        return one is other
    slack = [[rule.slack for rule in checked.card.rules] for checked in (one, other)]
    return (one.card.dimensions == other.card.dimensions and slack[0] == slack[1] and one.proof == other.proof
            and one.swing.events == other.swing.events and one.card.stack == other.card.stack)


def main(arguments: list[str]) -> None:
    counts = [int(word) for word in arguments if word.isdigit()] or [10, 20, 40]
    print("mechanisms   cold   again   one number changed (median, least, most)   collector afterwards   same answers")
    with TemporaryDirectory() as folder:
        path = Path(folder) / "edited.card"
        path.write_text(script(4, 0), encoding="utf-8")
        timed(path, Memory())
        for count in counts:
            cold, again, changed, after, same, stages = [], [], [], [], True, []
            for seed in SEEDS:
                text, memory = script(count, seed), Memory()
                path.write_text(text, encoding="utf-8")
                cold.append(timed(path, memory)[0])
                again.append(timed(path, memory)[0])
                for edited in edits(text):
                    path.write_text(edited, encoding="utf-8")
                    took, found, parts = timed(path, memory)
                    changed.append(took)
                    stages.append(parts)
                    start = process_time()
                    gc.collect()
                    after.append(1000 * (process_time() - start))
                    same = same and alike(found, timed(path, None)[1])
            print(f"{count:10d} {median(cold):6.0f} {median(again):7.0f} {median(changed):15.0f} {min(changed):7.0f} "
                  f"{max(changed):7.0f} {median(after):30.0f}                   {same}", flush=True)
            if "--stages" in arguments:
                for words in dict.fromkeys(words for parts in stages for words in parts):
                    print(f"             {median(parts.get(words, 0.0) for parts in stages):7.1f} ms  {words}")


if __name__ == "__main__":
    main(sys.argv[1:])
