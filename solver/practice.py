"""Workshop practice: numbers that a workshop settles by habit. A script may override each, with a reason.

All values are common practice, no source, unless a source is named beside them. Lengths in mm, angles in degrees.
"""

from __future__ import annotations

from collections.abc import Mapping
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
        ("art.thinnest", "0.8", "length", "artwork narrower than this tears, and is told with its places"),
        ("window.strip", "5", "length", "least strip of panel between a window and an edge, a fold, glue or another window"),
        ("window.border", "5", "length", "the pane behind a window reaches this much farther on all sides"),
        ("letters.bar", "2", "length", "least height of the bar on which letters stand that are cut out"),
        ("letters.bridge", "1", "length",
         "least width of bridges in letters: of dots and accents, and in windows of what a letter encloses"),
        ("stand.margin", "5", "angle", "least angle between a fold and the pose in which it would lie taut"),
        ("joint.thickness", "0.1", "length", "what glue and the spring of the folds add at each glued joint"),
        ("joint.overlap", "10", "length", "how far two pieces of a split part, or a piece and a strip, lie on each other"),
        ("joint.margin", "3", "length", "a seam and what is glued at it keep this distance from creases, slots, holes and glue"),
        ("spine.gape", "10", "angle", "most that the contents may hold a closed card with a plain spine open"),
        ("sheet.spacing", "2", "length", "least distance between two parts on a sheet"),
        ("sheet.border", "0", "length", "strip along the edges of the mat in which no part lies"),
        ("perforation.dash", "3", "length", "cuts of a perforated crease"),
        ("perforation.gap", "2", "length", "bridges between the cuts of a perforated crease, at least five calipers"),
        ("perforation.thin", "0.2", "length", "in paper thinner than this the cuts are no longer than the bridges"),
        ("perforation.least", "1", "length", "least cut or bridge of a perforated crease; a bridge below it tears"),
        ("tick.length", "4", "length", "marks at both ends of a crease that is folded along a ruler"),
        ("crease.spring", "160", "length",
         "width of a page of 250 g/m² that just stays open flat against the spring of its worked crease (from memory, "
         "no source: try it on a folded scrap)"),
    ]
)

USUAL = {habit.name: habit.value for habit in HABITS}

SCRAP = 250  # g/m² of the scrap by which the habit `crease.spring` is tried
BULK = Fraction(12, 10)  # cm³/g of uncoated cardstock, common practice, no source; a measured caliper is better


BRIDGE = 5  # calipers of the narrowest bridge of a perforated crease


def perforation(caliper: float, habits: Mapping[str, float], dash: float | None = None,
                gap: float | None = None) -> tuple[float, float]:
    """Longest cut and width of the bridges in mm of a perforated crease in paper of a caliper in mm; given ones stay."""
    bridge = gap if gap is not None else max(habits["perforation.gap"], BRIDGE * caliper)
    if dash is not None:
        return dash, bridge
    usual = habits["perforation.dash"]
    return (min(usual, bridge) if caliper < habits["perforation.thin"] else usual), bridge


def grammage(gsm: float | None, caliper: float) -> float:
    """Weight of a paper in g/m²: as given, or estimated from its caliper in mm."""
    return gsm if gsm is not None else 1000 * caliper / float(BULK)
