"""Which panels come near each other: boxes in space, sorted and swept along the axis that parts them best."""

from __future__ import annotations

import numpy as np

from foldwright.solver.swing.shapes import Floats, Ints, spread
from foldwright.solver.swing.stand import Pairs

CHUNK = 2_000_000  # overlaps along one axis that are held at a time


def meeting(low: Floats, high: Floats) -> Pairs:
    """Pairs whose boxes overlap, at every angle; `low` and `high` have shape (m, n, 3). First number below the second.

    All angles are swept at once: each has a stretch of its own on one long axis.
    """
    ranks, counts = zip(*(_sweep(low[:, :, axis], high[:, :, axis]) for axis in range(3)), strict=True)
    best = int(np.argmin([count.sum() for count in counts]))
    rank, count = ranks[best], counts[best]
    others = [axis for axis in range(3) if axis != best]
    found = []
    total = np.cumsum(count.sum(axis=1))
    begin = 0
    while begin < len(low):
        base = total[begin - 1] if begin else 0
        end = max(begin + 1, int(np.searchsorted(total, base + CHUNK, side="right")))
        found.append(_overlaps(low[begin:end], high[begin:end], rank[begin:end], count[begin:end], others, begin))
        begin = end
    return Pairs(*(np.concatenate([getattr(f, name) for f in found]) for name in ("first", "second", "moment")))


def _sweep(low: Floats, high: Floats) -> tuple[Ints, Ints]:
    """Panels in the order of their lower ends, per angle, and how many after each begin before it ends."""
    moments, panels = low.shape
    rank = np.argsort(low, axis=1, kind="stable")
    begins = np.take_along_axis(low, rank, axis=1)
    ends = np.take_along_axis(high, rank, axis=1)
    base = float(low.min())
    stride = float(high.max()) - base + 1.0
    shift = stride * np.arange(moments)[:, None] - base
    last = np.searchsorted((begins + shift).ravel(), (ends + shift).ravel(), side="right").reshape(moments, panels)
    return rank, last - np.arange(1, moments * panels + 1).reshape(moments, panels)


def _overlaps(low: Floats, high: Floats, rank: Ints, count: Ints, others: list[int], begin: int) -> Pairs:
    """Pairs of a few angles: neighbours in the sweep whose other two axes overlap too."""
    panels = rank.shape[1]
    place = np.arange(rank.size)
    after, owner = spread(place + 1, place + 1 + count.ravel())
    moment = owner // panels
    names = rank.ravel()
    one, two = names[owner], names[after]
    for axis in others:
        flat_low, flat_high = low[:, :, axis].ravel(), high[:, :, axis].ravel()
        a, b = moment * panels + one, moment * panels + two
        kept = (flat_low[a] <= flat_high[b]) & (flat_low[b] <= flat_high[a])
        one, two, moment = one[kept], two[kept], moment[kept]
    return Pairs(np.minimum(one, two), np.maximum(one, two), moment + begin)
