"""Template pages: every part at true size on paper that a desk printer takes, for cutting by hand.

Parts are drawn as they are seen from the back (`sides.py`): a page printed on the paper itself goes on its back, where its lines
and numbers do not show.

A part larger than a page becomes tiles that overlap. What both tiles show has a join line in its middle and registration
marks (a cross in a ring, as printers use them) with the same name on both pages. Every page carries a control square.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from foldwright.emit.drawing import in_work_order, part_group
from foldwright.emit.formats import FOOT, FORMATS, MARGIN, SQUARE
from foldwright.emit.labels import Label
from foldwright.emit.names import Unique
from foldwright.emit.style import ASSIST, STYLES
from foldwright.emit.tiles import Filled, Tile, fill_pages
from foldwright.emit.trace import Trace, rounded
from foldwright.solver.card import Card, Paper, Part, Point

_RING, _ARM = 1.5, 3.0  # mm, a registration mark's ring (its radius) and arms
_BESIDE = SQUARE + 5.0  # mm from the margin to the words beside the square
_MAP = 26.0  # mm, the little map of tiles
_NAMED = 12  # parts of a page that are told by their names; of more there are the numbers only
PRINTING = ("Print at 100 % (actual size, never fitted to the page), on the back of the paper: parts are drawn as seen from the"
            " back. The square must measure 50 mm each way.")
JOINING = ("Join the tiles: cut one page along its join line, lay it on the join line of the other so that the marks of one"
           " letter lie on each other, and tape it.")
CAUTION = ("Blades: light passes, a sharp blade, fingers behind it, a mat below; cut away from the body. Keep small parts from "
           "young children. Local rules and the instructions of the makers of blades, papers and glues come first.")


@dataclass(frozen=True)
class Words:
    """A text on a page: left end of its first base line and size of the face, mm.

    With a `width` it is wrapped, and cut short after so many `lines`.
    """

    text: str
    at: Point
    size: float
    width: float = 0.0
    lines: int = 1
    bold: bool = False


@dataclass(frozen=True)
class Page:
    """One printed page, mm, y up: parts (what lies outside `window` is not shown), lines that only help, and words."""

    size: tuple[float, float]
    traces: tuple[Trace, ...]
    window: tuple[float, float, float, float] | None
    samples: tuple[Trace, ...]
    joins: tuple[tuple[Point, Point], ...]
    frames: tuple[tuple[Point, Point], ...]
    rings: tuple[tuple[Point, float], ...]
    square: tuple[float, float, float]  # lower left corner and side
    words: tuple[Words, ...]


def template_pages(card: Card, form: str, labels: Mapping[str, Label]) -> list[Page]:
    """All pages of a card in a format out of `FORMATS`, paper by paper; its parts and their `labels` are those of the back."""
    filled: list[tuple[Paper, Filled]] = []
    for paper in card.papers:
        parts = [part for part in card.parts if part.paper == paper.name]
        # printed on a sheet with a grain, a part that is turned by a quarter would have it the wrong way
        filled += [(paper, page) for page in fill_pages(parts, form, not paper.grain)]
    return [_page(card, form, paper, page, labels, f"Page {number} of {len(filled)}")
            for number, (paper, page) in enumerate(filled, start=1)]


def _page(card: Card, form: str, paper: Paper, filled: Filled, labels: Mapping[str, Label], count: str) -> Page:
    names, size = Unique(), FORMATS[form]
    shown = {name: label for name, label in labels.items() if filled.tile is None or not _below(label, filled.placed[0].part)}
    traces = tuple(trace for placed in filled.placed for trace in in_work_order(part_group(placed, names, shown).traces))
    tile = filled.tile
    joins = () if tile is None else tuple((join.start, join.end) for join in tile.joins)
    frames: list[tuple[Point, Point]] = []
    rings: list[tuple[Point, float]] = []
    for mark in () if tile is None else [mark for join in tile.joins for mark in join.marks]:
        (x, y), _ = mark
        rings.append(((x, y), _RING))
        frames += [((x - _ARM, y), (x + _ARM, y)), ((x, y - _ARM), (x, y + _ARM))]
    samples, words = _foot(card, size, paper, filled, count)
    if tile is not None:
        lines, numbers = _map(tile, size)
        sample = (MARGIN + _BESIDE, MARGIN + 6.9)
        joins += ((sample, (sample[0] + 14.0, sample[1])),)
        words.append(Words(ASSIST.meaning, (sample[0] + 16.0, sample[1] - 0.8), 2.4))
        frames += lines
        words += [*numbers, *_names(tile)]
    return Page(size, traces, None if tile is None else tile.window, tuple(samples), joins, tuple(frames), tuple(rings),
                (MARGIN, MARGIN, SQUARE), tuple(words))


def _below(label: Label, part: Part) -> bool:
    """A label beside its part, which the foot of a tile's page says already."""
    return label.at[1] < part.outline.bounds[1] and not label.hidden


def _foot(card: Card, size: tuple[float, float], paper: Paper, filled: Filled, count: str) -> tuple[list[Trace], list[Words]]:
    """The words beside the control square, and samples of all kinds of line."""
    left, top = MARGIN + _BESIDE, MARGIN + FOOT - 4.0
    width = size[0] - MARGIN - left - (0.0 if filled.tile is None else _MAP + 4.0)
    many = len(filled.placed) > _NAMED
    parts = ", ".join(placed.part.label if many else f"{placed.part.label} {placed.part.name}" for placed in filled.placed)
    if filled.tile is not None:
        parts += f", tile {filled.tile.number} of {filled.tile.count}"
    grain = {"along": ", grain along the height", "across": ", grain along the width"}.get(paper.grain, "")
    words = [
        Words("50 mm", (MARGIN + SQUARE / 2 - 5.0, MARGIN + SQUARE / 2 - 1.0), 3.5),
        Words(card.title, (left, top - 3.5), 4.2, width, bold=True),
        Words(f"{count}: {paper.name} ({paper.colour}{grain})", (left, top - 8.5), 3.2, width),
        Words(parts, (left, top - 12.5), 2.5, width, 3),
        Words(PRINTING if filled.tile is None else f"{PRINTING} {JOINING}", (left, top - 22.5), 2.4, width, 4),
        Words(CAUTION, (left, MARGIN + 2.7), 2.2, size[0] - MARGIN - left, 2),
    ]
    samples = []
    rows = [(style.meaning, kind) for kind, style in STYLES.items()]
    for number, (meaning, kind) in enumerate(rows):
        x, y = left + (number % 2) * 52.0, MARGIN + 15.7 - (number // 2) * 4.4
        samples.append(Trace(kind, ((rounded(x), rounded(y)), (rounded(x + 14.0), rounded(y)))))
        words.append(Words(meaning, (x + 16.0, y - 0.8), 2.4))
    return samples, words


def _map(tile: Tile, size: tuple[float, float]) -> tuple[list[tuple[Point, Point]], list[Words]]:
    """A little map of all tiles, this one crossed out."""
    rows, columns = len(tile.grid), len(tile.grid[0])
    cell = min(_MAP / rows, _MAP / columns, 9.0)
    left, top = size[0] - MARGIN - columns * cell, MARGIN + FOOT - 4.0
    lines: list[tuple[Point, Point]] = []
    words = []
    for row, column in ((r, c) for r in range(rows) for c in range(columns) if tile.grid[r][c]):
        x, y = left + column * cell, top - (row + 1) * cell
        corners = ((x, y), (x + cell, y), (x + cell, y + cell), (x, y + cell))
        lines += [(corners[n], corners[(n + 1) % 4]) for n in range(4)]
        here = tile.grid[row][column] == tile.number
        words.append(Words(str(tile.grid[row][column]), (x + cell / 2 - 0.9, y + cell / 2 - 1.1), 3.2, bold=here))
        if here:
            lines += [((x + 1, y + 1), (x + cell - 1, y + 1)), ((x + 1, y + cell - 1), (x + cell - 1, y + cell - 1))]
    return lines, words


def _names(tile: Tile) -> Iterator[Words]:
    """The names of the marks, and which tile goes on beyond a join."""
    for join in tile.joins:
        for (x, y), name in join.marks:
            yield Words(name, (x + 2.0, y + 1.6), 2.4)
        upright = join.start[0] == join.end[0]
        x, y = (start + 0.35 * (end - start) for start, end in zip(join.start, join.end, strict=True))
        yield Words(f"tile {join.neighbour}", (x + 0.8, y) if upright else (x, y + 0.8), 2.4)
