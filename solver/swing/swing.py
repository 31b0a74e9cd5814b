"""The swing of a card from closed to open: what passes through what, sticks out, jams, rubs, or is glued over each other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from foldwright.solver.card import Card
from foldwright.solver.swing.boxes import meeting
from foldwright.solver.swing.dead import dead_points
from foldwright.solver.swing.events import Event, Writer
from foldwright.solver.swing.glue import overlapping, too_little
from foldwright.solver.swing.memory import Key, Meeting, Memory, Record
from foldwright.solver.swing.runs import FINE
from foldwright.solver.swing.scene import Scene
from foldwright.solver.swing.shapes import Ints
from foldwright.solver.swing.silhouette import sticking_out
from foldwright.solver.swing.stand import Pairs
from foldwright.solver.swing.study import Study
from foldwright.solver.swing.table import NEAR, Row, rows
from foldwright.solver.swing.touch import with_touching
from foldwright.solver.swing.turns import overturned


@dataclass(frozen=True)
class Swing:
    """What a swing found: all angles looked at in degrees, events by severity and angle, and a row for each angle of the
    grid.
    """

    angles: tuple[float, ...]
    events: tuple[Event, ...]
    rows: tuple[Row, ...]


def swing(card: Card, step: float | None = None, memory: Memory | None = None) -> Swing:
    """Check a card from closed to open, at every `step` degrees (a ninetieth of its opening if left out).

    With a `memory`, pairs of panels that are as they were at the last check are not looked at again; the result is the
    same. Raises ValueError for a step that is not between 0 and the opening.
    """
    scene = Scene.of(card, step, memory)
    scene.memory.glued.turn()
    pairs, records = _records(scene, scene.memory)
    table = rows(scene, pairs, records)
    events = sorted([*_between_panels(scene, pairs, records), *_of_the_card(scene)], key=lambda event: event.rank)
    looked = {float(angle) for angle in scene.grid.angles}
    looked |= {angle for record in records for angle in record.between}
    looked |= {angle for event in events for angle in (event.angle, event.until)}
    return Swing(tuple(sorted(looked)), tuple(events), table)


def _records(scene: Scene, memory: Memory) -> tuple[list[tuple[int, int]], list[Record]]:
    """A record of every pair whose boxes come near each other at some angle but closed, sorted by panels."""
    met, pair = _met(scene)
    starts = np.flatnonzero(np.diff(pair, prepend=-1))
    first, second = met.first[starts], met.second[starts]
    panels = scene.keys
    joined = scene.joins.between(first, second)
    joined = with_touching(scene, first, second, joined, panels, memory)
    keys = _keys(scene, first, second, joined, panels)
    known = [memory.records.get(key) for key in keys]
    new = np.array([record is None or not record.holds(scene.room) for record in known], dtype=bool)
    number = np.cumsum(new) - 1
    mine = np.flatnonzero(new[pair])
    study = Study(scene, first[new], second[new], joined[new], met[mine], number[pair[mine]])
    made = iter(study.records())
    records = [old if old is not None and not fresh else next(made) for old, fresh in zip(known, new, strict=True)]
    memory.computed += int(new.sum())
    memory.reused += int((~new).sum())
    memory.records = dict(zip(keys, records, strict=True))
    return list(zip(first.tolist(), second.tolist(), strict=True)), records


def _met(scene: Scene) -> tuple[Pairs, Ints]:
    """Pairs at angles at which their boxes come near, sorted by pair and angle, and the number of each pair.

    Boxes are grown by half of `NEAR`, or by as much as the panel moves to the next angle.
    """
    low, high = scene.motion.low, scene.motion.high
    moved = np.pad(scene.steps, ((1, 1), (0, 0)))
    grown = np.maximum(np.maximum(moved[1:], moved[:-1]), NEAR / 2)[:, :, None]
    met = meeting(low[1:] - grown[1:], high[1:] + grown[1:])
    met = Pairs(met.first, met.second, met.moment + 1)
    met = met[np.lexsort((met.moment, met.second, met.first))]
    code = met.first * len(scene.names) + met.second
    return met, np.cumsum(np.diff(code, prepend=-1) != 0) - 1


def _keys(scene: Scene, first: Ints, second: Ints, joined: Ints, panels: list[bytes]) -> list[Key]:
    """What the record of each pair depends on."""
    caliper = scene.mean_caliper(first, second)
    return [(panels[a], panels[b], join, thick)
            for a, b, join, thick in zip(first.tolist(), second.tolist(), joined.tolist(), caliper.tolist(), strict=True)]


def _between_panels(scene: Scene, pairs: list[tuple[int, int]], records: list[Record]) -> Iterator[Event]:
    """Events of pairs of panels; where two mechanisms pass through each other, it is not told too that they come close."""
    write = Writer(scene.card.unit, scene.card.opens)
    passing: dict[tuple[str, ...], list[Meeting]] = {}
    for (first, second), record in zip(pairs, records, strict=True):
        names = (scene.names[first], scene.names[second])
        passing.setdefault(_owners(names), []).extend(record.through)
        for found in record.through:
            yield write.passes_through(names, found.place, found.angle, found.until, found.size)
    for (first, second), record in zip(pairs, records, strict=True):
        names = (scene.names[first], scene.names[second])
        for found in record.close:
            caliper = float(scene.mean_caliper(np.array([first]), np.array([second]))[0])
            if not any(found.angle <= other.until and other.angle <= found.until for other in passing[_owners(names)]):
                yield write.too_close(names, found.place, found.angle, found.until, found.size, caliper)


def _owners(panels: tuple[str, ...]) -> tuple[str, ...]:
    """The mechanisms that panels belong to."""
    return tuple(sorted(name.split(".")[0] for name in panels))


def _of_the_card(scene: Scene) -> Iterator[Event]:
    """Events that no pair of panels has."""
    card = scene.card
    write = Writer(card.unit, card.opens)
    for name, place, size in sticking_out(scene):
        yield write.leaves_cover(name, place, size)
    for turn in overturned(scene):
        panels = (turn.hinge.left, turn.hinge.right)
        yield write.past_flat(panels, turn.place, turn.angle, turn.until, turn.beyond, turn.folded)
    margin = card.practice["stand.margin"]
    for dead in dead_points(scene, margin):
        left = dead.angle - card.opens
        if left < -FINE:
            yield write.dead_point(dead.owner, dead.panels, dead.place, dead.angle, dead.why)
        else:
            yield write.can_snap(dead.owner, dead.panels, dead.place, max(left, 0.0), margin, dead.why)
    for bond, shared in too_little(scene):
        x, y, z = card.pose(card.opens)[bond.panel].origin.tolist()
        yield write.holds_little(bond.panel, bond.host, (x, y, z), shared, card.practice["cutout.glue"])
    for glue in overlapping(scene):
        yield write.glue_overlaps(glue.panels, glue.host, glue.place, glue.width)
