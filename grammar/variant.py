"""The `variant` statement: what another version of the same card replaces, line by line.

A variant says nothing new: each of its lines replaces a statement, or one line of a block, of the card as it is written.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from lark.exceptions import UnexpectedInput

from foldwright.grammar import design, layout, machine, problems
from foldwright.grammar.constant import NotConstant, length
from foldwright.grammar.expected import syntax_problem
from foldwright.grammar.nodes import Nodes, tree_of
from foldwright.grammar.paper import read_paper
from foldwright.grammar.problem import Problem
from foldwright.grammar.source import Source, Span
from foldwright.grammar.syntax import error_offset, parser

if TYPE_CHECKING:
    from lark import Token, Tree

    Node = Tree[Token]

STATEMENTS = ("cover", "mat", *machine.STATEMENTS, "paper", "practice", "step")
_COVER = ("opens", "clear", "spine")  # lines of a cover that a variant changes most often


def read_lines(name: design.Word, settings: Sequence[design.Setting], base: Base, at: Span) -> design.Variant:
    """A variant from its name and lines; what is wrong with them goes to the problems of `base`."""
    lines = _Lines(base)
    if not settings and not _has_lines(at):
        base.problems.append(problems.ValueMissing(at, f"what `{name.text}` changes", "mat 8 in x 11 in"))
    for setting in settings:
        try:
            lines.read(setting)
        except NotConstant as fault:
            base.problems.append(fault.problem)
    return design.Variant(name, lines.cover, tuple(lines.mats), lines.step, tuple(lines.papers), tuple(lines.practices),
                          tuple(lines.settings), at, lines.machine)


def _has_lines(head: Span) -> bool:
    """Whether there are lines below a head, be they readable or not."""
    following = next(layout.lines(head.source.text[head.end :].partition("\n")[2]), None)
    return following is not None and bool(following.indent)


def read_change(text: str, shown: str, of: design.Design) -> tuple[design.Variant | None, list[Problem]]:
    """One line of a variant that is no part of the script, such as `cover 100x150`, and what is wrong with it.

    `shown` stands where messages name the file.
    """
    source = Source(shown, text, of.source.folder)
    nodes = Nodes(source)
    try:
        tree = parser().parse(text + "\n", start="change")
    except UnexpectedInput as error:
        return None, [syntax_problem(source, text + "\n", error_offset(error), error)]
    papers = {paper.name.text: paper for paper in of.papers}
    setting = nodes.setting(tree_of(tree.children[0]))
    base = Base(of.unit, papers, of.blocks, nodes.problems)
    return read_lines(design.Word("given", setting.at), (setting,), base, setting.at), nodes.problems


def joined(changes: Sequence[design.Variant]) -> design.Variant:
    """Several changes as one variant; of those to one thing, the last counts, but all mats."""
    cover = [change.cover for change in changes if change.cover is not None]
    mats = tuple(mat for change in changes for mat in change.mats)
    said = design.Machine()
    for change in changes:
        said = change.machine.over(said)
    step = [change.step for change in changes if change.step is not None]
    return design.Variant(
        changes[0].name, cover[-1] if cover else None, mats, step[-1] if step else None,
        tuple(paper for change in changes for paper in change.papers),
        tuple(practice for change in changes for practice in change.practices),
        tuple(line for change in changes for line in change.settings), changes[0].at, said)


@dataclass
class Base:
    """What a variant needs to know of its card, and where its problems go."""

    unit: str | None
    papers: Mapping[str, design.Paper]
    blocks: Sequence[design.Block]
    problems: list[Problem]


@dataclass
class _Lines:
    """What has been read of a variant."""

    base: Base
    cover: design.Size | None = None
    mats: list[design.Mat] = field(default_factory=list)
    machine: design.Machine = field(default_factory=design.Machine)
    step: Fraction | None = None
    papers: list[design.Paper] = field(default_factory=list)
    practices: list[design.Practice] = field(default_factory=list)
    settings: list[tuple[str, design.Setting]] = field(default_factory=list)
    seen: dict[str, Span] = field(default_factory=dict)

    def read(self, setting: design.Setting) -> None:
        """Read one line; raises NotConstant if a value is wrong."""
        word = setting.word.text
        if word in STATEMENTS:
            if setting.others:
                raise NotConstant(problems.ChoiceNotHere(setting.at, f"behind `{word}` of a variant"))
            {"cover": self._cover, "mat": self._mat, "step": self._step, "paper": self._paper, "practice": self._practice,
             **dict.fromkeys(machine.STATEMENTS, self._of_machine)}[word](setting)
        elif "." in word:
            self._of_block(setting)
        else:
            self.base.problems.append(problems.UnknownSetting(setting.word.at, word, "variant", (*STATEMENTS, *self._known())))

    def _known(self) -> list[str]:
        """Lines of blocks as a variant writes them."""
        known = [f"cover.{word}" for word in _COVER]
        for block in self.base.blocks:
            name = (block.name or block.keyword).text
            known += [f"{name}.{line.word.text}" for line in block.settings]
        return list(dict.fromkeys(known))

    def _again(self, name: str, at: Span) -> bool:
        first = self.seen.setdefault(name, at)
        if first is not at:
            self.base.problems.append(problems.SettingTwice(at, name, first))
        return first is not at

    def _size(self, setting: design.Setting, example: str) -> design.Size | None:
        """`W x H` behind a word, alone on its line; there may be several mats."""
        word = setting.word
        if word.text != "mat" and self._again(word.text, word.at):
            return None
        if not setting.arguments:
            raise NotConstant(problems.ValueMissing(word.at, f"the size of the {word.text}", example))
        value = setting.arguments[0]
        if not isinstance(value, design.Size):
            wanted = f"its width and height with an `x` between, as in `{example}`"
            raise NotConstant(problems.ValueWrong(value.at, f"the size of the {word.text}", wanted))
        self._alone(setting, example)
        return value

    def _alone(self, setting: design.Setting, example: str) -> None:
        if len(setting.arguments) > 1:
            extra = setting.arguments[1].at.until(setting.arguments[-1].at)
            raise NotConstant(problems.ValueSurplus(extra, f"`{example}`"))

    def _cover(self, setting: design.Setting) -> None:
        size = self._size(setting, "cover 100 mm x 150 mm")
        if size is None:
            return
        for side, what in ((size.width, "the width of the cover"), (size.height, "the height of the cover")):
            length(side, self.base.unit, what, "cover 100 mm x 150 mm")
        self.cover = size

    def _mat(self, setting: design.Setting) -> None:
        size = self._size(setting, "mat 290 mm x 300 mm")
        if size is not None:
            sides = [length(side, self.base.unit, f"the {what} of the mat", "mat 290 mm x 300 mm")
                     for side, what in ((size.width, "width"), (size.height, "height"))]
            self.mats.append(design.Mat(sides[0], sides[1], setting.at, (size.width, size.height)))

    def _of_machine(self, setting: design.Setting) -> None:
        word = setting.word.text
        if not self._again(word, setting.word.at):
            self.machine = machine.read(word, setting.arguments, self.base.unit, setting.at).over(self.machine)

    def _step(self, setting: design.Setting) -> None:
        if self._again("step", setting.word.at):
            return
        if not setting.arguments:
            raise NotConstant(problems.ValueMissing(setting.word.at, "the step", "step 0.5 mm"))
        self._alone(setting, "step 0.5 mm")
        self.step = length(setting.arguments[0], self.base.unit, "the step", "step 0.5 mm")

    def _paper(self, setting: design.Setting) -> None:
        name, values = self._named(setting, "the name of the paper", "paper ink caliper 0.3 mm")
        known = self.base.papers
        if name.text not in known:
            raise NotConstant(problems.UnknownName(name.at, name.text, tuple(known)))
        if self._again(f"paper {name.text}", name.at):
            return
        word = design.Word(name.text, name.at)
        paper, faults = read_paper(word, values, self.base.unit, setting.at, known[name.text])
        self.base.problems.extend(faults)
        self.papers.append(paper)

    def _practice(self, setting: design.Setting) -> None:
        name, values = self._named(setting, "the name of the practice", 'practice tab.depth 6 because "small tabs"')
        if self._again(f"practice {name.text}", name.at):
            return
        value, rest = values[0], values[1:]
        if not isinstance(value, design.Expression):
            raise NotConstant(problems.ValueMissing(name.at, f"the value of `{name.text}`", 'practice tab.depth 6 because "..."'))
        if not rest:
            raise NotConstant(problems.ReasonMissing(name.at, f"the practice `{name.text}`"))
        reason = rest[-1]
        because = isinstance(rest[0], design.Name) and rest[0].text == "because"
        if not because or len(rest) != 2 or not isinstance(reason, design.Text):
            raise NotConstant(problems.ValueWrong(rest[0].at, "what follows the value", '`because "..."`'))
        self.practices.append(design.Practice(name, value, reason.text, setting.at))

    def _named(self, setting: design.Setting, what: str, example: str) -> tuple[design.Name, tuple[design.Argument, ...]]:
        """The name behind a word, and what follows it."""
        first = setting.arguments[0] if setting.arguments else None
        if not isinstance(first, design.Name):
            raise NotConstant(problems.ValueMissing(setting.at if first is None else first.at, what, example))
        if len(setting.arguments) == 1:
            raise NotConstant(problems.ValueMissing(setting.at, f"what changes for `{first.text}`", example))
        return first, setting.arguments[1:]

    def _of_block(self, setting: design.Setting) -> None:
        """`weeds.rise 50 to 70`: the line `rise` of the block `weeds`."""
        owner, _, word = setting.word.text.partition(".")
        names = {(block.name or block.keyword).text for block in self.base.blocks}
        at = setting.word.at
        if owner not in names or "." in word:
            raise NotConstant(problems.UnknownName(at, setting.word.text, tuple(self._known())))
        if self._again(setting.word.text, at):
            return
        if not setting.arguments:
            raise NotConstant(problems.ValueMissing(at, setting.word.text))
        inner = Span(at.start + len(owner) + 1, at.end, at.source)
        self.settings.append((owner, replace(setting, word=design.Word(word, inner))))
