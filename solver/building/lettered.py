"""What letters ask for that stand in place of an artwork: wide enough that their bridges hold."""

from __future__ import annotations

from collections.abc import Iterator

from foldwright.solver.expression import Expr
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule


def bridges_hold(owner: Mechanism, width: Expr) -> Iterator[Rule]:
    """Bridges of letters that are `width` wide are as wide as the workshop asks."""
    art = owner.site.art
    if art is not None and art.bridge is not None:
        bridge = width * art.bridge
        yield owner.rule("letter-bridges", Kind.PRACTICE, owner.habit("letters.bridge"), "<=", bridge,
                         f"the bridges in the letters of {owner.name} must be {{left}} wide to hold; in letters of this width "
                         "there is room for {right}", still=(0, bridge))
