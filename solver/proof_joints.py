"""The proof of a joined part: its pieces are looked at as plain shapes, whatever cut them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import shapely
from shapely.geometry import LineString

from foldwright.solver.card import Joined, Panel, Point, Stroke

EXACT = 1e-6  # mm: pieces are cut on straight lines from the outline that they have to make up again
FIT = 0.01  # mm; no machine cuts finer than 0.05


def joined_looks(one: Joined, panels: Mapping[str, Panel], creases: Sequence[tuple[Point, Point]],
                 margin: float) -> Iterator[tuple[bool, str]]:
    """What is seen of one part: each time whether it holds, and what is wrong if not. `creases` are the whole part's."""
    whole, sheets = one.whole, {piece.name: piece.outline for piece in (*one.pieces, *one.strips)}
    for name, outline in sheets.items():
        yield outline.geom_type == "Polygon" and outline.is_valid, f"{name} is not one simple outline"
    together = shapely.union_all([piece.outline for piece in one.pieces])
    off = together.symmetric_difference(whole.outline).area
    yield off < EXACT * whole.outline.length, f"the pieces of {whole.name} are off its outline by {off:.2g} mm²"
    laps = shapely.union_all([lap.outline for lap in one.laps])
    twice = sum(outline.area for outline in sheets.values()) - whole.outline.area - laps.area
    yield abs(twice) < EXACT * whole.outline.length, f"the pieces of {whole.name} overlap by {twice:.2g} mm² beside their seams"
    lines = [LineString(ends) for ends in creases]
    lines += [LineString(line.points) for line in whole.lines if line.stroke is Stroke.CUT]
    lines += [LineString(ring.coords) for ring in whole.outline.interiors]
    for lap in one.laps:
        place = f"the seam of {whole.name} at {lap.start[0]:.1f}, {lap.start[1]:.1f}"
        yield panels[lap.panel].outline.buffer(FIT).covers(lap.outline), f"{place} leaves {lap.panel}"
        glued = lap.outline.union(LineString([lap.start, lap.end]))
        yield all(glued.distance(line) >= margin for line in lines), f"{place} comes near a crease, a slit or a hole"
        others = shapely.union_all([piece.outline for piece in one.pieces if piece.name != lap.under])
        yield sheets[lap.under].buffer(FIT).covers(lap.outline), f"{place} has nothing of {lap.under} behind it"
        yield others.buffer(FIT).covers(lap.outline), f"{place} holds nothing but {lap.under}"
