"""Parts of one paper onto sheets of one size: a left-bottom fill that repeats itself to the last digit.

No nesting library at hand has sheets, holes, an exact spacing and a reproducible answer together. This one
takes parts in several orders and puts each where it reaches least far to the right (then lowest) on the first
sheet with room, on a grid of cells. The order that needs the fewest sheets and, of these, the least width on
the last one is then filled once more, each part sliding from its cells to where it is exactly the spacing
away from its neighbours. Passes are counted, never timed, so a slow machine gives the same sheets as a fast
one.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import shapely
from shapely.geometry import Polygon

from foldwright.emit.placed import Control, Placed
from foldwright.emit.raster import TOUCH, Footprint, Grid, Spectra, footprints, grown
from foldwright.emit.slide import slid
from foldwright.solver.card import Part

_CELLS = 200  # cells along the side of a square sheet; finer ones cost time and, measured, saved no sheet
_FINEST = 0.8  # mm
_PASSES = 8
_TRIALS = 1200  # places looked for, per paper, before no further pass is begun
_SEED = 180  # any number will do; another one gives other, equally valid sheets


class TooLarge(ValueError):
    """A part is larger than the sheet: a fault of the program, for the proof of a card refuses it."""


@dataclass(frozen=True)
class _Item:
    part: Part
    turns: tuple[Footprint, ...]


@dataclass
class _Open:
    """A sheet that is being filled; `refused` holds the footprints that found no room on it."""

    grid: Grid
    control: Control | None
    placed: list[Placed] = field(default_factory=list)
    shapes: list[Polygon] = field(default_factory=list)
    refused: set[tuple[object, float]] = field(default_factory=set)

    @property
    def reach(self) -> float:
        """How far the parts reach to the right, mm."""
        return max((float(shape.bounds[2]) for shape in self.shapes), default=0.0)


class Packer:
    """Packs parts onto sheets of `mat` (width, height), at least `spacing` apart; all in mm."""

    def __init__(self, mat: tuple[float, float], spacing: float) -> None:
        self._mat = mat
        self._spacing = spacing
        self._cell = max(_FINEST, math.sqrt(mat[0] * mat[1]) / _CELLS)
        self._spectra = Spectra()
        self._trials = 0

    def pack(self, parts: Sequence[Part]) -> list[tuple[tuple[Placed, ...], Control | None]]:
        """Per sheet, the placed parts and the room of the control line (None if there is none left).

        Raises TooLarge if a part fits the mat in no turn.
        """
        items = [_Item(part, footprints(part.outline, self._spacing, self._cell)) for part in parts]
        fewest = math.ceil(sum(part.outline.area for part in parts) / (self._mat[0] * self._mat[1]))
        passes: list[tuple[int, float, int]] = []
        tried: list[list[_Item]] = []
        best: list[_Open] = []
        for order in _orders(items):
            filled = self._fill(order, tight=False)
            passes.append((len(filled), filled[-1].reach, len(tried)))
            tried.append(order)
            if min(passes) == passes[-1]:
                best = filled
            if len(best) <= fewest or self._trials > _TRIALS:
                break
        tight = self._fill(tried[min(passes)[2]], tight=True)
        if (len(tight), tight[-1].reach) <= min(passes)[:2]:
            best = tight
        return [(tuple(sheet.placed), self._control(sheet)) for sheet in best]

    def _fill(self, items: Sequence[_Item], tight: bool) -> list[_Open]:
        sheets: list[_Open] = []
        for item in items:
            if not any(self._put(item, sheet, tight) for sheet in sheets):
                sheets.append(self._sheet_for(item, tight))
        return sheets

    def _sheet_for(self, item: _Item, tight: bool) -> _Open:
        """A new sheet with the item on it; if it leaves room, with a corner kept for the control line."""
        for control in (Control(0.0, 0.0, False), Control(0.0, 0.0, True), None):
            sheet = _Open(self._grid(control), control)
            if self._on_mat(control) and self._put(item, sheet, tight):
                return sheet
        left, low, right, high = item.part.outline.bounds
        raise TooLarge(
            f"part {item.part.name} measures {right - left:.3f} x {high - low:.3f} mm and does not fit"
            f" the mat of {self._mat[0]:g} x {self._mat[1]:g} mm"
        )

    def _on_mat(self, control: Control | None) -> bool:
        if control is None:
            return True
        right, high = control.box.bounds[2:]
        return bool(right <= self._mat[0] and high <= self._mat[1])

    def _grid(self, control: Control | None) -> Grid:
        grid = Grid(self._mat[0] + self._spacing, self._mat[1] + self._spacing, self._cell)
        if control is not None:
            _, _, right, high = control.box.bounds
            rows, columns = (math.ceil((end + self._spacing) / self._cell) for end in (high, right))
            grid.taken[:rows, :columns] = True
        return grid

    def _put(self, item: _Item, sheet: _Open, tight: bool) -> bool:
        """Place an item where it reaches least far right, then lowest; False if there is no room.

        In a tight pass a part may first reach over the edge by a cell; it must then slide back onto the
        sheet.
        """
        for over in (0.0, self._cell) if tight else (0.0,):
            for row, column, footprint in self._places(item, sheet, over):
                placed = self._placed(item.part, footprint, row, column)
                if tight:
                    placed = self._tightened(placed, sheet)
                outline = placed.outline
                if over and not self._holds(outline):
                    continue
                if tight:
                    shape = shapely.transform(
                        grown(outline, self._spacing), lambda xy: xy + self._spacing / 2
                    )
                    sheet.grid.take_shape(shape)
                else:
                    sheet.grid.take(footprint.cells, row, column)
                sheet.placed.append(placed)
                sheet.shapes.append(outline)
                return True
        return False

    def _places(self, item: _Item, sheet: _Open, over: float) -> list[tuple[int, int, Footprint]]:
        """A row and column for each turn that finds room, the best first."""
        found: list[tuple[int, int, int, Footprint]] = []
        for footprint in item.turns:
            if (footprint.key, over) in sheet.refused:
                continue
            self._trials += 1
            place = sheet.grid.leftmost(footprint, self._spectra, over)
            if place is None:
                sheet.refused.add((footprint.key, over))
            else:
                found.append((place[1] + footprint.cells.shape[1], *place, footprint))
        found.sort(key=lambda choice: choice[:2])
        return [choice[1:] for choice in found]

    def _placed(self, part: Part, footprint: Footprint, row: int, column: int) -> Placed:
        left, low, right, high = part.outline.bounds
        corner = {0: (left, low), 90: (-high, left), 180: (-right, -high), 270: (low, -right)}[footprint.turn]
        # Half the spacing outside the part, and half of it outside the sheet, cancel.
        x = column * self._cell + footprint.corner[0] - corner[0]
        y = row * self._cell + footprint.corner[1] - corner[1]
        return Placed(part, x, y, footprint.turn)

    def _tightened(self, placed: Placed, sheet: _Open) -> Placed:
        others = [*sheet.shapes, *([sheet.control.box] if sheet.control else [])]
        left, down = slid(placed.outline, others, self._spacing, 2 * self._cell)
        return Placed(placed.part, placed.dx - left, placed.dy - down, placed.turn)

    def _holds(self, outline: Polygon) -> bool:
        right, high = outline.bounds[2:]
        return bool(right <= self._mat[0] + TOUCH and high <= self._mat[1] + TOUCH)

    def _control(self, sheet: _Open) -> Control | None:
        """The room for the control line: kept beforehand, or wherever some is left."""
        if sheet.control is not None:
            return sheet.control
        for upright in (False, True):
            box = footprints(Control(0.0, 0.0, upright).box, self._spacing, self._cell)[0]
            place = sheet.grid.leftmost(box, self._spectra)
            if place is not None:
                return Control(place[1] * self._cell, place[0] * self._cell, upright)
        return None


def _orders(items: Sequence[_Item]) -> Iterator[list[_Item]]:
    """Orders to try, likeliest first: by box area, longest side, area, then box area with seeded noise."""

    def box(item: _Item) -> float:
        return item.turns[0].size[0] * item.turns[0].size[1]

    yield sorted(items, key=lambda item: -box(item))
    yield sorted(items, key=lambda item: -max(item.turns[0].size))
    yield sorted(items, key=lambda item: -item.part.outline.area)
    for count in range(_PASSES - 3):
        noise = random.Random(_SEED + count)
        weights = {id(item): box(item) * noise.uniform(0.6, 1.4) for item in items}
        yield sorted(items, key=lambda item: -weights[id(item)])
