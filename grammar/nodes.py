"""Syntax tree → the typed nodes of a design: expressions, arguments, settings and blocks.

Wrong values become problems in a shared list, and reading goes on with a harmless value in their place.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

from foldwright.grammar import design, problems
from foldwright.grammar.problem import Problem
from foldwright.grammar.source import Source, Span
from foldwright.grammar.units import UNITS, unit_named

if TYPE_CHECKING:
    from lark import Token, Tree

    Node = Tree[Token]

DEPTH_LIMIT = 100  # layers of an expression; everything that walks one by recursion relies on it
DIGIT_LIMIT = 12  # digits before and behind a point: far beyond a micrometre in a kilometre
TEXT_LIMIT = 300  # characters of a title or a reason

FUNCTIONS = ("min", "max", "sin", "cos", "tan", "sqrt")
_OPERATORS = {"plus": "+", "minus": "-", "times": "*", "over": "/"}
_LAYERS = frozenset({"group", "negative", "call", *_OPERATORS})
# Direction marks and overrides can make a line read otherwise than it is.
_TURNING = frozenset("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


@dataclass
class Nodes:
    """Makes typed nodes of one source and collects what is wrong with them."""

    source: Source
    problems: list[Problem] = field(default_factory=list)

    def span(self, node: Node | Token) -> Span:
        """Where a tree or token stands; a tree without tokens stands nowhere and is not asked."""
        if isinstance(node, str):
            start, end = node.start_pos, node.end_pos
        else:
            start, end = node.meta.start_pos, node.meta.end_pos
        assert start is not None, "positions are propagated"
        assert end is not None, "positions are propagated"
        return Span(start, min(end, len(self.source.text)), self.source)

    def word(self, token: Token) -> design.Word:
        """A bare word."""
        return design.Word(str(token), self.span(token))

    def text(self, token: Token, what: str) -> design.Text:
        """A quoted text, which has to say something and to be printable."""
        at, inside = self.span(token), str(token)[1:-1]
        odd = next((character for character in inside if _unprintable(character)), None)
        if odd is not None:
            advice = f"take the character U+{ord(odd):04X} away"
            why = "holds a character that cannot be printed"
            self.problems.append(problems.BadText(at, what, why, advice))
        elif not inside.strip():
            self.problems.append(problems.BadText(at, what, "is empty", "write something between the quotes"))
        elif len(inside) > TEXT_LIMIT:
            why = f"has {len(inside)} characters, and at most {TEXT_LIMIT} fit"
            self.problems.append(problems.BadText(at, what, why, "shorten it"))
        return design.Text(inside, at)

    # Expressions

    def expression(self, node: Node) -> design.Expression:
        """An expression, or 1 in place of one that is nested too deeply."""
        if _deeper_than(node, DEPTH_LIMIT):
            at = self.span(node)
            self.problems.append(problems.NestedTooDeep(at, DEPTH_LIMIT))
            return design.Number(Fraction(1), None, at)
        return self._expression(node)

    def _expression(self, node: Node) -> design.Expression:
        at = self.span(node)
        kind, children = node.data, node.children
        if kind == "number":
            return self._number(str(children[0]), at)
        if kind == "name":
            return design.Name(tuple(str(children[0]).split(".")), at)
        if kind == "group":
            return self._expression(tree_of(children[0]))
        if kind == "negative":
            return design.Negative(self._expression(tree_of(children[0])), at)
        if kind == "call":
            return self._call(node)
        left, right = (self._expression(tree_of(child)) for child in children)
        return design.Binary(_OPERATORS[kind], left, right, at)

    def _call(self, node: Node) -> design.Expression:
        function = token_of(node.children[0])
        arguments = tuple(self._expression(tree_of(child)) for child in node.children[1:])
        name, at = str(function), self.span(function)
        if name not in FUNCTIONS:
            self.problems.append(problems.UnknownFunction(at, name, FUNCTIONS))
        elif (len(arguments) < 2) if name in ("min", "max") else (len(arguments) != 1):
            self.problems.append(problems.ArgumentsWrong(at, name, len(arguments)))
        return design.Call(name, arguments, self.span(node))

    def _number(self, written: str, at: Span) -> design.Number:
        match = re.fullmatch(r"([0-9./ \t]*[0-9])[ \t]*(.*)", written)
        assert match, "the grammar lets numbers begin with digits"
        digits, letters = match.groups()
        unit = unit_named(letters) if letters else None
        if letters and unit is None:
            place = Span(at.start + match.start(2), at.end, self.source)
            self.problems.append(problems.UnknownUnit(place, letters, UNITS))
        why = _why_unusable(digits)
        if why:
            shown = written if len(written) <= 2 * DIGIT_LIMIT else written[: 2 * DIGIT_LIMIT] + "..."
            self.problems.append(problems.BadNumber(at, shown, why))
            return design.Number(Fraction(1), unit, at)
        return design.Number(sum(map(Fraction, digits.split()), Fraction(0)), unit, at)

    # Arguments and settings

    def argument(self, node: Node) -> design.Argument:
        """One argument of a setting."""
        if node.data == "text":
            return self.text(token_of(node.children[0]), "this text")
        if node.data == "colour":
            token = token_of(node.children[0])
            return design.Colour(str(token).lower(), self.span(token))
        if node.data == "place":
            return self.place(node)
        return self._value(node)

    def _value(self, node: Node) -> design.Argument:
        first, join, second = node.children
        left = self._plain(tree_of(first))
        if join is None:
            return left
        right, at = self._plain(tree_of(second)), self.span(node)
        kind = token_of(join).type
        if kind == "TO":
            return design.Range(left, right, at)
        return design.Size(left, right, at) if kind == "X" else design.Count(left, right, at)

    def _plain(self, node: Node) -> design.Expression:
        """An expression among other arguments, where a minus that leans on its right side is not clear."""
        value = self.expression(node)
        while isinstance(value, design.Binary) and node.data in ("plus", "minus"):
            left, right = (self.span(tree_of(child)) for child in node.children)
            if re.search(r"[ \t]-$", self.source.text[left.end : right.start]):
                sign = Span(right.start - 1, right.start, self.source)
                self.problems.append(problems.UnclearMinus(sign, left.text, right.text))
                break
            node = tree_of(node.children[0])
        return value

    def place(self, node: Node) -> design.Place:
        """A preposition and what it refers to."""
        how, first, join, second = node.children
        target: design.Name | design.Size
        if join is not None:
            ends = tree_of(first), tree_of(second)
            whole = Span(self.span(ends[0]).start, self.span(ends[1]).end, self.source)
            target = design.Size(self.expression(ends[0]), self.expression(ends[1]), whole)
        else:
            target = self._place_name(tree_of(first))
        return design.Place(str(how), target, self.span(node))

    def _between(self, node: Node) -> design.Place:
        """`between` with the two panels that it names."""
        how, first, _, second = node.children
        names = [design.Name(tuple(token_of(tree_of(name).children[0]).split(".")), self.span(name)) for name in (first, second)]
        return design.Place(str(how), names[0], self.span(node), names[1])

    def _place_name(self, node: Node) -> design.Name:
        value, at = self.expression(node), self.span(node)
        if isinstance(value, design.Name):
            return value
        wanted = "a name such as `reef.ridge`, or two lengths such as `12 x 30`"
        self.problems.append(problems.ValueWrong(at, "a place", wanted))
        return design.Name(("x",), at)

    def setting(self, node: Node) -> design.Setting:
        """One line in a block."""
        word = self.word(token_of(node.children[0]))
        rest = [child for child in node.children[1:] if child is not None]
        arguments: tuple[design.Argument, ...]
        if node.data == "setting_in":
            arguments = (design.Name(("in",), self.span(rest[0])),)
        else:
            arguments = tuple(self.argument(tree_of(child)) for child in rest)
        return design.Setting(word, arguments, self.span(node))

    # Blocks

    def block(self, node: Node, settings: tuple[design.Setting, ...]) -> design.Block:
        """A block with the settings that were read below it."""
        keyword, name, measures, last = node.children
        size = None if measures is None else self._measures(tree_of(measures))
        place = None
        if node.data == "block_inside":
            assert size is not None, "the grammar asks for a size here"
            size, place = self._inside(size, tree_of(last))
        elif last is not None:
            last = tree_of(last)
            place = self._between(last) if last.data == "between" else self.place(last)
        named = None if name is None else self.word(token_of(name))
        return design.Block(self.word(token_of(keyword)), named, size, place, settings, self.span(node))

    def _measures(self, node: Node) -> design.Size:
        width, _, height = node.children
        return design.Size(self.expression(tree_of(width)), self.expression(tree_of(height)), self.span(node))

    def _inside(self, size: design.Size, node: Node) -> tuple[design.Size, design.Place | None]:
        """Size and place of `30 x 40 in tank`, where the lexer took `in` for inches."""
        height, target = size.height, self.expression(node)
        assert isinstance(target, design.Name), "the grammar asks for a name here"
        if not (isinstance(height, design.Number) and height.unit == "in"):
            self.problems.append(problems.UnknownUnit(target.at, target.text, UNITS))
            return size, None
        end = height.at.start + len(height.at.text.removesuffix("in").rstrip())
        bare = design.Number(height.value, None, Span(height.at.start, end, self.source))
        size = design.Size(size.width, bare, Span(size.at.start, end, self.source))
        return size, design.Place("in", target, Span(height.at.end - 2, target.at.end, self.source))


def _deeper_than(node: Node, limit: int) -> bool:
    """Whether an expression has more layers than the limit; a loop, since recursion is what it guards."""
    stack = [(node, 0)]
    while stack:
        tree, depth = stack.pop()
        depth += tree.data in _LAYERS
        if depth > limit:
            return True
        stack.extend((child, depth) for child in tree.children if not isinstance(child, str))
    return False


def _unprintable(character: str) -> bool:
    """Whether a character is a control, a lone surrogate, a line separator, or turns the direction."""
    return unicodedata.category(character) in ("Cc", "Cs", "Zl", "Zp") or character in _TURNING


def _why_unusable(digits: str) -> str:
    """What is wrong with the digits of a number, or nothing."""
    if any(len(run) > DIGIT_LIMIT for run in re.findall(r"[0-9]+", digits)):
        return f"it has more than {DIGIT_LIMIT} digits in a row"
    if re.search(r"/0+$", digits):
        return "it divides by zero"
    return ""


def tree_of(child: Node | Token) -> Node:
    """The child as a tree."""
    assert not isinstance(child, str), "the grammar puts a tree here"
    return child


def token_of(child: Node | Token) -> Token:
    """The child as a token."""
    assert isinstance(child, str), "the grammar puts a token here"
    return child
