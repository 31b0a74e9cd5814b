"""Random small models with every kind of expression, and their answers by plain enumeration."""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from random import Random

import pytest

from foldwright.solver.evaluate import Undefined, evaluate, holds, measure
from foldwright.solver.expression import Expr, Variable, cos, largest, lift, sin, smallest, sqrt, tan
from foldwright.solver.model import Kind, Model, Rule, Wish

STEPS = [Fraction(1), Fraction(1, 2), Fraction(1, 10), Fraction(127, 80), Fraction(1, 4)]
KINDS = list(Kind)


def random_model(seed: int, most: int = 4) -> Model:
    random = Random(seed)
    variables = [_variable(random, n) for n in range(random.randint(1, most))]
    point = {v.name: v.step * random.randint(v.low, v.high) for v in variables} if random.random() < 0.7 else None
    rules = tuple(_rule(random, variables, n, point) for n in range(random.randint(1, 6)))
    wishes = tuple(_wish(random, variables, n) for n in range(random.randint(0, 2)))
    return Model(tuple(variables), rules, wishes)


def _variable(random: Random, n: int) -> Variable:
    name = f"{'xy'[n % 2]}.{'abcd'[n]}"
    if random.random() < 0.35:
        low = random.choice([-20, 0, 30, 60, 80])
        return Variable(name, Fraction(random.choice([1, 5, 10])), low // 10, low // 10 + random.randint(1, 7))
    step, low = random.choice(STEPS), random.randint(-6, 12)
    liked = random.choice([None, None, Fraction(random.randint(-30, 60), 7), step * (low + 2) + step / 2])
    return Variable(name, step, low, low + random.randint(0, 8), liked)


def _constant(random: Random) -> Fraction:
    return Fraction(random.randint(-12, 24), random.choice([1, 1, 2, 5]))


def _linear(random: Random, variables: list[Variable]) -> Expr:
    total = lift(_constant(random) if random.random() < 0.5 else 0)
    for variable in random.sample(variables, random.randint(1, min(3, len(variables)))):
        total = total + variable * Fraction(random.choice([-3, -2, -1, 1, 1, 1, 2]), random.choice([1, 1, 2]))
    return total


def expression(random: Random, variables: list[Variable], depth: int = 2) -> Expr:
    pick = random.random() if depth else 0.0
    if pick < 0.3:
        return _linear(random, variables)
    a = expression(random, variables, depth - 1)
    if pick < 0.42:
        return sqrt(a)
    if pick < 0.62:
        return random.choice([sin, cos, tan])(a) * random.randint(1, 20)
    b = expression(random, variables, depth - 1)
    if pick < 0.75:
        return a * (a if random.random() < 0.3 else b)
    if pick < 0.8:
        return a / b if b != lift(0) else a
    return random.choice([smallest, largest])(a, b) if pick < 0.9 else a - b


def _rule(random: Random, variables: list[Variable], n: int, point: dict[str, Fraction] | None) -> Rule:
    left = _linear(random, variables) if random.random() < 0.5 else expression(random, variables)
    right = lift(_constant(random)) if random.random() < 0.6 else expression(random, variables, 1)
    operator = random.choice(["<=", ">=", "<=", ">=", "="])
    if point is not None:  # let the rule hold there, mostly without room to spare
        try:
            apart = evaluate(left, point) - evaluate(right, point)
            room = random.choice([Fraction(0), Fraction(0), Fraction(1, 3)]) * (1 if operator == "<=" else -1)
            right = right + Fraction(apart) + (room if operator != "=" else 0)
        except Undefined:
            pass
    return Rule(f"r{n}", random.choice(KINDS), left, operator, right, f"rule {n}")


def _wish(random: Random, variables: list[Variable], n: int) -> Wish:
    target = sum((expression(random, variables, random.choice([0, 1, 2])) for _ in range(random.randint(1, 3))), lift(0))
    return Wish(f"w{n}", target, random.random() < 0.5, random.choice([Fraction(1, 10), Fraction(1), Fraction(7, 3)]))


def every_answer(model: Model, rules: tuple[Rule, ...] | None = None) -> list[dict[str, Fraction]]:
    """All answers, in no particular order of quality."""
    kept = model.rules if rules is None else rules
    names = [variable.name for variable in model.variables]
    ranges = [[v.step * n for n in range(v.low, v.high + 1)] for v in model.variables]
    chosen = (dict(zip(names, values, strict=True)) for values in product(*ranges))
    return [values for values in chosen if all(holds(rule, values) for rule in kept)]


def best(model: Model) -> tuple[dict[str, Fraction] | None, list[Fraction]]:
    """The canonical answer and the value of each wish that has one, by sorting all answers."""
    answers = every_answer(model)
    reached = []
    for wish in model.wishes:
        measured = []
        for values in answers:
            try:
                measured.append((measure(wish, values), values))
            except Undefined:
                continue
        if not measured:
            continue
        top = (max if wish.largest else min)(value for value, _ in measured)
        answers = [values for value, values in measured if value == top]
        reached.append(top)

    def taste(values: dict[str, Fraction]) -> list[tuple[Fraction, Fraction]]:
        return [
            (abs(values[v.name] - v.preferred) if v.preferred is not None else values[v.name], values[v.name])
            for v in model.variables
        ]

    return (min(answers, key=taste) if answers else None), reached


def separate_model(seed: int) -> Model:
    """Rules that join at most two variables, and wishes over all with a coarse grain: components share what is left."""
    random = Random(seed)
    variables = [_variable(random, n % 4) for n in range(4)]
    point = {v.name: v.step * random.randint(v.low, v.high) for v in variables}
    groups = random.choice([[[0], [1], [2], [3]], [[0, 1], [2, 3]], [[0, 2], [1], [3]]])
    rules, wishes = [], []
    for group in groups:
        inside = [variables[n] for n in group]
        rules += [_rule(random, inside, len(rules), point) for _ in range(random.randint(0, 2))]
    for n in range(random.choice([1, 1, 2])):
        target = lift(0)
        for group in groups:
            target = target + expression(random, [variables[v] for v in group], random.choice([0, 1, 2]))
        wishes.append(Wish(f"w{n}", target, random.random() < 0.5, Fraction(random.choice([5, 12, 40]))))
    return Model(tuple(variables), tuple(rules), tuple(wishes))


def shared_model(seed: int) -> Model:
    """Two components of two variables each, declared in turns, that share the room a coarse grain leaves."""
    random = Random(seed)
    variables = [
        Variable(name, Fraction(1), 0, 5, Fraction(random.randint(0, 6)) if random.random() < 0.8 else None)
        for name in ("p.a", "q.b", "p.c", "q.d")
    ]
    a, b, c, d = variables
    rules = []
    for n, (x, y) in enumerate(((a, c), (b, d))):
        least = lift(random.randint(4, 14))
        rules.append(Rule(f"r{n}", Kind.GEOMETRY, x * random.randint(1, 3) + y * random.randint(1, 3), ">=", least, ""))
        if random.random() < 0.7:
            bound = lift(random.randint(4, 30))
            rules.append(Rule(f"s{n}", Kind.GEOMETRY, x * y, random.choice(["<=", ">="]), bound, ""))
    target = lift(0)
    for variable in variables:
        target = target + variable * random.randint(1, 4)
    if random.random() < 0.5:
        target = target + a * c + b * d
    wishes = [Wish("w", target, False, Fraction(random.choice([3, 5, 9, 15])))]
    if random.random() < 0.3:
        wishes.append(Wish("w2", a * 2 + b * 3 - c, False, Fraction(4)))
    return Model(tuple(variables), tuple(rules), tuple(wishes))


def count_calls(monkeypatch: pytest.MonkeyPatch, owner: type, name: str) -> list[str]:
    """A list that grows with every call of a method."""
    calls: list[str] = []
    method = getattr(owner, name)

    def counted(*arguments: object) -> object:
        calls.append(name)
        return method(*arguments)

    monkeypatch.setattr(owner, name, counted)
    return calls
