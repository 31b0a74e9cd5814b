"""Problems of what a script says about the machine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from foldwright.grammar.problem import Label, Problem


@dataclass(frozen=True)
class OutOfBounds(Problem):
    """A measure of the machine or of its lines is smaller or larger than can be meant.

        kerf 15 mm

    A kerf is what the tool takes away: 0 for a drag blade, a few tenths of a millimetre for a laser. A bridge of
    a perforated crease under 1 mm tears.

        kerf 0.15 mm
    """

    code: ClassVar[str] = "out-of-bounds"
    what: str
    value: str
    least: str
    most: str

    def wrong(self) -> str:
        """Give the value and what is possible."""
        return f"{self.what} is {self.value}, but has to be from {self.least} to {self.most}"

    def hints(self) -> tuple[str, ...]:
        """Write another."""
        return (f"write a value from {self.least} to {self.most}",)


@dataclass(frozen=True)
class LostToKerf(Problem):
    """A slot or a hole is no wider than the line that the tool burns away, so it cannot be cut to measure.

        kerf 0.9 mm

    Slots are drawn narrower by the kerf, outlines wider. A slot that is nothing but kerf would come out too wide.
    Give the kerf as measured on a scrap, draw the hole wider, or cut with a blade:

        kerf 0.15 mm
    """

    code: ClassVar[str] = "lost-to-kerf"
    kerf: str
    parts: tuple[str, ...]

    def wrong(self) -> str:
        """Name the parts."""
        return f"with a kerf of {self.kerf}, slots or holes close in the drawing of {', '.join(self.parts)}"

    def hints(self) -> tuple[str, ...]:
        """What can be done."""
        return ("measure the kerf on a scrap of this paper: cut a square of 20 mm, the hole is larger than the square by "
                "twice the kerf", "draw these slots and holes wider, or cut this card with a drag blade (`kerf 0`)")


@dataclass(frozen=True)
class NoSeam(Problem):
    """A part is too long for every mat, and there is no place where it could be cut in pieces and joined.

        joints overlap

    A seam runs straight across a part, from edge to edge. It keeps off creases, slits, slots, holes, glued
    places and details of the outline, and the pieces have to fit the mat. A crease that runs along the whole
    part leaves no place. Give the part less room or the machine a larger mat, set what is folded, cut or glued
    farther apart, or need less room for a seam:

        practice joint.margin 2 because "thin paper"
    """

    code: ClassVar[str] = "no-seam"
    part: str
    size: str
    margin: str
    where: Label | None = None

    def wrong(self) -> str:
        """Name the part and its size."""
        return (f"{self.part} ({self.size}) fits no mat and cannot be joined of pieces: every seam would come nearer than "
                f"{self.margin} to a crease, slit, slot, hole, glued place or detail of its outline, or leave a piece too large")

    def hints(self) -> tuple[str, ...]:
        """What can be done."""
        return ("write the `mat` of a larger machine, or give the part less room",
                "set what is folded, cut or glued on it farther apart, or write a smaller `practice joint.overlap` or "
                "`practice joint.margin`")

    def related(self) -> tuple[Label, ...]:
        """Where the part comes from."""
        return () if self.where is None else (self.where,)


@dataclass(frozen=True)
class AgainstGrain(Problem):
    """A part fits the machine only if it lies across the grain that its paper is said to have.

        paper ink colour #22304a weight 216 gsm grain along

    Folds are clean along the grain, so a part lies with most of its creases along it and turns only by half a
    turn. Put the paper into the machine the other way and say so, use a larger mat, or leave the grain out:

        paper ink colour #22304a weight 216 gsm grain across
    """

    code: ClassVar[str] = "against-grain"
    paper: str
    parts: tuple[str, ...]

    def wrong(self) -> str:
        """Name the parts."""
        one = len(self.parts) == 1
        return f"with the grain of {self.paper}, {', '.join(self.parts)} {'does' if one else 'do'} not fit the mat"

    def hints(self) -> tuple[str, ...]:
        """What can be done."""
        return ("use sheets whose grain runs the other way, give a larger mat, or leave `grain` out and let it be folded across",)


@dataclass(frozen=True)
class PackerMissing(Problem):
    """The call asks for fewer sheets with `--tighten`, but the packer that looks for them is not installed.

    The usual layout needs nothing more. Looking longer for fewer sheets is done by the package spyrrow, which
    is installed only if asked for: `pip install spyrrow`. Sheets that were found once are kept
    in a file beside the script, and are used without it.
    """

    code: ClassVar[str] = "packer-missing"

    def wrong(self) -> str:
        """Name the package."""
        return "`--tighten` needs the package spyrrow, which is not installed here"

    def hints(self) -> tuple[str, ...]:
        """Install it, or do without."""
        return ('install it with `pip install spyrrow`', "or leave `--tighten` out: the usual layout needs no more")
