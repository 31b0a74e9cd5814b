"""The constraint model: what must hold, why, and what is wished for. It knows expressions, not mechanisms."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from foldwright.grammar.source import Span
from foldwright.solver.expression import Expr, Variable


class Kind(StrEnum):
    """Who asks for a rule: the geometry of folding, workshop practice, or the designer."""

    GEOMETRY = "geometry"
    PRACTICE = "practice"
    DESIGNER = "designer"


@dataclass(frozen=True, eq=False)
class Rule:
    """`left operator right`, in mm or degrees, with the reason why.

    `name` is unique in a model ("weeds.closed-fit"). `sentence` says what the rule asks, for a designer; `{left}` and
    `{right}` in it stand for the two sides as numbers with unit. Two rules are equal only if they are the same object.
    """

    name: str
    kind: Kind
    left: Expr
    operator: str  # "<=", ">=" or "="
    right: Expr
    sentence: str
    at: tuple[Span, ...] = field(default=(), compare=False)
    angle: bool = False  # the two sides are degrees, not mm
    still: tuple[Expr, Expr] | None = None  # sides that geometry asks for even where a script waives this habit


@dataclass(frozen=True)
class Waived:
    """A rule of workshop practice that the script does without: its reason, and where it says so."""

    rule: Rule
    because: str
    at: Span


@dataclass(frozen=True, eq=False)
class Wish:
    """Make `target` as large (`largest` True) or as small as possible.

    A wish is measured in whole multiples of `grain` (mm, degrees or mm²): a smallest target is rounded up to it, a
    largest one down; two answers that agree after rounding are equally good.
    """

    text: str
    target: Expr
    largest: bool
    grain: Fraction
    at: Span | None = None
    dimension: str = "length"  # "length", "angle", "area" or "plain"


@dataclass(frozen=True)
class Model:
    """Variables in the order of declaration, rules, and wishes in the order of their weight."""

    variables: tuple[Variable, ...]
    rules: tuple[Rule, ...]
    wishes: tuple[Wish, ...] = ()
    waived: tuple[Waived, ...] = ()  # not among the rules


@dataclass(frozen=True)
class WishResult:
    """What a wish came to: `value` reached, `bound` proved unbeatable; both multiples of the wish's grain."""

    wish: Wish
    value: Fraction
    bound: Fraction

    @property
    def proved(self) -> bool:
        """True if no answer does better."""
        return self.value == self.bound


@dataclass(frozen=True)
class Solution:
    """Every variable's value by name, exact (mm or degrees), and how far each wish went."""

    values: dict[str, Fraction]
    wishes: tuple[WishResult, ...]


@dataclass(frozen=True)
class Conflict:
    """The rules cannot hold together. `sets` are minimal: without any one member, the rest of a set can hold.

    They stand for conflicts that share no rule (but for those of the cover, on which everything stands), each by its
    smallest set, the smallest first. `others` has for each of them the further minimal sets that were met and share
    rules with it. `unsure` are the places in `sets` of sets that the limits did not suffice to prove minimal.
    `corrections` are sets of rules without which all others can hold, of the fewest rules first. `complete` says that
    there are no other minimal sets.
    """

    sets: tuple[tuple[Rule, ...], ...]
    others: tuple[tuple[tuple[Rule, ...], ...], ...] = ()
    unsure: tuple[int, ...] = ()
    corrections: tuple[tuple[Rule, ...], ...] = ()
    complete: bool = False


@dataclass(frozen=True)
class GaveUp:
    """Neither an answer nor a conflict within the limit; `reason` says which limit."""

    reason: str


Outcome = Solution | Conflict | GaveUp
