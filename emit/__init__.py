"""Card → files: sheets for cutting, template pages for printing, and a report. It knows nothing of text or search."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from foldwright.emit.folder import FolderRefused, write_folder
from foldwright.emit.wanted import Curves, Labels, Wanted

if TYPE_CHECKING:
    from foldwright.emit.kept_layout import KeptLayouts
    from foldwright.solver.card import Card
    from foldwright.solver.swing import Event

__all__ = ["Curves", "FolderRefused", "Labels", "Wanted", "build_files", "write_folder"]


def build_files(card: Card, events: Sequence[Event], progress: Callable[[str], None] | None = None,
                wanted: Wanted | None = None, kept: KeptLayouts | None = None) -> dict[str, bytes]:
    """All files of a card by name: an SVG and a DXF per sheet and of all parts, template pages as PDF, and the report.

    `events` are those of the card's swing, `wanted` the choices of the maker, `kept` the layouts of earlier builds. `progress`
    is called with a few words before each longer piece of work. The same card gives the same bytes. Raises
    `foldwright.emit.layout.TooLarge` if a part is larger than the mat, which a proved card has none of.
    """
    # Imported here: the writers' libraries take half a second to load, which a call that only checks need not
    # wait.
    from foldwright.emit.drawing import by_operation, sheet_drawing
    from foldwright.emit.dxf import write_dxf
    from foldwright.emit.labels import on_parts, with_beside
    from foldwright.emit.layout import lay_out
    from foldwright.emit.machined import as_laid, machined
    from foldwright.emit.names import file_word
    from foldwright.emit.pages import template_pages
    from foldwright.emit.pdf import write_pdf
    from foldwright.emit.plate import plate_drawing
    from foldwright.emit.report import pose_angles, report, write_report
    from foldwright.emit.sides import SEEN, Sides, turned_over
    from foldwright.emit.svg import write_svg

    say = progress or (lambda words: None)
    wanted = wanted or Wanted()
    up, creases = card.machine.printed_up, card.machine.creases
    sides = Sides(card)
    made = laid = as_laid(card, sides)
    sheets = lay_out(laid, progress=progress, kept=kept)
    if not up:  # laid out as for a look on the printed side, then turned over with all that lies on them
        made = machined(sides.seen(False))
        over = {part.name: part for part in made.parts}
        sheets = tuple(turned_over(sheet, over) for sheet in sheets)
    places = sides.labels(up)
    drawings = {
        f"sheet-{sheet.number}-{file_word(sheet.paper)}":
        replace(sheet_drawing(card.title, sheet, on_parts(places, wanted.labels)), creases=creases, side=SEEN[up])
        for sheet in sheets
    }
    if wanted.per_operation:
        drawings = by_operation(drawings)
    apart = with_beside(made, places, wanted.labels)
    drawings["all-parts"] = replace(plate_drawing(made, apart), creases=creases, side=SEEN[up])
    files: dict[str, bytes] = {}
    for name, drawing in drawings.items():
        say(f"writing {name}")
        files[f"{name}.svg"] = write_svg(drawing)
        files[f"{name}.dxf"] = write_dxf(drawing, wanted.dxf, wanted.curves)
    if wanted.pages:  # template pages are printed on the back, and cut by hand: without kerf
        back = sides.seen(False, marks=True, whole=True)
        beside = with_beside(back, sides.labels(False) if up else places, wanted.labels)
    for form in wanted.pages:
        say(f"writing pages-{form}")
        files[f"pages-{form}.pdf"] = write_pdf(card.title, template_pages(back, form, beside))
    say("writing the report")
    files["report.json"] = write_report(report(card, sheets, pose_angles(card.opens), events))
    return files
