"""Names that files and drawings can carry: safe characters, never twice the same."""

from __future__ import annotations

import re
import unicodedata


def plain(text: str) -> str:
    """The text in printable ASCII: accents folded away, other characters replaced by a question mark."""
    folded = unicodedata.normalize("NFKD", text.replace("ß", "ss").replace("×", "x").replace("–", "-"))
    bare = "".join(c for c in folded if not unicodedata.combining(c))
    return "".join(c if " " <= c <= "~" else "?" for c in bare)


# Words that Windows keeps for devices, whatever ending follows ("Naming Files, Paths, and Namespaces", Microsoft; from memory).
_DEVICES = {"con", "prn", "aux", "nul", *(f"{port}{number}" for port in ("com", "lpt") for number in range(10))}
_LONGEST = 60  # characters of a word in a file name: several words have to fit 255, and a whole path 260 on Windows


def file_word(text: str) -> str:
    """A word for a file name: at most 60 lower case letters, digits, single hyphens; `paper` if nothing is left."""
    word = re.sub(r"[^a-z0-9]+", "-", plain(text).lower())[:_LONGEST].strip("-") or "paper"
    return f"{word}-" if word in _DEVICES else word


def identifier(text: str) -> str:
    """A word for an id: ASCII letters, digits, `.`, `_` and `-` (a subset of XML's name characters)."""
    return re.sub(r"[^A-Za-z0-9._-]", "-", plain(text)) or "-"


class Unique:
    """Hands out each name once: the second `a` becomes `a-2`. Case does not tell two names apart."""

    def __init__(self) -> None:
        self._taken: set[str] = set()

    def __call__(self, name: str) -> str:
        """The name itself, or with the next free number."""
        candidate, count = name, 1
        while candidate.lower() in self._taken:
            count += 1
            candidate = f"{name}-{count}"
        self._taken.add(candidate.lower())
        return candidate
