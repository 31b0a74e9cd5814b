"""Syntax tree → the typed nodes of a design: expressions, arguments, settings and blocks.

Wrong values become problems in a shared list, and reading goes on with a harmless value in their place.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import product
from math import prod
from typing import TYPE_CHECKING

from foldwright.grammar import design, problems
from foldwright.grammar.problem import Problem
from foldwright.grammar.source import Source, Span
from foldwright.grammar.units import UNITS, unit_named

if TYPE_CHECKING:
    from lark import Token, Tree

    Node = Tree[Token]

DEPTH_LIMIT = 100  # layers of an expression; everything that walks one by recursion relies on it
OPTION_LIMIT = 100  # that one line may leave open
DIGIT_LIMIT = 12  # digits before and behind a point: far beyond a micrometre in a kilometre
TEXT_LIMIT = 300  # characters of a title or a reason

REASONS = "only `require`, `practice` and `without` lines take a reason; put it behind a `#` as a comment"
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
    offset: int = 0  # where the text of a tree begins in the source

    def span(self, node: Node | Token) -> Span:
        """Where a tree or token stands; a tree without tokens stands nowhere and is not asked."""
        if isinstance(node, str):
            start, end = node.start_pos, node.end_pos
        else:
            start, end = node.meta.start_pos, node.meta.end_pos
        assert start is not None, "positions are propagated"
        assert end is not None, "positions are propagated"
        return Span(start + self.offset, min(end + self.offset, len(self.source.text)), self.source)

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
        if node.data == "count":
            counts = self._counts(node)
            if len(counts) > 1:
                self.problems.append(problems.ChoiceNotHere(self.span(node), "here"))
            return counts[0]
        if node.data == "text":
            return self.text(token_of(node.children[0]), "this text")
        if node.data == "colour":
            token = token_of(node.children[0])
            return design.Colour(str(token).lower(), self.span(token))
        if node.data == "place":
            return self.place(node)
        if node.data == "grain":
            token = token_of(node.children[0])
            return design.Place("grain", design.Name((str(token).split()[1],), self.span(token)), self.span(token))
        return self._value(node)

    def _value(self, node: Node) -> design.Argument:
        first, join, second = node.children
        left = self._plain(tree_of(first))
        if join is None:
            return left
        right, at = self._plain(tree_of(second)), self.span(node)
        if token_of(join).type == "TO":
            return design.Range(left, right, at)
        return design.Size(left, right, at)

    def _counts(self, node: Node) -> list[design.Argument]:
        """`3 by 4`, or each count that `2 to 4 by 3` leaves open."""
        first, _, second = node.children
        at = self.span(node)
        ends = [[self._plain(tree_of(end)) for end in tree_of(span).children[::2] if end is not None] for span in (first, second)]
        if all(len(span) == 1 for span in ends):
            return [design.Count(ends[0][0], ends[1][0], at)]
        sides = [self._whole(span) for span in ends]
        if self._too_many(at, prod(map(len, sides))):
            sides = [side[:1] for side in sides]
        return [design.Count(one, other, at) for one, other in product(*sides)]

    def _whole(self, ends: list[design.Expression]) -> Sequence[design.Expression]:
        """The whole numbers from the first end to the last, no more than are looked at."""
        numbers = [end for end in ends if isinstance(end, design.Number) and end.unit is None and end.value.denominator == 1]
        at = ends[0].at.until(ends[-1].at)
        if len(numbers) < len(ends):
            self.problems.append(problems.ValueWrong(at, "a range of counts", "two whole numbers, as in `2 to 4 by 3`"))
            return ends[:1]
        low, high = int(numbers[0].value), int(numbers[-1].value)
        if low > high:
            self.problems.append(problems.RangeUpsideDown(at, ends[0].at.text, ends[-1].at.text))
        return [design.Number(Fraction(n), None, at) for n in range(low, min(high, low + OPTION_LIMIT) + 1)] or ends[:1]

    def _too_many(self, at: Span, count: int) -> bool:
        if count > OPTION_LIMIT:
            self.problems.append(problems.TooManyOptions(at, OPTION_LIMIT))
        return count > OPTION_LIMIT

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
        if node.data == "setting_in":
            return design.Setting(word, (design.Name(("in",), self.span(rest[0])),), self.span(node))
        own = [tree_of(child) for child in rest]
        because = own.pop() if own and own[-1].data == "because" else None
        groups = [[tree for tree in own if tree.data != "option"]]
        groups += [[tree_of(child) for child in tree.children] for tree in own if tree.data == "option"]
        options = [option for group in groups for option in self._options(group)]
        self._too_many(self.span(node), len(options))
        reason = () if because is None else self._reason(because, word)
        return design.Setting(word, options[0] + reason, self.span(node), tuple(options[1:]))

    def _reason(self, node: Node, word: design.Word) -> tuple[design.Argument, ...]:
        """`because` and the text behind it, at the end of a line of a block; only a practice of a variant takes them there."""
        start = self.span(node).start
        at = Span(start, start + len("because"), self.source)
        if word.text != "practice":
            self.problems.append(problems.SyntaxFault(at, "`because`", ("the end of the line",), (REASONS,)))
        return design.Name(("because",), at), self.text(token_of(node.children[0]), "the reason")

    def _options(self, group: list[Node]) -> list[tuple[design.Argument, ...]]:
        """What some arguments side by side can be: one thing, but for a range of counts."""
        return list(product(*(self._counts(tree) if tree.data == "count" else [self.argument(tree)] for tree in group)))

    # Blocks

    def block(self, node: Node, settings: tuple[design.Setting, ...]) -> design.Block:
        """A block with the settings that were read below it."""
        optional, keyword, name, measures, *rest = node.children
        size = None if measures is None else self._measures(tree_of(measures))
        hosts = [tree_of(host) for host in rest if host is not None]
        places: list[design.Place] = []
        if node.data == "block_inside":
            assert size is not None, "the grammar asks for a size here"
            size, place = self._inside(size, hosts.pop(0))
            places += [place] if place is not None else []
        places += [self._between(host) if host.data == "between" else self.place(host) for host in hosts]
        named = None if name is None else self.word(token_of(name))
        return design.Block(self.word(token_of(keyword)), named, size, places[0] if places else None, settings, self.span(node),
                            None if optional is None else self.word(token_of(optional)), tuple(places[1:]))

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
