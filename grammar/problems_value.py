"""Problems of values: numbers, units, colours and functions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from foldwright.grammar.problem import Problem, nearest
from foldwright.grammar.problems_text import either


def listed(words: tuple[str, ...]) -> str:
    """Words in backticks, joined with commas and a last `or`."""
    return either(tuple(f"`{word}`" for word in words))


def suggested(name: str, known: tuple[str, ...]) -> tuple[str, ...]:
    """Hints for a word that is not known: the nearest ones, or all of a short list."""
    near = nearest(name, known)
    if near or not known:
        return near
    if len(known) > 12:
        return (f"known are {listed(known[:12])} and {len(known) - 12} more",)
    return (f"write {listed(known)}",)


@dataclass(frozen=True)
class BadNumber(Problem):
    """A number is written in a way that cannot be read or used.

    Numbers have at most 12 digits before the point and 12 behind it; a fraction has no zero below.

        cover 130 mm x 5 1/0 in

    Write it shorter, or mend the fraction:

        cover 130 mm x 5 1/2 in
    """

    code: ClassVar[str] = "bad-number"
    found: str
    why: str

    def wrong(self) -> str:
        """Give the number and the reason."""
        return f"`{self.found}` is not a usable number: {self.why}"

    def hints(self) -> tuple[str, ...]:
        """Show good ones."""
        return ("write numbers such as `40`, `0.5` or `5 1/2 in`",)


@dataclass(frozen=True)
class UnknownUnit(Problem):
    """Letters behind a number are not a unit of this language.

        cover 130 millimetres x 180 mm

    Units are written short: mm, cm, in, pt (1/72 in) for lengths, deg or ° for angles, gsm and lb for paper.
    A number without a unit takes the card's (`units mm`).

        cover 130 mm x 180 mm
    """

    code: ClassVar[str] = "unknown-unit"
    found: str
    known: tuple[str, ...]

    def wrong(self) -> str:
        """Name the letters."""
        return f"`{self.found}` is not a unit"

    def hints(self) -> tuple[str, ...]:
        """The unit that was probably meant, or all; units are too short for likeness to tell anything."""
        meant = _MEANT.get(self.found.lower())
        if meant in self.known:
            return (f"write `{meant}`",)
        return (f"write {listed(self.known)}",)


_MEANT = {
    **dict.fromkeys(("inch", "inches"), "in"),
    **dict.fromkeys(("millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("centimetre", "centimetres", "centimeter", "centimeters"), "cm"),
    **dict.fromkeys(("degree", "degrees"), "deg"),
    **dict.fromkeys(("gram", "grams", "g"), "gsm"),
    **dict.fromkeys(("lbs", "pound", "pounds"), "lb"),
}


@dataclass(frozen=True)
class UnitMissing(Problem):
    """A number needs a unit, and neither the number nor the card names one.

        card "Tide pool"
        cover 130 mm x 180 mm
        mat 300 mm x 300

    Write the unit behind the number, or name one for the whole card:

        card "Tide pool"
          units mm
        cover 130 x 180
        mat 300 x 300
    """

    code: ClassVar[str] = "unit-missing"
    what: str
    example: str = ""

    def wrong(self) -> str:
        """Name the value."""
        return f"{self.what} has no unit"

    def hints(self) -> tuple[str, ...]:
        """Show one."""
        if self.example:
            return (f"write for example `{self.example}`",)
        return (
            "write a unit behind the number, such as `40 mm`",
            "or put the line `units mm` below the card's title",
        )


@dataclass(frozen=True)
class UnitWrong(Problem):
    """A value has a unit that measures something else.

    The weight of a paper is in gsm (grams per square metre) or in lb with a grade, not a length:

        paper ink  colour #22304a  weight 0.3 mm

    A thickness is given as the caliper:

        paper ink  colour #22304a  caliper 0.3 mm

    A caliper is not written in pt: the trade's point is 0.001 in, the printer's point is 1/72 in.
    """

    code: ClassVar[str] = "unit-wrong"
    found: str
    wanted: str
    advice: tuple[str, ...] = ()

    def wrong(self) -> str:
        """Say what is there and what is wanted."""
        return f"{self.wanted} is wanted here, not {self.found}"

    def hints(self) -> tuple[str, ...]:
        """Advice, or the wanted kind."""
        return self.advice or (f"write {self.wanted}",)


@dataclass(frozen=True)
class BadColour(Problem):
    """A colour is not written as `#` and six hexadecimal digits.

        paper ink  colour #223  weight 216 gsm

    Red, green and blue take two digits each, from 00 to ff:

        paper ink  colour #222233  weight 216 gsm

    A `#` with anything else behind it begins a comment.
    """

    code: ClassVar[str] = "bad-colour"
    found: str

    def wrong(self) -> str:
        """Show what is there."""
        return f"`{self.found}` is not a colour"

    def hints(self) -> tuple[str, ...]:
        """How to write one; a short form is spelled out."""
        digits = self.found.removeprefix("#")
        if len(digits) == 3 and all(digit in "0123456789abcdefABCDEF" for digit in digits):
            return (f"write `#{''.join(2 * digit for digit in digits)}`",)
        return ("write `#` and six digits from 0-9 and a-f, such as `#22304a`",)


@dataclass(frozen=True)
class NotPositive(Problem):
    """A length, a weight or a count has to be more than zero.

        mat 0 mm x 300 mm

    Write the real measure:

        mat 290 mm x 300 mm
    """

    code: ClassVar[str] = "not-positive"
    what: str
    value: str

    def wrong(self) -> str:
        """Give the value."""
        return f"{self.what} is {self.value}, but has to be more than zero"

    def hints(self) -> tuple[str, ...]:
        """Write a positive one."""
        return ("write a value above zero",)


@dataclass(frozen=True)
class DivisionByZero(Problem):
    """An expression divides by zero.

        card "Tide pool"
          units mm
          step 1 / (2 - 2)

    Check what stands below the division:

        card "Tide pool"
          units mm
          step 1 / 2
    """

    code: ClassVar[str] = "division-by-zero"

    def wrong(self) -> str:
        """Say so."""
        return "this divides by zero"

    def hints(self) -> tuple[str, ...]:
        """Check the divisor."""
        return ("check the value behind the `/`",)


@dataclass(frozen=True)
class UnknownFunction(Problem):
    """A word with a parenthesis behind it is not a function of this language.

        require reef.height >= maximum(20, 30)

    The functions are min, max, sqrt, and sin, cos and tan of degrees:

        require reef.height >= max(20, 30)

    If no function is meant, leave a blank before the parenthesis.
    """

    code: ClassVar[str] = "unknown-function"
    name: str
    known: tuple[str, ...]

    def wrong(self) -> str:
        """Name it."""
        return f"there is no function `{self.name}`"

    def hints(self) -> tuple[str, ...]:
        """The nearest, or all."""
        return suggested(self.name, self.known)


@dataclass(frozen=True)
class ArgumentsWrong(Problem):
    """A function has more or fewer values in its parentheses than it takes.

        require reef.height >= sqrt(20, 30)

    `sqrt`, `sin`, `cos` and `tan` take one value, `min` and `max` two or more:

        require reef.height >= max(20, 30)
    """

    code: ClassVar[str] = "arguments-wrong"
    function: str
    found: int

    def wrong(self) -> str:
        """Give both numbers."""
        return f"`{self.function}` takes {self._wanted()}, not {self.found}"

    def hints(self) -> tuple[str, ...]:
        """How to write it."""
        return (f"write {self._wanted()} between the parentheses, with commas between values",)

    def _wanted(self) -> str:
        return "two or more values" if self.function in ("min", "max") else "one value"
