"""Equalities on grids, and conflicts that only the grid makes."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import pytest
from scripts import QUAY

from foldwright.grammar import read_text
from foldwright.solver.bind import bind
from foldwright.solver.engine import solve
from foldwright.solver.expression import Expr, Variable, lift, sin
from foldwright.solver.grid import Finer, finer_grid, grid_is_to_blame
from foldwright.solver.model import Conflict, Kind, Model, Rule, Solution

HALF = Fraction(1, 2)
SIXTEENTH = Fraction(127, 80)  # of an inch


def rule(left: Expr, operator: str, right: Expr | int | Fraction, angle: bool = False) -> Rule:
    return Rule("r", Kind.DESIGNER, lift(left), operator, lift(right), "", (), angle)


def length(name: str = "a.x", step: Fraction = HALF) -> Variable:
    return Variable(name, step, 0, int(2000 / step))


def blamed(variables: tuple[Variable, ...], *rules: Rule) -> Fraction | None:
    """The step found; first it is made sure that the rules clash on the grid as it is, and hold on the finer one."""
    model = Model(variables, rules)
    assert isinstance(solve(model), Conflict)
    step = grid_is_to_blame(model, rules)
    if step is not None:
        finer = tuple(Variable(v.name, step, 0, int(v.high * v.step / step)) for v in variables)
        assert isinstance(solve(Model(finer, rules)), Solution)
    return step


def test_an_equality_off_the_grid():
    a = length()
    assert blamed((a,), rule(a, "=", Fraction(403, 10))) == Fraction(1, 10)
    assert blamed((a,), rule(2 * a, "=", Fraction(33, 10))) == Fraction(1, 20)
    b = length("b.x")
    assert blamed((a, b), rule(a, "=", b + Fraction(3, 10))) == Fraction(1, 10)


def test_the_coarsest_step_is_offered():
    """Every step that would do, by counting: between 40.1 and 40.4 the first multiple is that of a quarter."""
    a = length()
    rules = rule(a, ">=", Fraction(401, 10)), rule(a, "<=", Fraction(404, 10))
    fitting = [part for part in (2, 5, 10, 20, 50, 100)
               if any(Fraction(401, 10) <= n * HALF / part <= Fraction(404, 10) for n in range(8300))]
    assert blamed((a,), *rules) == HALF / fitting[0] == Fraction(1, 4)


def test_a_part_of_an_inch_is_halved():
    a = length(step=SIXTEENTH)
    assert blamed((a,), rule(a, "=", 5 * SIXTEENTH / 4)) == SIXTEENTH / 4


def test_a_written_number_makes_a_step_of_its_own():
    a = length()
    assert blamed((a,), rule(a, "=", Fraction(121, 7) * HALF)) == HALF / 7


def test_a_contradiction_is_not_the_grids_fault():
    a, b = length(), length("b.x")
    assert blamed((a, b), rule(a, ">=", b + 1), rule(b, ">=", a + 1)) is None
    assert blamed((a,), rule(a, ">=", 41), rule(a, "<=", Fraction(404, 10))) is None


def test_no_step_that_anyone_would_write_meets_a_third_or_a_root():
    a = length()
    assert blamed((a,), rule(3 * a, "=", 100)) is None
    assert blamed((a,), rule(a * a, "=", 2)) is None


def test_a_narrow_curve_is_met_by_a_fine_step():
    """Roots of 2 to 2.01: 1.4143 to 1.4177. Counted by hand: 283 * 0.005 = 1.415, and no multiple of 0.01."""
    a = length()
    rules = rule(a * a, ">=", 2), rule(a * a, "<=", Fraction(201, 100))
    assert blamed((a,), *rules) == Fraction(1, 200)
    for part in (2, 5, 10, 20, 50):
        assert not any(2 <= (n * HALF / part) ** 2 <= Fraction(201, 100) for n in range(400))


def test_neighbours_on_the_present_grid_are_named():
    a, b = length(), length("b.x")
    rules = rule(a, "=", Fraction(403, 10)), rule(b, ">=", a), rule(b, "<=", Fraction(407, 10))
    finer = finer_grid(Model((a, b), rules), rules)
    assert finer is not None
    assert finer.between[0] == ("a.x", 40, Fraction(81, 2))


def test_whole_degrees_may_be_what_is_too_coarse():
    """Sines from 0.70 to 0.705 are those of 44.43 to 44.83 degrees."""
    lean = Variable("a.lean", Fraction(1), 0, 180)
    rules = rule(sin(lean), ">=", Fraction(70, 100)), rule(sin(lean), "<=", Fraction(705, 1000)), rule(lean, "<=", 90, True)
    model = Model((lean,), rules)
    assert finer_grid(model, rules) == Finer(HALF, (("a.lean", Fraction(44), Fraction(45)),), angle=True)
    assert grid_is_to_blame(model, rules) is None, "no length would help"


@pytest.mark.parametrize("numbers", [*product(range(1, 6), range(1, 5))])
def test_linear_equality_on_a_grid_is_decided_as_by_counting(numbers):
    """a * x - b * y = c / 10 on halves: there is an answer if and only if counting finds one."""
    a, b = numbers
    x, y = Variable("x", HALF, 0, 24), Variable("y", HALF, 0, 24)
    for c in range(0, 31, 3):
        model = Model((x, y), (rule(a * x - b * y, "=", Fraction(c, 10)),))
        counted = any(a * p * HALF - b * q * HALF == Fraction(c, 10) for p, q in product(range(25), repeat=2))
        assert isinstance(solve(model), Solution) == counted
        if not counted:
            step = grid_is_to_blame(model, model.rules)
            assert step is not None, "a finer grid always meets it here"


def test_a_script_whose_step_is_too_coarse():
    """A range of 40.1 to 40.4 mm: no half lies in it, and a quarter does."""
    text = QUAY.replace("wall 30 to 60", "wall 40.1 to 40.4").replace("prefer largest quay.wall\n", "")
    bound = bind(read_text(text))
    outcome = solve(bound.model)
    assert isinstance(outcome, Conflict)
    assert grid_is_to_blame(bound.model, outcome.sets[0]) == Fraction(1, 4)
    finer = bind(read_text(text.replace("units mm", "units mm\n  step 0.25")))
    assert isinstance(solve(finer.model), Solution)
