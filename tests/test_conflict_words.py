"""Conflicts as a designer reads them: what clashes in one sentence, every rule once at its line, and who asks for it."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest
from generate_cards import script

from foldwright.grammar import Refused, read, read_text, render
from foldwright.grammar.problem import Problem
from foldwright.grammar.problems import CannotHold
from foldwright.grammar.render import as_json, in_order
from foldwright.solver.answer import solve_design
from foldwright.solver.conflict_words import conflict_problem
from foldwright.solver.expression import Variable, lift, sqrt
from foldwright.solver.model import Kind, Model, Rule

EXAMPLES = Path(__file__).parent.parent / "examples"
HEAD = ('card "Quay"\n  units mm\ncover 100 x 150\n  paper ink\npaper ink colour #22304a weight 216 gsm\n'
        "paper sand colour #d9c39a caliper 0.25\nmat 300 x 300\n")
SCRIPTS = {
    "a wall beyond the page": "tent quay on spine\n  paper sand\n  wall 140\n",
    "a wish of the designer's": "tent quay on spine\n  paper sand\n  wall 20 to 40\n"
                                'require quay.wall >= 60 because "the boats are tall"\n',
    "a wish between two": "tent a on spine\n  paper sand\n  at 10\n  width 40\n  wall 20 to 40\n"
                          "tent b on spine\n  paper sand\n  at 80\n  width 40\n  wall 50 to 60\nrequire a.wall >= b.wall\n",
    "no room along the spine": "tent a on spine\n  paper sand\n  width 80\ntent b on spine\n  paper sand\n  width 90\n",
    "a tab too short": "tent quay on spine\n  paper sand\n  width 12\n",
    "angles": "vfold gull on spine\n  paper sand\n  angle 45\n  wing 85\n  left_angle 40\n  left_wing 80 to 85\n",
    "a window too wide": "tent quay on spine\n  paper sand\n  width 60\n  wall 40\n"
                         "window gate on quay.right\n  width 70\n  height 10\n",
    "a usual range": "tent quay on spine\n  paper sand\n  wall 300\n",
    "two troubles": "tent a on spine\n  paper sand\n  at 10\n  width 40\n  wall 140\nvfold gull on spine\n  paper sand\n"
                    "  at 80\n  ridge 20 to 30\nrequire gull.ridge >= 45\n",
}
CODE_WORDS = re.compile(r"\b(None|True|False|Const|Variable|Rule|usual-least|usual-most|geometry:|practice:|designer:)\b|[{}_]")


def conflicts_of(text: str) -> list[CannotHold]:
    with pytest.raises(Refused) as refused:
        solve_design(read_text(text))
    problems = in_order(refused.value.problems)
    assert all(isinstance(problem, CannotHold) for problem in problems)
    return [problem for problem in problems if isinstance(problem, CannotHold)]


def told(problem: Problem) -> list[str]:
    return [problem.wrong(), *(label.text for label in problem.related()), *problem.hints()]


def cases() -> list[object]:
    own = [pytest.param(HEAD + text, id=name) for name, text in SCRIPTS.items()]
    files = [EXAMPLES / "too-tight.card", *sorted((EXAMPLES / "impossible").glob("*.card"))]
    generated = [pytest.param(script(count, seed, "clash"), id=f"clash {count} {seed}") for count in (6, 10) for seed in range(3)]
    return [*own, *(pytest.param(path, id=path.stem) for path in files), *generated]


@pytest.mark.parametrize("source", cases())
def test_what_a_designer_reads(source, request):
    """No conflict of our scripts says "at at", "0 mm to", holds braces or code words, or tells a rule twice."""
    if request.node.callspec.id == "three-peaks":
        pytest.skip("its refutation is a long search; the words are those of the others")
    with pytest.raises(Refused) as refused:
        solve_design(read(source) if isinstance(source, Path) else read_text(source))
    problems = [problem for problem in refused.value.problems if isinstance(problem, CannotHold)]
    assert problems
    for problem in problems:
        own = [*told(problem)[: 1 + len(problem.related())], *problem.sentences]
        for text in own:
            # what the script says is not ours
            plain = re.sub(r"you require .*?(:|$)", "you require it:", re.sub(r"`[^`]*`", "", text))
            assert not re.search(r"(?<![\d.])0 (mm|in) to\b", plain), text
            for words in ("at at", "at least at", "at most at", "at least 0 mm", "2000 mm", "  "):
                assert words not in plain, text
            assert not CODE_WORDS.search(plain), text
        labels = [part for label in problem.related() for part in label.text.split("; ")]
        assert len(labels) == len(set(labels)), "a rule is told twice"
        assert problem.at is not None
        assert not problem.unplaced
        assert len(problem.told) == len(problem.sentences)


def test_the_first_line_says_what_clashes():
    (problem,) = conflicts_of((EXAMPLES / "too-tight.card").read_text("utf-8"))
    assert problem.wrong() == ("this cannot be made: when the card is closed, the upper edge at the tail end of weeds lies at "
                               "least 110 mm from the spine; the page less its clear strip is at most 100 mm")
    assert problem.at is not None
    assert problem.at.text == "lattice weeds in tank"
    assert [(label.at.text, label.text) for label in problem.related()] == [
        ("100 x 150", "you wrote: width of cover is 100 mm"),
        ("spread 40 to 50", "you wrote: spread of tank is at least 40 mm"),
        ("rise   70 to 90", "you wrote: rise of weeds is at least 70 mm"),
    ]


def test_who_asks_for_a_rule():
    (problem,) = conflicts_of(HEAD + SCRIPTS["a tab too short"])
    assert problem.wrong().startswith("workshop practice is against this: the right tab of quay is ")
    assert any("without quay.right-tab.length because" in hint for hint in problem.hints())
    (problem,) = conflicts_of(HEAD + SCRIPTS["no room along the spine"])
    assert any(label.text.startswith("you wrote: width of a is 80 mm") for label in problem.related())
    first, second = conflicts_of(HEAD + SCRIPTS["two troubles"])
    assert first.wrong() == "this cannot be had: you require gull.ridge >= 45: it comes to at most 30 mm"
    assert "when the card is closed, the start of the ridge of a lies at least 140 mm from the spine" in second.wrong()


def test_a_dimension_that_the_script_does_not_set_says_so():
    """The mast lies against the usual clear strip: nobody wrote it, so the label says so, at the head of its block."""
    (problem,) = conflicts_of((EXAMPLES / "impossible" / "tall-mast.card").read_text("utf-8"))
    assert "you did not set it: clear of cover is usually 3 mm" in [label.text for label in problem.related()]


def test_a_reason_is_shown_with_its_rule():
    (problem,) = conflicts_of(HEAD + SCRIPTS["a wish of the designer's"])
    assert problem.wrong() == ('this cannot be had: you require quay.wall >= 60, because "the boats are tall": it comes to at '
                               "most 40 mm")


def test_both_ends_of_a_range_are_one_sentence():
    a, b = (Variable(name, Fraction(1), 0, 100) for name in ("a.wall", "b.wall"))
    rules = (Rule("a.wall.least", Kind.DESIGNER, a, ">=", lift(10), "wall of a is at least {right}, as written"),
             Rule("a.wall.most", Kind.DESIGNER, a, "<=", lift(20), "wall of a is at most {right}, as written"),
             Rule("odd", Kind.GEOMETRY, a + b * 2, "=", lift(21), "both together are {right}"))
    from foldwright.solver.conflict_words import _joined

    texts = conflict_problem(rules, Model((a, b), rules)).sentences[:2]
    assert _joined([text.removesuffix(", as written") for text in texts]) == "wall of a is 10 mm to 20 mm"


def test_numbers_come_from_the_other_rules():
    """The wall is at most what the *other* rules leave it: two steps of propagation away from what is written."""
    a, b, c = (Variable(name, Fraction(1), 0, 2000) for name in ("a.wall", "b.wall", "c.wall"))
    rules = (Rule("c.wall.most", Kind.DESIGNER, c, "<=", lift(30), "wall of c is at most {right}, as written"),
             Rule("b.fits", Kind.GEOMETRY, b, "<=", c - 4, "b is {left}; c leaves it {right}"),
             Rule("a.fits", Kind.GEOMETRY, a, "<=", b - 4, "a is {left}; b leaves it {right}"),
             Rule("a.wall.least", Kind.DESIGNER, a, ">=", lift(25), "wall of a is at least {right}, as written"))
    problem = conflict_problem(rules, Model((a, b, c), rules))
    assert problem.sentences == ("wall of c is at most 30 mm, as written", "b is at least 29 mm; c leaves it at most 26 mm",
                                 "a is at least 25 mm; b leaves it at most 22 mm", "wall of a is at least 25 mm, as written")
    assert problem.wrong() in {f"this cannot be made: {text}; with {rest}" for text in problem.sentences
                               for rest in [problem.wrong().partition("; with ")[2]]}


def test_numbers_that_only_search_finds():
    """Where bounds are too wide to show the clash, the ends are searched for: sqrt(x (100 - x)) is at most 50."""
    x = Variable("x.wall", Fraction(1), 0, 100)
    rule = Rule("x.high", Kind.DESIGNER, sqrt(x * (100 - x)), ">=", lift(60), "it comes to {left}; {right} is asked for")
    problem = conflict_problem((rule,), Model((x,), (rule,)))
    found = re.fullmatch(r"this cannot be had: it comes to at most (\d+(\.\d+)?) mm; 60 mm is asked for", problem.wrong())
    assert found, problem.wrong()
    assert 50 <= float(found[1]) <= 50.1


def test_a_number_that_says_nothing_is_left_out():
    a, b = (Variable(name, Fraction(1), 0, 2000) for name in ("a.wall", "b.wall"))
    rules = (Rule("a.odd", Kind.GEOMETRY, a * 2, "=", b * 2 + 1, "the walls differ by half a step: {left} and {right}"),)
    assert conflict_problem(rules, Model((a, b), rules)).sentences == ("the walls differ by half a step",)


def test_json_has_all_sets():
    (problem,) = conflicts_of((EXAMPLES / "too-tight.card").read_text("utf-8"))
    facts = as_json(problem)
    assert [rule["kind"] for rule in facts["rules"]] == ["designer", "designer", "designer", "geometry"]
    assert [rule["line"] for rule in facts["rules"]] == [6, 23, 29, 26]
    assert facts["smallest"] is True
    assert len(facts["overlapping"]) == len(problem.others) >= 1
    for others in facts["overlapping"]:
        assert {"name", "kind", "sentence", "line"} == set(others[0])


def test_the_smallest_conflict_is_shown_first():
    problems = conflicts_of(HEAD + SCRIPTS["two troubles"])
    assert [len(problem.sentences) for problem in problems] == sorted(len(problem.sentences) for problem in problems)
    assert problems[0].at is not None
    assert problems[1].at is not None
    assert problems[0].at.start > problems[1].at.start, "the order of the script would be the other one"
    text = render(problems)
    assert text.index("gull.ridge >= 45") < text.index("the ridge of a lies")
