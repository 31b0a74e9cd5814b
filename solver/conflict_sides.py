"""What the two sides of a rule come to when the other rules of a conflict hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.questions import Questions
from foldwright.solver.evaluate import Undefined, interval
from foldwright.solver.expression import Expr, lift, linear_form, variables
from foldwright.solver.model import Kind, Model, Rule

Bounds = Mapping[str, tuple[Fraction, Fraction]]
End = tuple[str, float]  # "is", "least" or "most", and the number (mm or degrees)

_VAGUE = 1e6  # mm or degrees; a side that may come to more says nothing
_TURN = 360  # degrees; what may be larger is a length
_SAME = 1e-6  # mm or degrees; far below what is shown
_NEAR = Fraction(1, 20)  # mm or degrees; an end that has to be searched for is found so closely
_QUESTION = 400  # nodes for one question about an end


class Sides:
    """Numbers for the rules of one or more conflicts of a model; one machine answers for all of them."""

    def __init__(self, model: Model, rules: Sequence[Rule]) -> None:
        self.rules = tuple(dict.fromkeys(rules))
        self.place = {rule: n for n, rule in enumerate(self.rules)}
        named = {v.name for rule in self.rules for side in (rule.left, rule.right) for v in variables(side)}
        self.variables = tuple(variable for variable in model.variables if variable.name in named)
        machine = Machine(Model(self.variables, self.rules))
        self.oracle = None if machine.empty else Questions(machine, None)
        self.loosest: Bounds = {v.name: (v.low * v.step, v.high * v.step) for v in machine.declared}
        self._bounds: dict[tuple[int, ...], Bounds] = {}

    def ends(self, rule: Rule, among: Sequence[Rule], closely: bool = False) -> dict[str, End | None]:
        """For "left" and "right" the end that matters; None if it says nothing. `closely` searches where bounds are wide."""
        bounds = self._within(rule, among)
        spans, free = self._spans(rule, among), self._free(rule)
        # an end that would be another one if the longest page were shorter says nothing of the card
        tighter = {name: (low, high / 2 if high == self.loosest[name][1] > _TURN else high)
                   for name, (low, high) in bounds.items()}
        tight = {"left": _span(rule.left, tighter), "right": _span(rule.right, tighter)}
        which = _which(rule.operator, spans)
        told: dict[str, End | None] = {}
        for side, (low, high) in spans.items():
            least = which[side] == "least"
            end, loose = (low, free[side][0]) if least else (high, free[side][1])
            if high - low < _SAME:
                told[side] = "is", low
            else:
                vague = abs(end) > _VAGUE or abs(end - loose) < _SAME or abs(end - tight[side][0 if least else 1]) > _SAME
                told[side] = None if vague else (which[side], end)
        if closely and not _clash(rule.operator, spans) and rule.operator != "=":
            told = self._closer(rule, among, which, spans)
        return told

    def clash(self, rule: Rule, among: Sequence[Rule]) -> bool:
        """Whether the two sides contradict the rule by their bounds alone."""
        return _clash(rule.operator, self._spans(rule, among))

    def _spans(self, rule: Rule, among: Sequence[Rule]) -> dict[str, tuple[float, float]]:
        bounds = self._within(rule, among)
        return {"left": _span(rule.left, bounds), "right": _span(rule.right, bounds)}

    def _within(self, rule: Rule, among: Sequence[Rule]) -> Bounds:
        others = tuple(sorted(self.place[other] for other in among if other is not rule))
        if others not in self._bounds:
            self._bounds[others] = (self.oracle.narrowed(others) if self.oracle else None) or self.loosest
        return self._bounds[others]

    def _free(self, rule: Rule) -> dict[str, tuple[float, float]]:
        return {"left": _span(rule.left, self.loosest), "right": _span(rule.right, self.loosest)}

    def _closer(self, rule: Rule, among: Sequence[Rule], which: Mapping[str, str],
                spans: Mapping[str, tuple[float, float]]) -> dict[str, End | None]:
        """Ends found by search, if they clash then: numbers that do not clash would not explain anything."""
        others = [other for other in among if other is not rule]
        found: dict[str, End | None] = {}
        for side, expr in (("left", rule.left), ("right", rule.right)):
            low, high = spans[side]
            exact = high - low < _SAME
            linear = linear_form(expr)
            if exact or (linear is not None and len(linear[0]) < 2):
                found[side] = ("is", low) if exact else (which[side], low if which[side] == "least" else high)
                continue
            end = self._searched(expr, others, which[side] == "least", low, high)
            found[side] = None if end is None else (which[side], end)
        left, right = found["left"], found["right"]
        if left is None or right is None:
            return {"left": None, "right": None}
        apart = left[1] - right[1] if rule.operator == "<=" else right[1] - left[1]
        return found if apart > 0 else {"left": None, "right": None}

    def _searched(self, expr: Expr, others: Sequence[Rule], least: bool, low: float, high: float) -> float | None:
        """The least (or greatest) value of an expression under some rules, from the safe side; None if it is not to be had."""
        reached = max(low, -_VAGUE), min(high, _VAGUE)
        inside, outside = (Fraction(reached[1]), Fraction(reached[0])) if least else (Fraction(reached[0]), Fraction(reached[1]))
        known = False
        while abs(inside - outside) > _NEAR:
            middle = (inside + outside) / 2
            limit = Rule("limit", Kind.DESIGNER, expr, "<=" if least else ">=", lift(middle.limit_denominator(10**6)), "")
            machine = Machine(Model(self.variables, (*others, limit)))
            if Questions(machine, None).possible(range(len(others) + 1), _QUESTION) is False:
                outside, known = middle, True
            else:
                inside = middle
        return float(outside) if known else None


def _span(expr: Expr, bounds: Bounds) -> tuple[float, float]:
    linear = linear_form(expr)
    if linear is not None:  # what stands in it twice cancels: `at + width - at` is the width
        low = high = linear[1]
        for variable, factor in linear[0].items():
            ends = sorted(factor * end for end in bounds[variable.name])
            low, high = low + ends[0], high + ends[1]
        return float(low), float(high)
    try:
        return interval(expr, bounds)
    except Undefined:
        return float("-inf"), float("inf")


def _which(operator: str, spans: Mapping[str, tuple[float, float]]) -> dict[str, str]:
    """Which end of each side shows that the rule cannot hold."""
    below = operator == ">=" or (operator == "=" and spans["left"][1] < spans["right"][0])
    return {"left": "most", "right": "least"} if below else {"left": "least", "right": "most"}


def _clash(operator: str, spans: Mapping[str, tuple[float, float]]) -> bool:
    (low, high), (least, most) = spans["left"], spans["right"]
    too_much, too_little = low > most + _SAME, high < least - _SAME
    return too_much if operator == "<=" else too_little if operator == ">=" else too_much or too_little
