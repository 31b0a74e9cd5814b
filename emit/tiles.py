"""Where parts lie on template pages: several on a page, or a large one over several pages, as tiles that overlap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import count
from math import ceil

import numpy as np
import shapely

from foldwright.emit.formats import FOOT, MARGIN, OVERLAP, live
from foldwright.emit.labels import ROOM
from foldwright.emit.placed import Placed
from foldwright.emit.raster import turn_points
from foldwright.solver.card import Part, Point

_EPS = 1e-6  # mm, so that a part exactly as large as the room still fits
_SHORT = 5.0  # mm; where a shorter line runs along a join, the tiles are as easy to lay on each other
_RIM = 0.5  # mm that a tile shows beyond its edge, so that a line on the edge is whole
_WAYS = ((-1, 0), (1, 0), (0, -1), (0, 1))


@dataclass(frozen=True)
class Join:
    """Where a tile meets its neighbour, on the page: the line, and marks with their letters, which the neighbour has too."""

    start: Point
    end: Point
    neighbour: int
    marks: tuple[tuple[Point, str], ...]


@dataclass(frozen=True)
class Tile:
    """A piece of a large part: `number` of `count`, in a grid with row 0 on top; `window` is what of the page shows it."""

    number: int
    count: int
    grid: tuple[tuple[int, ...], ...]  # by row and column the tile's number, 0 where there is nothing of the part
    window: tuple[float, float, float, float]
    joins: tuple[Join, ...]


@dataclass
class Filled:
    """The parts of one page, in page coordinates (mm, y up, origin in the lower left corner)."""

    placed: list[Placed] = field(default_factory=list)
    tile: Tile | None = None


@dataclass
class _Shelf:
    page: Filled
    y: float
    height: float
    x: float = 0.0


def fill_pages(parts: Sequence[Part], form: str, turnable: bool) -> list[Filled]:
    """Pages of one paper: the tiles of large parts first, then the others on shelves, the highest first.

    A part stands upright if it can; where it only fits turned by a quarter it is turned, if `turnable`.
    """
    room = live(form)
    pages: list[Filled] = []
    small: list[tuple[Part, bool]] = []
    for part in parts:
        width, height = _size(part)
        if width <= room[0] + _EPS and height <= room[1] - ROOM + _EPS:
            small.append((part, False))
        elif turnable and height <= room[0] + _EPS and width <= room[1] - ROOM + _EPS:
            small.append((part, True))
        else:
            pages += _tiled(part, room, turnable)
    return pages + _shelved(small, room)


def _shelved(parts: Sequence[tuple[Part, bool]], room: tuple[float, float]) -> list[Filled]:
    """First fit by falling height; below each part is room for its number."""
    pages: list[Filled] = []
    shelves: list[_Shelf] = []
    used: dict[int, float] = {}
    for part, turned in sorted(parts, key=lambda item: -_size(*item)[1]):
        width, height = _size(part, turned)
        shelf = next((s for s in shelves if s.height >= height - _EPS and s.x + width <= room[0] + _EPS), None)
        if shelf is None:
            page = next((p for p in pages if used[id(p)] + height + ROOM <= room[1] + _EPS), None)
            if page is None:
                page = Filled()
                pages.append(page)
                used[id(page)] = 0.0
            used[id(page)] += height + ROOM
            shelf = _Shelf(page, room[1] - used[id(page)] + ROOM, height)
            shelves.append(shelf)
        shelf.page.placed.append(_put(part, turned, MARGIN + shelf.x, MARGIN + FOOT + shelf.y))
        shelf.x += width + ROOM
    return pages


def _tiled(part: Part, room: tuple[float, float], turnable: bool) -> list[Filled]:
    """The tiles of one part, row by row from the top; turned by a quarter if that saves pages."""
    turned = turnable and _count(part, True, room) < _count(part, False, room)
    size, here = _size(part, turned), _put(part, turned, 0.0, 0.0)
    cuts = [_cuts(size[axis], room[axis], _across(here, axis)) for axis in (0, 1)]

    def box(column: int, row: int) -> tuple[float, float, float, float]:
        (left, right), (low, high) = ((max(ends[n] - OVERLAP / 2, 0.0), min(ends[n + 1] + OVERLAP / 2, size[axis]))
                                      for axis, (ends, n) in enumerate(((cuts[0], column), (cuts[1], row))))
        return left, low, right, high

    columns, rows = range(len(cuts[0]) - 1), range(len(cuts[1]) - 1)
    outline = here.outline
    shown = [(column, row) for row in reversed(rows) for column in columns
             if shapely.intersects(outline, shapely.box(*box(column, row)))]
    numbers = {corner: number for number, corner in enumerate(shown, start=1)}
    grid = tuple(tuple(numbers.get((column, row), 0) for column in columns) for row in reversed(rows))
    names = _names(shown)
    pages = []
    for at in shown:
        left, low, right, high = box(*at)
        x, y = MARGIN - left, MARGIN + FOOT - low
        joins = []
        for way in _WAYS:
            other = (at[0] + way[0], at[1] + way[1])
            if other in numbers:
                axis = 0 if way[0] else 1
                line = _line(axis, cuts[axis][max(at[axis], other[axis])], box(*at), box(*other))
                joins.append(_join(line, (x, y), numbers[other], names[min(at, other), max(at, other)]))
        window = (MARGIN - _RIM, MARGIN + FOOT - _RIM, x + right + _RIM, y + high + _RIM)
        tile = Tile(numbers[at], len(shown), grid, window, tuple(joins))
        pages.append(Filled([_put(part, turned, x, y)], tile))
    return pages


def _cuts(length: float, room: float, lines: Sequence[float]) -> list[float]:
    """Where tiles end along one axis, 0 and the length included: nearest to equal tiles where no line lies in an overlap.

    `lines` are the places of creases and edges that run across. If there is no such place, the join keeps off the lines by as
    much as it can.
    """
    tiles = _along(length, room)
    ends = [0.0]
    for n in range(1, tiles):
        low = max(length - (tiles - n) * (room - OVERLAP) - OVERLAP / 2, ends[-1] + OVERLAP)
        high = ends[-1] + room - OVERLAP / 2 - (OVERLAP / 2 if ends[-1] > 0.0 else 0.0)
        even = min(max(length * n / tiles, low), high)
        steps = [even, *(even + sign * step for step in range(1, int(room)) for sign in (1, -1))]
        free = [(at, min((abs(at - line) for line in lines), default=room)) for at in steps if low - _EPS <= at <= high + _EPS]
        ends.append(next((at for at, clear in free if clear > OVERLAP / 2 + 1.0), max(free, key=lambda item: item[1])[0]))
    return [*ends, length]


def _across(placed: Placed, axis: int) -> list[float]:
    """Where straight lines of a part run square to an axis: their coordinates on it."""
    rings = [np.array(ring.coords) for ring in (placed.outline.exterior, *placed.outline.interiors)]
    shift = np.array([placed.dx, placed.dy])
    rings += [turn_points(np.array(line.points, dtype=np.float64), placed.turn) + shift for line in placed.part.lines]
    found: set[float] = set()
    for ring in rings:
        steps = np.diff(ring[:, :2], axis=0)
        square = (np.abs(steps[:, axis]) < _EPS) & (np.abs(steps[:, 1 - axis]) > _SHORT)
        found.update(np.round(ring[:-1][square, axis], 3).tolist())
    return sorted(found)


def _line(axis: int, across: float, one: Sequence[float], other: Sequence[float]) -> tuple[Point, Point]:
    """The join of two neighbouring tiles, as long as both are, in the coordinates of the part."""
    low, high = max(one[1 - axis], other[1 - axis]), min(one[3 - axis], other[3 - axis])
    return ((across, low), (across, high)) if axis == 0 else ((low, across), (high, across))


def _names(shown: Sequence[tuple[int, int]]) -> dict[tuple[tuple[int, int], tuple[int, int]], tuple[str, str]]:
    """Names of the two marks of each join, by the tiles that meet there: small letters, as part numbers have capitals."""
    words = ("".join(reversed([chr(ord("a") + n % 26), *([chr(ord("a") + n // 26 - 1)] if n >= 26 else [])])) for n in count())
    pairs = [(tile, other) for tile in shown for other in ((tile[0] + 1, tile[1]), (tile[0], tile[1] + 1)) if other in shown]
    return {pair: (next(words), next(words)) for pair in pairs}


def _join(line: tuple[Point, Point], shift: Point, neighbour: int, names: tuple[str, str]) -> Join:
    """A join on the page, with a mark near either end."""
    (x0, y0), (x1, y1) = ((x + shift[0], y + shift[1]) for x, y in line)
    marks = tuple(((x0 + share * (x1 - x0), y0 + share * (y1 - y0)), name)
                  for share, name in zip((0.2, 0.8), names, strict=True))
    return Join((x0, y0), (x1, y1), neighbour, marks)


def _along(length: float, room: float) -> int:
    """Tiles needed for a length."""
    return max(1, ceil((length - OVERLAP - _EPS) / (room - OVERLAP)))


def _count(part: Part, turned: bool, room: tuple[float, float]) -> int:
    width, height = _size(part, turned)
    return _along(width, room[0]) * _along(height, room[1])


def _size(part: Part, turned: bool = False) -> tuple[float, float]:
    left, low, right, high = part.outline.bounds
    return (high - low, right - left) if turned else (right - left, high - low)


def _put(part: Part, turned: bool, x: float, y: float) -> Placed:
    """A part with its lower left corner at a place; turned means a quarter anticlockwise."""
    left, low, _, high = part.outline.bounds
    return Placed(part, x + high, y - left, 90) if turned else Placed(part, x - left, y - low, 0)
