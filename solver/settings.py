"""Settings of a block, read by what its mechanism says that it takes: words become typed raw values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from foldwright.grammar import design as ast
from foldwright.grammar.letters import Use
from foldwright.grammar.problem import Problem
from foldwright.grammar.problems import (
    SettingMissing,
    SettingTwice,
    UnknownChoice,
    UnknownSetting,
    ValueMissing,
)
from foldwright.grammar.source import Span
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.parameter import Counts

GLUE = ("glue", "pair")  # how a cut-out is fixed


@dataclass(frozen=True)
class Letters:
    """How letters are set that stand in place of an artwork."""

    use: Use
    font: ast.Text | None  # the path of a font of the script's own


@dataclass
class Raw:
    """What a block says, sorted by kind but not yet evaluated."""

    block: ast.Block
    name: str
    quantities: dict[str, ast.Expression | ast.Range] = field(default_factory=dict)
    choices: dict[str, str] = field(default_factory=dict)
    counts: dict[str, tuple[int, int]] = field(default_factory=dict)
    spans: dict[str, Span] = field(default_factory=dict)
    paper: ast.Name | None = None
    art: ast.Text | None = None  # the path of an artwork, or letters
    letters: Letters | None = None  # how the letters are set, if `art` is letters
    strokes: bool = False  # whether those of the artwork are part of its outline
    place: ast.Place | None = None  # host
    at: ast.Name | ast.Size | None = None  # where on a face


class SettingsReader:
    """Reads the settings of one block; problems go into the list given."""

    def __init__(self, kind: type[Mechanism], block: ast.Block, problems: list[Problem]) -> None:
        self.kind = kind
        self.problems = problems
        self.raw = Raw(block, block.name.text if block.name else block.keyword.text, place=block.place)
        self.parameters = {p.name: p for p in kind.parameters}
        self.choices = {c.name: c for c in kind.choices}
        self.counts = {c.name: c for c in kind.counts}

    def known(self) -> list[str]:
        """All words that may begin a line of this block."""
        words = [*self.parameters, *self.choices, *self.counts]
        if "sheet" not in self.kind.stands_on:  # what is cut out of a sheet has that sheet's paper
            words.append("paper")
        if self.kind.takes_art:
            words += ["art", "letters"]
        if self.kind.face_in_head:
            return [*words, "at"]
        return [*words, *self.kind.glue_by] if "face" in self.kind.stands_on else words

    def read(self) -> Raw:
        """The block's settings by kind."""
        block, raw = self.raw.block, self.raw
        if block.size is not None:
            if "height" not in self.parameters or "width" not in self.parameters:
                self.problems.append(UnknownSetting(block.size.at, block.size.at.text, block.keyword.text, tuple(self.known())))
            else:
                raw.quantities |= {"width": block.size.width, "height": block.size.height}
                raw.spans |= {"width": block.size.at, "height": block.size.at}
        seen: dict[str, Span] = {}
        for setting in block.settings:
            word = setting.word.text
            if word in seen:
                self.problems.append(SettingTwice(setting.word.at, word, seen[word]))
                continue
            seen[word] = setting.word.at
            self._one(setting)
        if "face" in self.kind.stands_on:
            raw.choices.setdefault("copies", "one")  # a block that names no panel is told so by the binder
        for choice in self.kind.choices:
            raw.choices.setdefault(choice.name, choice.options[0])
        for count in self.kind.counts:
            raw.counts.setdefault(count.name, count.default)
        if self.kind.takes_art == "required" and raw.art is None:
            self.problems.append(SettingMissing(block.at, block.keyword.text, "art", 'art "art/crab.svg" width 22'))
        return raw

    def _one(self, setting: ast.Setting) -> None:
        word, arguments, raw = setting.word.text, setting.arguments, self.raw
        if word not in self.known():
            self.problems.append(UnknownSetting(setting.word.at, word, raw.block.keyword.text, tuple(self.known())))
        elif not arguments:
            self.problems.append(ValueMissing(setting.word.at, word))
        elif word in ("art", "letters"):
            self._art(setting)
        elif word in GLUE and "face" in self.kind.stands_on:
            self._glue(setting)
        elif len(arguments) > 1:
            self._stray(setting, arguments[1])
        elif word == "at" and self.kind.face_in_head:
            self._at(setting, arguments[0])
        elif word == "paper":
            if isinstance(arguments[0], ast.Name):
                raw.paper = arguments[0]
            else:
                self._stray(setting, arguments[0])
        elif word in self.choices:
            self._choice(setting, arguments[0])
        elif word in self.counts:
            self._count(setting, arguments[0], self.counts[word])
        else:
            self._quantity(setting, arguments[0])

    def _stray(self, setting: ast.Setting, argument: ast.Argument) -> None:
        self.problems.append(UnknownChoice(argument.at, argument.at.text, setting.word.text, self._wanted(setting.word.text)))

    def _wanted(self, word: str) -> tuple[str, ...]:
        """What may follow a word, as examples."""
        if word in self.choices:
            return self.choices[word].options
        if word in self.counts:
            return ("3 by 3",)
        if word == "at" and self.kind.face_in_head:
            return ("centre", "40 x 60")
        return {"art": ('"file.svg" width 22', '"file.svg" along top'), "letters": ('"AHOY" width 40', '"AHOY" along top'),
                "paper": ("the name of a paper",),
                "glue": ("on tank.front_right at centre",), "pair": ("on weeds.a1 at top",)}.get(word, ("40", "40 to 70"))

    def _quantity(self, setting: ast.Setting, argument: ast.Argument) -> None:
        if isinstance(argument, ast.Text | ast.Colour | ast.Size | ast.Count | ast.Place):
            self._stray(setting, argument)
            return
        self.raw.quantities[setting.word.text] = argument
        self.raw.spans[setting.word.text] = setting.at

    def _choice(self, setting: ast.Setting, argument: ast.Argument) -> None:
        choice = self.choices[setting.word.text]
        number = next(iter(numbered(argument, choice.options)), argument)
        text = str(number.value) if isinstance(number, ast.Number) and number.unit is None else argument.at.text.strip()
        if text not in choice.options:
            self._stray(setting, argument)
            return
        self.raw.choices[choice.name] = text

    def _count(self, setting: ast.Setting, argument: ast.Argument, count: Counts) -> None:
        numbers = []
        for part in (argument.first, argument.second) if isinstance(argument, ast.Count) else ():
            if isinstance(part, ast.Number) and part.unit is None and part.value.denominator == 1:
                numbers.append(int(part.value))
        if len(numbers) != 2 or not all(count.low <= number <= count.high for number in numbers):
            wanted = (f"two whole numbers from {count.low} to {count.high}, as in `3 by 3`",)
            self.problems.append(UnknownChoice(argument.at, argument.at.text, count.name, wanted))
            return
        self.raw.counts[count.name] = (numbers[0], numbers[1])
        self.raw.spans[count.name] = setting.at

    def _art(self, setting: ast.Setting) -> None:
        arguments = list(setting.arguments)
        if not isinstance(arguments[0], ast.Text):
            self._stray(setting, arguments[0])
            return
        if self.raw.art is not None:
            self.problems.append(SettingTwice(setting.word.at, "art` or `letters", self.raw.art.at))
            return
        self.raw.art = arguments.pop(0)  # type: ignore[assignment]
        if setting.word.text == "letters":
            self.raw.letters = Letters(self.kind.letters, None)
        while arguments:
            argument = arguments.pop(0)
            if isinstance(argument, ast.Place) and argument.how == "along" and argument.target.at.text == "top":
                continue  # the one edge that artwork is joined to
            elif isinstance(argument, ast.Name) and argument.text == "font" and self.raw.letters and arguments:
                font = arguments.pop(0)
                if not isinstance(font, ast.Text):
                    self._stray(setting, font)
                    return
                self.raw.letters = Letters(self.kind.letters, font)
            elif isinstance(argument, ast.Name) and argument.text == "strokes" and not self.raw.letters:
                self.raw.strokes = True
            elif isinstance(argument, ast.Name) and argument.text == "width" and arguments and "width" in self.parameters:
                value = arguments.pop(0)
                if isinstance(value, ast.Text | ast.Colour | ast.Size | ast.Count | ast.Place):
                    self._stray(setting, value)
                    return
                self.raw.quantities["width"], self.raw.spans["width"] = value, setting.at
            else:
                self._stray(setting, argument)
                return

    def _at(self, setting: ast.Setting, argument: ast.Argument) -> None:
        if isinstance(argument, ast.Name | ast.Size):
            self.raw.at = argument
        else:
            self._stray(setting, argument)

    def _glue(self, setting: ast.Setting) -> None:
        raw = self.raw
        raw.choices["copies"] = "pair" if setting.word.text == "pair" else "one"
        for argument in setting.arguments:
            if isinstance(argument, ast.Place) and argument.how == "on":
                raw.place = argument
            elif isinstance(argument, ast.Place) and argument.how == "at":
                raw.at = argument.target
            else:
                self._stray(setting, argument)


def numbered(argument: ast.Argument, options: Sequence[str]) -> tuple[ast.Number, ...]:
    """The options that a range of whole numbers (`planes 2 to 4`) leaves, the least first; none for anything else."""
    if not isinstance(argument, ast.Range):
        return ()
    ends = [end.value for end in (argument.low, argument.high) if isinstance(end, ast.Number) and end.unit is None]
    if len(ends) < 2:
        return ()
    numbers = sorted(int(option) for option in options if option.isdigit())
    return tuple(ast.Number(Fraction(n), None, argument.at) for n in numbers if ends[0] <= n <= ends[1])
