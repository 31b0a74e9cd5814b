"""Which of a part's two faces is the printed one: the good side, which is looked at in the standing card.

A sheet has a front and a back in the model: its part coordinates are those of a look on the front. Mechanisms lay most parts
so that the front is looked at. `Part.shown` says where that is settled by what the part is:

- "front": what goes round a room (a tent, a box, the walls of a ring) is printed outside, and of a pair of cut-outs each
  piece on the side that looks away from the other one;
- "back": a cover that an insert lines is printed outside; any other cover inside, where the scene stands on it;
- a window's pane shows its printed face through the window, to who looks on the printed face of the panel;
- "": all else (a V-fold, a layer, a cut-out, a tie) is printed on the back if that is clearly the face of which the reader of
  the open card has more before them, glued areas left out, and else on the front.
"""

from __future__ import annotations

import shapely

from foldwright.solver.card import Card
from foldwright.solver.gluing import Gluing, normal
from foldwright.solver.pieces import wholes
from foldwright.solver.seat import seat

CLEAR = 0.1  # share of its area by which a part must turn its back to the reader; a folded sheet shows some of both faces


def printed_faces(card: Card, gluing: Gluing | None = None) -> dict[str, int]:
    """By part, and by piece of a joined part, the face that is printed: 1 its front, -1 its back."""
    settled = {"front": 1, "back": -1}
    faces = {part.name: settled[part.shown] for part in card.parts if part.shown}
    gluing = gluing or Gluing(card)
    hidden = gluing.hidden
    placed, reader = card.pose(card.opens), seat(card.opens)[3]
    shown = dict.fromkeys((part.name for part in card.parts), 0.0)  # mm² before the reader, of the front less the back
    whole = dict(shown)
    for panel in card.panels:
        if panel.tab or panel.part in faces:
            continue
        towards = float(normal(placed[panel.name]) @ reader)
        glued = hidden.get((panel.name, 1 if towards > 0 else -1), [])
        shown[panel.part] += towards * (panel.outline.area - shapely.union_all(glued).area)
        whole[panel.part] += panel.outline.area
    faces = {part.name: faces.get(part.name, -1 if shown[part.name] < -CLEAR * whole[part.name] else 1) for part in card.parts}
    for pane in filter(gluing.pane, card.bonds):
        own, host = gluing.panels[pane.panel].part, gluing.panels[pane.host].part
        faces[own] = faces[host] if gluing.alike(pane) else -faces[host]
    return faces | {piece: faces[whole] for piece, whole in wholes(card).items()}
