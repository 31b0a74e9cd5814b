"""Artwork files of a script: read once, checked, and brought to width 1 for the model."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

from foldwright.grammar import design as ast
from foldwright.grammar.artwork import Artwork, ArtworkFault, read_artwork
from foldwright.grammar.problem import Problem, Refused
from foldwright.grammar.problems import (
    ArtworkCrossing,
    ArtworkMissing,
    ArtworkOpen,
    ArtworkStroked,
    ArtworkUnreadable,
)
from foldwright.solver.artwork import Art
from foldwright.solver.lettering import bridge_share, letters_of
from foldwright.solver.practice import USUAL
from foldwright.solver.settings import Raw

_PROBLEMS: dict[str, type[Problem]] = {
    "missing": ArtworkMissing, "unreadable": ArtworkUnreadable, "open": ArtworkOpen, "crossing": ArtworkCrossing,
    "stroked": ArtworkStroked,
}


def load_art(raw: Raw, design: ast.Design, habits: Mapping[str, Fraction] = USUAL) -> Art | None:
    """The artwork or the letters that a block names, or None; raises Refused if they cannot be used."""
    if raw.art is None:
        return None
    if raw.letters is not None:
        made = letters_of(raw.art, raw.letters, raw, design, habits)
        return Art(made.artwork.outline, _aspect(made.artwork), made.artwork.curves, file=raw.art.text,
                   bridge=bridge_share(made))
    folder = design.source.folder
    try:
        artwork = _artwork(raw.art.text, folder, raw.strokes)
    except ArtworkFault as fault:
        raise Refused([_PROBLEMS[fault.kind](raw.art.at, raw.art.text, fault.why)]) from None  # type: ignore[call-arg]
    return Art(artwork.outline, _aspect(artwork), artwork.curves, artwork.ink, raw.art.text)


def _aspect(artwork: Artwork) -> Fraction:
    """Height over width, rounded up, so that no rule takes the artwork for smaller than it is."""
    return Fraction(int(artwork.aspect * 10**4) + 1, 10**4)


def _artwork(path: str, folder: Path, strokes: bool) -> Artwork:
    """The artwork in a file, which is not read again while it stays as it is: one script is bound many times over."""
    try:
        root = folder.resolve()
        file = (root / path).resolve()
        if not file.is_relative_to(root):
            return read_artwork(Path(path), folder, strokes)  # which says what is wrong, and touches nothing
        found = file.stat()
    except (OSError, RuntimeError, ValueError):  # a loop of links; a zero character in the path
        return read_artwork(Path(path), folder, strokes)
    return _unchanged(path, root, (file, found.st_size, found.st_mtime_ns), strokes)


@lru_cache(maxsize=64)
def _unchanged(path: str, folder: Path, stamp: tuple[Path, int, int], strokes: bool) -> Artwork:
    return read_artwork(Path(path), folder, strokes)
