"""Axes on panels: what is given in a mechanism's or a host's own, in the coordinates of its sheet, and in space."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from shapely import affinity
from shapely.geometry import Polygon

from foldwright.solver.card import Panel, Placement, Step
from foldwright.solver.flat import HOST, Flat, Frame, Seam
from foldwright.solver.geometry import Fold, cross


def cut_from_host(flat: Flat, axes: Mapping[str, Frame], part: str) -> dict[str, Frame]:
    """Give panels of the part `HOST` the host's part and its coordinates, with their seams, sides and faces.

    `axes` are the (x, d) axes of the host's two sides in part coordinates. Returns, for each such panel, the axes in
    which its mechanism goes on to place it (`on_sheet` turns such a placement into one of the part).
    """
    mine = [panel.name for panel in flat.panels if panel.part == HOST]
    base, real = axes["left"], {f"host.{side}": frame.panel for side, frame in axes.items()}
    flat.panels = [Panel(p.name, part, moved(p.outline, base), p.tab) if p.name in mine else p for p in flat.panels]
    flat.seams = [Seam(s.left, real.get(s.right, s.right), base.at(*s.start), base.at(*s.end)) if s.left in mine else s
                  for s in flat.seams]
    flat.sides |= {key: within(base, frame) for key, frame in flat.sides.items() if frame.panel in mine}
    flat.faces |= {key: within(base, frame) for key, frame in flat.faces.items() if frame.panel in mine}
    flat.steps = [Step(step.text, tuple(part if name == HOST else name for name in step.parts)) for step in flat.steps]
    return dict.fromkeys(mine, base)


def moved(outline: Polygon, frame: Frame) -> Polygon:
    """An outline given along the axes of a frame, in the coordinates of the frame's part."""
    (a, b), (c, d) = frame.first, frame.second
    moved: Polygon = affinity.affine_transform(outline, [a, c, b, d, *frame.origin])
    return moved


def within(outer: Frame, inner: Frame) -> Frame:
    """A frame given along the axes of another one, in part coordinates; the panel stays the inner one's."""
    zero, first, second = outer.at(*inner.origin), outer.at(*inner.first), outer.at(*inner.second)
    base = outer.origin
    return Frame(inner.panel, zero, (first[0] - base[0], first[1] - base[1]), (second[0] - base[0], second[1] - base[1]))


def on_sheet(placement: Placement, frame: Frame) -> Placement:
    """A placement by the axes of a frame, as a placement by the part coordinates of the frame's sheet."""
    (a, b), (c, d) = frame.first, frame.second
    along = a * placement.along + c * placement.up
    up = b * placement.along + d * placement.up
    return Placement(placement.origin - frame.origin[0] * along - frame.origin[1] * up, along, up)


def face_fold(frame: Frame, panel: Placement) -> Fold:
    """A face in space, for what is glued on it: u (seen from the printed face) as x and v as y."""
    x = handed(frame) * (frame.first[0] * panel.along + frame.first[1] * panel.up)
    y = frame.second[0] * panel.along + frame.second[1] * panel.up
    return Fold(panel.points(np.array([frame.origin]))[..., 0, :], x, cross(x, y), np.zeros(1))


def handed(frame: Frame) -> float:
    """1 if the frame's axes are right-handed on the printed face, else -1."""
    return frame.first[0] * frame.second[1] - frame.first[1] * frame.second[0]
