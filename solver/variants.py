"""A variant of a card: the same design with some lines replaced. Its dimensions are then found again, never scaled."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from foldwright.grammar import design as ast
from foldwright.grammar.problem import Problem
from foldwright.grammar.problems import UnknownPractice
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.practice import HABITS
from foldwright.solver.settings import GLUE, SettingsReader


def varied(design: ast.Design, variant: ast.Variant) -> ast.Design:
    """The design with the lines of a variant in place of its own; its name stands behind the title.

    Papers keep their order, lines of blocks theirs; what is new is added behind them.
    """
    papers = {paper.name.text: paper for paper in (*design.papers, *variant.papers)}
    practices = {practice.name.text: practice for practice in (*design.practices, *variant.practices)}
    title = design.title.removesuffix(f" ({design.variant})")
    name = variant.name.text if design.variant is None else f"{design.variant}, {variant.name.text}"
    return replace(design, title=f"{title} ({name})", step=variant.step or design.step, papers=tuple(papers.values()),
                   mats=variant.mats or design.mats, machine=variant.machine.over(design.machine),
                   practices=tuple(practices.values()),
                   blocks=tuple(_block(block, variant) for block in design.blocks), variants=(), variant=name)


def faults(design: ast.Design, kinds: Mapping[str, type[Mechanism]]) -> Iterator[Problem]:
    """What is wrong with lines that the variants of a design put into its blocks, whether or not one of them is asked for."""
    habits = tuple(habit.name for habit in HABITS)
    for variant in design.variants:
        for practice in variant.practices:
            if practice.name.text not in habits:
                yield UnknownPractice(practice.name.at, practice.name.text, habits)
        owners = {owner for owner, _ in variant.settings}
        for block in varied(design, variant).blocks:
            if _name(block) in owners and block.keyword.text in kinds:
                problems: list[Problem] = []
                SettingsReader(kinds[block.keyword.text], block, problems).read()
                yield from problems


def _name(block: ast.Block) -> str:
    return (block.name or block.keyword).text


def _block(block: ast.Block, variant: ast.Variant) -> ast.Block:
    """A block with the lines that a variant has for it."""
    lines = {line.word.text: line for line in block.settings}
    if len(lines) < len(block.settings):
        return block  # a line is there twice, which is told of the block as it is written
    if block.keyword.text == "cover" and variant.cover is not None:
        block = replace(block, size=variant.cover)
        lines = {word: line for word, line in lines.items() if word not in ("width", "height")}
    for owner, line in variant.settings:
        if owner == _name(block):
            if line.word.text in GLUE:  # one of these takes the place of the other
                lines = {word: other for word, other in lines.items() if word not in GLUE}
            lines[line.word.text] = line
    return replace(block, settings=tuple(lines.values()))
