"""Bounding boxes onto sheets, exactly: what plain rectangles fit best, and a layout never needs more sheets than.

Free room is kept as the list of its largest rectangles (the maximal rectangles of J. Jylänki, "A Thousand Ways to Pack
the Bin", 2010, a survey): a box goes into the one that suits it best by one of three measures, and whatever it covers
is cut away from all of them. All measures are tried with three orders. Lengths are whole thousandths of a millimetre,
sizes rounded up, so that nothing comes too near and every machine finds the same.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

STEPS = 1000  # per mm

Room = tuple[int, int, int, int]  # left, low, right, high
Size = tuple[int, int]
Fit = Callable[[Room, Size], tuple[int, int]]  # the smaller the better


@dataclass(frozen=True)
class Box:
    """A box to place: its size (mm) in each turn that it may take, by the turn."""

    sizes: tuple[tuple[int, float, float], ...]


@dataclass(frozen=True)
class Spot:
    """Where a box lies: its number, lower left corner in mm, and turn."""

    box: int
    x: float
    y: float
    turn: int


def _short_side(room: Room, size: Size) -> tuple[int, int]:
    spare = room[2] - room[0] - size[0], room[3] - room[1] - size[1]
    return min(spare), max(spare)


def _area(room: Room, size: Size) -> tuple[int, int]:
    spare = room[2] - room[0] - size[0], room[3] - room[1] - size[1]
    return (room[2] - room[0]) * (room[3] - room[1]) - size[0] * size[1], min(spare)


def _low(room: Room, size: Size) -> tuple[int, int]:
    return room[1] + size[1], room[0]


@dataclass
class _Sheet:
    rooms: list[Room]
    spots: list[Spot] = field(default_factory=list)

    def take(self, taken: Room) -> None:
        """Cut a rectangle away from all free rooms and keep the largest of what is left."""
        parts = [piece for room in self.rooms for piece in _around(room, taken)]
        unique = list(dict.fromkeys(parts))
        self.rooms = [a for a in unique if not any(a != b and _within(a, b) for b in unique)]


def _around(room: Room, taken: Room) -> list[Room]:
    left, low, right, high = room
    if taken[0] >= right or taken[2] <= left or taken[1] >= high or taken[3] <= low:
        return [room]
    pieces = [(left, low, taken[0], high), (taken[2], low, right, high),
              (left, low, right, taken[1]), (left, taken[3], right, high)]
    return [piece for piece in pieces if piece[0] < piece[2] and piece[1] < piece[3]]


def _within(inner: Room, outer: Room) -> bool:
    return inner[0] >= outer[0] and inner[1] >= outer[1] and inner[2] <= outer[2] and inner[3] <= outer[3]


def fewest(boxes: Sequence[Box], mat: tuple[float, float], spacing: float, below: int) -> list[list[Spot]] | None:
    """The boxes on the fewest sheets found, if fewer than `below`; else None. `mat` and `spacing` in mm."""
    width, height = (math.floor(STEPS * (side + spacing) + 1e-6) for side in mat)
    sized = [
        [(turn, (math.ceil(STEPS * (w + spacing) - 1e-6), math.ceil(STEPS * (h + spacing) - 1e-6))) for turn, w, h in box.sizes]
        for box in boxes
    ]
    best: list[list[Spot]] | None = None
    area = [turns[0][1][0] * turns[0][1][1] for turns in sized]
    least = math.ceil(sum(area) / (width * height))
    if least >= below:
        return None
    sides = [turns[0][1] for turns in sized]
    for weight in (area, [max(size) for size in sides], [min(size) for size in sides]):
        order = sorted(range(len(boxes)), key=[-each for each in weight].__getitem__)
        for fit in (_short_side, _area, _low):
            found = _packed(order, sized, (width, height), fit, below)
            if found is not None:
                best, below = found, len(found)
                if below <= least:
                    return best
    return best


def _packed(order: Sequence[int], sized: Sequence[Sequence[tuple[int, Size]]], mat: Size, fit: Fit,
            below: int) -> list[list[Spot]] | None:
    """The sheets of one order and one measure; None as soon as they are not fewer than `below`."""
    sheets: list[_Sheet] = []
    for number in order:
        choices = _choices(sheets, sized[number], fit)
        if not choices:
            if len(sheets) + 1 >= below:
                return None
            sheets.append(_Sheet([(0, 0, *mat)]))
            choices = _choices(sheets[-1:], sized[number], fit, len(sheets) - 1)
            if not choices:
                return None  # larger than the mat: told where parts are packed by their outlines
        _, index, (left, low, _, _), (turn, (wide, high)) = min(choices, key=lambda choice: choice[0])
        sheets[index].spots.append(Spot(number, left / STEPS, low / STEPS, turn))
        sheets[index].take((left, low, left + wide, low + high))
    return [sheet.spots for sheet in sheets]


def _choices(sheets: Sequence[_Sheet], turns: Sequence[tuple[int, Size]], fit: Fit,
             first: int = 0) -> list[tuple[tuple[int, int], int, Room, tuple[int, Size]]]:
    """Every room that a box finds in each turn, with how well it suits."""
    return [
        (fit(room, turn[1]), index, room, turn)
        for index, sheet in enumerate(sheets, start=first)
        for room in sheet.rooms
        for turn in turns
        if turn[1][0] <= room[2] - room[0] and turn[1][1] <= room[3] - room[1]
    ]
