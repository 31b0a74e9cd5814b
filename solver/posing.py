"""Where every panel of a settled card stands while it opens: mechanism by mechanism, each at its host."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, partial
from typing import Any

import numpy as np

from foldwright.grammar.kept import Kept
from foldwright.solver.card import Placement, Vector
from foldwright.solver.flat import Flat, Frame, Pose
from foldwright.solver.frames import face_fold, on_sheet
from foldwright.solver.geometry import Fold, spine_fold
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.swing.scene import STEPS

POSES = 13  # angles from closed to open at which the proof looks
SIGN_ANGLES = (0.1, 0.25, 0.5, 0.75, 0.9)  # shares of the swing at which the sense of a crease is read


def spread(placed: Mapping[str, Placement], count: int) -> dict[str, Placement]:
    """Placements with vectors of shape (count, 3); what stays where it is gets as many rows."""
    shape = (count, 3)
    return {name: Placement(*(np.broadcast_to(v, shape) for v in (p.origin, p.along, p.up))) for name, p in placed.items()}


def usual_angles(opens: float, margin: float) -> Vector:
    """Angles in degrees at which every card is looked at: by settling, swing (with a look near its end) and proof."""
    near_end = opens - min(margin, opens) / 10 * np.array([2.0, 1.0, 0.0])
    return np.unique(np.concatenate([np.array(SIGN_ANGLES) * opens, np.linspace(0.0, opens, STEPS + 1),
                                     np.linspace(0.0, opens, POSES), near_end]))


@dataclass(frozen=True, eq=False)
class Standing:
    """A mechanism at the usual angles: its pose, and its placements with a row for each angle. Equal only to itself."""

    placements: dict[str, Placement]
    folds: dict[str, Fold]
    spread: dict[str, Placement]


@dataclass(frozen=True)
class Stander:
    """Places every panel of the card at an opening angle."""

    mechanisms: tuple[Mechanism, ...]
    hosts: Mapping[str, tuple[str, str]]
    sizes: Mapping[str, dict[str, float]]
    flats: Mapping[str, Flat]
    local: Mapping[str, Frame]  # panels cut out of their host's sheet -> the axes in which their mechanism places them
    usual: Vector = field(default_factory=lambda: np.zeros(0))  # angles that are asked for again and again, in degrees
    kept: Kept[Hashable, Any] = field(default_factory=Kept)  # mechanisms at these angles, by all that decides how they stand

    def __call__(self, angle: float | Vector) -> dict[str, Placement]:
        """Placements by panel; `angle` in degrees, one or n of them (then the placements' vectors have shape (n, 3))."""
        one = np.ndim(angle) == 0
        rows = [self._rows.get(each) for each in np.atleast_1d(angle).tolist()]
        if None in rows:
            placed = self.stand(angle)[0]
            return placed if one else spread(placed, len(rows))
        at: Any = rows[0] if one else rows
        return {name: Placement(p.origin[at], p.along[at], p.up[at]) for name, p in self._usually.items()}

    @cached_property
    def _rows(self) -> dict[float, int]:
        return {angle: row for row, angle in enumerate(self.usual.tolist())}

    @cached_property
    def _usually(self) -> dict[str, Placement]:
        """At the usual angles, worked out together: the time of a pose goes by the number of mechanisms, not of angles."""
        found: dict[str, Placement] = {}
        for standing in self.standing.values():
            found |= standing.spread
        return found

    @cached_property
    def standing(self) -> dict[str, Standing]:
        """Every mechanism at the usual angles; the same object as long as nothing changes that decides how it stands."""
        spine, angles = spine_fold(self.usual), self.usual.tobytes()
        out: dict[str, Standing] = {}
        placed_by: dict[str, Standing] = {}
        for mechanism in self.mechanisms:
            name = mechanism.name
            local = tuple([self.local.get(panel.name) for panel in self.flats[name].panels])
            key = "stands", angles, mechanism, tuple(self.sizes[name].values()), local, self._told(mechanism, out, placed_by)
            out[name] = self.kept.get(key, partial(self._standing, mechanism, spine, out, placed_by))
            placed_by |= dict.fromkeys(out[name].placements, out[name])
        return out

    def _told(self, mechanism: Mechanism, out: Mapping[str, Standing], placed_by: Mapping[str, Standing]) -> Hashable:
        """What decides where the host of a mechanism stands."""
        if mechanism.name not in self.hosts:
            return None
        owner, place = self.hosts[mechanism.name]
        if "face" not in mechanism.stands_on:
            return out[owner], place
        frame = self.flats[owner].faces[place]
        return placed_by[frame.panel], frame

    def _standing(self, mechanism: Mechanism, spine: Fold, out: Mapping[str, Standing],
                  placed_by: Mapping[str, Standing]) -> Standing:
        folds, placements = {}, {}
        if mechanism.name in self.hosts:
            owner, place = self.hosts[mechanism.name]
            if "face" in mechanism.stands_on:
                panel = self.flats[owner].faces[place].panel
                placements = {panel: placed_by[panel].placements[panel]}
            else:
                folds = {(owner, place): out[owner].folds[place]}
        pose = self._pose(mechanism, self._host(mechanism, spine, folds, placements))
        return Standing(pose.placements, pose.folds, spread(pose.placements, len(self.usual)))

    def _pose(self, mechanism: Mechanism, host: Fold) -> Pose:
        """A mechanism at its host, its panels in part coordinates."""
        pose = mechanism.pose(self.sizes[mechanism.name], host)
        return Pose({name: on_sheet(p, self.local[name]) if name in self.local else p for name, p in pose.placements.items()},
                    pose.folds)

    def some(self, angles: Vector, panels: Collection[str]) -> dict[str, Placement]:
        """Placements of at least these panels at n angles in degrees: what neither they nor their hosts need is left out."""
        if all(each in self._rows for each in angles.tolist()):
            return self(angles)
        wanted: set[str] = set()
        todo = [panel.split(".")[0] for panel in panels]
        while todo:
            name = todo.pop()
            if name in wanted:
                continue
            wanted.add(name)
            if name in self.hosts:
                owner, place = self.hosts[name]
                face = self.flats[owner].faces.get(place)
                todo += [owner] if face is None else [owner, face.panel.split(".")[0]]
        return self.stand(angles, wanted)[0]

    def openings(self, angles: Vector) -> dict[tuple[str, str], Vector]:
        """Opening of every crease that carries or could carry something, degrees, shape (n,), by mechanism and name."""
        _, folds = self.stand(angles)
        return {key: np.broadcast_to(fold.opening[..., 0], np.shape(angles)) for key, fold in folds.items()}

    def stand(self, angle: float | Vector,
              only: Collection[str] | None = None) -> tuple[dict[str, Placement], dict[tuple[str, str], Fold]]:
        """Placements by panel and folds by mechanism and crease; of some mechanisms `only`, with all their hosts."""
        spine = spine_fold(angle)
        folds: dict[tuple[str, str], Fold] = {}
        placements: dict[str, Placement] = {}
        for mechanism in self.mechanisms:
            if only is not None and mechanism.name not in only:
                continue
            pose = self._pose(mechanism, self._host(mechanism, spine, folds, placements))
            placements |= pose.placements
            folds |= {(mechanism.name, crease): fold for crease, fold in pose.folds.items()}
        return placements, folds

    def _host(self, mechanism: Mechanism, spine: Fold, folds: Mapping[tuple[str, str], Fold],
              placements: Mapping[str, Placement]) -> Fold:
        if mechanism.name not in self.hosts:
            return spine
        owner, place = self.hosts[mechanism.name]
        if "face" not in mechanism.stands_on:
            return folds[owner, place]
        frame = self.flats[owner].faces[place]
        return face_fold(frame, placements[frame.panel])
