"""Dead points: where a mechanism lies taut, from what the mechanisms say and, apart from that, from the poses alone.

Near a dead point the linkage's position goes with the square root of the way that is left, so that some point of a panel
moves without bound per degree. That is seen in poses: its speed jumps, and the jump doubles each time the look is four times
as close. Just before a dead point, 1 / speed² falls towards 0 along a straight line, which tells of one beyond the open card.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from foldwright.solver.card import DeadPoint
from foldwright.solver.swing.motion import jumps, velocities
from foldwright.solver.swing.runs import FINE, bisect
from foldwright.solver.swing.scene import Scene
from foldwright.solver.swing.shapes import Flags, Floats, Ints

ZOOM = 4  # each look is so many times as close
LOOKS = 7
LAST = 4  # looks over which the growth is taken: a single one depends on where between two angles the dead point lies
GROWTH = 1.5  # of a jump of the speed per look: 2 at a dead point, 1 at a kink, a quarter where the motion is regular
RISE = 1.5  # of a jump of the speed over those two steps of the grid away, before it is worth a look
CLOSED = 0.5  # degrees: closed, everything lies in one plane, and any mechanism may begin from there with a jerk
SLOW = 0.01  # mm per degree: below it nothing moves that matters
WORDS = "is pulled taut"


@dataclass(frozen=True)
class Dead:
    """A dead point: its mechanism, panels, a place in space, the opening of the card in degrees (which may lie beyond the
    fully open card) and words that go on from the mechanism's name.
    """

    owner: str
    panels: tuple[str, ...]
    place: tuple[float, float, float]
    angle: float
    why: str


def dead_points(scene: Scene, margin: float) -> Iterator[Dead]:
    """Dead points inside the swing, and within `margin` degrees beyond it; those that mechanisms name come first."""
    named = list(_named(scene, margin))
    yield from named
    for found in [*_inside(scene), *_beyond(scene, margin)]:
        if not any(abs(found.angle - other.angle) < margin and _kin(found, other) for other in named):
            named.append(found)
            yield found


def _kin(one: Dead, other: Dead) -> bool:
    """The same mechanism, or the same moment: what stands on a mechanism is jerked with it."""
    return one.owner == other.owner or abs(one.angle - other.angle) <= 2 * FINE


# ---- what the mechanisms say


def _named(scene: Scene, margin: float) -> Iterator[Dead]:
    """From the openings of their own host creases to openings of the card."""
    angles = scene.grid.angles
    points = scene.card.dead_points
    if not points:
        return
    openings = scene.card.openings(angles)
    for point in points:
        host = np.asarray(openings.get(point.host, angles))
        left = point.angle - host
        taut = int(np.argmax(left <= 0)) if (left <= 0).any() else len(angles)
        if taut < len(angles):
            yield _dead(scene, point, _reached(scene, point, taut))
        elif left[-1] < margin:
            yield _dead(scene, point, float(angles[-1] + left[-1]))


def _reached(scene: Scene, point: DeadPoint, taut: int) -> float:
    """The opening of the card at which the host crease is as far open as the dead point."""
    angles = scene.grid.angles
    if taut == 0:
        return 0.0

    def there(_: Ints, at: Floats) -> Flags:
        host = scene.card.openings(at).get(point.host, at)
        out: Flags = np.asarray(host) >= point.angle
        return out

    return float(bisect(np.zeros(1, dtype=np.int64), angles[taut - 1:taut], angles[taut:taut + 1], there)[0])


def _dead(scene: Scene, point: DeadPoint, angle: float) -> Dead:
    return Dead(point.owner, *_members(scene, point.owner, min(angle, scene.card.opens)), angle, point.why)


def _members(scene: Scene, owner: str, angle: float) -> tuple[tuple[str, ...], tuple[float, float, float]]:
    """A mechanism's panels but its tabs, and the middle of the first of them."""
    mine = [index for index, panel in enumerate(scene.card.panels) if panel.name.split(".")[0] == owner and not panel.tab]
    if not mine:
        return (), (0.0, 0.0, 0.0)
    first = np.array(mine[:1])
    x, y, z = scene.at(np.array([angle]), first).point(np.array([0]), first, scene.shapes.centre[first])[0].tolist()
    return tuple(scene.names[index] for index in mine), (x, y, z)


# ---- what the poses show


def _inside(scene: Scene) -> Iterator[Dead]:
    """Angles near which the speed of some panel grows without bound."""
    jump = scene.motion.jumps
    around = np.pad(jump, ((2, 2), (0, 0)), mode="edge")
    peak = (jump >= around[1:-3]) & (jump >= around[3:-1]) & (jump > SLOW)
    peak &= jump > RISE * np.minimum(around[:-4], around[4:])
    strongest: dict[tuple[int, str], int] = {}
    for place, panel in zip(*(index.tolist() for index in peak.nonzero()), strict=True):
        key = (place, scene.names[panel].split(".")[0])
        if key not in strongest or jump[place, panel] > jump[place, strongest[key]]:
            strongest[key] = panel
    seen: list[float] = []
    for (place, owner), panel in strongest.items():
        angle = _zoom(scene, place + 1, panel)
        if angle is None or angle < CLOSED or any(abs(angle - other) <= 2 * FINE for other in seen):
            continue
        seen.append(angle)
        yield Dead(owner, *_members(scene, owner, angle), angle, WORDS)


def _zoom(scene: Scene, place: int, panel: int) -> float | None:
    """Where the speed of a panel grows without bound near an angle of the grid, degrees; None if it does not."""
    angles = scene.grid.angles
    low, high = angles[max(place - 1, 0)], angles[min(place + 1, len(angles) - 1)]
    tops = []
    for _ in range(LOOKS):
        stand = scene.at(np.linspace(low, high, 2 * ZOOM + 1), np.array([panel]))
        jump = jumps(stand, scene.shapes)[:, panel]
        top = int(jump.argmax())
        tops.append(float(jump[top]))
        if not np.isfinite(tops[-1]):
            return float(stand.angles[top + 1])
        low, high = stand.angles[top], stand.angles[top + 2]
    grown = tops[-1] / tops[-1 - LAST]
    return float((low + high) / 2) if grown > GROWTH**LAST else None


def _beyond(scene: Scene, margin: float) -> Iterator[Dead]:
    """Dead points just beyond the open card: there 1 / speed² goes to 0 along a straight line."""
    last = float(scene.grid.angles[-1])
    step = min(margin, last) / 10
    stand = scene.at(last - step * np.array([2.0, 1.0, 0.0]))
    speed = np.sqrt((velocities(stand, scene.shapes) ** 2).sum(axis=3)).max(axis=2)
    before, after = 1 / np.maximum(speed, 1e-9) ** 2
    left = np.where(before > after, step * (after / np.where(before > after, before - after, 1.0)), np.inf)
    left = np.where(speed[1] > SLOW, np.maximum(left - step / 2, 0.0), np.inf)
    owners: set[str] = set()
    for panel in np.argsort(left, kind="stable").tolist():
        owner = scene.names[panel].split(".")[0]
        if left[panel] < margin and owner not in owners:
            owners.add(owner)
            yield Dead(owner, *_members(scene, owner, last), last + float(left[panel]), WORDS)
