"""Other answers: none better than another in every wish, clearly different, and each a script of its own."""

import json
from fractions import Fraction
from itertools import combinations, pairwise, product
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner
from cpsat import optimum
from generate_models import card

from foldwright.answer_files import files
from foldwright.api import check
from foldwright.command import main
from foldwright.contact_sheet import wrapped
from foldwright.grammar import Refused, read_text
from foldwright.grammar.problems import WouldJam
from foldwright.other_answers import find_others
from foldwright.solver.alternatives import Trait, alternatives, traits_of
from foldwright.solver.answer import solve_design, solve_model
from foldwright.solver.engine import solve
from foldwright.solver.evaluate import Undefined, evaluate, holds, measure
from foldwright.solver.expression import Const, variables
from foldwright.solver.model import Kind, Model, Rule

HEAD = """card "Harbour"
  units mm
  step 1
cover 100 x 150
  paper ink
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 300 x 300
"""
# The wall is shared between height and foot: the more of one, the less of the other.
COMPETING = HEAD + """tent quay on spine
  paper sand
  at     20
  width  40
  wall   34 to 46
  spread 14 to 30
prefer largest quay.height
prefer largest quay.spread
"""
THREE = COMPETING + "prefer smallest quay.wall\n"
# Its wishes do not compete, and the tent may stand in many places.
LOOSE = HEAD + """tent quay on spine
  paper sand
  at    10 to 90
  width 30 to 50
  spread 20
  wall  30 to 40
prefer largest quay.height
"""
RIGID = LOOSE.replace("10 to 90", "10 to 12").replace("30 to 50", "40").replace("30 to 40", "38 to 40")


def others_of(text, count, tmp_path, name="harbour.card"):
    path = tmp_path / name
    path.write_text(text, "utf-8")
    return find_others(path, count)


def searched(text, count, verdict=lambda answer: True):
    """The alternatives of a script by the search alone, without the checks by geometry."""
    design = read_text(text)
    bound, first = solve_model(design)
    traits = traits_of(bound, frozenset(solve_design(design).dimensions))
    return bound, alternatives(bound.model, first, traits, count, verdict)


def better(one, other, wishes):
    """True if the first values of the wishes are as good throughout and better once."""
    gains = [(a - b) * (1 if wish.largest else -1) for a, b, wish in zip(one, other, wishes, strict=True)]
    return min(gains) >= 0 and max(gains) > 0


def every_answer(model):
    """Wish values of every answer of a small model, by trying all values that written ranges leave."""
    ranges = []
    sides = [side for rule in model.rules if not isinstance(rule.right, Const) for side in (rule.left, rule.right)]
    free = {variable for side in sides for variable in variables(side)}
    for variable in model.variables:
        values = [variable.step * count for count in range(variable.low, variable.high + 1)]
        own = [r for r in model.rules if r.left == variable and isinstance(r.right, Const)]
        kept = [value for value in values if all(holds(rule, {variable.name: value}) for rule in own)]
        ranges.append(kept if variable in free else kept[:1])
    assert 1 < len(list(product(*ranges))) < 20_000
    names = [variable.name for variable in model.variables]
    for point in product(*ranges):
        values = dict(zip(names, point, strict=True))
        if all(holds(rule, values) for rule in model.rules):
            yield [measure(wish, values) for wish in model.wishes]


@pytest.mark.parametrize("text", [COMPETING, THREE], ids=["two wishes", "three wishes"])
def test_none_of_all_answers_is_better_in_every_wish(text):
    bound, found = searched(text, 5)
    assert len(found.answers) == 5
    everything = list(every_answer(bound.model))
    assert len(everything) > 100
    for answer, _ in found.answers:
        own = [result.value for result in answer.wishes]
        assert own in everything
        assert not [one for one in everything if better(one, own, bound.model.wishes)]
        assert answer.proved


def test_the_ends_and_the_middle_of_competing_wishes_are_among_them():
    bound, found = searched(COMPETING, 3)
    everything = list(every_answer(bound.model))
    reached = [[result.value for result in answer.wishes] for answer, _ in found.answers]
    assert reached[0] == max(everything)  # the card's own answer
    assert reached[-1] == max(everything, key=lambda values: values[::-1])  # the second wish first
    assert reached[0][0] > reached[1][0] > reached[2][0]


@pytest.mark.parametrize("seed", range(2, 8))
def test_cp_sat_finds_nothing_better(seed):
    """Of generated models, where the first height costs paper: CP-SAT knows no answer that is better in one wish alone."""
    model = card(1 + seed % 2, seed, step=Fraction(2))
    first = solve(model)
    traits = tuple(Trait(v.name, v, "angle" if v.step == 1 else "length") for v in model.variables)
    found = alternatives(model, first, traits, 4, lambda answer: True, step=Fraction(2))
    assert len({answer.grains for answer, _ in found.answers}) > 1
    for answer, _ in found.answers:
        for improved in answer.wishes:
            held = []
            for result in answer.wishes:
                wish, sign = result.wish, 1 if result.wish.largest else -1
                value = result.value + (sign * wish.grain if result is improved else 0)
                held.append(Rule("held", Kind.DESIGNER, wish.target, ">=" if sign > 0 else "<=", Const(value), ""))
            assert optimum(Model(model.variables, (*model.rules, *held)), seconds=60)[0] == "INFEASIBLE"


def test_each_two_are_clearly_different(tmp_path):
    others = others_of(LOOSE, 5, tmp_path)
    assert len(others.answers) == 5
    for one, other in combinations(others.answers, 2):
        seen = []
        for name, (value, unit) in one.checked.card.dimensions.items():
            a, b = float(value), float(other.checked.card.dimensions[name][0])
            least = 5 if name.endswith(".at") else max(3 if unit != "mm" else 2, 0.05 * max(a, b))
            seen.append(abs(a - b) >= least)
        assert any(seen)


def test_wishes_are_kept_where_they_do_not_compete(tmp_path):
    others = others_of(LOOSE, 4, tmp_path)
    heights = {other.checked.card.wishes[0].value for other in others.answers}
    assert len(others.answers) == 4
    assert heights == {check(tmp_path / "harbour.card").card.wishes[0].value}
    places = sorted(other.checked.card.dimensions["quay.at"][0] for other in others.answers)
    assert (places[0], places[-1]) == (10, 90), "the farthest ones are taken first"


def test_the_first_is_what_find_gives(tmp_path):
    for text in (COMPETING, LOOSE):
        others = others_of(text, 3, tmp_path)
        assert others.answers[0].letter == "A"
        assert others.answers[0].checked.card.dimensions == check(tmp_path / "harbour.card").card.dimensions


def test_too_few_are_told_with_the_reason(tmp_path):
    rigid = others_of(RIGID, 3, tmp_path)
    assert [other.letter for other in rigid.answers] == ["A"]
    assert "no other answer" in " ".join(rigid.remarks())
    assert "no dimension can change by at least 2 mm" in " ".join(rigid.remarks())
    some = others_of(RIGID.replace("10 to 12", "10 to 18"), 9, tmp_path)
    assert len(some.answers) == 2
    assert "Only 2 answers of 9" in " ".join(some.remarks())
    assert not list(others_of(LOOSE, 3, tmp_path).remarks())


def test_one_wish_or_none(tmp_path):
    assert len(others_of(LOOSE.replace("prefer largest quay.height\n", ""), 4, tmp_path).answers) == 4


def test_an_answer_that_fails_its_check_is_replaced_and_counted():
    _, all_good = searched(LOOSE, 4)
    barred = all_good.answers[1][0].values
    _, found = searched(LOOSE, 4, lambda answer: None if answer.values == barred else True)
    assert found.dropped == 1
    assert len(found.answers) == 4
    assert barred not in [answer.values for answer, _ in found.answers]


def test_an_own_answer_that_jams_is_refused(tmp_path, monkeypatch):
    stuck = WouldJam(None, "collision", "the quay is stuck")
    monkeypatch.setattr("foldwright.other_answers.jams", lambda design, swung: [stuck])
    with pytest.raises(Refused) as refused:
        others_of(LOOSE, 2, tmp_path)
    assert list(refused.value.problems) == [stuck]


def test_other_answers_that_jam_are_dropped_and_told(tmp_path, monkeypatch):
    shown = []

    def jams(design, swung):  # the first answer is fine, every other one is stuck
        shown.append(swung)
        return [] if len(shown) == 1 else [WouldJam(None, "collision", "the quay is stuck")]

    monkeypatch.setattr("foldwright.other_answers.jams", jams)
    others = others_of(LOOSE, 3, tmp_path)
    assert [other.letter for other in others.answers] == ["A"]
    assert len(shown) > 3
    assert f"{len(shown) - 1} answers dropped, because the card would jam" in " ".join(others.remarks())


def test_without_time_what_is_known_is_given_and_marked():
    design = read_text(COMPETING)
    bound, first = solve_model(design)
    traits = traits_of(bound, frozenset(solve_design(design).dimensions))
    found = alternatives(bound.model, first, traits, 4, lambda answer: True, seconds=0)
    assert len(found.answers) == 1
    assert found.stopped


def test_counts_outside_the_alphabet(tmp_path):
    for count in (0, 27):
        with pytest.raises(ValueError, match="26"):
            others_of(LOOSE, count, tmp_path)


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """A card with artwork in two folders under one name, its answers, and the folder that was written."""
    home = tmp_path_factory.mktemp("home")
    star = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10"><path d="M0 0 H10 V{} H0 Z"/></svg>'
    for folder, height in (("art", 10), ("more", 6)):
        (home / folder).mkdir()
        (home / folder / "Star.svg").write_text(star.format(height), "utf-8")
    cutouts = "".join(f'cutout {name}\n  paper sand\n  art "{folder}/Star.svg" width {width}\n  glue on quay.{side} at centre\n'
                      for name, folder, width, side in (("star", "art", "8 to 16", "right"), ("starlet", "more", "12", "left")))
    text = COMPETING.replace("prefer", "# the wishes\nprefer", 1) + cutouts
    others = others_of(text, 4, home)
    made = files(others)
    out = home / "out"
    result = CliRunner().invoke(main, ["find", str(home / "harbour.card"), "--alternatives", "4", "--out", str(out)])
    assert result.exit_code == 0, result.output
    return others, made, out, result.output


def test_each_is_a_script_that_gives_the_same_answer(written):
    others, _, out, _ = written
    reached = []
    for other in others.answers:
        again = check(out / f"{other.letter}.card")
        assert again.card.dimensions == other.checked.card.dimensions
        reached.append([result.value for result in again.card.wishes])
        text = (out / f"{other.letter}.card").read_text("utf-8")
        assert text.startswith(f"# Answer {other.letter} of 4 to harbour.card")
        assert "# the wishes" in text
        assert " to " not in "".join(line for line in text.splitlines() if not line.startswith("#")).replace("to harbour", "")
    wishes = [result.wish for result in others.answers[0].answer.wishes]
    assert not [1 for one in reached for other in reached if better(one, other, wishes)]
    assert len({tuple(values) for values in reached}) == 4


def test_artwork_of_one_name_from_two_folders_stays_two_files(written):
    _, made, out, _ = written
    assert {"star.svg", "star-2.svg"} <= {path.name for path in out.iterdir()}
    assert made["star.svg"] != made["star-2.svg"]


def test_the_same_card_gives_the_same_files(written):
    _, made, out, _ = written
    assert {path.name: path.read_bytes() for path in out.iterdir() if not path.name.startswith(".")} == made


def test_the_contact_sheet_shows_each_answer_at_one_scale(written):
    others, made, _, _ = written
    root = ElementTree.fromstring(made["contact-sheet.svg"])
    ids = [element.attrib["id"] for element in root.iter() if "id" in element.attrib]
    assert len(ids) == len(set(ids)) > 8
    svg = "{http://www.w3.org/2000/svg}"
    width, height = (float(x) for x in root.attrib["viewBox"].split()[2:])
    covers = []
    for other in others.answers:
        cell = next(e for e in root if e.attrib.get("id") == f"answer-{other.letter}")
        texts = "".join(t.text or "" for t in cell.iter(f"{svg}text")).replace("\N{NO-BREAK SPACE}", " ")
        assert other.letter in texts
        assert all(words.split()[0] in texts for words in other.words)
        inner = cell.find(f"{svg}svg")
        assert [float(inner.attrib[k]) for k in ("width", "height")] == [float(x) for x in inner.attrib["viewBox"].split()[2:]]
        x, y = float(inner.attrib["x"]), float(inner.attrib["y"])
        assert 0 < x < x + float(inner.attrib["width"]) < width
        assert 0 < y < y + float(inner.attrib["height"]) < height
        frame = cell.find(f"{svg}rect")
        corner = [float(frame.attrib[k]) for k in "xy"]
        path = next(p for p in inner.iter(f"{svg}path") if p.find(f"{svg}title").text == "cover.right")
        numbers = path.attrib["d"].replace("M", " ").replace("Z", " ").split()
        xs, ys = [float(n) + x - corner[0] for n in numbers[::2]], [float(n) + y - corner[1] for n in numbers[1::2]]
        covers.append((max(xs), max(ys)))  # the fore-edge, which nothing covers
    for one, other in pairwise(covers):
        assert one == pytest.approx(other, abs=0.1)  # two decimals, thinned by 0.02


def test_the_table_names_letters_wishes_and_differences(written):
    others, _, out, output = written
    assert output.count("\nlargest quay.height") == 1
    assert "quay.spread" in output
    for other in others.answers[1:]:
        assert f"{other.letter}: quay" in output
        assert "lower" in other.words[0]
    assert f"files in {out}" in output


def test_json(tmp_path):
    path = tmp_path / "harbour.card"
    path.write_text(COMPETING, "utf-8")
    result = CliRunner().invoke(main, ["find", str(path), "--alternatives", "3", "--json"])
    answers = json.loads(result.stdout)["answers"]
    assert [answer["letter"] for answer in answers] == ["A", "B", "C"]
    assert all(answer["proved"] for answer in answers)
    for answer in answers:
        wall, spread = (Fraction(answer["dimensions"][f"quay.{name}"]["exact"]) for name in ("wall", "spread"))
        height = float(wall**2 - spread**2) ** 0.5
        assert answer["measures"]["quay.height"] == pytest.approx(height, abs=1e-6)
        assert answer["wishes"][0]["value"] == int(height)  # in whole steps of the card


@pytest.mark.parametrize("arguments", [["--alternatives", "0"], ["--alternatives", "27"], ["--out", "x"],
                                       ["--alternatives", "2", "--write", "y.card"]])
def test_wrong_use(arguments, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "harbour.card"
    path.write_text(LOOSE, "utf-8")
    assert CliRunner().invoke(main, ["find", str(path), *arguments]).exit_code == 2
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_of_the_user_is_kept(tmp_path):
    path, out = tmp_path / "harbour.card", tmp_path / "mine"
    path.write_text(LOOSE, "utf-8")
    out.mkdir()
    (out / "letter.txt").write_text("dear reader", "utf-8")
    result = CliRunner().invoke(main, ["find", str(path), "--alternatives", "2", "--out", str(out)])
    assert result.exit_code == 2
    assert "letter.txt" in result.output
    assert [entry.name for entry in out.iterdir()] == ["letter.txt"]


def test_a_script_that_cannot_hold_is_refused(tmp_path):
    with pytest.raises(Refused):
        others_of(LOOSE.replace("wall  30 to 40", "wall 140"), 3, tmp_path)


def test_measures_without_a_value_are_left_out():
    bound, first = solve_model(read_text(COMPETING))
    for trait in traits_of(bound, {variable.name for variable in bound.model.variables}):
        try:
            evaluate(trait.expr, first.values)
        except Undefined:
            pytest.fail(f"{trait.name} has no value")


def test_lines_are_wrapped_to_their_width():
    lines = wrapped("one two three four five six", 60, 10)
    assert " ".join(lines) == "one two three four five six"
    assert len(lines) > 1
    assert all(len(line) <= 60 / 4.8 for line in lines)
    assert wrapped("incomprehensibilities", 20, 10) == ["incomprehensibilities"]
