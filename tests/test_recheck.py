"""The check of an answer without floats: against mpmath, and against answers that were broken on purpose."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest
from exact import hard_expression, hard_variables, worth
from generate_models import card
from mpmath import mp, mpf
from scripts import QUAY
from small_models import random_model

from foldwright.grammar import read_text
from foldwright.solver import answer
from foldwright.solver.enclosure import BITS, Enclosures
from foldwright.solver.engine import solve
from foldwright.solver.evaluate import TOLERANCE, Undefined, evaluate, holds
from foldwright.solver.expression import Expr, Variable, cos, lift, sin, sqrt, tan
from foldwright.solver.model import Kind, Model, Rule, Solution, Wish, WishResult
from foldwright.solver.proof import ProofFailed
from foldwright.solver.recheck import recheck

UNIT = mpf(2) ** -BITS


def solution(**values: int | Fraction) -> Solution:
    return Solution({name: Fraction(value) for name, value in values.items()}, ())


def rule(left: Expr, operator: str, right: Expr | int | Fraction) -> Rule:
    return Rule("the rule", Kind.GEOMETRY, left, operator, lift(right), "")


def test_enclosures_hold_the_true_values_and_are_narrow():
    """1,000 expressions of terms of very different size; `blur` bounds what the floats of `evaluate` make of them."""
    asked = 0
    for seed in range(1500):
        random = Random(f"enclosure {seed}")
        variables = hard_variables(random)
        expr = hard_expression(random, variables, random.randint(1, 4))
        values = {v.name: v.step * random.randint(v.low, v.high) for v in variables}
        try:
            exact = worth(expr, values)
            found = Enclosures(values).of(expr)
            rounded = evaluate(expr, values)
        except Undefined:
            continue
        if found.blur == float("inf"):
            continue
        asked += 1
        assert found.low * UNIT <= exact <= found.high * UNIT, seed
        # 2**-128 grows with the numbers (up to 1e12) that it is multiplied with, and with the slope of roots near zero
        assert (found.high - found.low) * UNIT <= mpf(10) ** -18 * max(1, abs(exact)), seed
        off = abs((mpf(rounded.numerator) / rounded.denominator if isinstance(rounded, Fraction) else mpf(rounded)) - exact)
        assert off <= max(found.blur, mpf(2) ** -200 * abs(exact)), seed
    assert asked >= 1000


@pytest.mark.parametrize("name", ["sin", "cos", "tan"])
def test_sines_are_right_to_thirty_seven_digits(name):
    make = {"sin": sin, "cos": cos, "tan": tan}[name]
    true = {"sin": mp.sin, "cos": mp.cos, "tan": mp.tan}[name]
    x = Variable("x", Fraction(1, 7), 0, 0)
    for n in range(-2600, 2601):
        if name == "tan" and n % 1260 == 630:
            with pytest.raises(Undefined):
                Enclosures({"x": Fraction(n, 7)}).of(make(x))
            continue
        found = Enclosures({"x": Fraction(n, 7)}).of(make(x))
        exact = true(mpf(n) / 7 * mp.pi / 180)
        assert found.low * UNIT - mpf(2) ** -280 <= exact <= found.high * UNIT + mpf(2) ** -280
        assert (found.high - found.low) * UNIT <= mpf(10) ** -37 * (1 + exact * exact)


@pytest.mark.parametrize("seed", range(120))
def test_answers_of_small_models_pass(seed):
    model = random_model(seed)
    outcome = solve(model)
    if isinstance(outcome, Solution):
        assert recheck(model, outcome) == len(model.variables) + len(model.rules) + len(outcome.wishes)


def test_a_broken_answer_is_caught_wherever_a_rule_notices():
    """Every value of a solved card moved by one step each way: found out whenever the step breaks a rule."""
    model = card(4, 1)
    outcome = solve(model)
    assert isinstance(outcome, Solution)
    recheck(model, outcome)
    model = replace(model, wishes=())
    caught = 0
    for variable in model.variables:
        for step in (-variable.step, variable.step):
            moved = {**outcome.values, variable.name: outcome.values[variable.name] + step}
            inside = variable.low <= moved[variable.name] / variable.step <= variable.high
            if inside and all(holds(each, moved) for each in model.rules):
                recheck(model, Solution(moved, ()))
            else:
                with pytest.raises(ProofFailed, match="without floats"):
                    recheck(model, Solution(moved, ()))
                caught += 1
    assert caught > 20


def test_values_off_the_grid_out_of_range_or_missing():
    a = Variable("a", Fraction(1, 2), 0, 20)
    model = Model((a,), ())
    recheck(model, solution(a=10))
    for wrong in (solution(a=Fraction(1, 4)), solution(a=11), solution(b=1)):
        with pytest.raises(ProofFailed, match="a "):
            recheck(model, wrong)


def test_a_linear_rule_has_no_tolerance():
    a = Variable("a", Fraction(1, 10**9), 0, 10**12)
    model = Model((a,), (rule(a / 3, "=", Fraction(1, 3)),))
    recheck(model, solution(a=1))
    with pytest.raises(ProofFailed, match="broken"):
        recheck(model, solution(a=1 + Fraction(1, 10**9)))


def test_another_rule_has_its_tolerance_and_no_more():
    a = Variable("a", Fraction(1, 10**12), 0, 10**15)
    model = Model((a,), (rule(sqrt(a * a), "<=", 1),))
    assert TOLERANCE == 1e-7
    recheck(model, solution(a=1 + Fraction(999, 10**10)))
    with pytest.raises(ProofFailed, match=r"broken by 1\.001"):
        recheck(model, solution(a=1 + Fraction(1001, 10**10)))


def test_what_floats_cannot_tell_is_let_pass_but_not_more():
    """At 1e9 a float root is off by up to 1e-7: so much more may be missing, and ten times that may not."""
    a = Variable("a", Fraction(1, 10**9), 0, 10**19)
    model = Model((a,), (rule(sqrt(a * a), "<=", 10**9),))
    recheck(model, solution(a=10**9 + Fraction(15, 10**8)))
    with pytest.raises(ProofFailed, match="broken"):
        recheck(model, solution(a=10**9 + Fraction(15, 10**6)))


def test_a_rule_without_a_value_is_a_fault():
    a = Variable("a", Fraction(1), -5, 90)
    for broken in (sqrt(a), tan(a + 95), 1 / (a + 5)):
        with pytest.raises(ProofFailed, match="no value"):
            recheck(Model((a,), (rule(broken, "<=", 1000),)), solution(a=-5))


@pytest.mark.parametrize("off", [Fraction(-1), Fraction(1), Fraction(1, 2)])
def test_a_wish_that_was_counted_wrong(off):
    a = Variable("a", Fraction(1), 0, 20)
    for target in (a * 3, sqrt(a) * 3):
        for largest in (True, False):
            wish = Wish("w", target, largest, Fraction(1))
            value = evaluate(target, {"a": Fraction(7)})
            right = Fraction(int(value) if largest else -int(-value // 1))
            recheck(Model((a,), (), (wish,)), Solution({"a": Fraction(7)}, (WishResult(wish, right, right),)))
            with pytest.raises(ProofFailed, match="the wish w"):
                recheck(Model((a,), (), (wish,)), Solution({"a": Fraction(7)}, (WishResult(wish, right + off, right + off),)))
            bound = right - 1 if largest else right + 1
            with pytest.raises(ProofFailed, match="better than the bound"):
                recheck(Model((a,), (), (wish,)), Solution({"a": Fraction(7)}, (WishResult(wish, right, bound),)))


def test_no_card_is_made_of_a_broken_answer(monkeypatch):
    """The whole way: a solver that returns one value a step too large."""
    design = read_text(QUAY)
    assert answer.solve_design(design) is not None

    def wrong(model: Model, **options: object) -> object:
        outcome = solve(model, **options)
        assert isinstance(outcome, Solution)
        name = "quay.wall"
        step = next(v.step for v in model.variables if v.name == name)
        return replace(outcome, values={**outcome.values, name: outcome.values[name] + 100 * step})

    monkeypatch.setattr("foldwright.solver.engine.solve", wrong)
    with pytest.raises(ProofFailed, match="answer checked without floats"):
        answer.solve_design(design)
