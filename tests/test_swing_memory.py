"""Checks of one design at other dimensions: the same result as from scratch, and only what changed is computed."""

from dataclasses import replace

import numpy as np
import pytest
from scenes import ROW, TENT, VFOLD, overlaid, row, with_flap

from foldwright.grammar import read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.swing import Memory, swing

COUNT = 5


def design(wall: int, ridge: int = 46, spread: int = 25):
    """Piers and sails in a row, of which the third pier and the second sail have these sizes."""
    blocks = []
    for k in range(COUNT):
        text = (TENT if k % 2 == 0 else VFOLD).format(k=k, at=10 + 50 * k)
        if k == 2:
            text = text.replace("wall 45", f"wall {wall}").replace("spread 25", f"spread {spread}")
        if k == 1:
            text = text.replace("ridge 46", f"ridge {ridge}")
        blocks.append(text)
    return solve_design(read_text(ROW.format(height=50 * COUNT + 30, blocks="".join(blocks))), seconds=20)


def test_the_same_card_again_computes_nothing():
    memory = Memory()
    card = design(45)
    first = swing(card, memory=memory)
    made = memory.computed
    assert made > 20
    assert memory.reused == 0
    again = swing(card, memory=memory)
    assert again == first == swing(card)
    assert (memory.computed, memory.reused) == (made, made)


@pytest.mark.parametrize("change", [{"wall": 48}, {"wall": 45, "ridge": 40}, {"wall": 60, "spread": 18}])
def test_only_pairs_of_changed_panels_are_computed(change):
    memory = Memory()
    old, new = design(45), design(**change)
    swing(old, memory=memory)
    before = memory.computed
    found = swing(new, memory=memory)
    assert found == swing(new), "the same as from scratch"

    moved = {panel.name for panel in new.panels if differs(old, new, panel)}
    owners = {name.split(".")[0] for name in moved}
    assert owners == ({"sail1"} if "ridge" in change else {"pier2"})
    fresh = Memory()
    swing(new, memory=fresh)
    names = [panel.name for panel in new.panels]
    counted = memory.computed - before
    assert 0 < counted < fresh.computed / 2
    # every pair with a changed panel that came near at all, and no other
    assert counted == sum(1 for pair in pairs_met(new, names) if moved & set(pair))


def differs(old, new, panel) -> bool:
    twin = next((other for other in old.panels if other.name == panel.name), None)
    if twin is None or twin.outline.wkb != panel.outline.wkb:
        return True
    one, two = (card.poses(np.linspace(0, 180, 91))[panel.name] for card in (old, new))
    return not all(np.array_equal(getattr(one, field), getattr(two, field)) for field in ("origin", "along", "up"))


def pairs_met(card, names) -> list[tuple[str, str]]:
    from foldwright.solver.swing.scene import Scene
    from foldwright.solver.swing.swing import _met

    met, number = _met(Scene.of(card))
    starts = np.flatnonzero(np.diff(number, prepend=-1))
    return [(names[a], names[b]) for a, b in zip(met.first[starts].tolist(), met.second[starts].tolist(), strict=True)]


def test_a_card_that_collides_is_told_the_same_with_a_memory():
    memory = Memory()
    one, two = row(2), design(45)
    for shift in (30.0, 31.0, 30.0):
        card = overlaid([one, two], [shift, 0.0])
        found = swing(card, memory=memory)
        assert found == swing(card)
        assert any(event.kind == "passes-through" for event in found.events)


def test_a_thicker_stack_is_judged_anew():
    """Where two panels are near enough to be judged, the judgement depends on the closed stack too."""
    memory = Memory()
    card = with_flap(design(45), lambda angle: 0 * angle, 0.2)
    (event,) = swing(card, memory=memory).events
    made = memory.computed
    thick = replace(card, stack=20.0)
    found = swing(thick, memory=memory)
    assert found == swing(thick)
    assert found.events[0].kind == event.kind == "too-close"
    assert found.events[0].angle > event.angle + 5
    assert 0 < memory.computed - made < 5, "only what came near enough"


def test_another_grid_shares_nothing():
    memory = Memory()
    card = design(45)
    swing(card, memory=memory)
    made = memory.computed
    assert swing(card, step=6, memory=memory) == swing(card, step=6)
    assert memory.computed > made
    assert memory.reused == 0


def test_a_memory_keeps_only_what_the_last_check_needed():
    memory = Memory()
    swing(design(45), memory=memory)
    kept = len(memory.records)
    for wall in (46, 47, 48):
        swing(design(wall), memory=memory)
    assert len(memory.records) <= kept + 10
