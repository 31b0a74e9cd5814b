"""Rigid panels solved from lengths alone: the outside that the mechanisms' formulas are held against.

Nothing here knows a formula of a mechanism, nor an angle of one. An `Assembly` is what a maker has on the table:
points, panels that keep the lengths of the cut sheet, points that two panels share at a crease, edges glued on the
pages or on other panels. The unknowns are the points in space. `track` finds them by least squares at the open card,
from a rough guess, and follows them as the card closes, each pose started from the poses before it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

Vector = NDArray[np.float64]
Point = tuple[float, float]
Where = Callable[[float], Vector]
Terms = tuple[tuple[str, float], ...]  # points with their weights


def on_page(side: str, x: float, away: float, half_gap: float = 0.0) -> Where:
    """The place `x` along the spine and `away` from it on the half plane of a page, for any opening in degrees.

    The pages turn about the spine, or about two lines `half_gap` to either side of it.
    """
    sign = 1.0 if side == "left" else -1.0

    def where(opening: float) -> Vector:
        half = radians(opening) / 2
        return np.array([x, sign * (half_gap + away * sin(half)), away * cos(half)])

    return where


def weights(points: Mapping[str, Point], at: Point) -> Terms:
    """`at` as a weighted mean of three of the points: the three that span the largest triangle."""

    def area(triple: Sequence[str]) -> float:
        (x0, y0), (x1, y1), (x2, y2) = (points[name] for name in triple)
        return abs((x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0))

    triple = max(combinations(points, 3), key=area)
    if area(triple) < 1.0:  # mm²: a sliver pins down no plane
        raise ValueError(f"the points {triple} span no panel")
    matrix = np.array([[points[name][0] for name in triple], [points[name][1] for name in triple], [1.0, 1.0, 1.0]])
    return tuple(zip(triple, np.linalg.solve(matrix, [*at, 1.0]).tolist(), strict=True))


@dataclass(frozen=True)
class Solved:
    """Points in space at one opening, the largest residual in mm, and the slopes of the equations there."""

    opening: float
    points: dict[str, Vector]
    residual: float
    slopes: Vector

    @property
    def stiffness(self) -> float:
        """Least singular value of the equations: 0 if something can still move while the pages are held."""
        return float(np.linalg.svd(self.slopes, compute_uv=False)[-1])


class Assembly:
    """Points, panels and glue. Lengths in mm, angles in degrees."""

    def __init__(self) -> None:
        self.guesses: dict[str, Vector] = {}
        self.known: dict[str, Where] = {}
        self.lengths: list[tuple[str, str, float]] = []
        self.sums: list[Terms] = []  # weighted sums of points that are zero

    def free(self, name: str, guess: Vector) -> None:
        """A point to be found, with a rough guess for the first pose."""
        self.guesses[name] = np.asarray(guess, dtype=float)

    def pin(self, name: str, where: Where) -> None:
        """A point whose place is known at every opening (glued on a page)."""
        self.guesses.pop(name, None)
        self.known[name] = where

    def panel(self, points: Mapping[str, Point]) -> None:
        """A rigid flat panel, from its points on the cut sheet.

        The distances between three of the points are kept, every other point keeps its place in their plane.
        """
        if len(points) < 3:
            raise ValueError("a panel needs three points")
        base = [name for name, _ in weights(points, (0.0, 0.0))]
        for a, b in combinations(base, 2):
            self.lengths.append((a, b, float(np.hypot(*np.subtract(points[a], points[b])))))
        for name, at in points.items():
            if name not in base:
                self.join(((name, 1.0),), weights({key: points[key] for key in base}, at))

    def join(self, one: Terms, other: Terms) -> None:
        """Two places, each a point or a weighted mean of points, are the same: glue, or a pair of slots."""
        self.sums.append((*one, *((name, -weight) for name, weight in other)))

    def shaken(self, by: float, seed: int) -> None:
        """Move every guess by up to `by` mm along each axis."""
        random = np.random.default_rng(seed)
        for name in self.guesses:
            self.guesses[name] = self.guesses[name] + random.uniform(-by, by, 3)

    def track(self, openings: Sequence[float]) -> Iterator[Solved]:
        """Solve at each opening in turn; the first from the guesses, the others from a line through the last two."""
        system = _System(self)
        before: list[tuple[float, Vector]] = []
        for opening in openings:
            start = np.array(list(self.guesses.values())) if not before else before[-1][1]
            if len(before) > 1:
                (first, older), (last, old) = before[-2:]
                start = old + (old - older) * (opening - last) / (last - first)
            solved, found = system.solve(opening, start)
            before.append((opening, found))
            yield solved


class _System:
    """The equations of an assembly, in arrays."""

    def __init__(self, assembly: Assembly) -> None:
        self.assembly = assembly
        self.names = [*assembly.guesses, *assembly.known]
        self.free = len(assembly.guesses)
        row = {name: number for number, name in enumerate(self.names)}
        # a length between two pinned points holds no unknown
        bars = [bar for bar in assembly.lengths if min(row[bar[0]], row[bar[1]]) < self.free]
        self.ends = np.array([(row[a], row[b]) for a, b, _ in bars]).reshape(-1, 2)
        self.sizes = np.array([size for *_, size in bars])
        self.sums = np.zeros((len(assembly.sums), len(self.names)))
        for number, terms in enumerate(assembly.sums):
            for name, weight in terms:
                self.sums[number, row[name]] += weight
        self.glue = np.einsum("rn,ij->rinj", self.sums, np.eye(3)).reshape(-1, len(self.names), 3)

    def solve(self, opening: float, start: Vector) -> tuple[Solved, Vector]:
        known = np.array([where(opening) for where in self.assembly.known.values()]).reshape(-1, 3)

        def residuals(x: Vector) -> Vector:
            points = np.vstack([x.reshape(-1, 3), known])
            apart = points[self.ends[:, 0]] - points[self.ends[:, 1]]
            # halved difference of squares over the length: in mm, and smooth
            bars = ((apart**2).sum(axis=1) - self.sizes**2) / (2 * self.sizes)
            return np.concatenate([bars, (self.sums @ points).ravel()])

        def jacobian(x: Vector) -> Vector:
            points = np.vstack([x.reshape(-1, 3), known])
            slope = (points[self.ends[:, 0]] - points[self.ends[:, 1]]) / self.sizes[:, None]
            bars = np.zeros((len(self.sizes), len(self.names), 3))
            count = np.arange(len(self.sizes))
            bars[count, self.ends[:, 0]] = slope
            bars[count, self.ends[:, 1]] = -slope
            return np.concatenate([bars, self.glue])[:, : self.free].reshape(-1, 3 * self.free)

        # as near as doubles go; lm stops where steps no longer help
        found = least_squares(residuals, start.ravel(), jacobian, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
        points = np.vstack([found.x.reshape(-1, 3), known])
        named = dict(zip(self.names, points, strict=True))
        solved = Solved(opening, named, float(abs(found.fun).max()), jacobian(found.x))
        return solved, found.x.reshape(-1, 3)
