"""A process of its own for the strip packer: a question as JSON on standard input, the answer as JSON on standard output.

The library counts seconds itself, cannot be stopped from outside, and panics past `except Exception`; in a process of its
own none of that reaches the one that asks.
"""

from __future__ import annotations

import json
import signal
import sys
import threading
from os import _exit
from typing import Any

_PAUSE = 0.05  # seconds between two looks at what was found


def answer(question: dict[str, Any]) -> dict[str, Any] | None:
    """The narrowest layout found, or the first that is no wider than `target`; None if the library gave up.

    `question` has `items` (id, shape, turns), `height` (of the strip), `apart`, `seconds` (a whole number), `seed`, `workers`
    and `target` (0 for none). The answer has the `width` and `placed`: per item id, turn in degrees, x and y.
    """
    import spyrrow

    items = [spyrrow.Item(item["id"], [tuple(point) for point in item["shape"]], 1, item["turns"]) for item in question["items"]]
    config = spyrrow.StripPackingConfig(
        min_items_separation=question["apart"], total_computation_time=question["seconds"], seed=question["seed"],
        num_workers=question["workers"],
    )
    instance = spyrrow.StripPackingInstance("sheet", question["height"], items)
    queue, ended, best = spyrrow.ProgressQueue(), threading.Event(), None

    def solve() -> None:
        try:
            instance.solve(config, queue)
        finally:
            ended.set()

    threading.Thread(target=solve, daemon=True).start()
    while True:
        over = ended.wait(_PAUSE)  # asked before the queue is emptied, so that nothing said last is lost
        for kind, found in queue.drain():
            if kind not in (spyrrow.ReportType.ExplInfeas, spyrrow.ReportType.ExplImproving) and (
                    best is None or found.width < best.width):
                best = found
        if over or (best is not None and best.width <= question["target"]):
            break
    if best is None:
        return None
    placed = [[item.id, round(item.rotation), *item.translation] for item in best.placed_items]
    return {"width": best.width, "placed": placed}


def main() -> None:
    """Answer the question on standard input; whatever goes wrong is no answer."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the process that asks hears Ctrl-C, and ends this one
    found = None
    try:
        found = answer(json.load(sys.stdin))
    finally:
        sys.stdout.write(json.dumps(found))
        sys.stdout.flush()
        _exit(0)  # the library's threads may still be at work


if __name__ == "__main__":
    main()
