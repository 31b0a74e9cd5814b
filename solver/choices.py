"""Free choices of a script: `layers 3 by 3 or 4 by 4`, `on spine or on quay.ridge`, `optional`.

A design with free choices stands for many plain designs, one for each way to decide. Nothing behind this module knows of
choices: what is decided here is bound, searched, proved and written like any other design. Which way is the best is found in
`choices_search.py`, and told in `choices_words.py`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace

from foldwright.grammar import design as ast
from foldwright.grammar.problem import Problem
from foldwright.grammar.problems import UnknownName
from foldwright.grammar.source import Span
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.settings import SettingsReader, numbered

Picks = tuple[int, ...]  # for each decision in order, the number of the option taken
THERE, LEFT_OUT = "there", "left out"


@dataclass(frozen=True)
class Option:
    """One way to decide: its words, and what stands behind the word of a line, or the place of a block."""

    words: str
    arguments: tuple[ast.Argument, ...] = ()
    place: ast.Place | None = None


@dataclass(frozen=True)
class Decision:
    """Something that a script leaves open, with its options, the best liked one first.

    `block` counts the blocks of the design and `line` the lines of that block; without a line it is about the place of the
    block, or, if `optional`, about whether it is there at all. `name` is the block's, `what` says what is decided.
    """

    block: int
    line: int | None
    name: str
    what: str
    options: tuple[Option, ...]
    at: Span
    optional: bool = False
    word: str = ""  # the line's


def decisions(design: ast.Design, kinds: Mapping[str, type[Mechanism]]) -> tuple[Decision, ...]:
    """All that a design leaves open: first which optional blocks are there, then the rest; both in the order written."""
    there, rest = [], []
    for number, block in enumerate(design.blocks):
        name = name_of(block)
        if block.optional is not None:
            there.append(Decision(number, None, name, name, (Option(THERE), Option(LEFT_OUT)), block.at, optional=True))
        if block.others and block.place is not None:
            places = [Option(_words(place), place=place) for place in (block.place, *block.others)]
            rest.append(Decision(number, None, name, f"place of {name}", _once(places), block.at))
        for line, setting in enumerate(block.settings):
            options = _once(_options(setting, kinds.get(block.keyword.text)))
            if len(options) > 1:
                word = setting.word.text
                rest.append(Decision(number, line, name, f"{word} of {name}", options, setting.at, word=word))
    return (*there, *rest)


def _options(setting: ast.Setting, kind: type[Mechanism] | None) -> Iterator[Option]:
    """What can follow the word of a line; a range of a number that is a choice (`planes 2 to 4`) is each of them."""
    known = {choice.name: choice.options for choice in kind.choices} if kind is not None else {}
    for arguments in (setting.arguments, *setting.others):
        inside = numbered(arguments[0], known.get(setting.word.text, ())) if len(arguments) == 1 else ()
        if inside:
            yield from (Option(str(number.value), (number,)) for number in inside)
        else:
            yield Option(" ".join(map(_words, arguments)), arguments)


def _once(options: Sequence[Option] | Iterator[Option]) -> tuple[Option, ...]:
    return tuple({option.words: option for option in reversed(list(options))}.values())[::-1]


def _words(argument: ast.Argument) -> str:
    """An argument as it is written; a count that a range leaves open as its two numbers."""
    if isinstance(argument, ast.Count):
        return " by ".join(map(_number, (argument.first, argument.second)))
    return argument.at.text.strip()


def _number(side: ast.Expression) -> str:
    return str(side.value) if isinstance(side, ast.Number) and side.unit is None else side.at.text.strip()


def name_of(block: ast.Block) -> str:
    """The name of a block: its own, or its keyword."""
    return (block.name or block.keyword).text


# ---- what is wrong with an option, whether or not it is taken


def faults(design: ast.Design, made: Sequence[Decision], kinds: Mapping[str, type[Mechanism]]) -> list[Problem]:
    """What is wrong with the words of options beyond the first ones, which are read like any other line."""
    found: list[Problem] = []
    papers = {paper.name.text for paper in design.papers}
    names = {name_of(block) for block in design.blocks}
    for decision in made:
        block = design.blocks[decision.block]
        kind = kinds.get(block.keyword.text)
        for option in decision.options[1:]:
            if kind is not None and decision.line is not None:
                line = replace(block.settings[decision.line], arguments=option.arguments, others=())
                before: list[Problem] = []
                SettingsReader(kind, replace(block, settings=(), size=None), before).read()
                problems: list[Problem] = []
                raw = SettingsReader(kind, replace(block, settings=(line,), size=None), problems).read()
                found += [problem for problem in problems if problem not in before]
                found += [UnknownName(name.at, name.text, tuple(names)) for name in names_in(tuple(raw.quantities.values()))
                          if len(name.path) != 2]
                if line.word.text == "paper":
                    found += [UnknownName(name.at, name.text, tuple(papers)) for name in option.arguments
                              if isinstance(name, ast.Name) and name.text not in papers]
            for name in names_in((option.arguments, option.place)):
                if len(name.path) > 1 and name.path[0] not in names:
                    found.append(UnknownName(name.at, name.text, tuple(names)))
    return list(dict.fromkeys(found))


def names_in(node: object) -> Iterator[ast.Name]:
    """All names in a part of a design."""
    if isinstance(node, ast.Name):
        yield node
    elif isinstance(node, tuple):
        for part in node:
            yield from names_in(part)
    elif is_dataclass(node) and not isinstance(node, Span):
        for field in fields(node):
            yield from names_in(getattr(node, field.name))


# ---- deciding


@dataclass(frozen=True)
class Gone:
    """What a plain design leaves out: the blocks that are absent, and the lines that name one of them."""

    blocks: frozenset[str]
    lines: tuple[Span, ...]


def absent(design: ast.Design, made: Sequence[Decision], picks: Mapping[int, int]) -> frozenset[str]:
    """Names of the blocks that are left out by the decisions made so far, or stand on one that is (in any number of steps)."""
    blocks = list(design.blocks)
    gone: set[str] = set()
    open_: set[int] = set()  # blocks whose place is not decided yet
    for number, decision in enumerate(made):
        if number not in picks:
            open_.add(decision.block)
        elif decision.optional:
            gone |= {decision.name} if picks[number] else set()
        else:
            blocks[decision.block] = _decided(blocks[decision.block], decision, picks[number])
    while True:
        more = {name_of(block) for number, block in enumerate(blocks) if number not in open_ and _hosts(block) & gone} - gone
        if not more:
            return frozenset(gone)
        gone |= more


def _hosts(block: ast.Block) -> set[str]:
    """Names of the blocks that a block stands on, in, between or is glued to."""
    places = [block.place, *(argument for line in block.settings for argument in line.arguments)]
    return {name.path[0] for place in places if isinstance(place, ast.Place) and place.how not in ("at", "along")
            for name in (place.target, place.second) if isinstance(name, ast.Name)}


def _decided(block: ast.Block, decision: Decision, pick: int) -> ast.Block:
    option = decision.options[pick]
    if decision.optional:
        return replace(block, optional=None)
    if decision.line is None:
        return replace(block, place=option.place, others=())
    lines = list(block.settings)
    lines[decision.line] = replace(lines[decision.line], arguments=option.arguments, others=())
    return replace(block, settings=tuple(lines))


def decided_blocks(design: ast.Design, made: Sequence[Decision], picks: Picks) -> list[ast.Block]:
    """All blocks as they are decided, those included that are left out."""
    blocks = list(design.blocks)
    for decision, pick in zip(made, picks, strict=True):
        blocks[decision.block] = _decided(blocks[decision.block], decision, pick)
    return blocks


def decide(design: ast.Design, made: Sequence[Decision], picks: Picks) -> tuple[ast.Design, Gone]:
    """The plain design of some decisions, and what it leaves out; its `edits` write it into the script."""
    gone = absent(design, made, dict(enumerate(picks)))
    writer = _Writer(design)
    for decision, pick in zip(made, picks, strict=True):
        if decision.name not in gone:
            writer.take(design.blocks[decision.block], decision, pick)
    kept = []
    for block in decided_blocks(design, made, picks):
        if name_of(block) in gone:
            writer.hide(block.at, *(line.at for line in block.settings))
        else:
            kept.append(_without_names(block, gone, writer))
    requires = tuple(rule for rule in design.requires if not writer.hides(rule, gone))
    prefers = tuple(wish for wish in design.prefers if not writer.hides(wish, gone))
    withouts = tuple(rule for rule in design.withouts if rule.name.text.split(".")[0] not in gone)
    writer.hide(*(rule.at for rule in design.withouts if rule not in withouts))
    for variant in design.variants:
        writer.hide_of_variant(variant, gone)
    plain = replace(design, blocks=tuple(kept), requires=requires, prefers=prefers, withouts=withouts,
                    edits=(*design.edits, *writer.edits))
    return plain, Gone(gone, tuple(writer.lines))


def _without_names(block: ast.Block, gone: Collection[str], writer: _Writer) -> ast.Block:
    """A block without its lines that reckon with an absent one: what they say is then found like any other dimension."""
    lines = tuple(line for line in block.settings if not writer.hides(line, gone))
    size = block.size
    if size is not None and any(name.path[0] in gone for name in names_in(size)):
        writer.cut(size.at)
        size = None
    return block if size is block.size and lines == block.settings else replace(block, settings=lines, size=size)


class _Writer:
    """Changes of the script's text, by which it says what was decided; what is left out becomes a comment."""

    def __init__(self, design: ast.Design) -> None:
        self.text = design.source.text
        self.edits: list[tuple[int, int, str]] = []
        self.lines: list[Span] = []  # lines that are left out since they name something that is absent

    def take(self, block: ast.Block, decision: Decision, pick: int) -> None:
        """Leave only the option that is taken."""
        option = decision.options[pick]
        if decision.optional:
            assert block.optional is not None
            self.edits.append((block.optional.at.start, block.keyword.at.start, ""))
            return
        if decision.line is None:
            assert option.place is not None
            whole = [place.at for place in (block.place, *block.others) if place is not None]
            taken = option.place.at
        else:
            line = block.settings[decision.line]
            whole = [argument.at for arguments in (line.arguments, *line.others) for argument in arguments]
            taken = option.arguments[0].at.until(option.arguments[-1].at)
        start, end = min(at.start for at in whole), max(at.end for at in whole)
        if self.text[taken.start : taken.end].strip() == option.words or len(option.arguments) > 1:
            self.edits += [(start, taken.start, ""), (taken.end, end, "")]
        else:  # one of a range
            self.edits.append((start, end, option.words))

    def hide(self, *places: Span) -> None:
        """Turn the lines of some places into comments."""
        for start in sorted({self.text.rfind("\n", 0, at.start) + 1 for at in places}):
            self.edits.append((start, start, "# "))

    def hide_of_variant(self, variant: ast.Variant, gone: Collection[str]) -> None:
        """Hide what a variant says of absent blocks, and its head if that is all."""
        lines = [line.at for owner, line in variant.settings if owner in gone]
        others = variant.cover or variant.mats or variant.machine or variant.step or variant.papers or variant.practices
        if lines:
            self.hide(*lines, *([] if others or len(lines) < len(variant.settings) else [variant.at]))

    def hides(self, node: ast.Setting | ast.Require | ast.Prefer, gone: Collection[str]) -> bool:
        """Whether a line names a dimension of something absent; then it is turned into a comment."""
        if not any(len(name.path) > 1 and name.path[0] in gone for name in names_in(node)):
            return False
        self.hide(node.at)
        self.lines.append(node.at)
        return True

    def cut(self, at: Span) -> None:
        """Take some words away."""
        self.edits.append((at.start, at.end, ""))
        self.lines.append(at)
