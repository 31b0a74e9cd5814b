"""Problems of drawings, and of panels that fall apart where paper is cut away.

They are raised by the stages after the text has been read, and kept here so that one place holds all words.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from foldwright.grammar.problem import Problem


@dataclass(frozen=True)
class ArtworkMissing(Problem):
    """The file of a drawing is not there or may not be opened.

        cutout crab
          art "art/crub.svg" width 22

    The path starts from the folder of the script.
    """

    code: ClassVar[str] = "artwork-missing"
    path: str
    reason: str

    def wrong(self) -> str:
        """Name the file and the cause."""
        return f"the drawing `{self.path}` cannot be opened: {self.reason}"

    def hints(self) -> tuple[str, ...]:
        """Where paths start."""
        return ("check the path: it starts from the folder of the script, and stays inside it",)


@dataclass(frozen=True)
class ArtworkUnreadable(Problem):
    """A drawing was opened, but it is not an SVG that can be cut.

    The file may be damaged, be another kind of picture, or hold what a blade cannot follow, such as a
    photograph. Save the drawing as plain SVG, with its outlines as paths.
    """

    code: ClassVar[str] = "artwork-unreadable"
    path: str
    why: str

    def wrong(self) -> str:
        """Name the file and the cause."""
        return f"the drawing `{self.path}` cannot be used: {self.why}"

    def hints(self) -> tuple[str, ...]:
        """Save it again."""
        return ("save the drawing as plain SVG with its outlines as closed paths",)


@dataclass(frozen=True)
class ArtworkOpen(Problem):
    """An outline of a drawing does not come back to where it began, so it cuts nothing out.

    Close the path in the drawing program; the message gives the place of the gap.
    """

    code: ClassVar[str] = "artwork-open"
    path: str
    where: str

    def wrong(self) -> str:
        """Name the file and the gap."""
        return f"an outline in the drawing `{self.path}` is not closed: {self.where}"

    def hints(self) -> tuple[str, ...]:
        """Close it."""
        return ("close the path in the drawing program",)


@dataclass(frozen=True)
class ArtworkStroked(Problem):
    """A drawing has a stroked line where only what is filled, or lies on what is filled, can be used.

    Strokes of what is not filled are drawn on the part; they cut nothing. Behind the width, the word
    `strokes` makes all strokes part of the outline, as wide as they are drawn:

        cutout reed
          art "art/reed.svg" width 22 strokes

    Or fill the shape in the drawing program.
    """

    code: ClassVar[str] = "artwork-stroked"
    path: str
    where: str

    def wrong(self) -> str:
        """Name the file and the line."""
        return f"a line in the drawing `{self.path}` is no outline: {self.where}"

    def hints(self) -> tuple[str, ...]:
        """Take strokes for outlines, or fill."""
        return ("write `strokes` at the end of the line `art`, if its strokes are to be cut out as wide as they are drawn",
                "or fill the shape in the drawing program")


@dataclass(frozen=True)
class ArtworkCrossing(Problem):
    """An outline of a drawing crosses itself, so that inside and outside cannot be told apart.

    Unite the shapes in the drawing program, so that one simple outline is left; the message gives the place.
    """

    code: ClassVar[str] = "artwork-crossing"
    path: str
    where: str

    def wrong(self) -> str:
        """Name the file and the place."""
        return f"an outline in the drawing `{self.path}` crosses itself: {self.where}"

    def hints(self) -> tuple[str, ...]:
        """Unite the shapes."""
        return ("unite the overlapping shapes in the drawing program",)


@dataclass(frozen=True)
class FallsApart(Problem):
    """What is cut out of a panel goes from edge to edge, so that the panel falls into pieces.

        window gap on cover.left
          at     60 x 85
          width  120
          height 20

    Make the hole smaller, or keep the strips of paper that workshop practice asks for.
    """

    code: ClassVar[str] = "falls-apart"
    panel: str
    pieces: int
    holes: tuple[str, ...]

    def wrong(self) -> str:
        """Name the panel and what cuts it."""
        left = f"falls into {self.pieces} pieces" if self.pieces else "is cut away altogether"
        return f"{self.panel} {left} where {' and '.join(self.holes)} {'is' if len(self.holes) == 1 else 'are'} cut out of it"

    def hints(self) -> tuple[str, ...]:
        """Leave a strip."""
        return ("make what is cut out smaller, or leave a strip of paper between it and the edges",)
