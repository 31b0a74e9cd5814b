"""A second way to find what hides what: rays through points of the picture, and the nearest panel on each (z-buffer).

It shares nothing with the pictures but the meaning of a view: the viewer's axes are built here by turning the table, and
areas are asked point by point.
"""

from __future__ import annotations

import numpy as np
import shapely

NONE = -1
TIE = 1e-3  # mm: depths nearer to each other than this are one plane (glued sheets)


def camera(azimuth, elevation, lean):
    """Rows: right, up and towards the viewer, as a rotation matrix. At (0, 0) the viewer at low x looks along x."""
    a, e, t = np.radians([azimuth, elevation, lean])
    seat = np.array([[0.0, -1.0, 0.0], [0.0, 0.0, 1.0], [-1.0, 0.0, 0.0]])  # right is -y, up is z, towards is -x
    # the viewer walks to their own right by `a`: the table turns under them the other way
    table = np.array([[np.cos(a), np.sin(a), 0], [-np.sin(a), np.cos(a), 0], [0, 0, 1]])
    # and then rises by `e`: the card tips towards them about the picture's horizontal axis
    tip = np.array([[1, 0, 0], [0, np.cos(e), -np.sin(e)], [0, np.sin(e), np.cos(e)]])
    spine = np.array([[1, 0, 0], [0, np.cos(t), -np.sin(t)], [0, np.sin(t), np.cos(t)]])  # y goes towards z
    return tip @ seat @ table @ spine


def depths(panels, placed, axes, points):
    """Depth towards the viewer at points of the picture plane (mm), shape (panels, points); -inf where there is no paper."""
    out = np.full((len(panels), len(points)), -np.inf)
    for row, panel in enumerate(panels):
        frame = placed[panel.name]
        matrix = axes @ np.column_stack([frame.along, frame.up, frame.origin])  # (u, v, 1) -> right, up, towards
        if abs(np.linalg.det(matrix[:2, :2])) < 1e-9:
            continue
        uv = np.linalg.solve(matrix[:2, :2], (points - matrix[:2, 2]).T)
        u0, v0, u1, v1 = panel.outline.bounds
        inside = (uv[0] > u0) & (uv[0] < u1) & (uv[1] > v0) & (uv[1] < v1)
        shapely.prepare(panel.outline)
        inside[inside] = shapely.contains_xy(panel.outline, *uv[:, inside])
        out[row, inside] = (matrix[2, :2] @ uv + matrix[2, 2])[inside]
    return out


def nearest(depth):
    """The nearest panel at each point, NONE if none, and which panels tie with it, shape (panels, points)."""
    best = depth.max(axis=0)
    winner = np.where(np.isfinite(best), depth.argmax(axis=0), NONE)
    with np.errstate(invalid="ignore"):
        return winner, depth > best - TIE
