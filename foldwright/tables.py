"""What `check` and `find` print: plain tables, and the same as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from foldwright.emit.at_rest import closed_summary, standing_record
from foldwright.solver.stack import stack_map, stack_words
from foldwright.solver.standing import standing, standing_words
from foldwright.solver.words import amount, noted, sentence
from foldwright.writeback import following

if TYPE_CHECKING:
    from foldwright.api import Checked
    from foldwright.solver.card import CheckedRule
    from foldwright.solver.model import WishResult


def columns(rows: Iterable[Sequence[str]]) -> str:
    """Rows as left-aligned columns, two spaces apart."""
    rows = list(rows)
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return "\n".join("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows)


def found_table(checked: Checked) -> str:
    """The dimensions found, block by block, without those that follow from others; and how far each wish went."""
    card = checked.card
    follow = following(checked.design)
    rows = [(name, amount(float(value), unit != "mm", card.unit)) for name, (value, unit) in card.dimensions.items()
            if name not in follow]
    lines = [f"{card.title}: {len(rows)} dimensions", columns(rows)]
    hidden = len(card.dimensions) - len(rows)
    if hidden:
        lines.append(f"{hidden} more follow from these (--json has them)")
    for result in card.wishes:
        value, bound = (_wished(result, x, card.unit) for x in (result.value, result.bound))
        lines.append(f"{result.wish.text}: {value} ({'proved best' if result.proved else f'not proved; the bound is {bound}'})")
    return "\n".join(lines)


def _wished(result: WishResult, value: Fraction, unit: str) -> str:
    """A wish's value with its unit."""
    match result.wish.dimension:
        case "length" | "angle":
            return amount(float(value), result.wish.dimension == "angle", unit)
        case "area":
            return f"{float(value):g} mm²"
    return f"{float(value):g}"


def slack_table(checked: Checked, tight: int = 12) -> str:
    """Rules with the least slack first, each in words, and what the proof looked at."""
    card = checked.card
    open_rules = sorted((r for r in card.rules if r.rule.operator != "="), key=lambda r: r.slack)
    lines = [f"{card.title} holds: {len(card.rules)} rules, {len(card.parts)} parts; "
             f"closed {card.stack:.1f} mm thick", "", f"The {min(tight, len(open_rules))} rules with the least slack:"]
    lines.append(columns([("slack", "kind", "line", "rule"), *(_row(rule, card.unit) for rule in open_rules[:tight])]))
    counts = ", ".join(f"{name} {count}" for name, count in checked.proof.looked_at.items())
    lines += ["", "Closed: " + " ".join(stack_words(stack_map(card))), "Open: " + " ".join(standing_words(standing(card)))]
    lines += ["", f"Proved by geometry: {counts}."]
    lines += [f"Note: {noted(note, card.unit)}" for note in card.notes]
    estimated = [paper.name for paper in card.papers if paper.estimated]
    if estimated:
        lines.append(f"The caliper of {', '.join(estimated)} is an estimate from the weight; measure it and write `caliper`.")
    return "\n".join(lines)


def _row(checked: CheckedRule, unit: str) -> tuple[str, str, str, str]:
    rule = checked.rule
    left, right, slack = (amount(side, rule.angle, unit) for side in (checked.left, checked.right, checked.slack))
    return slack, str(rule.kind), str(rule.at[0].line) if rule.at else "", sentence(rule, left, right)


def found_json(checked: Checked) -> dict[str, Any]:
    """Dimensions and wishes as JSON values; `exact` is a fraction in mm or degrees."""
    card = checked.card
    return {
        "version": "1",
        "dimensions": {name: {"value": float(value), "exact": str(value), "unit": unit}
                       for name, (value, unit) in card.dimensions.items()},
        "wishes": [{"wish": r.wish.text, "value": float(r.value), "bound": float(r.bound), "proved": r.proved}
                   for r in card.wishes],
    }


def checked_json(checked: Checked) -> dict[str, Any]:
    """Rules with slack, and what the proof looked at, as JSON values."""
    card = checked.card
    rules = [{"name": c.rule.name, "kind": str(c.rule.kind), "line": c.rule.at[0].line if c.rule.at else None,
              "sentence": _row(c, card.unit)[3], "left": c.left, "right": c.right, "slack": c.slack} for c in card.rules]
    return {"version": "1", "holds": True, "stack": card.stack, "parts": len(card.parts), "rules": rules,
            "notes": [noted(note, card.unit) for note in card.notes], "proof": checked.proof.looked_at,
            "closed": closed_summary(stack_map(card)),
            "standing": standing_record(standing(card))}
