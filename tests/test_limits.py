"""What limits the wishes: the rules named are needed, and what a number buys is exact."""

import json
from functools import lru_cache

import pytest
from click.testing import CliRunner
from cpsat import optimum
from generate_cards import script as generated
from test_alternatives import COMPETING, HEAD, LOOSE, every_answer

from foldwright.command import main
from foldwright.grammar import read_text
from foldwright.limits_table import limits_json, limits_table
from foldwright.solver.answer import solve_model
from foldwright.solver.bind import bind
from foldwright.solver.engine import solve
from foldwright.solver.evaluate import holds
from foldwright.solver.expression import Const
from foldwright.solver.limits import STEPS, limits
from foldwright.solver.model import Kind, Model, Rule, Solution, WishResult
from foldwright.solver.written import edited
from foldwright.solver.written_numbers import numbers

# The walls of a tent may lie no farther out than the page is wide less its clear strip.
PAGE = HEAD.replace("cover 100 x 150", "cover 60 x 150") + """tent quay on spine
  paper sand
  at     20
  width  40
  wall   38 to 50
  spread 14 to 22
prefer largest quay.wall
prefer largest quay.spread
"""
# One step of the foot changes the height by less than a step.
SHALLOW = COMPETING.replace("34 to 46", "55 to 60").replace("14 to 30", "20 to 24")


def limited(text, seconds=None):
    design = read_text(text)
    bound, solution = solve_model(design)
    return bound, limits(bound, solution.wishes, seconds)


def held(result, grains=0):
    """The rule that a wish keeps its value, or comes to some grains more."""
    wish, sign = result.wish, 1 if result.wish.largest else -1
    value = result.value + sign * grains * wish.grain
    return Rule("held", Kind.DESIGNER, wish.target, ">=" if wish.largest else "<=", Const(value), "")


def refuted(model, rules):
    """Whether CP-SAT shows that some rules cannot hold together; None if it cannot express them."""
    try:
        return optimum(Model(model.variables, tuple(rules)), seconds=60)[0] == "INFEASIBLE"
    except NotImplementedError:  # a quotient whose divisor is not bounded by these rules alone
        return None


def possible(model, rules):
    """Whether an answer of some rules is found; that it is one is checked rule by rule."""
    found = solve(Model(model.variables, tuple(rules)))
    return isinstance(found, Solution) and all(holds(rule, found.values) for rule in rules)


@lru_cache
def answers(text):
    """What the wishes come to in every answer of a small script."""
    return list(every_answer(bind(read_text(text)).model))


def best(text, n, results):
    """The best of a wish by trying all answers of a small card, those before it held."""
    def good(values):
        return all((value - result.value) * (1 if result.wish.largest else -1) >= 0
                   for value, result in zip(values, results[:n], strict=False))

    largest = results[n].wish.largest
    kept = [values[n] for values in answers(text) if good(values)]
    return (max if largest else min)(kept, default=None)


@pytest.mark.parametrize("text", [COMPETING, PAGE, SHALLOW], ids=["range", "page", "shallow"])
def test_each_gain_is_what_all_answers_of_the_other_script_give(text):
    bound, found = limited(text)
    results, looked_at = [limit.result for limit in found], 0
    for n, limit in enumerate(found):
        for gain in limit.gains:
            steps = (gain.value - gain.number.value) / gain.number.step
            assert abs(steps) in STEPS  # of 1 mm, for the cover too
            for tried in STEPS:  # in this direction nothing smaller helps, and this buys just so much
                value = gain.number.value + tried * gain.number.step * (1 if steps > 0 else -1)
                other = edited(bound.design, [gain.number.edit(value)]).source.text
                reached = best(other, n, results)
                looked_at += 1
                if value == gain.value:
                    assert reached == gain.reached
                    assert reached != limit.result.value
                    break
                assert reached is None or (reached - limit.result.value) * (1 if limit.result.wish.largest else -1) <= 0
    assert looked_at >= 3


def test_a_wider_cover_is_told_to_the_millimetre():
    _, found = limited(PAGE)
    gains = {gain.number.what: gain for gain in found[0].gains}
    wide = gains["the width of the cover"]
    assert wide.number.text(wide.value) == "61"
    assert wide.reached == found[0].result.value + 1
    text = limits_table(found, "mm")
    assert "1 mm more for the width of the cover (61) gives 1 mm more quay.wall" in text
    assert "geometry, which nothing changes: " in text


@pytest.mark.parametrize("text", [COMPETING, PAGE], ids=["range", "page"])
def test_numbers_that_buy_nothing_are_not_told(text):
    bound, found = limited(text)
    results = [limit.result for limit in found]
    for n, limit in enumerate(found):
        told = {gain.number.what for gain in limit.gains}
        for number in search_numbers(bound):
            if number.what in told:
                continue
            for steps in (1, -1):
                value = number.moved(steps)
                if number.least <= value <= number.most:
                    reached = best(edited(bound.design, [number.edit(value)]).source.text, n, results)
                    assert reached is None or (reached - limit.result.value) * (1 if limit.result.wish.largest else -1) <= 0


def search_numbers(bound):
    """Every number of the tent that the script writes."""
    found = [number for number in numbers(bound.design) if number.owner.startswith("quay.")]
    assert len(found) >= 5
    return found


@pytest.mark.parametrize("text", [COMPETING, PAGE, LOOSE, *(generated(2, seed, "loose", step="2") for seed in range(4))],
                         ids=["range", "page", "place", *(f"generated {seed}" for seed in range(4))])
def test_the_rules_named_are_needed(text):
    """Together they leave the wish no grain more, by CP-SAT; without any one of them there is an answer with more."""
    bound, found = limited(text)
    assert found
    verdicts = []
    for n, limit in enumerate(found):
        assert limit.rules
        rest = [rule for rule in limit.rules if not rule.name.startswith("wish.")]
        assert len(rest) == len(limit.told)
        assert {rule.name for rule in rest} <= {rule.name for rule in bound.model.rules}
        kept = [held(found[m].result) for m in range(n) if found[m].result.wish.text in limit.earlier]
        everything = [*rest, *kept, held(limit.result, 1)]
        # CP-SAT knows an area up to the rounding of roots and sines, so a few grains more are asked for
        seen = [*rest, *kept, held(limit.result, 1 if limit.result.wish.dimension == "length" else 5)]
        verdicts += [refuted(bound.model, seen), refuted(bound.model, [*bound.model.rules, *seen])]
        for dropped in (*rest, *kept):
            assert possible(bound.model, [rule for rule in everything if rule is not dropped]), dropped.name
    assert False not in verdicts
    assert True in verdicts


@pytest.mark.parametrize("seed", range(3))
def test_gains_of_generated_cards_are_those_of_cp_sat(seed):
    bound, found = limited(generated(1, seed, "loose", step="2"))
    looked_at = 0
    for n, limit in enumerate(found):
        for gain in limit.gains:
            model = bind(edited(bound.design, [gain.number.edit(gain.value)])).model
            rules = [*model.rules, *(held(WishResult(model.wishes[m], found[m].result.value, found[m].result.bound))
                                     for m in range(n))]
            status, reached = optimum(Model(model.variables, tuple(rules), (model.wishes[n],)), seconds=60)
            assert status == "OPTIMAL"
            # CP-SAT solves a relaxation: it may find an area some grains smaller by the rounding of roots and sines
            room = 0 if limit.result.wish.dimension == "length" else 2 * limit.result.wish.grain
            assert abs(reached[0] - gain.reached) <= room
            looked_at += 1
    assert looked_at >= 2


def test_an_earlier_wish_is_named():
    _, found = limited(COMPETING)
    assert found[1].earlier == ("largest quay.height",)
    assert "your earlier wish, largest quay.height" in limits_table(found, "mm")


def test_where_nothing_written_stops_it_that_is_said():
    text = HEAD.replace("cover 100 x 150", "cover 600 x 900").replace("mat 300 x 300", "mat 2000 x 2000")
    _, found = limited(text + "tent quay on spine\n  paper sand\nprefer largest quay.spread\n")
    assert not found[0].yours
    assert not found[0].gains
    assert "Nothing that you wrote stops it: workshop practice does." in limits_table(found, "mm")


def test_the_gain_for_the_least_change_comes_first():
    _, found = limited(PAGE)
    worths = [abs(gain.reached / limit.result.value - 1) / abs(gain.value / gain.number.value - 1)
              for limit in found[:1] for gain in limit.gains]
    assert worths == sorted(worths, reverse=True)
    assert len(worths) >= 2


def test_without_time_or_proof_nothing_is_claimed():
    _, found = limited(COMPETING, seconds=0)
    assert all(limit.silent and not limit.rules and not limit.gains for limit in found)
    bound, solution = solve_model(read_text(COMPETING))
    unsure = [WishResult(r.wish, r.value - r.wish.grain, r.bound) for r in solution.wishes[:1]]
    assert "not proved" in limits(bound, unsure)[0].silent
    assert "not proved" in limits_table(limits(bound, unsure), "mm")


def test_a_script_without_wishes():
    _, found = limited(LOOSE.replace("prefer largest quay.height\n", ""))
    assert limits_table(found, "mm") == "What limits the wishes: the script has no wish (`prefer`)."


def test_inches_are_told_in_sixteenths():
    text = PAGE.replace("units mm\n  step 1", "units in").replace("60 x 150", "2 1/2 in x 6 in").replace(
        "300 x 300", "11 in x 11 in").replace("at     20", "at 1 in").replace("width  40", "width 1 1/2 in").replace(
        "38 to 50", "1 in to 2 1/2 in").replace("14 to 22", "1/2 in to 1 in")
    _, found = limited(text)
    assert "for the width of the cover (2 9/16 in) gives 0.062 in more quay.wall" in limits_table(found, "in")


@pytest.mark.parametrize("command", ["check", "find"])
def test_both_commands_tell_it_if_asked(command, tmp_path):
    path = tmp_path / "harbour.card"
    path.write_text(PAGE, "utf-8")
    plain = CliRunner().invoke(main, [command, str(path)]).stdout
    told = CliRunner().invoke(main, [command, str(path), "--limits"])
    assert told.exit_code == 0
    assert told.stdout.startswith(plain.rstrip("\n"))
    assert "What limits the wishes:" in told.stdout
    assert "What limits the wishes" not in plain
    data = json.loads(CliRunner().invoke(main, [command, str(path), "--limits", "--json"]).stdout)["limits"]
    assert [wish["wish"] for wish in data] == ["largest quay.wall", "largest quay.spread"]
    assert data == limits_json(limited(PAGE)[1], "mm")


@pytest.mark.parametrize("other", [["--variants"], ["--alternatives", "2"]])
def test_limits_are_of_one_card(other, tmp_path):
    path = tmp_path / "harbour.card"
    path.write_text(PAGE, "utf-8")
    assert CliRunner().invoke(main, ["find", str(path), "--limits", *other]).exit_code == 2
