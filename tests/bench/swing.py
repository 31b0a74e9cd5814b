"""Times of the swing: `python tests/bench/swing.py [runs]`; FCL on the same outlines and poses in the same run.

Printed, not asserted: times belong to the machine they were taken on. The ratio to FCL and the growth with the number of
panels depend on it least. FCL gets meshes that are triangulated once, a dynamic tree of boxes, and every contact; what is
timed of it is moving all panels and finding the contacts. All times are medians.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from statistics import median
from time import process_time

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from scenes import Meshes, random_panel, random_stand, row, shifted, with_lobes

from foldwright.solver.card import Card
from foldwright.solver.swing import Memory, swing
from foldwright.solver.swing.boxes import meeting
from foldwright.solver.swing.kernel import pierced
from foldwright.solver.swing.scene import Scene
from foldwright.solver.swing.shapes import Shapes
from foldwright.solver.swing.stand import Seen, Stand

PLAIN, LOBED = 14, 225  # corners of an outline: about 860 and 13,500 edges for 60 panels
ROOM = 260.0  # mm: the cube of the panels at random


def timed(runs: int, work: Callable[[], object]) -> float:
    """Median processor seconds of a few runs, after one that fills the caches (a busy machine changes those least)."""
    work()
    times = []
    for _ in range(runs):
        start = process_time()
        work()
        times.append(process_time() - start)
    return median(times)


def collisions(shapes: Shapes, stand: Stand) -> int:
    """The swing's own search for panels that pass through each other, all poses: boxes, then edges against faces."""
    low, high = stand.boxes(shapes)
    met = meeting(low, high)
    seen = Seen.of(stand, met)
    boxes = [(shapes.centre[panel], shapes.half[panel]) for panel in (met.first, met.second)]
    near = np.flatnonzero(seen.apart(*boxes) <= 0)
    return len(np.unique(pierced(shapes, stand, met[near], seen[near]).pair))


def theirs(meshes: Meshes, stand: Stand) -> int:
    """FCL at all poses."""
    total = 0
    for moment in range(len(stand.angles)):
        meshes.move(stand, moment)
        total += len(meshes.contacts())
    return total


def compare(name: str, runs: int, panels: list, stand: Stand) -> None:
    shapes = Shapes.of(panels)
    ready = timed(runs, lambda: Shapes.of(panels))
    meshes = Meshes([shapely.buffer(panel.outline, -0.1, join_style="mitre") for panel in panels])
    own = timed(runs, lambda: collisions(shapes, stand))
    fcl = timed(runs, lambda: theirs(meshes, stand))
    edges = sum(len(panel.outline.exterior.coords) - 1 + sum(len(hole.coords) - 1 for hole in panel.outline.interiors)
                for panel in panels)
    print(f"{name:26} {len(panels):4d} panels {len(stand.angles):3d} poses {edges:6d} edges   outlines {ready:6.3f} s   "
          f"collisions {own:6.3f} s   FCL {fcl:6.3f} s   ratio {fcl / own:6.1f}   ratio with outlines {fcl / (own + ready):5.1f}")


def opened(card: Card) -> Stand:
    """Its poses but the closed one."""
    grid = Scene.of(card).grid
    return Stand(grid.angles[1:], grid.origin[1:], grid.axes[1:])


def whole(name: str, runs: int, card: Card) -> float:
    angles = np.linspace(0, card.opens, 91)
    posing = timed(runs, lambda: card.poses(angles))
    seconds = timed(runs, lambda: swing(card))
    events = len(swing(card).events)
    print(f"{name:26} {len(card.panels):4d} panels   whole swing {seconds:6.3f} s, of it poses {posing:6.3f} s, {events} events")
    return seconds


def main(runs: int) -> None:
    """Print the comparison, whole swings, the growth, and a check with a memory."""
    card = row(15)
    noise = np.random.default_rng(3)
    for kind, corners in (("plain", PLAIN), ("lobed", LOBED)):
        some = with_lobes(card, corners)
        compare(f"piers in a row, {kind}", runs, list(some.panels), opened(some))
        panels = [random_panel(noise, f"p{index}", kind == "lobed") for index in range(60)]
        compare(f"at random, {kind}", runs, panels, random_stand(noise, 90, 60, ROOM))
    for kind, corners in (("plain", PLAIN), ("lobed", LOBED)):
        whole(f"piers in a row, {kind}", runs, with_lobes(card, corners))
    whole("two rows interleaved", runs, shifted(row(7), 2, 30.0))

    sizes, times = [], []
    for copies in (2, 4, 8, 16, 32):
        wide = shifted(with_lobes(row(4), PLAIN), copies, 230.0)
        sizes.append(len(wide.panels))
        times.append(whole("spread out, plain", runs, wide))
    print(f"growth exponent {np.polyfit(np.log(sizes), np.log(times), 1)[0]:.2f} over all, "
          f"{np.log(times[-1] / times[-2]) / np.log(sizes[-1] / sizes[-2]):.2f} at the last doubling")

    memory, lobes = Memory(), with_lobes(card, LOBED)
    swing(lobes, memory=memory)
    again = timed(runs, lambda: swing(lobes, memory=memory))
    print(f"again with a memory, nothing changed: {again:.3f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
