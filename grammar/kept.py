"""Results kept from one check of a design to the next, by what they depend on."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Kept(Generic[K, V]):
    """Results by key. A key has to hold everything that decides its result; results are never changed once kept.

    What neither the present check nor the one before asked for is forgotten. `computed` and `reused` count over all checks.
    """

    def __init__(self) -> None:
        self._now: dict[K, V] = {}
        self._before: dict[K, V] = {}
        self.computed = 0
        self.reused = 0

    def turn(self) -> None:
        """Begin a new check; one that asked for nothing (it ended earlier) does not count."""
        if self._now:
            self._before, self._now = self._now, {}

    def find(self, key: K) -> V | None:
        """What is kept under the key, if anything; it will be kept on."""
        known = self._now.get(key)
        if known is None:
            known = self._before.get(key)
            if known is None:
                self.computed += 1
                return None
            self._now[key] = known
        self.reused += 1
        return known

    def put(self, key: K, value: V) -> None:
        """Keep a result that `find` did not have."""
        self._now[key] = value

    def get(self, key: K, make: Callable[[], V]) -> V:
        """The result of `make`, kept under the key."""
        known = self.find(key)
        if known is None:
            known = make()
            self.put(key, known)
        return known
