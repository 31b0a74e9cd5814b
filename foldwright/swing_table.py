"""What `swing` prints: a row for every few angles and the events, and the same as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from foldwright.emit.report import event_record
from foldwright.grammar import Severity
from foldwright.solver.words import amount
from foldwright.tables import columns

if TYPE_CHECKING:
    from foldwright.api import Swung
    from foldwright.solver.swing import Row, Swing

ROWS = 19  # of the table on a terminal; --json has them all


def jammed(swing: Swing) -> bool:
    """True if something keeps the card from opening and closing."""
    return any(event.severity is Severity.ERROR for event in swing.events)


def swing_table(swung: Swung) -> str:
    """The table of angles, then the events, worst first."""
    card, swing = swung.card, swung.swing
    every = max(1, (len(swing.rows) - 1) // (ROWS - 1))
    shown = [row for index, row in enumerate(swing.rows) if index % every == 0 or index == len(swing.rows) - 1]
    opens = amount(card.opens, angle=True)
    lines = [f"{card.title}: {len(card.panels)} panels at {len(swing.angles)} angles from closed to {opens}", ""]
    lines.append(columns([("open", "height", "nearest", "which", "pairs"), *(_row(row, card.unit) for row in shown)]))
    lines.append("")
    lines += [f"{event.severity}: {event.words}." for event in swing.events]
    if not swing.events:
        lines.append("Nothing jams, rubs or sticks out.")
    return "\n".join(lines)


def _row(row: Row, unit: str) -> tuple[str, str, str, str, str]:
    gap = "" if row.gap is None else amount(row.gap, unit=unit)
    return amount(row.opening, True), amount(row.height, unit=unit), gap, " and ".join(row.nearest), str(row.pairs)


def swing_json(swung: Swung) -> dict[str, Any]:
    """All rows and events; lengths in mm, angles in degrees."""
    swing = swung.swing
    return {
        "version": "1",
        "holds": not jammed(swing),
        "angles": list(swing.angles),
        "rows": [{"angle": row.opening, "height": row.height, "gap": row.gap, "nearest": list(row.nearest), "pairs": row.pairs}
                 for row in swing.rows],
        "events": [event_record(event) for event in swing.events],
    }
