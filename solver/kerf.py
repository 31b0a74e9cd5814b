"""What a tool with a kerf has to follow, so that parts, slots and slits come out to measure.

The tool's middle runs half a kerf outside the outline and inside the holes: an exact parallel with mitred corners (GEOS).
"""

from __future__ import annotations

import shapely
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.ops import substring

from foldwright.solver.card import Card, Line, Part, Stroke
from foldwright.solver.pieces import as_cut

# A corner sharper than 11.5° (1 / sin 5.7° = 10) is cut off instead: its mitre would reach farther than ten half kerfs.
MITRE = 10.0
# Area in square kerfs that may fill up before a slot counts as lost: the tip of a notch sharper than the mitre allows for
# fills less than 10 half kerfs squared, which is 2.5; a closed slot three kerfs deep is more.
_FILLED = 3.0
_MEET = 1e-6  # mm, ends of two cuts that meet


def grown(outline: Polygon, kerf: float) -> Polygon:
    """The line that the tool's middle follows round a part and in its holes; the outline itself without a kerf.

    Only of an outline of which nothing is `lost`.
    """
    if not kerf:
        return outline
    return shapely.buffer(outline, kerf / 2, join_style="mitre", mitre_limit=MITRE)


def lost(outline: Polygon, kerf: float) -> bool:
    """Whether a slot or hole of the outline is so narrow that nothing is left of it in the drawing."""
    if not kerf:
        return False
    moved = grown(outline, kerf)
    if moved.geom_type != "Polygon" or len(moved.interiors) != len(outline.interiors):
        return True
    back = shapely.buffer(moved, -kerf / 2, join_style="mitre", mitre_limit=MITRE)
    filled = shapely.get_parts(shapely.difference(back, outline))
    return bool((shapely.area(filled) > _FILLED * kerf * kerf).any())


def lost_parts(card: Card) -> tuple[str, ...]:
    """Names of the parts that cannot be cut to measure with the card's kerf."""
    return tuple(part.name for part in as_cut(card).parts if lost(part.outline, card.machine.kerf))


def slits(part: Part, kerf: float) -> tuple[Line, ...]:
    """A part's open cuts, shorter by half a kerf at each end that meets no other cut.

    A slit no longer than the kerf becomes a point in its middle, one thousandth of a millimetre long.
    """
    cuts = [line for line in part.lines if line.stroke is Stroke.CUT]
    if not kerf:
        return tuple(cuts)
    edges = [LineString(ring.coords) for ring in (part.outline.exterior, *part.outline.interiors)]
    drawn = [LineString(line.points) for line in cuts]
    out = []
    for number, (line, cut) in enumerate(zip(cuts, drawn, strict=True)):
        others = MultiLineString([*edges, *drawn[:number], *drawn[number + 1 :]])
        free = [others.distance(shapely.Point(end)) > _MEET for end in (line.points[0], line.points[-1])]
        start, end = (kerf / 2 if free[0] else 0.0), cut.length - (kerf / 2 if free[1] else 0.0)
        if end - start < 1e-3:
            start, end = (start + end) / 2 - 5e-4, (start + end) / 2 + 5e-4
        shorter = substring(cut, start, end)
        out.append(Line(tuple((x, y) for x, y, *_ in shorter.coords), Stroke.CUT))
    return tuple(out)
