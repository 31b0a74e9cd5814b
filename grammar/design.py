"""The design: what a script says, as typed values. Every node keeps its place in the source.

A design knows words and numbers, not mechanisms: a block is a keyword with a name, a size, a place and settings.
Which keywords exist and which settings they take is known to the mechanisms themselves (`foldwright.solver`).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from foldwright.grammar.source import Source, Span


@dataclass(frozen=True, slots=True)
class Word:
    """A bare word: a keyword, a name that is declared, or a choice such as `gusset`."""

    text: str
    at: Span


@dataclass(frozen=True, slots=True)
class Text:
    """A quoted string, without its quotes."""

    text: str
    at: Span


@dataclass(frozen=True, slots=True)
class Colour:
    """A colour as `#rrggbb`, lower case."""

    text: str
    at: Span


@dataclass(frozen=True, slots=True)
class Number:
    """A number as written: `value` counts `unit` (`mm`, `cm`, `in`, `pt`, `deg`, `gsm`, `lb`), or nothing if None."""

    value: Fraction
    unit: str | None
    at: Span


@dataclass(frozen=True, slots=True)
class Name:
    """A name that refers to something: `tank`, `tank.wall`, `weeds.a2`."""

    path: tuple[str, ...]
    at: Span

    @property
    def text(self) -> str:
        """The name with its dots."""
        return ".".join(self.path)


@dataclass(frozen=True, slots=True)
class Negative:
    """Minus an expression."""

    operand: Expression
    at: Span


@dataclass(frozen=True, slots=True)
class Binary:
    """Two expressions joined by `+`, `-`, `*` or `/`."""

    operator: str
    left: Expression
    right: Expression
    at: Span


@dataclass(frozen=True, slots=True)
class Call:
    """`min`, `max`, `sin`, `cos`, `tan` or `sqrt` of expressions."""

    function: str
    arguments: tuple[Expression, ...]
    at: Span


Expression = Number | Name | Negative | Binary | Call


@dataclass(frozen=True, slots=True)
class Range:
    """`low to high`: the solver may choose between."""

    low: Expression
    high: Expression
    at: Span


@dataclass(frozen=True, slots=True)
class Size:
    """`width x height`."""

    width: Expression
    height: Expression
    at: Span


@dataclass(frozen=True, slots=True)
class Count:
    """`3 by 4`."""

    first: Expression
    second: Expression
    at: Span


@dataclass(frozen=True, slots=True)
class Place:
    """`on tank.front`, `in tank`, `at top`, `along top`: a preposition and what it refers to.

    `between quay.left and cover.left` has the second panel in `second`. `grain along` of a paper is one too.
    """

    how: str
    target: Name | Size
    at: Span
    second: Name | None = None


Argument = Text | Colour | Number | Name | Negative | Binary | Call | Range | Size | Count | Place


@dataclass(frozen=True, slots=True)
class Setting:
    """One line inside a block: a word and what follows it (`wall 50 to 80`, `art "a.svg" width 22`).

    A bare word among the arguments is a `Name` with a path of one. `others` are what could follow instead (`layers 3 by 3
    or 4 by 4`, `layers 3 to 4 by 3`), in the order of liking; `arguments` come first in it.
    """

    word: Word
    arguments: tuple[Argument, ...]
    at: Span
    others: tuple[tuple[Argument, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Block:
    """`ring tank on page` with its settings: one mechanism, or the cover, or a cut-out.

    `optional` is that word, if the mechanism may be left out; `others` are further places that it could have (`on spine
    or on quay.ridge`), in the order of liking.
    """

    keyword: Word
    name: Word | None
    size: Size | None
    place: Place | None
    settings: tuple[Setting, ...]
    at: Span  # the head line only, so that messages underline one line
    optional: Word | None = None
    others: tuple[Place, ...] = ()


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper: colour, and its weight in grams per square metre or its caliper in mm, as far as they are given.

    `thickness` is the value in the script that tells how thick it is: the caliper, or else the weight. `grain` says how the
    grain of its sheets lies in the machine: "along" their height (up the mat), "across" it, or "" if nothing is said. `bulk`
    is in cm³/g, None if it is not given.
    """

    name: Word
    colour: str
    gsm: Fraction | None
    caliper: Fraction | None
    at: Span
    thickness: Argument | None = None
    grain: str = ""
    bulk: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Merge:
    """One paper in place of two: what is of `paper` is cut from `into`."""

    paper: Word
    into: Word
    at: Span


@dataclass(frozen=True, slots=True)
class Mat:
    """What the machine reaches, width by height in mm; `sides` as they are written."""

    width: Fraction
    height: Fraction
    at: Span
    sides: tuple[Argument, ...] = ()


@dataclass(frozen=True, slots=True)
class Creases:
    """How the machine makes creases: "creased", "perforated", "ticked" or "half-cut".

    `dash` and `gap` of perforated ones and the `length` of ticks in mm, None where workshop practice decides.
    """

    style: str
    dash: Fraction | None
    gap: Fraction | None
    length: Fraction | None
    at: Span


@dataclass(frozen=True, slots=True)
class Kerf:
    """Width in mm of what the tool takes away along a cut."""

    width: Fraction
    at: Span


@dataclass(frozen=True, slots=True)
class Printed:
    """How sheets lie on the mat: with their printed side "up" or "down"."""

    side: str
    at: Span


@dataclass(frozen=True, slots=True)
class Joints:
    """How a part too long for every mat is made of several pieces: "overlap", "strip", or "none" if it may not be."""

    style: str
    at: Span


@dataclass(frozen=True, slots=True)
class Machine:
    """What a script says of the machine beside its mats, by the word of the statement; None where it says nothing."""

    creases: Creases | None = None
    kerf: Kerf | None = None
    printed: Printed | None = None
    joints: Joints | None = None

    def __bool__(self) -> bool:
        return bool(self.statements())

    @property
    def pieces(self) -> bool:
        """Whether a part too long for every mat may be made of several pieces."""
        return self.joints is not None and self.joints.style != "none"

    def over(self, other: Machine) -> Machine:
        """What is said here, and what `other` says of the rest."""
        return Machine(*(getattr(self, word) or getattr(other, word) for word in self.__slots__))

    def statements(self) -> dict[str, Span]:
        """The places of what is said, by the word of the statement."""
        said = ((word, getattr(self, word)) for word in self.__slots__)
        return {word: what.at for word, what in said if what is not None}


@dataclass(frozen=True, slots=True)
class Practice:
    """A workshop default that this script overrides, with the reason."""

    name: Name
    value: Expression
    because: str
    at: Span


@dataclass(frozen=True, slots=True)
class Without:
    """A rule of workshop practice, or a family of them, that this card does not keep, with the reason."""

    name: Word  # such as `weeds.slot-strip`
    because: str
    at: Span


@dataclass(frozen=True, slots=True)
class Require:
    """A rule of the designer's own: `left operator right`, with the reason if one is given."""

    left: Expression
    operator: str  # "<=", ">=" or "="
    right: Expression
    because: str | None
    at: Span


@dataclass(frozen=True, slots=True)
class Prefer:
    """A wish: `largest` or `smallest` of an expression; `least paper` has `least` and the name `paper`."""

    direction: Word
    target: Expression
    at: Span


@dataclass(frozen=True, slots=True)
class Variant:
    """Another version of the card: what takes the place of statements, and of lines of blocks, that are written.

    `papers` are whole, with what a line of the variant leaves out; `settings` are pairs of a block's name and a line.
    """

    name: Word
    cover: Size | None
    mats: tuple[Mat, ...]
    step: Fraction | None  # mm
    papers: tuple[Paper, ...]
    practices: tuple[Practice, ...]
    settings: tuple[tuple[str, Setting], ...]
    at: Span
    machine: Machine = Machine()


@dataclass(frozen=True, slots=True)
class Design:
    """A whole script. Lengths without a unit take `unit`; None means that the card names none.

    A design with free choices (`or`, `optional`) is also the plain one in which the first option of each is taken.
    `edits` change the source's text, so that it says this design: start, end, and what stands there instead.
    """

    source: Source
    title: str
    unit: str | None
    step: Fraction | None  # mm; None means the default of the solver
    papers: tuple[Paper, ...]
    mats: tuple[Mat, ...]
    practices: tuple[Practice, ...]
    blocks: tuple[Block, ...]
    requires: tuple[Require, ...]
    prefers: tuple[Prefer, ...]
    at: Span
    withouts: tuple[Without, ...] = ()
    variants: tuple[Variant, ...] = ()
    variant: str | None = None  # the variant that this design is; None as it is written
    edits: tuple[tuple[int, int, str], ...] = ()
    machine: Machine = Machine()
    merges: tuple[Merge, ...] = ()
