"""Outlines as grids of cells, and where a grid of cells still finds room on a sheet.

The grid is conservative: a part takes every cell that its outline, grown by half the spacing, reaches. Parts
that share no cell are therefore at least the spacing apart, whatever the size of the cells.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

Cells = NDArray[np.bool_]
TURNS = (0, 90, 180, 270)
# Cells reached by less than this (mm) do not count, so that a part whose size is a whole number of cells
# takes just these. It is a thousandth of what a file can say (three decimals), so the spacing suffers by less
# than that.
TOUCH = 1e-6
_QUADRANT = 8  # segments per quarter circle when an outline is grown
_MOST_SPECTRA = 160  # kept at once; each takes about 0.35 MB
_BLOCK = 4  # cells per side of a block that is looked at before its cells are


def turned(polygon: Polygon, turn: int) -> Polygon:
    """The polygon turned about the origin, anticlockwise, by 0, 90, 180 or 270 degrees, without sines."""
    return shapely.transform(polygon, lambda points: turn_points(points, turn))


def turn_points(points: NDArray[np.float64], turn: int) -> NDArray[np.float64]:
    """Points, shape (n, 2), turned about the origin, anticlockwise, by 0, 90, 180 or 270 degrees."""
    x, y = points[:, 0], points[:, 1]
    columns = {0: (x, y), 90: (-y, x), 180: (-x, -y), 270: (y, -x)}[turn]
    return np.column_stack(columns)


def grown(polygon: Polygon, spacing: float) -> Polygon:
    """The polygon grown by half the spacing, holes shrunk by as much, nowhere less than that.

    Arcs are chords inside the true circle; the radius is made larger to undo that, and the result trimmed to
    where the true one can be, so that a rectangle's grown size is exact. GEOS rounds the number of chords of
    an arc to the nearest, so a single chord may span one and a half times the nominal angle.
    """
    half = spacing / 2
    if half <= 0:
        return polygon
    larger = shapely.buffer(polygon, half / math.cos(1.5 * math.pi / 4 / _QUADRANT), quad_segs=_QUADRANT)
    left, low, right, high = polygon.bounds
    return shapely.intersection(larger, shapely.box(left - half, low - half, right + half, high + half))


def cells_of(shape: Polygon, cell: float, origin: tuple[float, float] | None = None) -> Cells:
    """The cells that a shape reaches, indexed [row, column] from `origin` or its lower left corner."""
    left, low, right, high = shape.bounds
    left, low = origin or (left, low)
    columns = max(1, math.ceil((right - left - TOUCH) / cell))
    rows = max(1, math.ceil((high - low - TOUCH) / cell))
    shapely.prepare(shape)

    def reached(row: NDArray[np.intp], column: NDArray[np.intp], size: float) -> Cells:
        x, y = left + column * cell, low + row * cell
        edge = size * cell - TOUCH
        answer: Cells = shapely.intersects(shape, shapely.box(x + TOUCH, y + TOUCH, x + edge, y + edge))
        return answer

    block_row, block_column = np.indices((-(-rows // _BLOCK), -(-columns // _BLOCK))).reshape(2, -1) * _BLOCK
    near = reached(block_row, block_column, _BLOCK)
    inner_row, inner_column = np.indices((_BLOCK, _BLOCK)).reshape(2, -1)
    row = (block_row[near, None] + inner_row).ravel()
    column = (block_column[near, None] + inner_column).ravel()
    inside = (row < rows) & (column < columns)
    row, column = row[inside], column[inside]
    found = reached(row, column, 1)
    grid = np.zeros((rows, columns), dtype=np.bool_)
    grid[row[found], column[found]] = True
    return grid


@dataclass(frozen=True, eq=False)
class Footprint:
    """A part's cells in one turn.

    `corner` is where the lower left corner of the grown part stands in the grid's frame (mm from the grid's
    own lower left corner): not zero when the grid is a turned one and the part does not fill its last cells.
    `size` is the grown part's width and height.
    """

    turn: int
    cells: Cells
    corner: tuple[float, float]
    size: tuple[float, float]

    @cached_property
    def key(self) -> tuple[tuple[int, ...], bytes]:
        """Equal for footprints that take the same cells."""
        return self.cells.shape, np.packbits(self.cells).tobytes()


def footprints(
    polygon: Polygon, spacing: float, cell: float, turns: Collection[int] = TURNS
) -> tuple[Footprint, ...]:
    """A part's footprints in the turns it may take; one that takes the same cells as an earlier one is left out."""
    found: list[Footprint] = []
    for turn in sorted({turn % 180 for turn in turns}):
        shape = grown(turned(polygon, turn), spacing)
        left, low, right, high = shape.bounds
        size = (right - left, high - low)
        cells = cells_of(shape, cell)
        rows, columns = cells.shape
        over = (columns * cell - size[0], rows * cell - size[1])
        found.append(Footprint(turn, cells, (0.0, 0.0), size))
        found.append(Footprint(turn + 180, cells[::-1, ::-1].copy(), over, size))
    found = [footprint for footprint in found if footprint.turn in turns]
    distinct = {footprint.key: footprint for footprint in reversed(found)}
    return tuple(footprint for footprint in found if distinct[footprint.key] is footprint)


def _smooth(number: int) -> int:
    """The least product of twos, threes and fives not below `number`: sizes that an FFT is quick with."""
    while True:
        rest = number
        for prime in (2, 3, 5):
            while rest % prime == 0:
                rest //= prime
        if rest == 1:
            return number
        number += 1


@dataclass(eq=False)
class Grid:
    """The cells of one sheet, grown by half the spacing on every side: a part may touch the sheet's edge.

    `width` and `height` are the grown sheet's, in mm.
    """

    width: float
    height: float
    cell: float
    taken: Cells = field(init=False)
    _spectrum: NDArray[np.complexfloating] | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        rows = math.ceil((self.height - TOUCH) / self.cell)
        columns = math.ceil((self.width - TOUCH) / self.cell)
        rows, columns = rows + 2, columns + 2  # room for cells of parts that will slide back onto the sheet
        self.taken = np.zeros((rows, columns), dtype=np.bool_)
        self._fft = (_smooth(rows), _smooth(columns))

    def copy(self) -> Grid:
        """The same cells, to go back to."""
        other = Grid(self.width, self.height, self.cell)
        other.taken = self.taken.copy()
        return other

    def take(self, cells: Cells, row: int, column: int) -> None:
        """Mark a footprint's cells, standing at a row and column, as taken."""
        rows, columns = cells.shape
        self.taken[row : row + rows, column : column + columns] |= cells
        self._spectrum = None

    def take_shape(self, shape: Polygon) -> None:
        """Mark the cells that a shape, in the grown sheet's coordinates, reaches as taken."""
        left, low, _, _ = shape.bounds
        column, row = math.floor((left + TOUCH) / self.cell), math.floor((low + TOUCH) / self.cell)
        self.take(cells_of(shape, self.cell, (column * self.cell, row * self.cell)), row, column)

    def reach(self, footprint: Footprint, over: float = 0.0) -> tuple[int, int]:
        """The last row and column where a part stays on the sheet but for `over` mm; negative if nowhere."""
        spare = (
            self.height - footprint.size[1] - footprint.corner[1] + over + TOUCH,
            self.width - footprint.size[0] - footprint.corner[0] + over + TOUCH,
        )
        rows, columns = (math.floor(length / self.cell) for length in spare)
        return (
            min(rows, self.taken.shape[0] - footprint.cells.shape[0]),
            min(columns, self.taken.shape[1] - footprint.cells.shape[1]),
        )

    def leftmost(self, footprint: Footprint, spectra: Spectra, over: float = 0.0) -> tuple[int, int] | None:
        """Row and column of the leftmost free place, the lowest of these, or None if there is none.

        A part may reach over the sheet's right and upper edges by `over` mm.

        The number of cells that sheet and part share, for every place at once, is their correlation; it is a
        whole number. With n cells taken and m of the part the transform's error is about 1e-7 * sqrt(n m), for a
        full sheet of 40,000 cells 0.004: far below a half, so single precision is enough.
        """
        last_row, last_column = self.reach(footprint, over)
        if last_row < 0 or last_column < 0:
            return None
        if np.count_nonzero(footprint.cells) > self.taken.size - np.count_nonzero(self.taken):
            return None
        if self._spectrum is None:
            self._spectrum = np.fft.rfft2(self.taken.astype(np.float32), self._fft)
        shared = np.fft.irfft2(self._spectrum * spectra.of(footprint, self._fft), self._fft)
        free: Cells = np.less(shared[: last_row + 1, : last_column + 1], 0.5)
        columns: Cells = np.asarray(free.any(axis=0))
        column = int(columns.argmax())
        if not columns[column]:
            return None
        return int(free[:, column].argmax()), column


class Spectra:
    """Transforms of footprints, made once: orders and sheets are many, footprints few."""

    def __init__(self) -> None:
        self._known: dict[tuple[tuple[tuple[int, ...], bytes], tuple[int, int]], NDArray[np.complexfloating]] = {}

    def of(self, footprint: Footprint, size: tuple[int, int]) -> NDArray[np.complexfloating]:
        """The conjugate transform of a footprint, padded to `size`."""
        key = (footprint.key, size)
        if key not in self._known:
            if len(self._known) >= _MOST_SPECTRA:
                self._known.clear()
            self._known[key] = np.conj(np.fft.rfft2(footprint.cells.astype(np.float32), size))
        return self._known[key]
