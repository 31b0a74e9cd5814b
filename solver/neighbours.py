"""Rules that no mechanism can give alone: every part within the machine's reach, neighbours on one crease apart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import partial
from itertools import pairwise

from foldwright.grammar import design as ast
from foldwright.solver import expression as ex
from foldwright.solver.binding import Binding
from foldwright.solver.expression import Operand
from foldwright.solver.freeing import as_written
from foldwright.solver.machine import largest
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule


class Neighbours(Binding):
    """The part of the binder that looks at mechanisms beside each other, and at the mat."""

    def _mat_rules(self, mechanism: Mechanism) -> Sequence[Rule]:
        mats = largest(self.design.mats)
        if not mats:
            return ()
        if self.design.machine.pieces:
            return tuple(self._in_pieces(mechanism, mats))
        if len(mats) > 1:
            return tuple(self._any_mat(mechanism, mats))
        short, long = self._reach(mats[0])
        rules: tuple[Rule, ...] = self.kept.get(("mat", mechanism, short, long),
                                                lambda: tuple(self._within_reach(mechanism, short, long)))
        return rules

    @staticmethod
    def _within_reach(mechanism: Mechanism, short: Operand, long: Operand) -> Iterator[Rule]:
        sentence = "the {piece} is {{left}} {side}; the machine reaches {{right}}"
        for what, width, height in mechanism.flat_sizes():
            piece = what if what == mechanism.name else f"{what} of {mechanism.name}"
            texts = {side: sentence.format(piece=piece, side=side)
                     for side in ("along its longer side", "along its shorter side")}
            yield mechanism.rule(f"mat-long.{what}", Kind.GEOMETRY, ex.largest(width, height), "<=", long,
                                 texts["along its longer side"])
            if short != long:
                yield mechanism.rule(f"mat-short.{what}", Kind.GEOMETRY, ex.smallest(width, height), "<=", short,
                                     texts["along its shorter side"])

    def _any_mat(self, mechanism: Mechanism, mats: Sequence[ast.Mat]) -> Iterator[Rule]:
        """The same for mats of which none is larger than the others both ways: each part fits one of them."""
        reaches = [self._reach(mat) for mat in mats]
        for what, width, height in mechanism.flat_sizes():
            piece = what if what == mechanism.name else f"{what} of {mechanism.name}"
            beyond = [ex.largest(ex.largest(width, height) - long, ex.smallest(width, height) - short)
                      for short, long in reaches]
            yield mechanism.rule(f"mat-long.{what}", Kind.GEOMETRY, ex.smallest(*beyond), "<=", Fraction(0),
                                 f"the {piece} needs {{left}} more than the mat that suits it best; it may need {{right}}")

    def _in_pieces(self, mechanism: Mechanism, mats: Sequence[ast.Mat]) -> Iterator[Rule]:
        """What is left of these rules where long parts are cut in pieces: seams run across a part, so its width has to fit."""
        reach = ex.largest(*[long for _, long in map(self._reach, mats)])
        for what, width, height in mechanism.flat_sizes():
            piece = what if what == mechanism.name else f"{what} of {mechanism.name}"
            yield mechanism.rule(f"mat-joined.{what}", Kind.GEOMETRY, ex.smallest(width, height), "<=", reach,
                                 f"the {piece} is {{left}} along its shorter side, and so are the pieces that it is joined of; "
                                 "the machine reaches {right}")

    def _reach(self, mat: ast.Mat) -> tuple[Operand, Operand]:
        """The shorter and the longer side of a mat within its border and the kerf, as numbers, or as expressions if unknown."""
        kerf = self.design.machine.kerf
        border = 2 * self.habits["sheet.border"] + (Fraction(0) if kerf is None else kerf.width)
        free = [side for side in mat.sides if isinstance(side, ast.Expression) and self.reader.free(side) is not None]
        if not free:
            return min(mat.width, mat.height) - border, max(mat.width, mat.height) - border
        sides = [self.reader.length(side, "the mat") if isinstance(side, ast.Expression) and side in free else value
                 for side, value in zip(mat.sides, (mat.width, mat.height), strict=True)]
        return ex.smallest(*sides) - border, ex.largest(*sides) - border

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
                yield self.kept.get(("apart", before, after), partial(self._apart, before, after, gap))

    @staticmethod
    def _apart(before: Mechanism, after: Mechanism, gap: Fraction) -> Rule:
        """Keeps two neighbours apart; the gap is a habit, so that both know it."""
        low, high = before.stretch(), after.stretch()
        assert low is not None
        assert high is not None
        return after.rule(f"apart-from-{before.name}", Kind.PRACTICE, low[1] + gap, "<=", high[0],
                          f"{before.name} with a gap behind it ends at {{left}} along their crease, where "
                          f"{after.name} begins at {{right}}", still=(low[1], high[0]))

    def _position(self, mechanism: Mechanism) -> Fraction | None:
        """Where a mechanism is written to stand on its crease, in mm: its `at`, or the middle of the range written for it."""
        ends = [as_written(rule.right) for rule in self.ranges.get(f"{mechanism.name}.at", ()) if rule.kind is Kind.DESIGNER]
        written = [end for end in ends if end is not None]
        return sum(written, Fraction(0)) / len(written) if written else None
