"""Problems of rules by name: what a script asks to do without."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from foldwright.grammar.problem import Label, Problem, nearest
from foldwright.grammar.problems_value import listed
from foldwright.grammar.source import Span


@dataclass(frozen=True)
class UnknownRule(Problem):
    """A `without` line names no rule of this card.

        without weeds.slotstrip because "the weed is glued as well"

    `foldwright check FILE --rules` lists all rules by their names. The first part of a name is the block that
    asks for the rule; a name stands for a whole family too: `tank.left-tab` for all that begin like that.
    """

    code: ClassVar[str] = "unknown-rule"
    name: str
    known: tuple[str, ...]

    def wrong(self) -> str:
        """Name it."""
        return f"this card has no rule called `{self.name}`"

    def hints(self) -> tuple[str, ...]:
        """The nearest, or those of the block, and where all of them are."""
        block = [name for name in self.known if name.startswith(f"{self.name}.")]
        near = (f"name one of its rules: {listed(tuple(block[:6]))}",) if block else nearest(self.name, self.known)
        return (*near, "`foldwright check FILE --rules` lists all rules by their names")


@dataclass(frozen=True)
class CannotWaive(Problem):
    """A `without` line names a rule that no card can do without, or that is written in the script itself.

    Only workshop practice can be waived: least lengths of tabs, strips beside slots and the like. What the
    geometry of folding asks holds whatever anybody writes; a rule of your own is not waived but taken out of the
    script; and in place of a usual range a script writes its own.

        without weeds.rise.usual-most because "a tall weed"

    is said by

        lattice weeds in tank
          rise 60 to 120
    """

    code: ClassVar[str] = "cannot-waive"
    name: str
    why: str  # "geometry", "mat", "own" or "usual"
    owner: str
    word: str
    place: Span | None

    def wrong(self) -> str:
        """Say why not."""
        return f"`{self.name}` cannot be waived: " + {
            "geometry": "it is geometry, and without it the card would not fold, or not close inside its cover",
            "mat": "it is what the machine reaches, and a larger part could not be cut",
            "own": "it is a rule of your own",
            "usual": "it is the usual range of a dimension that the script leaves to the tool",
        }[self.why]

    def hints(self) -> tuple[str, ...]:
        """What to do instead."""
        return ({
            "geometry": "change one of the dimensions that it depends on; `foldwright check FILE --rules` has it in words",
            "mat": "write the `mat` of a larger machine, or give the part less room",
            "own": "take its line out of the script, or change it",
            "usual": f"write a range of your own in the block `{self.owner}`, such as `{self.word} 20 to 90`",
        }[self.why],)

    def related(self) -> tuple[Label, ...]:
        """Where the rule comes from."""
        return () if self.place is None else (Label(self.place, "the rule comes from here"),)


@dataclass(frozen=True)
class WaivedTooMuch(Problem):
    """Without the rules that the script waives, the card that was found cannot be made.

    Geometry checks every card once more, whatever the rules say. Here a habit kept something in order that the
    tool cannot find by itself: a tab that stays on its wall, paper between two slots. Take a `without` line out
    of the script, or give one of the dimensions a narrower range, so that the habit is missed by less.
    """

    code: ClassVar[str] = "waived-too-much"
    names: tuple[str, ...]
    detail: str

    def wrong(self) -> str:
        """Say what does not hold."""
        return f"without {listed(self.names)} the card cannot be made: {self.detail}"

    def hints(self) -> tuple[str, ...]:
        """Less of it."""
        return ("take the `without` line away, or narrow the range of a dimension so that the habit is missed by less",)
