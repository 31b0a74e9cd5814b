"""Found dimensions written back into the script, as small edits of its text."""

from __future__ import annotations

import re
from collections.abc import Iterator

from foldwright.grammar import design as ast
from foldwright.grammar.layout import lines
from foldwright.grammar.units import MM_PER_UNIT
from foldwright.solver.card import Card
from foldwright.solver.mechanism import registry
from foldwright.solver.notation import decimal, mixed

Edit = tuple[int, int, str]  # replace the characters from .. to by text


def write_back(design: ast.Design, card: Card) -> str:
    """The script's text with every range replaced by its value, and every value left out added to its block.

    Its variants go: what they change is found again, and here nothing is left to find.
    Of a design that was chosen among others (`or`, `optional`) only what was chosen is left; what was left out becomes
    comments.
    """
    text = design.source.text
    away = list(variants_away(design))
    edits: list[Edit] = [*away, *(e for e in design.edits if not any(start <= e[0] < end for start, end, _ in away))]
    for block in design.blocks:
        edits.extend(_block_edits(block, design, card))
    for start, end, new in sorted(edits, reverse=True):
        text = text[:start] + new + text[end:]
    return text


def variants_away(design: ast.Design) -> Iterator[Edit]:
    """Takes every block of a variant out, with the lines below it and the blank ones behind it."""
    text = design.source.text
    starts = [line.start for line in lines(text) if not line.indent]
    for variant in design.variants:
        start = text.rfind("\n", 0, variant.at.start) + 1
        end = min((other for other in starts if other > variant.at.start), default=len(text))
        comments = re.search(r"(?:^#[^\n]*\n)+\Z", text[start:end], re.MULTILINE)  # they stand above the next statement
        yield start, start + comments.start() if comments else end, ""


def _block_edits(block: ast.Block, design: ast.Design, card: Card) -> list[Edit]:
    name = block.name.text if block.name else block.keyword.text
    kind = registry()[block.keyword.text]
    edits: list[Edit] = []
    written = _written(block)
    for setting in block.settings:
        for argument, before in zip(setting.arguments, (None, *setting.arguments), strict=False):
            if isinstance(argument, ast.Range):
                key = before.text if isinstance(before, ast.Name) else setting.word.text
                edits.append((argument.at.start, argument.at.end, _value(f"{name}.{key}", design, card)))
    missing = [p.name for p in kind.parameters if p.name not in written and p.derive is None
               and f"{name}.{p.name}" in card.dimensions]
    if missing:
        last = block.settings[-1].at.end if block.settings else block.at.end
        indent = _indent(block, design)
        added = "".join(f"\n{indent}{word} {_value(f'{name}.{word}', design, card)}" for word in missing)
        line_end = design.source.text.find("\n", last)
        place = len(design.source.text) if line_end < 0 else line_end
        edits.append((place, place, added))
    return edits


def following(design: ast.Design) -> frozenset[str]:
    """Names of the dimensions that a script leaves out and that follow from others, such as the second wall of a tent."""
    kinds, names = registry(), set()
    for block in design.blocks:
        written, name = _written(block), (block.name or block.keyword).text
        names |= {f"{name}.{p.name}" for p in kinds[block.keyword.text].parameters if p.derive and p.name not in written}
    return frozenset(names)


def _written(block: ast.Block) -> set[str]:
    """Words of a block that may name a dimension: those of its head, of its lines, and within them (`art "a.svg" width 20`)."""
    words = {"width", "height"} if block.size is not None else set()
    for setting in block.settings:
        words |= {setting.word.text, *(word.text for word in setting.arguments[:-1] if isinstance(word, ast.Name))}
    return words


def _indent(block: ast.Block, design: ast.Design) -> str:
    """The indentation of the block's lines, or two more spaces than its head."""
    source = design.source
    first = block.settings[0] if block.settings else None
    line, column = source.place(first.at.start if first else block.at.start)
    lead = source.line(line)[: column - 1]
    return lead if first else lead + "  "


def _value(name: str, design: ast.Design, card: Card) -> str:
    exact, unit = card.dimensions[name]
    if unit != "mm":
        return decimal(exact)
    own = design.unit or "mm"
    shown = exact / MM_PER_UNIT[own]
    return f"{mixed(shown)} {own}" if own == "in" else decimal(shown) + ("" if design.unit else " mm")
