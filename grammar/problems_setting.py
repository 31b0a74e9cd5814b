"""Problems of settings: missing, doubled or not known, and values that do not belong to them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from foldwright.grammar.problem import Label, Problem
from foldwright.grammar.problems_value import listed, suggested
from foldwright.grammar.source import Span


@dataclass(frozen=True)
class ValueMissing(Problem):
    """A word stands without the value that it needs.

        card "Tide pool"
          units

    Write the value behind it:

        card "Tide pool"
          units mm
    """

    code: ClassVar[str] = "value-missing"
    what: str
    example: str = ""  # a whole setting; without it, `what` is the word that lacks a value

    def wrong(self) -> str:
        """Name what is missing."""
        return f"{self.what} is missing" if self.example else f"`{self.what}` has no value"

    def hints(self) -> tuple[str, ...]:
        """Show one."""
        if self.example:
            return (f"write for example `{self.example}`",)
        return (f"write a value behind `{self.what}`",)


@dataclass(frozen=True)
class ValueWrong(Problem):
    """A value is of the wrong kind: a word for a number, a number for a text, or a name for a plain number.

        card "Tide pool"
          units mm
          step "fine"

    The message says what is wanted:

        card "Tide pool"
          units mm
          step 0.5
    """

    code: ClassVar[str] = "value-wrong"
    what: str
    wanted: str

    def wrong(self) -> str:
        """Say what is wanted."""
        return f"{self.what} has to be {self.wanted}"

    def hints(self) -> tuple[str, ...]:
        """Write it."""
        return (f"write {self.wanted} here",)


@dataclass(frozen=True)
class ValueSurplus(Problem):
    """A line goes on after everything that it needs.

        card "Tide pool"
          units mm cm

    Take the rest away:

        card "Tide pool"
          units mm
    """

    code: ClassVar[str] = "value-surplus"
    what: str

    def wrong(self) -> str:
        """Name what it follows."""
        return f"nothing more can follow {self.what}"

    def hints(self) -> tuple[str, ...]:
        """Take it away."""
        return ("take this away",)


@dataclass(frozen=True)
class UnknownSetting(Problem):
    """A block or statement has no setting of this name.

        paper ink  color #22304a  weight 216 gsm

    The nearest known one is suggested:

        paper ink  colour #22304a  weight 216 gsm
    """

    code: ClassVar[str] = "unknown-setting"
    name: str
    keyword: str
    known: tuple[str, ...]

    def wrong(self) -> str:
        """Name both."""
        return f"`{self.keyword}` has no setting `{self.name}`"

    def hints(self) -> tuple[str, ...]:
        """The nearest, or all."""
        return suggested(self.name, self.known)


@dataclass(frozen=True)
class UnknownChoice(Problem):
    """A setting takes one of a few words, and this is none of them.

        prefer biggest reef.height

    The message lists them:

        prefer largest reef.height
    """

    code: ClassVar[str] = "unknown-choice"
    name: str
    setting: str
    known: tuple[str, ...]

    def wrong(self) -> str:
        """List the choices."""
        return f"`{self.setting}` takes {listed(self.known)}, not `{self.name}`"

    def hints(self) -> tuple[str, ...]:
        """The nearest, or all."""
        return suggested(self.name, self.known)


@dataclass(frozen=True)
class SettingMissing(Problem):
    """A block or statement lacks a setting that has no default.

        paper ink  weight 216 gsm

    Add it:

        paper ink  colour #22304a  weight 216 gsm
    """

    code: ClassVar[str] = "setting-missing"
    keyword: str
    setting: str
    example: str

    def wrong(self) -> str:
        """Name both."""
        return f"this `{self.keyword}` needs `{self.setting}`"

    def hints(self) -> tuple[str, ...]:
        """Show one."""
        return (f"write for example `{self.example}`",)


@dataclass(frozen=True)
class SettingTwice(Problem):
    """The same setting is given twice in one place.

        card "Tide pool"
          units mm
          units in

    Keep one of them:

        card "Tide pool"
          units mm
    """

    code: ClassVar[str] = "setting-twice"
    name: str
    first: Span

    def wrong(self) -> str:
        """Name it."""
        return f"`{self.name}` is set twice"

    def hints(self) -> tuple[str, ...]:
        """Keep one."""
        return ("keep one of the two",)

    def related(self) -> tuple[Label, ...]:
        """The first one."""
        return (Label(self.first, "first set here"),)


@dataclass(frozen=True)
class ReasonMissing(Problem):
    """A workshop default is changed without a reason.

    Whoever cuts the card later has to know why it departs from usual practice.

        practice tab.depth 10

    Say why:

        practice tab.depth 10 because "the school's glue sticks are wide"
    """

    code: ClassVar[str] = "reason-missing"
    what: str

    def wrong(self) -> str:
        """Name what lacks a reason."""
        return f"{self.what} is changed without a reason"

    def hints(self) -> tuple[str, ...]:
        """Add it."""
        return ('write `because "..."` at the end of the line, and say why',)
