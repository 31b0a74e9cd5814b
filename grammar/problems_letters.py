"""Problems of letters: texts that the font cannot set, and fonts that cannot be used."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from foldwright.grammar.problem import Problem


@dataclass(frozen=True)
class LettersUnknown(Problem):
    """The font has no letter for a character of a text.

        cutout sign
          letters "Ahoy ♥" width 40

    The font that comes with the tool has Latin letters with their accents, digits and common signs. Write
    other words, give a font of your own that has the character (`font "fonts/name.ttf"`), or draw it and use
    the drawing with `art`.
    """

    code: ClassVar[str] = "letters-unknown"
    letter: str
    own: bool = False  # whether the font is one of the script's own

    def wrong(self) -> str:
        """Name the character."""
        code = " ".join(f"U+{ord(character):04X}" for character in self.letter)
        return f"the font has no `{self.letter}` ({code})"

    def hints(self) -> tuple[str, ...]:
        """Another text, font, or a drawing."""
        other = "another font" if self.own else 'a font that has it: `font "fonts/name.ttf"`'
        return (f"write the text without it, or give {other}", "or draw the letters and use the drawing with `art`")


@dataclass(frozen=True)
class LettersScript(Problem):
    """A text is in a script whose letters join, change their form, or run from right to left.

        cutout sign
          letters "שלום" width 40

    Letters are set one beside the other from left to right here, which would spoil such a text. Set it in a
    drawing program, turn it into outlines, and use the drawing with `art`.
    """

    code: ClassVar[str] = "letters-script"
    letter: str

    def wrong(self) -> str:
        """Name where it begins."""
        return f"from `{self.letter}` on, the text is in a script that cannot be set letter by letter from left to right"

    def hints(self) -> tuple[str, ...]:
        """Draw it."""
        return ("set it in a drawing program, turn it into outlines, and use that drawing with `art`",)


@dataclass(frozen=True)
class LettersLong(Problem):
    """A text is longer than letters can be cut in one piece.

    Divide it: each `cutout` or `window` has one line of text.
    """

    code: ClassVar[str] = "letters-long"
    count: int
    most: int

    def wrong(self) -> str:
        """Give both numbers."""
        return f"the text has {self.count} characters; at most {self.most} can be cut as one piece"

    def hints(self) -> tuple[str, ...]:
        """Divide it."""
        return ("shorten it, or divide it over several cut-outs or windows",)


@dataclass(frozen=True)
class FontUnusable(Problem):
    """A font file is not there, or not a font whose letters can be cut.

        cutout sign
          letters "AHOY" width 40 font "fonts/harbour.ttf"

    The path starts from the folder of the script and stays inside it. The file has to be a TrueType or
    OpenType font (`.ttf`, `.otf`); fonts for web pages and collections of fonts have to be saved as such
    first. Mind the font's licence.
    """

    code: ClassVar[str] = "font-unusable"
    path: str
    why: str

    def wrong(self) -> str:
        """Name the file and the cause."""
        return f"the font `{self.path}` cannot be used: {self.why}"

    def hints(self) -> tuple[str, ...]:
        """Another file, or ours."""
        return ("put a `.ttf` or `.otf` file into the folder of the script, or leave `font` out: one comes with the tool",)
