"""Rules that a script does without: workshop practice by name, each with its reason.

A habit leaves a margin round something that paper cannot do without: a tab may be shorter than is usual, but not of no
length. So a rule that is waived leaves behind what geometry still asks (`Rule.still`), as a rule of that kind.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from foldwright.grammar import design as ast
from foldwright.grammar.problem import Problem
from foldwright.grammar.problems import CannotWaive, UnknownRule
from foldwright.solver.expression import Const, Expr
from foldwright.solver.model import Kind, Rule, Waived

REST = "bare"  # the last word of the name of what is left of a waived rule
_USUAL = ("usual", "usual-least", "usual-most")
_MAT = ("mat-long", "mat-short", "mat-joined")


def waive(rules: Sequence[Rule], design: ast.Design, problems: list[Problem]) -> tuple[list[Rule], list[Waived]]:
    """The rules that are kept, and those that the script does without; what cannot be waived goes to the problems."""
    gone: dict[Rule, ast.Without] = {}
    for without in design.withouts:
        family = [rule for rule in rules if belongs(rule.name, without.name.text)]
        waivable = [rule for rule in family if can_waive(rule)]
        if not waivable and (family or not design.edits):  # rules of another way to decide a choice are not there
            problems.append(_refused(without, family, rules))
        for rule in waivable:
            gone.setdefault(rule, without)
    kept: list[Rule] = []
    for rule in rules:
        if rule not in gone:
            kept.append(rule)
        elif (rest := _rest(rule)) is not None:
            kept.append(rest)
    return kept, [Waived(rule, without.because, without.at) for rule, without in gone.items()]


def can_waive(rule: Rule) -> bool:
    """Whether a script can do without a rule: it is a habit, and no usual range, which a range of the script replaces."""
    return rule.kind is Kind.PRACTICE and rule.name.rpartition(".")[2] not in _USUAL


def belongs(rule: str, name: str) -> bool:
    """Whether a rule is the one of a name, or one of the family that the name begins (never a whole block's)."""
    return rule == name or ("." in name and rule.startswith(f"{name}."))


def _rest(rule: Rule) -> Rule | None:
    """What geometry still asks where a habit is waived."""
    sides: tuple[Expr, Expr] | None = rule.still
    if sides is None and isinstance(rule.left, Const) and rule.left.value > 0 and rule.operator == "<=":
        sides = Const(rule.left.value * 0), rule.right
    if sides is None:
        return None
    return replace(rule, name=f"{rule.name}.{REST}", kind=Kind.GEOMETRY, left=sides[0], right=sides[1], still=None,
                   sentence=f"{rule.sentence} (so much even without the rule `{rule.name}`)")


def _refused(without: ast.Without, family: Sequence[Rule], rules: Sequence[Rule]) -> Problem:
    name, at = without.name.text, without.name.at
    if not family:
        return UnknownRule(at, name, tuple(dict.fromkeys(rule.name for rule in rules if can_waive(rule))))
    rule = family[0]
    owner, _, rest = rule.name.partition(".")
    word = rest.split(".")[0]
    if rule.kind is Kind.DESIGNER:
        why = "own"
    elif rule.kind is Kind.PRACTICE:
        why = "usual"
    else:
        why = "mat" if word in _MAT else "geometry"
    place = rule.at[0] if rule.at else None
    return CannotWaive(at, name, why, owner, word, place)
