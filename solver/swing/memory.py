"""What is kept between checks of one design, so that a change of some dimensions costs only what it touches."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, field
from typing import Any

from foldwright.grammar.kept import Kept
from foldwright.solver.swing.motion import Motion
from foldwright.solver.swing.shapes import Floats, Ints

Key = tuple[bytes, bytes, int, float]
Room = tuple[float, float, float]  # closed stack, distance of the closed pages, depth of the pleat, mm


@dataclass(frozen=True)
class Meeting:
    """A range of angles in degrees in which two panels pass through each other or come too close.

    `place` is in space, where it begins; `size` is the depth or the gap in mm.
    """

    angle: float
    until: float
    place: tuple[float, float, float]
    size: float


@dataclass
class Record:
    """All that was found of one pair of panels over the grid of m angles.

    `moments` are the numbers of the angles at which their boxes came near, shape (k,); `apart` is then a lower bound of
    their distance and `gap` the distance itself, NaN where it was not needed. `free` is false if they, or
    what they are glued to, are joined or touch all the time.
    """

    moments: Ints
    apart: Floats
    gap: Floats
    free: bool = True
    through: tuple[Meeting, ...] = ()
    close: tuple[Meeting, ...] = ()
    between: tuple[float, ...] = ()  # angles looked at besides the grid
    room: Room | None = None  # what `close` was judged by; None if nothing came near enough to be judged

    def holds(self, room: Room) -> bool:
        """Whether it is true of a card with such a stack and spine too."""
        return self.room is None or self.room == room


@dataclass
class Memory:
    """Records of pairs by what they depend on: outlines and placements of both panels, how they are joined, and their
    papers' mean caliper.

    `touching` is kept by both panels, `motion` by panel, and `glued`, sides and areas of glue, by what is glued to what.
    `computed` and `reused` count pairs over all checks so far. It keeps what the last check needed and no more.
    """

    records: dict[Key, Record] = field(default_factory=dict)
    touching: dict[tuple[bytes, bytes], bool] = field(default_factory=dict)
    motion: Motion | None = None
    glued: Kept[Hashable, Any] = field(default_factory=Kept)
    computed: int = 0
    reused: int = 0
