"""What `check` and `find` print: plain tables, and the same as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from foldwright.alike import alike, alike_json, alike_words, merged_words
from foldwright.emit.at_rest import closed_summary, standing_record
from foldwright.emit.report import choice_record
from foldwright.solver.pieces import as_cut
from foldwright.solver.practice import BULK
from foldwright.solver.stack import stack_map, stack_words
from foldwright.solver.standing import standing, standing_words
from foldwright.solver.wishes import unproved, wished
from foldwright.solver.words import amount, noted, sentence
from foldwright.writeback import following

if TYPE_CHECKING:
    from foldwright.api import Checked
    from foldwright.solver.card import Card, CheckedRule


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
    lines += chosen_lines(card)
    for result in card.wishes:
        words = "proved best" if result.proved else unproved(result, card.unit)
        lines.append(f"{result.wish.text}: {wished(result.wish, result.value, card.unit)} ({words})")
    return "\n".join(lines)


def chosen_lines(card: Card) -> list[str]:
    """What was chosen where the script leaves a choice, one thing a line, and below it why not otherwise."""
    if card.choices is None:
        return []
    lines = []
    for chosen in card.choices.chosen:
        if chosen.optional:
            why = "".join(f", because {reason}" for _, reason in chosen.reasons)
            gone = f" (and with it {', '.join(chosen.gone)})" if chosen.gone else ""
            lines.append(f"{chosen.what}: {chosen.option}{gone}{why}")
        else:
            lines.append(f"{chosen.what}: {chosen.option} (of {', '.join(chosen.options)})")
            lines += [f"  not {option}: {reason}" for option, reason in chosen.reasons]
    if not card.choices.proved:
        lines.append(f"not proved: only {card.choices.seen} of {card.choices.ways} ways to choose were looked at in full; "
                     "a better one may exist")
    return lines


def chosen_json(card: Card) -> list[dict[str, Any]]:
    """The same as JSON values."""
    return [] if card.choices is None else [choice_record(chosen) for chosen in card.choices.chosen]


def slack_table(checked: Checked, tight: int = 12) -> str:
    """Rules with the least slack first, each in words, and what the proof looked at."""
    card = checked.card
    open_rules = sorted((r for r in card.rules if r.rule.operator != "="), key=lambda r: r.slack)
    lines = [f"{card.title} holds: {len(card.rules)} rules, {len(as_cut(card).parts)} parts; "
             f"closed {card.stack:.1f} mm thick", *chosen_lines(card), "",
             f"The {min(tight, len(open_rules))} rules with the least slack:"]
    lines.append(columns([("slack", "kind", "line", "rule"), *(rule_row(rule, card.unit) for rule in open_rules[:tight])]))
    lines += waived_lines(checked)
    counts = ", ".join(f"{name} {count}" for name, count in checked.proof.looked_at.items())
    lines += ["", "Closed: " + " ".join(stack_words(stack_map(card))), "Open: " + " ".join(standing_words(standing(card)))]
    lines += ["", f"Proved by geometry: {counts}."]
    lines += [f"Note: {noted(note, card.unit)}" for note in card.notes]
    lines += paper_lines(checked)
    return "\n".join(lines)


def paper_lines(checked: Checked) -> list[str]:
    """Which calipers are estimates, which papers are merged, and which could be one."""
    card = checked.card
    estimated = [f"{paper.name} ({amount(paper.caliper, False, card.unit)})" for paper in card.papers if paper.estimated]
    lines = []
    if estimated:
        lines.append(f"The caliper of {', '.join(estimated)} is an estimate from the weight and the bulk "
                     f"({float(BULK):g} cm³/g where none is given), and sheets of one weight differ; "
                     "measure it (`foldwright gauge` makes a coupon for that) and write `caliper`.")
    return [*lines, *merged_words(checked.design, card.unit), *alike_words(alike(card), card.unit)]


def waived_lines(checked: Checked) -> list[str]:
    """The rules that the script does without, with what they come to and its reasons."""
    card, lines = checked.card, []
    for waived in card.waived:
        slack, _, _, words = rule_row(waived.checked, card.unit)
        state = f"missed by {slack.removeprefix('-')}" if waived.checked.slack < 0 else f"kept all the same, slack {slack}"
        lines.append(f"  line {waived.line}: {waived.checked.rule.name}, {state}: {words}; because {waived.because}")
    met = {waived.line for waived in card.waived}
    lines += [f"  line {without.at.line}: {without.name.text}: the card as it was decided has no such rule"
              for without in checked.design.withouts if without.at.line not in met]
    return ["", "Waived, as the script asks:", *lines] if lines else []


def waived_json(card: Card) -> list[dict[str, Any]]:
    """The same as JSON values."""
    return [{"name": w.checked.rule.name, "sentence": rule_row(w.checked, card.unit)[3], "left": w.checked.left,
             "right": w.checked.right, "slack": w.checked.slack, "because": w.because, "line": w.line} for w in card.waived]


def rule_row(checked: CheckedRule, unit: str) -> tuple[str, str, str, str]:
    """A rule's slack, kind, line and sentence, as texts."""
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
        "choices": chosen_json(card),
        "choices_proved": card.choices is None or card.choices.proved,
    }


def checked_json(checked: Checked) -> dict[str, Any]:
    """Rules with slack, and what the proof looked at, as JSON values."""
    card = checked.card
    rules = [{"name": c.rule.name, "kind": str(c.rule.kind), "line": c.rule.at[0].line if c.rule.at else None,
              "sentence": rule_row(c, card.unit)[3], "left": c.left, "right": c.right, "slack": c.slack} for c in card.rules]
    return {"version": "1", "holds": True, "stack": card.stack, "parts": len(as_cut(card).parts), "rules": rules,
            "notes": [noted(note, card.unit) for note in card.notes], "proof": checked.proof.looked_at,
            "waived": waived_json(card),
            "papers_alike": alike_json(alike(card)),
            "closed": closed_summary(stack_map(card)),
            "standing": standing_record(standing(card))}
