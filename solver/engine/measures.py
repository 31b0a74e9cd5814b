"""One unknown for each measure that several of the designer's rules speak of, such as the height of a tent.

Propagation looks at one rule at a time. Where a measure is a root or a product, two rules about it share nothing but the
dimensions below it, whose bounds say little about it: `a >= 1.2 * b` and `b >= a`, both heights, are refuted only by
cutting all walls and spreads into small pieces. With an unknown for each height the same rules are sums, and go round until
nothing is left. These unknowns and sums are redundant: each measure may miss its unknown by one step, and each sum has that
much room, so they remove nothing that the rules themselves accept.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from math import ceil, floor
from typing import TYPE_CHECKING

from foldwright.solver.engine.blueprint import Curved, sides
from foldwright.solver.engine.graph import Form, Node, integer_form
from foldwright.solver.engine.linear import at_most
from foldwright.solver.engine.propagate import Propagator
from foldwright.solver.engine.spans import spans
from foldwright.solver.evaluate import TOLERANCE
from foldwright.solver.model import Kind

if TYPE_CHECKING:
    from foldwright.solver.engine.machine import Machine

_STEP = Fraction(1, 256)  # mm or degrees: well under a grid step, and wide enough that few steps lead across a range
_WIDEST = 100_000  # measures that may be greater (areas) get no unknown: it would be walked through step by step


def share(machine: Machine) -> list[int]:
    """Enter the unknowns and sums of a machine's shared measures; returns the numbers of what ties them to the dimensions."""
    forms = _forms(machine)
    unknowns, ties = _unknowns(machine, forms)
    for number, form in forms:
        measured = [n for n in form.factors if not machine.graph.is_variable(n)]
        if not all(n in unknowns for n in measured):
            continue
        room = sum((abs(form.factors[n]) for n in measured), Fraction(0)) * _STEP + 2 * Fraction(TOLERANCE)
        for sign in (1, -1) if machine.model.rules[number].operator == "=" else (1,):
            factors = {unknowns.get(n, n): factor * sign for n, factor in form.factors.items()}
            terms, constant = integer_form(machine.graph, Form(form.constant * sign - room, factors))
            revise = at_most(machine.store, terms, ceil(constant))
            machine.store.add(Propagator(revise, tuple(v for v, _ in terms), number, again=False))
    return ties


def _forms(machine: Machine) -> list[tuple[int, Form]]:
    """The designer's rules that are not linear, by number, as a form that is to be at most zero (or zero)."""
    forms = []
    for number, (rule, planned) in enumerate(zip(machine.model.rules, machine.plan.rules, strict=True)):
        if rule.kind is Kind.DESIGNER and isinstance(planned.blueprint, Curved):
            a, b = sides(rule)
            forms.append((number, machine.graph.combine(machine.graph.form(a), machine.graph.form(b), -1)))
    return forms


def _unknowns(machine: Machine, forms: list[tuple[int, Form]]) -> tuple[dict[int, int], list[int]]:
    """The node of an unknown for each node that two forms share, and the numbers of the ties between the two."""
    graph, store = machine.graph, machine.store
    count = Counter(n for _, form in forms for n, factor in form.factors.items() if factor and not graph.is_variable(n))
    unknowns: dict[int, int] = {}
    ties: list[int] = []
    for n, times in count.items():
        low, high = spans(graph, store, n)[n]
        if times < 2 or not -_WIDEST < low <= high < _WIDEST:
            continue
        unknown = machine.auxiliary(floor(low / float(_STEP)) - 1, ceil(high / float(_STEP)) + 1, _STEP)
        unknowns[n] = graph.node(Node("var", (unknown,)))
        root = graph.wrap(Form(Fraction(0), {n: Fraction(1), unknowns[n]: Fraction(-1)}))
        ties.append(machine.link(root, -float(_STEP), float(_STEP)))
    return unknowns, ties
