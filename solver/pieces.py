"""What of a card is cut in pieces and joined again: the card as it is cut, and the second sheets at its seams."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from shapely.geometry import Polygon

from foldwright.solver.card import Card, Panel, Part


def as_cut(card: Card) -> Card:
    """The card with the pieces of its joined parts in place of these, in parts and in steps."""
    if not card.joined:
        return card
    cut = {one.whole.name: (*one.pieces, *one.strips) for one in card.joined}
    parts = [piece for part in card.parts for piece in cut.get(part.name, (part,))]
    names = {whole: tuple(piece.name for piece in of) for whole, of in cut.items()}
    steps = [replace(step, parts=tuple(name for part in step.parts for name in names.get(part, (part,)))) for step in card.steps]
    return replace(card, parts=tuple(parts), steps=tuple(steps))


def pieces(card: Card) -> tuple[Part, ...]:
    """All pieces and strips of joined parts."""
    return tuple(piece for one in card.joined for piece in (*one.pieces, *one.strips))


def wholes(card: Card) -> dict[str, str]:
    """By piece or strip of a joined part the name of that part."""
    return {piece.name: one.whole.name for one in card.joined for piece in (*one.pieces, *one.strips)}


def hidden_at_seams(card: Card, printed: Mapping[str, int]) -> dict[tuple[str, int], list[Polygon]]:
    """By piece and face (1 front, -1 back) the areas that a seam hides; `printed` has the printed face by part.

    A tongue or a strip lies behind: its printed face is glued to the other face of what it holds.
    """
    areas: dict[tuple[str, int], list[Polygon]] = {}
    for one in card.joined:
        face = printed[one.whole.name]
        for lap in one.laps:
            areas.setdefault((lap.under, face), []).append(lap.outline)
            for piece in one.pieces:
                if piece.name != lap.under and piece.outline.intersects(lap.outline):
                    areas.setdefault((piece.name, -face), []).append(lap.outline)
    return areas


def lap_panels(card: Card) -> Iterator[tuple[Panel, str]]:
    """The second sheets at seams, as panels, and for each the panel behind or before which it lies."""
    for one in card.joined:
        for number, lap in enumerate(one.laps, 1):
            yield Panel(f"{one.whole.name} seam {number}", one.whole.name, lap.outline), lap.panel
