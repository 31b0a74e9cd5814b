"""What happens between the panels of each pair over the whole swing: the work that a memory saves."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from foldwright.solver.swing.between import look_between, turned_through
from foldwright.solver.swing.depth import depth
from foldwright.solver.swing.gaps import gaps
from foldwright.solver.swing.joins import Join
from foldwright.solver.swing.kernel import PARALLEL, pierced
from foldwright.solver.swing.memory import Meeting, Record
from foldwright.solver.swing.runs import FINE, Range, Sample, ranges
from foldwright.solver.swing.scene import Scene
from foldwright.solver.swing.shapes import Flags, Floats, Ints
from foldwright.solver.swing.stand import Pairs, Seen, Stand

LYING = 1e-6  # mm: in one plane, but for rounding
RESTING = 1e-3  # mm: in contact, with outlines on a grid of 1e-6 mm


@dataclass(frozen=True)
class Study:
    """Pairs of panels to look at: numbers `first` and `second`, shape (q,), how they are `joined`, and where they met.

    `met` lists the pairs at the angles of the grid at which their boxes came near, sorted by pair and angle, closed left
    out; `pair` numbers the pair of each, shape (k,).
    """

    scene: Scene
    first: Ints
    second: Ints
    joined: Ints
    met: Pairs
    pair: Ints

    @cached_property
    def seen(self) -> Seen:
        """How the panels lie to each other."""
        return Seen.of(self.scene.grid, self.met)

    @cached_property
    def apart(self) -> Floats:
        """Lower bounds of their distances, shape (k,)."""
        return self.scene.apart(self.met, self.seen)

    @cached_property
    def through(self) -> Flags:
        """Whether they pass through each other, shape (k,)."""
        near = np.flatnonzero(self.apart <= 0)
        out = np.zeros(len(self.met), dtype=bool)
        out[near[pierced(self.scene.shapes, self.scene.grid, self.met[near], self.seen[near]).pair]] = True
        return out

    @cached_property
    def lying(self) -> Flags:
        """Whether both lie in one plane, shape (k,)."""
        return (self.seen.sine <= PARALLEL) & (np.abs(self.seen.shift[:, 2]) <= LYING)

    @cached_property
    def gap(self) -> Floats:
        """Distances, NaN until measured, shape (k,)."""
        return np.full(len(self.met), np.nan)

    def _measure(self, chosen: Ints) -> tuple[Floats, Floats]:
        """Distances of some, up to the caliper, and places; what is less is kept."""
        found = gaps(self.scene.shapes, self.scene.grid, self.met[chosen], self.caliper[self.pair[chosen]])
        self.gap[chosen] = np.where(np.isfinite(found.size), found.size, np.nan)
        return found.size, found.place

    @cached_property
    def caliper(self) -> Floats:
        """Mean caliper of each pair, shape (q,)."""
        return self.scene.mean_caliper(self.first, self.second)

    @cached_property
    def free(self) -> Flags:
        """Pairs whose distance counts, shape (q,)."""
        out: Flags = self.joined == Join.FREE
        return out

    # ---- passing through

    def meets(self, pair: Ints, angles: Floats) -> Flags:
        """Whether pairs pass through each other at some angles: a test for `ranges`."""
        stand, pairs = self._posed(pair, angles)
        out = np.zeros(len(pair), dtype=bool)
        out[pierced(self.scene.shapes, stand, pairs, Seen.of(stand, pairs)).pair] = True
        return out

    def _posed(self, pair: Ints, angles: Floats) -> tuple[Stand, Pairs]:
        unique, moment = np.unique(angles, return_inverse=True)
        pairs = Pairs(self.first[pair], self.second[pair], moment)
        return self.scene.at(unique, pairs.panels), pairs

    def _passes(self) -> tuple[dict[int, list[Meeting]], dict[int, list[float]]]:
        """Ranges of passing through by pair, and the angles looked at besides the grid."""
        looked = look_between(self.scene, self.met, self.pair, self.apart, self.through, self.free)
        touched = self._pairs_of(self.through)
        touched[[pair for pair, _, true in looked if true]] = True
        samples = self._samples(touched, self.through) + [sample for sample in looked if touched[sample[0]]]
        found: dict[int, list[Meeting]] = {}
        for run in ranges(samples, self.meets):
            found.setdefault(run.pair, []).append(self._passage(run, samples))
        for pair, angle, place, size in turned_through(self.scene, self.met, self.pair, self.seen, self.through,
                                                       self.joined != Join.CREASE):
            if not any(other.angle - FINE <= angle <= other.until + FINE for other in found.get(pair, ())):
                found.setdefault(pair, []).append(Meeting(angle, angle, place, size))
        between: dict[int, list[float]] = {}
        for pair, angle, _ in looked:
            between.setdefault(pair, []).append(angle)
        return found, between

    def _pairs_of(self, state: Flags) -> Flags:
        """Pairs of which some row is so, shape (q,)."""
        out = np.zeros(len(self.first), dtype=bool)
        out[self.pair[state]] = True
        return out

    def _samples(self, chosen: Flags, state: Flags) -> list[Sample]:
        """Samples on the grid of the chosen pairs, shape (q,): `state` of every row, and not so just before and after the
        angles at which their boxes come near.
        """
        angles = self.scene.grid.angles
        here = np.flatnonzero(chosen[self.pair])
        known = dict(zip(zip(self.pair[here].tolist(), self.met.moment[here].tolist(), strict=True), state[here].tolist(),
                         strict=True))
        beside = sorted({(pair, moment + way) for pair, moment in known for way in (-1, 1)} - known.keys())
        known |= {(pair, moment): False for pair, moment in beside if 0 < moment < len(angles)}
        return [(pair, float(angles[moment]), true) for (pair, moment), true in known.items()]

    def _passage(self, run: Range, samples: list[Sample]) -> Meeting:
        """Where a range begins, and the greatest depth at the angles looked at."""
        inside = [angle for pair, angle, true in samples if pair == run.pair and true and run.angle <= angle <= run.until]
        chosen = sorted({run.angle, run.until, *inside[::max(1, len(inside) // DEPTHS)]})
        stand, pairs = self._posed(np.full(len(chosen), run.pair), np.array(chosen))
        hits = pierced(self.scene.shapes, stand, pairs, Seen.of(stand, pairs))
        places = hits.place[hits.pair == 0]
        middle = places[np.argmin(((places - places.mean(axis=0)) ** 2).sum(axis=1))]
        first, second = int(self.first[run.pair]), int(self.second[run.pair])
        size = max(depth(self.scene.shapes, stand, first, second, moment) for moment in range(len(chosen)))
        return Meeting(run.angle, run.until, _place(middle), size)

    # ---- coming too close

    def near(self, pair: Ints, angles: Floats) -> Flags:
        """Whether pairs are nearer than their papers are thick, where that counts: a test for `ranges`."""
        stand, pairs = self._posed(pair, angles)
        found = gaps(self.scene.shapes, stand, pairs, self.caliper[pair])
        return (found.size < self.caliper[pair]) & self.scene.pages_part(angles, found.place)

    def _close(self, passing: set[int]) -> tuple[dict[int, list[Meeting]], set[int]]:
        """Ranges in which free pairs that never pass through each other are too near, by pair; and all pairs that were
        near enough to be judged.
        """
        angles = self.scene.grid.angles
        judged = self.free.copy()
        judged[sorted(passing)] = False
        here = np.flatnonzero(judged[self.pair] & (self.apart < self.caliper[self.pair]))
        size, place = self._measure(here)
        near = size < self.caliper[self.pair[here]]
        counts = near & self.scene.pages_part(angles[self.met.moment[here]], place) & ~self.lying[here]
        state = np.zeros(len(self.met), dtype=bool)
        state[here[counts]] = True
        found: dict[int, list[Meeting]] = {}
        for run in ranges(self._samples(self._pairs_of(state), state), self.near):
            parting = run.until < angles[-1] and self._from_closed(run)
            if not parting and not self._comes_to_rest(run):
                found.setdefault(run.pair, []).append(self._approach(run))
        return found, set(self.pair[here[near]].tolist())

    def _comes_to_rest(self, run: Range) -> bool:
        """Whether a range ends in contact as the card is fully open: a wall that comes to stand on the open page rests there."""
        opens = self.scene.grid.angles[-1:]
        if run.until <= self.scene.grid.angles[-2]:
            return False
        stand, pairs = self._posed(np.array([run.pair]), opens)
        return bool(gaps(self.scene.shapes, stand, pairs, self.caliper[[run.pair]]).size[0] <= RESTING)

    def _from_closed(self, run: Range) -> bool:
        """Whether a range goes on from the closed card, where both lie on each other: they have never been apart."""
        before = np.flatnonzero(self.scene.grid.angles < run.angle)[1:]
        known = self.met.moment[(self.pair == run.pair) & (self.gap < self.caliper[run.pair])]
        return bool(np.isin(before, known).all())

    def _approach(self, run: Range) -> Meeting:
        """Where a range begins, and the least distance in it; of two that have never been apart, the distance at its end."""
        mine = np.flatnonzero((self.pair == run.pair) & ~np.isnan(self.gap))
        angles = self.scene.grid.angles[self.met.moment[mine]]
        within = self.gap[mine][(angles >= run.angle) & (angles <= run.until)]
        stand, pairs = self._posed(np.array([run.pair, run.pair]), np.array([run.angle, run.until]))
        ends = gaps(self.scene.shapes, stand, pairs)
        least = ends.size[1] if self._from_closed(run) else min([*within.tolist(), *ends.size.tolist()])
        return Meeting(run.angle, run.until, _place(ends.place[0]), float(least))

    # ---- all together

    def records(self) -> list[Record]:
        """A record of each pair."""
        passes, between = self._passes()
        close, judged = self._close(set(passes))
        limits = np.searchsorted(self.pair, np.arange(len(self.first) + 1))
        self.gap[self.through] = 0.0
        return [Record(self.met.moment[low:high], self.apart[low:high], self.gap[low:high], bool(self.free[pair]),
                       tuple(passes.get(pair, ())), tuple(close.get(pair, ())), tuple(sorted(between.get(pair, ()))),
                       self.scene.room if pair in judged else None)
                for pair, (low, high) in enumerate(zip(limits[:-1].tolist(), limits[1:].tolist(), strict=True))]


DEPTHS = 12  # angles of a range at which the depth is measured, its two ends besides


def _place(point: Floats) -> tuple[float, float, float]:
    x, y, z = (float(c) for c in point)
    return x, y, z
