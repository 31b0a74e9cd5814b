"""The layout file beside a script: layouts that took long to find, used again as long as they fit the same parts.

Nothing in it is believed: every layout is measured before it is used, and one that does not fit is left, with a note.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from foldwright.emit.apart import Demands, fault
from foldwright.emit.boxes import Box, fewest
from foldwright.emit.kept_text import Entry, KeptSheet, Spot, entries_of, is_ours, keeps, mark, written
from foldwright.emit.placed import Placed, Sheet
from foldwright.emit.raster import turned
from foldwright.solver.card import Part

LARGEST_FILE = 4_000_000  # bytes; a line of a part is about 60
_SAME = 1e-5  # mm; a file keeps the size of a mat to six decimals


class _Unreadable(Exception):
    """Why a layout file cannot be read, in a few words."""


@dataclass
class KeptLayouts:
    """The layouts kept for one card: those of the layout file at `path` (None: there is none), for one of its variants.

    `seconds` is how long to look for better ones; `notes` gathers what there is to tell.
    """

    path: Path | None
    variant: str = ""
    seconds: float = 0.0
    notes: list[str] = field(default_factory=list)
    _entries: list[Entry] = field(init=False, default_factory=list)
    _instead: dict[str, int] = field(init=False, default_factory=dict)
    _found: list[Entry] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        if self.path is None:
            return
        try:
            self._entries, damaged = entries_of(_text(self.path))
        except _Unreadable as why:
            self.notes.append(f"{self.path.name} {why}; the parts were laid out without it")
            return
        if damaged:
            what = "an entry" if damaged == 1 else f"{damaged} entries"
            self.notes.append(f"{what} of {self.path.name} cannot be used: changed or damaged after it was written. "
                              "Delete it, or find those layouts again with --tighten")

    def of(self, paper: str, parts: Sequence[Part], demands: Demands) -> list[Sheet] | None:
        """The sheets kept for the parts of a paper, numbered from 1; None if there are none, or none that still fit."""
        marks, kept = _marks(parts, demands), keeps(demands)
        own = [entry for entry in self._entries if (entry.paper, entry.variant) == (paper, self.variant)]
        fits = [entry for entry in (*own, *self._entries) if entry.keeps == kept and entry.marks == marks]
        if not fits:
            if own:
                self._tell(paper, f"not those of {self._name}: {_changed(own[0].marks, marks)}")
            return None
        sheets = _sheets(fits[0], paper, parts, demands)
        wrong = "it names a mat that there is not" if sheets is None else fault(sheets, parts, demands)
        if sheets is not None and not wrong and _more_than_boxes(parts, demands, len(sheets)):
            wrong = "it takes more sheets than the parts need"
        if wrong or sheets is None:
            self._tell(paper, f"not those of {self._name}: {wrong}")
            return None
        self._instead[paper] = fits[0].instead
        self._tell(paper, f"as kept in {self._name}{_instead(fits[0].instead, len(sheets))}")
        return sheets

    def keep(self, paper: str, parts: Sequence[Part], demands: Demands, instead: int,
             sheets: Sequence[Sheet]) -> list[Sheet] | None:
        """Keep a layout that was found; the sheets as they will be read again, or None if they do not fit any more then.

        `instead` is the number of sheets so far. Nothing is written before `save`.
        """
        instead = self._instead.get(paper, instead)  # if those were kept too, what they stand for
        marks = _marks(parts, demands)
        entry = Entry(paper, self.variant, keeps(demands), instead, tuple(
            KeptSheet((sheet.width, sheet.height), sheet.control, tuple(
                Spot(one.part.name, one.dx, one.dy, one.turn, marks[one.part.name]) for one in sheet.placed))
            for sheet in sheets))
        (read, *_), _ = entries_of(written([entry]))
        again = _sheets(read, paper, parts, demands)
        if again is None or fault(again, parts, demands):
            return None
        self._found.append(read)
        self._tell(paper, f"found in the time given{_instead(instead, len(again))}")
        return again

    def none_better(self, paper: str, words: str) -> None:
        """No better sheets of a paper were found; `words` say so where nothing else is told of them."""
        if not any(note.startswith(_start(paper)) for note in self.notes):
            self._tell(paper, words)

    def save(self) -> None:
        """Write what was found into the file, whole or not at all; other entries stay."""
        if not self._found:
            return
        if self.path is None:
            self.notes.append("the layout that was found is not kept: the script is no file that it could stand beside")
            return
        new = {(entry.paper, entry.variant): entry for entry in self._found}
        try:
            self._entries = entries_of(_text(self.path))[0]  # another build may have written meanwhile
            old = {(entry.paper, entry.variant): entry for entry in self._entries}
            _write(self.path, written(list({**old, **new}.values())))
        except _Unreadable as why:
            self.notes.append(f"the layout that was found is not kept: {self.path.name} {why}")
        except OSError as error:
            self.notes.append(f"the layout that was found is not kept: {self.path.name} cannot be written"
                              f" ({(error.strerror or str(error)).lower()})")
        else:
            self.notes.append(f"kept in {self.path.name}; leave it beside the script")

    @property
    def _name(self) -> str:
        return "this call" if self.path is None else self.path.name

    def _tell(self, paper: str, words: str) -> None:
        """Say how the sheets of a paper came about, in place of what was said of them before."""
        start = _start(paper)
        self.notes[:] = [note for note in self.notes if not note.startswith(start)] + [start + words]


def layout_file(script: Path) -> Path:
    """Where the layouts of a script are kept: `pier.card` has `pier.layout`."""
    return script.with_name(f"{script.stem if script.suffix == '.card' else script.name}.layout")


def _start(paper: str) -> str:
    return f"sheets of {paper}: "


def _marks(parts: Sequence[Part], demands: Demands) -> dict[str, str]:
    return {part.name: mark(part, demands.turns[part.name]) for part in parts}


def _instead(before: int, now: int) -> str:
    if now < before:
        return f", {now} instead of {before}"
    return ", less wide than usual" if now == 1 else ", the last one less wide than usual"


def _changed(before: Mapping[str, str], now: Mapping[str, str]) -> str:
    """Why kept sheets fit no longer, in a few words."""
    other = [name for name, number in now.items() if before.get(name) != number]
    if other:
        return f"{', '.join(other[:3])}{f' and {len(other) - 3} more parts' if len(other) > 3 else ''} changed since"
    return "a part is gone since" if before.keys() - now.keys() else "spacing, border or mat changed since"


def _sheets(entry: Entry, paper: str, parts: Sequence[Part], demands: Demands) -> list[Sheet] | None:
    """An entry as sheets of parts; None if one has the size of no mat."""
    named = {part.name: part for part in parts}
    sheets = []
    for number, kept in enumerate(entry.sheets, start=1):
        mat = next((mat for mat in demands.mats if max(abs(mat[0] - kept.mat[0]), abs(mat[1] - kept.mat[1])) < _SAME), None)
        if mat is None:
            return None
        placed = tuple(Placed(named[spot.name], spot.x, spot.y, spot.turn) for spot in kept.spots)
        sheets.append(Sheet(paper, number, *mat, placed, kept.control, kept=True))
    return sheets


def _more_than_boxes(parts: Sequence[Part], demands: Demands, sheets: int) -> bool:
    """Whether the parts' bounding boxes need fewer sheets of the largest mat, which no layout of ours needs more than."""
    largest = demands.room(max(demands.mats, key=lambda mat: mat[0] * mat[1]))
    boxes = [Box(tuple((turn, *_size(part, turn)) for turn in sorted(demands.turns[part.name]))) for part in parts]
    return fewest(boxes, largest, demands.spacing, sheets) is not None


def _size(part: Part, turn: int) -> tuple[float, float]:
    left, low, right, high = turned(part.outline, turn).bounds
    return right - left, high - low


def _text(path: Path) -> str:
    """The text of a layout file, empty if there is none yet. Raises _Unreadable; the file is never a link to elsewhere."""
    try:
        if not path.resolve().is_relative_to(path.parent.resolve()):
            raise _Unreadable("leads to a file in another folder, which is not read")
        if not path.exists():
            return ""
        if not stat.S_ISREG(path.stat().st_mode):
            raise _Unreadable("is not a file")
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE + 1)
        if len(data) > LARGEST_FILE:
            raise _Unreadable("is far too large")
        text = data.decode("utf-8-sig")
    except (OSError, RuntimeError) as error:  # RuntimeError: a loop of links
        raise _Unreadable(f"cannot be read ({(getattr(error, 'strerror', None) or 'it leads nowhere').lower()})") from None
    except ValueError:
        raise _Unreadable("is no layout file") from None
    if not is_ours(text):
        raise _Unreadable("is no layout file")
    return text


def _write(path: Path, text: str) -> None:
    """Put a text in the place of a file in one step."""
    target = path.resolve()
    fresh = target.with_name(f".{target.name}.{os.getpid()}")
    try:
        fresh.write_text(text, "utf-8", newline="\n")
        fresh.replace(target)
    except BaseException:
        fresh.unlink(missing_ok=True)
        raise

