"""What a swing finds, in the words of a designer of cards."""

from __future__ import annotations

from dataclasses import dataclass

from foldwright.grammar.problem import Severity
from foldwright.solver.swing.runs import FINE
from foldwright.solver.words import amount

Place = tuple[float, float, float]

ORDER = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


@dataclass(frozen=True)
class Event:
    """Something that a designer has to know of the swing.

    `kind` is "passes-through", "leaves-cover", "past-flat", "dead-point", "can-snap", "too-close", "holds-little" or
    "glue-overlaps". `place` is in space in mm, `angle` the first opening in degrees (found to 0.05) and `until` the last
    one. `size` is the depth of an overlap or a gap in mm, degrees, or a glued area in mm², by kind.
    """

    kind: str
    severity: Severity
    panels: tuple[str, ...]
    place: Place
    angle: float
    until: float
    size: float
    words: str

    @property
    def rank(self) -> tuple[int, float, str, tuple[str, ...], float]:
        """Order of reading: by severity, then by angle."""
        return ORDER[self.severity], self.angle, self.kind, self.panels, self.until


@dataclass(frozen=True)
class Writer:
    """Makes events of what was found; lengths in the card's unit, openings against the largest one in degrees."""

    unit: str
    opens: float

    def passes_through(self, panels: tuple[str, str], place: Place, angle: float, until: float, size: float) -> Event:
        """Two panels in the same place."""
        words = (f"{panels[0]} and {panels[1]} pass through each other {self._when(angle, until)}, {self._where(place)}; "
                 f"one of them reaches {self._length(size)} into the other")
        return Event("passes-through", Severity.ERROR, panels, place, angle, until, size, words)

    def leaves_cover(self, panel: str, place: Place, size: float) -> Event:
        """A panel that shows outside the closed card."""
        words = f"when the card is closed, {panel} sticks out of the cover by {self._length(size)}, {self._where(place)}"
        return Event("leaves-cover", Severity.ERROR, (panel,), place, 0.0, 0.0, size, words)

    def past_flat(self, panels: tuple[str, str], place: Place, angle: float, until: float, size: float, folded: bool) -> Event:
        """A crease that turns over. `folded` tells that it would turn on from folded shut, not from flat."""
        what = ("would have to turn on past folded shut" if folded
                else "would have to turn through flat, from mountain to valley or back,")
        words = (f"the crease of {panels[0]} and {panels[1]} {what} {self._when(angle, until)}; it goes {self._degrees(size)} "
                 "too far")
        return Event("past-flat", Severity.ERROR, panels, place, angle, until, size, words)

    def dead_point(self, owner: str, panels: tuple[str, ...], place: Place, angle: float, why: str) -> Event:
        """A dead point before the card is fully open. `size` is what is left of the opening, degrees."""
        size = self.opens - angle
        words = (f"{owner} {why} when the card is {self._degrees(angle)} open, {self._degrees(size)} before it is fully open; "
                 "there it jams, or goes on the wrong way")
        return Event("dead-point", Severity.ERROR, panels, place, angle, angle, size, words)

    def can_snap(self, owner: str, panels: tuple[str, ...], place: Place, left: float, margin: float, why: str) -> Event:
        """A dead point just beyond the open card: `left` degrees, less than `margin`."""
        words = (f"{owner} {why} only {self._degrees(left)} beyond the open card, and {self._degrees(margin)} are wanted; "
                 "when the card is pressed flat it can snap over and close the wrong way")
        return Event("can-snap", Severity.WARNING, panels, place, self.opens, self.opens, left, words)

    def too_close(self, panels: tuple[str, str], place: Place, angle: float, until: float, size: float, caliper: float) -> Event:
        """Less than a sheet between two panels."""
        words = (f"{panels[0]} and {panels[1]} come within {self._length(size)} of each other {self._when(angle, until)}, "
                 f"{self._where(place)}; their papers are {self._length(caliper)} thick on average and may rub")
        return Event("too-close", Severity.WARNING, panels, place, angle, until, size, words)

    def holds_little(self, panel: str, host: str, place: Place, size: float, least: float) -> Event:
        """A panel that is glued on too small an area; `size` in mm²."""
        words = f"{panel} shares only {size:.0f} mm² with {host}; to hold, it needs {least:.0f} mm² of glue"
        return Event("holds-little", Severity.ERROR, (panel, host), place, 0.0, self.opens, size, words)

    def glue_overlaps(self, panels: tuple[str, str], host: str, place: Place, size: float) -> Event:
        """Two glued areas in one place; `size` is the width of the overlap in mm."""
        words = (f"{panels[0]} and {panels[1]} are glued over each other on the same face of {host}; their glue overlaps over "
                 f"{self._length(size)}, so that one of them holds on the other and not on {host}")
        return Event("glue-overlaps", Severity.WARNING, (*panels, host), place, 0.0, self.opens, size, words)

    def _length(self, value: float) -> str:
        return amount(value, unit=self.unit)

    @staticmethod
    def _degrees(value: float) -> str:
        return amount(value, angle=True)

    def _when(self, angle: float, until: float) -> str:
        if angle == until:
            return f"at {self._degrees(angle)} of the opening"
        if angle <= FINE and until >= self.opens:
            return "at every opening"
        if until >= self.opens:
            return f"from {self._degrees(angle)} of the opening until the card is open"
        return f"between {self._degrees(angle)} and {self._degrees(until)} of the opening"

    def _where(self, place: Place) -> str:
        x, y, z = place
        return f"{self._length(x)} along the spine and {self._length((y * y + z * z) ** 0.5)} from it"
