"""A strip of one height as narrow as can be: spyrrow, asked in a process of its own.

spyrrow (extra `tighten`) wraps sparrow (Gardeyn, Vanden Berghe, Wauters, "An open-source heuristic to reboot 2D nesting
research", arXiv 2509.13329). Its clock decides what it finds and its spacing is not exact, so an answer is a proposal, which
whoever asks has to measure.
"""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.util import find_spec
from time import monotonic

from shapely.geometry import Polygon

from foldwright.solver.engine.stopping import current

MARGIN = 0.12  # mm beyond the spacing asked for: with it, measured, the spacing was kept in all layouts, without it in few
_LATE = 3.0  # seconds after its time when the process is ended: the library was measured up to 2.2 s late
_LOOK = 0.2  # seconds between two looks at the wish to stop
_WORKERS = 4  # threads at most
_LOOSE = 0.02  # mm that the strip is higher, for a part as high as the mat; parts slide back afterwards
_SMOOTH = 0.02  # mm that a shape may be simplified by, less than the margin


@dataclass(frozen=True)
class Piece:
    """A shape without regard to its holes, and the turns (degrees) that it may take."""

    shape: Polygon
    turns: tuple[int, ...]


@dataclass(frozen=True)
class Strip:
    """How wide the pieces came out (mm), and for each by its name: turn in degrees about (0, 0), then a shift (x, y)."""

    width: float
    spots: Mapping[str, tuple[int, float, float]]


def available() -> bool:
    """Whether spyrrow is installed."""
    return find_spec("spyrrow") is not None


def narrowed(pieces: Mapping[str, Piece], height: float, spacing: float, seconds: float, seed: int,
             target: float = 0.0) -> Strip | None:
    """Pieces on a strip of `height` mm from x = 0 on, about `spacing` apart; stops once it is no wider than `target`.

    None if nothing was found, the time was over, or somebody asked to stop.
    """
    apart = spacing + MARGIN  # kept from the edges too, hence the higher strip and the shift back
    items = [{"id": name, "shape": list(_simple(piece.shape, spacing).exterior.coords)[:-1], "turns": list(piece.turns)}
             for name, piece in pieces.items()]
    question = {"items": items, "height": height + 2 * apart + _LOOSE, "apart": apart, "seconds": max(1, math.floor(seconds)),
                "seed": seed, "workers": min(_WORKERS, os.cpu_count() or 1), "target": target + 2 * apart if target else 0}
    found = _asked(json.dumps(question), monotonic() + max(1.0, seconds) + _LATE)
    if found is None:
        return None
    try:
        read = json.loads(found)
        spots = {name: (turn % 360, x - apart, y - apart) for name, turn, x, y in read["placed"]}
        whole = set(spots) == set(pieces) and all(turn in pieces[name].turns for name, (turn, _, _) in spots.items())
        return Strip(read["width"] - 2 * apart, spots) if whole else None
    except (ValueError, TypeError, KeyError):
        return None


def _simple(shape: Polygon, spacing: float) -> Polygon:
    """The shape without holes and without slits in which nothing can lie; fewer corners are quicker."""
    filled, half = Polygon(shape.exterior), spacing / 2
    closed = filled.buffer(half, join_style="mitre").buffer(-half, join_style="mitre").simplify(_SMOOTH) if half else filled
    return closed if isinstance(closed, Polygon) and closed.is_valid and not closed.is_empty else filled


def _asked(question: str, until: float) -> str | None:
    """What the process answers; it is ended when its time is over or somebody asks to stop."""
    stop = current()
    command = [sys.executable, "-P", "-m", "foldwright.emit.strip_child"]
    try:
        process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
                                   encoding="utf-8")
    except OSError:  # no more processes are allowed, say
        return None
    with process as child:
        given: str | None = question
        try:
            while monotonic() < until and not (stop and stop()):
                try:
                    return child.communicate(given, timeout=_LOOK)[0]
                except subprocess.TimeoutExpired:
                    given = None  # what was given once is still being written
            return None
        finally:
            child.kill()
