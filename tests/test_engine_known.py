"""Problems with published answers."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations, product

import numpy as np
import pytest

from foldwright.solver.engine import solve
from foldwright.solver.expression import Expr, Variable, lift
from foldwright.solver.model import Kind, Model, Rule, Solution, Wish


def rule(name: str, left: Expr, operator: str, right: Expr | int) -> Rule:
    return Rule(name, Kind.GEOMETRY, left, operator, lift(right), name)


def test_hock_schittkowski_36():
    """W. Hock, K. Schittkowski, Test Examples for Nonlinear Programming Codes, 1981, problem 36."""
    x1, x2, x3 = variables = tuple(Variable(f"x{n}", Fraction(1, 2), 0, 2 * top) for n, top in ((1, 20), (2, 11), (3, 42)))
    model = Model(
        variables, (rule("budget", x1 + 2 * x2 + 2 * x3, "<=", 72),), (Wish("volume", x1 * x2 * x3, True, Fraction(1, 8)),)
    )
    outcome = solve(model)
    assert isinstance(outcome, Solution)
    assert outcome.values == {"x1": 20, "x2": 11, "x3": 15}
    assert outcome.wishes[0].value == 3300
    assert outcome.wishes[0].proved


def test_hock_schittkowski_71_on_a_grid():
    """Problem 71 of the same collection: minimum 17.0140173 at (1, 4.74299963, 3.82114998, 1.37940829).

    On a grid the equation of the squares cannot be met; as "at most 40" it has the same minimum, because more
    room would lower it. So a grid answer cannot be better; and it must be what enumeration of the grid finds.
    """
    step = Fraction(1, 10)
    x1, x2, x3, x4 = variables = tuple(Variable(f"x{n}", step, 10, 50) for n in range(1, 5))
    squares = x1 * x1 + x2 * x2 + x3 * x3 + x4 * x4
    model = Model(
        variables,
        (rule("product", x1 * x2 * x3 * x4, ">=", 25), rule("squares", squares, "<=", 40)),
        (Wish("f", x1 * x4 * (x1 + x2 + x3) + x3, False, step**3),),
    )
    outcome = solve(model)
    assert isinstance(outcome, Solution)
    a, b, c, d = np.meshgrid(*[np.arange(10, 51)] * 4, indexing="ij")
    worth = a * d * (a + b + c) + 100 * c  # in thousandths, exact whole numbers
    allowed = (a * b * c * d >= 250_000) & (a * a + b * b + c * c + d * d <= 4_000)
    assert outcome.wishes[0].value == Fraction(int(worth[allowed].min()), 1000)
    assert outcome.wishes[0].proved
    assert 17.0140173 <= outcome.wishes[0].value <= 17.0140173 * 1.02  # the grid is 2 % of the greatest x


# OEIS A003022: length of the optimal Golomb ruler.
@pytest.mark.parametrize(("marks", "length"), [(2, 1), (3, 3), (4, 6), (5, 11)])
def test_golomb_ruler(marks, length):
    places = tuple(Variable(f"m{n}", Fraction(1), 0, marks * marks) for n in range(marks))
    rules = [rule("start", places[0], "=", 0)]
    rules += [rule(f"order{n}", a + 1, "<=", b) for n, (a, b) in enumerate(zip(places, places[1:], strict=False))]
    gaps = [b - a for a, b in combinations(places, 2)]
    rules += [rule(f"differ{n}", (a - b) * (a - b), ">=", 1) for n, (a, b) in enumerate(combinations(gaps, 2))]
    outcome = solve(Model(places, tuple(rules), (Wish("short", places[-1], False, Fraction(1)),)))
    assert isinstance(outcome, Solution)
    assert outcome.wishes[0].value == length
    assert outcome.wishes[0].proved


def test_magic_square_of_three():
    """The only 3 by 3 magic square up to symmetry (Lo Shu); its canonical form starts with 2 7 6."""
    cells = tuple(Variable(f"c{n}", Fraction(1), 1, 9) for n in range(9))
    lines = [cells[0:3], cells[3:6], cells[6:9], cells[0::3], cells[1::3], cells[2::3], cells[0::4], cells[2:7:2]]
    rules = [rule(f"line{n}", a + b + c, "=", 15) for n, (a, b, c) in enumerate(lines)]
    rules += [rule(f"differ{n}", (a - b) * (a - b), ">=", 1) for n, (a, b) in enumerate(combinations(cells, 2))]
    outcome = solve(Model(cells, tuple(rules)))
    assert isinstance(outcome, Solution)
    assert [outcome.values[cell.name] for cell in cells] == [2, 7, 6, 9, 5, 1, 4, 3, 8]


def test_pythagorean_right_angles():
    """Whole right triangles with a hypotenuse up to 25: a table that can be checked by hand."""
    a, b, c = variables = tuple(Variable(name, Fraction(1), 1, 25) for name in "abc")
    model = Model(
        variables, (rule("right", a * a + b * b, "=", c * c), rule("order", a, "<=", b)), (Wish("widest", a, True, Fraction(1)),)
    )
    outcome = solve(model)
    known = [(x, y, z) for x, y, z in product(range(1, 26), repeat=3) if x <= y and x * x + y * y == z * z]
    assert max(known) == (15, 20, 25)
    assert isinstance(outcome, Solution)
    assert tuple(outcome.values.values()) == (15, 20, 25)
