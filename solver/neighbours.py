"""Rules that no mechanism can give alone: every part within the machine's reach, neighbours on one crease apart."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from foldwright.grammar import design as ast
from foldwright.solver import expression as ex
from foldwright.solver.expression import Const
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule


class Neighbours:
    """The part of the binder that looks at mechanisms beside each other, and at the mat."""

    design: ast.Design
    mechanisms: dict[str, Mechanism]
    hosts: dict[str, tuple[str, str]]
    habits: dict[str, Fraction]
    range_rules: list[Rule]

    def _mat_rules(self, mechanism: Mechanism) -> Iterator[Rule]:
        mat = self.design.mats
        if not mat:
            return
        short, long = sorted((mat[0].width, mat[0].height))
        sentence = f"the {{what}} of {mechanism.name} is {{{{left}}}} {{side}}; the machine reaches {{{{right}}}}"
        for what, width, height in mechanism.flat_sizes():
            texts = {side: sentence.format(what=what, side=side) for side in ("along its longer side", "along its shorter side")}
            yield mechanism.rule(f"mat-long.{what}", Kind.GEOMETRY, ex.largest(width, height), "<=", long,
                                 texts["along its longer side"])
            if short != long:
                yield mechanism.rule(f"mat-short.{what}", Kind.GEOMETRY, ex.smallest(width, height), "<=", short,
                                     texts["along its shorter side"])

    def _neighbours(self) -> Iterator[Rule]:
        """Mechanisms on one crease keep apart, in the order of the places written for them; of the lines, if one has no place."""
        groups: dict[tuple[str, str], list[Mechanism]] = {}
        for name, mechanism in self.mechanisms.items():
            if mechanism.stretch() is not None and name in self.hosts:
                groups.setdefault(self.hosts[name], []).append(mechanism)
        gap = self.habits["neighbour.gap"]
        for group in groups.values():
            order = [self._position(m) for m in group]
            if all(position is not None for position in order):
                group = [m for _, m in sorted(zip(order, group, strict=True), key=lambda pair: pair[0] or 0)]
            for before, after in pairwise(group):
                low, high = before.stretch(), after.stretch()
                assert low is not None
                assert high is not None
                yield after.rule(f"apart-from-{before.name}", Kind.PRACTICE, low[1] + gap, "<=", high[0],
                                 f"{before.name} with a gap behind it ends at {{left}} along their crease, where "
                                 f"{after.name} begins at {{right}}")

    def _position(self, mechanism: Mechanism) -> Fraction | None:
        """Where a mechanism is written to stand on its crease, in mm: its `at`, or the middle of the range written for it."""
        written = [rule.right.value for rule in self.range_rules
                   if rule.kind is Kind.DESIGNER and rule.name.startswith(f"{mechanism.name}.at.")
                   and isinstance(rule.right, Const)]
        return sum(written, Fraction(0)) / len(written) if written else None
