"""Curves of artwork in outlines: as near to the drawing as promised, and with no more nodes than it has.

The exact shapes are made here, from the cubics themselves, by dense flattening and shapely; nothing is shared with the
recovery of curves but the scale and origin of the artwork.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
from fontTools.misc.transform import Transform
from shapely.geometry import Polygon, box

from foldwright.emit.curves import Sources, arcs
from foldwright.grammar.artwork import read_artwork
from foldwright.grammar.artwork_outline import outline_in_drawing_units
from foldwright.grammar.artwork_svg import read_drawing

WIDTH = 90.0  # mm
SVG_LIMIT = 0.005  # mm, as promised for SVG; a file's three decimals take 0.0007 of it
DXF_LIMIT = 0.02  # mm, as promised for arcs


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
    t = np.linspace(0, 1, count, endpoint=False)[:, None]
    s = 1 - t
    return np.concatenate([s**3 * c[0] + 3 * s * s * t * c[1] + 3 * s * t * t * c[2] + t**3 * c[3] for c in cubics])


def drawing(shapes):
    def path(cubics):
        curves = " ".join("C " + " ".join(f"{v:.12f}" for v in c[1:].ravel()) for c in cubics)
        return f"M {cubics[0][0][0]:.12f} {cubics[0][0][1]:.12f} {curves} Z"

    paths = "".join(f'<path d="{path(shape)}"/>' for shape in shapes)
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="-200 -200 400 400">{paths}</svg>'


def apart(one, other):
    """Greatest distance of points of either line from the other line."""
    one, other = shapely.segmentize(one, 0.2), shapely.segmentize(other, 0.2)

    def farthest(of, line):
        points = shapely.points(shapely.get_coordinates(of))
        ends = [shapely.get_coordinates(ring) for ring in shapely.get_parts(line)]
        pieces = shapely.linestrings(np.concatenate([np.stack((c[:-1], c[1:]), 1) for c in ends]))
        return shapely.STRtree(pieces).query_nearest(points, return_distance=True, all_matches=False)[1].max()

    return max(farthest(one, other), farthest(other, one))


def lines(rings):
    return shapely.multilinestrings([shapely.LineString(np.vstack((ring, ring[:1]))) for ring in rings])


def shapes_of(kind, random):
    base = blob(random, int(random.integers(4, 12)))
    if kind == "plain":
        return [base]
    if kind == "crossing":
        return [base, blob(random, int(random.integers(4, 9)), 70, random.uniform(-90, 90, 2))]
    return [base, base + 10 ** random.uniform(-9, -3) * 200 / WIDTH * random.normal(size=2)]  # nearly the same outline twice


@pytest.mark.parametrize("kind", ["plain", "crossing", "nearly the same"])
@pytest.mark.parametrize("seed", range(8))
def test_outlines_with_tabs_and_slots_keep_their_curves(kind, seed, tmp_path: Path):
    random = np.random.default_rng(seed)
    shapes = shapes_of(kind, random)
    text = drawing(shapes)
    (tmp_path / "a.svg").write_text(text)
    art = read_artwork(Path("a.svg"), tmp_path)
    exact = shapely.union_all([Polygon(dense(shape)).buffer(0) for shape in shapes])
    exact = Polygon(exact.exterior)
    left, _, right, top = outline_in_drawing_units(read_drawing(text.encode()).shapes).bounds
    exact = shapely.transform(exact, lambda xy: np.column_stack((xy[:, 0] - left, top - xy[:, 1])) * WIDTH / (right - left))
    begin = random.uniform(15, 60)
    tab = box(begin, -9, begin + 12, 25)
    slots = [box(x, exact.bounds[3] * 0.5, x + 0.4, exact.bounds[3] + 5) for x in random.uniform(15, 75, 2)]

    def worked(shape, grid):
        shape = shapely.union(shape, tab, grid_size=grid)
        for slot in slots:
            shape = shapely.difference(shape, slot, grid_size=grid)
        return max(getattr(shape, "geoms", [shape]), key=lambda part: part.area)

    got, wanted = worked(art.scaled(WIDTH), 1e-6), worked(exact, None)
    sources = Sources([curve.moved(Transform(WIDTH, 0, 0, WIDTH, 0, 0)) for curve in art.curves])
    path = sources.path(np.array(got.exterior.coords))
    assert apart(lines([path.flattened(1e-5)]), lines([np.array(wanted.exterior.coords)[:-1]])) < SVG_LIMIT
    # the artwork's own; a tab's four corners and two crossings; per slot four corners and two crossings; two of two outlines
    assert len(path.points) <= sum(map(len, shapes)) + 6 + 6 * len(slots) + 2
    assert len(path.points) < len(got.exterior.coords) / 4, "curves, not a polyline"


@pytest.mark.parametrize("seed", range(20))
def test_arcs_of_a_cubic_stay_as_near_as_promised(seed):
    """A bulge is the tangent of a quarter of the arc's angle, positive to the left (published DXF reference, LWPOLYLINE)."""
    for cubic in blob(np.random.default_rng(seed), 6, radius=60):
        start, *rest = [tuple(map(float, point)) for point in cubic]
        bend, end = (rest[0], rest[1]), rest[2]
        places = [*arcs(start, bend, end), (end, 0.0)]
        ring = []
        for ((x0, y0), bulge), ((x1, y1), _) in zip(places, places[1:], strict=False):
            turn = 4 * np.arctan(bulge)
            for k in range(200):
                if abs(turn) < 1e-9:
                    ring.append((x0 + (x1 - x0) * k / 200, y0 + (y1 - y0) * k / 200))
                    continue
                # the point of the arc after a part of the turn, as a chord from its start
                chord, part = np.hypot(x1 - x0, y1 - y0), turn * k / 200
                radius = chord / (2 * np.sin(turn / 2))
                away, heading = 2 * radius * np.sin(part / 2), np.arctan2(y1 - y0, x1 - x0) - turn / 2 + part / 2
                ring.append((x0 + away * np.cos(heading), y0 + away * np.sin(heading)))
        ring.append(end)
        line = shapely.multilinestrings([shapely.LineString(ring)])
        exact = shapely.multilinestrings([shapely.LineString(np.vstack((dense([cubic]), cubic[3:])))])
        assert apart(line, exact) < DXF_LIMIT
