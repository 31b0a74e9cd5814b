"""Parameters of mechanisms: each is an unknown with the rules of its range, or what the script computes it from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from foldwright.grammar import design as ast
from foldwright.grammar.problem import Refused
from foldwright.grammar.problems import NotPositive, RangeUpsideDown
from foldwright.grammar.source import Span
from foldwright.solver.artfile import load_art
from foldwright.solver.binding import Binding
from foldwright.solver.expression import Const, Expr, Variable, linear_form
from foldwright.solver.freeing import as_written
from foldwright.solver.model import Kind, Rule
from foldwright.solver.notation import common
from foldwright.solver.parameter import Parameter
from foldwright.solver.settings import Raw

LONGEST = 2000  # mm; no page of a card is longer


class Unknowns(Binding):
    """The part of the binder that makes unknowns."""

    def value(self, raw: Raw, parameter: Parameter, at: Span) -> Expr:
        """The expression of a parameter: an unknown, or what the script computes it from."""
        key = (raw.name, parameter.name)
        if key not in self.values:
            name = ".".join(key)
            self.enter_busy(name, at)
            try:
                self.values[key] = self._again(raw, parameter, name)
            finally:
                self.busy.pop()
        return self.values[key]

    def _again(self, raw: Raw, parameter: Parameter, name: str) -> Expr:
        """As `_value`; an unknown of which nothing but numbers is written is kept with the rules of its range."""
        written = raw.quantities.get(parameter.name)
        ends = (written.low, written.high) if isinstance(written, ast.Range) else (written,)
        if (written is None and parameter.derive is not None) or not all(isinstance(end, ast.Number | None) for end in ends):
            return self._value(raw, parameter, name)
        key = ("value", name, self.kinds[raw.block.keyword.text], self.design.unit, self.step, len(ends),
               *[(end.value, end.unit) if isinstance(end, ast.Number) else None for end in ends])
        known = self.kept.find(key)
        if known is None:
            before = len(self.range_rules)
            expr = self._value(raw, parameter, name)
            if isinstance(expr, Variable):
                self.kept.put(key, (expr, self.tokens[expr.name], tuple(self.range_rules[before:])))
            return expr
        variable: Variable
        variable, token, rules = known
        self.variables[name], self.tokens[name] = variable, token
        self.spans[name] = raw.spans.get(parameter.name, raw.block.at)
        self.range_rules.extend(rules)
        self.ranges[name] = list(rules)
        return variable

    def _value(self, raw: Raw, parameter: Parameter, name: str) -> Expr:
        written = raw.quantities.get(parameter.name)
        span = raw.spans.get(parameter.name, raw.block.at)
        if isinstance(written, ast.Range):
            return self._ranged(parameter, name, span, written)
        if written is not None:
            expr = self._measured(written, parameter, name)
            if as_written(expr) is not None:
                return self._fixed(expr, parameter, name, span)
            return self._usual(expr, parameter, name)
        if parameter.derive is not None:
            derived = parameter.derive(Siblings(self, raw))
            if derived is not None:
                return derived
        if parameter.low == parameter.high:
            low = Const(parameter.low)
            variable = self._variable(name, parameter, self._holding(low.value, self._grid(parameter)), span)
            self._bound(variable, "=", low, Kind.PRACTICE, "usual", f"{_words(name)} is usually {{right}}")
            return variable
        variable = self._variable(name, parameter, self._grid(parameter), span)
        self._bound(variable, ">=", Const(parameter.low), Kind.PRACTICE, "usual-least",
                    f"{_words(name)} is usually at least {{right}}")
        self._bound(variable, "<=", Const(parameter.high), Kind.PRACTICE, "usual-most",
                    f"{_words(name)} is usually at most {{right}}")
        return variable

    def _measured(self, node: ast.Expression, parameter: Parameter, name: str) -> Expr:
        read = self.reader.angle if parameter.dimension == "angle" else self.reader.length
        expr = read(node, f"`{name}`")
        if isinstance(expr, Const) and (expr.value < 0 or (expr.value == 0 and parameter.low > 0)):
            raise Refused([NotPositive(node.at, f"`{name}`", node.at.text)])
        return expr

    def _usual(self, expr: Expr, parameter: Parameter, name: str) -> Expr:
        """The same expression; its usual range is kept in mind, for whoever changes the numbers that it is computed with."""
        if self.freedom.numbers and parameter.low < parameter.high:
            angle = parameter.dimension == "angle"
            sentence = f"{_words(name)} stays usual"
            self.within[name] = tuple(
                Rule(f"{name}.within-{end}", Kind.PRACTICE, expr, operator, Const(limit), sentence, (), angle)
                for end, operator, limit in (("least", ">=", parameter.low), ("most", "<=", parameter.high)))
        return expr

    def _grid(self, parameter: Parameter) -> Fraction:
        """The grid on which a dimension is found: whole degrees, or the card's step in mm."""
        return Fraction(1) if parameter.dimension == "angle" else self.step

    def _variable(self, name: str, parameter: Parameter, step: Fraction, span: Span) -> Variable:
        variable: Variable
        variable, token = self.kept.get(("unknown", name, step, parameter.dimension, parameter.preferred),
                                        lambda: (self._unknown(name, parameter, step), object()))
        self.variables[name], self.tokens[name] = variable, token
        self.spans[name] = span
        return variable

    @staticmethod
    def _unknown(name: str, parameter: Parameter, step: Fraction) -> Variable:
        highest = Fraction(180 if parameter.dimension == "angle" else LONGEST)
        return Variable(name, step, 0, int(highest / step), parameter.preferred)

    @staticmethod
    def _holding(value: Fraction, grid: Fraction) -> Fraction:
        """A grid that holds a given value: it need not lie on the card's own grid."""
        return common(value, grid) if value else grid

    def _fixed(self, expr: Expr, parameter: Parameter, name: str, span: Span) -> Expr:
        constants = linear_form(expr)
        if constants is None:
            return self._usual(expr, parameter, name)
        grid = self._grid(parameter)
        for value in (constants[1], *constants[0].values()):  # one value, but for a number that is made unknown
            grid = self._holding(value, grid)
        variable = self._variable(name, parameter, grid, span)
        self._bound(variable, "=", expr, Kind.DESIGNER, "written", f"{_words(name)} is {{right}}, as written")
        return variable

    def _ranged(self, parameter: Parameter, name: str, span: Span, written: ast.Range) -> Expr:
        low, high = (self._measured(node, parameter, name) for node in (written.low, written.high))
        ends = as_written(low), as_written(high)
        if ends[0] is not None and ends[1] is not None and ends[0] > ends[1]:
            raise Refused([RangeUpsideDown(written.at, written.low.at.text, written.high.at.text)])
        variable = self._variable(name, parameter, self._grid(parameter), span)
        if None in ends:
            self._usual(variable, parameter, name)
        self._bound(variable, ">=", low, Kind.DESIGNER, "least", f"{_words(name)} is at least {{right}}, as written")
        self._bound(variable, "<=", high, Kind.DESIGNER, "most", f"{_words(name)} is at most {{right}}, as written")
        return variable

    def _bound(self, variable: Variable, operator: str, limit: Expr, kind: Kind, name: str, sentence: str) -> None:
        angle = variable.name in self.spans and self._is_angle(variable.name)
        ends = ("range", variable.name, name, kind, operator, sentence, angle, self.told(variable), self.told(limit))
        rule: Rule = self.kept.get(ends, lambda: Rule(f"{variable.name}.{name}", kind, variable, operator, limit, sentence,
                                                      (), angle))
        self.range_rules.append(rule)
        self.ranges.setdefault(variable.name, []).append(rule)

    def _is_angle(self, name: str) -> bool:
        owner, parameter = name.split(".", 1)
        kind = self.kinds[self.raws[owner].block.keyword.text]
        return any(p.name == parameter and p.dimension == "angle" for p in kind.parameters)

    def lowest(self, owner: str, parameter: str) -> Fraction:
        """Least value that the written or usual range of a parameter allows."""
        lows = [as_written(rule.right) for rule in self.ranges.get(f"{owner}.{parameter}", ()) if rule.operator in (">=", "=")]
        return max((low for low in lows if low is not None), default=Fraction(1))


class Siblings(Mapping[str, Expr]):
    """The other parameters of a block, as a derived one asks for them.

    `astride` tells whether the host is a ridge; `aspect` is the height of the artwork over its width, if there is one.
    """

    def __init__(self, binder: Unknowns, raw: Raw) -> None:
        self.binder = binder
        self.raw = raw
        self.parameters = {p.name: p for p in binder.kinds[raw.block.keyword.text].parameters}

    def __getitem__(self, name: str) -> Expr:
        if name == "astride":
            return Const(Fraction(1 if self.binder.astride(self.raw) else 0))
        if name == "aspect":
            art = load_art(self.raw, self.binder.design, self.binder.habits)
            if art is None:
                raise KeyError(name)
            return Const(art.aspect)
        return self.binder.value(self.raw, self.parameters[name], self.raw.block.at)

    def __iter__(self) -> Iterator[str]:
        return iter((*self.parameters, "astride"))

    def __len__(self) -> int:
        return len(self.parameters) + 1


def _words(name: str) -> str:
    owner, parameter = name.split(".", 1)
    return f"{parameter.replace('_', ' ')} of {owner}"
