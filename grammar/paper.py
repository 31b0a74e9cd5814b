"""The `paper` statement: a name, a colour, and the weight or the caliper."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

from foldwright.grammar import design, problems
from foldwright.grammar.constant import NotConstant, constant, length, named, shown
from foldwright.grammar.problem import Problem
from foldwright.grammar.source import Span
from foldwright.grammar.units import GRADES, grams_per_square_metre

EXAMPLE = "paper ink  colour #22304a  weight 216 gsm"
SETTINGS = ("colour", "weight", "bulk", "caliper", "grain")
BULKS = Fraction(1, 2), Fraction(4)  # cm³/g; tracing paper has 0.8, the loosest book papers 2.5 (common practice, no source)
GRAINS = ("along", "across")  # the mat's height
_POINTS = ("write 10 points of caliper as `0.010 in`: the trade's point is 0.001 in, but pt is 1/72 in",)
_WEIGHTS = "a weight in gsm, or in lb with a grade,"


def read_paper(name: design.Word, arguments: tuple[design.Argument, ...], card_unit: str | None,
               at: Span, instead_of: design.Paper | None = None) -> tuple[design.Paper, list[Problem]]:
    """A paper from the words and values behind its name; what is wrong is left out of it.

    `instead_of` is the paper whose place it takes in a variant: what the line leaves out stays. Weight and caliper are
    replaced together, since those of one sheet say nothing of another.
    """
    line = _Line(name, list(arguments), card_unit)
    while line.rest:
        try:
            line.read_setting()
        except NotConstant as fault:
            line.problems.append(fault.problem)
    if instead_of is not None:
        if "colour" not in line.seen:
            line.colour = instead_of.colour
        if "grain" not in line.seen:
            line.grain = instead_of.grain
        if not {"weight", "caliper"} & set(line.seen):
            line.gsm, line.caliper, line.thickness = instead_of.gsm, instead_of.caliper, instead_of.thickness
            line.bulk = line.bulk or instead_of.bulk
    elif "colour" not in line.seen and not line.unknown:  # an unknown setting may well be a misspelt colour
        line.problems.append(problems.SettingMissing(name.at, "paper", "colour", "colour #22304a"))
    if "bulk" in line.seen and line.gsm is None:  # alone it says nothing
        what = "the weight that goes with the bulk"
        line.problems.append(problems.ValueMissing(line.seen["bulk"], what, "weight 216 gsm bulk 1.3"))
    return design.Paper(name, line.colour, line.gsm, line.caliper, at, line.thickness, line.grain, line.bulk), line.problems


@dataclass
class _Line:
    """What is still to be read of a paper's line, and what has been found."""

    name: design.Word
    rest: list[design.Argument]
    card_unit: str | None
    colour: str = "#000000"
    gsm: Fraction | None = None
    caliper: Fraction | None = None
    thickness: design.Argument | None = None
    grain: str = ""
    bulk: Fraction | None = None
    seen: dict[str, Span] = field(default_factory=dict)
    unknown: bool = False
    problems: list[Problem] = field(default_factory=list)

    def read_setting(self) -> None:
        """Read one word and its value; raises NotConstant if the value is wrong."""
        word = self.rest.pop(0)
        setting = _setting_word(word)
        if setting is None:
            self._refuse(word)
            return
        if setting in self.seen:
            self.problems.append(problems.SettingTwice(word.at, setting, self.seen[setting]))
        self.seen.setdefault(setting, word.at)
        if isinstance(word, design.Place):
            self.grain = word.target.at.text.split()[-1]
            return
        value = self.rest.pop(0) if self.rest and _setting_word(self.rest[0]) is None else None
        if setting == "grain":  # the syntax takes the right words together with it
            self._refuse_grain(word, value)
        elif setting == "colour":
            self._read_colour(word, value)
        elif value is None:
            example = {"weight": "weight 216 gsm", "bulk": "bulk 1.3"}.get(setting, "caliper 0.28 mm")
            raise NotConstant(problems.ValueMissing(word.at, f"the {setting}", example))
        elif setting == "bulk":
            self._read_bulk(value)
        elif setting == "weight":
            self._read_weight(value)
        else:
            self._read_caliper(value)

    def _refuse(self, word: design.Argument) -> None:
        """Report something that is no setting, and pass over what seems to belong to it."""
        if isinstance(word, design.Name):
            self.unknown = True
            self.problems.append(problems.UnknownSetting(word.at, word.text, "paper", SETTINGS))
        else:
            self.problems.append(problems.ValueWrong(word.at, "this", "`colour`, `weight`, `bulk`, `caliper` or `grain`"))
        while self.rest and _setting_word(self.rest[0]) is None:
            self.rest.pop(0)

    def _refuse_grain(self, word: design.Argument, value: design.Argument | None) -> None:
        if value is None:
            raise NotConstant(problems.ValueMissing(word.at, "the direction of the grain", "grain along"))
        raise NotConstant(problems.UnknownChoice(value.at, value.at.text, "grain", GRAINS))

    def _read_colour(self, word: design.Argument, value: design.Argument | None) -> None:
        if isinstance(value, design.Colour):
            self.colour = value.text
            return
        at = value.at if value is not None else _comment_after(word.at)
        if at is None:
            raise NotConstant(problems.ValueMissing(word.at, "the colour", "colour #22304a"))
        raise NotConstant(problems.BadColour(at, at.text))

    def _read_weight(self, value: design.Argument) -> None:
        found = constant(value, self.card_unit, "the weight", "a number such as `216 gsm` or `65 lb cover`")
        if found.unit is None:
            raise NotConstant(problems.UnitMissing(value.at, "the weight", "weight 216 gsm"))
        if found.unit not in ("gsm", "lb"):
            raise NotConstant(problems.UnitWrong(value.at, named(found.unit), _WEIGHTS))
        grade = self._grade(value) if found.unit == "lb" else None
        if found.value <= 0:
            amount = f"{shown(found.value)} {found.unit}"
            raise NotConstant(problems.NotPositive(value.at, "the weight", amount))
        self.gsm = grams_per_square_metre(found.value, grade) if grade else found.value
        self.thickness = self.thickness or value

    def _read_bulk(self, value: design.Argument) -> None:
        wanted = f"cm³/g in plain numbers, from {shown(BULKS[0])} to {shown(BULKS[1])}, such as `1.3`"
        found = constant(value, self.card_unit, "the bulk", wanted)
        if found.unit is not None:
            raise NotConstant(problems.UnitWrong(value.at, named(found.unit), wanted))
        if not BULKS[0] <= found.value <= BULKS[1]:
            raise NotConstant(problems.ValueWrong(value.at, "the bulk", wanted))
        self.bulk = found.value

    def _grade(self, value: design.Argument) -> str:
        """The grade behind a weight in pounds, without which it means nothing."""
        word = self.rest[0] if self.rest else None
        if not isinstance(word, design.Name) or _setting_word(word):
            what = "the grade of a weight in pounds"
            raise NotConstant(problems.ValueMissing(value.at, what, "weight 65 lb cover"))
        self.rest.pop(0)
        if word.text not in GRADES:
            raise NotConstant(problems.UnknownChoice(word.at, word.text, "weight in lb", GRADES))
        return word.text

    def _read_caliper(self, value: design.Argument) -> None:
        if re.search(r"[0-9][ \t]*pt\b", value.at.text) or self.card_unit == "pt":
            raise NotConstant(problems.UnitWrong(value.at, "pt", "a caliper in mm or in", _POINTS))
        self.caliper = length(value, self.card_unit, "the caliper", "caliper 0.28 mm")
        self.thickness = value


def _setting_word(argument: design.Argument) -> str | None:
    """The setting that a bare word names, or None."""
    if isinstance(argument, design.Name) and argument.text in SETTINGS:
        return argument.text
    if isinstance(argument, design.Place) and argument.how == "grain":
        return "grain"
    return None


def _comment_after(word: Span) -> Span | None:
    """A comment that follows a word at once and was probably meant as a colour: its first word."""
    match = re.compile(r"[ \t]*(#\w*)").match(word.source.text, word.end)
    return Span(match.start(1), match.end(1), word.source) if match else None
