"""The statements of a script: card, paper, the machine, practice, require, prefer, and blocks in general."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

from foldwright.grammar import design, machine, problems
from foldwright.grammar.constant import NotConstant, length
from foldwright.grammar.nodes import Nodes, token_of, tree_of
from foldwright.grammar.paper import EXAMPLE, read_paper
from foldwright.grammar.problem import Problem
from foldwright.grammar.source import Span
from foldwright.grammar.units import LENGTHS, UNITS
from foldwright.grammar.variant import Base, read_lines

if TYPE_CHECKING:
    from lark import Token, Tree

    Node = Tree[Token]

CARD_SETTINGS = ("units", "step")
WISHES = ("largest", "smallest", "least")
STATEMENTS = ("card", "paper", "mat", *machine.STATEMENTS, "practice", "without", "require", "prefer", "merge", "variant")
# The card comes first wherever it stands, since the other lengths take its unit; variants change what all others say.
_ORDER = {"card": 0, "variant": 2}
REQUIRED = {"card": 'card "Tide pool"', "cover": "cover 130 mm x 180 mm"}


@dataclass
class Script:
    """Collects the statements of one source, and what is wrong with them in `nodes.problems`."""

    nodes: Nodes
    title: str = ""
    unit: str | None = None
    step: Fraction | None = None
    papers: list[design.Paper] = field(default_factory=list)
    mats: list[design.Mat] = field(default_factory=list)
    machine: design.Machine = field(default_factory=design.Machine)
    practices: list[design.Practice] = field(default_factory=list)
    blocks: list[design.Block] = field(default_factory=list)
    requires: list[design.Require] = field(default_factory=list)
    prefers: list[design.Prefer] = field(default_factory=list)
    withouts: list[design.Without] = field(default_factory=list)
    variants: list[design.Variant] = field(default_factory=list)
    merges: list[design.Merge] = field(default_factory=list)
    first: dict[tuple[str, str], Span] = field(default_factory=dict)  # (kind, name) -> where it first stands

    def read(self, tree: Node, broken: dict[int, str]) -> design.Design:
        """The design of a whole tree; `broken` has the first words of heads that were not read, by offset."""
        statements = [tree_of(child) for child in tree.children if not isinstance(child, str)]
        for statement in sorted(statements, key=lambda node: _ORDER.get(_keyword(node, broken), 1)):
            self._statement(statement, broken)
        self._check_required(broken)
        return self._design()

    def put_together(self, known: Sequence[tuple[Node, int, object]], whole: bool = True) -> design.Design:
        """The design of statements without faults of syntax: of each its tree, where it begins, and what it says if known.

        Places in a tree count from where it begins. A `whole` script is asked for what every card needs.
        """
        for tree, start, node in sorted(known, key=lambda each: _ORDER.get(self.kind_of(each[0]), 1)):
            if isinstance(node, design.Block):
                self._block(node)
            elif isinstance(node, design.Require):
                self.requires.append(node)
            elif isinstance(node, design.Prefer):
                self.prefers.append(node)
            else:
                self.nodes.offset = start
                self._statement(tree_of(tree.children[0]), {})
        self.nodes.offset = 0
        if whole:
            self._check_required({})
        return self._design()

    @staticmethod
    def kind_of(tree: Node) -> str:
        """What the only statement of a tree is, such as "block" or "paper"."""
        return _keyword(tree_of(tree.children[0]), {})

    def _design(self) -> design.Design:
        return design.Design(
            self.nodes.source, self.title, self.unit, self.step, tuple(self.papers), tuple(self.mats),
            tuple(self.practices), tuple(self.blocks), tuple(self.requires), tuple(self.prefers),
            self.first.get(("statement", "card"), Span(0, 0, self.nodes.source)),
            tuple(self.withouts), tuple(self.variants), machine=self.machine, merges=tuple(self.merges),
        )

    def _statement(self, node: Node, broken: dict[int, str]) -> None:
        head, *rest = (tree_of(child) for child in node.children if not isinstance(child, str))
        lines = [tree_of(child) for body in rest for child in body.children if not isinstance(child, str)]
        at = self.nodes.span(head)
        settings = tuple(self.nodes.setting(line) for line in lines)
        if at.start in broken:
            if broken[at.start] == "card":
                self._card_settings(settings)
        elif head.data == "card":
            self._card(head, settings)
        elif head.data in ("block", "block_inside"):
            self._block(self.nodes.block(head, settings))
        elif head.data == "variant":
            self._variant(head, settings)
        else:
            self._line(head)
            if settings:
                self._report(problems.LinesUnexpected(settings[0].at, str(head.data)))

    def _report(self, problem: Problem) -> None:
        self.nodes.problems.append(problem)

    def _check_required(self, broken: dict[int, str]) -> None:
        start = self.first.get(("statement", "card"), Span(0, 0, self.nodes.source))
        for keyword, example in REQUIRED.items():
            if ("statement", keyword) not in self.first and keyword not in broken.values():
                self._report(problems.MissingStatement(start, keyword, example))

    # Card

    def _card(self, node: Node, settings: tuple[design.Setting, ...]) -> None:
        if self._again("statement", "card", self._keyword_span(node, "card")):
            return
        self.title = self.nodes.text(token_of(node.children[0]), "the title").text
        self._card_settings(settings)

    def _card_settings(self, settings: tuple[design.Setting, ...]) -> None:
        seen: dict[str, design.Setting] = {}
        for setting in settings:
            name = setting.word.text
            if setting.others:
                self._report(problems.ChoiceNotHere(setting.at, f"behind `{name}` of the card"))
            if name not in CARD_SETTINGS:
                self._report(problems.UnknownSetting(setting.word.at, name, "card", CARD_SETTINGS))
            elif name in seen:
                self._report(problems.SettingTwice(setting.word.at, name, seen[name].word.at))
            else:
                seen[name] = setting
        if "units" in seen:
            self._units(seen["units"])
        if "step" in seen:
            self._step(seen["step"])

    def _units(self, setting: design.Setting) -> None:
        value = self._only_argument(setting, "the unit", "units mm")
        if value is None:
            return
        if not isinstance(value, design.Name):
            self._report(problems.ValueWrong(value.at, "the unit", "a word such as `mm`"))
        elif value.text in LENGTHS:
            self.unit = value.text
        elif value.text in UNITS:
            self._report(problems.UnitWrong(value.at, value.text, f"a length ({', '.join(LENGTHS)})"))
        else:
            self._report(problems.UnknownUnit(value.at, value.text, LENGTHS))

    def _step(self, setting: design.Setting) -> None:
        value = self._only_argument(setting, "the step", "step 0.5 mm")
        if value is not None:
            self.step = self._length(value, "the step", "step 0.5 mm")

    def _only_argument(self, setting: design.Setting, what: str, example: str) -> design.Argument | None:
        if not setting.arguments:
            self._report(problems.ValueMissing(setting.at, what, example))
            return None
        if len(setting.arguments) > 1:
            extra = setting.arguments[1].at.until(setting.arguments[-1].at)
            self._report(problems.ValueSurplus(extra, f"`{example}`"))
        return setting.arguments[0]

    # Statements of one line

    def _line(self, node: Node) -> None:
        readers = {
            "paper": self._paper,
            "mat": self._mat,
            **dict.fromkeys(machine.STATEMENTS, self._of_machine),
            "practice": self._practice,
            "without": self._without,
            "require": self._require,
            "prefer": self._prefer,
            "merge": self._merge,
        }
        readers[node.data](node)

    def _paper(self, node: Node) -> None:
        name, *arguments = node.children
        at = self.nodes.span(node)
        if name is None:
            self._report(problems.ValueMissing(at, "the name of the paper", EXAMPLE))
            return
        values = tuple(self.nodes.argument(tree_of(child)) for child in arguments if child is not None)
        paper, faults = read_paper(self.nodes.word(token_of(name)), values, self.unit, at)
        self.nodes.problems.extend(faults)
        if not self._again("paper", paper.name.text, paper.name.at):
            self.papers.append(paper)

    def _mat(self, node: Node) -> None:
        width, _, height = node.children
        example = "mat 290 mm x 300 mm"
        sides = tuple(self.nodes.expression(tree_of(side)) for side in (width, height))
        across = self._length(sides[0], "the width of the mat", example)
        along = self._length(sides[1], "the height of the mat", example)
        if across is not None and along is not None:
            self.mats.append(design.Mat(across, along, self.nodes.span(node), sides))

    def _of_machine(self, node: Node) -> None:
        word, at = str(node.data), self.nodes.span(node)
        if self._again("statement", word, self._keyword_span(node, word)):
            return
        values = [self.nodes.argument(tree_of(child)) for child in node.children if child is not None]
        try:
            self.machine = machine.read(word, values, self.unit, at).over(self.machine)
        except NotConstant as fault:
            self._report(fault.problem)

    def _practice(self, node: Node) -> None:
        target, amount, because = node.children
        name = self.nodes.expression(tree_of(target))
        assert isinstance(name, design.Name), "the grammar asks for a name here"
        value, reason = self.nodes.expression(tree_of(amount)), self._because(because)
        if reason is None:
            self._report(problems.ReasonMissing(name.at, f"the practice `{name.text}`"))
        if not self._again("practice", name.text, name.at):
            self.practices.append(design.Practice(name, value, reason or "", self.nodes.span(node)))

    def _without(self, node: Node) -> None:
        rule, because = node.children
        name, reason = self.nodes.word(token_of(rule)), self._because(because)
        if reason is None:
            self._report(problems.ReasonMissing(name.at, f"the rule `{name.text}`"))
        if not self._again("without", name.text, name.at):
            self.withouts.append(design.Without(name, reason or "", self.nodes.span(node)))

    def _variant(self, node: Node, settings: tuple[design.Setting, ...]) -> None:
        at = self.nodes.span(node)
        if node.children[0] is None:
            self._report(problems.ValueMissing(at, "the name of the variant", "variant small"))
            return
        name = self.nodes.word(token_of(node.children[0]))
        papers = {paper.name.text: paper for paper in self.papers}
        variant = read_lines(name, settings, Base(self.unit, papers, self.blocks, self.nodes.problems), at)
        if not self._again("variant", name.text, name.at):
            self.variants.append(variant)

    def _require(self, node: Node) -> None:
        left, operator, right, because = node.children
        sides = self.nodes.expression(tree_of(left)), self.nodes.expression(tree_of(right))
        reason = self._because(because)
        self.requires.append(design.Require(sides[0], str(operator), sides[1], reason, self.nodes.span(node)))

    def _prefer(self, node: Node) -> None:
        direction = self.nodes.word(token_of(node.children[0]))
        target = self.nodes.expression(tree_of(node.children[1]))
        if direction.text not in WISHES:
            self._report(problems.UnknownChoice(direction.at, direction.text, "prefer", WISHES))
        elif direction.text == "least" and not (isinstance(target, design.Name) and target.text == "paper"):
            self._report(problems.ValueWrong(target.at, "the target of `least`", "`paper`"))
        self.prefers.append(design.Prefer(direction, target, self.nodes.span(node)))

    def _merge(self, node: Node) -> None:
        words, at = [self.nodes.word(token_of(child)) for child in node.children], self.nodes.span(node)
        example = f"merge {words[0].text if words else 'fern'} into reed"
        if len(words) > 1 and words[1].text != "into":
            wanted = f"`into` and another paper, as in `{example}`"
            self._report(problems.ValueWrong(words[1].at, "what follows the paper", wanted))
        elif len(words) < 3:
            self._report(problems.ValueMissing(at, "the paper that it is cut from" if words else "the paper", example))
        elif len(words) > 3:
            self._report(problems.ValueSurplus(words[3].at.until(words[-1].at), f"`{example}`"))
        elif not self._again("merge", words[0].text, words[0].at):
            self.merges.append(design.Merge(words[0], words[2], at))

    # Blocks

    def _block(self, block: design.Block) -> None:
        keyword = block.keyword
        if block.optional is not None and keyword.text in (*STATEMENTS, "cover"):
            self._report(problems.OptionalNotHere(block.optional.at, keyword.text))
        if keyword.text == "cover":
            if self._again("statement", "cover", keyword.at):
                return
            if block.size is None:
                self._report(problems.ValueMissing(keyword.at, "the size of the cover", REQUIRED["cover"]))
        if block.name is None or not self._again("block", block.name.text, block.name.at):
            self.blocks.append(block)

    # Helpers

    def _because(self, node: Node | Token | None) -> str | None:
        if node is None:
            return None
        return self.nodes.text(token_of(tree_of(node).children[0]), "the reason").text

    def _length(self, value: design.Argument, what: str, example: str) -> Fraction | None:
        try:
            return length(value, self.unit, what, example)
        except NotConstant as fault:
            self._report(fault.problem)
            return None

    def _again(self, kind: str, name: str, at: Span) -> bool:
        """Whether something was declared before, which is reported; otherwise remember where it stands."""
        first = self.first.setdefault((kind, name), at)
        if first is at:
            return False
        if kind == "statement":
            self._report(problems.StatementTwice(at, name, first))
        elif kind in ("practice", "without", "merge"):
            self._report(problems.SettingTwice(at, name, first))
        else:
            self._report(problems.NameTwice(at, name, first))
        return True

    def _keyword_span(self, node: Node, keyword: str) -> Span:
        start = self.nodes.span(node).start
        return Span(start, start + len(keyword), self.nodes.source)


def _keyword(statement: Node, broken: dict[int, str]) -> str:
    """What kind of statement this is, for heads that could not be read their first word."""
    head = tree_of(statement.children[0])
    return broken.get(head.meta.start_pos, str(head.data))
