"""What a solved mechanism comes to: flat panels with seams, glue and cuts, and the pose in which they stand."""

from __future__ import annotations

from dataclasses import dataclass, field

from shapely.geometry import Polygon

from foldwright.solver.card import Bond, Crossing, Drawn, Line, Panel, Placement, Point, Step, Stroke
from foldwright.solver.geometry import Fold

HOST = "host"  # the part of panels that are cut out of the host's sheet


@dataclass(frozen=True)
class Cut:
    """A line that a mechanism needs on its host: a slit that its tab passes, or the mark of where it is glued.

    `points` are (x, d) on the host's `side` ("left" or "right"), or (u, v) on its "face". `tab` names the tab whose
    crease stands there, its ends in the order of the points; empty if it is no foot.
    """

    side: str
    points: tuple[Point, ...]
    stroke: Stroke
    tab: str = ""


@dataclass(frozen=True)
class Opening:
    """Paper that a mechanism takes out of its host: an outline in the (x, d) of the host's `side`, or in a face's (u, v).

    `side` is "left", "right" or "face".
    """

    side: str
    outline: Polygon
    drawn: tuple[Drawn, ...] = ()  # the curves that the outline follows, in the same coordinates


@dataclass(frozen=True)
class Frame:
    """Axes on a panel, in part coordinates; the panel `host.right` or `host.left` means that of the host."""

    panel: str
    origin: Point
    first: Point
    second: Point

    def at(self, a: float, b: float) -> Point:
        """Part coordinates of the point `a` along the first axis and `b` along the second."""
        return (self.origin[0] + a * self.first[0] + b * self.second[0],
                self.origin[1] + a * self.first[1] + b * self.second[1])


@dataclass(frozen=True)
class Seam:
    """A crease of a part: the two panels that it joins, and its ends in part coordinates."""

    left: str
    right: str
    start: Point
    end: Point


@dataclass
class Flat:
    """The flat side of a solved mechanism: panels by part, seams, glue, crossings, cuts on the host, assembly steps.

    A mechanism that is cut out of its host's own sheet gives its panels the part `HOST`: their outlines, seams, faces
    and sides are then in the (x, d) of the host's left side (d runs on below 0 on the right one), and `pose` places
    them by these axes; a seam names a panel of the host as `host.left` or `host.right`, second.

    `sides` maps a crease's name and side to its (x, d) axes in part coordinates, `faces` a face's name to its (u, v).
    `drawn` has the artwork in a part's outline, in part coordinates, wherever the outline follows its curves.
    `labels` says of a part where the right lower corner of its label stands, if the usual place would be seen.
    """

    papers: dict[str, str] = field(default_factory=dict)  # part -> paper
    panels: list[Panel] = field(default_factory=list)
    seams: list[Seam] = field(default_factory=list)
    bonds: list[Bond] = field(default_factory=list)
    crossings: list[Crossing] = field(default_factory=list)
    cuts: list[Cut] = field(default_factory=list)
    openings: list[Opening] = field(default_factory=list)
    steps: list[Step] = field(default_factory=list)
    lines: dict[str, list[Line]] = field(default_factory=dict)  # further lines on its own parts, such as where to glue
    sides: dict[tuple[str, str], Frame] = field(default_factory=dict)
    faces: dict[str, Frame] = field(default_factory=dict)
    labels: dict[str, Point] = field(default_factory=dict)
    drawn: dict[str, list[Drawn]] = field(default_factory=dict)


@dataclass
class Pose:
    """The standing side at one angle: placements by panel, creases by name, and the frames of faces come with panels."""

    placements: dict[str, Placement] = field(default_factory=dict)
    folds: dict[str, Fold] = field(default_factory=dict)
