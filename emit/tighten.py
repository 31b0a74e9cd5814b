"""Fewer sheets, or a narrower last one, for time: whether the parts of some sheets go onto one sheet fewer.

The parts of the emptiest sheets are shared out over one sheet fewer by area; the strip packer (`strip.py`) is asked whether
each share fits a mat; where one does not, parts change places. Whatever it proposes is measured (`apart.py`) before it
counts. The clock decides what is found, so who calls this keeps the result (`kept_layout.py`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from random import Random
from time import monotonic

import shapely
from shapely.geometry import Polygon

from foldwright.emit.apart import Demands, fault
from foldwright.emit.bundles import Bundle, bundles, compacted
from foldwright.emit.mats import Mat
from foldwright.emit.placed import Control, Placed, Sheet
from foldwright.emit.raster import TOUCH
from foldwright.emit.strip import Piece, narrowed
from foldwright.solver.card import Part
from foldwright.solver.engine.stopping import current, running

_CONTROL = "control line"  # its name as a piece; pieces of parts are numbered
_DENSEST = 0.93  # of a sheet, parts counted with half the spacing round them; more is not hoped for of outlines
SHORTEST = 1.0  # seconds; the strip packer counts whole ones
_FIRST, _LONGEST = 2.0, 16.0  # seconds of a call of the strip packer: doubled from round to round
_MOVES = 6  # times that shares are changed before another number of sheets is tried
_SAVING = 0.75  # share of the time for fewer sheets; the rest is for a narrower last one
_WORTH = 1.0  # mm; a last sheet narrower by less is no better: nobody keeps such an offcut

Say = Callable[[str], None]


def tightened(sheets: Sequence[Sheet], parts: Sequence[Part], demands: Demands, seconds: float, say: Say) -> list[Sheet] | None:
    """A better layout of the parts of one paper, found in about so many seconds: fewer sheets, or as many, the last narrower.

    None if none was found. `sheets` is the layout so far; `say` is told what is tried, as the end of a line.
    """
    start = monotonic()
    search = _Search(parts, demands, say)
    best = list(sheets)
    with running():
        search.until = start + (seconds if _hopeless(best, demands) else _SAVING * seconds)
        while (fewer := search.fewer(best)) is not None:
            best = fewer
        search.until = start + seconds
        best = search.narrower(best)
    return [replace(sheet, number=number) for number, sheet in enumerate(best, start=1)] if best != list(sheets) else None


def _hopeless(sheets: Sequence[Sheet], demands: Demands) -> bool:
    return not any(_could_save(_emptiest(sheets, count), demands) for count in range(2, len(sheets) + 1))


def _emptiest(sheets: Sequence[Sheet], count: int) -> list[Sheet]:
    """The last sheet and the emptiest of the others, `count` together."""
    def fill(sheet: Sheet) -> float:
        return float(sum(one.part.outline.area for one in sheet.placed) / (sheet.width * sheet.height))

    rest = sorted(sheets[:-1], key=fill)
    return [sheets[-1], *rest[: count - 1]]


def _could_save(some: Sequence[Sheet], demands: Demands) -> Mat | None:
    """The largest mat on which the parts of some sheets might need one fewer; None if by area they cannot, or none takes all."""
    pieces = [bundle for sheet in some for bundle in bundles(sheet, demands.turns)]
    area = sum(bundle.room(demands.spacing) for bundle in pieces)
    for mat in sorted(demands.mats, key=lambda mat: -mat[0] * mat[1]):
        width, height = demands.room(mat)
        enough = area <= _DENSEST * (len(some) - 1) * (width + demands.spacing) * (height + demands.spacing)
        if enough and all(_fits(bundle, (width, height)) for bundle in pieces):
            return mat
    return None


def _fits(bundle: Bundle, room: Mat) -> bool:
    left, low, right, high = bundle.part.outline.bounds
    sizes = ((high - low, right - left) if turn % 180 else (right - left, high - low) for turn in bundle.turns)
    return any(width <= room[0] + TOUCH and height <= room[1] + TOUCH for width, height in sizes)


class _Search:
    """Looks for better layouts of one paper until `until` (seconds of `monotonic`)."""

    def __init__(self, parts: Sequence[Part], demands: Demands, say: Say) -> None:
        self.until = 0.0
        self._parts, self._demands, self._say = parts, demands, say
        self._calls = 0

    def _left(self) -> float:
        stop = current()
        return 0.0 if stop and stop() else self.until - monotonic()

    def fewer(self, sheets: Sequence[Sheet]) -> list[Sheet] | None:
        """The same parts on one sheet fewer; None if that was not found."""
        tries = [(some, mat) for count in range(2, len(sheets) + 1)
                 if (mat := _could_save(some := _emptiest(sheets, count), self._demands)) is not None]
        call = _FIRST
        while tries and self._left() >= SHORTEST:
            for (some, mat), control in ((one, control) for one in tries for control in self._controls(one[0], call)):
                made = self._onto(some, mat, control, call)
                if made is not None:
                    kept = [sheet for sheet in sheets if not any(sheet is other for other in some)]
                    better = [*kept, *made]
                    if fault(better, self._parts, self._demands) is None:
                        return better
            call = min(2 * call, _LONGEST)
        return None

    def _controls(self, some: Sequence[Sheet], call: float) -> tuple[bool, ...]:
        """Whether to keep room for a control line: if some sheet has one; later without it too, for a sheet is worth more."""
        return (True, False)[: 1 + (call > _FIRST)] if any(sheet.control for sheet in some) else (False,)

    def narrower(self, sheets: list[Sheet]) -> list[Sheet]:
        """The same sheets with less width needed on the last one, if that is found."""
        last = sheets[-1]
        while self._left() >= SHORTEST:
            self._say(f": looking for a narrower last sheet, {self._left():.0f} s left")
            made, _ = self._laid(bundles(last, self._demands.turns), (last.width, last.height), last.control is not None,
                                 min(self._left(), _LONGEST), 0.0)
            if made is None or _reach(made) >= _reach(last) - _WORTH:
                break
            better = [*sheets[:-1], made]
            if fault(better, self._parts, self._demands) is not None:
                break
            sheets, last = better, made
        return sheets

    def _onto(self, some: Sequence[Sheet], mat: Mat, control: bool, seconds: float) -> list[Sheet] | None:
        """The parts of some sheets on one fewer of a mat, each with a control line if `control`."""
        count = len(some) - 1
        shares = _shares([bundle for sheet in some for bundle in bundles(sheet, self._demands.turns)], count)
        noise = Random(self._calls)
        done: dict[int, Sheet] = {}
        for _ in range(_MOVES):
            over: dict[int, float] = {}  # how much of a share's area has to go elsewhere
            for index in (index for index in range(count) if index not in done):
                left = self._left()
                if left < SHORTEST:
                    return None
                self._say(f": {len(some)} sheets onto {count}, {left:.0f} s left")
                made, width = self._laid(shares[index], mat, control, min(left, seconds), self._demands.room(mat)[0])
                if made is not None:
                    done[index] = made
                else:
                    over[index] = 1 - self._demands.room(mat)[0] / width if width else 0.1
            if not over:
                return [done[index] for index in range(count)]
            if count == 1 or sum(over.values()) > 0.1 * count:  # far too wide: no change of places makes room for that
                return None
            worst = max(over, key=lambda index: over[index])
            other = min((index for index in range(count) if index != worst),
                        key=lambda index: (index in over, sum(bundle.area for bundle in shares[index])))
            _give(shares[worst], shares[other], over[worst], noise)
            done.pop(other, None)
        return None

    def _laid(self, some: Sequence[Bundle], mat: Mat, control: bool, seconds: float, target: float) -> tuple[Sheet | None, float]:
        """A sheet of a mat with some bundles, None if they do not fit; and how wide they came out (0 if they did not)."""
        spacing, (width, height) = self._demands.spacing, self._demands.room(mat)
        pieces = {str(index): bundle.piece for index, bundle in enumerate(some)}
        if control:
            pieces[_CONTROL] = Piece(Control(0.0, 0.0, False).box, (0, 90))
        self._calls += 1
        found = narrowed(pieces, height, spacing, seconds, self._calls, target)
        if found is None:
            return None, 0.0
        spots = dict(found.spots)
        names = list(spots)
        shapes = [_at(pieces[name].shape, *spots[name]) for name in names]
        shifts = compacted(shapes, spacing)
        for name, (left, down) in zip(names, shifts, strict=True):
            turn, x, y = spots[name]
            spots[name] = turn, x - left, y - down
        right = max(shape.bounds[2] - shift[0] for shape, shift in zip(shapes, shifts, strict=True))
        sheet = self._sheet(some, spots, mat)
        if right > width + TOUCH:
            return None, right
        return sheet, right

    def _sheet(self, some: Sequence[Bundle], spots: dict[str, tuple[int, float, float]], mat: Mat) -> Sheet:
        """The sheet of a layout in the room of a mat, on the smallest mat on which it lies as it is."""
        border = self._demands.border
        placed: list[Placed] = []
        for index, bundle in enumerate(some):
            turn, x, y = spots[str(index)]
            placed += bundle.at(turn, x + border, y + border)
        control = None
        if _CONTROL in spots:
            turn, x, y = spots[_CONTROL]
            upright = turn == 90
            wide = Control(0.0, 0.0, upright).box.bounds[2]
            control = Control(x + border - (wide if upright else 0.0), y + border, upright)
        shapes = [one.outline for one in placed] + ([control.box] if control else [])
        right, high = shapely.total_bounds(shapes)[2:]
        holds = (small for small in sorted(self._demands.mats, key=lambda small: small[0] * small[1])
                 if right <= small[0] - border + TOUCH and high <= small[1] - border + TOUCH)
        return Sheet("" if not placed else placed[0].part.paper, 1, *next(holds, mat), tuple(placed), control)


def _at(shape: Polygon, turn: int, x: float, y: float) -> Polygon:
    return Placed(Part("", "", "", shape, (), (0.0, 0.0)), x, y, turn).outline


def _reach(sheet: Sheet) -> float:
    """How far the parts reach to the right, mm."""
    return float(max(one.outline.bounds[2] for one in sheet.placed))


def _shares(some: Sequence[Bundle], count: int) -> list[list[Bundle]]:
    """Bundles in `count` shares of about the same area: the largest first, each to the smallest share."""
    shares: list[list[Bundle]] = [[] for _ in range(count)]
    areas = [0.0] * count
    for bundle in sorted(some, key=lambda bundle: -bundle.area):
        index = areas.index(min(areas))
        shares[index].append(bundle)
        areas[index] += bundle.area
    return shares


def _give(rich: list[Bundle], poor: list[Bundle], part: float, noise: Random) -> None:
    """Move about that part of the area of one share to another: a bundle, or one in exchange for a smaller one."""
    wanted = part * sum(bundle.area for bundle in rich)
    moves: list[tuple[float, Bundle, Bundle | None]] = [(abs(one.area - wanted), one, None) for one in rich]
    moves += [(abs(one.area - other.area - wanted), one, other) for one in rich for other in poor]
    moves.sort(key=lambda move: move[0])
    _, one, other = noise.choice(moves[:4])
    rich.remove(one)
    poor.append(one)
    if other is not None:
        poor.remove(other)
        rich.append(other)
