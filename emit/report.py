"""The report: all that is known of a built card as plain data, for other programs.

Its form is described by `report.schema.json` beside this file (JSON Schema 2020-12). `VERSION` changes when a
field is taken away or changes its meaning; a new field alone does not change it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from importlib.resources import files
from types import MappingProxyType
from typing import Any

import numpy as np

from foldwright.emit.at_rest import DECIMALS, closed_record, standing_record
from foldwright.emit.at_rest import rounded as _number
from foldwright.emit.creases import tick_length
from foldwright.emit.placed import Sheet
from foldwright.emit.sides import SEEN
from foldwright.solver.card import Card, CheckedRule, Chosen, Joined, Note, Panel, Part
from foldwright.solver.model import WishResult
from foldwright.solver.pieces import as_cut
from foldwright.solver.practice import perforation
from foldwright.solver.sides import printed_faces
from foldwright.solver.stack import stack_map
from foldwright.solver.standing import standing
from foldwright.solver.swing import Event
from foldwright.solver.words import amount, noted, sentence

VERSION = "2"
_POSE_STEP = 15  # degrees
_FINE = 4  # decimals of outlines: 0.0001 mm, a tenth of what the cutting files carry
_TURN = 8  # decimals of unit vectors: across a sheet of a metre 0.00001 mm

CAUTIONS = (
    "Blades: cut with light passes and a sharp blade, away from the body, fingers behind the blade,"
    " a mat below; cap the knife, and collect old blades in a rigid container; machine blades are as sharp.",
    "Lasers: paper catches fire; never leave a laser at work alone, draw off its fumes, keep its lid shut and something to"
    " put out a fire at hand, and cut no paper whose coating or dye its maker does not call safe to burn.",
    "Small parts: cut-outs and offcuts can be swallowed. Keep the work, and a card with small parts, away"
    " from young children.",
    "Adhesives: air the room for solvent and spray glues, hot glue burns; children use white glue only.",
    "Candles and lights: keep flames and hot lamps away from paper; put only cold battery lights into a card"
    " and their batteries out of a child's reach.",
    "These are the usual cautions. Local rules and the instructions of the makers of tools, papers and glues"
    " come first.",
)

# What a maker does with the creases of each kind (common practice, no source).
CREASES = MappingProxyType({
    "creased": "Creases are pressed along their whole length with a creasing tool.",
    "perforated": "Creases are cut in short dashes with bridges between them; their usual length and the bridges for"
                  " each paper are listed. Fold them once each way, gently: bridges tear if they are worked to and fro.",
    "ticked": "Each crease has a short tick at both of its ends and nothing between: lay a ruler from tick to tick, draw a"
              " blunt point along it, and fold.",
    "half-cut": "Creases are cut about half through the sheet: set the tool's pressure on a scrap of the same paper first. A"
                " half-cut opens away from its cut; the ones that fold towards you are better cut from the back.",
})


def pose_angles(opens: float) -> tuple[float, ...]:
    """The angles that a report shows unless asked otherwise: closed, every 15°, fully open."""
    whole = range(0, int(opens) + 1, _POSE_STEP)
    return (*(float(angle) for angle in whole if angle < opens), float(opens))


def report(card: Card, sheets: Sequence[Sheet], angles: Iterable[float], events: Iterable[Event]) -> dict[str, Any]:
    """Everything about a card as JSON data; lengths in mm, areas in mm², angles in degrees.

    `angles` are opening angles from 0 to `card.opens`; for each is told where every panel lies. A panel is rigid, so its
    outline stands there once. `events` are those of the card's swing.
    """
    printed, cut = printed_faces(card), as_cut(card)
    return {
        "version": VERSION,
        "title": card.title,
        "unit": card.unit,
        "opens": _number(card.opens),
        "cover": [_number(side) for side in card.cover],
        "clear": _number(card.clear),
        "gusset": _number(card.gusset),
        "mat": [_number(side) for side in card.mat],
        "machine": _machine(card),
        "stack": _number(card.stack),
        "papers": [_paper(card, index) for index in range(len(card.papers))],
        "dimensions": [
            {"name": name, "exact": str(value), "value": _number(value), "unit": unit}
            for name, (value, unit) in card.dimensions.items()
        ],
        "rules": [_rule(checked) for checked in card.rules],
        "waived": [{**_rule(w.checked), "because": w.because, "line": w.line} for w in card.waived],
        "wishes": [_wish(result) for result in card.wishes],
        "choices": [] if card.choices is None else [choice_record(chosen) for chosen in card.choices.chosen],
        "choices_proved": card.choices is None or card.choices.proved,
        "parts": [{**_part(part, sheets), **_faces(card, printed[part.name])} for part in cut.parts],
        "joined": [_joined(one, card.machine.joints) for one in card.joined],
        "sheets": [_sheet(sheet) for sheet in sheets],
        "layout": [_layout(cut, paper.name, sheets) for paper in card.papers if any(s.paper == paper.name for s in sheets)],
        "steps": [
            {"number": number, "text": step.text, "parts": list(step.parts)}
            for number, step in enumerate(cut.steps, start=1)
        ],
        "events": [event_record(event) for event in events],
        "notes": [_note(note) for note in card.notes],
        "practice": {name: _number(value) for name, value in card.practice.items()},
        "cautions": list(CAUTIONS),
        "closed": closed_record(stack_map(card)),
        "standing": standing_record(standing(card)),
        "panels": [_panel(panel) for panel in card.panels],
        "poses": _frames(card, angles),
    }


def posed(card: Card, angles: Iterable[float]) -> list[dict[str, Any]]:
    """For each opening angle in degrees, the corners of every panel in space by its name (mm, rounded)."""
    return [_pose(card, angle) for angle in angles]


def write_report(data: dict[str, Any]) -> bytes:
    """A report as JSON text, UTF-8; a list of plain numbers stands on one line."""
    text = json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False)
    # Strings hold no raw line feed in JSON, so only lists of numbers begin like this.
    text = re.sub(r"\[\n\s*([-+.0-9eE,\s]+?)\n\s*\]", lambda match: f"[{' '.join(match[1].split())}]", text)
    return (text + "\n").encode()


def schema() -> dict[str, Any]:
    """The JSON schema of a report."""
    text = files("foldwright.emit").joinpath("report.schema.json").read_text("utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def _machine(card: Card) -> dict[str, Any]:
    machine, habits = card.machine, card.practice
    record: dict[str, Any] = {
        "mats": [[_number(side) for side in mat] for mat in card.mats],
        "creases": machine.creases,
        "text": CREASES[machine.creases],
        "kerf": _number(machine.kerf),
        "printed": "up" if machine.printed_up else "down",
        "side": SEEN[machine.printed_up],
        "joints": machine.joints or "none",
    }
    if machine.creases == "perforated":
        cuts = ((paper, perforation(paper.caliper, habits, machine.dash, machine.gap)) for paper in card.papers)
        record["perforation"] = [{"paper": paper.name, "dash": _number(dash), "gap": _number(gap)} for paper, (dash, gap) in cuts]
    if machine.creases == "ticked":
        record["tick"] = _number(tick_length(card.machine, card.practice))
    return record


def _paper(card: Card, index: int) -> dict[str, Any]:
    paper = card.papers[index]
    return {
        "name": paper.name,
        "colour": paper.colour,
        "gsm": None if paper.gsm is None else _number(paper.gsm),
        "caliper": _number(paper.caliper),
        "caliper_estimated": paper.estimated,
        "grain": paper.grain or None,
    }


def _rule(checked: CheckedRule) -> dict[str, Any]:
    rule, unit = checked.rule, "°" if checked.rule.angle else "mm"
    return {
        "name": rule.name,
        "kind": str(rule.kind),
        "sentence": sentence(rule, amount(checked.left, rule.angle), amount(checked.right, rule.angle)),
        "left": _number(checked.left),
        "operator": rule.operator,
        "right": _number(checked.right),
        "slack": _number(checked.slack),
        "unit": unit,
        "line": rule.at[0].line if rule.at else None,
    }


def _note(note: Note) -> dict[str, Any]:
    unit = {"length": "mm", "angle": "°"}.get(note.dimension)
    return {"owner": note.owner, "text": noted(note), "figure": _number(note.figure), "unit": unit}


def event_record(event: Event) -> dict[str, Any]:
    """What happens during the swing, for a report; place in mm, angles in degrees."""
    return {
        "kind": event.kind,
        "severity": str(event.severity),
        "panels": list(event.panels),
        "place": [_number(coordinate) for coordinate in event.place],
        "angle": _number(event.angle),
        "until": _number(event.until),
        "size": _number(event.size),
        "text": event.words,
    }


def _wish(result: WishResult) -> dict[str, Any]:
    return {
        "text": result.wish.text,
        "direction": "largest" if result.wish.largest else "smallest",
        "value": _number(result.value),
        "bound": _number(result.bound),
        "grain": _number(result.wish.grain),
        "proved": result.proved,
        "line": None if result.wish.at is None else result.wish.at.line,
    }


def choice_record(chosen: Chosen) -> dict[str, Any]:
    """How something was decided that the script leaves open."""
    return {
        "what": chosen.what,
        "option": chosen.option,
        "options": list(chosen.options),
        "optional": chosen.optional,
        "reasons": [{"option": option, "reason": reason} for option, reason in chosen.reasons],
        "left_out_with_it": list(chosen.gone),
        "line": chosen.line,
    }


def _part(part: Part, sheets: Sequence[Sheet]) -> dict[str, Any]:
    left, low, right, high = part.outline.bounds
    return {
        "name": part.name,
        "label": part.label,
        "paper": part.paper,
        "size": [_number(right - left), _number(high - low)],
        "area": _number(part.outline.area),
        "sheet": next(s.number for s in sheets if any(placed.part.name == part.name for placed in s.placed)),
    }


def _faces(card: Card, printed: int) -> dict[str, Any]:
    """Which face of a part is printed, and whether that makes its drawing a mirror image."""
    return {"printed": "front" if printed > 0 else "back", "mirrored": (printed > 0) is not card.machine.printed_up}


def _joined(one: Joined, style: str) -> dict[str, Any]:
    """A part that is cut in pieces, and where they meet."""
    return {
        "part": one.whole.name,
        "style": style,
        "pieces": [piece.name for piece in one.pieces],
        "strips": [strip.name for strip in one.strips],
        "seams": [{"panel": lap.panel, "start": [_number(x) for x in lap.start], "end": [_number(x) for x in lap.end],
                   "under": lap.under, "area": _number(lap.outline.area)} for lap in one.laps],
    }


def _sheet(sheet: Sheet) -> dict[str, Any]:
    used = sum(placed.part.outline.area for placed in sheet.placed)
    return {
        "number": sheet.number,
        "paper": sheet.paper,
        "width": _number(sheet.width),
        "height": _number(sheet.height),
        "fill": _number(used / (sheet.width * sheet.height)),
        "control_line": sheet.control is not None,
        "parts": [
            {"name": placed.part.name, "x": _number(placed.dx), "y": _number(placed.dy), "turn": placed.turn}
            for placed in sheet.placed
        ],
    }


def _layout(card: Card, paper: str, sheets: Sequence[Sheet]) -> dict[str, Any]:
    """The sheets of one paper together: waste, and the steps of the assembly that take parts from several of them."""
    mine = [sheet for sheet in sheets if sheet.paper == paper]
    placed = [{one.part.name: one.part.outline.area for one in sheet.placed} for sheet in mine]
    used, whole = sum(sum(areas.values()) for areas in placed), sum(sheet.width * sheet.height for sheet in mine)
    apart = [number for number, step in enumerate(card.steps, start=1)
             if sum(any(name in areas for name in step.parts) for areas in placed) > 1]
    return {
        "paper": paper,
        "sheets": len(mine),
        "parts": sum(len(areas) for areas in placed),
        "used": _number(used),
        "waste": _number(1 - used / whole),
        "waste_area": _number(whole - used),
        "kept": all(sheet.kept for sheet in mine),
        "apart": apart,
    }


def _panel(panel: Panel) -> dict[str, Any]:
    corners = np.asarray(panel.outline.exterior.coords, dtype=np.float64)[:-1, :2]
    return {"name": panel.name, "part": panel.part, "tab": panel.tab, "outline": (np.round(corners, _FINE) + 0.0).tolist()}


def _frames(card: Card, angles: Iterable[float]) -> list[dict[str, Any]]:
    """For each opening angle the origin and the two axes of every panel, by its name."""
    found = []
    for angle in angles:
        placements = card.pose(angle)
        rows = {panel.name: placements[panel.name] for panel in card.panels}
        found.append({"angle": _number(angle), "panels": {
            name: [(np.round(vector, decimals) + 0.0).tolist()
                   for vector, decimals in ((at.origin, DECIMALS), (at.along, _TURN), (at.up, _TURN))]
            for name, at in rows.items()}})
    return found


def _pose(card: Card, angle: float) -> dict[str, Any]:
    placements = card.pose(angle)
    return {
        "angle": _number(angle),
        "panels": {panel.name: _corners(panel, placements[panel.name].points) for panel in card.panels},
    }


def _corners(panel: Panel, points: Any) -> list[list[float]]:
    corners = np.asarray(panel.outline.exterior.coords, dtype=np.float64)[:-1, :2]
    rows: list[list[float]] = (np.round(points(corners), DECIMALS) + 0.0).tolist()
    return rows
