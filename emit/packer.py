"""Parts of one paper onto sheets of one size: a left-bottom fill that repeats itself to the last digit.

No nesting library at hand has sheets, holes, an exact spacing and a reproducible answer together. This one
takes parts in several orders (`orders.py`) and puts each where it reaches least far to the right (then lowest) on the
first sheet with room, on a grid of cells. The order that needs the fewest sheets, then parts the fewest parts of one
assembly step, then needs the least width on the last sheet is filled once more, each part sliding from its cells to
where it is exactly the spacing away from its neighbours. Passes are counted, never timed, so a slow machine gives the
same sheets as a fast one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice

import shapely
from shapely.geometry import Polygon

from foldwright.emit.boxes import Box, fewest
from foldwright.emit.orders import Item, Order, orders, splits
from foldwright.emit.placed import Control, Placed
from foldwright.emit.raster import TOUCH, TURNS, Footprint, Grid, Spectra, footprints, grown, turned
from foldwright.emit.slide import slid
from foldwright.solver.card import Part

_CELLS = 200  # cells along the side of a square sheet; finer ones cost time and, measured, saved no sheet
_FINEST = 0.8  # mm
_TRIALS = 1200  # places looked for before no further pass is begun
_DENSEST = 0.93  # of a sheet, parts counted with half the spacing round them; more is not hoped for of outlines
_BARE = 6  # orders tried without room for the control line, where that may save a sheet
_FOR_WIDTH = 3  # orders tried at most only for less width on the last sheet: as they turn, all upright, all on their side
_FOR_STEPS = 8  # orders tried at most only to keep the parts of a step together

Score = tuple[int, int, float]  # sheets, parts of one step on further sheets, reach on the last sheet in mm


class TooLarge(ValueError):
    """A part is larger than the sheet: a fault of the program, for the proof of a card refuses it."""


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

    def take_back(self, count: int, grid: Grid, refused: set[tuple[object, float]]) -> None:
        """As it was with its first `count` parts."""
        del self.placed[count:], self.shapes[count:]
        self.grid, self.refused = grid, refused


class Packer:
    """Packs parts onto sheets of `mat` (width, height), at least `spacing` apart; all in mm.

    After `trials` places looked for it begins no further pass. `control` False keeps no room for the control line; else a
    corner of each sheet is kept free for it, unless that costs a sheet.
    """

    def __init__(
        self, mat: tuple[float, float], spacing: float, trials: int = _TRIALS, control: bool = True
    ) -> None:
        self._mat = mat
        self._spacing = spacing
        self._cell = max(_FINEST, math.sqrt(mat[0] * mat[1]) / _CELLS)
        self._spectra = Spectra()
        self._most = trials
        self._trials = 0
        self._controls = (Control(0.0, 0.0, False), Control(0.0, 0.0, True), None) if control else (None,)

    def pack(
        self,
        parts: Sequence[Part],
        turns: Mapping[str, Collection[int]] | None = None,
        groups: Sequence[Collection[str]] = (),
        told: Callable[[int, int], None] | None = None,
    ) -> list[tuple[tuple[Placed, ...], Control | None]]:
        """Per sheet, the placed parts and the room of the control line (None if there is none left).

        `turns` are the turns that a part (by name) may take, of 0, 90, 180 and 270 degrees; any, for a part that is not
        named. The parts of a group (names) are kept on one sheet where that costs none. `told` hears after each pass how many
        there were, and the fewest sheets so far. Raises TooLarge if a part fits the mat in no turn that it may take.
        """
        allowed = turns or {}
        items = [
            Item(
                part,
                footprints(part.outline, self._spacing, self._cell, allowed.get(part.name, TURNS)),
                grown(part.outline, self._spacing).area,
            )
            for part in parts
        ]
        needed = sum(item.area for item in items) / math.prod(side + self._spacing for side in self._mat)
        room = (self._mat[0] + self._spacing, self._mat[1] + self._spacing)
        best: list[_Open] = []
        score: Score = (len(parts) + 1, 0, 0.0)
        chosen: Order = []
        for number, order in enumerate(orders(items, groups, room), start=1):
            filled = self._fill(order, tight=False)
            reached = self._score(filled, groups)
            if reached < score:
                best, score, chosen = filled, reached, order
            if told:
                told(number, score[0])
            hopeless = needed > _DENSEST * (score[0] - 1) and number >= (_FOR_STEPS if score[1] else _FOR_WIDTH)
            if self._trials > self._most or hopeless:
                break
        bare = False
        if self._controls != (None,) and needed <= _DENSEST * (score[0] - 1):
            for order in (chosen, *islice(orders(items, groups, room), _BARE)):
                filled = self._fill(order, tight=False, bare=True)
                if len(filled) < score[0]:
                    best, score, chosen, bare = filled, self._score(filled, groups), order, True
                    break
        tight = self._fill(chosen, tight=True, bare=bare)
        if self._score(tight, groups) <= score:
            best = tight
        if needed <= len(best) - 1:
            best = self._boxed(items, len(best)) or best
        return [(tuple(sheet.placed), self._control(sheet)) for sheet in best]

    def _boxed(self, items: Sequence[Item], below: int) -> list[_Open] | None:
        """Sheets on which the parts' bounding boxes lie apart, if these are fewer than `below`."""
        boxes = [Box(tuple((turn.turn, *_extent(turned(item.part.outline, turn.turn))) for turn in item.turns)) for item in items]
        found = fewest(boxes, self._mat, self._spacing, below)
        if found is None:
            return None
        sheets = []
        for spots in found:
            sheet = _Open(self._grid(None), None)
            for spot in spots:
                part = items[spot.box].part
                corner = turned(part.outline, spot.turn).bounds
                placed = Placed(part, spot.x - corner[0], spot.y - corner[1], spot.turn)
                self._add(placed, sheet)
            sheets.append(sheet)
        return sheets

    def _add(self, placed: Placed, sheet: _Open) -> None:
        """Put a part where it is said to lie, whatever its cells."""
        outline = placed.outline
        sheet.grid.take_shape(
            shapely.transform(grown(outline, self._spacing), lambda points: points + self._spacing / 2)
        )
        sheet.placed.append(placed)
        sheet.shapes.append(outline)

    def _score(self, sheets: Sequence[_Open], groups: Sequence[Collection[str]]) -> Score:
        names = [{placed.part.name for placed in sheet.placed} for sheet in sheets]
        return len(sheets), splits(names, groups), sheets[-1].reach

    def _fill(self, order: Order, tight: bool, bare: bool = False) -> list[_Open]:
        """Sheets filled in an order; `bare` ones keep no room for the control line."""
        sheets: list[_Open] = []
        for cluster in order:
            if len(cluster) > 1 and any(self._put_all(cluster, sheet, tight) for sheet in sheets):
                continue
            for item in cluster:
                if not any(self._put(item, sheet, tight) for sheet in sheets):
                    sheets.append(self._sheet_for(item, tight, bare))
        return sheets

    def _put_all(self, cluster: Sequence[Item], sheet: _Open, tight: bool) -> bool:
        """Place all items of a cluster on a sheet, or none."""
        before = len(sheet.placed), sheet.grid.copy(), set(sheet.refused)
        if all(self._put(item, sheet, tight) for item in cluster):
            return True
        sheet.take_back(*before)
        return False

    def _sheet_for(self, item: Item, tight: bool, bare: bool) -> _Open:
        """A new sheet with the item on it; if it leaves room, with a corner kept for the control line."""
        for control in (None,) if bare else self._controls:
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

    def _put(self, item: Item, sheet: _Open, tight: bool) -> bool:
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
                    self._add(placed, sheet)
                else:
                    sheet.grid.take(footprint.cells, row, column)
                    sheet.placed.append(placed)
                    sheet.shapes.append(outline)
                return True
        return False

    def _places(self, item: Item, sheet: _Open, over: float) -> list[tuple[int, int, Footprint]]:
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
        for upright in (False, True) if len(self._controls) > 1 else ():
            box = footprints(Control(0.0, 0.0, upright).box, self._spacing, self._cell)[0]
            place = sheet.grid.leftmost(box, self._spectra)
            if place is not None:
                return Control(place[1] * self._cell, place[0] * self._cell, upright)
        return None


def _extent(outline: Polygon) -> tuple[float, float]:
    left, low, right, high = outline.bounds
    return right - left, high - low
