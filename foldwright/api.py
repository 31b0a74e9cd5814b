"""The public functions: the same work as the commands, without printing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from foldwright.emit import build_files, write_folder
from foldwright.emit.report import posed
from foldwright.grammar import Design, read
from foldwright.solver.answer import Progress, solve_design
from foldwright.solver.card import Card
from foldwright.solver.proof import Proof, prove


@dataclass(frozen=True)
class Checked:
    """A card that holds: its design, the solved card and the proof."""

    design: Design
    card: Card
    proof: Proof


def check(path: Path | str, progress: Progress | None = None, seconds: float | None = None) -> Checked:
    """Read, solve and prove a script; writes nothing.

    Raises Refused (problems of the script) or ProofFailed (a fault of ours). `seconds` bounds the search; `progress`
    is called with a few words at each stage.
    """
    design = read(Path(path))
    card = solve_design(design, progress, seconds)
    if progress:
        progress("proving the card by geometry")
    return Checked(design, card, prove(card))


def find(path: Path | str, progress: Progress | None = None, seconds: float | None = None) -> dict[str, tuple[Fraction, str]]:
    """The dimensions found, exact, by name, each with its unit ("mm" or "°")."""
    return dict(check(path, progress, seconds).card.dimensions)


def build(path: Path | str, out: Path | str, progress: Progress | None = None, seconds: float | None = None) -> list[Path]:
    """Write the cut sheets and the report of a script into the folder `out`, all or none; returns the files written.

    Raises Refused, ProofFailed, or FolderRefused if `out` holds something that is not ours.
    """
    checked = check(path, progress, seconds)
    files = build_files(checked.card, progress)
    write_folder(Path(out), files)
    return [Path(out) / name for name in sorted(files)]


def pose(path: Path | str, angles: Sequence[float]) -> list[dict[str, object]]:
    """Corners of every panel in space (mm) at each opening angle in degrees, as in the report."""
    return posed(check(path).card, angles)


def fixed_script(checked: Checked) -> str:
    """The script with every found dimension written in as a fixed value; comments and layout are kept.

    Ranges become the value found; dimensions that the script leaves to the tool are added to their block.
    """
    from foldwright.writeback import write_back

    return write_back(checked.design, checked.card)
