"""The public functions: the same work as the commands, without printing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from foldwright.emit import build_files, write_folder
from foldwright.emit.report import posed
from foldwright.grammar import Design, Refused, Severity, read
from foldwright.grammar.problem import Label
from foldwright.grammar.problems import WouldJam
from foldwright.solver.answer import Progress, solve_design
from foldwright.solver.card import Card
from foldwright.solver.proof import Proof, prove
from foldwright.solver.swing import Event, Memory, Swing
from foldwright.solver.swing import swing as swing_of


@dataclass(frozen=True)
class Checked:
    """A card that holds: its design, the solved card, its swing from closed to open, and the proof."""

    design: Design
    card: Card
    swing: Swing
    proof: Proof


@dataclass(frozen=True)
class Swung:
    """A solved card and its swing, whatever happens in it."""

    design: Design
    card: Card
    swing: Swing


def swing(path: Path | str, progress: Progress | None = None, seconds: float | None = None, step: float | None = None,
          memory: Memory | None = None) -> Swung:
    """Read and solve a script and swing the card from closed to open; what jams is an event, not an exception.

    `step` in degrees sets the grid of opening angles. With a `memory` kept between calls, pairs of panels that have not
    changed are not looked at again. Raises Refused if the script has faults or its rules cannot hold together.
    """
    design = read(Path(path))
    card = solve_design(design, progress, seconds)
    if progress:
        progress("opening and closing the card")
    return Swung(design, card, swing_of(card, step, memory))


def check(path: Path | str, progress: Progress | None = None, seconds: float | None = None,
          memory: Memory | None = None) -> Checked:
    """Read, solve, swing and prove a script; writes nothing.

    Raises Refused (problems of the script, and whatever would jam) or ProofFailed (a fault of ours). `seconds` bounds
    the search; `progress` is called with a few words at each stage; `memory` as in `swing`.
    """
    swung = swing(path, progress, seconds, memory=memory)
    problems = jams(swung.design, swung.swing)
    if problems:
        raise Refused(problems)
    if progress:
        progress("proving the card by geometry")
    return Checked(swung.design, swung.card, swung.swing, prove(swung.card))


def jams(design: Design, swung: Swing) -> list[WouldJam]:
    """The events of a swing that keep a card from opening and closing, as problems with their places in the script.

    Of several events of one kind between the same two mechanisms the first is told, with the number of the others.
    """
    blocks = {(block.name or block.keyword).text: (block.name or block.keyword).at for block in design.blocks}
    groups: dict[tuple[str, tuple[str, ...]], list[Event]] = {}
    for event in swung.events:
        if event.severity is Severity.ERROR:
            owners = tuple(sorted({panel.split(".")[0] for panel in event.panels}))
            groups.setdefault((event.kind, owners), []).append(event)
    problems = []
    for (kind, owners), events in groups.items():
        places = [Label(blocks[owner], owner) for owner in owners if owner in blocks]
        more = f" (and {len(events) - 1} more of their pairs of panels)" if len(events) > 1 else ""
        problems.append(WouldJam(places[0].at if places else None, kind, events[0].words + more, tuple(places[1:])))
    return problems


def find(path: Path | str, progress: Progress | None = None, seconds: float | None = None) -> dict[str, tuple[Fraction, str]]:
    """The dimensions found, exact, by name, each with its unit ("mm" or "°")."""
    return dict(check(path, progress, seconds).card.dimensions)


def build(path: Path | str, out: Path | str, progress: Progress | None = None, seconds: float | None = None) -> list[Path]:
    """Write the cut sheets and the report of a script into the folder `out`, all or none; returns the files written.

    Raises Refused, ProofFailed, or FolderRefused if `out` holds something that is not ours.
    """
    checked = check(path, progress, seconds)
    files = build_files(checked.card, checked.swing.events, progress)
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
