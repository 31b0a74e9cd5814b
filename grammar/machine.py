"""The statements that say how the machine works: `creases`, `kerf`, `printed` and `joints`."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from foldwright.grammar import design, problems
from foldwright.grammar.constant import NotConstant, length, shown
from foldwright.grammar.source import Span

STATEMENTS = ("creases", "kerf", "printed", "joints")
EXAMPLES = {"creases": "creases perforated dash 3 mm gap 2 mm", "kerf": "kerf 0.15 mm",
            "printed": "printed down", "joints": "joints overlap"}
STYLES = ("creased", "perforated", "ticked", "half-cut")
SIDES = ("up", "down")
JOINTS = ("overlap", "strip", "none")

# Least and most in mm. A bridge under 1 mm tears (common practice, no source); the other ends only keep out slips of the
# pen, such as an inch for a millimetre.
_BOUNDS = {
    "dash": (Fraction(1, 2), Fraction(20)),
    "gap": (Fraction(1), Fraction(20)),
    "length": (Fraction(1), Fraction(20)),
    "kerf": (Fraction(0), Fraction(1)),
}
_OWN = {"perforated": ("dash", "gap"), "ticked": ("length",)}
_CALLED = {"dash": "the dash of perforated creases", "gap": "the gap of perforated creases",
           "length": "the length of the ticks", "kerf": "the kerf"}


def read(word: str, values: Sequence[design.Argument], unit: str | None, at: Span) -> design.Machine:
    """What one of the statements says, from the values behind its word; raises NotConstant."""
    if word == "creases":
        return design.Machine(creases=read_creases(values, unit, at))
    if word == "printed":
        return design.Machine(printed=read_printed(values, at))
    if word == "joints":
        return design.Machine(joints=read_joints(values, at))
    return design.Machine(kerf=read_kerf(values, unit, at))


def read_creases(values: Sequence[design.Argument], unit: str | None, at: Span) -> design.Creases:
    """`perforated dash 3 gap 2` behind `creases`; raises NotConstant for the first thing that is wrong."""
    if not values:
        raise NotConstant(problems.ValueMissing(at, "the kind of crease", EXAMPLES["creases"]))
    # `half-cut` is read as a difference of two names; its text is what counts
    style = "".join(values[0].at.text.split())
    if style not in STYLES:
        raise NotConstant(problems.UnknownChoice(values[0].at, values[0].at.text, "creases", STYLES))
    own, found = _OWN.get(style, ()), dict[str, Fraction]()
    rest = list(values[1:])
    while rest:
        word = rest.pop(0)
        if not own:
            raise NotConstant(problems.ValueSurplus(word.at.until(values[-1].at), f"`creases {style}`"))
        if not isinstance(word, design.Name) or word.text not in own:
            raise NotConstant(problems.UnknownSetting(word.at, word.at.text, "creases", own))
        if word.text in found:
            raise NotConstant(problems.SettingTwice(word.at, word.text, word.at))
        if not rest:
            raise NotConstant(problems.ValueMissing(word.at, f"the {word.text}", f"creases {style} {word.text} 3 mm"))
        found[word.text] = _bounded(rest.pop(0), unit, word.text, f"{word.text} 3 mm")
    return design.Creases(style, found.get("dash"), found.get("gap"), found.get("length"), at)


def read_kerf(values: Sequence[design.Argument], unit: str | None, at: Span) -> design.Kerf:
    """`0.15 mm` behind `kerf`; raises NotConstant."""
    if not values:
        raise NotConstant(problems.ValueMissing(at, "the width of the kerf", EXAMPLES["kerf"]))
    if len(values) > 1:
        raise NotConstant(problems.ValueSurplus(values[1].at.until(values[-1].at), f"`{EXAMPLES['kerf']}`"))
    return design.Kerf(_bounded(values[0], unit, "kerf", EXAMPLES["kerf"]), at)


def read_printed(values: Sequence[design.Argument], at: Span) -> design.Printed:
    """`down` behind `printed`; raises NotConstant."""
    return design.Printed(_word(values, at, "printed", "the side that lies up, or down, on the mat", SIDES), at)


def read_joints(values: Sequence[design.Argument], at: Span) -> design.Joints:
    """`overlap` behind `joints`; raises NotConstant."""
    return design.Joints(_word(values, at, "joints", "how pieces are joined", JOINTS), at)


def _word(values: Sequence[design.Argument], at: Span, statement: str, what: str, known: tuple[str, ...]) -> str:
    """The one word behind a statement, out of those that are known."""
    if not values:
        raise NotConstant(problems.ValueMissing(at, what, EXAMPLES[statement]))
    word = values[0].at.text
    if word not in known:
        raise NotConstant(problems.UnknownChoice(values[0].at, word, statement, known))
    if len(values) > 1:
        raise NotConstant(problems.ValueSurplus(values[1].at.until(values[-1].at), f"`{statement} {word}`"))
    return word


def _bounded(value: design.Argument, unit: str | None, key: str, example: str) -> Fraction:
    """A length in mm within its bounds."""
    found = length(value, unit, _CALLED[key], example, zero=True)
    least, most = _BOUNDS[key]
    if not least <= found <= most:
        ends = (f"{shown(end)} mm" for end in (least, most))
        raise NotConstant(problems.OutOfBounds(value.at, _CALLED[key], f"{shown(found)} mm", *ends))
    return found
