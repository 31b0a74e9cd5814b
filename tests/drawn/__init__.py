"""Random dimensions, rough guesses and glue of every mechanism, one file each, for the tests of mechanisms.

A file holds a `KIT`. `test_mechanism_properties.py` and `test_mechanism_rigid.py` run over all kits that are found
here, so that a new mechanism is tested as all others are by adding its file.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from assembled import OPENINGS, Bench, Guess, Join
from by_hand import Source, Stand


@dataclass(frozen=True)
class Tree:
    """A mechanism on its hosts with random dimensions, some of which may break its rules.

    `rigid` tells that it is put together from rigid panels too, followed down the `openings` (those that the card
    reaches). `words` are words of choices that must come up among the sets drawn. What is cut out of its host's sheet
    is not `glued`.
    """

    draw: Callable[[Source], Stand]
    rigid: bool = True
    openings: tuple[float, ...] = OPENINGS
    words: frozenset[str] = frozenset()
    glued: bool = True


@dataclass(frozen=True)
class Kit:
    """What the tests know of a mechanism: its trees by name, where its points lie roughly, and how it is glued.

    `guess(link)` gives, for the open card, a place in space for a point (u, v) of a panel (named without its owner).
    `join(bench, link)` glues what does not stand on a mark of its host.
    """

    trees: Mapping[str, Tree]
    guess: Callable[[Stand], Guess]
    join: Join | None = None


@cache
def kits() -> dict[str, Kit]:
    """All kits by the keyword of their mechanism (the name of their file)."""
    return {module.name: importlib.import_module(f"{__name__}.{module.name}").KIT for module in pkgutil.iter_modules(__path__)}


@cache
def trees() -> dict[str, Tree]:
    """All trees by name."""
    return {name: tree for kit in kits().values() for name, tree in kit.trees.items()}


def bench_of(mine: Stand) -> Bench:
    """The stand on the bench, with guesses and glue of all its parts."""
    guesses: dict[str, Guess] = {}
    joins: dict[str, Join] = {}
    for link in mine.chain[1:]:
        kit = kits()[link.mechanism.keyword]
        guesses[link.name] = kit.guess(link)
        if kit.join is not None:
            joins[link.name] = kit.join
    # a pleat stands out behind the open card; panels of the cover lie where they are drawn
    guesses["cover"] = lambda panel, u, v: np.array([u, v, -5.0 if panel.startswith("pleat") else 0.0])
    return Bench(mine, guesses, joins)
