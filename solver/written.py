"""A number that a designer wrote: where it stands, what it counts, and how another value would be written there.

A change of the script replaces the characters of a number and nothing else, so that comments and layout stay. The grid on
which another value is looked for goes out from the value as written, in steps of a size that a designer would write.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import floor

from foldwright.grammar import design as ast
from foldwright.grammar.reader import read_text
from foldwright.grammar.source import Span
from foldwright.solver.notation import number_text

Edit = tuple[int, int, str]  # replace the characters from .. to by text

FIXED, LEAST, MOST, INSIDE, PLACE = "fixed", "least", "most", "inside", "place"
REQUIRE, PRACTICE, CALIPER, WEIGHT, MAT, COUNT = "require", "practice", "caliper", "weight", "mat", "count"

# Values beyond these are no paper craft any more: mm, degrees; calipers from tissue to thin board, in mm.
LONGEST, TURN = Fraction(2000), Fraction(360)
CALIPERS = Fraction(1, 20), Fraction(1)


@dataclass(frozen=True)
class Written:
    """A number in a script.

    `value` counts `unit` (what stands behind the number, or else what the card means: a length unit, "°", "gsm", "lb", or
    "" for plain numbers, counts and areas). `size` are the mm or degrees in one of the unit. `step` is the grid of other
    values, which go from `least` to `most`, in the same unit. `role` says what the number does, `owner` is the block and
    setting (`tank.wall`), the practice or the paper that it belongs to, or empty. `shown` is the piece of the script that
    is shown with a change of it.
    """

    at: Span
    value: Fraction
    unit: str
    dimension: str  # "length", "angle", "area", "plain", "count" or "weight"
    role: str
    step: Fraction
    least: Fraction
    most: Fraction
    what: str
    short: str
    shown: Span
    owner: str = ""
    size: Fraction = Fraction(1)

    @property
    def down(self) -> int:
        """Grid steps from the value down to the least."""
        return max(0, floor((self.value - self.least) / self.step))

    @property
    def up(self) -> int:
        """Grid steps from the value up to the most."""
        return max(0, floor((self.most - self.value) / self.step))

    def moved(self, steps: int) -> Fraction:
        """The value some grid steps away from the one written."""
        return self.value + steps * self.step

    def text(self, value: Fraction) -> str:
        """Another value in the notation of the one written: its unit, and inches as fractions."""
        return number_text(self.at.text, value, inches=self.unit == "in")

    def edit(self, value: Fraction) -> Edit:
        """The change of the script that writes another value."""
        return self.at.start, self.at.end, self.text(value)


@dataclass(frozen=True)
class NamedPaper:
    """The paper that a block names, and the names of the others that are declared."""

    at: Span
    name: str
    others: tuple[str, ...]
    owner: str
    shown: Span


def edited_text(text: str, edits: Sequence[Edit]) -> str:
    """A text with some changes made."""
    for start, end, new in sorted(edits, reverse=True):
        text = text[:start] + new + text[end:]
    return text


def edited(design: ast.Design, edits: Sequence[Edit]) -> ast.Design:
    """The design that the script says after some changes; of the same variant, and with the same choices made.

    Raises Refused as reading a file does.
    """
    from foldwright.solver.variants import varied

    text = edited_text(design.source.text, [*design.edits, *edits])
    read = read_text(text, design.source.name, design.source.folder)
    for variant in read.variants:
        if variant.name.text == design.variant:
            return varied(read, variant)
    return read


def says_all(design: ast.Design) -> bool:
    """Whether a design is what its script says when it is read again, so that changes of the text change nothing else.

    It is not if a command gave it another cover, mat or paper, or if choices were made for it.
    """
    again = edited(design, ())
    return replace(again, title=design.title, variant=design.variant) == design


def papers(design: ast.Design) -> tuple[NamedPaper, ...]:
    """The papers named in blocks, where others are declared."""
    names = [paper.name.text for paper in design.papers]
    found = []
    for block in design.blocks:
        for setting in block.settings:
            if setting.word.text != "paper" or len(setting.arguments) != 1 or not own(setting.at, design):
                continue
            name = setting.arguments[0]
            if isinstance(name, ast.Name) and name.text in names:
                others = tuple(other for other in names if other != name.text)
                found.append(NamedPaper(name.at, name.text, others, (block.name or block.keyword).text, setting.at))
    return tuple(found)


def own(at: Span, design: ast.Design) -> bool:
    """Whether a place is one of this script, and not of what a command said."""
    return at.source is design.source
