"""Sets of parts to lay out, of the kinds that cards are made of: own shapes, sizes from a seed, true outlines.

Area of each set in sheets of 292 x 292 mm: A 0.81, B 0.86, C 1.29, D 1.54, E 1.99, that of the sets by which packers were
compared when one was chosen.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from random import Random

import shapely
from shapely.affinity import scale
from shapely.geometry import Point, Polygon, box

from foldwright.solver.card import Part

SIDE = 292.0  # mm, the usable side of a mat
SPACING = 2.0
Shape = Callable[[Random], Polygon]


def leaf(noise: Random) -> Polygon:
    """Pointed at both ends, bent to one side."""
    length, width, bend = noise.uniform(50, 95), noise.uniform(16, 34), noise.uniform(-14, 14)
    steps = [k / 14 for k in range(15)]
    upper = [(length * t, width / 2 * math.sin(math.pi * t) + bend * math.sin(math.pi * t)) for t in steps]
    lower = [(length * t, -width / 2 * math.sin(math.pi * t) + bend * math.sin(math.pi * t)) for t in steps[1:-1]]
    return Polygon([*upper, *reversed(lower)])


def petal(noise: Random) -> Polygon:
    """A narrow foot and a round end."""
    length, width = noise.uniform(38, 60), noise.uniform(18, 38)
    steps = [k / 12 for k in range(13)]
    side = [(length * t, width / 2 * math.sin(math.pi * t**1.6) + 2.5 * (1 - t)) for t in steps]
    return Polygon([*side, *((x, -y) for x, y in reversed(side) if y > 1e-6)])


def comb(noise: Random) -> Polygon:
    """A plate of a lattice: slots from above and a wavy upper edge."""
    length, height = noise.uniform(75, 170), noise.uniform(24, 58)
    wave = [(length * k / 20, height - 5 + 5 * math.sin(k * 0.9)) for k in range(21)]
    plate = Polygon([(0, 0), *reversed([(length, 0), *reversed(wave)])])
    count = noise.randint(2, 5)
    slots = [box(x - 0.2, height / 2, x + 0.2, height + 1) for x in (length * (k + 1) / (count + 1) for k in range(count))]
    return plate.difference(shapely.union_all(slots))


def strip(noise: Random) -> Polygon:
    """A wall with glue tabs that taper."""
    length, height = noise.uniform(80, 190), noise.uniform(14, 34)
    return Polygon([(0, 0), (length, 0), (length + 8, 3), (length + 8, height - 3), (length, height), (0, height)])


def ring(noise: Random) -> Polygon:
    """A hoop."""
    outer = noise.uniform(28, 44)
    return Point(0, 0).buffer(outer, quad_segs=12).difference(Point(0, 0).buffer(outer - noise.uniform(7, 10), quad_segs=12))


def star(noise: Random) -> Polygon:
    """Five points."""
    outer = noise.uniform(9, 20)
    turn = noise.uniform(0, 1)
    return Polygon([((outer if k % 2 == 0 else outer * 0.45) * math.cos(turn + math.pi * k / 5),
                     (outer if k % 2 == 0 else outer * 0.45) * math.sin(turn + math.pi * k / 5)) for k in range(10)])


def cover(noise: Random) -> Polygon:
    """Both pages of a small card."""
    return box(0, 0, 260, 180)


SETS: dict[str, tuple[float, tuple[tuple[Shape, int], ...]]] = {
    # area in sheets, and how many of which shape
    "A": (0.81, ((cover, 1), (strip, 3), (comb, 2), (leaf, 3), (ring, 1), (star, 2))),
    "B": (0.86, ((leaf, 40),)),
    "C": (1.29, ((petal, 80),)),
    "D": (1.54, ((comb, 30),)),
    "E": (1.99, ((strip, 8), (comb, 12), (leaf, 16), (petal, 12), (ring, 5), (star, 8))),
}


def part_set(name: str, seed: int = 1) -> tuple[Part, ...]:
    """The parts of a set; all but the cover are scaled so that the set has the area stated."""
    area, shapes = SETS[name]
    noise = Random(f"{name} {seed}")
    outlines = [(shape is cover, shape(noise)) for shape, count in shapes for _ in range(count)]
    fixed = sum(outline.area for keep, outline in outlines if keep)
    rest = sum(outline.area for keep, outline in outlines if not keep)
    factor = math.sqrt((area * SIDE * SIDE - fixed) / rest)
    return parts_of([outline if keep else scale(outline, factor, factor, origin=(0, 0)) for keep, outline in outlines])


def rectangles(count: int, seed: int) -> tuple[Part, ...]:
    """Plain rectangles of mixed sizes: what packing boxes is best at."""
    noise = Random(f"boxes {count} {seed}")
    return parts_of([box(0, 0, round(noise.uniform(20, 150), 1), round(noise.uniform(15, 90), 1)) for _ in range(count)])


def parts_of(outlines: list[Polygon]) -> tuple[Part, ...]:
    """Outlines as parts named p0, p1, ..."""
    return tuple(Part(f"p{k}", str(k + 1), "ink", outline, (), (0.0, 0.0)) for k, outline in enumerate(outlines))
