"""Which decisions a conflict comes from, so that all ways to decide which share them are refuted without being looked at.

A mechanism is told of itself by its site alone: its own lines, what it stands on, the dimensions that its lines name, and the
cover. So its own rules are the same in all ways in which these blocks are decided alike. Neighbours on one crease also
depend on who stands between them. Whatever else a rule may come from, nothing is claimed of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from foldwright.grammar import design as ast
from foldwright.solver.bind import Bound
from foldwright.solver.choices import Decision, Picks, decided_blocks, name_of, names_in
from foldwright.solver.expression import Variable
from foldwright.solver.mechanisms.cover import Cover
from foldwright.solver.model import Kind, Rule
from foldwright.solver.waive import REST

Under = tuple[tuple[int, int], ...]  # decisions by number, each with the option taken

_MAT = ("mat-long.", "mat-short.", "mat-joined.")
_APART = "apart-from-"


class Reach:
    """Knows who depends on whom in one design."""

    def __init__(self, design: ast.Design, made: Sequence[Decision]) -> None:
        self.design, self.made = design, made
        self.places = {name_of(block): number for number, block in enumerate(design.blocks)}
        # Mechanisms are made in the order written, unless one is needed for another before its turn.
        self.in_order = all(self.places[name] <= number for number, block in enumerate(design.blocks)
                            for name in self._named(block))

    def under(self, rules: Sequence[Rule], picks: Picks, bound: Bound) -> Under | None:
        """Decisions that some rules of a bound way to decide come from; None if that is not known."""
        if any(isinstance(mechanism, Cover) and mechanism.gusset for mechanism in bound.mechanisms):
            return None  # a gusset is as wide as everything between the covers is thick
        blocks = {name_of(block): block for block in decided_blocks(self.design, self.made, picks)}
        own = {rule.name for mechanism in bound.mechanisms for rule in mechanism.rules()}
        names: set[str] = set()
        lines: set[int] = set()
        for rule in rules:
            owners = self._owners(rule, own)
            if owners is None:
                return None
            names |= self._closed(owners, blocks)
            if rule.name.partition(".")[2].startswith(_APART):
                between = self._between(owners, bound)
                if between is None:
                    return None
                lines |= between
        lines |= {number for number, decision in enumerate(self.made) if decision.name in names}
        return tuple((number, picks[number]) for number in sorted(lines))

    def _owners(self, rule: Rule, own: set[str]) -> tuple[str, ...] | None:
        """The blocks that a rule is about; None if that is not known."""
        if rule.name.startswith("require-"):
            (require,) = [require for require in self.design.requires if require.at == rule.at[0]]
            return tuple(self._named(require))
        owner, _, rest = rule.name.removesuffix(f".{REST}").partition(".")
        ranged = isinstance(rule.left, Variable) and rule.name.startswith(f"{rule.left.name}.")
        if ranged or rule.name.removesuffix(f".{REST}") in own or rest.startswith(_MAT):
            return (owner,)
        return (owner, rest.removeprefix(_APART)) if rest.startswith(_APART) else None

    def _named(self, node: object) -> set[str]:
        """The blocks that a part of the design names, the cover for its spine."""
        found = {"cover" if name.path == ("spine",) else name.path[0] for name in names_in(node)}
        return found & self.places.keys()

    def _closed(self, owners: Sequence[str], blocks: Mapping[str, ast.Block]) -> set[str]:
        """The blocks that some blocks depend on in any number of steps, themselves and the cover included."""
        found: set[str] = set()
        todo = {"cover", *owners}
        while todo:
            found |= todo
            todo = {name for block in todo for name in self._named(blocks[block])} - found
        return found

    def _between(self, pair: Sequence[str], bound: Bound) -> set[int] | None:
        """Decisions about who could stand between two neighbours; None if their order is not that of the script."""
        placed = {rule.name.partition(".")[0] for rule in bound.model.rules
                  if rule.kind is Kind.DESIGNER and rule.name.split(".")[1:2] == ["at"]}
        if not self.in_order or placed.issuperset(pair):
            return None
        host = bound.hosts[pair[0]][0]
        first, last = sorted(self.places[name] for name in pair)
        there = {name_of(block) for block in self.design.blocks[first + 1 : last]
                 if any(host in self._named(place) for place in (block.place, *block.others))}
        return {number for number, decision in enumerate(self.made) if decision.line is None and decision.name in there}
