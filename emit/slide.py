"""The last fraction of a cell: how far a part can slide left and down before a neighbour is too near."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon

from foldwright.emit.raster import TOUCH

_HALVINGS = 24  # of a shift of a few millimetres: down to a ten-thousandth of what a file can say


def slid(shape: Polygon, others: Sequence[Polygon], spacing: float, most: float) -> tuple[float, float]:
    """Shifts to the left and down (mm, not negative, at most `most`) that keep the distance to the others.

    The shape must keep its distance where it is; it does not pass x = 0 or y = 0. Its last place is always
    one that was measured, so a shape that cannot slide stays.
    """
    left, low, right, high = shape.bounds
    reach = shapely.box(left - most - spacing, low - most - spacing, right + spacing, high + spacing)
    near = np.array([other for other in others if reach.intersects(other)], dtype=object)
    # Without a spacing shapes may touch, which is a distance of 0 just as an overlap is: then the moved one is a little smaller.
    body = shape if spacing > TOUCH else shape.buffer(-TOUCH, join_style="mitre")
    least = max(spacing - TOUCH, 0.0)

    def keeps(dx: float, dy: float) -> bool:
        moved = shapely.transform(body, lambda points: points - np.array([dx, dy]))
        return not (near.size and bool(shapely.dwithin(near, moved, least).any()))

    dx = _largest(lambda shift: keeps(shift, 0.0), min(most, max(left, 0.0)))
    dy = _largest(lambda shift: keeps(dx, shift), min(most, max(low, 0.0)))
    return dx, dy


def _largest(holds: Callable[[float], bool], most: float) -> float:
    """A shift up to `most` that holds, found by halving; 0 holds by assumption."""
    if most <= 0 or holds(most):
        return max(most, 0.0)
    low, high = 0.0, most
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if holds(middle):
            low = middle
        else:
            high = middle
    return low
