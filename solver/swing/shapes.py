"""Outlines made ready for many poses: shrunk pieces, their edges in one array, and boxes over runs of edges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from foldwright.solver.card import Panel

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Chosen = Ints | Flags | slice  # some of an array's rows

SIMPLIFY = 0.05  # mm: no machine cuts finer
# The edges that may pierce lie 0.1 mm inside the outline, what they may pierce 0.05 mm: two layers whose ends lie at the
# same height (a very ordinary case) would otherwise meet edge on edge, where rounding decides.
EDGE_SHRINK = 0.10  # mm
FACE_SHRINK = 0.05  # mm
RUN = 12  # edges under one box


@dataclass(frozen=True)
class Edges:
    """Straight edges of n outlines: ends in part coordinates, and runs of neighbouring edges with their boxes.

    Edges of panel p are `first[p]` to `first[p + 1]`; its runs are `run_first[p]` to `run_first[p + 1]`, and the edges
    of run r are `run_edge[r]` to `run_edge[r + 1]`. Boxes are centres and half sizes, shape (runs, 2), mm.
    """

    start: Floats
    end: Floats
    first: Ints
    run_first: Ints
    run_edge: Ints
    run_centre: Floats
    run_half: Floats

    @cached_property
    def run_radius(self) -> Floats:
        """Radius of the ball about each box, mm."""
        out: Floats = np.hypot(self.run_half[:, 0], self.run_half[:, 1])
        return out

    @cached_property
    def balls(self) -> tuple[Floats, Floats]:
        """Middle, shape (e, 2), and half the length, shape (e,), of each edge, mm."""
        return (self.start + self.end) / 2, np.hypot(*(self.end - self.start).T) / 2

    @classmethod
    def of(cls, outlines: Sequence[BaseGeometry]) -> Edges:
        """Edges of polygons (with holes, or of several pieces), in the order of the outlines."""
        pieces, owner = shapely.get_parts(np.asarray(outlines, dtype=object), return_index=True)
        rings, piece = shapely.get_rings(pieces, return_index=True)
        points, ring = shapely.get_coordinates(rings, return_index=True)
        inner = ring[1:] == ring[:-1]
        start, end, ring = points[:-1][inner], points[1:][inner], ring[:-1][inner]
        panel = owner[piece][ring]
        place = np.arange(len(ring)) - np.searchsorted(ring, ring)  # within its ring
        run_edge = np.flatnonzero(place % RUN == 0)
        low, high = np.zeros((0, 2)), np.zeros((0, 2))
        if len(run_edge):
            low = np.minimum.reduceat(np.minimum(start, end), run_edge)
            high = np.maximum.reduceat(np.maximum(start, end), run_edge)
        numbers = np.arange(len(outlines) + 1)
        return cls(start, end, np.searchsorted(panel, numbers), np.searchsorted(panel[run_edge], numbers),
                   np.append(run_edge, len(start)), (low + high) / 2, (high - low) / 2)


@dataclass(frozen=True)
class Shapes:
    """n panels made ready: `inner` holds the shrunk edges and `faces` what they may pierce; `outer` and `outlines` are
    the full ones, simplified. `centre` and `half` are boxes in part coordinates, shape (n, 2), mm.
    """

    inner: Edges
    faces: NDArray[np.object_]
    outer: Edges
    outlines: NDArray[np.object_]
    centre: Floats
    half: Floats

    @classmethod
    def of(cls, panels: Sequence[Panel]) -> Shapes:
        """Every panel, in order. A panel narrower than the shrink has no edges and cannot pierce."""
        outlines = shapely.simplify(np.asarray([panel.outline for panel in panels], dtype=object), SIMPLIFY)
        inner = shapely.buffer(outlines, -EDGE_SHRINK, join_style="mitre")
        faces = shapely.buffer(outlines, -FACE_SHRINK, join_style="mitre")
        shapely.prepare(faces)
        shapely.prepare(outlines)
        low_high = shapely.bounds(outlines).reshape(-1, 2, 2)
        return cls(Edges.of(inner), faces, Edges.of(outlines), outlines,
                   low_high.mean(axis=1), (low_high[:, 1] - low_high[:, 0]) / 2)


def spread(first: Ints, last: Ints) -> tuple[Ints, Ints]:
    """All numbers of the half-open stretches first[k] to last[k], one after the other, and the k of each."""
    counts = last - first
    owner = np.repeat(np.arange(len(counts)), counts)
    before = np.cumsum(counts) - counts
    return np.arange(len(owner)) - np.repeat(before - first, counts), owner
