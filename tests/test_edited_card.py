"""Checks of a card that is edited, with a memory kept between them: each says what a check without memory says."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import pytest
from generate_cards import script
from generate_models import card
from small_models import random_model

from foldwright.api import Checked, Memory, check
from foldwright.grammar import Refused, render
from foldwright.solver.engine import solve
from foldwright.solver.engine.answers import Answers
from foldwright.solver.engine.blueprint import Workshop, blueprint_of
from foldwright.solver.engine.machine import Machine
from foldwright.solver.kept import Kept
from foldwright.solver.model import Model, Rule, Solution

SMALL = script(6, 4)
IMPOSSIBLE = SMALL.replace("require ", "require m0.height >= 240\nrequire ", 1)  # no card is so high


def told(checked: Checked) -> dict[str, object]:
    """What a check found, without what stands for the same in another way (placements are functions)."""
    card = checked.card
    return {
        "dimensions": dict(card.dimensions),
        "rules": [(r.rule.name, r.rule.sentence, r.left, r.right, r.slack, [at.line for at in r.rule.at]) for r in card.rules],
        "wishes": [(w.wish.text, w.value, w.bound) for w in card.wishes],
        "stack": card.stack,
        "parts": [(part.name, part.outline.wkt, part.lines) for part in card.parts],
        "events": checked.swing.events,
        "angles": checked.swing.angles,
        "rows": checked.swing.rows,
        "proof": checked.proof.looked_at,
    }


def outcome(path, memory=None) -> object:
    try:
        return told(check(path, memory=memory))
    except Refused as refused:
        return render(refused.problems)


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
        SMALL,
    ]


def test_a_check_with_a_memory_says_what_one_without_says(tmp_path):
    memory, path = Memory(), tmp_path / "edited.card"
    seen = []
    for text in edits():
        path.write_text(text, encoding="utf-8")
        seen.append(outcome(path, memory))
        assert seen[-1] == outcome(path)
    assert sum(isinstance(words, str) for words in seen) == 1, "one edit, and only one, makes the card impossible"
    assert memory.answers.reused >= 4  # the words, the repair, the title, and the way back
    assert memory.answers.reuse.parts.reused > 0
    assert memory.sides.reused > memory.sides.computed
    assert memory.proved.reused > memory.proved.computed


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
