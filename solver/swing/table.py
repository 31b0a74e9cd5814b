"""A row for each angle of the grid: how high the card stands, and what comes nearest to what."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from foldwright.solver.swing.gaps import gaps
from foldwright.solver.swing.memory import Record
from foldwright.solver.swing.scene import Scene
from foldwright.solver.swing.shapes import Flags, Floats, Ints, spread
from foldwright.solver.swing.stand import Pairs

NEAR = 5.0  # mm: pairs that stay farther apart are not measured
EQUAL = 1e-6  # mm: of pairs as near as that (both halves of a symmetric card) the first one is named
BATCH = 2  # pairs at each angle that are measured first; then twice as many each time, the likeliest first


@dataclass(frozen=True)
class Row:
    """One angle: `opening` in degrees; `height` of the highest point over the nearer page, mm; the smallest `gap` of a pair
    that is not joined, mm, and its panels (None and nothing if all are more than 5 mm apart, or the card is closed);
    and how many `pairs` were looked at.
    """

    opening: float
    height: float
    gap: float | None
    nearest: tuple[str, ...]
    pairs: int


def rows(scene: Scene, pairs: list[tuple[int, int]], records: list[Record]) -> tuple[Row, ...]:
    """The table. Distances measured for it are kept in the records."""
    angles = scene.grid.angles
    counts = np.zeros(len(angles), dtype=np.int64)
    for record in records:
        counts[record.moments] += 1
    best, who = _smallest(scene, pairs, records)
    out = []
    heights = scene.motion.over.max(axis=1, initial=0.0).tolist()
    for moment, (angle, height) in enumerate(zip(angles.tolist(), heights, strict=True)):
        found = who[moment] >= 0
        names = tuple(scene.names[panel] for panel in pairs[who[moment]]) if found else ()
        out.append(Row(angle, height, float(best[moment]) if found else None, names, int(counts[moment])))
    return tuple(out)


@dataclass(frozen=True)
class Candidates:
    """Free pairs at angles of the grid, from all records: `record` and `row` tell where each is kept, shape (k,)."""

    record: Ints
    row: Ints
    pairs: Pairs
    apart: Floats
    gap: Floats

    @classmethod
    def of(cls, pairs: list[tuple[int, int]], records: list[Record]) -> Candidates:
        """All of them, in order."""
        free = [index for index, record in enumerate(records) if record.free]
        some = [records[index] for index in free]
        last = np.array([len(record.moments) for record in some], dtype=np.int64)
        row, owner = spread(np.zeros_like(last), last)
        record = np.array(free, dtype=np.int64)[owner]
        both = np.array(pairs, dtype=np.int64).reshape(-1, 2)[record]
        none = [np.zeros(0)]
        moment = np.concatenate([record.moments for record in some] or none).astype(np.int64)
        return cls(record, row, Pairs(both[:, 0], both[:, 1], moment),
                   np.concatenate([record.apart for record in some] or none),
                   np.concatenate([record.gap for record in some] or none))

    def keep(self, records: list[Record], chosen: Ints, size: Floats, limit: Floats) -> None:
        """Write what was measured into the records: the distance, or that it is no less than the limit."""
        self.gap[chosen] = size
        for index, row, found, least in zip(self.record[chosen].tolist(), self.row[chosen].tolist(), size.tolist(),
                                            limit.tolist(), strict=True):
            if np.isfinite(found):
                records[index].gap[row] = found
            else:
                records[index].apart[row] = least


def _smallest(scene: Scene, pairs: list[tuple[int, int]], records: list[Record]) -> tuple[Floats, Ints]:
    """The smallest distance of a free pair at each angle, and the number of that pair (-1 if none), shape (m,).

    The likeliest pairs go first; what cannot be nearer than they are is not measured.
    """
    some = Candidates.of(pairs, records)
    moment = some.pairs.moment
    best = np.full(len(scene.grid.angles), NEAR)
    known = ~np.isnan(some.gap)
    np.minimum.at(best, moment[known], some.gap[known])
    batch = BATCH
    while True:
        todo = _likeliest(moment, some.apart, ~known & (some.apart < best[moment] + EQUAL), batch)
        if not len(todo):
            break
        batch *= 2
        limit = best[moment[todo]] + EQUAL
        size = gaps(scene.shapes, scene.grid, some.pairs[todo], limit).size
        known[todo] = True
        np.minimum.at(best, moment[todo], size)
        some.keep(records, todo, size, limit)
    who = np.full(len(best), -1, dtype=np.int64)
    nearest = np.flatnonzero(known & (some.gap < np.minimum(best[moment] + EQUAL / 2, NEAR)))[::-1]
    who[moment[nearest]] = some.record[nearest]
    return best, who


def _likeliest(moment: Ints, apart: Floats, wanted: Flags, batch: int) -> Ints:
    """So many of the wanted at each angle whose lower bounds are least."""
    index = np.flatnonzero(wanted)
    index = index[np.lexsort((apart[index], moment[index]))]
    place = np.arange(len(index)) - np.searchsorted(moment[index], moment[index])
    out: Ints = index[place < batch]
    return out
