"""Checks of a card that is edited, with a memory kept between them: each says what a check without memory says."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass, replace
from fractions import Fraction
from pathlib import Path
from random import Random
from shutil import copytree

import pytest
from edit_cards import different, outcome, same_kept_as_cold
from generate_cards import script
from generate_models import card
from small_models import random_model

from foldwright.api import Memory, check
from foldwright.grammar import Refused, read, read_text, render
from foldwright.grammar.again import Statement
from foldwright.grammar.design import Paper
from foldwright.grammar.kept import Kept
from foldwright.grammar.source import Source, Span
from foldwright.solver.bind import bind
from foldwright.solver.engine import solve
from foldwright.solver.engine.answers import Answers
from foldwright.solver.engine.blueprint import Workshop, blueprint_of
from foldwright.solver.engine.machine import Machine
from foldwright.solver.model import Model, Rule, Solution

FOLDER = Path(__file__).parent.parent / "examples"
SCRIPTS = sorted(FOLDER.rglob("*.card"))
EXAMPLES = [FOLDER / f"{name}.card" for name in ("boathouse", "night-train", "observatory", "shadow-theatre", "tide-pool")]
SMALL = script(6, 4)
IMPOSSIBLE = SMALL.replace("require ", "require m0.height >= 240\nrequire ", 1)  # no card is so high


def edits() -> list[str]:
    """The script with one thing changed after the other, some of it back again."""
    raised = SMALL.replace(">= ", ">= 1 + ", 1)
    return [
        SMALL,
        SMALL + "# a word at the end\n",
        "# a word at the beginning\n" + SMALL,
        SMALL.replace("wing 80 to 100", "wing 78 to 100", 1),
        raised,
        IMPOSSIBLE,
        raised,  # the repair
        SMALL.replace("caliper 0.22", "caliper 0.3"),
        SMALL.replace('"Generated', '"Another'),
        SMALL.replace("prefer largest", "prefer smallest"),
        SMALL.replace("cover 150", "cover 152"),
        SMALL.replace("\n  width", "\n\n  # how wide\n  width"),
        SMALL.replace("m1", "gable"),  # its own name, that of what stands on it, and rules
        SMALL.replace("on m1.ridge", "on m0.ridge"),
        SMALL.replace("vfold m2 on m1.ridge", "vfold m2 on m4.ridge", 1),
        SMALL + 'practice neighbour.gap 4 because "the knife is narrow"\n',
        SMALL + 'practice tab.inset 1.5 because "soft paper"\n',
        SMALL + 'without m0.stands because "it has to"\n',  # refused: geometry
        "".join(head + rest for head, rest in reversed(blocks(SMALL))),
        SMALL.replace("  paper sand\n", "  paper reef\n", 1),
        SMALL.replace("step 0.5", "step 0.25"),
        SMALL.replace("units mm", "units mm\n  bogus 3"),
        SMALL.replace("tent m4 on spine\n", "tent m4 on spine\n  left_spread 20 to 30\n"),
        SMALL,
    ]


def blocks(text: str) -> list[tuple[str, str]]:
    """The statements of a script: the head of each, and the lines below it."""
    heads = [match.start() for match in re.finditer(r"^(?=[a-z])", text, re.MULTILINE)]
    return [(text[start:end].partition("\n")[0] + "\n", text[start:end].partition("\n")[2])
            for start, end in zip(heads, [*heads[1:], len(text)], strict=True)]


def test_a_check_with_a_memory_says_what_one_without_says(tmp_path):
    memory, path = Memory(), tmp_path / "edited.card"
    seen = []
    for text in edits():
        path.write_text(text, encoding="utf-8")
        seen.append(outcome(path, memory))
        assert not different(seen[-1], outcome(path))
    assert sum(isinstance(words, str) for words in seen) == 3, "one edit makes the card impossible, two are faults"
    assert memory.answers.reused >= 4  # the words, the repair, the title, and the way back
    assert memory.answers.reuse.parts.reused > 0
    assert memory.sides.reused > memory.sides.computed
    assert memory.proved.reused > memory.proved.computed
    assert memory.read.reused > memory.read.computed
    assert memory.bound.reused > memory.bound.computed
    assert memory.built.reused > memory.built.computed
    assert memory.swings.glued.reused > memory.swings.glued.computed


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_kind_of_mechanism_is_checked_again_as_for_the_first_time(path):
    """Cards with steps, windows, faces, rings, slots, gussets and artwork: moved down, then with other paper, and back."""
    design = read(path)
    thicker = Paper(design.papers[-1].name, design.papers[-1].colour, None, Fraction(2, 5), design.papers[-1].at)
    others = [replace(design, papers=(*design.papers[:-1], thicker)), replace(design, blocks=design.blocks[::-1])]
    memory = Memory()
    for edited in (design, read_text("# moved down\n" + design.source.text, str(path), path.parent), *others, design):
        assert not different(outcome(edited, memory), outcome(edited))
    assert memory.built.reused > 0


@pytest.mark.parametrize(("name", "seed"), [("made", 1), ("made", 2), ("boathouse", 4), ("night-train", 5)])
def test_whatever_is_edited_a_memory_says_what_a_first_check_says(tmp_path, name, seed):
    """Random edits of a script and of its artwork on disk: the card, its swing, its proof, and the words of problems."""
    text = script(4, seed) if name == "made" else (FOLDER / f"{name}.card").read_text("utf-8")
    copytree(FOLDER / "art", tmp_path / "art")
    assert same_kept_as_cold(text, tmp_path, Random(seed), 8) >= 2


def test_artwork_that_is_drawn_anew_within_the_same_outline_is_seen(tmp_path):
    """A slight curve where a line was, and a line drawn on it: the outline that the solver works with stays what it was."""
    card = (FOLDER / "tide-pool.card").read_text("utf-8")
    copytree(FOLDER / "art", tmp_path / "art")
    name = re.search(r'"art/([\w-]+)\.svg"', card)[1]
    file, path, memory = tmp_path / "art" / f"{name}.svg", tmp_path / "edited.card", Memory()
    path.write_text(card, "utf-8")
    straight, curved = "M0 0 H40 V20 H0 Z", "M0 0 H40 Q40.004 10 40 20 H0 Z"
    mark = '<path d="M10 8 L20 9" fill="none" stroke="#000000"/>'
    for outline, more in ((straight, ""), (curved, ""), (curved, mark), (straight, mark), (straight, "")):
        file.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="20mm" viewBox="0 0 40 20">'
                        f'<path d="{outline}"/>{more}</svg>', "utf-8")
        assert not different(outcome(path, memory), outcome(path))


# ---- reading


def spans(node: object) -> list[Span]:
    """All places in a node."""
    if isinstance(node, Span):
        return [node]
    inside = node if isinstance(node, tuple) else ()
    if is_dataclass(node):
        inside = tuple(getattr(node, each.name) for each in fields(node))
    return [span for each in inside if not isinstance(each, Source) for span in spans(each)]


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.stem)
def test_a_script_read_again_is_the_script_read_whole(path):
    """Every statement stands at its present place, in the present source, whatever was edited."""
    kept: Kept[str, Statement] = Kept()
    text = path.read_text("utf-8")
    turned = "".join(head + rest for head, rest in reversed(blocks(text)))
    edited = [text, "# above\n\n" + text, text + "\n  # below", text.rstrip("\n"), turned, text,
              text.replace("\n", "\r\n"), text.replace("\n  ", "\n    ")]
    for now in edited:
        whole = read_text(now, str(path), path.parent)
        again = read_text(now, str(path), path.parent, kept)
        assert again == whole
        assert again.source.text == now
        assert all(span.source is again.source for span in spans(again))
    assert kept.reused > kept.computed


@pytest.mark.parametrize("fault", ["  wall 3 3 3 to\n", "require 3 >=\n", 'card "again"\n', "  \tuneven 3\n", "\x0c\n",
                                   'require m0.wall >= 3 because ""\n', "practice tab.depth 9\n", "tent m0 on spine\n"])
def test_the_faults_of_a_script_read_again_are_those_of_the_whole(fault):
    kept: Kept[str, Statement] = Kept()
    statements = [head + rest for head, rest in blocks(SMALL)]
    read_text(SMALL, kept=kept)
    refused = 0
    for place in range(len(statements) + 1):
        text = "".join((*statements[:place], fault, *statements[place:]))
        told_whole, told_again = (words_of(text, known) for known in (None, kept))
        assert told_again == told_whole
        refused += isinstance(told_whole, str)
    assert refused


def words_of(text: str, kept: Kept[str, Statement] | None) -> object:
    try:
        return read_text(text, kept=kept)
    except Refused as refused:
        return render(refused.problems)


# ---- binding


def bound_by(text: str, kept: Kept) -> dict[str, object]:
    kept.turn()
    return {mechanism.name: mechanism for mechanism in bind(read_text(text), kept=kept).mechanisms}


def test_a_mechanism_that_is_told_the_same_is_the_same():
    kept = Kept()
    first = bound_by(SMALL, kept)
    assert bound_by("# moved\n" + SMALL, kept) == first
    computed = kept.computed
    assert bound_by(SMALL.replace("prefer least paper\n", ""), kept) == first
    assert kept.computed == computed, "nothing is made anew where only wishes change"
    changed = bound_by(SMALL.replace("wall 20 to 100", "wall 21 to 100", 3).replace("wall 21", "wall 20", 1), kept)
    assert {name for name in first if changed[name] is not first[name]} == {"m1", "m2", "m4"}  # m2 stands on m1
    wide = bound_by(SMALL.replace("cover 150", "cover 152"), kept)
    assert not any(wide[name] is first[name] for name in first), "all are told of the cover"


def test_the_rules_of_a_mechanism_are_placed_in_the_present_script():
    kept = Kept()
    bind(read_text(SMALL), kept=kept)
    kept.turn()
    design = read_text("# moved\n" + SMALL)
    again, fresh = bind(design, kept=kept).model, bind(design).model
    assert [(r.name, r.kind, r.left, r.operator, r.right, r.sentence, r.at, r.angle, r.still) for r in again.rules] == \
        [(r.name, r.kind, r.left, r.operator, r.right, r.sentence, r.at, r.angle, r.still) for r in fresh.rules]
    assert all(span.source is design.source for rule in again.rules for span in rule.at)
    assert [(v.name, v.step, v.low, v.high, v.preferred) for v in again.variables] == \
        [(v.name, v.step, v.low, v.high, v.preferred) for v in fresh.variables]


def test_an_impossible_card_is_told_with_the_lines_of_the_present_script(tmp_path):
    memory, path = Memory(), tmp_path / "edited.card"
    for text in (IMPOSSIBLE, "\n# moved down\n" + IMPOSSIBLE):
        path.write_text(text, encoding="utf-8")
        with pytest.raises(Refused) as refused:
            check(path, memory=memory)
        line = next(n for n, words in enumerate(text.split("\n"), 1) if ">= 240" in words)
        assert f":{line}:" in render(refused.value.problems)


# ---- models


def changed(model: Model, random: Random) -> Model:
    """One number of one rule changed."""
    rules = list(model.rules)
    place = random.randrange(len(rules))
    old = rules[place]
    moved = old.right + Fraction(random.choice((-3, -1, 1, 2)))
    rules[place] = Rule(old.name, old.kind, old.left, old.operator, moved, old.sentence)
    return Model(model.variables, tuple(rules), model.wishes)


def test_kept_answers_are_those_of_a_new_search():
    random = Random(5)
    for seed in range(12):
        answers, model = Answers(), random_model(seed)
        for _ in range(5):
            for asked in (model, Model(model.variables, model.rules, model.wishes)):
                found, fresh = answers.solve(asked), solve(asked)
                assert type(found) is type(fresh)
                if isinstance(found, Solution):
                    assert found == fresh
                    assert all(result.wish in asked.wishes for result in found.wishes)  # wishes are compared by identity
            model = changed(model, random)


def test_kept_proofs_of_parts_lead_to_the_answer_of_a_new_search():
    """Cards of a few mechanisms, one number changed after the other: most parts of the last wish are known again."""
    random = Random(11)
    answers, model = Answers(), card(5, 2)
    for _ in range(6):
        found, fresh = answers.solve(model), solve(model)
        assert type(found) is type(fresh)
        if isinstance(found, Solution):
            assert found == fresh
        model = changed(model, random)
    assert answers.reuse.parts.reused >= 4


def test_the_order_of_rules_and_the_words_of_a_wish_do_not_mix_up_answers():
    model = random_model(3)
    answers = Answers()
    answers.solve(model)
    turned = Model(model.variables, model.rules[::-1], model.wishes)
    assert answers.solve(turned) == solve(turned)
    assert answers.reused == 0


# ---- blueprints


class Unkept(Workshop):
    """Makes everything anew for each rule."""

    def _planned(self, rule, declared, grids):
        planned = super()._planned(rule, declared, grids)
        return type(planned)(planned.number, blueprint_of(rule, [declared[name] for name in planned.names]), planned.names)


def narrowed(machine: Machine, random: Random) -> list[object]:
    """Bounds after propagation, and after some decisions in turn."""
    store = machine.store
    seen: list[object] = [store.propagate(), store.low[:], store.high[:]]
    for _ in range(6):
        free = [v for v in range(len(store.low)) if store.low[v] < store.high[v]]
        if not seen[-3] or not free:
            break
        v = random.choice(free)
        value = random.randint(store.low[v], store.high[v])
        seen += [store.restrict(v, value, value), store.low[:], store.high[:]]
    return seen


MODELS = [(f"random {seed}", random_model(seed)) for seed in range(40)] + [(f"card {n}", card(3, n)) for n in range(3)]


@pytest.mark.parametrize(("name", "model"), MODELS, ids=[name for name, _ in MODELS])
def test_propagators_from_kept_blueprints_are_those_made_anew(name, model):
    kept = Workshop()
    Machine(model, kept)
    made = kept.made
    again = Machine(Model(model.variables, model.rules, model.wishes), kept)
    assert kept.made == made, "the second machine needs no new blueprint"
    fresh = Machine(model, Unkept())
    assert narrowed(again, Random(name)) == narrowed(fresh, Random(name))
    assert again.linear == fresh.linear
    assert [p.variables for p in again.store.propagators] == [p.variables for p in fresh.store.propagators]


def test_blueprints_do_not_depend_on_what_was_made_before():
    """A workshop that has seen many models, swept in between, gives the propagators of a new one."""
    used = Workshop()
    for _, other in MODELS[:30]:
        Machine(other, used)
    for name, model in MODELS[30:]:
        used.shapes._seen.clear()
        assert narrowed(Machine(model, used), Random(name)) == narrowed(Machine(model, Workshop()), Random(name))


def test_numbers_of_blueprints_are_never_used_again(monkeypatch):
    monkeypatch.setattr("foldwright.solver.engine.shapes._SHAPES", 0)  # everything is swept before each model
    workshop = Workshop()
    first, second, third = ({planned.number for planned in workshop.plan(model).rules}
                            for model in (MODELS[0][1], MODELS[1][1], MODELS[0][1]))
    assert not first & second
    assert not first & third


def test_what_two_checks_did_not_ask_for_is_forgotten():
    kept: Kept[str, int] = Kept()
    checks = [("ab", 2), ("bc", 3), ("b", 3), ("c", 4), ("", 4), ("", 4), ("c", 4), ("b", 5), ("cb", 6), ("a", 7)]
    for wanted, computed in checks:
        kept.turn()
        for name in wanted:
            assert kept.get(name, lambda name=name: ord(name)) == ord(name)
        assert kept.computed == computed, wanted
