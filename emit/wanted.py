"""Which files a maker wants of a card, beside its sheets, and how they are to be."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Labels(StrEnum):
    """What is numbered: parts that have a place where the number is hidden, all parts on themselves, or none."""

    HIDDEN = "hidden"
    ALL = "all"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Wanted:
    """`pages` are the paper formats of template pages (`formats.FORMATS`), `dxf` the version of DXF files (`dxf.VERSIONS`).

    `per_operation` asks for a file for each operation of a sheet as well (cuts, creases of each sense, marks).
    """

    pages: tuple[str, ...] = ("a4", "letter")
    dxf: str = "R2010"
    per_operation: bool = False
    labels: Labels = Labels.HIDDEN
