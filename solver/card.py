"""The solved card: flat parts, panels with their poses, glue, sheets' papers; all numbers in mm and degrees.

This is what the proof checks and what `foldwright.emit` writes. It holds no unknowns and no text.

Part coordinates (u, v) lie on the flat sheet, seen from its front, u to the right and v up. A panel's placement puts them
into space: P(u, v) = origin + u * along + v * up, with `along` and `up` orthonormal; the face towards along x up is the
front. Mostly it is also the printed face: `sides.py` tells of each part.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from foldwright.grammar.artwork_curves import NO_INK, Ink
from foldwright.solver.model import Rule, WishResult

if TYPE_CHECKING:
    from fontTools.misc.transform import Transform

    from foldwright.grammar.artwork_curves import Curve

Vector = NDArray[np.float64]
Point = tuple[float, float]


class Stroke(StrEnum):
    """What the machine or the hand does along a line. Mountain and valley as seen on the front."""

    CUT = "cut"
    MOUNTAIN = "mountain"
    VALLEY = "valley"
    MARK = "mark"


@dataclass(frozen=True)
class Paper:
    """A paper of the card. `gsm` is None if only the caliper is known; `estimated` marks a caliper from weight.

    `grain` is "along" if the grain of its sheets runs along the mat's height, "across" if along its width, "" if unknown.
    """

    name: str
    colour: str
    gsm: float | None
    caliper: float
    estimated: bool
    grain: str = ""


@dataclass(frozen=True)
class Line:
    """A straight or broken line on a part: crease, open cut (slit) or mark."""

    points: tuple[Point, ...]
    stroke: Stroke


@dataclass(frozen=True)
class Drawn:
    """Lines and curves of an artwork, and the affine map that puts them where its outline lies on a part.

    `ink` is drawn on the part; `file` is the artwork's.
    """

    curves: tuple[Curve, ...]
    matrix: Transform
    ink: Ink = NO_INK
    file: str = ""

    def then(self, matrix: Transform) -> Drawn:
        """The same, moved on."""
        return replace(self, matrix=matrix.transform(self.matrix))

    def placed(self) -> tuple[Curve, ...]:
        """The curves in part coordinates."""
        return tuple(curve.moved(self.matrix) for curve in self.curves)


@dataclass(frozen=True)
class Thin:
    """A place of a part thinner than practice allows: where, and how wide there (of a tip halfway), in mm."""

    at: Point
    width: float


@dataclass(frozen=True)
class Part:
    """One piece cut from one sheet.

    `outline` is cut; its holes are cut too. `lines` holds creases, slits and marks. `label` is short, unique in the
    card and in the order of assembly; `label_at` is where its left lower corner stands (hidden by glue if possible),
    `label_height` its cap height. `drawn` are the curves that parts of the outline follow within a few hundredths. `shown` is
    the face that is looked at where the kind of part settles it ("front" or "back"), else empty (`sides.py`). `thin` are the
    places where its artwork is thinner than practice allows.
    """

    name: str
    label: str
    paper: str
    outline: Polygon
    lines: tuple[Line, ...]
    label_at: Point
    label_height: float = 3.0
    drawn: tuple[Drawn, ...] = ()
    shown: str = ""
    thin: tuple[Thin, ...] = ()


@dataclass(frozen=True)
class Lap:
    """A seam of a split part, from `start` to `end`, and the glued area `outline` where two sheets lie on each other there.

    All in the part's coordinates. `panel` is the one it lies in; `under` names the piece with the tongue that lies behind the
    other piece, or the strip that lies behind both.
    """

    start: Point
    end: Point
    outline: Polygon
    panel: str
    under: str


@dataclass(frozen=True)
class Joined:
    """A part that is cut in pieces, because no mat takes it whole, and glued together again.

    `pieces` and `strips` are cut instead of `whole`; all have the coordinates of the whole. Tongues belong to their pieces.
    """

    whole: Part
    pieces: tuple[Part, ...]
    strips: tuple[Part, ...]
    laps: tuple[Lap, ...]


@dataclass(frozen=True)
class Panel:
    """A rigid piece of a part between its creases. `tab` panels are hidden by glue."""

    name: str
    part: str
    outline: Polygon
    tab: bool = False


@dataclass(frozen=True)
class Hinge:
    """A crease from `start` to `end` (part coordinates) that joins two panels of one part."""

    left: str
    right: str
    start: Point
    end: Point
    stroke: Stroke


@dataclass(frozen=True)
class Bond:
    """`panel` is glued onto `host` with its whole outline (a tab), or as far as they overlap (`whole` False).

    `spans` marks a lining: where its host has a window or a step is cut out, it lies over the opening.
    """

    panel: str
    host: str
    whole: bool = True
    spans: bool = False


@dataclass(frozen=True)
class Crossing:
    """Two panels that pass through each other in a pair of slots, each `width` mm wide."""

    first: str
    second: str
    width: float


@dataclass(frozen=True)
class Step:
    """One step of the assembly, in order: what to do, and which parts (by name) it handles."""

    text: str
    parts: tuple[str, ...]


@dataclass(frozen=True)
class Placement:
    """Where a panel lies in space: vectors of shape (3,), or (n, 3) for n moments of the swing."""

    origin: Vector
    along: Vector
    up: Vector

    def points(self, uv: Vector) -> Vector:
        """Positions in space, shape (m, 3) or (n, m, 3), of part coordinates, shape (m, 2)."""
        origin, along, up = (vector[..., None, :] for vector in (self.origin, self.along, self.up))
        moved: Vector = origin + uv[:, :1] * along + uv[:, 1:2] * up
        return moved

    def moment(self, number: int) -> Placement:
        """The placement at one of the n moments."""
        return Placement(*(v if v.ndim == 1 else v[number] for v in (self.origin, self.along, self.up)))


@dataclass(frozen=True)
class Note:
    """Something that holds only approximately for paper: a sentence with `{figure}`, which stands for the figure.

    `figure` is in mm, degrees or as it is, by `dimension` ("length", "angle" or "plain").
    """

    owner: str
    text: str
    figure: float
    dimension: str = "length"


@dataclass(frozen=True)
class DeadPoint:
    """Where a mechanism would lie taut: `angle` is the opening of its own host crease in degrees, `why` in words."""

    owner: str
    host: tuple[str, str]  # mechanism and crease that it stands on
    angle: float
    why: str


@dataclass(frozen=True)
class CheckedRule:
    """A rule in the solved card: its two sides and the slack left (mm or degrees), 0 for an equality."""

    rule: Rule
    left: float
    right: float
    slack: float


@dataclass(frozen=True)
class WaivedRule:
    """A rule of workshop practice that the script does without: what it comes to (slack below 0: not kept), and why."""

    checked: CheckedRule
    because: str
    line: int


@dataclass(frozen=True)
class Chosen:
    """How one thing was decided that the script leaves open.

    `what` is the mechanism that may be left out (`optional`), or the line of which (`layers of weeds`). `option` is taken
    of `options`, in the words of the script; an optional mechanism is "there" or "left out". `reasons` tell of other
    options (words, reason) why they were not taken. `gone` is what is left out with an optional mechanism.
    """

    what: str
    option: str
    options: tuple[str, ...]
    optional: bool
    reasons: tuple[tuple[str, str], ...]
    gone: tuple[str, ...]
    line: int


@dataclass(frozen=True)
class Choices:
    """All that was decided; `proved` says that no other way to decide does better. Of `ways` ways `seen` were looked at."""

    chosen: tuple[Chosen, ...]
    proved: bool
    seen: int
    ways: int


@dataclass(frozen=True)
class Machine:
    """How the parts are worked; lengths in mm.

    `mats` are what it reaches (width, height) beside the card's own `mat`, which is the largest. `creases` is
    "creased", "perforated", "ticked" or "half-cut", with `dash` and `gap` of perforated ones and the `tick` of ticked ones
    where the script sets them. `kerf` is the width that the tool takes away. `printed_up` says that the printed side of the
    sheets lies up on the mat. `joints` is "overlap" or "strip" if a part too long for every mat may be made of pieces.
    """

    mats: tuple[tuple[float, float], ...] = ()
    creases: str = "creased"
    dash: float | None = None
    gap: float | None = None
    tick: float | None = None
    kerf: float = 0.0
    printed_up: bool = True
    joints: str = ""


@dataclass(frozen=True)
class Card:
    """A solved card.

    `pose(angle)` places every panel at an opening angle of the cover in degrees, 0 closed, up to `opens`, or at n of
    them at once (shape (n,); then the placements' vectors have shape (n, 3)); the spine
    runs along x, z points into the opening, y = z x x. `cover` is width and height of one page, `clear` the least
    distance of anything inside from the closed cover's free edges, `mat` the largest reach of the machine (width, height).
    `dimensions` are the solved values by name, exact, with their unit ("mm" or "°").
    `stack` is the thickest place of the closed card in mm, covers and glue included (`stack.py`).
    """

    title: str
    unit: str
    opens: float
    cover: tuple[float, float]
    clear: float
    gusset: float
    mat: tuple[float, float]
    papers: tuple[Paper, ...]
    dimensions: Mapping[str, tuple[Fraction, str]]
    rules: tuple[CheckedRule, ...]
    wishes: tuple[WishResult, ...]
    parts: tuple[Part, ...]
    panels: tuple[Panel, ...]
    hinges: tuple[Hinge, ...]
    bonds: tuple[Bond, ...]
    crossings: tuple[Crossing, ...]
    steps: tuple[Step, ...]
    practice: Mapping[str, float]
    stack: float
    notes: tuple[Note, ...]
    dead_points: tuple[DeadPoint, ...]
    pose: Callable[[float | Vector], dict[str, Placement]] = field(compare=False, repr=False)
    # by mechanism and crease: its opening in degrees, shape (n,), at n opening angles of the cover, shape (n,)
    openings: Callable[[Vector], dict[tuple[str, str], Vector]] = field(compare=False, repr=False)
    waived: tuple[WaivedRule, ...] = ()
    choices: Choices | None = None  # None if the script leaves nothing open but numbers
    machine: Machine = Machine()
    joined: tuple[Joined, ...] = ()  # parts that are cut in pieces; `parts` has them whole

    @property
    def mats(self) -> tuple[tuple[float, float], ...]:
        """All mats (width, height), smallest first."""
        return tuple(sorted({self.mat, *self.machine.mats}, key=lambda mat: (mat[0] * mat[1], mat)))

    def poses(self, angles: Vector, panels: Collection[str] | None = None) -> dict[str, Placement]:
        """Placements by panel at n opening angles in degrees, shape (n,): vectors of shape (n, 3).

        Of only some `panels`, if `pose` has a method `some` for that; others may be among them.
        """
        angles = np.asarray(angles, dtype=np.float64)
        some: Callable[[Vector, Collection[str]], dict[str, Placement]] | None = getattr(self.pose, "some", None)
        return self.pose(angles) if panels is None or some is None else some(angles, panels)
