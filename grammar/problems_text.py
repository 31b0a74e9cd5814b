"""Problems of the text of a script: its lines, words and statements."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from foldwright.grammar.problem import Label, Problem
from foldwright.grammar.source import Span


def either(words: tuple[str, ...]) -> str:
    """Words joined with commas and a last `or`."""
    if len(words) < 2:
        return "".join(words)
    return ", ".join(words[:-1]) + " or " + words[-1]


@dataclass(frozen=True)
class SyntaxFault(Problem):
    """A line is not built as a statement or a setting is.

    The place underlined is the first word or sign that does not fit; the message lists what could stand
    there.

        require reef.height > 20

    A rule compares two values with `<=`, `>=` or `=`:

        require reef.height >= 20
    """

    code: ClassVar[str] = "syntax-error"
    found: str
    expected: tuple[str, ...]
    advice: tuple[str, ...] = ()

    def wrong(self) -> str:
        """Say what was expected and what is there."""
        if not self.expected:
            return f"{self.found} does not fit here"
        return f"{either(self.expected)} was expected here, not {self.found}"

    def hints(self) -> tuple[str, ...]:
        """Advice for the common slips, or what to write."""
        if self.advice:
            return self.advice
        if not self.expected:
            return ("take it away",)
        if self.expected == ("the end of the line",):
            return ("take away the rest of the line, or put it on a line of its own",)
        return (f"write {either(self.expected)} here",)


@dataclass(frozen=True)
class UnevenIndentation(Problem):
    """A line is indented, but not as the lines around it.

    What belongs to a block is indented below its first line, and all lines of one block by the same amount;
    nothing goes deeper than that. A tab and blanks are not the same amount, even if they look it.

        card "Tide pool"
          units mm
            step 0.5

    Here `step` has to stand straight below `units`:

        card "Tide pool"
          units mm
          step 0.5
    """

    code: ClassVar[str] = "uneven-indentation"
    how: str
    first: Span | None

    def wrong(self) -> str:
        """Say how the indentation differs."""
        return f"this line is indented {self.how}"

    def hints(self) -> tuple[str, ...]:
        """Line it up."""
        if self.first is None:
            return ("begin the line at the margin, or put the statement that it belongs to above it",)
        return ("indent all lines of a block by the same blanks or tabs",)

    def related(self) -> tuple[Label, ...]:
        """The line that sets the amount."""
        return (Label(self.first, "this line sets the indentation of the block"),) if self.first else ()


@dataclass(frozen=True)
class NestedTooDeep(Problem):
    """An expression is built of more layers than the compiler follows.

    Every parenthesis, minus and operation adds a layer, so a sum of more than a hundred terms counts too. The
    limit is 100, far beyond what a card needs; a script that reaches it was most likely made by a program
    gone astray.

    Name a part of the expression as a dimension of its own, or shorten it.
    """

    code: ClassVar[str] = "nested-too-deep"
    limit: int

    def wrong(self) -> str:
        """Give the limit."""
        return f"this expression has more than {self.limit} layers of parentheses and operations"

    def hints(self) -> tuple[str, ...]:
        """Shorten it."""
        return ("take away parentheses, or split the expression into several rules",)


@dataclass(frozen=True)
class BadText(Problem):
    """A quoted text cannot be used.

    It is not closed, empty, too long, or holds characters that cannot be printed. Text stands between
    straight double quotes on one line.

        card "Tide pool

    The closing quote is missing:

        card "Tide pool"
    """

    code: ClassVar[str] = "bad-text"
    what: str
    why: str
    advice: str

    def wrong(self) -> str:
        """Say what is wrong with it."""
        return f"{self.what} {self.why}"

    def hints(self) -> tuple[str, ...]:
        """What to do, as given."""
        return (self.advice,)


@dataclass(frozen=True)
class UnclearMinus(Problem):
    """A minus has a blank before it and none behind, so it could subtract or begin the next value.

    Words and values of a setting stand side by side, and one reader would take this for `width` and -22,
    another for `width` less 22:

        cutout crab
          art "art/crab.svg" width -22

    Write parentheses round a negative value, or a blank on both sides of a minus that subtracts:

        cutout crab
          art "art/crab.svg" width (-22)
    """

    code: ClassVar[str] = "unclear-minus"
    left: str
    right: str

    def wrong(self) -> str:
        """Give both readings."""
        return f"this minus could subtract, or make `{self.right}` negative"

    def hints(self) -> tuple[str, ...]:
        """Both ways to write it."""
        return (
            f"to subtract, write `{self.left} - {self.right}`",
            f"for a negative value, write `(-{self.right})`",
        )


@dataclass(frozen=True)
class MissingStatement(Problem):
    """A statement that every card needs is not there: its title or its cover.

        cover 130 mm x 180 mm

    A card begins with its title:

        card "Tide pool"
        cover 130 mm x 180 mm
    """

    code: ClassVar[str] = "missing-statement"
    what: str
    example: str

    def wrong(self) -> str:
        """Name the statement."""
        return f"this script has no `{self.what}` line"

    def hints(self) -> tuple[str, ...]:
        """Show one."""
        return (f"add a line such as `{self.example}`",)


@dataclass(frozen=True)
class StatementTwice(Problem):
    """A statement that may stand once only is there a second time.

    A script is one card with one cover.

        cover 130 mm x 180 mm
        cover 100 mm x 100 mm

    Keep one of them.
    """

    code: ClassVar[str] = "statement-twice"
    what: str
    first: Span

    def wrong(self) -> str:
        """Name the statement."""
        return f"a script has one `{self.what}` line, and this is another"

    def hints(self) -> tuple[str, ...]:
        """Keep one."""
        return (f"keep one `{self.what}` and take the other away",)

    def related(self) -> tuple[Label, ...]:
        """The first of them."""
        return (Label(self.first, "the first one is here"),)


@dataclass(frozen=True)
class LinesUnexpected(Problem):
    """Lines are indented below a statement that is complete in one line.

    Only `card` and blocks such as `cover` have lines of their own.

        mat 300 mm x 300 mm
          creases perforated

    Take the lines away, or begin them at the margin.
    """

    code: ClassVar[str] = "lines-unexpected"
    keyword: str

    def wrong(self) -> str:
        """Name the statement."""
        return f"`{self.keyword}` is a statement of one line and has no lines of its own"

    def hints(self) -> tuple[str, ...]:
        """Move them."""
        return ("take the indented lines away, or move them into the block that they belong to",)


@dataclass(frozen=True)
class NameTwice(Problem):
    """Two papers, or two blocks, have the same name, so that nothing tells which one is meant.

        paper ink  colour #22304a  weight 216 gsm
        paper ink  colour #9fc6c9  weight 216 gsm

    Give one of them another name:

        paper ink    colour #22304a  weight 216 gsm
        paper glass  colour #9fc6c9  weight 216 gsm
    """

    code: ClassVar[str] = "name-twice"
    name: str
    first: Span

    def wrong(self) -> str:
        """Name the name."""
        return f"the name `{self.name}` is given twice"

    def hints(self) -> tuple[str, ...]:
        """Rename."""
        return (f"give one of the two another name, such as `{self.name}2`",)

    def related(self) -> tuple[Label, ...]:
        """The first place."""
        return (Label(self.first, "first given here"),)
