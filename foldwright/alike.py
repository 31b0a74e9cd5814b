"""Papers that look the same: offered as one, with the sheets that it saves; and what the script merges already."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING, Any

from foldwright.solver.papers import merged, solved
from foldwright.solver.words import amount

if TYPE_CHECKING:
    from foldwright.grammar import Design
    from foldwright.solver.card import Card, Paper

# CIEDE2000 units. The 2.3 that is often quoted as just noticeable (Mahy, Van Eycken, Oosterlinck, 1994) counts the older
# CIE 1976 difference, which comes out larger for strong colours. In CIEDE2000 about 1 is seen where two samples touch, and
# about 2 is accepted where they should match (from memory). Two papers of a card seldom touch in one plane and light, and a
# colour typed from a swatch is no nearer than that to the sheet.
SAME_LOOK = 2.0
# Within a sheet the caliper varies by about 5 % (printed advice of mills): what differs by no more is one thickness.
SAME_THICKNESS = 0.05


@dataclass(frozen=True)
class Alike:
    """Two papers of a card that look the same: `other`, which has less area to cut, could be cut from `keep`.

    `difference` is in CIEDE2000 units. `saved` are the sheets fewer if it were, laid out both ways; None if the papers are not
    of one thickness, so that the card would have to be found again.
    """

    keep: Paper
    other: Paper
    difference: float
    saved: int | None


def difference(first: str, second: str) -> float:
    """CIEDE2000 difference of two colours `#rrggbb`, read as sRGB, white D65."""
    from coloraide import Color  # imported here: a tenth of a second, for cards of one paper too

    return float(Color(first).delta_e(second, method="2000"))


def alike(card: Card) -> tuple[Alike, ...]:
    """The pairs of papers of a card that look the same, in the card's order; lays out only what could be one."""
    area = {paper.name: sum(part.outline.area for part in card.parts if part.paper == paper.name) for paper in card.papers}
    found = []
    for first, second in combinations([paper for paper in card.papers if area[paper.name]], 2):
        apart = difference(first.colour, second.colour)
        if apart <= SAME_LOOK:
            keep, other = (first, second) if area[first.name] >= area[second.name] else (second, first)
            found.append(Alike(keep, other, apart, _saved(card, keep, other) if _one_sheet(keep, other) else None))
    return tuple(found)


def _one_sheet(first: Paper, second: Paper) -> bool:
    """Whether two papers are of one thickness and, as far as it is given, one weight."""
    pairs = [(first.caliper, second.caliper)]
    if first.gsm is not None and second.gsm is not None:
        pairs.append((first.gsm, second.gsm))
    return all(abs(a - b) <= SAME_THICKNESS * min(a, b) for a, b in pairs)


def _saved(card: Card, keep: Paper, other: Paper) -> int:
    """Sheets of the two papers less those of one paper for both; below 0 if the packer does better apart."""
    from foldwright.emit.layout import lay_out
    from foldwright.emit.machined import as_laid

    made = as_laid(card)
    # all parts stay in the card, so that the packer looks as far as it does when the card is built
    as_one = tuple(replace(part, paper=keep.name) if part.paper == other.name else part for part in made.parts)
    return len(lay_out(replace(made, papers=(keep, other)))) - len(lay_out(replace(made, papers=(keep,), parts=as_one)))


def alike_words(pairs: tuple[Alike, ...], unit: str = "mm") -> list[str]:
    """An offer in a sentence for each pair."""
    return [_words(pair, unit) for pair in pairs]


def _words(pair: Alike, unit: str) -> str:
    keep, other = pair.keep, pair.other
    figure = f"colour difference {pair.difference:.1f}; up to {SAME_LOOK:g} is hardly seen"
    looks = f"Paper {keep.name} and paper {other.name} look the same ({figure})"
    write = f"write `merge {other.name} into {keep.name}`"
    if pair.saved is None:
        sheets = f"{_thick(keep, unit)} and {_thick(other, unit)}"
        return (f"{looks}, but they are not the same sheet ({sheets}): if {keep.name} would do for both, {write}, and the parts "
                f"of {other.name} are found again for it.")
    if pair.saved <= 0:
        return f"{looks}: one paper would do for both, though it would save no sheet ({write})."
    sheets = "1 sheet" if pair.saved == 1 else f"{pair.saved} sheets"
    return f"{looks}: one paper would save {sheets} ({write})."


def _thick(paper: Paper, unit: str) -> str:
    weight = "" if paper.gsm is None else f", {paper.gsm:.0f} gsm"
    return f"{'about ' if paper.estimated else ''}{amount(paper.caliper, False, unit)}{weight}"


def merged_words(design: Design, unit: str = "mm") -> list[str]:
    """What the script merges, in a sentence for each: how far apart the two papers are."""
    declared = {paper.name.text: solved(paper) for paper in design.papers}
    lines = []
    for gone, into in merged(design)[0].items():
        first, second = declared[gone], declared[into]
        apart = difference(first.colour, second.colour)
        words = f"Paper {gone} is cut from {into}, as the script asks (colour difference {apart:.1f})"
        if not _one_sheet(first, second):
            words += f"; it was {_thick(first, unit)}, and its parts are now those of {_thick(second, unit)}"
        lines.append(words + ".")
    return lines


def alike_json(pairs: tuple[Alike, ...]) -> list[dict[str, Any]]:
    """The same as JSON values; `saved` is null where the card would have to be found again."""
    return [{"keep": pair.keep.name, "other": pair.other.name, "difference": round(pair.difference, 4), "saved": pair.saved}
            for pair in pairs]
