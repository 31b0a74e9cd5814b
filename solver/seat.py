"""Where the reader of an open card sits.

A card that opens to 180° lies with both pages on the table; the reader sits at the tail of the spine and looks down on it.
A card that opens less stands as an L: its right page lies on the table, its left page stands behind it as a back wall,
the spine runs from the reader's left to their right, and they look along the bisector of the two pages.
"""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np

from foldwright.solver.card import Vector
from foldwright.solver.geometry import spine_fold

ELEVATION = 38.0  # degrees; eyes some 40 cm above the table and 50 cm from the card
EDGE_ON = 0.02  # sine of the angle between a panel and the line of sight, below which neither face is seen


def seat(opens: float) -> tuple[Vector, Vector, Vector, Vector]:
    """The reader's axes in the card's own: to their right, away from them, up, and from the card to their eyes."""
    if opens == 180:
        tilt = radians(ELEVATION)
        return (np.array([0.0, -1.0, 0.0]), np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0]),
                np.array([-cos(tilt), 0.0, sin(tilt)]))
    fold = spine_fold(opens)
    return fold.x, -fold.right, fold.right_normal, fold.z
