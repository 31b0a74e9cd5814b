"""Paper formats of printed pages, width and height in mm, and what of a page template pages use."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

FORMATS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "a4": (210.0, 297.0),  # ISO 216
        "letter": (215.9, 279.4),  # 8.5 in x 11 in, ANSI size A (ASME Y14.1, from memory)
    }
)
MARGIN = 8.0  # mm; many printers leave the outer 5 or 6 mm white (common practice, no source)
SQUARE = 50.0  # mm, side of the control square, which stands at the foot of every page
FOOT = SQUARE + 6.0  # mm kept at the foot for the square and what there is to say
OVERLAP = 12.0  # mm by which neighbouring tiles of a large part show the same


def live(form: str) -> tuple[float, float]:
    """The room for parts on a page, mm; its lower left corner lies at (MARGIN, MARGIN + FOOT)."""
    width, height = FORMATS[form]
    return width - 2 * MARGIN, height - 2 * MARGIN - FOOT
