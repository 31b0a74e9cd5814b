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

    `between quay.left and cover.left` has the second panel in `second`.
    """

    how: str
    target: Name | Size
    at: Span
    second: Name | None = None


Argument = Text | Colour | Number | Name | Negative | Binary | Call | Range | Size | Count | Place


@dataclass(frozen=True, slots=True)
class Setting:
    """One line inside a block: a word and what follows it (`wall 50 to 80`, `art "a.svg" width 22`).

    A bare word among the arguments is a `Name` with a path of one.
    """

    word: Word
    arguments: tuple[Argument, ...]
    at: Span


@dataclass(frozen=True, slots=True)
class Block:
    """`ring tank on page` with its settings: one mechanism, or the cover, or a cut-out."""

    keyword: Word
    name: Word | None
    size: Size | None
    place: Place | None
    settings: tuple[Setting, ...]
    at: Span  # the head line only, so that messages underline one line


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper: colour, and its weight in grams per square metre or its caliper in mm, as far as they are given."""

    name: Word
    colour: str
    gsm: Fraction | None
    caliper: Fraction | None
    at: Span


@dataclass(frozen=True, slots=True)
class Mat:
    """What the machine reaches, width by height in mm."""

    width: Fraction
    height: Fraction
    at: Span


@dataclass(frozen=True, slots=True)
class Practice:
    """A workshop default that this script overrides, with the reason."""

    name: Name
    value: Expression
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
class Design:
    """A whole script. Lengths without a unit take `unit`; None means that the card names none."""

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
