"""A variant as a script of its own: its lines take their places in the text, and the blocks of variants go.

Every replaced line keeps its place and its comment; what the script does not have yet is added where it belongs.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

from foldwright.grammar import Design, read_text
from foldwright.grammar import design as ast
from foldwright.grammar.layout import lines
from foldwright.grammar.source import Span
from foldwright.solver.settings import GLUE
from foldwright.writeback import Edit, variants_away


def as_script(design: Design, variant: ast.Variant) -> Design:
    """The design of a script that says what the design does with this variant; its `source` has the text."""
    edits = [*_statements(design, variant), *_blocks(design, variant), *variants_away(design)]
    text = design.source.text
    for start, end, new in sorted(edits, reverse=True):
        text = text[:start] + new + text[end:]
    return read_text(text, design.source.name, design.source.folder)


def _statements(design: Design, variant: ast.Variant) -> Iterator[Edit]:
    """Cover, mat, step, papers and practices."""
    added = []
    for block in design.blocks:
        if block.keyword.text == "cover" and variant.cover is not None:
            if block.size is None:
                yield block.at.end, block.at.end, f" {variant.cover.at.text}"
            else:
                yield _replaced(block.size.at, variant.cover.at.text)
            yield from (_line(line.at) for line in block.settings if line.word.text in ("width", "height"))
    if variant.mats and design.mats:
        yield _replaced(design.mats[0].at, "\n".join(mat.at.text for mat in variant.mats))
        yield from (_line(mat.at) for mat in design.mats[1:])
    else:
        added += [mat.at.text for mat in variant.mats]
    written = design.machine.statements()
    for word, at in variant.machine.statements().items():
        if word in written:
            yield _replaced(written[word], at.text)
        else:
            added.append(at.text)
    if variant.step is not None:
        yield _step(design, variant.step)
    papers = {paper.name.text: paper for paper in design.papers}
    for paper in variant.papers:
        yield _replaced(papers[paper.name.text].at, _paper(paper, papers[paper.name.text]))
    practices = {practice.name.text: practice for practice in design.practices}
    for practice in variant.practices:
        if practice.name.text in practices:
            yield _replaced(practices[practice.name.text].at, practice.at.text)
        else:
            added.append(practice.at.text)
    if added:
        end = len(design.source.text)
        yield end, end, "".join(f"\n{line}\n" for line in added)


def _step(design: Design, step: Fraction) -> Edit:
    """The step among the card's lines: in place of one that is written, or behind them."""
    text, head = design.source.text, design.at.start
    end = text.find("\n", head)
    end = len(text) if end < 0 else end
    for line in lines(text):
        if line.start > head and not line.indent:
            break
        if line.start > head:
            found = re.match(r"step\b[^#]*[^#\s]", text[line.start + len(line.indent) : line.end])
            if found:
                start = line.start + len(line.indent)
                return start, start + found.end(), f"step {step} mm"
            end = line.end
    return end, end, f"\n  step {step} mm"


def _paper(paper: ast.Paper, before: ast.Paper) -> str:
    """A whole line of a paper from what a variant says of it, with what it leaves out."""
    text = paper.at.text
    if not re.search(r"\b(?:weight|caliper)\b", text):
        text = re.sub(r"#[0-9A-Fa-f]{6}", paper.colour, before.at.text, count=1)
        text = re.sub(r"\bgrain\s+\w+", f"grain {paper.grain}", text)
    elif not re.search(r"\bcolour\b", text):
        text = f"{text}  colour {paper.colour}"
    return text if not paper.grain or re.search(r"\bgrain\b", text) else f"{text}  grain {paper.grain}"


def _blocks(design: Design, variant: ast.Variant) -> Iterator[Edit]:
    """Lines of blocks."""
    blocks = {(block.name or block.keyword).text: block for block in design.blocks}
    for owner, line in variant.settings:
        block, text = blocks[owner], line.at.text.removeprefix(f"{owner}.")
        words = GLUE if line.word.text in GLUE else (line.word.text,)
        old = [setting for setting in block.settings if setting.word.text in words]
        if old:
            yield _replaced(old[0].at, text)
            yield from (_line(setting.at) for setting in old[1:])
            continue
        last = block.settings[-1].at if block.settings else block.at
        source = design.source
        end = source.text.find("\n", last.end)
        end = len(source.text) if end < 0 else end
        indent = source.line(last.line)[: last.column - 1] if block.settings else "  "
        yield end, end, f"\n{indent}{text}"


def _replaced(at: Span, text: str) -> Edit:
    return at.start, at.end, text


def _line(at: Span) -> Edit:
    """A whole line away."""
    text = at.source.text
    start, end = text.rfind("\n", 0, at.start), text.find("\n", at.end)
    return max(start, 0), len(text) if end < 0 else end, ""
