"""What a search says of itself while it runs."""

from __future__ import annotations

from collections.abc import Callable
from time import monotonic

from foldwright.solver.model import WishResult
from foldwright.solver.wishes import wished

Progress = Callable[[str], None]
_PAUSE = 0.2  # seconds between two words about a wish


class Going(str):
    """Words on how far a stage of the work has come; they are no stage of their own."""

    within_stage = True


class SoFar(Going):
    """How far a wish has come, in words (lengths in mm); `result` has the numbers, `within` the words in another unit."""

    result: WishResult

    def __new__(cls, result: WishResult, unit: str = "mm") -> SoFar:
        """Words like "largest pier.height: 54.5 mm so far, at most 56 mm"."""
        wish = result.wish
        value, bound = (wished(wish, number, unit) for number in (result.value, result.bound))
        told = super().__new__(cls, f"{wish.text}: {value} so far, at {'most' if wish.largest else 'least'} {bound}")
        told.result = result
        return told

    def within(self, unit: str) -> SoFar:
        """The same with lengths in a unit."""
        return SoFar(self.result, unit)


def in_unit(progress: Progress, unit: str) -> Progress:
    """A progress function that is told of wishes in a unit."""
    return lambda words: progress(words.within(unit) if isinstance(words, SoFar) else words)


class Teller:
    """Passes on how far a wish has come, now and then."""

    def __init__(self, progress: Progress | None) -> None:
        self.progress = progress
        self._next = monotonic() + _PAUSE

    def __call__(self, result: Callable[[], WishResult]) -> None:
        """Tell, unless something was told just now."""
        if self.progress is not None and monotonic() >= self._next:
            self.progress(SoFar(result()))
            self._next = monotonic() + _PAUSE
