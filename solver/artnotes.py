"""What paper makes of artwork at its solved size: thin places, paper that falls out or off, and lines that nobody can draw."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial

import shapely
from shapely import affinity
from shapely.geometry import LineString, MultiLineString, Polygon

from foldwright.solver.card import Card, Drawn, Note, Part, Thin
from foldwright.solver.flat import Flat
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.memory import Memory
from foldwright.solver.thin import thin
from foldwright.solver.words import amount

NEAR = 1.0  # mm; a thin place farther from every artwork than this is none of the artwork's
MOST = 5  # places of one mechanism that are told
CRUMB = 1.0  # mm; what comes off and is no wider is lost without a word


def thin_places(outline: Polygon, drawn: Sequence[Drawn], least: float, memory: Memory) -> tuple[Thin, ...]:
    """The places of a part narrower than `least` mm, where its outline follows artwork."""
    if not drawn or outline.geom_type != "Polygon":
        return ()
    found: tuple[Thin, ...] = memory.built.get(("thin", outline, least), partial(thin, outline, least))
    if not found:
        return ()
    art = shapely.union_all([_lines(each) for each in drawn])
    return tuple(place for place in found if art.distance(shapely.Point(place.at)) <= NEAR + place.width)


def art_notes(card: Card, mechanisms: Sequence[Mechanism], sizes: Mapping[str, Mapping[str, float]],
              flats: Mapping[str, Flat]) -> Iterator[Note]:
    """All that there is to say of a card's artwork."""
    yield from _thin_notes(card)
    for mechanism in mechanisms:
        if mechanism.site.art is None:
            continue
        yield from _fallen_out(mechanism, sizes[mechanism.name], card.unit)
        yield from _cut_off(mechanism, flats[mechanism.name], {part.name: part for part in card.parts}, card.unit)
    if not card.machine.printed_up:
        for part in card.parts:
            lines = sum(len(art.ink.lines) for art in part.drawn)
            if lines:
                yield Note(part.name.split(".")[0], f"the {lines} lines that artwork draws on {part.label} ({part.name}) are on "
                           "its printed side, which lies down on the mat: the machine cannot draw them there; say `printed up`, "
                           "or draw them by hand after the template pages", float(lines), "plain")


def _thin_notes(card: Card) -> Iterator[Note]:
    """Thin places, those of parts that are alike told once."""
    least = amount(card.practice["art.thinnest"], unit=card.unit)
    told: dict[tuple[str, str, float], list[tuple[Part, Thin]]] = {}
    for part in card.parts:
        for place in part.thin:
            told.setdefault((part.name.split(".")[0], _file(part, place), round(place.width, 2)), []).append((part, place))
    counts: dict[str, int] = {}
    for (owner, file, _), places in told.items():
        part, place = places[0]
        counts[owner] = counts.get(owner, 0) + 1
        if counts[owner] > MOST:
            continue
        others = "" if len(places) == 1 else f", and at {len(places) - 1} more places like it"
        yield Note(owner, f"the artwork {file} is only {{figure}} wide on {part.label} ({part.name}), "
                   f"{_place(place.at, part, card.unit)}{others}; paper narrower than {least} tears there (practice "
                   "`art.thinnest`): draw it wider, or make it larger", place.width)
    for owner, count in counts.items():
        if count > MOST:
            yield Note(owner, f"the artwork of {owner} is too thin in {{figure}} more places", float(count - MOST), "plain")


def _fallen_out(mechanism: Mechanism, sizes: Mapping[str, float], unit: str) -> Iterator[Note]:
    """Islands in the artwork of a window: paper that nothing holds."""
    art, width = mechanism.site.art, sizes.get("width", 0.0)
    if art is None or mechanism.keyword != "window":
        return
    for ring in (ring for shape in shapely.get_parts(art.outline) for ring in shape.interiors):  # of letters there are several
        island = Polygon(affinity.scale(ring, width, width, origin=(0, 0)))
        left, low, right, high = island.bounds
        if min(right - left, high - low) > CRUMB:
            at = f"{amount(left, unit=unit)} from its left and {amount(low, unit=unit)} from its lower edge"
            yield Note(mechanism.name, f"the artwork {art.file} of the window {mechanism.name} has paper inside, {{figure}} "
                       f"wide, {at}, that would fall out: it is cut away with the window; to keep it, draw a bridge to it",
                       right - left)


def _cut_off(mechanism: Mechanism, flat: Flat, parts: Mapping[str, Part], unit: str) -> Iterator[Note]:
    """Pieces of artwork that a slot cuts off from their part."""
    art = mechanism.site.art
    if art is None or not flat.crossings:
        return
    slot = max(crossing.width for crossing in flat.crossings)
    seen: set[bytes] = set()
    for name, drawn in flat.drawn.items():
        part = parts.get(name)
        if part is None or part.outline.wkb in seen:
            continue
        seen.add(part.outline.wkb)
        for each in drawn:
            a, b, c, d, e, f = each.matrix
            gone = affinity.affine_transform(art.outline, [a, c, b, d, e, f]).difference(part.outline)
            for piece in shapely.get_parts(gone.buffer(-0.55 * slot).buffer(0.55 * slot)):
                left, _, right, _ = piece.bounds
                if piece.area > CRUMB * CRUMB:
                    where = _place(piece.representative_point().coords[0], part, unit)
                    yield Note(mechanism.name, f"a piece {{figure}} wide of the artwork {art.file} is cut off by a slot of "
                               f"{part.label} ({part.name}), {where}, and is left out; draw it joined to the rest",
                               right - left)


def _place(at: Sequence[float], part: Part, unit: str) -> str:
    left, low, *_ = part.outline.bounds
    across, up = amount(at[0] - left, unit=unit), amount(at[1] - low, unit=unit)
    return f"{across} from the left and {up} from the lower edge of that part"


def _file(part: Part, place: Thin) -> str:
    """The artwork that a place belongs to: the nearest."""
    return min(part.drawn, key=lambda art: (_lines(art).distance(shapely.Point(place.at)), art.file)).file


def _lines(art: Drawn) -> MultiLineString:
    """The curves of an artwork on its part, flattened as they were for the outline."""
    curves = art.placed()
    return MultiLineString([LineString([curve.start, *curve.segment.points(curve.start, curve.steps)]) for curve in curves])
