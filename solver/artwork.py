"""Artwork inside the model: an outline with an exact aspect, at a width that may still be unknown."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from fontTools.misc.transform import Transform
from shapely import affinity
from shapely.geometry import Polygon, box

from foldwright.grammar.artwork_curves import NO_INK, Curve, Ink
from foldwright.solver.card import Drawn


@dataclass(frozen=True)
class Art:
    """An outline scaled to width 1, standing on v = 0 and starting at u = 0."""

    outline: Polygon
    aspect: Fraction  # height over width
    curves: tuple[Curve, ...] = ()  # what the outline was made of, likewise scaled
    ink: Ink = NO_INK  # drawn on it, likewise scaled
    file: str = ""  # where it comes from, as the script has it
    bridge: Fraction | None = None  # of letters: the width of their bridges over their own width

    @property
    def share(self) -> Fraction:
        """Area over the square of the width, rounded down to 1/10000."""
        return Fraction(int(10000 * self.outline.area), 10000)

    def placed(self, width: float, u: float, v: float) -> Polygon:
        """The outline at `width` mm with its lower left corner at (u, v)."""
        sized = affinity.scale(self.outline, width, width, origin=(0, 0))
        return affinity.translate(sized, u, v)

    def drawn(self, width: float, u: float, v: float) -> Drawn:
        """Its curves and lines where `placed` puts the outline."""
        return Drawn(self.curves, Transform(width, 0, 0, width, u, v), self.ink, self.file)

    def stem(self, fraction: float) -> Fraction:
        """Widest extent, over the width, of what lies below `fraction` of the height; rounded up to 1/1000."""
        low = self.outline.intersection(box(-1, -1, 2, fraction * float(self.aspect)))
        if low.is_empty:
            return Fraction(0)
        u0, _, u1, _ = low.bounds
        return Fraction(int(1000 * max(1 - 2 * u0, 2 * u1 - 1, 0)) + 1, 1000)
