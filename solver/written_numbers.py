"""Every number of a script, found by walking over its design, with what is known of it at its place."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from foldwright.grammar import design as ast
from foldwright.grammar.source import Span
from foldwright.grammar.units import MM_PER_UNIT
from foldwright.solver.machine import largest
from foldwright.solver.mechanism import Mechanism, registry
from foldwright.solver.notation import fitting, grid_step
from foldwright.solver.parameter import Parameter
from foldwright.solver.practice import HABITS
from foldwright.solver.written import (
    CALIPER,
    CALIPERS,
    COUNT,
    FIXED,
    INSIDE,
    LEAST,
    LONGEST,
    MAT,
    MOST,
    PLACE,
    PRACTICE,
    REQUIRE,
    TURN,
    WEIGHT,
    Written,
    own,
)


def numbers(design: ast.Design) -> tuple[Written, ...]:
    """All numbers of a script that a change could touch, in the order of their places.

    Numbers of wishes and of the grid step are not among them: they decide nothing of whether a card is possible.
    """
    found = [number for number in _Numbers(design).all() if own(number.at, design)]
    return tuple(sorted({number.at.start: number for number in found}.values(), key=lambda number: number.at.start))


class _Numbers:
    """Walks over a design. Yields every number with what is known of it at its place."""

    def __init__(self, design: ast.Design) -> None:
        self.design = design
        self.kinds = registry()
        self.blocks: dict[str, type[Mechanism]] = {}
        for block in design.blocks:
            if block.keyword.text in self.kinds:
                self.blocks[(block.name or block.keyword).text] = self.kinds[block.keyword.text]

    def all(self) -> Iterator[Written]:
        """The numbers of all statements."""
        for mat in largest(self.design.mats):
            for side, word in zip(mat.sides, ("width", "height"), strict=False):
                yield from self._plain(side, "length", MAT, f"the {word} of the mat", word, mat.at)
        for paper in self.design.papers:
            yield from self._paper(paper)
        for practice in self.design.practices:
            dimension = next((habit.dimension for habit in HABITS if habit.name == practice.name.text), None)
            if dimension is not None:
                shown = Span(practice.at.start, practice.value.at.end, practice.at.source)
                name = practice.name.text
                yield from self._plain(practice.value, dimension, PRACTICE, f"the value of {name} that you wrote", name, shown,
                                       owner=name)
        for block in self.design.blocks:
            if block.keyword.text in self.kinds:
                yield from self._block(block, self.kinds[block.keyword.text])
        for require in self.design.requires:
            shown = Span(require.at.start, require.right.at.end, require.at.source)
            wanted = self.leading((require.left, require.right))
            for side in (require.left, require.right):
                yield from self._inside(side, wanted, REQUIRE, shown, "")

    def _paper(self, paper: ast.Paper) -> Iterator[Written]:
        node, name = paper.thickness, paper.name.text
        if not isinstance(node, ast.Number):
            return
        shown = Span(paper.at.start, node.at.end, paper.at.source)
        if node.unit in ("gsm", "lb"):
            step = Fraction(5)  # coarser than mills make papers
            yield Written(node.at, node.value, node.unit, "weight", WEIGHT, step, Fraction(40), Fraction(600),
                          f"the weight of {name}", "weight", shown, name)
            return
        unit = node.unit or self.design.unit
        if unit is None:
            return
        size = MM_PER_UNIT[unit]
        least, most = (end / size for end in CALIPERS)
        step = fitting(node.value, Fraction(1, 1000) if unit == "in" else Fraction(1, 100) / size)
        yield Written(node.at, node.value, unit, "length", CALIPER, step, min(least, node.value), max(most, node.value),
                      f"the caliper of {name}", "caliper", shown, name, size)

    def _block(self, block: ast.Block, kind: type[Mechanism]) -> Iterator[Written]:
        owner = (block.name or block.keyword).text
        parameters = {p.name: p for p in kind.parameters}
        counts = {c.name: c for c in kind.counts}
        if block.size is not None:
            size = block.size.at  # of a variant it stands elsewhere
            head = Span(block.at.start, size.end, block.at.source) if size.end <= block.at.end else size
            for word, node in (("width", block.size.width), ("height", block.size.height)):
                if word in parameters:
                    yield from self._setting(node, parameters[word], owner, head)
        for setting in block.settings:
            word = setting.word.text
            for before, argument in zip((setting.word, *setting.arguments), setting.arguments, strict=False):
                key = before.text if isinstance(before, ast.Name | ast.Word) else word
                if isinstance(argument, ast.Count) and word in counts:
                    low, high = (Fraction(end) for end in (counts[word].low, counts[word].high))
                    for node, way in ((argument.first, "one way"), (argument.second, "the other way")):
                        if isinstance(node, ast.Number) and node.at.text.strip().isdigit():
                            what = f"the number of {word} of {owner} {way}"
                            yield Written(node.at, node.value, "", "count", COUNT, Fraction(1), low, high, what, f"{word} {way}",
                                          setting.at, f"{owner}.{word}")
                elif isinstance(argument, ast.Size | ast.Place):
                    yield from self._place(argument, owner, setting)
                elif key in parameters and not isinstance(argument, ast.Text | ast.Colour | ast.Count):
                    yield from self._setting(argument, parameters[key], owner, setting.at)

    def _place(self, node: ast.Size | ast.Place, owner: str, setting: ast.Setting) -> Iterator[Written]:
        size = node if isinstance(node, ast.Size) else node.target
        if isinstance(size, ast.Size):
            for side, way in ((size.width, "along"), (size.height, "up")):
                yield from self._plain(side, "length", PLACE, f"the place of {owner} {way} its panel", f"place {way} the panel",
                                       setting.at, (Fraction(0), LONGEST), owner)

    def _setting(self, node: ast.Expression | ast.Range, parameter: Parameter, owner: str, shown: Span) -> Iterator[Written]:
        word = "place" if parameter.name == "at" else parameter.name.replace("_", " ")
        of = f"the {word} of {'the cover' if owner == 'cover' else owner}"
        usual = (parameter.low, parameter.high) if parameter.low < parameter.high else None
        ends: Sequence[tuple[ast.Expression, str, str, str]] = [(node, FIXED, of, word)] if not isinstance(node, ast.Range) else [
            (node.low, LEAST, f"the lower end of {of}", f"lower end of {word}"),
            (node.high, MOST, f"the upper end of {of}", f"upper end of {word}")]
        key = f"{owner}.{parameter.name}"
        for end, role, what, short in ends:
            plain = list(self._plain(end, parameter.dimension, role, what, short, shown, usual, key))
            yield from plain or self._inside(end, parameter.dimension, INSIDE, shown, key)

    def _plain(self, node: ast.Argument, dimension: str, role: str, what: str, short: str, shown: Span,
               usual: tuple[Fraction, Fraction] | None = None, owner: str = "") -> Iterator[Written]:
        """A value that is one number; it may become anything in the usual range, if there is one, given in mm or degrees."""
        number = self.literal(node)
        if number is None:
            return
        made = self._number(number, dimension, role, shown, owner)
        if made is not None:
            # a value beyond the usual range may stay so, but goes no farther
            low, high = (made.least, made.most) if usual is None else (usual[0] / made.size, usual[1] / made.size)
            yield replace(made, what=what, short=short, least=min(low, made.value), most=max(high, made.value))

    def _inside(self, node: ast.Expression, wanted: str, role: str, shown: Span, owner: str) -> Iterator[Written]:
        """The numbers in an expression that has to be a length, an angle or a plain number."""
        number = self.literal(node)
        if number is not None:
            made = self._number(number, wanted, role, shown, owner)
            if made is not None:
                yield made
            return
        match node:
            case ast.Negative():
                yield from self._inside(node.operand, wanted, role, shown, owner)
            case ast.Binary():
                sides = (node.left, node.right)
                if node.operator in "+-":
                    leading = self.leading(sides, wanted)
                    both = (leading, leading)
                elif self.kind(node) == "bare":
                    both = (wanted, "plain")
                else:
                    both = ("plain", "plain")
                for side, dimension in zip(sides, both, strict=True):
                    yield from self._inside(side, dimension, role, shown, owner)
            case ast.Call():
                inner = self.leading(node.arguments, wanted) if node.function in ("min", "max") else (
                    "plain" if node.function == "sqrt" else "angle")
                for argument in node.arguments:
                    yield from self._inside(argument, inner, role, shown, owner)

    def _number(self, node: ast.Expression, wanted: str, role: str, shown: Span, owner: str) -> Written | None:
        """A number that stands for something of a dimension, with the widest bounds."""
        value, unit = _value(node)
        if unit == "deg" or (unit is None and wanted == "angle"):
            size, unit, dimension, limit = Fraction(1), "°", "angle", TURN
        elif unit in MM_PER_UNIT or (unit is None and wanted in ("length", "area") and self.design.unit is not None):
            dimension = "length" if unit is not None else wanted
            unit = unit or self.design.unit or "mm"
            size = MM_PER_UNIT[unit] ** (2 if dimension == "area" else 1)
            limit = LONGEST / size if dimension == "length" else LONGEST * LONGEST / size
        elif unit is None and wanted == "plain":
            size, unit, dimension, limit = Fraction(1), "", "plain", max(Fraction(10), 10 * value)
        else:
            return None
        step = grid_step(value, unit, dimension, self.design.unit, self.design.step)
        short = "factor" if dimension == "plain" else "number"
        what = f"the {short} {node.at.text} in line {node.at.line}"
        return Written(node.at, value, unit if dimension != "area" else "", dimension, role, step, min(step, value),
                       max(limit, value), what, short, shown, owner, size)

    @staticmethod
    def literal(node: ast.Argument) -> ast.Number | ast.Binary | None:
        """The node, if it is one number as a designer sees it: a number, or a fraction of two whole ones."""
        if isinstance(node, ast.Number) and re.match(r"[0-9.]", node.at.text):
            return node
        if isinstance(node, ast.Binary) and re.fullmatch(r"[0-9]+/[0-9]+", node.at.text) and not node.at.text.endswith("/0"):
            return node
        return None

    # ---- dimensions

    def kind(self, node: ast.Expression) -> str:
        """What an expression stands for: "bare" (it takes what is wanted), "plain", "length", "area", "angle", or "other"."""
        match node:
            case ast.Number():
                return "bare" if node.unit is None else "angle" if node.unit == "deg" else "length"
            case ast.Name():
                kind = self.blocks.get(node.path[0])
                angle = kind is not None and any(p.name == node.path[-1] and p.dimension == "angle" for p in kind.parameters)
                return "angle" if angle else "length"
            case ast.Negative():
                return self.kind(node.operand)
            case ast.Call():
                if node.function in ("min", "max"):
                    return self.leading(node.arguments, "bare")
                return "plain" if node.function != "sqrt" else {"area": "length"}.get(self.kind(node.arguments[0]), "plain")
        sides = [self.kind(side) for side in (node.left, node.right)]
        if node.operator in "+-":
            return self.leading((node.left, node.right), "bare")
        if sides == ["bare", "bare"]:
            return "bare"
        if "angle" in sides:
            return "angle" if node.operator == "*" or sides[0] == "angle" else "other"
        powers = [_POWERS.get(side) for side in sides]
        if powers[0] is None or powers[1] is None:
            return "other"
        power = powers[0] + powers[1] if node.operator == "*" else powers[0] - powers[1]
        return {0: "plain", 1: "length", 2: "area"}.get(power, "other")

    def leading(self, nodes: Sequence[ast.Expression], otherwise: str = "plain") -> str:
        """What bare numbers beside each other are taken for: the first that is not bare decides."""
        return next((kind for kind in map(self.kind, nodes) if kind != "bare"), otherwise)


_POWERS: Mapping[str, int] = {"bare": 0, "plain": 0, "length": 1, "area": 2}


def _value(node: ast.Expression) -> tuple[Fraction, str | None]:
    if isinstance(node, ast.Number):
        return node.value, node.unit
    return Fraction(node.at.text), None
