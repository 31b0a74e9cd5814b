"""The closed stack: how many sheets lie on each other at every place of the closed card, and what follows from it.

The closed page is divided into cells of at most 1 mm; a sheet counts in a cell if it covers the cell's middle. Calipers
are summed, and each glued joint adds what glue and the spring of its folds take (the habit `joint.thickness`). What a
gusset needs, how far a plain spine is held open, and where the stack is uneven is read from this map.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from math import asin, ceil, degrees

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon

from foldwright.grammar.kept import Kept
from foldwright.solver.card import Card, Panel, Placement, Vector
from foldwright.solver.pieces import lap_panels
from foldwright.solver.practice import grammage
from foldwright.solver.words import amount

CELL = 1.0  # mm; a tab is eight times as wide
# Middles are looked at a little off their places, by different amounts both ways: panels end on whole half millimetres,
# and a middle on an edge would belong to both neighbours or to none. Rounding of poses stays below 1e-9.
ASIDE = (1.13e-4, 0.87e-4)
EDGE_ON = 1e-9  # mm²; a panel that shows less than this stands on its edge
MIDDLE = 1e-6  # mm; what stands this near to the plane of symmetry of the open card belongs to neither page

# A load within the middle third of a rectangle presses on all of it (the kern of a rectangular section in statics, a
# sixth of the side to either side of the middle); farther out, the far edge of a pile of such cards gapes.
KERN = 1 / 6
MOST = 1 / 2  # of the contents' volume, in one quarter of the page


@dataclass(frozen=True)
class Needs:
    """What the spine has to take, mm and degrees.

    `contents` is the thickest place between the covers; `gusset` what both strips of a gusset must measure together,
    contents and one caliper of the cover (its scores fold on the mid-planes); `given` what the script's gusset has (0
    for a plain spine); `held_open` the angle at which the thickest line of the contents, at a distance D from a plain
    spine, props the covers up: 2 asin(T / (2 D)). Nearer to the spine the sheets are folded into each other, and the
    formula says nothing. `takes` is False if the gusset is too narrow, or the angle over the habit `spine.gape`.
    """

    contents: float
    gusset: float
    given: float
    held_open: float
    takes: bool


@dataclass(frozen=True)
class Balance:
    """Paper glued flat on each page, in g/m² of the whole page, and the sheet that would make both alike.

    `lighter` is the page ("right" or "left") that should be lined, or empty if the difference is below half a sheet of
    the card's lightest paper; `grammage` is what the lining of `size` (along the spine, away from it, mm) would weigh in
    g/m², `sheets` the same in sheets of that lightest paper.
    """

    right: float
    left: float
    lighter: str
    grammage: float
    sheets: float
    size: tuple[float, float]


@dataclass(frozen=True)
class Stack:
    """The closed card as a map over one page: arrays of shape (rows away from the spine, columns from tail to head).

    `cell` is the size of a cell along the spine and away from it, `page` that of the page, in the same order, mm.
    `sheets` counts sheets, covers included; `thickness` is in mm, glue included; `contents` is the same without the
    covers. `right` and `left` are the parts of `thickness` that lie on the right and on the left page's side of the
    plane of symmetry when the card is open; what stands in that plane is in neither. `thickest` and `middle` (weighted by
    the thickness of the contents) are places (along the spine, away from it), mm; `quarter` is the largest share of the
    contents' volume in one quarter of the page.
    """

    unit: str
    cell: tuple[float, float]
    page: tuple[float, float]
    sheets: NDArray[np.int64]
    thickness: Vector
    contents: Vector
    right: Vector
    left: Vector
    thickest: tuple[float, float]
    middle: tuple[float, float]
    quarter: float
    needs: Needs
    balance: Balance

    @property
    def maximum(self) -> float:
        """Thickness at the thickest place, mm."""
        return float(self.thickness.max())

    @property
    def mean(self) -> float:
        """Mean thickness over the page, mm."""
        return float(self.thickness.mean())


@dataclass(frozen=True)
class Patch:
    """Some cells: those `inside` of a rectangle of rows and columns."""

    rows: slice
    columns: slice
    inside: NDArray[np.bool_]

    @property
    def place(self) -> tuple[slice, slice]:
        """The rectangle."""
        return self.rows, self.columns

    def shared(self, other: Patch) -> Patch:
        """Cells of both."""
        rows, columns = (slice(max(a.start, b.start), max(a.start, b.start, min(a.stop, b.stop)))
                         for a, b in ((self.rows, other.rows), (self.columns, other.columns)))
        mine, others = (patch.inside[rows.start - patch.rows.start:rows.stop - patch.rows.start,
                                     columns.start - patch.columns.start:columns.stop - patch.columns.start]
                        for patch in (self, other))
        return Patch(rows, columns, mine & others)


@dataclass(frozen=True)
class Sheet:
    """One panel in the closed card: the cells it covers, and on which side of the open card's plane of symmetry it lies there.

    `right` and `left` have the shape of the patch's rectangle.
    """

    patch: Patch
    right: NDArray[np.bool_]
    left: NDArray[np.bool_]


class Grid:
    """Cells over the closed page: their middles along the spine and away from it."""

    def __init__(self, page: tuple[float, float]) -> None:
        counts = [ceil(side / CELL - MIDDLE) for side in page]
        self.page = page
        self.cell = (page[0] / counts[0], page[1] / counts[1])
        self.along, self.away = ((np.arange(count) + 0.5) * cell for count, cell in zip(counts, self.cell, strict=True))
        self.x, self.d = np.meshgrid(self.along + ASIDE[0], self.away + ASIDE[1])

    def covered(self, shape: Polygon) -> Patch:
        """Cells whose middle lies in a shape, holes left out."""
        if shape.area < EDGE_ON:
            return Patch(slice(0, 0), slice(0, 0), np.zeros((0, 0), dtype=np.bool_))
        x0, d0, x1, d1 = shape.bounds
        columns = slice(*np.searchsorted(self.along + ASIDE[0], (x0, x1)).tolist())
        rows = slice(*np.searchsorted(self.away + ASIDE[1], (d0, d1)).tolist())
        shapely.prepare(shape)
        return Patch(rows, columns, shapely.contains_xy(shape, self.x[rows, columns], self.d[rows, columns]))

    def at(self, cell: int) -> tuple[float, float]:
        """The place of a cell by its running number."""
        row, column = divmod(cell, len(self.along))
        return float(self.along[column]), float(self.away[row])


def closed_shape(panel: Panel, placement: Placement) -> Polygon:
    """A panel's outline with its holes in the plane of the closed page: (along the spine, away from it), mm."""
    (a, _, d), (b, _, e), (x, _, z) = placement.along, placement.up, placement.origin
    moved: Polygon = affinity.affine_transform(panel.outline, [a, b, d, e, x, z])
    return moved


def stack_map(card: Card, kept: Kept[bytes, Sheet] | None = None) -> Stack:
    """The map of the closed card. With sheets `kept` from the last check, those that lie as they did are not looked at again."""
    closed, opened = card.pose(0.0), card.pose(card.opens)
    grid = Grid((card.cover[1], card.cover[0]))
    known: Kept[bytes, Sheet] = Kept() if kept is None else kept
    sheets = {panel.name: known.get(_sheet_key(grid, panel, closed[panel.name], opened[panel.name]),
                                    partial(_sheet, grid, panel, closed[panel.name], opened[panel.name]))
              for panel in card.panels}
    caliper = {part.name: paper.caliper for part in card.parts for paper in card.papers if paper.name == part.paper}
    count = np.zeros(grid.x.shape, dtype=np.int64)
    whole, covers, right, left = (np.zeros(grid.x.shape) for _ in range(4))
    for panel in card.panels:
        sheet, thick = sheets[panel.name], caliper[panel.part]
        place, inside = sheet.patch.place, sheet.patch.inside
        count[place] += inside
        whole[place] += inside * thick
        if panel.part == "cover":
            covers[place] += inside * thick
        right[place] += (inside & sheet.right) * thick
        left[place] += (inside & sheet.left) * thick
    glue = card.practice["joint.thickness"]
    for lap, carrier in lap_panels(card):
        sheet = known.get(_sheet_key(grid, lap, closed[carrier], opened[carrier]),
                          partial(_sheet, grid, lap, closed[carrier], opened[carrier]))
        place, inside, thick = sheet.patch.place, sheet.patch.inside, caliper[lap.part] + glue
        count[place] += inside
        whole[place] += inside * thick
        right[place] += (inside & sheet.right) * thick
        left[place] += (inside & sheet.left) * thick
    for bond in card.bonds:
        sheet = sheets[bond.panel]
        joint = sheet.patch.shared(sheets[bond.host].patch)
        place, inside = joint.place, joint.inside
        start = joint.rows.start - sheet.patch.rows.start, joint.columns.start - sheet.patch.columns.start
        mine = tuple(slice(first, first + size) for first, size in zip(start, inside.shape, strict=True))
        whole[place] += inside * glue
        right[place] += (inside & sheet.right[mine]) * glue
        left[place] += (inside & sheet.left[mine]) * glue
    contents = whole - covers
    return Stack(card.unit, grid.cell, grid.page, count, whole, contents, right, left, grid.at(int(whole.argmax())),
                 _middle(grid, contents), _quarter(grid, contents), _needs(card, grid, contents, caliper), _balance(card))


def _sheet_key(grid: Grid, panel: Panel, closed: Placement, opened: Placement) -> bytes:
    """What a sheet depends on."""
    numbers = np.concatenate([grid.page, *(v for p in (closed, opened) for v in (p.origin, p.along, p.up))])
    return bytes(numbers.tobytes() + panel.outline.wkb)


def _sheet(grid: Grid, panel: Panel, closed: Placement, opened: Placement) -> Sheet:
    patch = grid.covered(closed_shape(panel, closed))
    offset = _offset(grid, patch, closed, opened)
    return Sheet(patch, offset < -MIDDLE, offset > MIDDLE)


def _offset(grid: Grid, patch: Patch, closed: Placement, opened: Placement) -> Vector:
    """Distance of a panel's points from the plane of symmetry of the open card, at the cells where they lie closed."""
    matrix = np.array([[closed.along[0], closed.up[0]], [closed.along[2], closed.up[2]]])
    if abs(np.linalg.det(matrix)) < EDGE_ON:
        return np.zeros(patch.inside.shape)
    back = np.linalg.inv(matrix)
    x, d = grid.x[patch.place] - closed.origin[0], grid.d[patch.place] - closed.origin[2]
    u, v = back[0, 0] * x + back[0, 1] * d, back[1, 0] * x + back[1, 1] * d
    out: Vector = opened.origin[1] + u * opened.along[1] + v * opened.up[1]
    return out


def _middle(grid: Grid, contents: Vector) -> tuple[float, float]:
    """Where the contents lie on average; the page's middle if there are none."""
    total = contents.sum()
    if total == 0:
        return grid.page[0] / 2, grid.page[1] / 2
    return float((contents.sum(axis=0) @ grid.along) / total), float((contents.sum(axis=1) @ grid.away) / total)


def _quarter(grid: Grid, contents: Vector) -> float:
    """The largest share of the contents in one quarter of the page; 0 if there are none."""
    head, fore = grid.along > grid.page[0] / 2, grid.away > grid.page[1] / 2
    sums = [float(contents[np.ix_(rows, columns)].sum()) for rows in (fore, ~fore) for columns in (head, ~head)]
    return max(sums) / sum(sums) if sum(sums) else 0.0


def _needs(card: Card, grid: Grid, contents: Vector, caliper: Mapping[str, float]) -> Needs:
    thickest = float(contents.max())
    gusset = thickest + caliper.get("cover", 0.0)
    if card.gusset:
        return Needs(thickest, gusset, card.gusset, 0.0, gusset <= card.gusset + MIDDLE)
    lines = contents.max(axis=1)
    away = float(grid.away[int(np.argmax(lines))])  # the nearest to the spine, among equals
    held = 2 * degrees(asin(min(1.0, thickest / (2 * away))))
    return Needs(thickest, gusset, 0.0, held, held <= card.practice["spine.gape"])


def glued_flat(card: Card) -> dict[str, list[Panel]]:
    """What is glued on each page, "right" and "left", directly or onto what is glued there."""
    panels = {panel.name: panel for panel in card.panels}
    found: dict[str, list[Panel]] = {}
    for side in ("right", "left"):
        names = [f"cover.{side}"]
        for name in names:  # grows while it is read
            names.extend(bond.panel for bond in card.bonds if bond.host == name and bond.panel not in names)
        found[side] = [panels[name] for name in names[1:]]
    return found


def _balance(card: Card) -> Balance:
    """A lining on both covers of equal weight is common practice, no source: paper on one side only bows a page."""
    weight = {part.name: grammage(paper.gsm, paper.caliper) for part in card.parts for paper in card.papers
              if paper.name == part.paper}
    width, height = card.cover
    right, left = (sum(panel.outline.area * weight[panel.part] for panel in glued) for glued in glued_flat(card).values())
    size = height - 2 * card.clear, width - card.clear
    missing = abs(right - left) / (size[0] * size[1])
    lightest = min(weight.values())
    even = missing < lightest / 2
    lighter = "" if even else ("right" if right < left else "left")
    page = width * height
    return Balance(right / page, left / page, lighter, missing, missing / lightest, size)


def lopsided(stack: Stack) -> Iterator[str]:
    """How the stack is uneven, in words that go on from "The stack is lopsided: "."""
    for axis, (low, high) in ((0, ("the tail", "the head")), (1, ("the spine", "the fore-edge"))):
        off = stack.middle[axis] - stack.page[axis] / 2
        if abs(off) > KERN * stack.page[axis]:
            yield (f"its middle lies {amount(abs(off), unit=stack.unit)} from the page's middle towards "
                   f"{high if off > 0 else low}; beyond a sixth of the page, "
                   f"{amount(KERN * stack.page[axis], unit=stack.unit)}, a pile of such cards leans")
    if stack.quarter > MOST:
        yield f"one quarter of the page holds {stack.quarter:.0%} of it"


def stack_words(stack: Stack) -> Iterator[str]:
    """The closed card in sentences for its designer."""
    def mm(value: float) -> str:
        return amount(value, unit=stack.unit)

    x, d = stack.thickest
    row, column = int(d / stack.cell[1]), int(x / stack.cell[0])
    yield (f"{mm(stack.maximum)} thick where {stack.sheets[row, column]} sheets lie on each other, {mm(d)} from the spine and "
           f"{mm(x)} from the tail; {mm(stack.mean)} on average, glue included.")
    yield from _spine_words(stack.needs, mm(stack.needs.contents), stack.unit)
    yield from (f"The stack is lopsided: {words}." for words in lopsided(stack))
    yield _balance_words(stack.balance, stack.unit)


def _spine_words(needs: Needs, contents: str, unit: str) -> Iterator[str]:
    gusset = amount(needs.gusset, unit=unit)
    if needs.given:
        yield (f"The contents of {contents} need a gusset of {gusset}; it gives {amount(needs.given, unit=unit)}"
               + ("." if needs.takes else ": it is too narrow."))
    else:
        yield f"The contents of {contents} hold the plain spine open by {amount(needs.held_open, angle=True)}."
        if not needs.takes:
            yield f"That is more than a plain spine takes; a gusset of {gusset} would make room."


def _balance_words(balance: Balance, unit: str) -> str:
    if not balance.lighter:
        return "Both pages carry alike: no balancing sheet is needed."
    size = " x ".join(amount(side, unit=unit) for side in reversed(balance.size))
    return (f"The {balance.lighter} page carries less paper: a lining of {size} and {balance.grammage:.0f} g/m² on it "
            f"({balance.sheets:.1f} sheets of the card's lightest paper) keeps the pages from bowing unlike.")
