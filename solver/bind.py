"""Design → mechanisms and model: names are resolved, settings become unknowns and rules with their places."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from typing import Any, TypeVar

from foldwright.grammar import design as ast
from foldwright.grammar.kept import Kept
from foldwright.grammar.problem import Problem, Refused
from foldwright.grammar.problems import (
    CyclicExpression,
    MissingStatement,
    NameTwice,
    NotPositive,
    RangeUpsideDown,
    ReasonMissing,
    SettingMissing,
    UnknownChoice,
    UnknownKeyword,
    UnknownName,
    UnknownPractice,
)
from foldwright.grammar.source import Span
from foldwright.solver.artfile import load_art
from foldwright.solver.card import Choices, Paper
from foldwright.solver.engine.blueprint import shared
from foldwright.solver.expression import Const, Expr, Variable, linear_form
from foldwright.solver.freeing import Freed, Freedom, as_written
from foldwright.solver.hosting import Hosting
from foldwright.solver.mechanism import Mechanism, Parameter, Site, registry
from foldwright.solver.model import Kind, Model, Rule, Wish
from foldwright.solver.neighbours import Neighbours
from foldwright.solver.notation import common
from foldwright.solver.papers import merged, papers
from foldwright.solver.practice import HABITS, grammage
from foldwright.solver.quantity import Quantity, Reader
from foldwright.solver.settings import Raw, SettingsReader
from foldwright.solver.variants import faults
from foldwright.solver.waive import waive
from foldwright.solver.written import Written

T = TypeVar("T")
LONGEST = 2000  # mm; no page of a card is longer
DEFAULT_STEP = {"mm": Fraction(1, 2), "cm": Fraction(1, 2), "in": Fraction(127, 80), "pt": Fraction(1, 2)}


@dataclass(frozen=True)
class Bound:
    """A design with its mechanisms (hosts before what stands on them) and its model."""

    design: ast.Design
    mechanisms: tuple[Mechanism, ...]
    hosts: dict[str, tuple[str, str]]  # mechanism -> (host, crease or face name)
    papers: dict[str, Paper]
    mat: tuple[Fraction, Fraction]  # the largest
    habits: dict[str, Fraction]
    model: Model
    choices: Choices | None = None  # how the design was decided, if it leaves things open
    freed: tuple[Freed, ...] = ()


def bind(design: ast.Design, free: Sequence[Written] = (), kept: Kept[Hashable, Any] | None = None) -> Bound:
    """Mechanisms and model of a design; raises Refused with all problems found.

    Of `free`, numbers of the script, those that can be become unknowns, each kept at its value by a rule (`Bound.freed`).
    With what was `kept` of another bind, mechanisms that are told the same are the same objects, and so are their expressions.
    """
    return Binder(design, free, kept).run()


class Binder(Hosting, Neighbours):
    """The work of `bind`: holds what is known so far, by name."""

    def __init__(self, design: ast.Design, free: Sequence[Written] = (), kept: Kept[Hashable, Any] | None = None) -> None:
        self.design = design
        self.kept: Kept[Hashable, Any] = Kept() if free or kept is None else kept  # unknowns of `free` are told by their places
        self.problems: list[Problem] = []
        self.kinds = registry()
        self.freedom = Freedom(design.source, free)
        self.reader = Reader(design.unit, self.lookup, self.freedom.expression)
        self.step = design.step or DEFAULT_STEP[design.unit or "mm"]
        self.raws: dict[str, Raw] = {}
        self.variables: dict[str, Variable] = {}
        self.tokens: dict[str, object] = {}  # by the name of an unknown: the same object as long as its grid is the same
        self.spans: dict[str, Span] = {}
        self.range_rules: list[Rule] = []
        self.ranges: dict[str, list[Rule]] = {}  # the same by the name of the unknown
        self.within: dict[str, tuple[Rule, ...]] = {}  # usual ranges of what the script computes or gives a range
        self.values: dict[tuple[str, str], Expr] = {}
        self.mechanisms: dict[str, Mechanism] = {}
        self.hosts: dict[str, tuple[str, str]] = {}
        self.busy: list[str] = []
        self.shapes = shared().shapes
        self.habits = self._habits()
        self.papers = papers(design)
        self.merged, faulty = merged(design)
        self.problems.extend(faulty)
        # calipers are exact in the script; going through the float is exact to 1e-6 mm, well under any caliper gauge
        self.calipers = {name: Fraction(paper.caliper).limit_denominator(10**6) for name, paper in self.papers.items()}
        self.grammages = {name: Fraction(grammage(paper.gsm, paper.caliper)).limit_denominator(10**6)
                          for name, paper in self.papers.items()}
        self.placed: dict[tuple[str, tuple[str, ...]], tuple[Span, ...]] = {}  # places by mechanism and unknowns of a rule
        self.workshop: Hashable = self.kept.get(("habits", *self.habits.values()), object)  # equal for equal habits

    # ---- the whole run

    def run(self) -> Bound:
        """All stages; problems of one block do not hide those of the next."""
        for block in self.design.blocks:
            self._enter(block)
        if "cover" in self.raws:
            for name in self.raws:
                self._attempt(partial(self.mechanism, name))
        rules = self._rules()
        # where a block has faults its rules are not known, so nothing is said of those that are waived
        rules, waived = waive(rules, self.design, [] if self.problems else self.problems)
        self.problems.extend(faults(self.design, self.kinds))
        wishes = [w for w in (self._attempt(partial(self._wish, p)) for p in self.design.prefers) if w]
        if not self.design.mats:
            self.problems.append(MissingStatement(self.design.at, "mat", "mat 11.5 in x 11.5 in"))
        if self.problems:
            raise Refused(self._unique(self.problems))
        order = {name: i for i, name in enumerate(self.raws)}
        variables = sorted(self.variables.values(), key=lambda v: (order[v.name.split(".")[0]], 0))
        mat = max(self.design.mats, key=lambda mat: mat.width * mat.height)
        freed = self.freedom.freed(self.within)
        variables += [free.steps for free in freed]
        rules += [free.kept for free in freed]
        model = Model(tuple(variables), tuple(rules), tuple(wishes), tuple(waived))
        return Bound(self.design, tuple(self.mechanisms.values()), self.hosts, self.papers, (mat.width, mat.height),
                     self.habits, model, freed=freed)

    def _attempt(self, work: Callable[[], T]) -> T | None:
        """Result of some work, or None after keeping its problems."""
        try:
            return work()
        except Refused as refused:
            self.problems.extend(refused.problems)
            return None

    @staticmethod
    def _unique(problems: list[Problem]) -> list[Problem]:
        out: list[Problem] = []
        for problem in problems:
            if problem not in out:
                out.append(problem)
        return out

    def _enter(self, block: ast.Block) -> None:
        kind = self.kinds.get(block.keyword.text)
        if kind is None:
            self.problems.append(UnknownKeyword(block.keyword.at, block.keyword.text, tuple(self.kinds)))
            return
        raw = SettingsReader(kind, block, self.problems).read()
        if raw.name in self.raws:
            first = self.raws[raw.name].block
            self.problems.append(NameTwice((block.name or block.keyword).at, raw.name, (first.name or first.keyword).at))
            return
        self.raws[raw.name] = raw

    # ---- habits and papers

    def _habits(self) -> dict[str, Fraction]:
        habits = {habit.name: habit.value for habit in HABITS}
        kinds = {habit.name: habit.dimension for habit in HABITS}
        for practice in self.design.practices:
            name = practice.name.text
            if name not in habits:
                self.problems.append(UnknownPractice(practice.name.at, name, tuple(habits)))
                continue
            if not practice.because:
                self.problems.append(ReasonMissing(practice.at, f"practice {name}"))
            value = self._attempt(partial(self._number, practice.value, kinds[name], name))
            if value is not None:
                habits[name] = value
        return habits

    def _number(self, node: ast.Expression, dimension: str, what: str) -> Fraction:
        quantity = self.reader.adopt(self.reader.read(node), dimension, node, what)
        if not isinstance(quantity.expr, Const):
            raise Refused([UnknownChoice(node.at, node.at.text, what, ("a number",))])
        if quantity.expr.value < 0:
            raise Refused([NotPositive(node.at, what, node.at.text)])
        return quantity.expr.value

    def _grammage(self, name: str) -> Fraction:
        return self.grammages.get(name, Fraction(0))

    def _caliper(self, raw: Raw) -> tuple[str, Fraction]:
        name = raw.paper
        kind = self.kinds[raw.block.keyword.text]
        if name is None and not kind.takes_paper(raw.choices):
            # what is cut out of its host's sheet is as thick as that
            return "", self._caliper(self.raws[self._target(raw, "on spine")[1]])[1] if "sheet" in kind.stands_on else Fraction(0)
        if name is None:
            example = next(iter(self.papers), "ink")
            raise Refused([SettingMissing(raw.block.at, raw.block.keyword.text, "paper", f"paper {example}")])
        sheet = self.merged.get(name.text, name.text)
        if sheet not in self.papers:
            raise Refused([UnknownName(name.at, name.text, tuple(self.papers))])
        return sheet, self.calipers[sheet]

    # ---- names

    def lookup(self, node: ast.Name) -> Quantity:
        """What a name in an expression stands for."""
        if len(node.path) != 2 or node.path[0] not in self.raws:
            raise Refused([UnknownName(node.at, node.text, self._all_names())])
        owner, name = node.path
        raw = self.raws[owner]
        parameters = {p.name: p for p in self.kinds[raw.block.keyword.text].parameters}
        if name in parameters:
            angle = parameters[name].dimension == "angle"
            return Quantity(self.value(raw, parameters[name], node.at), 0 if angle else 1, angle)
        measures = self.offered("measures", self.mechanism(owner, node.at))
        if name in measures:
            return Quantity(measures[name], 1)
        raise Refused([UnknownName(node.at, node.text, (*self._all_names(), *(f"{owner}.{m}" for m in measures)))])

    def _all_names(self) -> tuple[str, ...]:
        """Every dimension by its full name."""
        return tuple(f"{raw.name}.{p.name}" for raw in self.raws.values() for p in self.kinds[raw.block.keyword.text].parameters)

    def _enter_busy(self, key: str, at: Span) -> None:
        if key in self.busy:
            cycle = (*self.busy[self.busy.index(key):], key)
            raise Refused([CyclicExpression(at, cycle)])
        self.busy.append(key)

    # ---- parameters

    def value(self, raw: Raw, parameter: Parameter, at: Span) -> Expr:
        """The expression of a parameter: an unknown, or what the script computes it from."""
        key = (raw.name, parameter.name)
        if key not in self.values:
            name = ".".join(key)
            self._enter_busy(name, at)
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

    def astride(self, raw: Raw) -> bool:
        """True if a block stands on the outer side of a ridge."""
        if raw.place is None or not isinstance(raw.place.target, ast.Name):
            return False
        crease = self._crease(raw)[1]
        return crease is not None and crease.astride

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
        ends = ("range", variable.name, name, kind, operator, sentence, angle, self._told(variable), self._told(limit))
        rule: Rule = self.kept.get(ends, lambda: Rule(f"{variable.name}.{name}", kind, variable, operator, limit, sentence,
                                                      (), angle))
        self.range_rules.append(rule)
        self.ranges.setdefault(variable.name, []).append(rule)

    def _is_angle(self, name: str) -> bool:
        owner, parameter = name.split(".", 1)
        kind = self.kinds[self.raws[owner].block.keyword.text]
        return any(p.name == parameter and p.dimension == "angle" for p in kind.parameters)

    # ---- mechanisms

    def mechanism(self, name: str, at: Span | None = None) -> Mechanism:
        """The mechanism of that name, made when first asked for, after its host."""
        if name not in self.mechanisms:
            raw = self.raws[name]
            self._enter_busy(name, at or raw.block.at)
            try:
                made = self._make(raw)
            finally:
                self.busy.pop()
            self.mechanisms[name] = made
        return self.mechanisms[name]

    def _make(self, raw: Raw) -> Mechanism:
        kind = self.kinds[raw.block.keyword.text]
        if kind.takes_art == "required" and raw.art is None:
            raise Refused([])  # already told when the settings were read
        paper, caliper = self._caliper(raw)
        site = Site(raw.name, {}, raw.choices, raw.counts, None, paper, caliper, self.habits, grammage=self._grammage(paper))
        if "nothing" in kind.stands_on:
            self._require_size(raw)
            site = replace(site, contents=self._contents())
        else:
            site = replace(site, cover=self.offered("environment", self.mechanism("cover")))
            site = self._hosted(kind, raw, site)
        parameters = {p.name: self.value(raw, p, raw.block.at) for p in kind.parameters}
        lows = {p: self._lowest(raw.name, p) for p in parameters}
        site = replace(site, parameters=parameters, art=load_art(raw, self.design), lows=lows)
        made: Mechanism = self.kept.get(self._known_by(kind, site), partial(kind, site))
        return made

    def _known_by(self, kind: type[Mechanism], site: Site) -> Hashable:
        """Everything that a mechanism is told: its site, with its host and the cover in place of what they offer."""
        owner, place = self.hosts.get(site.name, ("", ""))
        around = tuple([self.mechanisms.get(name) for name in (owner, "cover")])
        art = None if site.art is None else (site.art.outline.wkb, site.art.aspect)
        at = tuple([(word, self._told(where) if isinstance(where, Expr) else where) for word, where in site.at.items()])
        parameters = tuple([self._told(expr) for expr in site.parameters.values()])
        return ("mechanism", kind, site.name, place, *around, self.workshop, art, at, parameters, *site.choices.items(), "",
                *site.counts.items(), site.paper, site.caliper, tuple(site.lows.values()), site.contents, site.grammage)

    def _told(self, expr: Expr) -> Hashable:
        """What decides an expression: its shape, and its unknowns with their grids and preferred values."""
        shape, names = self.shapes.of(expr)
        return shape, names, tuple([self.tokens.get(name) for name in names])

    def offered(self, what: str, mechanism: Mechanism) -> Any:
        """What a method of a mechanism returns that asks for nothing but its site."""
        known = self.kept.find((what, mechanism))
        if known is None:
            known = getattr(mechanism, what)()
            known = tuple(known) if isinstance(known, Iterator) else known
            self.kept.put((what, mechanism), known)
        return known

    def _lowest(self, owner: str, parameter: str) -> Fraction:
        """Least value that the written or usual range of a parameter allows."""
        lows = [as_written(rule.right) for rule in self.ranges.get(f"{owner}.{parameter}", ()) if rule.operator in (">=", "=")]
        return max((low for low in lows if low is not None), default=Fraction(1))

    def _require_size(self, raw: Raw) -> None:
        if "width" not in raw.quantities:
            raise Refused([SettingMissing(raw.block.at, raw.block.keyword.text, "size", "cover 130 x 180")])

    def _contents(self) -> Fraction:
        """Thickness of everything between the covers, in mm, every mechanism at its thickest place, glue included."""
        total = Fraction(0)
        for raw in self.raws.values():
            kind = self.kinds[raw.block.keyword.text]
            if "nothing" not in kind.stands_on:
                total += kind.thickness(self._caliper(raw)[1], raw.counts, raw.choices)
                total += kind.joints(raw.choices) * self.habits["joint.thickness"]
        return total

    # ---- rules and wishes

    def _rules(self) -> list[Rule]:
        rules = list(self.range_rules)
        everything = tuple(self.mechanisms.values())
        for mechanism in self.mechanisms.values():
            rules.extend(self.offered("rules", mechanism))
            rules.extend(self.kept.get(("among", mechanism, *everything), partial(_among, mechanism, everything)))
            rules.extend(self._mat_rules(mechanism))
        rules.extend(self._neighbours())
        placed = [self._placed(rule) for rule in rules]
        for number, require in enumerate(self.design.requires, 1):
            rule = self._attempt(partial(self._require, require, number))
            if rule is not None:
                placed.append(rule)
        return placed

    def _placed(self, rule: Rule) -> Rule:
        """The rule with the lines that it comes from: what sets its unknowns, and last the head of its mechanism."""
        owner = rule.name.partition(".")[0]
        names = self.shapes.of(rule.left)[1] + self.shapes.of(rule.right)[1]
        at = self.placed.get((owner, names))
        if at is None:
            written = dict.fromkeys([self.spans[name] for name in names if name in self.spans])
            head = [self.raws[owner].block.at] if owner in self.raws else []
            at = self.placed[owner, names] = (*[span for span in written if span not in head], *head)
        return Rule(rule.name, rule.kind, rule.left, rule.operator, rule.right, rule.sentence, at, rule.angle, rule.still)

    def _require(self, node: ast.Require, number: int) -> Rule:
        operands = [(self.reader.read(node.left), node.left), (self.reader.read(node.right), node.right)]
        if all(q.bare for q, _ in operands):
            operands = [(self.reader.adopt(q, "plain", n), n) for q, n in operands]
        left, right = self.reader.alike(operands)
        text = f"you require {node.left.at.text.strip()} {node.operator} {node.right.at.text.strip()}"
        if node.because:
            text += f', because "{node.because}"'
        # of a side that is a number the script shows all there is to know
        sides = [mark for mark, side in (("{left}", left.expr), ("{right}", right.expr)) if not isinstance(side, Const)]
        text += {1: f": it comes to {sides[0] if sides else ''}", 2: ": the left side comes to {left}, the right side to {right}"
                 }.get(len(sides), "")
        return Rule(f"require-{number}", Kind.DESIGNER, left.expr, node.operator, right.expr, text, (node.at,), left.angle)

    def _wish(self, node: ast.Prefer) -> Wish:
        direction = node.direction.text
        if isinstance(node.target, ast.Name) and node.target.text == "paper":
            total: Expr = Const(Fraction(0))
            for mechanism in self.mechanisms.values():
                total = total + self.offered("area", mechanism)
            return Wish("least paper", total, direction == "largest", Fraction(1), node.at, "area")
        quantity = self.reader.read(node.target)
        dimension = "angle" if quantity.angle else {0: "plain", 1: "length", 2: "area"}.get(quantity.power, "plain")
        grain = {"length": self.step, "plain": Fraction(1, 1000)}.get(dimension, Fraction(1))
        text = f"{direction} {node.target.at.text.strip()}"
        return Wish(text, quantity.expr, direction == "largest", grain, node.at, dimension)


class Siblings(Mapping[str, Expr]):
    """The other parameters of a block, as a derived one asks for them.

    `astride` tells whether the host is a ridge; `aspect` is the height of the artwork over its width, if there is one.
    """

    def __init__(self, binder: Binder, raw: Raw) -> None:
        self.binder = binder
        self.raw = raw
        self.parameters = {p.name: p for p in binder.kinds[raw.block.keyword.text].parameters}

    def __getitem__(self, name: str) -> Expr:
        if name == "astride":
            return Const(Fraction(1 if self.binder.astride(self.raw) else 0))
        if name == "aspect":
            art = load_art(self.raw, self.binder.design)
            if art is None:
                raise KeyError(name)
            return Const(art.aspect)
        return self.binder.value(self.raw, self.parameters[name], self.raw.block.at)

    def __iter__(self) -> Iterator[str]:
        return iter((*self.parameters, "astride"))

    def __len__(self) -> int:
        return len(self.parameters) + 1


def _among(mechanism: Mechanism, everything: tuple[Mechanism, ...]) -> tuple[Rule, ...]:
    """Rules of a mechanism that concern all others."""
    return tuple(mechanism.among(everything))


def _words(name: str) -> str:
    owner, parameter = name.split(".", 1)
    return f"{parameter.replace('_', ' ')} of {owner}"

