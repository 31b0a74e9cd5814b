"""All problems that a script can have, by the names of their classes, and the pages that explain them."""

from __future__ import annotations

import inspect

from foldwright.grammar.problem import nearest, registry
from foldwright.grammar.problems_artwork import (
    ArtworkCrossing,
    ArtworkMissing,
    ArtworkOpen,
    ArtworkStroked,
    ArtworkUnreadable,
    FallsApart,
)
from foldwright.grammar.problems_card import (
    CannotCarry,
    CannotHold,
    CyclicExpression,
    NoCreaseBetween,
    RangeUpsideDown,
    UnknownKeyword,
    UnknownName,
    UnknownPractice,
)
from foldwright.grammar.problems_choice import ChoiceNotHere, OptionalNotHere, OptionRefused, TooManyOptions
from foldwright.grammar.problems_file import EmptyFile, FileMissing, FileTooLarge, FileUnreadable, NotUtf8
from foldwright.grammar.problems_letters import FontUnusable, LettersLong, LettersScript, LettersUnknown
from foldwright.grammar.problems_machine import AgainstGrain, LostToKerf, NoSeam, OutOfBounds, PackerMissing
from foldwright.grammar.problems_rules import CannotWaive, UnknownRule, WaivedTooMuch
from foldwright.grammar.problems_setting import (
    ReasonMissing,
    SettingMissing,
    SettingTwice,
    UnknownChoice,
    UnknownSetting,
    ValueMissing,
    ValueSurplus,
    ValueWrong,
)
from foldwright.grammar.problems_swing import WouldJam
from foldwright.grammar.problems_text import (
    BadText,
    LinesUnexpected,
    MissingStatement,
    NameTwice,
    NestedTooDeep,
    StatementTwice,
    SyntaxFault,
    UnclearMinus,
    UnevenIndentation,
)
from foldwright.grammar.problems_value import (
    ArgumentsWrong,
    BadColour,
    BadNumber,
    DivisionByZero,
    NotPositive,
    UnitMissing,
    UnitWrong,
    UnknownFunction,
    UnknownUnit,
)
from foldwright.grammar.problems_variant import UnknownVariant

__all__ = [
    "AgainstGrain",
    "ArgumentsWrong",
    "ArtworkCrossing",
    "ArtworkMissing",
    "ArtworkOpen",
    "ArtworkStroked",
    "ArtworkUnreadable",
    "BadColour",
    "BadNumber",
    "BadText",
    "CannotCarry",
    "CannotHold",
    "CannotWaive",
    "ChoiceNotHere",
    "CyclicExpression",
    "DivisionByZero",
    "EmptyFile",
    "FallsApart",
    "FileMissing",
    "FileTooLarge",
    "FileUnreadable",
    "FontUnusable",
    "LettersLong",
    "LettersScript",
    "LettersUnknown",
    "LinesUnexpected",
    "LostToKerf",
    "MissingStatement",
    "NameTwice",
    "NestedTooDeep",
    "NoCreaseBetween",
    "NoSeam",
    "NotPositive",
    "NotUtf8",
    "OptionRefused",
    "OptionalNotHere",
    "OutOfBounds",
    "PackerMissing",
    "RangeUpsideDown",
    "ReasonMissing",
    "SettingMissing",
    "SettingTwice",
    "StatementTwice",
    "SyntaxFault",
    "TooManyOptions",
    "UnclearMinus",
    "UnevenIndentation",
    "UnitMissing",
    "UnitWrong",
    "UnknownChoice",
    "UnknownFunction",
    "UnknownKeyword",
    "UnknownName",
    "UnknownPractice",
    "UnknownRule",
    "UnknownSetting",
    "UnknownUnit",
    "UnknownVariant",
    "ValueMissing",
    "ValueSurplus",
    "ValueWrong",
    "WaivedTooMuch",
    "WouldJam",
    "explain",
]


def explain(code: str) -> str:
    """The page of a problem code; raises LookupError, which names the nearest codes, if there is none."""
    known = registry()
    if code not in known:
        advice = nearest(code, list(known)) or ("the code stands in brackets at the start of a message",)
        raise LookupError(f"no problem has the code `{code}`: {advice[0]}")
    return f"{code}\n\n{inspect.getdoc(known[code])}\n"
