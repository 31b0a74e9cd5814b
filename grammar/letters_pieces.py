"""Letters in one piece: they stand on a bar, and what does not reach it hangs on by bridges."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Polygon

from foldwright.grammar.letters_font import Font
from foldwright.grammar.letters_shapes import FOOT, GRID, Made, Sign, chord_of, edges, rectangle, sign

_LOOKS = 9  # places along a piece at which a bridge is tried
_SIDEWAYS = 2.5  # a bridge to a neighbour is taken only if it is this much shorter than one up or down
_OFF = 0.3  # what a bridge off the middle of its piece costs, against its length
_SLENDER = 4.0  # a bridge is no longer than so many of its widths
FAR = 1e5  # longer than any text
_CRUMB = 0.3  # holes narrower than so much of a bridge are left closed: no blade goes round in them


def one_piece(letters: Sequence[str], font: Font, bar: float, bridge: float, edge: bool) -> Made:
    """The letters as one piece, with a bar `bar` high and bridges `bridge` wide.

    A letter that is one piece by itself needs no bar. With `edge` it has one, and the bar reaches down to the lowest letter.
    """
    chord = chord_of(letters, font)
    signs = list(_set(letters, font, chord))
    if not signs:
        return Made(Polygon(), (), False)
    inked = shapely.union_all([each.shape for each in signs], grid_size=GRID)
    left, low, right, _ = inked.bounds
    ground = rectangle(left, min(FOOT - bar, low) if edge else FOOT - bar, right, FOOT)
    joined = None if edge or len(signs) > 1 else _joined(inked, None, bridge)
    added = [] if joined else [ground]
    joined = joined or _joined(shapely.union_all([inked, ground], grid_size=GRID), ground, bridge)
    assert joined is not None, "everything lies above or below the bar"
    shape, bridges = joined
    added += bridges
    holes = [hole for hole in shape.interiors if not Polygon(hole).buffer(-_CRUMB * bridge / 2, quad_segs=2).is_empty]
    curves = [curve for each in signs for curve in each.curves()]
    curves += [curve for each in added for curve in edges(each)]
    return Made(Polygon(shape.exterior, holes), tuple(curves), bool(bridges))


def _set(letters: Sequence[str], font: Font, chord: float) -> Iterator[Sign]:
    """The letters side by side, kerned; spaces leave room."""
    x, before = 0.0, ""
    for letter in letters:
        if before:
            x += font.kerning(before, letter)
        drawn = sign(letter, font, chord) if letter != " " else None
        if drawn is not None and drawn.paths:
            yield drawn.moved(x, 0)
        x += font.glyph(letter).advance if letter in font else 0.0
        before = letter if letter in font else ""


@dataclass(frozen=True)
class _Bridge:
    cost: float
    shape: Polygon
    length: float


def _joined(shape: Polygon | MultiPolygon, bar: Polygon | None, width: float) -> tuple[Polygon, list[Polygon]] | None:
    """One piece of all, and the bridges in it: what is nearest to the bar is joined first, the rest to what is joined.

    None if something lies aslant of all others, which without a bar can be.
    """
    bridges: list[Polygon] = []
    parts = list(shapely.get_parts(shape))
    parts.sort(key=lambda part: (-part.intersection(bar).area if bar is not None else -part.area, part.bounds))
    rest, fresh, best = dict(enumerate(parts[1:])), parts[:1], dict[int, _Bridge]()
    while rest:
        for number, part in rest.items():
            found = [bridge for joined in fresh if (bridge := _bridge(part, joined, width))]
            if found:
                best[number] = min(([best[number]] if number in best else []) + found, key=lambda bridge: bridge.cost)
        if not best:
            return None
        number = min(best, key=lambda each: (best[each].cost, each))
        bridges.append(best[number].shape)
        joined = [each for each in rest if each == number or rest[each].intersects(bridges[-1])]
        fresh = [rest.pop(each) for each in joined]
        best = {each: bridge for each, bridge in best.items() if each in rest}
    return shapely.union_all([*parts, *bridges], grid_size=GRID), bridges


def _bridge(part: Polygon, other: Polygon, width: float) -> _Bridge | None:
    """The best bridge from a piece to another, in any direction; None if they lie aslant of each other."""
    found = []
    for turn, price in ((0, 1.0), (180, 1.0), (90, _SIDEWAYS), (270, _SIDEWAYS)):
        own, target = (affinity.rotate(each, turn, origin=(0, 0)) for each in (part, other))
        left, _, right, _ = own.bounds
        target = shapely.clip_by_rect(target, left - FAR, own.bounds[1] - FAR, right + FAR, own.bounds[3])
        best = _downwards(own, target, width)
        if best is not None and best.length > _SLENDER * width:
            best = _downwards(own, target, best.length / _SLENDER) or best
        if best is not None:
            back = affinity.rotate(best.shape, -turn, origin=(0, 0))
            found.append(_Bridge(price * best.cost, rectangle(*back.bounds), best.length))
    return min(found, key=lambda bridge: bridge.cost, default=None)


def _downwards(part: Polygon, main: Polygon, width: float) -> _Bridge | None:
    """The best upright bridge from a piece down to the rest; None if nothing lies below it."""
    left, _, right, high = part.bounds
    middle, reach = (left + right) / 2, max(0.0, (right - left - width) / 2)
    found = []
    for look in range(_LOOKS):
        x = middle + reach * (2 * look / (_LOOKS - 1) - 1)
        span = _gap(part, main, x, width, high)
        if span is not None:
            length = span[1] - span[0]
            depth = width / 2  # into both, so that it is as wide as it should be where it meets them
            shape = rectangle(x - width / 2, span[0] - depth, x + width / 2, span[1] + depth)
            found.append(_Bridge(length + _OFF * abs(x - middle), shape, length))
    return min(found, key=lambda bridge: (bridge.cost, abs(sum(bridge.shape.bounds[::2]) / 2 - middle)), default=None)


def _gap(part: Polygon, main: Polygon, x: float, width: float, high: float) -> tuple[float, float] | None:
    """Between what heights a bridge at `x` has to be drawn to meet both on its whole width; None if it would meet nothing."""
    tops, feet = [], []
    for at in (x, x - width / 2, x + width / 2):
        line = LineString([(at, high + 1), (at, high - FAR)])
        own, other = line.intersection(part), line.intersection(main)
        foot = None if own.is_empty else own.bounds[1]
        below = [] if foot is None else [top for *_, top in shapely.bounds(shapely.get_parts(other)).tolist() if top < foot]
        if foot is not None and below:
            tops.append(max(below))
            feet.append(foot)
        elif at == x:
            return None
    return min(tops), max(feet)
