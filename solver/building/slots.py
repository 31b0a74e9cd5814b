"""Pairs of slots in which upright layers cross: outlines, rules, and what paper does where rigid sheets would jam.

Shared by all that is made of crossing layers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import asin, atan, degrees, sqrt

from shapely import unary_union
from shapely.geometry import Polygon

from foldwright.solver.card import Crossing, Drawn, Note, Panel, Step
from foldwright.solver.expression import Expr
from foldwright.solver.flat import Flat
from foldwright.solver.geometry import rectangle
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule

GRID = 1e-6  # mm; snapping of outlines, far below what any machine cuts


def slot_width(owner: Mechanism) -> Fraction:
    """Width of all slots, in mm."""
    return owner.site.caliper + owner.habit("slot.clearance")


def slot_rules(owner: Mechanism, band: Expr, pitch: Expr) -> Iterator[Rule]:
    """Paper stays beyond a slot, in a layer whose plain part is `band` high, and between two slots `pitch` apart."""
    strip = owner.habit("slot.strip")
    yield owner.rule("slot-strip", Kind.PRACTICE, strip, "<=", (band - owner.habit("slot.depth")) / 2,
                     f"the slots of {owner.name} leave {{right}} of the layer whole; at least {{left}} should stay")
    yield owner.rule("slot-pitch", Kind.PRACTICE, strip + slot_width(owner), "<=", pitch,
                     f"the slots of {owner.name} lie {{right}} apart; a strip and a slot need {{left}}",
                     still=(slot_width(owner), pitch))


def plain_band(owner: Mechanism, rise: Expr, longest: Expr) -> Expr:
    """Height of the plain layer below its artwork, which is as wide as the layer."""
    return rise if owner.site.art is None else rise - owner.site.art.aspect * longest


def layer_outline(owner: Mechanism, span: tuple[float, float], band: float, places: Sequence[float], from_above: bool) -> Polygon:
    """A layer over `span` of its u, with its artwork and its slots at `places`; slots end at half the band."""
    width, clearance = float(slot_width(owner)), float(owner.habit("slot.depth")) / 2
    shape = rectangle(span[0], 0, span[1], band)
    if owner.site.art is not None:
        shape = unary_union([shape, owner.site.art.placed(span[1] - span[0], span[0], band)], grid_size=GRID)
    low, high = (band / 2 - clearance, shape.bounds[3] + 1) if from_above else (-1.0, band / 2 + clearance)
    slots = [rectangle(u - width / 2, low, u + width / 2, high) for u in places]
    return _main_piece(shape.difference(unary_union(slots), grid_size=GRID))


def layer_art(owner: Mechanism, span: tuple[float, float], band: float) -> list[Drawn]:
    """The artwork in such an outline."""
    art = owner.site.art
    return [] if art is None else [art.drawn(span[1] - span[0], span[0], band)]


def _main_piece(shape: Polygon) -> Polygon:
    """The largest piece; crumbs that a slot cuts off the artwork are dropped."""
    if shape.geom_type == "Polygon":
        return shape
    pieces = sorted(shape.geoms, key=lambda piece: piece.area)
    return pieces[-1]


def cross_layers(flat: Flat, owner: Mechanism, first: Sequence[str], second: Sequence[str]) -> None:
    """All crossings of two families of layers, and the step that puts them together."""
    flat.crossings += [Crossing(a, b, float(slot_width(owner))) for a in first for b in second]
    stood = f"the layer {first[0]}" if len(first) == 1 else f"the layers {first[0]} to {first[-1]} side by side"
    pushed = second[0] if len(second) == 1 else f"{second[0]} to {second[-1]}"
    onto = "it" if len(first) == 1 else "them"
    flat.steps.append(Step(f"Stand {stood}, slots up, and push {pushed} down onto {onto}, slots down, until the upper edges "
                           "meet.", (*first, *second)))


def slot_notes(owner: Mechanism, band: float, widest: float) -> Iterator[Note]:
    """Where the slots of layers that fold flat must give way; `widest` is the largest crossing angle in degrees.

    A sheet of caliper t needs a slot of t |cot psi| + t / sin psi to pass another of its kind at psi, which for
    psi <= 90 is t cot(psi / 2): no slot is wide enough for a closed card. Below psi = 2 atan(t / g) the paper on both
    sides of a slot of width g leaves its plane, by t when closed (shear of two strips; derived here, no source).
    """
    caliper, width, clearance = float(owner.site.caliper), float(slot_width(owner)), float(owner.habit("slot.depth"))
    least, name = 2 * degrees(atan(caliper / width)), owner.name
    yield Note(name, f"rigid sheets would jam in the slots of {name} where its layers cross at less than {{figure}}: below that "
               "the paper beside each slot gives way as the card closes", least, "angle")
    if widest > 180 - least:
        yield Note(name, f"the paper beside the slots of {name} gives way again where its layers cross at more than "
                   "{figure}, as the card opens wide", 180 - least, "angle")
    yield Note(name, f"closed, the paper beside each slot of {name} is pushed out of its plane by {{figure}}, one "
               "caliper", caliper)
    yield Note(name, f"for that, the paper beside the slots of {name} twists by {{figure}} over their depth",
               degrees(atan(caliper / ((band + clearance) / 2))), "angle")
    if clearance < caliper:
        yield Note(name, f"where two slots of {name} end nothing can move aside; their clearance in depth of {{figure}} is less "
                   "than the one caliper that it has to make up for", clearance)


def crossing_angle(opening: float, spread: float, first: float, second: float) -> float:
    """Largest angle in degrees at which layers along two sides of a parallelogram cross.

    Its hinges lie at `spread` from a crease; `opening` is sin² of half the largest opening of that.
    """
    return 2 * degrees(asin(min(1.0, spread * sqrt(opening / (first * second)))))


def add_layer(flat: Flat, owner: Mechanism, name: str, outline: Polygon, drawn: Sequence[Drawn] = ()) -> None:
    """A layer as a part of its own, with the artwork that its outline follows."""
    flat.drawn[name] = list(drawn)
    flat.papers[name] = owner.site.paper
    flat.panels.append(Panel(name, name, outline))
