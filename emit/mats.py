"""Which mat each sheet is cut on, where the machine has several: never more sheets for the sake of a smaller mat."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from foldwright.emit.placed import Control, Placed
from foldwright.solver.card import Part

Mat = tuple[float, float]
Packed = tuple[tuple[Placed, ...], Control | None]
Pack = Callable[[Sequence[Part], Mat], list[Packed]]
Fits = Callable[[Part, Mat], bool]


def on_mats(parts: Sequence[Part], mats: Sequence[Mat], pack: Pack, fits: Fits) -> list[tuple[Mat, Packed]]:
    """The sheets of some parts, each with the smallest of `mats` that takes what lies on it.

    `pack` lays parts onto sheets of one mat, or raises TooLarge; `fits` tells whether a part alone fits one. All sheets are
    first laid on the mat that needs the fewest, of these the smallest; then each alone on a smaller one, if its parts fit
    that and its control line still has room. Where no mat takes all parts, each part goes with those that fit the same
    largest mat. Raises TooLarge if a part fits none.
    """
    mats = sorted(set(mats), key=lambda mat: (mat[0] * mat[1], mat))
    if len(mats) == 1:
        return [(mats[0], packed) for packed in pack(parts, mats[0])]
    groups: dict[Mat, list[Part]] = {}
    largest = next((mat for mat in reversed(mats) if all(fits(part, mat) for part in parts)), None)
    for part in parts:
        own = largest or next((mat for mat in reversed(mats) if fits(part, mat)), mats[-1])
        groups.setdefault(own, []).append(part)
    sheets: list[tuple[Mat, Packed]] = []
    for mat in sorted(groups, key=mats.index):
        sheets += _fewest(groups[mat], mat, mats, pack, fits)
    return [_smallest(mat, packed, mats, pack, fits) for mat, packed in sheets]


def _fewest(parts: Sequence[Part], first: Mat, mats: Sequence[Mat], pack: Pack, fits: Fits) -> list[tuple[Mat, Packed]]:
    """Parts on one mat that takes them all: on that with the fewest sheets, of these the smallest; `first` is the largest."""
    best, found = first, pack(parts, first)
    for mat in (mat for mat in reversed(mats) if mat != first and all(fits(part, mat) for part in parts)):
        if _sheets_by_area(parts, mat) <= len(found):
            tried = pack(parts, mat)
            if len(tried) <= len(found):
                best, found = mat, tried
    return [(best, packed) for packed in found]


def _smallest(own: Mat, packed: Packed, mats: Sequence[Mat], pack: Pack, fits: Fits) -> tuple[Mat, Packed]:
    """One sheet on the smallest mat that takes its parts."""
    placed, control = packed
    parts = [one.part for one in placed]
    for mat in mats:
        if mat[0] * mat[1] >= own[0] * own[1]:
            break
        if all(fits(part, mat) for part in parts) and _sheets_by_area(parts, mat) == 1:
            tried = pack(parts, mat)
            if len(tried) == 1 and (tried[0][1] is not None or control is None):
                return mat, tried[0]
    return own, packed


def _sheets_by_area(parts: Sequence[Part], mat: Mat) -> int:
    """The least number of sheets that the area of some parts needs."""
    area = float(sum(part.outline.area for part in parts))
    return math.ceil(area / (mat[0] * mat[1]) - 1e-9)
