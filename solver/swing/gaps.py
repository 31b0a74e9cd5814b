"""The distance between two panels: corners of one over the face of the other, and edge against edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from foldwright.solver.swing.shapes import Edges, Floats, Ints, Shapes, spread
from foldwright.solver.swing.stand import Pairs, Seen, Stand

CHUNK = 400_000  # pairs of edges that are held at a time
EQUAL = 1e-9  # mm: rounding
TINY = 1e-12  # mm²: below it an edge is a point, or two edges are parallel


@dataclass(frozen=True)
class Gaps:
    """`size` in mm, shape (k,), and a `place` in space between the two nearest points, shape (k, 3), of k pairs."""

    size: Floats
    place: Floats


def gaps(shapes: Shapes, stand: Stand, pairs: Pairs, limit: Floats | float = np.inf) -> Gaps:
    """Distances of pairs whose panels do not pass through each other (for those that do it is not the depth).

    Distances of `limit` (mm) or more are not measured but infinite. Outlines are simplified, so that the result may be off
    by 0.05 mm on each side where they are curved.
    """
    limits = np.broadcast_to(limit, (len(pairs),))
    size, place = limits.astype(np.float64), np.zeros((len(pairs), 3))
    edges = shapes.outer
    runs = edges.run_first[1:] - edges.run_first[:-1]
    total = np.cumsum(runs[pairs.first] * runs[pairs.second] * PAIR_COST)
    begin = 0
    while begin < len(pairs):
        base = total[begin - 1] if begin else 0
        end = max(begin + 1, int(np.searchsorted(total, base + CHUNK, side="right")))
        part = slice(begin, end)
        some = pairs[part]
        seen = Seen.of(stand, some)
        _over_faces(shapes, stand, some, seen, size[part], place[part])
        _over_faces(shapes, stand, some.swapped(), seen.swapped(), size[part], place[part])
        _edge_to_edge(shapes, stand, some, seen, size[part], place[part])
        begin = end
    size[size >= limits] = np.inf
    return Gaps(size, place)


PAIR_COST = 20  # pairs of edges that a pair of runs comes to on average: most are too far apart to matter


def _over_faces(shapes: Shapes, stand: Stand, pairs: Pairs, seen: Seen, size: Floats, place: Floats) -> None:
    """Corners of the first panels that lie over the second ones; lowers `size` and sets `place` where they are nearer."""
    edges = shapes.outer
    corner, owner = spread(edges.first[pairs.first], edges.first[pairs.first + 1])
    flat = edges.start[corner]
    there = _moved(seen[owner], flat)
    face = pairs.second[owner]
    near = np.flatnonzero((np.abs(there[:, :2] - shapes.centre[face]) <= shapes.half[face]).all(axis=1))
    near = near[shapely.intersects_xy(shapes.outlines[face[near]], there[near, 0], there[near, 1])]
    middle = there[near] * (1, 1, 0.5)
    _keep_nearest(owner[near], np.abs(there[near, 2]), size, place, lambda chosen: _in_space(
        stand, pairs, owner[near[chosen]], middle[chosen]))


def _edge_to_edge(shapes: Shapes, stand: Stand, pairs: Pairs, seen: Seen, size: Floats, place: Floats) -> None:
    """Edges of the first panels against edges of the second ones, in the second ones' coordinates.

    Runs of edges are held in balls, which bound their distance from below. The likeliest pair of runs of each pair of
    panels goes first; most others are then ruled out.
    """
    run, other, owner, apart, reach = _runs(shapes, pairs, seen)
    order = np.lexsort((apart - reach, owner))
    likely = order[np.flatnonzero(np.diff(owner[order], prepend=-1))]
    kept = likely[apart[likely] - reach[likely] < size[owner[likely]]]
    _measure(shapes, stand, pairs, seen, (run[kept], other[kept], owner[kept]), size, place)
    rest = apart - reach < size[owner]
    rest[likely] = False
    _measure(shapes, stand, pairs, seen, (run[rest], other[rest], owner[rest]), size, place)


def _runs(shapes: Shapes, pairs: Pairs, seen: Seen) -> tuple[Ints, Ints, Ints, Floats, Floats]:
    """All pairs of runs: numbers of both, of their pair of panels, distance of their balls' middles, sum of their radii."""
    edges = shapes.outer
    first, last = edges.run_first[pairs.second], edges.run_first[pairs.second + 1]
    run, owner = spread(edges.run_first[pairs.first], edges.run_first[pairs.first + 1])
    other, index = spread(first[owner], last[owner])
    centre = _moved(seen[owner], edges.run_centre[run])[index]
    run, owner = run[index], owner[index]
    centre[:, :2] -= edges.run_centre[other]
    return run, other, owner, np.sqrt((centre**2).sum(axis=1)), edges.run_radius[run] + edges.run_radius[other]


def _measure(shapes: Shapes, stand: Stand, pairs: Pairs, seen: Seen, runs: tuple[Ints, Ints, Ints], size: Floats,
             place: Floats) -> None:
    """Every edge of the first runs against every edge of the second ones; lowers `size` and sets `place`."""
    edges = shapes.outer
    run, other, owner = runs
    one, index = spread(edges.run_edge[run], edges.run_edge[run + 1])
    lie = seen[owner[index]]
    begin, end = _moved(lie, edges.start[one]), _moved(lie, edges.end[one])
    other = other[index]
    two, again = spread(edges.run_edge[other], edges.run_edge[other + 1])
    owner = owner[index][again]
    near = _could_be_near(begin, end, edges, two, again, size[owner])
    two, again, owner = two[near], again[near], owner[near]
    there = [np.column_stack([uv, np.zeros(len(uv))]) for uv in (edges.start[two], edges.end[two])]
    near_one, near_two = nearest(begin[again], end[again], there[0], there[1])
    apart = np.sqrt(((near_one - near_two) ** 2).sum(axis=1))
    _keep_nearest(owner, apart, size, place,
                  lambda chosen: _in_space(stand, pairs, owner[chosen], (near_one[chosen] + near_two[chosen]) / 2))


def _could_be_near(begin: Floats, end: Floats, edges: Edges, two: Ints, again: Ints, size: Floats) -> Ints:
    """Pairs of edges that the balls about them do not part by as much as is known."""
    middle, radius = (begin + end) / 2, np.sqrt(((end - begin) ** 2).sum(axis=1)) / 2
    centre, reach = edges.balls
    offset = middle[again]
    offset[:, :2] -= centre[two]
    out: Ints = np.flatnonzero((offset * offset).sum(axis=1) < (size + radius[again] + reach[two]) ** 2)
    return out


def _moved(seen: Seen, flat: Floats) -> Floats:
    """Points of the first panels in the axes of the second ones, shape (k, 3)."""
    return seen.shift + seen.turn[:, :, 0] * flat[:, :1] + seen.turn[:, :, 1] * flat[:, 1:]


def nearest(a: Floats, b: Floats, c: Floats, d: Floats) -> tuple[Floats, Floats]:
    """The nearest points of segments a-b and c-d, each of shape (k, 3).

    Clamped solution of the two linear equations (Ericson, Real-Time Collision Detection, section 5.1.9; from memory).
    """
    along, other, offset = b - a, d - c, a - c
    aa, ee = (along**2).sum(axis=1), (other**2).sum(axis=1)
    ab, ac, ef = (along * other).sum(axis=1), (along * offset).sum(axis=1), (other * offset).sum(axis=1)
    aa, ee = np.maximum(aa, TINY), np.maximum(ee, TINY)
    spare = aa * ee - ab * ab
    s = np.where(spare > TINY * aa * ee, np.clip((ab * ef - ac * ee) / np.where(spare > 0, spare, 1.0), 0, 1), 0.0)
    t = (ab * s + ef) / ee
    low, high = t < 0, t > 1
    s = np.where(low, np.clip(-ac / aa, 0, 1), np.where(high, np.clip((ab - ac) / aa, 0, 1), s))
    t = np.clip(t, 0, 1)
    return a + s[:, None] * along, c + t[:, None] * other


def _in_space(stand: Stand, pairs: Pairs, owner: Ints, there: Floats) -> Floats:
    """Points in space of points in the axes of the second panels."""
    axes = stand.axes[pairs.moment[owner], pairs.second[owner]]
    out: Floats = stand.origin[pairs.moment[owner], pairs.second[owner]] + (there[:, :, None] * axes).sum(axis=1)
    return out


def _keep_nearest(owner: Ints, apart: Floats, size: Floats, place: Floats, points: object) -> None:
    """Lower `size` of each owner to its least distance, and set its place there."""
    order = np.lexsort((np.round(apart, 9), owner))  # of equals the first, whatever rounding says: places must not jump about
    first = order[np.flatnonzero(np.diff(owner[order], prepend=-1))]
    first = first[apart[first] < size[owner[first]] - EQUAL]
    size[owner[first]] = apart[first]
    place[owner[first]] = points(first)  # type: ignore[operator]
