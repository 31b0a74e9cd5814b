"""Random edits of a script and of its artwork on disk, from a seed; what a check says of a card, field by field."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
from shapely.geometry.base import BaseGeometry

from foldwright.api import Checked, Memory, Script, check, design_of
from foldwright.emit.report import pose_angles, posed
from foldwright.grammar import Refused, render
from foldwright.grammar.source import Span
from foldwright.solver.engine.blueprint import shared
from foldwright.solver.expression import Expr
from foldwright.solver.proof import ProofFailed
from foldwright.solver.stack import stack_map
from foldwright.solver.standing import standing
from foldwright.solver.variants import varied

BLOCKS = "cover|insert|window|tent|vfold|box|ring|step|platform|cutout|lattice|scene|hexagon|trellis|arm|threefold|optional"
HABITS = ("tab.depth", "tab.inset", "tab.length", "neighbour.gap", "slot.depth", "slot.clearance", "sheet.border",
          "joint.thickness", "stand.margin", "cover.clear")
MACHINE = ("kerf 0.15", "kerf 0.3", "creases perforated", "creases ticked", "creases half-cut", "printed down", "joints overlap",
           "joints strip")
SHARES = np.array([0.0, 0.123, 0.5, 1.0])  # of the swing; one of them is no usual angle
VARIANT = "variant other\n  cover 160 x 210\n"


def statements(text: str) -> list[str]:
    """The statements of a script, each with the lines below it; what stands above the first is the first's."""
    heads = [match.start() for match in re.finditer(r"^(?=[a-z])", text, re.MULTILINE)]
    return [text[start:end] for start, end in zip([0, *heads[1:]], [*heads[1:], len(text)], strict=True)] if heads else [text]


def edited(text: str, random: Random) -> str:
    """The script with one thing changed."""
    change = random.choice((_number, _number, _number, _number, _paper, _end, _line_out, _block_out, _twice, _turned, _renamed,
                            _moved_down, _machine, _habit, _without, _wish, _colour, _fault, _rest))
    return change(text, random)


def _spot(text: str, pattern: str, random: Random) -> re.Match[str] | None:
    found = list(re.finditer(pattern, text, re.MULTILINE))
    return random.choice(found) if found else None


def _instead(text: str, spot: re.Match[str] | None, words: str) -> str:
    return text if spot is None else text[:spot.start()] + words + text[spot.end():]


def _number(text: str, random: Random) -> str:
    spot = _spot(text, r"(?<![\w.#])\d+(\.\d+)?(?![\w.])(?=[^\"\n]*$)", random)
    if spot is None:
        return text
    value = Fraction(spot[0])
    more = random.choice((Fraction(1), Fraction(-1), Fraction(1, 2), value / 10, -value / 10, Fraction(3)))
    return _instead(text, spot, f"{float(round(max(Fraction(0), value + more), 2)):g}")


def _paper(text: str, random: Random) -> str:
    names = re.findall(r"^paper +(\w+)", text, re.MULTILINE)
    return _instead(text, _spot(text, r"(?<=^  paper )\s*\w+", random), random.choice(names)) if names else text


def _end(text: str, random: Random) -> str:
    """A dimension gets a range, or loses it."""
    spot = _spot(text, r"(\d+) to (\d+)", random)
    if spot and random.random() < 0.6:
        return _instead(text, spot, random.choice((spot[1], spot[2])))
    spot = _spot(text, r"(?<=^  )(width|wall|spread|angle|wing|height|ridge) +(\d+)$", random)
    return text if spot is None else _instead(text, spot, f"{spot[1]} {max(0, int(spot[2]) - 3)} to {int(spot[2]) + 4}")


def _line_out(text: str, random: Random) -> str:
    return _instead(text, _spot(text, r"^  .*\n", random), "")


def _block_out(text: str, random: Random) -> str:
    parts = statements(text)
    del parts[random.randrange(len(parts))]
    return "".join(parts)


def _twice(text: str, random: Random) -> str:
    """A block once more under another name."""
    parts = [part for part in statements(text) if re.match(rf"({BLOCKS}) \w+ (on|between|in)", part)]
    if not parts:
        return text
    part = random.choice(parts)
    return text + re.sub(r"^(\w+) (\w+)", r"\1 \2x", part, count=1)


def _turned(text: str, random: Random) -> str:
    parts = statements(text)
    a, b = random.randrange(len(parts)), random.randrange(len(parts))
    parts[a], parts[b] = parts[b], parts[a]
    return "".join(part if part.endswith("\n") else part + "\n" for part in parts)


def _renamed(text: str, random: Random) -> str:
    names = re.findall(rf"^(?:{BLOCKS}) (\w+) (?:on|between|in)", text, re.MULTILINE)
    names += re.findall(r"^paper +(\w+)", text, re.MULTILINE)
    if not names:
        return text
    name = random.choice(names)
    new = random.choice(("gable", "zebra", name[::-1] + "q", random.choice(names)))
    return re.sub(rf"\b{name}\b", new, text)


def _moved_down(text: str, random: Random) -> str:
    return _instead(text, _spot(text, r"^(?=  )|^(?=[a-z])", random), random.choice(("# a word\n", "\n", "  # a word\n")))


def _machine(text: str, random: Random) -> str:
    words = random.choice(MACHINE)
    kept = "".join(part for part in statements(text) if not part.startswith(words.split()[0] + " "))
    return kept + "\n" + random.choice((words + "\n", "", f"mat {random.choice((300, 260, 200))} x 400\n"))


def _habit(text: str, random: Random) -> str:
    return text + f'\npractice {random.choice(HABITS)} {random.choice(("0.5", "1", "2", "4", "7"))} because "of the paper"\n'


def _without(text: str, random: Random) -> str:
    names = re.findall(rf"^(?:{BLOCKS}) (\w+) (?:on|between|in)", text, re.MULTILINE)
    rule = random.choice(("stands", "angle.usual-least", "wall.usual-most", "spread.usual-most", "width.usual-least"))
    return text + f'\nwithout {random.choice(names)}.{rule} because "it has to"\n' if names else text


def _wish(text: str, random: Random) -> str:
    if random.random() < 0.5:
        return _instead(text, _spot(text, r"^prefer .*\n", random), "")
    return text.replace("prefer largest", "prefer smallest") if random.random() < 0.5 else text + "\nprefer least paper\n"


def _colour(text: str, random: Random) -> str:
    return _instead(text, _spot(text, r"#[0-9a-f]{6}", random), f"#{random.randrange(1 << 24):06x}")


def _fault(text: str, random: Random) -> str:
    faults = ("  wall 3 3 3 to\n", "bogus 3\n", "require 3 >=\n")
    return _instead(text, _spot(text, r"^(?=  )|^(?=[a-z])", random), random.choice(faults))


def _rest(text: str, random: Random) -> str:
    """A grid step, or a variant, where there is none yet."""
    if random.random() < 0.5:
        return text if VARIANT in text else f"{text}\n{VARIANT}"
    without = re.sub(r"^  step .*\n", "", text, flags=re.MULTILINE)
    return without if without != text else text.replace("  units mm\n", "  units mm\n  step 0.25\n")


def redrawn(folder: Path, random: Random) -> None:
    """One of the artwork files changed: a number, or a line drawn on it, or a curve for a line; or it is gone."""
    files = sorted(folder.rglob("*.svg"))
    if not files:
        return
    file = random.choice(files)
    text = file.read_text("utf-8")
    kind = random.randrange(4)
    if kind == 0:
        spot = _spot(text, r"\d+\.\d+", random)
        text = _instead(text, spot, f"{float(spot[0]) * random.choice((0.99, 1.01, 1.0005)):.4f}") if spot else text
    elif kind == 1:
        place = random.randint(3, 9)
        text = text.replace("</svg>", f'<path d="M{place} {place} L{place + 2} {place + 1}" fill="none" stroke="#000"/></svg>')
    elif kind == 2:
        text = text.replace("<svg ", "<!-- again --><svg ", 1)
    elif "<path" in text and random.random() < 0.3:
        text = text.replace("<path", "<bath")
    file.write_text(text, "utf-8")


# ---- what a check says


def plain(value: Any) -> Any:
    """A value as what it shows; functions are left out."""
    if isinstance(value, BaseGeometry):
        return value.wkb
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, Span):
        return (value.start, value.end, value.line)
    if isinstance(value, Expr):
        return shared().shapes.of(value)
    if isinstance(value, Enum):
        return repr(value)
    if callable(value):
        return "a function"
    if isinstance(value, Mapping):
        return [(plain(key), plain(each)) for key, each in value.items()]
    if isinstance(value, tuple | list):
        return [plain(each) for each in value]
    if isinstance(value, set | frozenset):
        return sorted(map(repr, value))
    if is_dataclass(value):
        return [type(value).__name__, *[(each.name, plain(getattr(value, each.name))) for each in fields(value)]]
    return value


def told(checked: Checked) -> dict[str, Any]:
    """Everything that a check found."""
    card = checked.card
    out = {f"card.{each.name}": plain(getattr(card, each.name)) for each in fields(card)}
    out |= {f"swing.{each.name}": plain(getattr(checked.swing, each.name)) for each in fields(checked.swing)}
    out["proof"] = plain(checked.proof)
    out["report.poses"] = posed(card, pose_angles(card.opens))
    out["report.closed"], out["report.standing"] = plain(stack_map(card)), plain(standing(card))
    out["openings"] = plain(card.openings(SHARES * card.opens))
    out["places"] = plain(card.poses(SHARES * card.opens))
    return out


def outcome(script: Script, memory: Memory | None = None, variant: str = "") -> Any:
    """What a check says, as a value: everything found, or the words of the problems."""
    try:
        if variant:
            design = design_of(script, memory)
            found = [each for each in design.variants if each.name.text == variant]
            return told(check(varied(design, found[0]), memory=memory)) if found else "no such variant"
        return told(check(script, memory=memory))
    except Refused as refused:
        return render(refused.problems)
    except ProofFailed as failed:
        return f"proof failed: {failed}"


def different(one: Any, other: Any) -> list[str]:
    """What of two outcomes is not the same."""
    if isinstance(one, str) or isinstance(other, str):
        return [] if one == other else [f"{str(one)[:600]}\n  against\n{str(other)[:600]}"]
    return [f"{name}: {_first(one[name], other[name])}" for name in one if _unlike(one[name], other[name])]


def _unlike(one: Any, other: Any) -> bool:
    return bool(one != other) and repr(one) != repr(other)  # what is not a number is not even equal to itself


def _first(one: Any, other: Any, way: str = "") -> str:
    if isinstance(one, list | tuple) and isinstance(other, list | tuple) and len(one) == len(other):
        for index, (a, b) in enumerate(zip(one, other, strict=True)):
            if _unlike(a, b):
                return _first(a, b, f"{way}/{index}")
    if isinstance(one, dict) and isinstance(other, dict) and list(one) == list(other):
        for key in one:
            if _unlike(one[key], other[key]):
                return _first(one[key], other[key], f"{way}/{key}")
    return f"{way} {str(one)[:200]} against {str(other)[:200]}"


def same_kept_as_cold(text: str, folder: Path, random: Random, turns: int) -> int:
    """Check a script and `turns` random edits of it, kept and cold; returns how many of them are cards.

    Raises AssertionError where the two do not say the same. Two of three faulty edits are taken back, some good ones too.
    """
    memory, path, good = Memory(), folder / "edited.card", [text]
    for turn in range(turns + 1):
        path.write_text(text, "utf-8")
        variant = "other" if VARIANT in text and random.random() < 0.5 else ""
        kept, cold = outcome(path, memory, variant), outcome(path, None, variant)
        wrong = different(kept, cold)
        assert not wrong, "\n".join([f"edit {turn}", *wrong, text])
        if not isinstance(cold, str):
            good.append(text)
        elif random.random() < 2 / 3:
            text = random.choice(good[-3:])
        if random.random() < 0.15:
            text = random.choice(good)
        if random.random() < 0.25:
            redrawn(folder, random)
        else:
            text = edited(text, random)
    return len(good) - 1
