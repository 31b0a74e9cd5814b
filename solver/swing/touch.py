"""Panels that touch all the time without a crease, glue or slot: a wall on its page, the point of a V on the spine."""

from __future__ import annotations

import numpy as np

from foldwright.solver.swing.gaps import gaps
from foldwright.solver.swing.joins import Join
from foldwright.solver.swing.memory import Memory
from foldwright.solver.swing.scene import Scene
from foldwright.solver.swing.shapes import SIMPLIFY, Flags, Floats, Ints
from foldwright.solver.swing.stand import Pairs, Seen

TOUCH = 2 * SIMPLIFY + 1e-6  # mm: what touches may be this far apart once both outlines are simplified
SAMPLES = (0.25, 0.5, 0.85)  # shares of the swing at which two panels have to touch to count as touching all the time


def with_touching(scene: Scene, first: Ints, second: Ints, joined: Ints, panels: list[bytes],
                  memory: Memory) -> Ints:
    """How pairs are joined, once free pairs whose bodies touch all the time count as near a joint, shape (q,).

    `panels` are the keys of the panels. What a memory knows is not measured again.
    """
    keys = [(panels[a], panels[b]) for a, b in zip(first.tolist(), second.tolist(), strict=True)]
    free = joined == Join.FREE
    new = np.flatnonzero(free & np.array([key not in memory.touching for key in keys], dtype=bool))
    known = dict(zip([keys[index] for index in new], _touching(scene, first[new], second[new]).tolist(), strict=True))
    memory.touching = {key: known[key] if key in known else memory.touching[key]
                       for key, open_ in zip(keys, free, strict=True) if open_}
    touching = np.array([open_ and memory.touching[key] for key, open_ in zip(keys, free, strict=True)], dtype=bool)
    low, high = np.sort([scene.joins.rigid[first], scene.joins.rigid[second]], axis=0)
    code = low * len(scene.names) + high
    out: Ints = np.where(free & np.isin(code, code[touching]), Join.NEAR, joined)
    return out


def _touching(scene: Scene, first: Ints, second: Ints) -> Flags:
    """Whether free pairs touch at a few angles well apart, shape (q,)."""
    out = np.ones(len(first), dtype=bool)
    last = len(scene.grid.angles) - 1
    for share in SAMPLES:
        here = np.flatnonzero(out)
        moment = np.full(len(here), max(1, round(share * last)))
        pairs = Pairs(first[here], second[here], moment)
        near = scene.apart(pairs, Seen.of(scene.grid, pairs)) <= TOUCH
        size: Floats = np.full(len(here), np.inf)
        size[near] = gaps(scene.shapes, scene.grid, pairs[near], 2 * TOUCH).size
        out[here] = size <= TOUCH
    return out
