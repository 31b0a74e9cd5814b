"""The public functions: the same work as the commands, without printing."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from foldwright.emit import Wanted, build_files, write_folder
from foldwright.emit.folder import refuse_early
from foldwright.emit.report import posed
from foldwright.grammar import Design, Refused, Severity, read
from foldwright.grammar.problem import Label, Problem
from foldwright.grammar.problems import AgainstGrain, LostToKerf, NoSeam, PackerMissing, WaivedTooMuch, WouldJam
from foldwright.grammar.source import Span
from foldwright.solver.answer import Progress, repairs_of, solve_model
from foldwright.solver.bind import Bound
from foldwright.solver.card import Card, Part
from foldwright.solver.evaluate import slack
from foldwright.solver.grain import size_of, too_long
from foldwright.solver.joints import unjoined
from foldwright.solver.kerf import lost_parts
from foldwright.solver.memory import Memory
from foldwright.solver.model import Solution
from foldwright.solver.proof import Proof, ProofFailed, prove
from foldwright.solver.settle import settle
from foldwright.solver.swing import Event, Swing
from foldwright.solver.swing import swing as swing_of
from foldwright.solver.variants import varied
from foldwright.solver.words import amount

if TYPE_CHECKING:
    from foldwright.other_answers import Others
    from foldwright.solver.limits import Limit
    from foldwright.solver.repairs import Repair, Repairs


Script = Path | str | Design  # a file, or a design that was read and perhaps varied


@dataclass(frozen=True)
class Checked:
    """A card that holds: its design (a plain one, all choices made), the solved card, its swing and the proof."""

    design: Design
    card: Card
    swing: Swing
    proof: Proof


@dataclass(frozen=True)
class Swung:
    """A solved card with its plain design and its swing, whatever happens in it."""

    design: Design
    card: Card
    swing: Swing


def design_of(script: Script, memory: Memory | None = None) -> Design:
    """The design of a script: read from its file, or as it is handed over (a variant, say). Raises Refused."""
    return script if isinstance(script, Design) else read(Path(script), None if memory is None else memory.read)


@contextmanager
def waived_too_much(waived: Sequence[tuple[str, float, Span]]) -> Iterator[None]:
    """Whatever breaks in the body is a problem of the script if it waives rules (name, slack, place) that are missed."""
    missed = [(name, at) for name, slack, at in waived if slack < 0]
    try:
        yield
    except (ProofFailed, ValueError, ArithmeticError, AssertionError, LookupError) as error:
        if not missed:
            raise
        detail = error.detail if isinstance(error, ProofFailed) else "its parts cannot be drawn"
        raise Refused([WaivedTooMuch(missed[0][1], tuple(name for name, _ in missed), detail)]) from error


def swing(path: Script, progress: Progress | None = None, seconds: float | None = None, step: float | None = None,
          memory: Memory | None = None) -> Swung:
    """Read and solve a script and swing the card from closed to open; what jams is an event, not an exception.

    Where the script leaves things open, the best way that does not jam is taken, if there is one; the design of the result is
    the plain one that was chosen. `step` in degrees sets the grid of opening angles. With a `memory` kept between calls, what
    an edit does not touch is not worked out again; the result is the same. Raises Refused if the script has faults or its
    rules cannot hold together.
    """
    design = design_of(path, memory)
    memory = memory or Memory()
    memory.turn()
    met: list[tuple[Solution, Swung]] = []

    def swung(bound: Bound, solution: Solution) -> Swung:
        waived = [(w.rule.name, float(slack(w.rule, solution.values)[2]), w.at) for w in bound.model.waived]
        with waived_too_much(waived):
            card = settle(bound, solution, memory)
            if progress:
                progress("opening and closing the card")
            met.append((solution, Swung(bound.design, card, swing_of(card, step, memory.swings))))
        return met[-1][1]

    def accept(bound: Bound, solution: Solution) -> Sequence[Problem]:
        try:
            found = swung(bound, solution)
        except Refused as refused:
            return refused.problems
        return [*jams(found.design, found.swing), *no_seam(found.design, found.card)]

    bound, solution = solve_model(design, progress, seconds, accept, memory)
    for known, found in met:
        if known is solution:
            return replace(found, card=replace(found.card, choices=bound.choices))
    return swung(bound, solution)


def check(path: Script, progress: Progress | None = None, seconds: float | None = None,
          memory: Memory | None = None) -> Checked:
    """Read, solve, swing and prove a script; writes nothing.

    Raises Refused (problems of the script, and whatever would jam) or ProofFailed (a fault of ours). `seconds` bounds
    the search; `progress` is called with a few words at each stage; `memory` as in `swing`.
    """
    with nullcontext() if memory is None else _collector_waits():
        swung = swing(path, progress, seconds, memory=memory)
        problems: list[Problem] = [*jams(swung.design, swung.swing), *lost_to_kerf(swung.design, swung.card),
                                   *no_seam(swung.design, swung.card), *against_grain(swung.design, swung.card)]
        if problems:
            raise Refused(problems)
        if progress:
            progress("proving the card by geometry")
        places = {without.at.line: without.at for without in swung.design.withouts}
        with waived_too_much([(w.checked.rule.name, w.checked.slack, places[w.line]) for w in swung.card.waived]):
            return Checked(swung.design, swung.card, swung.swing, prove(swung.card, memory))


def lost_to_kerf(design: Design, card: Card) -> list[LostToKerf]:
    """The parts of a card whose slots or holes are no wider than its kerf, as one problem."""
    parts = lost_parts(card)
    kerf = design.machine.kerf
    return [LostToKerf(None if kerf is None else kerf.at, amount(card.machine.kerf, unit=card.unit), parts)] if parts else []


def no_seam(design: Design, card: Card) -> list[NoSeam]:
    """The parts that fit no mat and could not be cut in pieces, as far as that is allowed."""
    joints, blocks = design.machine.joints, {(block.name or block.keyword).text: block.at for block in design.blocks}

    def problem(part: Part) -> NoSeam:
        owner = part.name.split(".")[0]
        size = " x ".join(amount(side, unit=card.unit) for side in size_of(part))
        margin = amount(card.practice["joint.margin"], unit=card.unit)
        return NoSeam(None if joints is None else joints.at, part.name, size, margin,
                      Label(blocks[owner], owner) if owner in blocks else None)

    return [problem(part) for part in unjoined(card)]


def against_grain(design: Design, card: Card) -> list[AgainstGrain]:
    """The parts that fit the mat only across the grain of their paper, a problem for each paper.

    Where parts may be joined, what is too long along its grain is cut in pieces, or told of by `no_seam`.
    """
    if card.machine.joints:
        return []
    parts: dict[str, list[str]] = {}
    for part, paper in too_long(card):
        parts.setdefault(paper.name, []).append(part.name)
    return [AgainstGrain(paper.at, paper.name.text, tuple(parts[paper.name.text]))
            for paper in design.papers if paper.name.text in parts]


@contextmanager
def _collector_waits() -> Iterator[None]:
    """Python's search for unused cycles waits until the body is done.

    In a process that stays up it goes through all that is kept, again and again, for a check that leaves next to no cycles.
    """
    running = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if running:
            gc.enable()


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


def find(path: Script, progress: Progress | None = None, seconds: float | None = None) -> dict[str, tuple[Fraction, str]]:
    """The dimensions found, exact, by name, each with its unit ("mm" or "°")."""
    return dict(check(path, progress, seconds).card.dimensions)


def build(path: Script, out: Path | str, progress: Progress | None = None, seconds: float | None = None,
          wanted: Wanted | None = None, told: Callable[[Checked], None] | None = None,
          noted: Callable[[str], None] | None = None) -> list[Path]:
    """Write the cut sheets, template pages and the report of a script into the folder `out`, all or none; returns the files.

    `wanted` says which files and how (page formats, DXF version, a file for each operation, labels).
    The sheets of a variant carry its name. Raises Refused, ProofFailed, or FolderRefused if `out` holds something that is
    not ours, or another variant of the card. `told` is called with the checked card once the files are there, `noted` with
    what there is to tell of sheets that are kept in the layout file beside the script, or were looked for (`wanted.tighten`).
    """
    _packer_there(wanted)
    design = design_of(path)
    of = "" if design.variant is None else f"the variant {design.variant}"
    refuse_early(Path(out), of)
    checked = check(design, progress, seconds)
    files = _files(checked, progress, wanted, noted)
    write_folder(Path(out), files, of)
    if told:
        told(checked)
    return [Path(out) / name for name in sorted(files)]


def build_variants(path: Script, out: Path | str, progress: Progress | None = None, seconds: float | None = None,
                   wanted: Wanted | None = None, noted: Callable[[str], None] | None = None) -> list[Path]:
    """Write a card as written and all its variants, each into a folder of its own below `out`: all of them or none.

    Returns the files written. Raises as `build`; the problems of a variant that cannot be made are those of the script.
    """
    from foldwright.emit.names import Unique, file_word

    _packer_there(wanted)
    design, unique = design_of(path), Unique()
    refuse_early(Path(out), "all variants")
    files: dict[str, bytes] = {}
    problems: list[Problem] = []
    for version in (design, *(varied(design, variant) for variant in design.variants)):
        folder = unique("as-written" if version.variant is None else file_word(version.variant))
        try:
            made = _files(check(version, progress, seconds), progress, wanted, noted)
        except Refused as refused:
            problems.extend(problem for problem in refused.problems if problem not in problems)
            continue
        files |= {f"{folder}/{name}": content for name, content in made.items()}
    if problems:
        raise Refused(problems)
    write_folder(Path(out), files, "all variants")
    return [Path(out) / name for name in sorted(files)]


def _packer_there(wanted: Wanted | None) -> None:
    """Raises AskedWrong if fewer sheets are asked for and cannot be looked for."""
    if wanted and wanted.tighten:
        from foldwright.asked import AskedWrong
        from foldwright.emit.strip import available

        if not available():
            raise AskedWrong([PackerMissing(None)])


def _files(checked: Checked, progress: Progress | None, wanted: Wanted | None,
           noted: Callable[[str], None] | None) -> dict[str, bytes]:
    """The files of a card; its variant, if it is one, stands in the names of the sheets.

    A layout that was looked for and found is kept at once, whatever becomes of the files.
    """
    from foldwright.emit.kept_layout import KeptLayouts, layout_file
    from foldwright.emit.names import file_word

    source, variant = checked.design.source, checked.design.variant
    script = source.folder / Path(source.name).name
    kept = KeptLayouts(layout_file(script) if script.is_file() else None, variant or "", wanted.tighten if wanted else 0.0)
    files = build_files(checked.card, checked.swing.events, progress, wanted, kept)
    kept.save()
    if noted:
        for note in kept.notes:
            noted(note if variant is None else f"{variant}: {note}")
    if variant is None:
        return files
    word = file_word(variant)
    return {name if name == "report.json" else f"{word}-{name}": content for name, content in files.items()}


def pose(path: Script, angles: Sequence[float]) -> list[dict[str, object]]:
    """Corners of every panel in space (mm) at each opening angle in degrees, as in the report."""
    return posed(check(path).card, angles)


def limits(checked: Checked, progress: Progress | None = None, seconds: float | None = None) -> tuple[Limit, ...]:
    """For each wish of a checked card: the rules that stop it, and what other numbers of the script would buy.

    Each gain is found by solving the script with the other number. `seconds` bounds the search; what it cuts short says so.
    """
    from foldwright.solver.bind import bind
    from foldwright.solver.limits import limits as search

    return search(bind(checked.design), checked.card.wishes, seconds, progress)


def alternatives(path: Script, count: int, out: Path | str | None = None, progress: Progress | None = None,
                 seconds: float | None = None) -> tuple[Others, list[Path]]:
    """At most `count` clearly different answers to a script, its own among them, none better than another in every wish.

    With a folder `out` each is also written as a script of fixed values, with the artwork it needs and a contact sheet of
    pictures, all or none; the second value lists the files. Raises Refused as `check` does, FolderRefused as `build` does,
    ValueError for a count outside 1 to 26. `seconds` bounds the search for all of them together.
    """
    from foldwright.answer_files import files
    from foldwright.other_answers import find_others

    others = find_others(path, count, progress, seconds)
    if out is None:
        return others, []
    if progress:
        progress("drawing the contact sheet")
    made = files(others)
    write_folder(Path(out), made)
    return others, [Path(out) / name for name in sorted(made)]


def repairs(path: Script, progress: Progress | None = None, seconds: float | None = None) -> Repairs:
    """The changes of a script that make its card possible, in the order in which the messages of `check` number them.

    None if the card is possible. Each change was tried: its text was read again, and
    all rules can hold. Raises Refused if the script has faults of another kind.
    """
    return repairs_of(design_of(path), progress, seconds)


def applied(script: Script, change: Repair) -> str:
    """The text of a script with one of its `repairs` made; comments and layout are kept."""
    from foldwright.solver.written import edited_text

    return edited_text(design_of(script).source.text, change.edits)


def fixed_script(checked: Checked) -> str:
    """The script with every found dimension written in as a fixed value; comments and layout are kept.

    Ranges become the value found; dimensions that the script leaves to the tool are added to their block.
    """
    from foldwright.writeback import write_back

    return write_back(checked.design, checked.card)
