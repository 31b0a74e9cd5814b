"""What a mechanism is told and what it offers to others: its site, and creases, panels and rings that can carry something."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from foldwright.solver.artwork import Art
from foldwright.solver.expression import Expr, Operand
from foldwright.solver.geometry import Closed

# What a surface says of a point on it (x along the crease, d away from it): pairs (left, right, words) that must
# satisfy left <= right. A point on the crease itself (d is the constant 0) need not keep off it.
Limits = Callable[[Expr, Expr], Iterator[tuple[Expr, Expr, str]]]


@dataclass(frozen=True)
class Side:
    """One of the two panels at a crease, in the crease's (x, d): which panel, and what limits a point on it."""

    panel: str
    limits: Limits


@dataclass(frozen=True)
class Crease:
    """A crease that can carry a mechanism.

    `opening` is the square of the sine of half its largest opening angle. `astride` marks the outer side of a ridge:
    only what can sit astride a ridge may stand there. `slots` tells that tabs may pass through its panels.
    `one_sheet` tells that both panels are one piece of paper here, so that a step can be cut out of it.
    """

    closed: Closed
    left: Side
    right: Side
    opening: Expr
    astride: bool = False
    slots: bool = False
    one_sheet: bool = False
    flat: bool = False  # its two panels come to lie in one plane when the card is open
    refuses: str = ""  # in plain words, why nothing can stand here; empty if it can carry
    # what limits the free end of something that stands here (x along the crease, d its reach), where known
    room: Limits | None = None


@dataclass(frozen=True)
class Fan:
    """A panel of a V-fold as a sector about the face's origin: from the ridge (the face's v axis) to the foot.

    `wing` is the sector's angle in degrees, `other` that of the V's other panel. `crest` is the angle of the closed
    ridge on the host's panel, from the way in which the feet run; `sense` is -1 for a V-fold astride a ridge, whose
    panels stand outside its host, else 1.
    `outside` tells that its printed face looks away from the V's other panel.
    Of a card that opens flat, `rise` is the height to which the ridge lifts a millimetre of its length, and `turn` is
    sin² of half the angle by which the panel turns about its foot; else they are None.
    """

    wing: Expr
    other: Expr
    crest: Expr
    sense: int = 1
    outside: bool = True
    rise: Expr | None = None
    turn: Expr | None = None


@dataclass(frozen=True)
class Face:
    """A panel that can carry cut-outs, in local (u, v): v upwards on the standing panel.

    `centre` is its middle. `top` is the height of its straight upper edge and the u on it where a cut-out can stand
    (None if it has no such edge); `free` is the clear width there, between things that pass through the face.
    `within` gives, for some room, the limits of a point (u, v) that keeps that room from all edges and folds of the
    panel; None if no hole can be cut in it.
    """

    panel: str
    closed: Closed
    centre: tuple[Expr, Expr]
    top: tuple[Expr, Expr] | None = None
    free: Expr | None = None
    fan: Fan | None = None  # set if the panel turns about a point of the spine: what can swing with it
    within: Callable[[Operand], Limits] | None = None


@dataclass(frozen=True)
class Ring:
    """The inside of a ring, for what hangs in it: height, spread, closed place, and its walls as they meet in front.

    `wall` is the length of the front left wall, `cross` of the front right one, `front` where their closed joint lies
    along the crease, `opening` sin² of half the largest opening of that. `opposite` are pairs of walls that lie across
    from each other. `refuses` tells in plain words why nothing that is tied to all four walls can hang here; empty if
    it can.
    """

    name: str
    wall: Expr
    cross: Expr
    height: Expr
    spread: Expr
    front: Expr
    closed: Closed
    opening: Expr
    opposite: tuple[tuple[Expr, Expr], ...] = ()
    refuses: str = ""


@dataclass(frozen=True)
class Site:
    """Everything a mechanism is told about itself: its script words as expressions, its host, the workshop's habits."""

    name: str
    parameters: Mapping[str, Expr]
    choices: Mapping[str, str]
    counts: Mapping[str, tuple[int, int]]
    art: Art | None
    paper: str
    caliper: Fraction
    habits: Mapping[str, Fraction]
    crease: Crease | None = None
    face: Face | None = None
    ring: Ring | None = None
    at: Mapping[str, Expr | str] = field(default_factory=dict)  # where on a face: "u", "v" or "word"
    cover: Mapping[str, Expr] = field(default_factory=dict)  # width, height, clear of the cover
    lows: Mapping[str, Fraction] = field(default_factory=dict)  # least value of each parameter, where it is a number
    contents: Fraction = Fraction(0)  # thickness of all that lies between the covers, mm
    grammage: Fraction = Fraction(0)  # weight of its paper in g/m², where it has one


@dataclass(frozen=True)
class Area:
    """A rectangle on one panel that a mechanism needs whole, mostly because it is glued there.

    `side` is "left" or "right", then (x, d) are those of its host's side; or the full name of a panel that is somebody's
    face, such as `tank.front_right`, then they are that face's (u, v).
    """

    side: str
    x: tuple[Expr, Expr]
    d: tuple[Expr, Expr]
