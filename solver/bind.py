"""Design → mechanisms and model: names are resolved, settings become unknowns and rules with their places."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from typing import Any

from foldwright.grammar import design as ast
from foldwright.grammar.kept import Kept
from foldwright.grammar.problem import Problem, Refused
from foldwright.grammar.problems import MissingStatement, NameTwice, SettingMissing, UnknownKeyword, UnknownName
from foldwright.grammar.source import Span
from foldwright.solver.artfile import load_art
from foldwright.solver.card import Choices, Paper
from foldwright.solver.expression import Const, Expr
from foldwright.solver.freeing import Freed
from foldwright.solver.host import Site
from foldwright.solver.hosting import Hosting
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Model, Rule, Wish
from foldwright.solver.neighbours import Neighbours
from foldwright.solver.settings import Raw, SettingsReader
from foldwright.solver.unknowns import Unknowns
from foldwright.solver.variants import faults
from foldwright.solver.waive import waive
from foldwright.solver.written import Written


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


class Binder(Unknowns, Hosting, Neighbours):
    """The work of `bind`: mechanisms are made in the order in which they are asked for, each after its host."""

    # ---- the whole run

    def run(self) -> Bound:
        """All stages; problems of one block do not hide those of the next."""
        for block in self.design.blocks:
            self._enter(block)
        if "cover" in self.raws:
            for name in self.raws:
                self.attempt(partial(self.mechanism, name))
        rules = self._rules()
        # where a block has faults its rules are not known, so nothing is said of those that are waived
        rules, waived = waive(rules, self.design, [] if self.problems else self.problems)
        self.problems.extend(faults(self.design, self.kinds))
        wishes = [w for w in (self.attempt(partial(self._wish, p)) for p in self.design.prefers) if w]
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

    # ---- mechanisms

    def mechanism(self, name: str, at: Span | None = None) -> Mechanism:
        """The mechanism of that name, made when first asked for, after its host."""
        if name not in self.mechanisms:
            raw = self.raws[name]
            self.enter_busy(name, at or raw.block.at)
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
        site = Site(raw.name, {}, raw.choices, raw.counts, None, paper, caliper, self.habits,
                    grammage=self.grammages.get(paper, Fraction(0)))
        if "nothing" in kind.stands_on:
            self._require_size(raw)
            site = replace(site, contents=self._contents())
        else:
            site = replace(site, cover=self.offered("environment", self.mechanism("cover")))
            site = self._hosted(kind, raw, site)
        parameters = {p.name: self.value(raw, p, raw.block.at) for p in kind.parameters}
        lows = {p: self.lowest(raw.name, p) for p in parameters}
        site = replace(site, parameters=parameters, art=load_art(raw, self.design, self.habits), lows=lows)
        made: Mechanism = self.kept.get(self._known_by(kind, site), partial(kind, site))
        return made

    def _known_by(self, kind: type[Mechanism], site: Site) -> Hashable:
        """Everything that a mechanism is told: its site, with its host and the cover in place of what they offer."""
        owner, place = self.hosts.get(site.name, ("", ""))
        around = tuple([self.mechanisms.get(name) for name in (owner, "cover")])
        at = tuple([(word, self.told(where) if isinstance(where, Expr) else where) for word, where in site.at.items()])
        parameters = tuple([self.told(expr) for expr in site.parameters.values()])
        return ("mechanism", kind, site.name, place, *around, self.workshop, site.art, at, parameters, *site.choices.items(), "",
                *site.counts.items(), site.paper, site.caliper, tuple(site.lows.values()), site.contents, site.grammage)

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
            rule = self.attempt(partial(self._require, require, number))
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


def _among(mechanism: Mechanism, everything: tuple[Mechanism, ...]) -> tuple[Rule, ...]:
    """Rules of a mechanism that concern all others."""
    return tuple(mechanism.among(everything))
