"""Ctrl-C while a search runs: the first one ends the search with the best answer so far, the second one ends the work."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

STOPPING = "stopping the search with the best so far (Ctrl-C again to leave at once)"


@contextmanager
def interruptible(tell: Callable[[str], None]) -> Iterator[None]:
    """In the body, the first Ctrl-C during a search stops it and `tell` is told so; any other is a KeyboardInterrupt.

    What handled Ctrl-C before does so again afterwards. Beside the main thread, and where Ctrl-C is ignored, nothing changes.
    """
    from foldwright.solver.engine.stopping import is_running, stopping

    if threading.current_thread() is not threading.main_thread() or signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        yield
        return
    asked: list[bool] = []

    def handle(number: int, frame: FrameType | None) -> None:
        if asked or not is_running():
            raise KeyboardInterrupt
        asked.append(True)
        tell(STOPPING)

    before = signal.signal(signal.SIGINT, handle)
    try:
        with stopping(lambda: bool(asked)):
            yield
    finally:
        signal.signal(signal.SIGINT, before)
