"""Curves beside curves: an outline moved outwards by half a kerf, with curves where the outline has them.

The parallel of a cubic is no cubic. Each is followed by as few cubics as stay within `FIT` of it: their ends and the
directions there are the parallel's, the lengths of their handles are fitted (least squares, the places of the samples found
again after each fit: J. Hoschek, "Intrinsic parametrization for approximation", Computer Aided Geometric Design 5, 1988,
from memory), and what is not near enough is halved. What is joined to what a polygon decides (GEOS), as everywhere. mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from fontTools.misc.transform import Identity
from numpy.typing import NDArray
from shapely.geometry import Polygon

from foldwright.emit.bends import Bend, Floats, Path, Point
from foldwright.emit.curves import MATCH
from foldwright.grammar.artwork_curves import Cubic, Curve
from foldwright.solver.card import Drawn
from foldwright.solver.kerf import grown

FIT = 0.0008  # how far the cubics may be from the parallel; with what a crossing and rounding add, below 0.005
FINE = 0.002  # chords of the polygon that is moved; the curves found again do not depend on it
_END = 0.02  # of a chord: the first and the last chord of a curve are so short that a mitre has the curve's own direction
_SAMPLES = 17
_TRIES = 2  # fits of one cubic; more gain nothing
_HALVINGS = 8  # beyond that a piece is 1/256 of a cubic, and only beside a cusp
_ALONG = 0.03  # weight of a distance along the curve beside one across it
_SHORT = 1e-5


def beside(paths: Sequence[Path], kerf: float) -> tuple[Polygon, tuple[Drawn, ...]] | None:
    """An outline moved outwards by half a kerf: as a polygon, and the curves that it follows.

    The first path is the outline, the others its holes. None if the polygon cannot be moved as a whole.
    """
    whole = Polygon(*_rings(paths))
    if not whole.is_valid:
        return None
    moved = grown(whole, kerf)
    if moved.geom_type != "Polygon" or len(moved.interiors) != len(whole.interiors):
        return None
    cubics = [_cubics(path, hole) for path, hole in zip(paths, (False, *(True for _ in paths[1:])), strict=True)]
    curves = tuple(_curve(row) for row in parallels(np.concatenate(cubics), kerf / 2).tolist())
    return moved, (Drawn(curves, Identity),) if curves else ()


def _rings(paths: Sequence[Path]) -> tuple[Floats, list[Floats]]:
    first, *others = [np.concatenate([_graded(*segment) for segment in path.segments]) for path in paths]
    return first, others


def _graded(start: Point, bend: Bend, end: Point) -> Floats:
    """Points of a segment without its end; of a curve the first and last chord are short."""
    if bend is None:
        return np.array([start])
    cubic = Cubic(*bend, end)
    count = cubic.steps(start, FINE)
    t = np.concatenate(([0.0, _END / count], np.arange(1, count) / count, [1 - _END / count]))
    places, _ = _at(np.array([[start, *bend, end]]), t[None])
    found: Floats = places[0]
    return found


def _cubics(path: Path, hole: bool) -> Floats:
    """The curves of a closed path, shape (n, 4, 2), all with the paper on their left."""
    ring = np.array(path.flattened(MATCH))
    to = np.roll(ring, -1, axis=0)
    left = float((ring[:, 0] * to[:, 1] - ring[:, 1] * to[:, 0]).sum()) > 0
    found = np.array([(start, *bend, end) for start, bend, end in path.segments if bend]).reshape(-1, 4, 2)
    return found if left != hole else found[:, ::-1]


def _curve(row: list[list[float]]) -> Curve:
    start, first, second, end = ((x, y) for x, y in row)
    cubic = Cubic(first, second, end)
    return Curve(start, cubic, cubic.steps(start, MATCH))


def parallels(cubics: Floats, away: float) -> Floats:
    """Cubics within `FIT` of the parallels of cubics, shape (n, 4, 2) both, `away` to their right.

    What of a parallel runs backwards, because the curve bends more tightly than `away`, is left out: no outline goes there.
    """
    todo, found = _forwards(cubics, away), []
    for depth in range(_HALVINGS + 1):
        if not len(todo):
            break
        made, off = _fitted(todo, away)
        good = (off <= FIT) | (depth == _HALVINGS)
        found.append(made[good])
        todo = np.concatenate([_stretch(todo[~good], *ends) for ends in ((0.0, 0.5), (0.5, 1.0))])
    whole: Floats = np.concatenate([cubics[:0], *found])
    return np.compress(np.linalg.norm(whole[:, 3] - whole[:, 0], axis=1) > _SHORT, whole, axis=0)


def _at(cubics: Floats, t: Floats) -> tuple[Floats, Floats]:
    """Places and derivatives, shape (n, k, 2), of n cubics at k values of t each, shape (n, k) or (1, k)."""
    t = t[..., None]
    s = 1 - t
    p0, p1, p2, p3 = (cubics[:, None, k] for k in range(4))
    return (s**3 * p0 + 3 * s * s * t * p1 + 3 * s * t * t * p2 + t**3 * p3,
            3 * (s * s * (p1 - p0) + 2 * s * t * (p2 - p1) + t * t * (p3 - p2)))


def _stretch(cubics: Floats, begin: float, end: float) -> Floats:
    """The stretches of cubics from t = begin to t = end."""
    (places, slopes), reach = _at(cubics, np.array([[begin, end]])), (end - begin) / 3
    first, last, out, back = places[:, 0], places[:, 1], reach * slopes[:, 0], reach * slopes[:, 1]
    return np.stack((first, first + out, last - back, last), axis=1)


def _speed(cubics: Floats, t: Floats, away: float) -> Floats:
    """How fast parallels go beside their curves, 1 + away * curvature, shape (n, k): negative where they run backwards."""
    _, slope = _at(cubics, t)
    first, second = (cubics[:, k] - 2 * cubics[:, k + 1] + cubics[:, k + 2] for k in (0, 1))
    bend = 6 * ((1 - t)[..., None] * first[:, None] + t[..., None] * second[:, None])
    square = np.maximum((slope * slope).sum(axis=2), 1e-18)
    return np.asarray(1 + away * (slope[..., 0] * bend[..., 1] - slope[..., 1] * bend[..., 0]) / square**1.5)


def _forwards(cubics: Floats, away: float) -> Floats:
    """The stretches whose parallels run forwards."""
    grid = np.linspace(1e-6, 1 - 1e-6, 33)
    forward = _speed(cubics, grid[None], away) > 0
    found = [cubics[forward.all(axis=1)]]
    for cubic, signs in zip(cubics, forward, strict=True):
        if signs.all() or not signs.any():
            continue
        one = cubic[None]
        ends = [0.0, 1.0]
        for k in np.flatnonzero(signs[1:] != signs[:-1]).tolist():
            low, high = grid[k], grid[k + 1]
            for _ in range(40):
                middle = (low + high) / 2
                same = bool((_speed(one, np.array([[middle]]), away) > 0).item()) == bool(signs[k])
                low, high = (middle, high) if same else (low, middle)
            ends.append(float(low))
        ends.sort()
        found += [_stretch(one, a, b) for a, b in pairwise(ends)
                  if b - a > 1e-6 and (_speed(one, np.array([[(a + b) / 2]]), away) > 0).item()]
    return np.concatenate(found)


def _fitted(cubics: Floats, away: float) -> tuple[Floats, NDArray[np.float64]]:
    """For each cubic the cubic nearest to its parallel, and how far samples of the parallel are from it."""
    grid = np.linspace(0, 1, _SAMPLES)[None]
    places, _ = _at(cubics, grid)
    _, slopes = _at(cubics, np.clip(grid, 1e-6, 1 - 1e-6))
    ways = slopes / np.maximum(np.linalg.norm(slopes, axis=2, keepdims=True), 1e-12)
    wanted = places + away * np.stack((ways[..., 1], -ways[..., 0]), axis=2)
    # what is off along the curve counts little: samples may slide, which is why a few fits are enough
    weigh = np.stack((np.stack((ways[..., 1], -ways[..., 0]), axis=2), _ALONG * ways), axis=2)
    low = np.linalg.norm(wanted[:, -1] - wanted[:, 0], axis=1) * 1e-3  # a handle never points backwards
    u = np.repeat(grid, len(cubics), axis=0)  # the cubic's own t is near already
    p0, p3, out, back = wanted[:, 0], wanted[:, -1], ways[:, 0], -ways[:, -1]
    made, off = np.zeros_like(cubics), np.full(len(cubics), np.inf)
    for _ in range(_TRIES):
        s = 1 - u
        rest = wanted - (s**3 + 3 * s * s * u)[..., None] * p0[:, None] - (u**3 + 3 * s * u * u)[..., None] * p3[:, None]
        parts = (3 * s * s * u)[..., None] * out[:, None], (3 * s * u * u)[..., None] * back[:, None], rest
        a, b, r = (np.einsum("nkwd,nkd->nkw", weigh, part) for part in parts)
        aa, ab, bb, ar, br = ((x * y).sum((1, 2)) for x, y in ((a, a), (a, b), (b, b), (a, r), (b, r)))
        det = np.maximum(aa * bb - ab * ab, 1e-18)
        first, second = np.maximum((ar * bb - br * ab) / det, low), np.maximum((br * aa - ar * ab) / det, low)
        tried = np.stack((p0, p0 + first[:, None] * out, p3 + second[:, None] * back, p3), axis=1)
        for _ in range(2):
            place, slope = _at(tried, u)
            gap = wanted - place
            u = np.clip(u + (gap * slope).sum(axis=2) / np.maximum((slope * slope).sum(axis=2), 1e-18), 0, 1)
        place, _ = _at(tried, u)
        far = np.linalg.norm(wanted - place, axis=2).max(axis=1)
        better = far < off
        made[better], off[better] = tried[better], far[better]
    return made, off

