"""Problems of a card that is solved, but does not open and close."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from foldwright.grammar.problem import Label, Problem

# What helps, by what was found. The words are for the designer; each names something that the script can say.
_HELPS = {
    "passes-through": ("move the two apart (`at`), make one of them smaller, or put one on the other",),
    "leaves-cover": ("make it smaller, move it towards the spine or the middle of the page, or give a larger cover",),
    "past-flat": ("make the panels at this crease of more equal size, or turn the mechanism round",),
    "holds-little": ("make it larger, or put more of it on its panel",),
    "dead-point": ("give it longer walls, or put its feet nearer to the crease",),
}


@dataclass(frozen=True)
class WouldJam(Problem):
    """The card has dimensions that keep all rules, but its parts get in each other's way as it opens.

        tent pier on spine
          paper sand
          at 40

        cutout mast
          paper sand
          art "art/boat.svg" width 80
          glue on pier.left at centre

    Panels are taken as flat and stiff; parts that touch where they are joined do not count. `foldwright swing`
    shows all that happens between closed and open, with places and angles.
    """

    code: ClassVar[str] = "would-jam"
    kind: str
    words: str
    places: tuple[Label, ...] = ()

    def wrong(self) -> str:
        """What happens, where and when."""
        return self.words

    def hints(self) -> tuple[str, ...]:
        """What helps against this kind."""
        return _HELPS[self.kind]

    def related(self) -> tuple[Label, ...]:
        """The other part's place."""
        return self.places
