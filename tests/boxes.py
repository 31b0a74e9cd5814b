"""Bounding boxes onto sheets by rectpack, an independent packer: the sheets that a layout must never need more than."""

from __future__ import annotations

import math
from collections.abc import Sequence

from rectpack import SORT_AREA, SORT_LSIDE, SORT_SSIDE, PackingMode, newPacker
from rectpack.guillotine import GuillotineBssfSas
from rectpack.maxrects import MaxRectsBaf, MaxRectsBl, MaxRectsBssf
from rectpack.skyline import SkylineMwf

from foldwright.solver.card import Part

_STEP = 1000  # sizes in whole thousandths of a millimetre, rounded up: never too close together


def sheets_of_boxes(parts: Sequence[Part], mat: tuple[float, float], spacing: float, turning: bool = True) -> int:
    """The fewest sheets by rectpack's algorithms and orders, boxes turned by quarters at will (or not at all)."""
    sizes = []
    for part in parts:
        left, low, right, high = part.outline.bounds
        sizes.append(tuple(math.ceil(_STEP * (side + spacing) - 1e-6) for side in (right - left, high - low)))
    room = tuple(math.floor(_STEP * (side + spacing) + 1e-6) for side in mat)
    counts = []
    for algorithm in (MaxRectsBssf, MaxRectsBaf, MaxRectsBl, SkylineMwf, GuillotineBssfSas):
        for order in (SORT_AREA, SORT_LSIDE, SORT_SSIDE):
            packer = newPacker(mode=PackingMode.Offline, pack_algo=algorithm, sort_algo=order, rotation=turning)
            for size in sizes:
                packer.add_rect(*size)
            packer.add_bin(*room, count=len(parts))
            packer.pack()
            if len(packer.rect_list()) == len(parts):
                counts.append(len(packer))
    return min(counts)
