"""Card → files: sheets for cutting, and a report. It knows nothing of text or search."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from foldwright.emit.folder import FolderRefused, write_folder

if TYPE_CHECKING:
    from foldwright.solver.card import Card
    from foldwright.solver.swing import Event

__all__ = ["FolderRefused", "build_files", "write_folder"]


def build_files(card: Card, events: Sequence[Event], progress: Callable[[str], None] | None = None) -> dict[str, bytes]:
    """All files of a card by name: an SVG and a DXF per sheet and of all parts, and the report.

    `events` are those of the card's swing. `progress` is called with a few words before each longer piece of work. The
    same card gives the same bytes. Raises `foldwright.emit.layout.TooLarge` if a part is larger than the mat, which a
    proved card has none of.
    """
    # Imported here: the writers' libraries take half a second to load, which a call that only checks need not
    # wait.
    from foldwright.emit.drawing import sheet_drawing
    from foldwright.emit.dxf import write_dxf
    from foldwright.emit.layout import lay_out
    from foldwright.emit.names import file_word
    from foldwright.emit.plate import plate_drawing
    from foldwright.emit.report import pose_angles, report, write_report
    from foldwright.emit.svg import write_svg

    say = progress or (lambda words: None)
    sheets = lay_out(card, progress=progress)
    drawings = {
        f"sheet-{sheet.number}-{file_word(sheet.paper)}": sheet_drawing(card.title, sheet) for sheet in sheets
    }
    drawings["all-parts"] = plate_drawing(card)
    files: dict[str, bytes] = {}
    for name, drawing in drawings.items():
        say(f"writing {name}")
        files[f"{name}.svg"] = write_svg(drawing)
        files[f"{name}.dxf"] = write_dxf(drawing)
    say("writing the report")
    files["report.json"] = write_report(report(card, sheets, pose_angles(card.opens), events))
    return files
