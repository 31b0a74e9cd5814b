"""Panels that pass through each other: edges of one against the face of the other, for many pairs and angles at once.

Two flat panels in planes that are not parallel overlap along a stretch of the line in which the planes meet, and each end
of that stretch is where an edge of one pierces the other. Outlines are shrunk a little, so that what merely touches (a
wall on its page, two panels at their crease, a tab on its host, the point of a V on the spine) needs no list.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from foldwright.solver.swing.shapes import Edges, Floats, Ints, Shapes, spread
from foldwright.solver.swing.stand import Pairs, Seen, Stand

PARALLEL = 1e-4  # sine; over the longest sheet (300 mm) such planes differ by 0.03 mm, less than any paper is thick
CHUNK = 500_000  # edges that are held at a time


@dataclass(frozen=True)
class Pierced:
    """Where edges pierce faces: `pair` numbers the pairs asked about, `place` are the points in space, shape (k, 3)."""

    pair: Ints
    place: Floats


def pierced(shapes: Shapes, stand: Stand, pairs: Pairs, seen: Seen) -> Pierced:
    """Every place where an edge of one panel pierces the other one; pairs in parallel planes have none."""
    number = np.flatnonzero(seen.sine > PARALLEL)
    pairs, seen = pairs[number], seen[number]
    both = [_edges_through(shapes, stand, pairs, seen), _edges_through(shapes, stand, pairs.swapped(), seen.swapped())]
    pair = np.concatenate([number[index] for index, _ in both])
    order = np.argsort(pair, kind="stable")
    return Pierced(pair[order], np.concatenate([place for _, place in both])[order])


def _edges_through(shapes: Shapes, stand: Stand, pairs: Pairs, seen: Seen) -> tuple[Ints, Floats]:
    """Edges of the first panels through the faces of the second ones: number of the pair, and the place."""
    edges = shapes.inner
    normal = np.column_stack([seen.shift[:, 2], seen.turn[:, 2, 0], seen.turn[:, 2, 1]])  # height over the second panel
    sizes = edges.run_first[pairs.first + 1] - edges.run_first[pairs.first]
    total = np.cumsum(sizes * RUN_COST)
    found = []
    begin = 0
    while begin < len(pairs):
        base = total[begin - 1] if begin else 0
        end = max(begin + 1, int(np.searchsorted(total, base + CHUNK, side="right")))
        part = slice(begin, end)
        index, flat = _crossings(edges, pairs.first[part], normal[part])
        kept = _inside(shapes, pairs[part], seen[part], index, flat)
        index, flat = index[kept] + begin, flat[kept]
        found.append((index, stand.point(pairs.moment[index], pairs.first[index], flat)))
        begin = end
    if not found:
        return np.zeros(0, dtype=np.int64), np.zeros((0, 3))
    return np.concatenate([index for index, _ in found]), np.concatenate([place for _, place in found])


RUN_COST = 4  # edges that a run comes to on average: most runs stay on one side


def _crossings(edges: Edges, panel: Ints, normal: Floats) -> tuple[Ints, Floats]:
    """Where edges cross a plane: number of the pair, and the point in part coordinates.

    `normal` is (k, 3): the height over the plane is normal[0] + normal[1] u + normal[2] v.
    """
    run, owner = spread(edges.run_first[panel], edges.run_first[panel + 1])
    lift, slope = normal[owner, 0], normal[owner, 1:]
    height = lift + (slope * edges.run_centre[run]).sum(axis=1)
    near = np.abs(height) <= (np.abs(slope) * edges.run_half[run]).sum(axis=1)
    run, owner = run[near], owner[near]
    edge, index = spread(edges.run_edge[run], edges.run_edge[run + 1])
    owner = owner[index]
    lift, along, up = normal[owner, 0], normal[owner, 1], normal[owner, 2]
    before = lift + along * edges.start[edge, 0] + up * edges.start[edge, 1]
    after = lift + along * edges.end[edge, 0] + up * edges.end[edge, 1]
    through = np.flatnonzero((before > 0) != (after > 0))
    edge, share = edge[through], before[through] / (before[through] - after[through])
    return owner[through], edges.start[edge] + share[:, None] * (edges.end[edge] - edges.start[edge])


def _inside(shapes: Shapes, pairs: Pairs, seen: Seen, index: Ints, flat: Floats) -> Ints:
    """Which crossings lie in the second panel's face (its border counts)."""
    turn = seen.turn[index]
    there = seen.shift[index, :2] + turn[:, :2, 0] * flat[:, :1] + turn[:, :2, 1] * flat[:, 1:]
    face = pairs.second[index]
    near = np.flatnonzero((np.abs(there - shapes.centre[face]) <= shapes.half[face]).all(axis=1))
    within = shapely.intersects_xy(shapes.faces[face[near]], there[near, 0], there[near, 1])
    out: Ints = near[within]
    return out
