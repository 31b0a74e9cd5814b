"""The card at rest, closed and open, as plain data for the report and for `check --json`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from foldwright.solver.stack import Stack, stack_words
from foldwright.solver.standing import Standing, standing_words

DECIMALS = 6


def rounded(value: float | Fraction) -> float:
    """A number for a report: six decimals, never minus zero."""
    return round(float(value), DECIMALS) + 0.0


def _all(values: Iterable[float]) -> list[float]:
    return [rounded(value) for value in values]


def closed_summary(stack: Stack) -> dict[str, Any]:
    """The closed stack without its map; lengths in mm, angles in degrees, places along the spine and away from it."""
    needs, balance = stack.needs, stack.balance
    return {
        "thickest": _all(stack.thickest),
        "maximum": rounded(stack.maximum),
        "mean": rounded(stack.mean),
        "left": rounded(stack.left.max()),
        "right": rounded(stack.right.max()),
        "middle": _all(stack.middle),
        "quarter": rounded(stack.quarter),
        "needs": {
            "contents": rounded(needs.contents),
            "gusset": rounded(needs.gusset),
            "given": rounded(needs.given),
            "held_open": rounded(needs.held_open),
            "takes": needs.takes,
        },
        "balance": {
            "left": rounded(balance.left),
            "right": rounded(balance.right),
            "lighter": balance.lighter or None,
            "grammage": rounded(balance.grammage),
            "sheets": rounded(balance.sheets),
            "size": _all(balance.size),
        },
        "words": list(stack_words(stack)),
    }


def closed_record(stack: Stack) -> dict[str, Any]:
    """The closed stack with its map of sheet counts."""
    return {
        "cell": _all(stack.cell),
        "width": rounded(stack.page[1]),
        "height": rounded(stack.page[0]),
        "rows": stack.sheets.tolist(),
        **closed_summary(stack),
    }


def standing_record(found: Standing) -> dict[str, Any]:
    """The open card; lengths in mm, angles in degrees, moments in N·mm."""
    rest = found.rest
    return {
        "opens": rounded(found.opens),
        "height": rounded(found.height),
        "width": rounded(found.width),
        "depth": rounded(found.depth),
        "reader": _all(found.reader),
        "faces": dict(found.faces),
        "leans": [{"part": lean.part, "past": rounded(lean.past)} for lean in found.leans],
        "rest": None if rest is None else {
            "left": rounded(rest.left),
            "right": rounded(rest.right),
            "spring": rounded(rest.spring),
            "flat": rest.flat,
        },
        "words": list(standing_words(found)),
    }
