"""The curves of an artwork, found again in an outline that was joined and cut as a polygon.

Polygons decide what is joined to what, because that never fails; the curves come back afterwards. Every edge of the
outline that lies on a source curve is told which stretch [t0, t1] of it that is; edges that go on along one curve make
one run, and the run is that stretch of the source curve itself, cut by de Casteljau's rule. Where a run ends, the true
curves (or the curve and a straight edge) are brought to meet, so that the outline does not depend on how finely the
polygon follows its curves. Of curves that lie on each other the one that goes on farthest is taken.
All lengths in mm.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import cos, hypot, sin
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from foldwright.emit.bends import Bend, Floats, Path, Point, arc_cubics, cut
from foldwright.grammar.artwork_curves import Arc, Cubic, Curve
from foldwright.solver.card import Drawn

Indices = NDArray[np.intp]

MATCH = 0.002  # how far from a curve a corner may lie and belong to it: with the files' rounding below 0.003
SNAP = 2e-4  # a corner so near the end of a source curve is that end (corners are rounded to some 1e-5)
_SHALLOW = 0.05  # sine of the angle below which two curves do not tell where they meet
_LEAP = 0.02  # in t: more is another branch of a curve that comes back to the same place
_STEPS = 8  # of Newton's method; it starts within 0.01 mm


@dataclass(frozen=True, slots=True)
class _Run:
    """Edges `first` to `last` (not included) of a ring, along a source curve (or none) from t `begin` to `end`."""

    source: int | None
    begin: float
    end: float
    first: int
    last: int


class _Fit(NamedTuple):
    """An edge on a source curve, from t `begin` to `end`, with the places there; `way` is 0 where it is too short to tell."""

    source: int
    begin: float
    end: float
    first: Point
    last: Point
    way: int

    def goes_on(self, after: _Fit) -> bool:
        """Whether the next edge goes on along the same stretch of the same curve."""
        return (self.source == after.source and abs(self.end - after.begin) <= _LEAP
                and hypot(after.first[0] - self.last[0], after.first[1] - self.last[1]) <= 2 * MATCH)


def _followed(found: Mapping[int, Sequence[_Fit]], count: int, edge: int, fit: _Fit) -> _Run:
    """The longest run from an edge along one curve."""
    way, here, last = fit.way, fit, edge + 1
    while last < count:
        after = next((other for other in found.get(last, ()) if here.goes_on(other) and other.way * way >= 0), None)
        if after is None:
            break
        way, here, last = way or after.way, after, last + 1
    return _Run(fit.source, fit.begin, here.end, edge, last)


class Sources:
    """Source curves in the coordinates of an outline."""

    def __init__(self, curves: Sequence[Curve]) -> None:
        self.curves = tuple(curves)

    def path(self, ring: Floats) -> Path:
        """A ring's corners, shape (n + 1, 2) with the first repeated at the end, as nodes and bends."""
        corners: list[Point] = [(x, y) for x, y in ring[:-1, :2].tolist()]
        if not self.curves or len(corners) < 3:
            return Path(tuple(corners), ())
        start, runs = self._runs(ring[:, :2])
        corners = corners[start:] + corners[:start]
        return self._emitted(corners, runs)

    # ---- the curves and their chords, all in arrays

    @cached_property
    def _power(self) -> Floats:
        """Coefficients of 1, t, t^2, t^3, shape (m, 4, 2); a line is a cubic too, and an arc has zeros."""
        found = np.zeros((len(self.curves), 4, 2))
        for number, (curve, row) in enumerate(zip(self.curves, found, strict=True)):
            if isinstance(curve.segment, Arc):
                continue
            p0, p3 = np.array(curve.start), np.array(curve.segment.end)
            if isinstance(curve.segment, Cubic):
                p1, p2 = np.array(curve.segment.first), np.array(curve.segment.second)
                row[:] = p0, 3 * (p1 - p0), 3 * (p0 - 2 * p1 + p2), p3 - p0 + 3 * (p1 - p2)
            else:
                found[number, :2] = p0, p3 - p0
        return found

    @cached_property
    def _turns(self) -> tuple[Floats, Floats]:
        """Of arcs: centre, u, v, shape (m, 3, 2), and begin and sweep, shape (m, 2); zeros for other curves."""
        axes, angles = np.zeros((len(self.curves), 3, 2)), np.zeros((len(self.curves), 2))
        for number, curve in enumerate(self.curves):
            if isinstance(arc := curve.segment, Arc):
                axes[number], angles[number] = (arc.centre, arc.u, arc.v), (arc.begin, arc.sweep)
        return axes, angles

    def at(self, curve: Indices, t: Floats) -> tuple[Floats, Floats]:
        """Positions and derivatives by t, shape (n, 2), of n curves at n values of t."""
        power, (axes, angles) = self._power[curve], (part[curve] for part in self._turns)
        one, t = np.ones_like(t), np.asarray(t, dtype=np.float64)
        angle, sweep = angles[:, 0] + angles[:, 1] * t, angles[:, 1]
        round_ = sweep != 0
        c, s = np.where(round_, np.cos(angle), 0.0), np.where(round_, np.sin(angle), 0.0)
        place = np.einsum("nk,nkd->nd", np.column_stack((one, t, t * t, t**3)), power)
        place += np.einsum("nk,nkd->nd", np.column_stack((one, c, s)), axes)
        slope = np.einsum("nk,nkd->nd", np.column_stack((0 * t, one, 2 * t, 3 * t * t)), power)
        slope += np.einsum("nk,nkd->nd", np.column_stack((0 * t, -s * sweep, c * sweep)), axes)
        return place, slope

    def one(self, curve: int, t: float) -> tuple[Floats, Floats]:
        """Position and derivative, shape (2,), of one curve: as `at`, but quick for a single one."""
        arc = self.curves[curve].segment
        if isinstance(arc, Arc):
            c, s = cos(arc.begin + arc.sweep * t), sin(arc.begin + arc.sweep * t)
            u, v = np.array(arc.u), np.array(arc.v)
            return arc.centre + c * u + s * v, arc.sweep * (c * v - s * u)
        a, b, c, d = self._power[curve]
        return a + t * (b + t * (c + t * d)), b + t * (2 * c + 3 * t * d)

    @cached_property
    def _chords(self) -> tuple[Floats, Indices, Floats]:
        """The chords that the polygon was made of: ends, shape (k, 2, 2), their curves, and t at both ends, (k, 2)."""
        ends, owners, ts = [], [], []
        for number, curve in enumerate(self.curves):
            points = np.array([curve.start, *curve.segment.points(curve.start, curve.steps)])
            at = np.linspace(0.0, 1.0, len(points))
            ends.append(np.stack((points[:-1], points[1:]), axis=1))
            ts.append(np.stack((at[:-1], at[1:]), axis=1))
            owners.append(np.full(len(points) - 1, number, dtype=np.intp))
        return np.concatenate(ends), np.concatenate(owners), np.concatenate(ts)

    @cached_property
    def _sag(self) -> float:
        """The farthest that a chord is from its curve (measured halfway, where it is nearly farthest)."""
        ends, owners, ts = self._chords
        middle, _ = self.at(owners, ts.mean(axis=1))
        return float(shapely.distance(shapely.points(middle), shapely.linestrings(ends)).max())

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(shapely.linestrings(self._chords[0]))

    # ---- which edge lies on which curve

    def _candidates(self, ring: Floats) -> dict[int, list[_Fit]]:
        """By edge of the ring: the curves that it may lie on."""
        ends, owners, ts = self._chords
        middle = shapely.points((ring[:-1] + ring[1:]) / 2)
        edge, chord = self._tree.query(middle, predicate="dwithin", distance=MATCH + self._sag)
        curve, along = owners[chord], ends[chord, 1] - ends[chord, 0]
        square = np.maximum((along * along).sum(axis=1), 1e-30)
        fits = np.ones(len(edge), dtype=bool)
        t, foot = np.empty((2, len(edge))), np.empty((2, len(edge), 2))
        for side in (0, 1):
            corner = ring[edge + side]
            off = corner - ends[chord, 0]
            guess = ts[chord, 0] + (off * along).sum(axis=1) / square * (ts[chord, 1] - ts[chord, 0])
            t[side] = self._nearest(curve, np.clip(guess, 0.0, 1.0), corner)
            foot[side], _ = self.at(curve, t[side])
            away = np.hypot(*(foot[side] - corner).T)
            beside = np.abs(along[:, 0] * off[:, 1] - along[:, 1] * off[:, 0]) / np.sqrt(square)
            fits &= (away <= MATCH) | ((beside <= MATCH) & (away <= MATCH + self._sag))
        lines = shapely.linestrings(np.stack((ring[edge], ring[edge + 1]), axis=1))
        for share in (0.25, 0.5, 0.75):
            place, _ = self.at(curve, t[0] + share * (t[1] - t[0]))
            fits &= shapely.distance(shapely.points(place), lines) <= MATCH + self._sag
        found: dict[int, list[_Fit]] = defaultdict(list)
        seen: set[tuple[int, int, int, int]] = set()
        rows = (part[fits].tolist() for part in (edge, curve, *t, *foot))
        for number, source, begin, end, (x0, y0), (x1, y1) in zip(*rows, strict=True):
            key = (number, source, round(begin * 1e4), round(end * 1e4))
            if key not in seen:  # two neighbouring chords of a curve tell the same
                seen.add(key)
                way = 0 if hypot(x1 - x0, y1 - y0) <= 2 * MATCH else 1 if end > begin else -1
                found[number].append(_Fit(source, begin, end, (x0, y0), (x1, y1), way))
        for of_edge in found.values():
            of_edge.sort()
        return found

    def _nearest(self, curve: Indices, t: Floats, to: Floats) -> Floats:
        """The t nearest to points, by Gauss and Newton from near values."""
        for _ in range(_STEPS):
            place, slope = self.at(curve, t)
            square = (slope * slope).sum(axis=1)
            step = ((to - place) * slope).sum(axis=1) / np.maximum(square, 1e-18)
            t = np.clip(t + np.clip(step, -0.25, 0.25), 0.0, 1.0)
        return t

    def _runs(self, ring: Floats) -> tuple[int, list[_Run]]:
        """The corner where the first run begins, and all runs, their edges counted from there."""
        count, found = len(ring) - 1, self._candidates(ring)
        steps = np.hypot(*np.diff(ring, axis=0).T)
        before = [found.get((k - 1) % count, []) for k in range(count)]
        start = next((k for k in range(count) if not any(a.goes_on(b) for a in before[k] for b in found.get(k, []))), 0)
        turned = {(edge - start) % count: of_edge for edge, of_edge in found.items()}
        runs, edge = [], 0
        while edge < count:
            best = _Run(None, 0.0, 0.0, edge, edge + 1)  # an edge that lies on no curve
            for fit in turned.get(edge, ()):
                run = _followed(turned, count, edge, fit)
                if best.source is None or run.last > best.last:
                    length = float(steps[(np.arange(run.first, run.last) + start) % count].sum())
                    best = run if self._as_long(run, length) else best
            runs.append(best)
            edge = best.last
        return start, runs

    def _as_long(self, run: _Run, length: float) -> bool:
        """Whether the stretch of the curve is as long as the edges: nothing was gone round or left out."""
        assert run.source is not None
        t = np.linspace(run.begin, run.end, 33)
        places, _ = self.at(np.full(len(t), run.source), t)
        return abs(float(np.hypot(*np.diff(places, axis=0).T).sum()) - length) <= 0.01 * length + 8 * MATCH

    # ---- from runs to nodes and bends

    def _emitted(self, corners: list[Point], runs: list[_Run]) -> Path:
        count = len(runs)
        begins, ends = [run.begin for run in runs], [run.end for run in runs]
        nodes: list[Point] = []
        for k, run in enumerate(runs):
            node, ends[k - 1], begins[k] = self._meeting(corners, runs[k - 1], run)
            nodes.append(node)
        points: list[Point] = []
        bends: list[Bend] = []
        for k, run in enumerate(runs):
            points.append(nodes[k])
            for bend, end in self._pieces(run, begins[k], ends[k], nodes[k], nodes[(k + 1) % count]):
                bends.append(bend)
                points.append(end)
            points.pop()  # the next run begins with it
        return Path(tuple(points), tuple(bends) if any(bends) else ())

    def _meeting(self, corners: list[Point], before: _Run, after: _Run) -> tuple[Point, float, float]:
        """Where two runs meet, and the t of both there."""
        corner = np.array(corners[after.first])
        sides = [(before, before.end), (after, after.begin)]
        for run, _ in sides:
            if run.source is None:
                continue
            for end in (0.0, 1.0):
                place, _ = self.one(run.source, end)
                if hypot(*(place - corner)) <= SNAP:
                    t0, t1 = (self._at_end(r, u, place) for r, u in sides)
                    return (float(place[0]), float(place[1])), t0, t1
        if before.source is None and after.source is None:
            return corners[after.first], 0.0, 0.0
        outer = (corners[before.first], corners[after.last % len(corners)])
        met = self._crossing(corner, sides, outer)
        if met is None:
            places = [self.one(run.source, t)[0] for run, t in sides if run.source is not None]
            middle = np.mean(places, axis=0)
            return (float(middle[0]), float(middle[1])), before.end, after.begin
        return met

    def _at_end(self, run: _Run, t: float, place: Floats) -> float:
        """t, or 0 or 1 where that is the same place."""
        if run.source is None:
            return t
        near = 0.0 if t < 0.5 else 1.0
        return near if hypot(*(self.one(run.source, near)[0] - place)) <= 2 * SNAP else t

    def _crossing(self, corner: Floats, sides: list[tuple[_Run, float]],
                  outer: tuple[Point, Point]) -> tuple[Point, float, float] | None:
        """The crossing of the true curves near a corner; a side without a curve is the line from `outer` to the corner."""
        t = [u if run.source is not None else 1.0 for run, u in sides]
        lines = [np.array(end) for end in outer]

        def look(side: int) -> tuple[Floats, Floats]:
            source = sides[side][0].source
            if source is None:
                return lines[side] + t[side] * (corner - lines[side]), corner - lines[side]
            return self.one(source, t[side])

        for _ in range(_STEPS):
            (p, a), (q, b) = look(0), look(1)
            area = float(a[0] * b[1] - a[1] * b[0])
            if abs(area) <= _SHALLOW * float(hypot(*a) * hypot(*b)):
                return None
            gap = q - p
            t[0] += float(gap[0] * b[1] - gap[1] * b[0]) / area
            t[1] += float(gap[0] * a[1] - gap[1] * a[0]) / area
        (p, _), (q, _) = look(0), look(1)
        inside = all(-1e-9 <= u <= 1 + 1e-9 if run.source is not None else u > 0.1 for u, (run, _) in zip(t, sides, strict=True))
        near = hypot(*(p - corner)) <= 4 * (MATCH + self._sag)
        if not inside or not near or hypot(*(q - p)) > 1e-6:
            return None
        return (float(p[0]), float(p[1])), min(1.0, max(0.0, t[0])), min(1.0, max(0.0, t[1]))

    def _pieces(self, run: _Run, begin: float, end: float, first: Point, last: Point) -> list[tuple[Bend, Point]]:
        """Bends of a run from node to node, each with the point where it ends."""
        segment = None if run.source is None else self.curves[run.source].segment
        if (end - begin) * (run.end - run.begin) <= 0 or not isinstance(segment, Arc | Cubic):
            return [(None, last)]
        assert run.source is not None
        if isinstance(segment, Cubic):
            found = [cut(self.curves[run.source].start, segment, begin, end)]
        else:
            found = list(arc_cubics(segment, begin, end))
        (dx, dy), (ex, ey) = _minus(first, found[0][0]), _minus(last, found[-1][3])
        p0, p1, p2, p3 = found[0]
        found[0] = (first, (p1[0] + dx, p1[1] + dy), p2, p3)
        p0, p1, p2, p3 = found[-1]
        found[-1] = (p0, p1, (p2[0] + ex, p2[1] + ey), last)
        return [((p1, p2), p3) for _, p1, p2, p3 in found]


@lru_cache(maxsize=512)  # every part is drawn on its sheet and with all parts, and many are alike
def outline_paths(outline: Polygon, drawn: tuple[Drawn, ...]) -> tuple[Path, ...]:
    """The outline of a part and its holes, with the curves of its artwork, in part coordinates."""
    sources = Sources([curve for art in drawn for curve in art.placed()])
    return tuple(sources.path(np.asarray(ring.coords)) for ring in (outline.exterior, *outline.interiors))


def _minus(a: Point, b: Point) -> Point:
    return a[0] - b[0], a[1] - b[1]
