"""Workshop practice: numbers that a workshop settles by habit. A script may override each, with a reason.

All values are common practice, no source, unless a source is named beside them. Lengths in mm, angles in degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Habit:
    """One workshop default: its name in scripts, value, dimension and meaning."""

    name: str
    value: Fraction
    dimension: str  # "length", "angle" or "area"
    meaning: str


HABITS = tuple(
    Habit(name, Fraction(value), dimension, meaning)
    for name, value, dimension, meaning in [
        ("tab.depth", "8", "length", "depth of a glue tab"),
        ("tab.length", "10", "length", "least length of a glue tab along its edge"),
        ("tab.taper", "45", "angle", "angle at the ends of a glue tab"),
        ("tab.inset", "1", "length", "a tab keeps this distance from a fold and from the edge of what it is glued to"),
        ("slot.clearance", "0.15", "length", "slot width beyond the sheet's caliper"),
        ("slot.depth", "0.5", "length", "both slots of a pair together are this much deeper than the shared height"),
        ("slot.strip", "3", "length", "least strip between a slot and an edge, or between two slots"),
        ("slit.clearance", "1", "length", "a slit for a tab is this much longer than the tab"),
        ("neighbour.gap", "2", "length", "free length of crease between two mechanisms on it"),
        ("insert.margin", "3", "length", "strip of cover that stays visible round an insert"),
        ("insert.glue", "12", "length", "width of the strip at the fore-edge that holds an insert in a gusseted cover"),
        ("cutout.overlap", "8", "length", "height over which a cut-out at an upper edge is glued"),
        ("cutout.glue", "40", "area", "least glued area of a cut-out, in mm²"),
        ("stand.margin", "5", "angle", "least angle between a fold and the pose in which it would lie taut"),
        ("joint.thickness", "0.1", "length", "what glue and the spring of the folds add at each glued joint"),
    ]
)
