"""Layers that float parallel to the pages on upright walls: the wall on the crease with its tabs, and how far they sway."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from foldwright.solver.building.tabs import TIP, edge_tab
from foldwright.solver.card import Bond, Panel, Placement, Stroke, Vector
from foldwright.solver.expression import Expr
from foldwright.solver.flat import Cut, Flat, Pose, Seam
from foldwright.solver.geometry import Fold
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule

MOST_TEETH = 6  # more tabs hold no better and take longer to glue (common practice, no source)


@dataclass(frozen=True)
class Tooth:
    """One of the tabs along the foot of a wall on a crease, from `start` to `end` (mm along the wall), on page `side`."""

    start: float
    end: float
    side: str


def comb(owner: Mechanism, length: float) -> tuple[Tooth, ...]:
    """Tabs of a wall that stands on the crease itself: side by side, by turns on the left and on the right page."""
    pitch = float(owner.habit("tab.length") + owner.habit("tab.depth") + 2 * owner.habit("tab.inset"))
    number = min(MOST_TEETH, max(2, int(length / pitch)))
    ends = [length * i / number for i in range(number + 1)]
    return tuple(Tooth(ends[i], ends[i + 1], ("left", "right")[i % 2]) for i in range(number))


def comb_fits(owner: Mechanism, wall: str, length: Expr) -> Iterator[Rule]:
    """The least that a wall on the crease needs: a tab for each page, side by side."""
    yield owner.rule(f"{wall}-tabs", Kind.PRACTICE, owner.habit("tab.length"), "<=",
                     length / 2 - 2 * owner.habit("tab.inset") - owner.habit("tab.depth"),
                     f"the {wall} wall of {owner.name} has tabs by turns for both pages: two of them would be {{right}} long on "
                     "average; a tab needs {left} to hold",
                     still=(owner.habit("tab.depth") + TIP, length / 2 - 2 * owner.habit("tab.inset") - owner.habit("tab.depth")))


def add_comb(owner: Mechanism, flat: Flat, part: str, wall: str, edge: tuple[float, float, float],
             onto: Mapping[str, str]) -> None:
    """Such tabs on an edge of a wall: `edge` is its length, its v, and the way along v into the tabs (1 or -1).

    `onto` names the panels that they are glued to, by side.
    """
    length, v, away = edge
    for number, tooth in enumerate(comb(owner, length), 1):
        name = f"{wall}_{'foot' if away < 0 else 'top'}{number}"
        tab, first, last = edge_tab(owner, (tooth.start, v), (tooth.end, v), (0, away))
        flat.panels.append(Panel(name, part, tab, tab=True))
        flat.seams.append(Seam(wall, name, first, last))
        flat.bonds.append(Bond(name, onto[tooth.side]))


def comb_marks(owner: Mechanism, length: float, start: float, sense: float = 1.0) -> Iterator[Cut]:
    """A mark under the middle of each foot tab: on which page it lies, and where along the crease.

    The wall takes the crease from `start` on; its u runs along it, or against it if `sense` is -1.
    """
    depth = float(owner.habit("tab.depth"))
    for tooth in comb(owner, length):
        ends = sorted(start + (u if sense > 0 else length - u) for u in (tooth.start + depth, tooth.end - depth))
        yield Cut(tooth.side, tuple((x, depth / 2) for x in ends), Stroke.MARK)


def pose_comb(owner: Mechanism, pose: Pose, wall: str, edge: tuple[float, float, float], corner: Vector, host: Fold,
              sense: float = 1.0) -> None:
    """Places the tabs of `add_comb`; `corner` is where the edge starts in space, its u runs along the crease, or against it
    if `sense` is -1."""
    length, v, away = edge
    for number, tooth in enumerate(comb(owner, length), 1):
        page = away * (host.left if tooth.side == "left" else host.right)
        name = f"{wall}_{'foot' if away < 0 else 'top'}{number}"
        pose.placements[name] = Placement(corner - v * page, sense * host.x, page)


def sway(owner: Mechanism, height: float) -> float:
    """How far a layer on parallel walls moves sideways, in mm, if every fold gives by one caliper at its tab's outer edge.

    The walls of a floating layer turn together, all by the same angle (one free motion). A fold that lifts its tab, of
    depth T, by one caliper t at the outer edge lets its wall turn by asin(t / T); the layer, `height` above the feet,
    moves by height * t / T to either side. Derived, not measured.
    """
    return height * float(owner.site.caliper / owner.habit("tab.depth"))
