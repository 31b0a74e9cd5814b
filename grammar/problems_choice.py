"""Problems of free choices: `or`, `optional` and ranges of counts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from foldwright.grammar.problem import Problem


@dataclass(frozen=True)
class ChoiceNotHere(Problem):
    """A choice stands where there is none: `or`, or a range of counts, in a line that says one thing only.

        card "Tide pool"
          units mm or cm

    `or` stands between what may follow a word in the block of the cover or of a mechanism, and between the
    places of a mechanism; the tool takes what suits the card best. Of the rest, write one:

        card "Tide pool"
          units mm
    """

    code: ClassVar[str] = "choice-not-here"
    where: str

    def wrong(self) -> str:
        """Say where there is no choice."""
        return f"{self.where} one value stands, not several to choose from"

    def hints(self) -> tuple[str, ...]:
        """Where there is one."""
        return ("keep one of them", "`or` stands in the blocks of the cover and of mechanisms: `layers 3 by 3 or 4 by 4`")


@dataclass(frozen=True)
class OptionalNotHere(Problem):
    """`optional` stands in front of something that every card has to have, or that is no mechanism.

        optional mat 300 x 300

    Only a mechanism, a cut-out or a window can be left out if it does not fit:

        optional vfold gull on spine
          ridge 60 to 80
    """

    code: ClassVar[str] = "optional-not-here"
    keyword: str

    def wrong(self) -> str:
        """Name it."""
        return f"`{self.keyword}` cannot be optional: only a mechanism, a cut-out or a window can"

    def hints(self) -> tuple[str, ...]:
        """Take it away."""
        return ("take `optional` away",)


@dataclass(frozen=True)
class OptionRefused(Problem):
    """One of the options that a script gives cannot be taken, and no other one leads to a card either.

        lattice weeds in tank
          layers 2 to 3 by 2

        cutout crab
          pair on weeds.a3 at top

    With two layers there is no `weeds.a3` that the crab could be glued to. Another message tells what is wrong
    with the other options.
    """

    code: ClassVar[str] = "option-refused"
    given: str
    why: str
    advice: tuple[str, ...] = ()

    def wrong(self) -> str:
        """Name the option, and say why."""
        return f"with {self.given}, {self.why}"

    def hints(self) -> tuple[str, ...]:
        """What would help, or another option."""
        return self.advice or ("give another option, or take this one away",)


@dataclass(frozen=True)
class TooManyOptions(Problem):
    """One line leaves more open than can be looked through.

        lattice weeds in tank
          layers 1 to 500 by 1 to 500

    Every option is a card of its own that has to be found. Keep those that you would really make:

        lattice weeds in tank
          layers 2 to 4 by 2 to 4
    """

    code: ClassVar[str] = "too-many-options"
    most: int

    def wrong(self) -> str:
        """Say how many are."""
        return f"this line leaves more than {self.most} options open"

    def hints(self) -> tuple[str, ...]:
        """Keep fewer."""
        return ("keep the few that you would really make",)
