"""Published nesting instances (`tests/data/nesting`, sources there) as parts of our own, and what is known of them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from part_sets import parts_of
from shapely.affinity import scale
from shapely.geometry import Polygon, box

from foldwright.emit.packer import Packer
from foldwright.solver.card import Part

DATA = Path(__file__).parent / "data" / "nesting"
HEIGHT = 300.0  # mm: instances have units of their own; the strip is made about as high as a mat
# Length of the best published layout in the instance's own unit (best layouts of the second source, measured from them).
BEST = {"blaz1": 25.049, "fu": 30.843, "jakobs1": 10.980, "shapes0": 57.012}


@dataclass(frozen=True)
class Strip:
    """Parts for a strip of `height` mm; `best` is the least length known, mm; turns in degrees by the part's name."""

    parts: tuple[Part, ...]
    turns: dict[str, tuple[int, ...]]
    height: float
    best: float

    @property
    def area(self) -> float:
        return sum(part.outline.area for part in self.parts)

    def fits(self, length: float) -> bool:
        """Whether our layout, without spacing, needs one sheet of this length."""
        return len(self.sheets(length)) == 1

    def sheets(self, length: float) -> list[list[Polygon]]:
        """Outlines where our layout, without spacing, puts them on sheets of this length."""
        packed = Packer((length, self.height), 0.0, control=False).pack(self.parts, self.turns)
        return [[one.outline for one in placed] for placed, _ in packed]


def strip(name: str) -> Strip:
    """A strip instance, scaled so that its strip is `HEIGHT` high."""
    read = json.loads((DATA / f"{name}.json").read_text("utf-8"))
    factor = HEIGHT / read["strip_height"]
    outlines, turns = [], []
    for item in read["items"]:
        outlines += [scale(Polygon(item["shape"]["data"]), factor, factor, origin=(0, 0))] * item["demand"]
        turns += [tuple(int(turn) for turn in item["allowed_orientations"])] * item["demand"]
    parts = parts_of(outlines)
    return Strip(parts, {part.name: turn for part, turn in zip(parts, turns, strict=True)}, HEIGHT, BEST[name] * factor)


def bins(name: str) -> tuple[tuple[Part, ...], tuple[float, float], int]:
    """Parts, bin in mm (units of 0.3 mm), and the number of bins that is known to be the least."""
    read = json.loads((DATA / f"{name}.json").read_text("utf-8"))
    factor = HEIGHT / read["bin"][0]
    outlines = [scale(Polygon(piece), factor, factor, origin=(0, 0)) for piece in read["pieces"]]
    assert all(outline.is_valid for outline in outlines)
    return parts_of(outlines), (HEIGHT, box(0, 0, *read["bin"]).bounds[3] * factor), read["optimal_bins"]
