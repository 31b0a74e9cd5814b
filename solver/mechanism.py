"""What a mechanism is: the base class, and the small types in which a mechanism says what it takes and offers.

One mechanism is one file in `mechanisms/`; defining the class registers it. A mechanism is first *symbolic* (its
parameters are expressions; it yields rules and offers creases and faces) and, once the dimensions are found, *flat and
standing* (`build` gives panels and glue, `pose` places them).
"""

from __future__ import annotations

import importlib
import pkgutil
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import ClassVar

from shapely.geometry import Polygon

from foldwright.solver.artwork import Art
from foldwright.solver.card import Bond, Crossing, Drawn, Line, Note, Panel, Placement, Point, Step, Stroke
from foldwright.solver.expression import Const, Expr, Operand, lift
from foldwright.solver.geometry import Closed, Fold
from foldwright.solver.model import Kind, Rule


@dataclass(frozen=True)
class Parameter:
    """A dimension of a mechanism with its usual range, in mm or degrees.

    `preferred` is where the solver settles if nothing else decides; `derive` gives the value from the other
    parameters when the script leaves this one out (then it is no unknown of its own, unless it gives None).
    """

    name: str
    meaning: str
    low: Fraction
    high: Fraction
    preferred: Fraction | None = None
    dimension: str = "length"
    derive: Callable[[Mapping[str, Expr]], Expr | None] | None = None


def length(name: str, meaning: str, low: float, high: float, preferred: float | None = None,
           derive: Callable[[Mapping[str, Expr]], Expr | None] | None = None) -> Parameter:
    """A length parameter in mm."""
    wanted = None if preferred is None else Fraction(str(preferred))
    return Parameter(name, meaning, Fraction(str(low)), Fraction(str(high)), wanted, "length", derive)


def angle(name: str, meaning: str, low: float, high: float, preferred: float | None = None,
          derive: Callable[[Mapping[str, Expr]], Expr | None] | None = None) -> Parameter:
    """An angle parameter in degrees."""
    wanted = None if preferred is None else Fraction(str(preferred))
    return Parameter(name, meaning, Fraction(str(low)), Fraction(str(high)), wanted, "angle", derive)


@dataclass(frozen=True)
class Choice:
    """A setting that takes one of a few words; the first is the default."""

    name: str
    options: tuple[str, ...]
    meaning: str


@dataclass(frozen=True)
class Counts:
    """A setting that takes two whole numbers, `3 by 3`."""

    name: str
    low: int
    high: int
    default: tuple[int, int]
    meaning: str


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
class Area:
    """A rectangle on one panel that a mechanism needs whole, mostly because it is glued there.

    `side` is "left" or "right", then (x, d) are those of its host's side; or the full name of a panel that is somebody's
    face, such as `tank.front_right`, then they are that face's (u, v).
    """

    side: str
    x: tuple[Expr, Expr]
    d: tuple[Expr, Expr]


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


HOST = "host"  # the part of panels that are cut out of the host's sheet


# limits whose sides are areas, so that their numbers say nothing to a reader
_SLANTED = ("the panel's outer edge", "the panel's lower edge", "the outer edge", "the edge towards the point")


def taken(words: str) -> str:
    """The end of a sentence about a limit of a panel: what is taken there, and what there is."""
    return "" if words in _SLANTED else ": that takes {left}, and there is {right}"


class Mechanism(ABC):
    """Base of all mechanisms. A subclass sets the class attributes and the methods; its docstring is its page."""

    keyword: ClassVar[str] = ""
    parameters: ClassVar[tuple[Parameter, ...]] = ()
    choices: ClassVar[tuple[Choice, ...]] = ()
    counts: ClassVar[tuple[Counts, ...]] = ()
    takes_art: ClassVar[str] = ""  # "", "optional" or "required"
    # crease, ridge (the outer side of one), sheet (a crease of one piece), gusset, ring, face, or nothing (the cover)
    stands_on: ClassVar[tuple[str, ...]] = ("crease",)
    # of those on a face: True if the head names it and a line `at` the place; else a line `glue` or `pair` says both
    face_in_head: ClassVar[bool] = False
    # of those on a face: what such a line may begin with, and what the face must have (a field of Face), in plain words
    glue_by: ClassVar[tuple[str, ...]] = ("glue", "pair")
    needs_of_face: ClassVar[tuple[str, str]] = ("", "")
    example: ClassVar[str] = ""  # a small whole script

    def __init_subclass__(cls) -> None:
        """Enter the class in the registry by its keyword."""
        if not cls.keyword:
            return
        if cls.keyword in _REGISTRY:
            raise TypeError(f"two mechanisms share the keyword {cls.keyword}")
        _REGISTRY[cls.keyword] = cls

    def __init__(self, site: Site) -> None:
        self.site = site
        self.name = site.name

    def __getitem__(self, parameter: str) -> Expr:
        return self.site.parameters[parameter]

    @property
    def crease(self) -> Crease:
        """The crease that it stands on; only for mechanisms that stand on one."""
        assert self.site.crease is not None
        return self.site.crease

    @property
    def face(self) -> Face:
        """The panel that carries it; only for mechanisms that stand on one."""
        assert self.site.face is not None
        return self.site.face

    @property
    def art(self) -> Art:
        """Its artwork; only where one is given."""
        assert self.site.art is not None
        return self.site.art

    def habit(self, name: str) -> Fraction:
        """A workshop habit in mm or degrees."""
        return self.site.habits[name]

    def rule(self, name: str, kind: Kind, left: Operand, operator: str, right: Operand, sentence: str,
             angle: bool = False, still: tuple[Operand, Operand] | None = None) -> Rule:
        """A rule of this mechanism; the places in the script are added by the binder.

        `name` becomes what scripts can write behind `without`. `still` are the two sides that geometry asks for even where
        a script waives a rule of practice; of a plain number on the left, 0 is left without it.
        """
        rest = None if still is None else (lift(still[0]), lift(still[1]))
        name = f"{self.name}.{name.replace(' ', '-')}"
        return Rule(name, kind, lift(left), operator, lift(right), sentence, (), angle, rest)

    def own(self, piece: str) -> str:
        """Full name of a part, panel or crease of this mechanism."""
        return f"{self.name}.{piece}"

    @classmethod
    def takes_paper(cls, choices: Mapping[str, str]) -> bool:
        """False if it has no part of its own with these choices, so that it needs no paper."""
        return True

    @abstractmethod
    def rules(self) -> Iterator[Rule]:
        """Everything that must hold for this mechanism, beyond the ranges of its parameters."""

    @abstractmethod
    def build(self, sizes: Mapping[str, float]) -> Flat:
        """Flat panels and glue for solved parameters (mm, degrees)."""

    @abstractmethod
    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """Placements of all panels while the host crease stands as given."""

    def needs(self) -> dict[str, Expr]:
        """Further expressions whose values `build` and `pose` find among their sizes."""
        return {}

    def notes(self, sizes: Mapping[str, float]) -> Iterator[Note]:
        """What holds only approximately for paper, with its figure."""
        return iter(())

    def dead_points(self, sizes: Mapping[str, float]) -> Iterator[tuple[float, str]]:
        """Openings of its own host crease (degrees, 0 to 180) at which it would lie taut, each with what happens there.

        `sizes` as in `build`. The words go on from "{name} ", such as "would be pulled taut".
        """
        return iter(())

    def glued(self) -> Iterator[Area]:
        """The rectangles of its host's panels that its tabs need, for what else stands on the same panel."""
        return iter(())

    def lines(self) -> dict[str, str]:
        """Its panels that lie on panels of its host, and which: of a lining, what is glued behind it shows on them too."""
        return {}

    def among(self, others: Sequence[Mechanism]) -> Iterator[Rule]:
        """Rules that concern other mechanisms of the card too; asked once all of them are known."""
        return iter(())

    def measures(self) -> dict[str, Expr]:
        """Further lengths that scripts may use in rules and wishes, such as `height`."""
        return {}

    def creases(self) -> dict[str, Crease]:
        """Creases that can carry mechanisms; the first one is meant by the bare name."""
        return {}

    def faces(self) -> dict[str, Face]:
        """Panels that can carry cut-outs."""
        return {}

    def ring(self) -> Ring | None:
        """The inside of a ring, if this is one."""
        return None

    def stretch(self) -> tuple[Expr, Expr] | None:
        """The stretch of its host crease that this mechanism takes, from low to high."""
        return None

    def area(self) -> Expr:
        """Paper used, in mm², as an expression (tabs counted roughly)."""
        return Const(Fraction(0))

    def bends(self) -> Expr:
        """Creases whose spring closes the open card, in mm: length times how fast each turns as the spine leaves 180°.

        The spine's own crease counts with its whole length; a crease that turns half as fast, or by a quarter circle
        instead of a half since the card was closed, counts half. Most ridges turn with the square of what is missing
        to the flat card, so they count nothing there. Asked only where a card must rest flat; never too little: unless
        a mechanism knows better, four creases along its whole stretch, as of a parallelogram.
        """
        stretch = self.stretch()
        return Const(Fraction(0)) if stretch is None else 4 * (stretch[1] - stretch[0])

    def lightens(self) -> Expr:
        """Paper that it takes away from its host for good, in mm² at most."""
        return Const(Fraction(0))

    def flat_sizes(self) -> Iterator[tuple[str, Expr, Expr]]:
        """Width and height of the bounding box of each part, with its name, for the machine's reach."""
        return iter(())

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """What this mechanism adds to the closed stack at its thickest place, in mm, glue apart.

        Two panels and a tab; outward tabs of both pages lie under the panels.
        """
        return (4 if choices.get("tabs") == "outward" else 3) * caliper

    @classmethod
    def joints(cls, choices: Mapping[str, str]) -> int:
        """Most glued joints of this mechanism that lie on each other in the closed card: one on either page."""
        return 2

    def has_room(self, x: Operand, reach: Operand) -> Iterator[Rule]:
        """Rules that keep its free end, at x along the host crease and `reach` away from it, off what lies below."""
        if self.crease.room is None:
            return
        for number, (low, high, words) in enumerate(self.crease.room(lift(x), lift(reach))):
            yield self.rule(f"room.{number}", Kind.GEOMETRY, low, "<=", high,
                            f"{self.name} must not reach {words}")

    def inside(self, what: str, name: str, closed: Closed, x: Operand, d: Operand) -> Iterator[Rule]:
        """Rules that keep a point, given at `closed`, inside the closed cover less its clear strip."""
        cover = self.site.cover
        at_x, at_d = closed.point(x, d)
        reach, room = cover["width"], cover["clear"]
        yield self.rule(f"{name}.fore-edge", Kind.GEOMETRY, at_d, "<=", reach - room,
                        f"when the card is closed, {what} of {self.name} lies {{left}} from the spine; "
                        f"the page less its clear strip is {{right}}")
        yield self.rule(f"{name}.spine", Kind.GEOMETRY, 0, "<=", at_d,
                        f"when the card is closed, {what} of {self.name} must not come out behind the spine")
        yield self.rule(f"{name}.head", Kind.GEOMETRY, at_x, "<=", cover["height"] - room,
                        f"when the card is closed, {what} of {self.name} lies {{left}} from the tail; "
                        f"the page less its clear strip ends at {{right}}")
        yield self.rule(f"{name}.tail", Kind.GEOMETRY, room, "<=", at_x,
                        f"when the card is closed, {what} of {self.name} lies {{right}} from the tail; "
                        f"the clear strip there takes {{left}}")


_REGISTRY: dict[str, type[Mechanism]] = {}


def registry() -> dict[str, type[Mechanism]]:
    """All mechanisms by keyword; found by scanning the folder, so that a new file is enough."""
    from foldwright.solver import mechanisms

    for module in pkgutil.iter_modules(mechanisms.__path__):
        importlib.import_module(f"{mechanisms.__name__}.{module.name}")
    return dict(sorted(_REGISTRY.items()))
