"""Numbers, lengths, transforms and path data as SVG 1.1 writes them, read strictly: garbage is a fault.

Every scanner walks the text once from left to right, so no input makes it slow.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from fontTools.misc.transform import Transform

FaultKind = Literal["missing", "unreadable", "open", "crossing", "stroked"]

LARGEST_NUMBER = 1e6  # drawing units; a kilometre in millimetres: anything past it is a mistake or an attack
MOST_SEGMENTS = 20_000  # lines and curves of the whole drawing; a machine takes hours for as many
MILLIMETRES = {  # CSS 2.1 section 4.3.2: 96 px to the inch, 72 pt to the inch, 6 pc to the inch
    "": 25.4 / 96,
    "px": 25.4 / 96,
    "pt": 25.4 / 72,
    "pc": 25.4 / 6,
    "mm": 1.0,
    "cm": 10.0,
    "in": 25.4,
}

_SPACE = " \t\r\n\f"
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_FLAG = re.compile(r"[01]")
_CALL = re.compile(r"([A-Za-z]+)[ \t\r\n\f]*\(([^()]*)\)")
_ARITY = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}


class ArtworkFault(Exception):
    """Why an artwork cannot be used.

    `kind` is "missing" (there is no such file that may be opened), "unreadable" (the file is not a drawing of
    one piece that we can read), "open" (a line of it is not closed), "crossing" (an outline crosses or touches
    itself) or "stroked" (it has lines where only outlines can be cut); `why` says it to the designer.
    """

    def __init__(self, kind: FaultKind, why: str) -> None:
        super().__init__(why)
        self.kind: FaultKind = kind
        self.why = why


def unreadable(why: str) -> ArtworkFault:
    """The commonest fault, shortened."""
    return ArtworkFault("unreadable", why)


def excerpt(text: str) -> str:
    """The beginning of some input, fit for a message: one line, printable, at most 40 characters."""
    clean = "".join(character if character.isprintable() else " " for character in text[:41])
    return clean[:40] + "…" if len(text) > 40 else clean


def real(text: str) -> float:
    """A number within range; the text has to match the number grammar already."""
    value = float(text)
    if not abs(value) <= LARGEST_NUMBER:  # written so that nan fails too
        raise unreadable(f"the number {excerpt(text)} is too large (at most {LARGEST_NUMBER:g})")
    return value


def numbers(text: str) -> list[float]:
    """Numbers parted by white space or one comma, as in `points` and `viewBox`."""
    found: list[float] = []
    at = _skip(text, 0)
    comma = False
    while at < len(text):
        match = _NUMBER.match(text, at)
        if match is None:
            raise unreadable(f"`{excerpt(text[at:])}` stands where a number should")
        found.append(real(match.group()))
        at, comma = _separator(text, match.end())
        if len(found) > 2 * MOST_SEGMENTS:
            raise _too_many()
    if comma:
        raise unreadable(f"`{excerpt(text)}` ends in a comma")
    return found


def length(text: str, what: str) -> float:
    """A length in drawing units (px), in absolute units only; `what` names it in messages."""
    stripped = text.strip(_SPACE)
    match = _NUMBER.match(stripped)
    unit = stripped[match.end() :].lower() if match else None
    if match is None or unit not in MILLIMETRES:
        raise unreadable(
            f"{what} is `{excerpt(text)}`: a number, or a number in mm, cm, in, pt, pc or px is needed"
        )
    return real(match.group()) * (MILLIMETRES[unit] / MILLIMETRES[""])


def transform(text: str) -> Transform:
    """The matrix of a `transform` attribute (SVG 1.1 section 7.6)."""
    from fontTools.misc.transform import Transform

    matrix = Transform()
    at, comma = _skip(text, 0), False
    while at < len(text):
        match = _CALL.match(text, at)
        if match is None:
            raise unreadable(f"the transform `{excerpt(text[at:])}` cannot be read")
        matrix = within_range(matrix.transform(_one_transform(match.group(1), numbers(match.group(2)))))
        at, comma = _separator(text, match.end())
    if comma:
        raise unreadable(f"the transform `{excerpt(text)}` ends in a comma")
    return matrix


def within_range(matrix: Transform) -> Transform:
    """The matrix itself, unless nested transforms have carried it out of all bounds."""
    if not all(
        abs(value) <= LARGEST_NUMBER * 1000 for value in matrix
    ):  # room for a shift that a scale undoes
        raise unreadable("its transforms lead to numbers that are too large")
    return matrix


def _one_transform(name: str, values: list[float]) -> Transform:
    from math import radians, tan

    from fontTools.misc.transform import Transform

    def rotate(angle: float, x: float = 0.0, y: float = 0.0) -> Transform:
        return Transform().translate(x, y).rotate(radians(angle)).translate(-x, -y)

    known: dict[str, tuple[tuple[int, ...], Callable[..., Transform]]] = {
        "matrix": ((6,), lambda *matrix: Transform(*matrix)),
        "translate": ((1, 2), lambda x, y=0.0: Transform(1, 0, 0, 1, x, y)),
        "scale": ((1, 2), lambda x, y=None: Transform(x, 0, 0, x if y is None else y, 0, 0)),
        "rotate": ((1, 3), rotate),
        "skewX": ((1,), lambda angle: Transform(1, 0, tan(radians(angle)), 1, 0, 0)),
        "skewY": ((1,), lambda angle: Transform(1, tan(radians(angle)), 0, 1, 0, 0)),
    }
    if name not in known:
        raise unreadable(f"the transform `{excerpt(name)}` is unknown")
    counts, build = known[name]
    if len(values) not in counts:
        wanted = " or ".join(str(count) for count in counts)
        raise unreadable(f"the transform `{name}` takes {wanted} numbers, not {len(values)}")
    return build(*values)


def path_data(text: str, budget: int) -> tuple[str, int]:
    """Path data checked letter by letter and written out in full, with its number of segments.

    The library that draws it skips what it does not understand; this scanner refuses it first, and parts
    run-together numbers and arc flags (`a1 1 0 0110 10`). More than `budget` segments are refused.
    """
    words: list[str] = []
    segments, at = 0, _skip(text, 0)
    while at < len(text):
        command = text[at]
        arity = _ARITY.get(command.upper())
        if arity is None or (not words and command not in "Mm"):
            raise unreadable(f"path data cannot go on with `{excerpt(text[at:])}`")
        words.append(command)
        start, at, comma = len(words), _skip(text, at + 1), False
        while arity and (match := _argument(command, len(words) - start).match(text, at)):
            words.append(match.group() if match.re is _FLAG else repr(real(match.group())))
            at, comma = _separator(text, match.end())
            if segments + (len(words) - start) // arity > budget:
                raise _too_many()
        count = len(words) - start
        if comma or (arity and (count == 0 or count % arity)):
            raise unreadable(
                f"in path data, `{command}` takes numbers in groups of {arity}, but {count} were found"
            )
        segments += count // arity if arity else 1
        if segments > budget:
            raise _too_many()
    return " ".join(words), segments


def _argument(command: str, index: int) -> re.Pattern[str]:
    return _FLAG if command in "Aa" and index % 7 in (3, 4) else _NUMBER


def _too_many() -> ArtworkFault:
    return unreadable(f"it has more than {MOST_SEGMENTS} lines and curves; simplify it")


def _skip(text: str, at: int) -> int:
    while at < len(text) and text[at] in _SPACE:
        at += 1
    return at


def _separator(text: str, at: int) -> tuple[int, bool]:
    at = _skip(text, at)
    if at < len(text) and text[at] == ",":
        return _skip(text, at + 1), True
    return at, False
