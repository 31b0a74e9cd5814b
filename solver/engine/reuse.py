"""What was proved of parts of a model, kept for the next model that has the same part.

A part of a wish is a component of the model: open variables that rules tie to each other and to nothing else. Its least
share depends on the ranges of these variables, on the rules that still say something about them, and on its terms; all that
is in the key, by names, so that a part is known again whatever else has changed. A kept proof is as good as a new one; the
values kept with it are only where the search begins, so that the answer is the one that a search without them finds.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from foldwright.grammar.kept import Kept
from foldwright.solver.engine.linear import Cut
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.target import Part, Target


@dataclass(frozen=True)
class Least:
    """The least share of a part: proved, and counts of its variables where it is met up to the pace of the wish."""

    low: int
    point: tuple[int, ...]


@dataclass
class Reuse:
    """Least shares by part, and the values of the last answer."""

    parts: Kept[Hashable, Least] = field(default_factory=Kept)
    last: Mapping[str, Fraction] = field(default_factory=dict)

    def counts(self, machine: Machine) -> list[int | None]:
        """The last answer in counts; None for variables that it does not have, or off their grid or range by now."""
        found: list[int | None] = []
        for variable in machine.declared:
            value = self.last.get(variable.name)
            count = None if value is None else value / variable.step
            fits = count is not None and count.denominator == 1 and variable.low <= count <= variable.high
            found.append(int(count) if fits and count is not None else None)
        return found

    def known(self, keys: Sequence[Hashable | None]) -> list[Least | None]:
        """What is known of parts by their keys."""
        return [None if key is None else self.parts.find(key) for key in keys]

    def keep(self, keys: Sequence[Hashable | None], parts: Sequence[Part], witness: Sequence[int]) -> None:
        """Keep what was proved of parts."""
        for key, part in zip(keys, parts, strict=True):
            if key is not None:
                self.parts.put(key, Least(part.low, tuple([witness[v] for v in part.variables])))


def keys(machine: Machine, target: Target, parts: Sequence[Part]) -> list[Hashable | None]:
    """For each part everything that decides its least share; None where that cannot be told. Call at a fixpoint."""
    store = machine.store
    owner = {v: n for n, part in enumerate(parts) for v in part.watched}
    about: list[list[int]] = [[] for _ in parts]
    mine = {part.number for part in parts}
    for number, propagator in enumerate(store.propagators):
        if store.active[number] and number not in mine:
            for n in {owner[v] for v in propagator.variables if v in owner}:
                about[n].append(number)
    return [_key(machine, target, part, numbers) if part.variables else None for part, numbers in zip(parts, about, strict=True)]


def _key(machine: Machine, target: Target, part: Part, numbers: Sequence[int]) -> Hashable | None:
    name = _Names(machine, part.watched)
    said: list[Hashable] = []
    for number in numbers:
        words = _said(machine, number, name)
        if words is None:
            return None
        said.append(words)
    bounds = tuple([(name(v), machine.store.low[v], machine.store.high[v]) for v in part.watched])
    terms = tuple([(name(v), factor) for v, factor in part.terms])
    return target.exact, target.pace, bounds, terms, tuple(said)


class _Names:
    """Names of variables that do not depend on the rest of the model; what is not of the part is told with its range."""

    def __init__(self, machine: Machine, watched: Sequence[int]) -> None:
        self.machine = machine
        self.place = {v: n for n, v in enumerate(watched)}

    def __call__(self, v: int) -> Hashable:
        declared, store = self.machine.declared, self.machine.store
        name: Hashable = declared[v].name if v < len(declared) else None
        if v in self.place:
            return name, self.place[v], self.machine.steps[v]
        return name, self.machine.steps[v], store.low[v], store.high[v]


def _said(machine: Machine, number: int, name: _Names) -> Hashable | None:
    """What a propagator says, by names: of a rule, of a term of a wish, or of a sum."""
    propagator = machine.store.propagators[number]
    if propagator.rule >= 0:
        planned = machine.plan.rules[propagator.rule]
        return planned.number, tuple([name(machine.index[each]) for each in planned.names])
    if number in machine.links:
        root, least, most = machine.links[number]
        return _spelt(machine, root, name), least, most
    if isinstance(propagator.revise, Cut):
        return propagator.revise.limit, tuple([(name(v), factor) for v, factor in propagator.revise.terms])
    return None


def _spelt(machine: Machine, root: int, name: _Names) -> Hashable:
    """A node of the graph, written out."""
    spelt: dict[int, Hashable] = {}
    for number in machine.graph.below([root]):
        node = machine.graph.nodes[number]
        if node.kind == "var":
            spelt[number] = name(node.operands[0])
        else:
            spelt[number] = node.kind, tuple([spelt[n] for n in node.operands]), node.factors, node.constant
    return spelt[root]
