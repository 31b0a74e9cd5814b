"""The wish to stop: asked for from outside while a search runs, and looked at wherever the time limit is.

It holds for every search that is begun in the body of `stopping`, however deep: what was asked to stop, stops altogether.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

Stop = Callable[[], bool]

_stop: ContextVar[Stop | None] = ContextVar("stop", default=None)
_running: ContextVar[int] = ContextVar("running", default=0)


@contextmanager
def stopping(stop: Stop | None) -> Iterator[None]:
    """Searches in the body stop once `stop()` is True, as if their time were over; None changes nothing."""
    token = _stop.set(stop) if stop is not None else None
    try:
        yield
    finally:
        if token is not None:
            _stop.reset(token)


@contextmanager
def running() -> Iterator[None]:
    """The body is a search, which looks at the wish to stop."""
    token = _running.set(_running.get() + 1)
    try:
        yield
    finally:
        _running.reset(token)


def current() -> Stop | None:
    """What asks the present search to stop."""
    return _stop.get()


def is_running() -> bool:
    """True in a search."""
    return _running.get() > 0
