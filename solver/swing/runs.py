"""From single angles to ranges: where something begins and ends, halved down to a twentieth of a degree."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from foldwright.solver.swing.shapes import Flags, Floats, Ints

FINE = 0.05  # degrees: nobody opens a card more finely

Sample = tuple[int, float, bool]  # pair, angle in degrees, whether it is the case

# Tells of pairs, by number (k,), at angles in degrees (k,), whether it is the case.
Test = Callable[[Ints, Floats], Flags]


@dataclass(frozen=True)
class Range:
    """A range of angles, in degrees, in which something is the case for a pair: at both ends it is."""

    pair: int
    angle: float
    until: float


def ranges(samples: list[Sample], test: Test) -> list[Range]:
    """Ranges from samples, in the order of pair and angle; the closed card (0 degrees) is outside of all of them."""
    samples = sorted(samples)
    starts, ends = [], []  # (pair, angle where not, angle where it is)
    for index, (pair, angle, true) in enumerate(samples):
        if not true:
            continue
        before = samples[index - 1] if index else (-1, 0.0, False)
        after = samples[index + 1] if index + 1 < len(samples) else (-1, 0.0, False)
        if before[0] != pair or not before[2]:
            starts.append((pair, before[1] if before[0] == pair else 0.0, angle))
        if after[0] != pair or not after[2]:
            ends.append((pair, after[1] if after[0] == pair else angle, angle))
    if not starts:
        return []
    pairs = np.array([start[0] for start in starts])
    edges = np.array(starts + ends)
    found = bisect(edges[:, 0].astype(np.int64), edges[:, 1], edges[:, 2], test)
    return [Range(int(pair), float(first), float(last))
            for pair, first, last in zip(pairs, found[:len(starts)], found[len(starts):], strict=True)]


def bisect(pair: Ints, outside: Floats, inside: Floats, test: Test) -> Floats:
    """Angles at which it is the case, no more than `FINE` from angles at which it is not; one for each bracket."""
    outside, inside = outside.copy(), inside.copy()
    while True:
        wide = np.flatnonzero(np.abs(inside - outside) > FINE)
        if not len(wide):
            return inside
        middle = (outside[wide] + inside[wide]) / 2
        true = test(pair[wide], middle)
        inside[wide[true]] = middle[true]
        outside[wide[~true]] = middle[~true]
