"""Mechanisms shown by example: each one's script solved, and pictures of the standing card for its reference page."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from tempfile import TemporaryDirectory
from types import MappingProxyType

from foldwright.emit.picture import picture
from foldwright.grammar import Refused, read, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.bind import bind
from foldwright.solver.card import Card
from foldwright.solver.mechanism import Mechanism

OPEN, HALF = 153.0, 0.55  # degrees at most, as a card that lies flat shows little of how it stands; share of the opening
WIDTH, SMALL = 400.0, 300.0
SECONDS = 20.0  # for one example; they are found in well under one
DECIMAL = 0.02  # twice the last decimal that a picture carries
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")

BOAT = """<svg xmlns="http://www.w3.org/2000/svg" width="46mm" height="44mm" viewBox="0 0 46 44">
  <path d="M2 32 H20 V28 H6 L22 2 L40 28 H25 V32 H44 C42 40 38 44 32 44 H14 C8 44 4 40 2 32 Z"/>
</svg>
"""
# Scripts of mechanisms that show nothing without artwork, which a script in a docstring has not: the artwork by file name.
WITH_ART: Mapping[str, tuple[str, Mapping[str, str]]] = MappingProxyType({"cutout": ("""
card "A boat on a wall"
  units mm
cover 100 x 150
  paper ink
tent quay on spine
  paper sand
  at    40
  width 70
  spread 40
  wall  48
cutout boat
  paper coral
  art   "boat.svg" width 36
  glue  on quay.right at centre
paper ink   colour #22304a weight 216 gsm
paper sand  colour #d8c49a caliper 0.25
paper coral colour #d8735a caliper 0.25
mat 300 x 300
""", {"boat.svg": BOAT})})


@dataclass(frozen=True)
class Shown:
    """A mechanism's example: its script, the mechanism as bound in it, and the solved card."""

    script: str
    made: Mechanism
    card: Card

    def pictures(self, name: str) -> dict[str, str]:
        """The card nearly open and half closed, as SVG text by file name."""
        opens = self.card.opens
        views = {f"{name}.svg": (min(OPEN, opens), WIDTH), f"{name}-half.svg": (HALF * opens, SMALL)}
        return {file: picture(self.card, angle, width=width).decode() for file, (angle, width) in views.items()}


def shown(kind: type[Mechanism]) -> Shown | None:
    """The example of a mechanism, solved; None if it has none."""
    script, artwork = WITH_ART.get(kind.keyword, (kind.example, {}))
    if not script:
        return None
    with TemporaryDirectory() as folder:
        for name, text in artwork.items():
            (Path(folder) / name).write_text(text, encoding="utf-8")
        design = read_text(script, folder=folder)
        made = next(mechanism for mechanism in bind(design).mechanisms if type(mechanism) is kind)
        return Shown(script, made, solve_design(design, seconds=SECONDS))


@dataclass(frozen=True)
class Example:
    """A card of the folder `examples`: its file's name without suffix, what its first comment says, and its picture."""

    name: str
    title: str
    about: str
    picture: str


def example_cards(folder: Path) -> list[Example]:
    """Every card of a folder that can be solved, by name; those that cannot hold are shown elsewhere."""
    out = []
    for path in sorted(folder.glob("*.card")):
        design = read(path)
        try:
            card = solve_design(design, seconds=SECONDS)
        except Refused:
            continue
        head = design.source.text.split("\n\n")[0]
        about = " ".join(line.removeprefix("#").strip() for line in head.splitlines() if line.startswith("#"))
        out.append(Example(path.stem, card.title, about, picture(card, min(OPEN, card.opens), width=WIDTH).decode()))
    return out


def alike(one: str, other: str) -> bool:
    """True if two pictures differ by no more than rounding.

    The corners come from plane operations in floating point, which another machine or library version may round the
    other way; all that is not a number must be the same.
    """
    if _NUMBER.split(one) != _NUMBER.split(other):
        return False
    pairs = zip_longest(_NUMBER.findall(one), _NUMBER.findall(other))
    return all(abs(float(a) - float(b)) <= DECIMAL for a, b in pairs)
