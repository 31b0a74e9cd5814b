"""Letters as holes: bridges hold what they enclose, and each hole keeps a bridge's width from the next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import copysign

import shapely
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Polygon

from foldwright.grammar.letters_font import Font
from foldwright.grammar.letters_shapes import GRID, Made, Sign, chord_of, edges, rectangle, sign

_NEAR = 4  # letters before the next one that could come near it
_LOOKS = 9  # places along a counter at which a bridge is tried
_OFF = 0.6  # what a bridge off the middle of its counter costs, against its length
_SECOND = 1.7  # a counter has a second bridge, opposite, if that is no longer than so many times the first
_SHORT = 260.0  # or no longer than this: a stem and a half
_PAST = 4.0  # how far a bridge goes on where it has crossed a stroke, so that no crumb of a round edge stays
_CRUMB = 0.3  # holes narrower than so much of a bridge are not cut
_ROUNDS = 6
_HELD = 0.99  # of a bridge: what is held by less is held by too little
_SPECK = 0.1  # of a bridge: smaller paper between holes is none
_MOVES = 40  # steps in which a piece moves away from others; it takes two or three


def stencil(letters: Sequence[str], font: Font, bridge: float) -> Made:
    """The letters as holes between which paper stays, `bridge` wide at least."""
    chord = chord_of(letters, font)
    placed = list(_set(letters, font, chord, bridge))
    cuts: list[Polygon] = []
    holes: list[Polygon] = []
    for each in placed:
        for piece in shapely.get_parts(each.shape):
            opened, own = _opened(piece, bridge)
            cuts += own
            holes += opened
    kept = [hole for hole in holes if not hole.buffer(-_CRUMB * bridge / 2, quad_segs=2).is_empty]
    curves = [curve for each in placed for curve in each.curves()]
    curves += [curve for cut in cuts for curve in edges(cut)]
    return Made(MultiPolygon(kept), tuple(curves), True)


def _set(letters: Sequence[str], font: Font, chord: float, bridge: float) -> Iterator[Sign]:
    """The letters side by side, kerned, but never nearer than a bridge."""
    x, before, done = 0.0, "", list[Sign]()
    for letter in letters:
        if before:
            x += font.kerning(before, letter)
        drawn = _spread(sign(letter, font, chord), bridge) if letter != " " else None
        if drawn is not None and drawn.paths:
            here = drawn.moved(x, 0)
            while done and (gap := min(other.shape.distance(here.shape) for other in done[-_NEAR:])) < bridge:
                x += max(bridge - gap, GRID)
                here = drawn.moved(x, 0)
            done.append(here)
            yield here
        x += font.glyph(letter).advance if letter in font else 0.0
        before = letter if letter in font else ""


def _spread(letter: Sign, bridge: float) -> Sign:
    """A letter whose pieces (dots, accents, the two marks of a quote) lie at least a bridge apart.

    The widest piece stays; the others move away from what they are near, straight up, down or sideways.
    """
    pieces = sorted(letter.pieces(), key=lambda piece: (-shapely.box(*piece.shape.bounds).area, piece.shape.bounds))
    done = pieces[:1]
    for piece in pieces[1:]:
        for move in range(_MOVES):
            gap, near = min((other.shape.distance(piece.shape), number) for number, other in enumerate(done))
            if gap >= bridge:
                break
            (x0, y0), (x1, y1) = shapely.shortest_line(done[near].shape, piece.shape).coords
            step = max(bridge - gap, GRID)
            sideways = abs(x1 - x0) > abs(y1 - y0) and move < _MOVES / 4
            if not sideways and move >= _MOVES / 4:  # it lies between two others: out of there
                y0, y1 = (pieces[0].shape.centroid.y, piece.shape.centroid.y)
            piece = piece.moved(copysign(step, x1 - x0) if sideways else 0.0, 0.0 if sideways else copysign(step, y1 - y0))
        done.append(piece)
    paths = tuple(path for piece in done for path in piece.paths)
    return Sign(paths, MultiPolygon([part for piece in done for part in shapely.get_parts(piece.shape)]), letter.chord)


def _opened(piece: Polygon, bridge: float) -> tuple[list[Polygon], list[Polygon]]:
    """The holes that one piece of a letter becomes, none with an island in it, and the bridges that were cut across."""
    cuts: list[Polygon] = []
    for counter in piece.interiors:
        cuts += _bridges(piece, Polygon(counter), bridge)
    solid = piece.buffer(bridge / 2, quad_segs=4).buffer(-bridge / 2, quad_segs=4)  # as if narrow openings were none
    for _ in range(_ROUNDS):
        left = shapely.get_parts(shapely.difference(piece, shapely.union_all(cuts), grid_size=GRID)) if cuts else [piece]
        loose = [Polygon(hole) for part in left for hole in part.interiors] or list(_weakly_held(piece, left, bridge))
        if not loose:
            break
        for each in loose:
            cuts += _bridges(solid, each, bridge) or [_across(piece, each, bridge)]
    return list(left), cuts


def _weakly_held(piece: Polygon, holes: Sequence[Polygon], bridge: float) -> Iterator[Polygon]:
    """Paper round the holes of a piece that hangs on the rest by less than a bridge."""
    left, low, right, high = piece.bounds
    paper = rectangle(left - 2 * bridge, low - 2 * bridge, right + 2 * bridge, high + 2 * bridge)
    firm = shapely.difference(paper, MultiPolygon(holes), grid_size=GRID).buffer(-_HELD * bridge / 2, quad_segs=4)
    parts = sorted(shapely.get_parts(firm), key=lambda part: -part.area)
    yield from (part.buffer(_HELD * bridge / 2, quad_segs=4) for part in parts[1:] if part.area > (_SPECK * bridge) ** 2)


def _bridges(piece: Polygon, counter: Polygon, width: float) -> list[Polygon]:
    """The bridge up or down from a counter, whichever is shorter, and the other too if it is not much longer."""
    found = []
    for turn in (0, 180):
        own, inside = (affinity.rotate(each, turn, origin=(0, 0)) for each in (piece, counter))
        best = _upwards(own, inside, width)
        if best is not None:
            length, shape = best
            found.append((length, rectangle(*affinity.rotate(shape, -turn, origin=(0, 0)).bounds)))
    found.sort(key=lambda each: each[0])
    return [shape for length, shape in found if length <= max(_SECOND * found[0][0], _SHORT) or shape is found[0][1]]


def _upwards(piece: Polygon, counter: Polygon, width: float) -> tuple[float, Polygon] | None:
    """The best bridge from a counter up across the stroke above it, and its length; None if there is no stroke."""
    left, _, right, _ = counter.bounds
    middle, reach = (left + right) / 2, max(0.0, (right - left - width) / 2)
    found = []
    for look in range(_LOOKS):
        x = middle + reach * (2 * look / (_LOOKS - 1) - 1)
        stroke = _stroke(piece, counter, x, width)
        if stroke is not None:
            low, high = stroke
            shape = rectangle(x - width / 2, low - _PAST, x + width / 2, high + _PAST)
            found.append((high - low + _OFF * abs(x - middle), abs(x - middle), x, high - low, shape))
    if not found:
        return None
    *_, length, shape = min(found, key=lambda each: each[:3])
    return length, shape


def _stroke(piece: Polygon, counter: Polygon, x: float, width: float) -> tuple[float, float] | None:
    """From where to where the stroke above a counter is cut by a bridge at `x`."""
    _, low, _, high = counter.bounds
    spans = []
    for at in (x, x - width / 2, x - width / 4, x + width / 4, x + width / 2):
        line = LineString([(at, low - 1), (at, piece.bounds[3] + 1)])
        inside = line.intersection(counter)
        if inside.is_empty:
            if at == x:
                return None
            top = (low + high) / 2
        else:
            top = inside.bounds[3]
        crossed = shapely.bounds(shapely.get_parts(line.intersection(piece))).tolist()
        above = [(begin, end) for _, begin, _, end in crossed if end > top + GRID]
        if above:
            spans.append(min(above))
    return (min(max(begin, low) for begin, _ in spans), max(end for _, end in spans)) if spans else None


def _across(piece: Polygon, counter: Polygon, width: float) -> Polygon:
    """A cut from the middle of a counter straight up through everything, for what no shorter bridge has opened."""
    at = counter.representative_point()
    return rectangle(at.x - width / 2, at.y, at.x + width / 2, piece.bounds[3] + _PAST)
