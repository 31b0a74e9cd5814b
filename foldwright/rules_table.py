"""What `check --rules` prints: every rule of a card by its name, block by block."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from foldwright.solver.waive import can_waive
from foldwright.solver.words import amount
from foldwright.tables import columns, rule_row, waived_lines

if TYPE_CHECKING:
    from foldwright.api import Checked
    from foldwright.solver.card import CheckedRule

HEAD = ("name", "kind", "line", "slack", "rule")


def rules_table(checked: Checked) -> str:
    """All rules in the order of the blocks, those that a script can do without marked, and below them what is waived."""
    card = checked.card
    order = {owner: n for n, owner in enumerate(dict.fromkeys(map(_owner, card.rules)))}
    rules = sorted(card.rules, key=lambda each: order[_owner(each)])
    number = sum(1 for each in rules if can_waive(each.rule))
    lines = [f"{card.title}: {len(rules)} rules; * marks the {number} of workshop practice that a line such as "
             f'`without NAME because "..."` waives']
    for owner, group in groupby(rules, key=_owner):
        lines += ["", owner, columns([HEAD, *(_row(each, card.unit) for each in group)])]
    return "\n".join([*lines, *waived_lines(checked)])


def _owner(each: CheckedRule) -> str:
    """The block that asks for a rule; the rules of the designer stand together."""
    name = each.rule.name
    return name.split(".")[0] if "." in name else "require"


def _row(each: CheckedRule, unit: str) -> tuple[str, ...]:
    _, kind, line, words = rule_row(each, unit)
    slack = "" if each.rule.operator == "=" else amount(each.slack, each.rule.angle, unit)
    return each.rule.name, f"{kind}{'*' if can_waive(each.rule) else ''}", line, slack, words
