"""The text of a layout file: for each paper the sheets, and a line for each part with its place.

    foldwright layout 1
    paper "weed" of "small mat"
    keeps spacing 2 border 0 mats 203.2 x 152.4
    instead of 3
    sheet 1 203.2 x 152.4 control 0 0 along
    part 1 "tent.left" 12.5 8.25 90 1f3c9a2b5d60
    sum 5b1d0c6a9e3f7a24

Lengths in mm, from the sheet's lower left corner; a part is turned about its own (0, 0), then moved. `of` names the variant.
The number behind a part stands for its outline and the turns that it may take, the sum for the lines above it.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from foldwright.emit.apart import Demands
from foldwright.emit.placed import Control
from foldwright.solver.card import Part

HEAD = "foldwright layout 1"
_WORDS = """\
# Where the parts lie on their sheets, as found by `foldwright build --tighten`. Keep this file beside the script: it is used
# as long as parts, paper and mat stay as they are. Delete it to lay the parts out anew; changed by hand, it is not used.
"""
_NAME = r'("(?:[^"\\\x00-\x1f]|\\.)*")'
_NUMBER = r"(-?\d{1,6}(?:\.\d{1,6})?)"
_PAPER = re.compile(rf"paper {_NAME} of {_NAME}")
_INSTEAD = re.compile(r"instead of (\d{1,4})")
_SHEET = re.compile(rf"sheet (\d{{1,4}}) {_NUMBER} x {_NUMBER}(?: control {_NUMBER} {_NUMBER} (along|upright))?")
_PART = re.compile(rf"part (\d{{1,4}}) {_NAME} {_NUMBER} {_NUMBER} (0|90|180|270) ([0-9a-f]{{12}})")

# Outlines are compared in steps of a hundredth of a millimetre. Steps begin off the round numbers of which dimensions are
# made, so that the last digit, which differs between machines, does not decide.
_STEP, _OFF = 0.01, 0.2718281828


@dataclass(frozen=True)
class Spot:
    """A part's place, as in `Placed`, and the number for its outline."""

    name: str
    x: float
    y: float
    turn: int
    mark: str


@dataclass(frozen=True)
class KeptSheet:
    """A sheet: its mat, the room of the control line, and what lies where."""

    mat: tuple[float, float]
    control: Control | None
    spots: tuple[Spot, ...]


@dataclass(frozen=True)
class Entry:
    """The sheets of one paper of the card as written (`variant` empty) or of a variant; `instead` of so many sheets."""

    paper: str
    variant: str
    keeps: str
    instead: int
    sheets: tuple[KeptSheet, ...]

    @property
    def marks(self) -> dict[str, str]:
        """By part, the number for its outline."""
        return {spot.name: spot.mark for sheet in self.sheets for spot in sheet.spots}


def keeps(demands: Demands) -> str:
    """What a layout has to keep beside the outlines, as a line."""
    mats = ", ".join(f"{_number(width)} x {_number(height)}" for width, height in demands.mats)
    return f"keeps spacing {_number(demands.spacing)} border {_number(demands.border)} mats {mats}"


def mark(part: Part, turns: Collection[int]) -> str:
    """The number for a part: the same wherever its outline starts, and whatever its last digits, in which machines differ."""
    rings = sorted(_ring(ring) for ring in (part.outline.exterior, *part.outline.interiors))
    text = f"{sorted(turns)} {rings}"
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def _ring(ring: shapely.LinearRing) -> list[tuple[int, int]]:
    steps = np.floor(np.asarray(ring.coords)[:-1, :2] / _STEP + _OFF).astype(int).tolist()
    corners = [(x, y) for k, (x, y) in enumerate(steps) if [x, y] != steps[k - 1]]
    if shapely.is_ccw(ring):
        corners.reverse()
    first = corners.index(min(corners)) if corners else 0
    return corners[first:] + corners[:first]


def written(entries: Sequence[Entry]) -> str:
    """The whole text of a layout file."""
    blocks = ("\n".join(lines := _lines(entry)) + f"\nsum {_sum(lines)}\n" for entry in entries)
    return "\n".join((HEAD, _WORDS, "\n".join(blocks)))


def _lines(entry: Entry) -> list[str]:
    lines = [f"paper {_quoted(entry.paper)} of {_quoted(entry.variant)}", entry.keeps, f"instead of {entry.instead}"]
    for number, sheet in enumerate(entry.sheets, start=1):
        line = f"sheet {number} {_number(sheet.mat[0])} x {_number(sheet.mat[1])}"
        if sheet.control is not None:
            control = sheet.control
            line += f" control {_number(control.x)} {_number(control.y)} {'upright' if control.upright else 'along'}"
        lines.append(line)
        lines += [f"part {number} {_quoted(spot.name)} {_number(spot.x)} {_number(spot.y)} {spot.turn} {spot.mark}"
                  for spot in sheet.spots]
    return lines


def _quoted(name: str) -> str:
    return json.dumps(name, ensure_ascii=False)


def _number(value: float) -> str:
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _sum(lines: Sequence[str]) -> str:
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:16]


def is_ours(text: str) -> bool:
    """Whether a text is that of a layout file."""
    return text.split("\n", 1)[0].strip() == HEAD


def entries_of(text: str) -> tuple[list[Entry], int]:
    """The sound entries of a layout file, and how many were changed or damaged. Line ends and blank lines do not matter."""
    lines = [line.strip() for line in text.split("\n")[1:]]  # not `splitlines`, which also ends lines at characters of names
    lines = [line for line in lines if line and not line.startswith("#")]
    starts = [k for k, line in enumerate(lines) if line.startswith("paper ")]
    found: list[Entry] = []
    damaged = int(bool(lines) and starts[:1] != [0])
    for start, end in pairwise([*starts, len(lines)]):
        entry = _entry(lines[start:end])
        if entry is None:
            damaged += 1
        else:
            found.append(entry)
    return found, damaged


def _name(quoted: str) -> str:
    """A name in quotes; raises ValueError if it is none that can be written again."""
    name: str = json.loads(quoted)
    name.encode()
    return name


def _entry(lines: Sequence[str]) -> Entry | None:
    if len(lines) < 5 or lines[-1] != f"sum {_sum(lines[:-1])}":
        return None
    head, instead = _PAPER.fullmatch(lines[0]), _INSTEAD.fullmatch(lines[2])
    if not head or not instead:
        return None
    sheets: list[tuple[tuple[float, float], Control | None, list[Spot]]] = []
    try:
        for line in lines[3:-1]:
            if sheet := _SHEET.fullmatch(line):
                number, width, height, x, y, stands = sheet.groups()
                control = Control(float(x), float(y), stands == "upright") if stands else None
                sheets.append(((float(width), float(height)), control, []))
            elif part := _PART.fullmatch(line):
                number = part[1]
                sheets[-1][2].append(Spot(_name(part[2]), float(part[3]), float(part[4]), int(part[5]), part[6]))
            else:
                return None
            if int(number) != len(sheets):
                return None
        made = tuple(KeptSheet(mat, control, tuple(spots)) for mat, control, spots in sheets)
        return Entry(_name(head[1]), _name(head[2]), lines[1], int(instead[1]), made)
    except (ValueError, IndexError):  # a name that is no text; a part before the first sheet
        return None
