"""A card and its variants, each found again from the same script: what came of each, and what it takes to make it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import shapely
from shapely.geometry import LineString

from foldwright.api import Checked, Script, check, design_of
from foldwright.emit.layout import lay_out
from foldwright.emit.machined import as_laid
from foldwright.grammar import Design, Refused
from foldwright.grammar.design import Variant
from foldwright.grammar.problem import Problem
from foldwright.solver.answer import Progress
from foldwright.solver.card import Card
from foldwright.solver.pieces import as_cut
from foldwright.solver.proof import corners
from foldwright.solver.variants import varied
from foldwright.solver.words import amount

WRITTEN = "as written"  # no variant can be called this: a name has no blank


@dataclass(frozen=True)
class Made:
    """What it takes to make a card: sheets and paper area (mm²) by paper, parts, slot widths by layer, least tab (mm)."""

    sheets: dict[str, int]
    area: dict[str, float]
    parts: int
    slots: dict[str, float]
    tab_depth: float | None  # of the shallowest glue tab
    tab_length: float | None  # of the shortest one, on average


@dataclass(frozen=True)
class Tried:
    """A variant, and what came of it: the card that was checked, or the problems that stand in its way."""

    name: str
    design: Design
    variant: Variant | None
    checked: Checked | None
    made: Made | None
    problems: tuple[Problem, ...] = ()


def try_all(script: Script, given: Variant | None = None, progress: Progress | None = None,
            seconds: float | None = None) -> list[Tried]:
    """The card as written and its variants, in their order; last what the call itself changes, if anything.

    Raises Refused only if the script cannot be read at all. `seconds` bounds each of the searches.
    """
    design = design_of(script)
    versions: list[tuple[str, Design, Variant | None]] = [(WRITTEN, design, None)]
    for variant in (*design.variants, *([given] if given else [])):
        versions.append((variant.name.text, varied(design, variant), variant))
    return [_tried(name, version, variant, progress, seconds) for name, version, variant in versions]


def _tried(name: str, design: Design, variant: Variant | None, progress: Progress | None, seconds: float | None) -> Tried:
    def say(words: str) -> None:
        if progress:
            progress(f"{name}: {words}")

    try:
        checked = check(design, say, seconds)
    except Refused as refused:
        return Tried(name, design, variant, None, None, refused.problems)
    say("laying out the sheets")
    return Tried(name, design, variant, checked, made_of(checked.card))


def made_of(card: Card) -> Made:
    """What it takes to make a card; tabs and slots are measured on its parts."""
    area: Counter[str] = Counter()
    parts = as_cut(card).parts
    for part in parts:
        area[part.paper] += part.outline.area
    sheets = Counter(sheet.paper for sheet in lay_out(as_laid(card)))
    owners = {panel: panel.split(".")[0] for crossing in card.crossings for panel in (crossing.first, crossing.second)}
    slots = {owners[crossing.first]: crossing.width for crossing in card.crossings}
    tabs = list(_tabs(card))
    return Made({paper.name: sheets[paper.name] for paper in card.papers if sheets[paper.name]},
                {paper.name: area[paper.name] for paper in card.papers if area[paper.name]}, len(parts), slots,
                min((depth for depth, _ in tabs), default=None), min((length for _, length in tabs), default=None))


def _tabs(card: Card) -> Iterator[tuple[float, float]]:
    """Depth and mean length of each glue tab, in mm."""
    panels = {panel.name: panel for panel in card.panels}
    glued = {bond.panel for bond in card.bonds if bond.whole}
    for hinge in card.hinges:
        panel = panels[hinge.right]
        if panel.tab and panel.name in glued:
            edge = LineString([hinge.start, hinge.end])
            depth = max(edge.distance(shapely.Point(point)) for point in corners(panel))
            yield depth, panel.outline.area / depth


def changes(variant: Variant, unit: str) -> list[str]:
    """What a variant changes, a few words each, as it is written."""
    spans = [paper.at for paper in variant.papers]
    spans += [practice.at for practice in variant.practices]
    spans += [line.at for _, line in variant.settings]
    cover = [] if variant.cover is None else [f"cover {variant.cover.at.text}"]
    mat = [each.at.text for each in variant.mats] + [at.text for at in variant.machine.statements().values()]
    step = [] if variant.step is None else [f"step {amount(float(variant.step), unit=unit)}"]
    return [" ".join(text.split()) for text in (*cover, *mat, *step, *(span.text for span in spans))]
