"""The swing: what happens between closed and open, at an even grid of angles and finer where it matters.

`swing(card)` finds panels that pass through each other, stick out of the closed cover, come nearer than their papers are
thick, or are glued over each other; creases that turn past flat; and dead points. Panels are rigid and have no thickness.
"""

from foldwright.solver.swing.events import Event
from foldwright.solver.swing.memory import Memory
from foldwright.solver.swing.swing import Swing, swing
from foldwright.solver.swing.table import Row

__all__ = ["Event", "Memory", "Row", "Swing", "swing"]
