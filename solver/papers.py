"""The papers of a design: how thick each is, and which is cut from another one's sheets (`merge`)."""

from __future__ import annotations

from fractions import Fraction

from foldwright.grammar import design as ast
from foldwright.grammar.problem import Problem
from foldwright.grammar.problems import UnknownName, ValueWrong
from foldwright.solver.card import Paper
from foldwright.solver.practice import BULK


def solved(paper: ast.Paper) -> Paper:
    """A paper with its caliper in mm: as measured, or else estimated from its weight and its bulk, or the usual one."""
    estimated = paper.caliper is None
    caliper = (paper.gsm or Fraction(0)) * (paper.bulk or BULK) / 1000 if paper.caliper is None else paper.caliper
    gsm = None if paper.gsm is None else float(paper.gsm)
    return Paper(paper.name.text, paper.colour, gsm, float(caliper), estimated, paper.grain)


def merged(design: ast.Design) -> tuple[dict[str, str], list[Problem]]:
    """For each paper that is merged into another one, that one's name; and what is wrong with the script's merges."""
    declared = tuple(paper.name.text for paper in design.papers)
    gone = {merge.paper.text for merge in design.merges}
    found: dict[str, str] = {}
    problems: list[Problem] = []
    for merge in design.merges:
        unknown = [word for word in (merge.paper, merge.into) if word.text not in declared]
        problems += [UnknownName(word.at, word.text, declared) for word in unknown]
        if unknown:
            continue
        if merge.into.text == merge.paper.text:
            problems.append(ValueWrong(merge.into.at, "what a paper is merged into", "another paper"))
        elif merge.into.text in gone:
            problems.append(ValueWrong(merge.into.at, "what a paper is merged into", "a paper that is not merged itself"))
        else:
            found[merge.paper.text] = merge.into.text
    return found, problems


def papers(design: ast.Design) -> dict[str, Paper]:
    """The papers that sheets are cut from, by name: those declared, without those merged into others."""
    gone, _ = merged(design)
    return {paper.name.text: solved(paper) for paper in design.papers if paper.name.text not in gone}
