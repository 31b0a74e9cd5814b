"""Cut-outs: how they lie on their panel, measured in space."""

import numpy as np
import pytest

from foldwright.grammar import Refused, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.proof import prove

HEAD = 'card "Harbour"\n  units mm\ncover 120 x 160\n  paper ink\nmat 300 x 300\n'
HEAD += "paper ink colour #22304a weight 216 gsm\npaper sand colour #d9c39a caliper 0.25\n"
TENT = "tent quay on spine\n  paper sand\n  at 60\n  width 60\n  spread 40\n  wall 50\n"
# A flag on a pole: cloth 10 x 8 above, pole 4 x 12 at its left; its centre of area is (3.875, 7.75) from the upper left.
FLAG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 20"><path d="M0 0 H10 V8 H4 V20 H0 Z"/></svg>'
DIRECTIONS = {"away": (0, 1), "end": (1, 0), "foot": (0, -1), "start": (-1, 0)}


def flagged(glue, folder, up="away", width=8):
    (folder / "flag.svg").write_text(FLAG, "utf-8")
    script = HEAD + TENT + f'cutout flag\n  paper sand\n  art "flag.svg" width {width}\n  up {up}\n  {glue}\n'
    return solve_design(read_text(script, folder=folder))


def in_space(card, piece, opening):
    """Corners of a piece, and its centre of area."""
    panel = next(panel for panel in card.panels if panel.name == piece)
    placed = card.pose(opening)[piece]
    centre = panel.outline.centroid
    return placed.points(np.asarray(panel.outline.exterior.coords)), placed.points(np.array([[centre.x, centre.y]]))[0]


@pytest.mark.parametrize("host", ["cover.left", "cover.right", "quay.right", "quay.left"])
@pytest.mark.parametrize("up", DIRECTIONS)
def test_it_stands_as_it_is_drawn_and_where_it_is_put(host, up, tmp_path):
    card = flagged(f"glue on {host} at 25 x 30", tmp_path, up)
    prove(card)
    placed = card.pose(120.0)[host]
    points, centre = in_space(card, "flag.front", 120.0)
    normal = np.cross(placed.along, placed.up)
    away = {"cover.left": placed.up, "cover.right": -placed.up, "quay.right": placed.up, "quay.left": -placed.up}[host]
    along = np.array([1.0, 0, 0]) * (-1 if host == "quay.left" else 1)
    u, v = DIRECTIONS[up]
    top = u * along + v * away
    left = np.cross(top, normal)
    middle = sum((points @ axis).max() + (points @ axis).min() for axis in (top,)) / 2
    assert centre @ top - middle == pytest.approx(0.8 * (10 - 7.75), abs=0.01)
    assert centre @ left - ((points @ left).max() + (points @ left).min()) / 2 == pytest.approx(0.8 * (3.875 - 5), abs=0.01)
    # its middle: 25 along the panel and 30 up it, from the panel's own corner
    corner = {"cover.left": (0, 0), "cover.right": (0, 0), "quay.right": (0, 0), "quay.left": (60, 100)}[host]
    start = placed.points(np.array([corner], dtype=float))[0]
    box = [((points - start) @ axis) for axis in (along, away)]
    assert [(side.max() + side.min()) / 2 for side in box] == pytest.approx([25, 30], abs=0.01)


def test_both_pieces_of_a_pair_cover_each_other(tmp_path):
    card = flagged("pair on quay.right at top", tmp_path, width=16)
    prove(card)
    front, back = (in_space(card, f"flag.{side}", 90.0) for side in ("front", "back"))
    assert np.abs(front[1] - back[1]).max() < 1e-6
    assert {tuple(p) for p in front[0].round(6)} == {tuple(p) for p in back[0].round(6)}


def test_at_an_upper_edge_it_stands_upright(tmp_path):
    with pytest.raises(Refused) as refused:
        flagged("glue on quay.right at top", tmp_path, "end", 16)
    assert "must stand `up away`" in refused.value.problems[0].wrong()
