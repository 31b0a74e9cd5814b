"""Sheets and times of the layout: `python tests/bench/layout.py [seconds]`; with seconds, a strip packer for comparison.

Printed, not asserted: times belong to the machine they were taken on (processor seconds). Sheets are compared with rectpack
(bounding boxes) and, if it is installed and `seconds` are given for each of its calls, with spyrrow filling sheet by sheet;
`--tighten` gets five times as many. Published strips stand beside the best layouts published (`data/nesting/SOURCE.txt`).
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from time import process_time

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import cards
from boxes import sheets_of_boxes
from part_sets import SETS, SPACING, part_set
from published_nesting import BEST, bins, strip

from foldwright.emit.apart import Demands, fault
from foldwright.emit.layout import lay_out
from foldwright.emit.mats import Packed
from foldwright.emit.packer import Packer
from foldwright.emit.placed import Sheet
from foldwright.emit.tighten import tightened
from foldwright.solver.card import Part, Step

MARGIN = 0.12  # mm; the strip packer keeps the distance asked for only within a tenth


def narrow(parts: Sequence[Part], height: float, seconds: int) -> float:
    """Width of the strip that spyrrow needs for parts, turned by quarters."""
    import spyrrow

    apart = SPACING + MARGIN
    items = [spyrrow.Item(part.name, list(part.outline.exterior.coords), 1, [0, 90, 180, 270]) for part in parts]
    config = spyrrow.StripPackingConfig(min_items_separation=apart, total_computation_time=seconds, num_workers=1, seed=1)
    width: float = spyrrow.StripPackingInstance("sheet", height + 2 * apart, items).solve(config).width - 2 * apart
    return width


def sheet_by_sheet(parts: Sequence[Part], mat: tuple[float, float], seconds: int) -> int:
    """Sheets that spyrrow needs, each filled with the largest parts left up to an area that is learnt by trying."""
    left, sheets = sorted(parts, key=lambda part: -part.outline.area), 0
    while left:
        budget, good = 0.72 * mat[0] * mat[1], [left[0]]
        for _ in range(5):
            some: list[Part] = []
            for part in left:
                if sum(one.outline.area for one in some) + part.outline.area <= budget:
                    some.append(part)
            width = narrow(some, mat[1], seconds)
            if width <= mat[0]:
                good = max(good, some, key=len)
                if len(some) == len(left):
                    break
                budget = sum(one.outline.area for one in some) * max(mat[0] / width, 1.03)
            elif len(good) > 1:
                break
            else:
                budget = sum(one.outline.area for one in some) * min(mat[0] / width, 0.985)
        sheets += 1
        left = [part for part in left if part not in good]
    return sheets


def after_search(parts: Sequence[Part], mat: tuple[float, float], packed: Sequence[Packed], seconds: float) -> str:
    """Sheets after a search of some seconds, and how far the last one reaches, mm."""
    demands = Demands(SPACING, 0.0, (mat,), {part.name: (0, 90, 180, 270) for part in parts})
    sheets = [Sheet("", number, *mat, placed, control) for number, (placed, control) in enumerate(packed, start=1)]
    found = tightened(sheets, parts, demands, seconds, lambda words: None) or sheets
    assert fault(found, parts, demands) is None
    return f"{len(found)}:{max(one.outline.bounds[2] for one in found[-1].placed):.0f}"


def sets(seconds: int) -> None:
    """The five sets on two mats."""
    print("set  mat        area  sheets  boxes  strip packer  tightened   seconds (without tightening)")
    for name in SETS:
        for mat in ((292.0, 292.0), (292.0, 597.0)):
            parts = part_set(name)
            start = process_time()
            packed = Packer(mat, SPACING, control=False).pack(parts)
            taken = process_time() - start
            area = sum(part.outline.area for part in parts) / (mat[0] * mat[1])
            theirs = sheet_by_sheet(parts, mat, seconds) if seconds else "-"
            tight = after_search(parts, mat, packed, 5 * seconds) if seconds else "-"
            print(f"{name}    {mat[0]:g} x {mat[1]:g}  {area:4.2f}  {len(packed):6d}  {sheets_of_boxes(parts, mat, SPACING):5d}  "
                  f"{theirs:>12}  {tight:>9}  {taken:8.2f}", flush=True)


def published() -> None:
    """Density on published strips: the shortest sheet found by halving, beside the best published; bins beside the least."""
    for name in BEST:
        instance = strip(name)
        short, long = instance.best, 2 * instance.best
        start = process_time()
        for _ in range(6):
            middle = (short + long) / 2
            short, long = (short, middle) if instance.fits(middle) else (middle, long)
        density = instance.area / (instance.height * long)
        best = instance.area / (instance.height * instance.best)
        print(f"{name:8} {len(instance.parts):3d} parts  density {density:.3f}  best published {best:.3f}  "
              f"ratio {density / best:.2f}  {process_time() - start:.1f} s", flush=True)
    for name in ("TA001", "TF001"):
        parts, mat, least = bins(name)
        found = len(Packer(mat, 0.0, control=False).pack(parts))
        print(f"{name:8} {len(parts):3d} parts  bins {found}  least {least}", flush=True)


def speed() -> None:
    """80 parts over four papers, with steps that cannot all be kept together, and one pass over 80 parts of one paper."""
    card = cards.crowd(80, 3)
    papers = tuple(replace(cards.INK, name=f"paper {k}") for k in range(4))
    names = [part.name for part in card.parts]
    steps = tuple(Step("Join them.", tuple(names[k : k + 5])) for k in range(0, 80, 5))
    spread = tuple(replace(part, paper=papers[k * 7 % 4].name) for k, part in enumerate(card.parts))
    for label, many in (("80 parts, 4 papers", replace(card, parts=spread, papers=papers, steps=steps)),
                        ("80 parts, 4 papers, small mat", replace(card, parts=spread, papers=papers, steps=steps,
                                                                  mat=(203.2, 152.4))),
                        ("80 parts, 1 paper", replace(card, steps=steps))):
        start = process_time()
        sheets = lay_out(many)
        print(f"{label:30} {len(sheets):3d} sheets  {process_time() - start:5.2f} s", flush=True)
    start = process_time()
    Packer(card.mat, SPACING, trials=0).pack(card.parts)
    print(f"{'80 parts, one pass and the last':30}             {process_time() - start:5.2f} s")


if __name__ == "__main__":
    speed()
    published()
    sets(int(sys.argv[1]) if len(sys.argv) > 1 else 0)
