"""Random shapes of curves with tabs and slots, exactly and as the tool has them, and how far lines are apart.

The exact shapes are made here, from the cubics themselves, by dense flattening and shapely; nothing is shared with the
recovery of curves but the scale and origin of the artwork, which are read off its nodes.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from fontTools.misc.transform import Transform
from shapely.geometry import Polygon, box

from foldwright.grammar.artwork import read_artwork
from foldwright.solver.card import Drawn, Part

WIDTH = 90.0  # mm
KINDS = ("plain", "crossing", "nearly the same", "holed")


@dataclass(frozen=True)
class Design:
    """A part of the tool, the exact outline of it, and how many nodes it may have at most."""

    part: Part
    exact: Polygon
    nodes: int


def blob(random, count, radius=100.0, centre=(0.0, 0.0)):
    """Closed cubics round a wobbling circle, shape (count, 4, 2); some nodes are corners."""
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    reach = radius * (1 + random.uniform(-0.25, 0.25, count))
    nodes = np.column_stack((centre[0] + reach * np.cos(angle), centre[1] + reach * np.sin(angle)))
    tangents = (np.roll(nodes, -1, 0) - np.roll(nodes, 1, 0)) * 0.17
    corner = random.random(count) < 0.3
    out = []
    for i in range(count):
        j = (i + 1) % count
        a = tangents[i] * (random.uniform(0.3, 1.3) if corner[i] else 1)
        b = tangents[j] * (random.uniform(0.3, 1.3) if corner[j] else 1)
        out.append(np.array([nodes[i], nodes[i] + a, nodes[j] - b, nodes[j]]))
    return np.array(out)


def dense(cubics, count=1500):
    """Points on cubics; with 1500 a cubic of 60 mm has chords within 0.0001 mm of it."""
    t = np.linspace(0, 1, count, endpoint=False)[:, None]
    s = 1 - t
    return np.concatenate([s**3 * c[0] + 3 * s * s * t * c[1] + 3 * s * t * t * c[2] + t**3 * c[3] for c in cubics])


def drawing(paths):
    """An SVG file of paths, each of one shape or of several, of which the later ones are holes."""
    def data(cubics):
        curves = " ".join("C " + " ".join(f"{v:.12f}" for v in c[1:].ravel()) for c in cubics)
        return f"M {cubics[0][0][0]:.12f} {cubics[0][0][1]:.12f} {curves} Z"

    drawn = "".join(f'<path fill-rule="evenodd" d="{" ".join(data(shape) for shape in path)}"/>' for path in paths)
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="-200 -200 400 400">{drawn}</svg>'


def paths_of(kind, random):
    base = blob(random, int(random.integers(4, 12)))
    if kind == "plain":
        return [[base]]
    if kind == "crossing":
        return [[base], [blob(random, int(random.integers(4, 9)), 70, random.uniform(-90, 90, 2))]]
    if kind == "holed":  # 60 is less than the least reach of the base, 75, even where its curves swing in
        return [[base, *(blob(random, 5, 12, (x, random.uniform(-20, 20))) for x in (-25, 25))]]
    # nearly the same outline twice: shifted, turned or scaled by 0.1 to 10 um in the part
    far, (x, y) = 10 ** random.uniform(-4, -2) * 200 / WIDTH, random.normal(size=2)
    turn = far / 100 * random.normal()
    other = [base + far * np.array([x, y]), base * (1 + turn), base @ np.array([[1, -turn], [turn, 1]])][int(random.integers(3))]
    return [[base], [other]]


def design(kind, seed, folder: Path, mirrored=False) -> Design:
    """An artwork with a tab at its foot and two slots from above; `mirrored` lies on its other side."""
    random = np.random.default_rng(seed)
    paths = paths_of(kind, random)
    (folder / "a.svg").write_text(drawing(paths))
    art = read_artwork(Path("a.svg"), folder)
    solid = shapely.union_all([Polygon(dense(path[0])).buffer(0) for path in paths])
    holes = shapely.union_all([Polygon(dense(hole)) for path in paths for hole in path[1:]])
    exact = shapely.difference(Polygon(solid.exterior), holes)
    own, read = (np.array([*points]) for points in ([c[0] for path in paths for shape in path for c in shape],
                                                      [curve.start for curve in art.curves]))
    size = WIDTH * np.ptp(read[:, 0]) / np.ptp(own[:, 0])
    left, top = own[:, 0].min() - WIDTH * read[:, 0].min() / size, own[:, 1].max() + WIDTH * read[:, 1].min() / size
    exact = shapely.transform(exact, lambda xy: np.column_stack((xy[:, 0] - left, top - xy[:, 1])) * size)
    begin = random.uniform(15, 60)
    tab = box(begin, -9, begin + 12, 15 if kind == "holed" else 25)
    slots = [box(x, exact.bounds[3] * (0.9 if kind == "holed" else 0.5), x + 0.8, exact.bounds[3] + 5)
             for x in random.uniform(15, 75, 2)]

    def worked(shape, grid):
        shape = shapely.union(shape, tab, grid_size=grid)
        for slot in slots:
            shape = shapely.difference(shape, slot, grid_size=grid)
        shape = max(getattr(shape, "geoms", [shape]), key=lambda part: part.area)
        return shape if kind == "holed" else Polygon(shape.exterior)

    got, wanted, matrix = worked(art.scaled(WIDTH), 1e-6), worked(exact, None), Transform(WIDTH, 0, 0, WIDTH, 0, 0)
    if mirrored:
        got, wanted = (shapely.transform(shape, lambda xy: xy * (-1, 1)) for shape in (got, wanted))
        matrix = Transform(-WIDTH, 0, 0, WIDTH, 0, 0)
    # the artwork's own; a tab's four corners and two crossings; per slot four corners and two crossings; two of two outlines
    nodes = len(own) + 6 + 6 * len(slots) + 2
    return Design(Part("part", "1", "paper", got, (), (0, 0), drawn=(Drawn(art.curves, matrix),)), wanted, nodes)


def farthest(points, line):
    """Greatest distance of points, shape (n, 2), from a multi-line."""
    ends = [shapely.get_coordinates(ring) for ring in shapely.get_parts(line)]
    pieces = shapely.linestrings(np.concatenate([np.stack((c[:-1], c[1:]), 1) for c in ends]))
    return shapely.STRtree(pieces).query_nearest(shapely.points(points), return_distance=True, all_matches=False)[1].max()


def apart(one, other):
    """Greatest distance of points of either line from the other line."""
    one, other = shapely.segmentize(one, 0.2), shapely.segmentize(other, 0.2)
    return max(farthest(shapely.get_coordinates(one), other), farthest(shapely.get_coordinates(other), one))


def lines(rings):
    """Closed lines of corners that do not repeat the first."""
    return shapely.multilinestrings([shapely.LineString(np.vstack((ring, ring[:1]))) for ring in rings])


def edges(shape):
    """The outline and the holes of a polygon as lines."""
    return shapely.multilinestrings([shapely.LineString(ring.coords) for ring in (shape.exterior, *shape.interiors)])
