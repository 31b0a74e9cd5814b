"""What `find --alternatives` prints: the answers side by side as a table, and the same as JSON."""

from __future__ import annotations

from typing import Any

from foldwright.differences import SEEN
from foldwright.other_answers import Other, Others
from foldwright.solver.wishes import wished
from foldwright.solver.words import amount
from foldwright.tables import columns
from foldwright.writeback import following


def alternatives_table(others: Others) -> str:
    """Wishes first, then the dimensions that differ, then how things stand; below, what distinguishes each answer."""
    answers, unit = others.answers, others.design.unit or "mm"
    lines = [f"{answers[0].checked.card.title}: {len(answers)} answer{'' if len(answers) == 1 else 's'}, "
             "each proved by geometry; none is better than another in every wish"]
    rows = [("", *(other.letter for other in answers))]
    for results in zip(*(other.answer.wishes for other in answers), strict=True):
        rows.append((results[0].wish.text, *(wished(result.wish, result.value, unit) for result in results)))
    rows += _dimensions(others) + _standing(others)
    lines.append(columns(rows))
    lines += ["", f"A is what `find` gives.{' Compared with it:' if len(answers) > 1 else ''}"]
    lines += [f"{other.letter}: {', '.join(other.words)}" for other in answers[1:]]
    return "\n".join([*lines, *others.remarks()])


def _dimensions(others: Others) -> list[tuple[str, ...]]:
    """A row for every dimension that is not the same in all answers, without those that follow from others."""
    follow, rows = following(others.design), []
    for name, (_, kind) in others.answers[0].checked.card.dimensions.items():
        values = [other.checked.card.dimensions[name][0] for other in others.answers]
        if name not in follow and len(set(values)) > 1:
            rows.append((name, *(amount(float(value), kind != "mm", others.design.unit or "mm") for value in values)))
    return rows


def _standing(others: Others) -> list[tuple[str, ...]]:
    """A row for every measure of the standing card that differs clearly, unless a wish shows it."""
    wishes = {result.wish.text.split(" ", 1)[-1] for result in others.answers[0].answer.wishes}
    rows = []
    for n, trait in enumerate(others.found.traits):
        values = [other.answer.traits[n] for other in others.answers]
        if trait.standing and trait.measure in SEEN and trait.name not in wishes and trait.apart(min(values), max(values)):
            rows.append((trait.name, *(amount(value, False, others.design.unit or "mm") for value in values)))
    return rows


def alternatives_json(others: Others) -> dict[str, Any]:
    """The answers as JSON values; `exact` is a fraction in mm or degrees, measures are in mm."""
    return {
        "version": "1",
        "asked": others.asked,
        "answers": [_record(other, others) for other in others.answers],
        "looked_at": others.found.seen,
        "dropped": others.found.dropped,
        "remarks": list(others.remarks()),
    }


def _record(other: Other, others: Others) -> dict[str, Any]:
    return {
        "letter": other.letter,
        "proved": other.answer.proved,
        "differences": list(other.words),
        "wishes": [{"wish": result.wish.text, "value": float(result.value)} for result in other.answer.wishes],
        "dimensions": {name: {"value": float(value), "exact": str(value), "unit": unit}
                       for name, (value, unit) in other.checked.card.dimensions.items()},
        "measures": {trait.name: round(value, 6) for trait, value in zip(others.found.traits, other.answer.traits, strict=True)
                     if trait.standing},
    }
