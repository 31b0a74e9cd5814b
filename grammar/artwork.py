"""Artwork: the silhouette of an SVG drawing as one outline that can be cut.

>>> from pathlib import Path
>>> star = read_artwork(Path("art/star.svg"), root=Path("examples"))
>>> [round(edge, 6) for edge in star.scaled(30).bounds][::2]
[0.0, 30.0]

The picture is what is filled, all shapes joined, whatever their colour; the page edge does not clip. Strokes of what is
not filled are lines drawn on it; if they are asked for, all strokes are part of the picture. A drawing is input from
anywhere, so it is read within limits, and from its own folder only.
"""

from __future__ import annotations

import stat
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from foldwright.grammar.artwork_curves import NO_INK, Ink
from foldwright.grammar.artwork_values import ArtworkFault, unreadable

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from foldwright.grammar.artwork_curves import Curve

__all__ = ["LARGEST_FILE", "Artwork", "ArtworkFault", "read_artwork"]

LARGEST_FILE = 1_000_000  # bytes


@dataclass(frozen=True)
class Artwork:
    """One simple outline, holes allowed.

    `outline` is in units of its own width, y up, with the lower left corner of its bounding box at (0, 0).
    `curves` are the lines and curves that it was made of, in the same units (some may lie inside it); `ink` is drawn on it.
    `width` and `height` are its size in mm as drawn; only their ratio matters to a card. `path` is the file.
    """

    outline: Polygon
    width: float
    height: float
    path: Path
    curves: tuple[Curve, ...] = ()
    ink: Ink = NO_INK

    @property
    def aspect(self) -> float:
        """Height over width."""
        return float(self.outline.bounds[3])

    def scaled(self, width: float) -> Polygon:
        """The outline at that width in mm, the lower left corner of its bounding box at (0, 0)."""
        import shapely

        return shapely.transform(self.outline, lambda points: points * width)


def read_artwork(path: Path, root: Path, strokes: bool = False) -> Artwork:
    """Artwork of an SVG file; `path` is relative to the folder `root`, and under it once links are followed.

    With `strokes` they are part of the outline, as wide as they are drawn.

    Raises `ArtworkFault` and nothing else, whatever the file holds.
    """
    from foldwright.grammar.artwork_outline import outline_of
    from foldwright.grammar.artwork_svg import read_drawing

    found = inside(path, root)
    made = outline_of(read_drawing(content(found), strokes))
    return Artwork(made.outline, made.width, made.height, found, made.curves, made.ink)


def inside(path: Path, root: Path) -> Path:
    """The file under the folder `root` that a path leads to; raises `ArtworkFault` if it leads elsewhere."""
    try:
        folder = root.resolve()
        found = (folder / path).resolve()
    except (OSError, RuntimeError, ValueError):  # a loop of links; a zero byte in the name
        raise ArtworkFault("missing", "its name does not lead to a file") from None
    if not found.is_relative_to(
        folder
    ):  # asked before the file is touched: what lies outside is nobody's business
        raise ArtworkFault("missing", "it lies outside the folder of the card; copy it into that folder")
    return found


def content(path: Path, most: int = LARGEST_FILE) -> bytes:
    """What is in a file of at most so many bytes; raises `ArtworkFault`."""
    try:
        if not stat.S_ISREG(path.stat().st_mode):  # a folder, or a pipe that would never end
            raise ArtworkFault("missing", "it is not a file")
        with path.open("rb") as file:
            data = file.read(most + 1)
    except (FileNotFoundError, NotADirectoryError):
        raise ArtworkFault("missing", "there is no such file") from None
    except OSError as error:
        raise ArtworkFault("missing", (error.strerror or "it cannot be opened").lower()) from None
    if len(data) > most:
        raise unreadable(f"it is larger than {most // 1000} kB; simplify it")
    return data
