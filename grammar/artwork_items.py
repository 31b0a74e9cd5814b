"""What a drawing is made of once it is read: filled shapes, strokes, and what clips them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from foldwright.grammar.artwork_curves import SubPath

if TYPE_CHECKING:
    from fontTools.misc.transform import Transform

    from foldwright.grammar.artwork_pen import Pen


@dataclass(frozen=True, slots=True)
class Shape:
    """One filled element: sub-paths in drawing units (y down), its fill rule, its name in messages.

    Of it only what lies inside all its `clips` is seen. A `piece` is one of many that a stroke is made of.
    """

    paths: tuple[SubPath, ...]
    evenodd: bool
    name: str
    clips: tuple[Clip, ...] = ()
    piece: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Clip:
    """A clip path: what lies in any of its shapes stays. Equal only to itself, as many elements can share one."""

    shapes: tuple[Shape, ...]


@dataclass(frozen=True, slots=True)
class Stroke:
    """One stroked element: sub-paths in its own coordinates, and the map of these to drawing units.

    A `pen` makes an outline of it; without one it is a line to be drawn.
    """

    paths: tuple[SubPath, ...]
    matrix: Transform
    pen: Pen | None
    name: str
    clips: tuple[Clip, ...] = ()


Item = Shape | Stroke


@dataclass(frozen=True, slots=True)
class Drawing:
    """All that is seen of a drawing, in its order, and how many mm one of its units is, across and down."""

    items: tuple[Item, ...]
    unit: tuple[float, float]

    @property
    def shapes(self) -> tuple[Shape, ...]:
        """What is filled."""
        return tuple(item for item in self.items if isinstance(item, Shape))

    @property
    def strokes(self) -> tuple[Stroke, ...]:
        """What is stroked and becomes an outline."""
        return tuple(item for item in self.items if isinstance(item, Stroke) and item.pen is not None)

    @property
    def lines(self) -> tuple[Stroke, ...]:
        """What is stroked and not filled, to be drawn."""
        return tuple(item for item in self.items if isinstance(item, Stroke) and item.pen is None)
