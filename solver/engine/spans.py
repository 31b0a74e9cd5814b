"""Intervals of the nodes of a graph over the present bounds of a store."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

from foldwright.solver import interval as box
from foldwright.solver import trig
from foldwright.solver.engine.graph import Graph, Node
from foldwright.solver.engine.propagate import Store

Span = tuple[float, float]


def span(node: Node, of: Callable[[int], Span], steps: Sequence[Fraction], store: Store) -> Span:
    """Interval of a node over the present bounds of the store."""
    if node.kind == "var":
        v = node.operands[0]
        return float(steps[v] * store.low[v]), float(steps[v] * store.high[v])
    parts = [of(n) for n in node.operands]
    match node.kind:
        case "sum":
            low = high = float(node.constant)
            positive = low >= 0
            for (a, b), f in zip(parts, node.factors, strict=True):
                ends = (a * float(f), b * float(f))
                low, high = low + min(ends), high + max(ends)
                positive = positive and min(ends) >= 0
            wide = box.widen(
                low, high, sum(max(-a, b) * abs(float(f)) for (a, b), f in zip(parts, node.factors, strict=True))
            )
            return (max(0.0, wide[0]), wide[1]) if positive else wide
        case "mul":
            return box.multiply(*parts[0], *parts[1])
        case "sqr":
            return box.square(*parts[0])
        case "div":
            return box.divide(*parts[0], *parts[1])
        case "sqrt":
            low, high = box.root(*parts[0])
            return (low, high) if low <= high else (0.0, 0.0)
        case "min":
            return min(p[0] for p in parts), min(p[1] for p in parts)
        case "max":
            return max(p[0] for p in parts), max(p[1] for p in parts)
    return trig.reach(node.kind, *parts[0])


def spans(graph: Graph, store: Store, root: int) -> dict[int, Span]:
    """Intervals of all nodes at and below `root` over the present bounds."""
    found: dict[int, Span] = {}
    for number in graph.below([root]):
        found[number] = span(graph.nodes[number], found.__getitem__, graph.steps, store)
    return found
