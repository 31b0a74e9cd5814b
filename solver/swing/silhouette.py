"""What shows outside the cover when the card is closed."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from foldwright.solver.swing.scene import Scene

FIT = 0.01  # mm: artwork outlines are chords within 0.005 mm of the drawn curve


def sticking_out(scene: Scene) -> Iterator[tuple[str, tuple[float, float, float], float]]:
    """Panels that leave the closed page: name, the farthest corner in space, and by how much, mm.

    The page is width by height; a gusset's pleat gives room behind the spine, half its width deep.
    """
    width, height = scene.card.cover
    low = np.array([0.0, -scene.card.gusset / 2])
    high = np.array([height, width])
    outlines = np.asarray([panel.outline for panel in scene.card.panels], dtype=object)
    flat, panel = shapely.get_coordinates(outlines, return_index=True)
    points = scene.grid.point(np.zeros(len(panel), dtype=np.int64), panel, flat)
    page = points[:, [0, 2]]
    out = np.maximum(low - page, page - high).max(axis=1)
    for index in np.unique(panel[out > FIT]):
        mine = np.flatnonzero(panel == index)
        worst = mine[out[mine].argmax()]
        x, y, z = points[worst].tolist()
        yield scene.names[index], (x, y, z), float(out[worst])
