"""`between two panels`: the same card as `on` the crease at which they meet."""

import pytest

from foldwright.grammar import Refused, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.proof import prove

HEAD = 'card "Harbour"\n  units mm\ncover 120 x 170\n  paper ink\nmat 300 x 300\n'
HEAD += "paper ink colour #22304a weight 216 gsm\npaper sand colour #d9c39a caliper 0.25\n"
TENT = "tent quay on spine\n  paper sand\n  at 60\n  width 70\n  spread 28\n  wall 50\n"
LINED = HEAD + "insert page on spine\n  paper sand\n" + TENT.replace("spine", "page")
GULL = "vfold gull {}\n  paper sand\n  angle 45\n  foot 26\n  ridge 15 to 30\n"


@pytest.mark.parametrize(("base", "between", "on"), [
    (HEAD + TENT, "quay.right and cover.right", "quay.right_foot"),
    (HEAD + TENT, "cover.left and quay.left", "quay.left_foot"),
    (LINED, "quay.right and page.right", "quay.right_foot"),
    (HEAD, "cover.right and cover.left", "spine"),
])
def test_between_two_panels_is_on_their_crease(base, between, on):
    one, other = (solve_design(read_text(base + GULL.format(place))) for place in (f"between {between}", f"on {on}"))
    prove(one)
    assert one.dimensions == other.dimensions
    assert one.bonds == other.bonds
    assert [panel.outline.wkb for panel in one.panels] == [panel.outline.wkb for panel in other.panels]


def test_a_page_under_an_insert_is_not_what_a_wall_meets():
    with pytest.raises(Refused) as refused:
        solve_design(read_text(LINED + GULL.format("between quay.right and cover.right")))
    (problem,) = refused.value.problems
    assert problem.code == "no-crease-between"
    assert "`between page.right and quay.right`" in problem.hints()[0]


def test_panels_that_meet_twice_have_their_creases_named():
    """Both walls of a tent meet at its ridge, which carries on its outer and on its inner side."""
    with pytest.raises(Refused) as refused:
        solve_design(read_text(HEAD + TENT + GULL.format("between quay.right and quay.left")))
    (problem,) = refused.value.problems
    assert problem.code == "no-crease-between"
    assert "`on quay.ridge` or `on quay.under_ridge`" in problem.hints()[0]


def test_a_mechanism_cannot_stand_between_its_own_panels():
    with pytest.raises(Refused) as refused:
        solve_design(read_text(HEAD + GULL.format("between gull.right and cover.right")))
    assert {problem.code for problem in refused.value.problems} == {"cyclic-expression"}
