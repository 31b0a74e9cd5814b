"""Which files a maker wants of a card, beside its sheets, and how they are to be."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Curves(StrEnum):
    """How DXF files have curves: as circular arcs, which every program reads, or as splines, which are exact."""

    ARCS = "arcs"
    SPLINES = "splines"


class Labels(StrEnum):
    """What is numbered: parts that have a place where the number is hidden, all parts on themselves, or none."""

    HIDDEN = "hidden"
    ALL = "all"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Wanted:
    """`pages` are the paper formats of template pages (`formats.FORMATS`), `dxf` the version of DXF files (`dxf.VERSIONS`).

    `curves` is how they have curves.
    `per_operation` asks for a file for each operation of a sheet as well (cuts, creases of each sense, marks).
    `tighten` is how many seconds to look for fewer sheets of the card than the layout needs; 0: not at all.
    """

    pages: tuple[str, ...] = ("a4", "letter")
    dxf: str = "R2010"
    per_operation: bool = False
    labels: Labels = Labels.HIDDEN
    tighten: float = 0.0
    curves: Curves = Curves.ARCS
