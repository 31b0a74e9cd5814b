"""What a mechanism is: the base class of all of them, and the registry.

One mechanism is one file in `mechanisms/`; defining the class registers it. A mechanism is first *symbolic* (its
parameters are expressions; it yields rules and offers creases and faces) and, once the dimensions are found, *flat and
standing* (`build` gives panels and glue, `pose` places them).
"""

from __future__ import annotations

import importlib
import pkgutil
from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import ClassVar

from foldwright.grammar.letters import Use
from foldwright.solver.artwork import Art
from foldwright.solver.card import Note
from foldwright.solver.expression import Const, Expr, Operand, lift
from foldwright.solver.flat import Flat, Pose
from foldwright.solver.geometry import Closed, Fold
from foldwright.solver.host import Area, Crease, Face, Ring, Site
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import Choice, Counts, Parameter

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
    letters: ClassVar[Use] = Use.PIECE  # what letters are for that stand in place of an artwork
    # crease, ridge (the outer side of one), sheet (a crease of one piece), gusset, ring, face, or nothing (the cover)
    stands_on: ClassVar[tuple[str, ...]] = ("crease",)
    # of those on a face: True if the head names it and a line `at` the place; else a line `glue` or `pair` says both
    face_in_head: ClassVar[bool] = False
    # of those on a face: what such a line may begin with, and what the face must have (a field of Face), in plain words
    glue_by: ClassVar[tuple[str, ...]] = ("glue", "pair")
    needs_of_face: ClassVar[tuple[str, str]] = ("", "")
    outside: ClassVar[bool] = False  # True if its parts go round a room: they are printed on their outer side, the front
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

    def shown(self, parts: Iterable[str]) -> dict[str, str]:
        """Of its `parts`, and of what it lies on, those whose printed face is settled: "front" or "back" (`sides.py`)."""
        return dict.fromkeys(parts, "front") if self.outside else {}

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
