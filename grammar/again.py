"""A script that is read again after an edit: statements whose text is as it was are not parsed again.

A statement is what stands from the beginning of one line at the margin to that of the next. Only a script without any
fault is put together from statements that are known; for all others, `reader.py` reads the whole text.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from functools import cache, partial
from typing import TYPE_CHECKING, Any

from foldwright.grammar import design, layout
from foldwright.grammar.kept import Kept
from foldwright.grammar.source import Source, Span

if TYPE_CHECKING:
    from lark import Token, Tree

    Node = Tree[Token]

Whole = design.Block | design.Require | design.Prefer
_WHOLE = ("block", "block_inside", "require", "prefer")  # what these say depends on nothing else in the script


@dataclass(frozen=True)
class Statement:
    """A statement with places counted from its own beginning; no `tree` if it has faults.

    `node` is what it says, where no other statement is needed to tell.
    """

    tree: Node | None
    node: Whole | None = None


def read_again(source: Source, kept: Kept[str, Statement]) -> design.Design | None:
    """The design of a source, or None if it has a fault of any kind."""
    from foldwright.grammar.nodes import Nodes
    from foldwright.grammar.statements import Script

    kept.turn()
    found = [(start, kept.get(text, partial(_statement, text))) for start, text in _texts(source.text)]
    trees = [(start, statement.tree, statement.node) for start, statement in found if statement.tree is not None]
    if not found or len(trees) < len(found):
        return None
    nodes = Nodes(source)
    made = Script(nodes).put_together([(tree, start, None if node is None else moved(node, start, source))
                                       for start, tree, node in trees])
    return None if nodes.problems else made


def _texts(text: str) -> Iterator[tuple[int, str]]:
    """Every statement with its place; none at all if something else than comments stands above the first."""
    lines = list(layout.lines(text))
    starts = [line.start for line in lines if not line.indent]
    if lines and not lines[0].indent:
        for start, end in zip(starts, [*starts[1:], len(text)], strict=True):
            yield start, text[start:end]


def _statement(text: str) -> Statement:
    """A statement read by itself."""
    from foldwright.grammar.nodes import Nodes
    from foldwright.grammar.statements import Script
    from foldwright.grammar.syntax import parse

    source = Source("", text)
    clean, uneven = layout.check(source)
    tree, faults, _ = parse(source, clean)
    if tree is None or uneven or faults or len(tree.children) != 1:
        return Statement(None)
    nodes = Nodes(source)
    script = Script(nodes)
    kind = script.kind_of(tree)
    node: Whole | None = None
    if kind in _WHOLE:
        script.put_together([(tree, 0, None)], whole=False)
        found: list[Whole] = [*script.blocks, *script.requires, *script.prefers]
        node = found[0] if found else None
        if nodes.problems or node is None:
            return Statement(None)
    return Statement(tree, node)


def moved(node: Any, by: int, source: Source) -> Any:
    """The same node of a design so many characters further on, in another source."""
    kind = node.__class__
    if kind is Span:
        return Span(node.start + by, node.end + by, source)
    if kind is tuple:
        return tuple([moved(each, by, source) for each in node])
    names = _places(kind)
    if not names:
        return node
    return kind(*[moved(getattr(node, name), by, source) for name in names])


@cache
def _places(kind: type) -> tuple[str, ...]:
    """The fields of a kind of node; none of anything else."""
    return tuple(each.name for each in fields(kind)) if kind.__module__ == design.__name__ else ()
