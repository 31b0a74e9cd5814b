"""A part cut in as few pieces as can be, each of which fits a mat: which of the possible seams to take, and the pieces.

Seams square to the part's sides are tried first, slanting ones only if there is no other way. All seams of a part run the
same way, so the best of them are a shortest path from one end of the part to the other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from foldwright.solver.seams import CRUMB, FAR, SQUARE, Chord, Cut, Frame, Habits, pieces_of

Fits = Callable[[float, float], bool]  # whether a piece of a width and a height (part coordinates, mm) fits a mat

SLANTS = (0, 15, -15, 30, -30)  # degrees from square, in the order in which they are tried
_END = 2  # in place of a cut's way: the end of the part
# What a place costs: where it is seen, how narrow it is (share of the widest), how near to what it keeps off (a share of an
# overlap and the margin), and how far from equal pieces (share of the length).
_SEEN, _NARROW, _NEAR, _UNEVEN = 100.0, 10.0, 2.0, 1.0


@dataclass(frozen=True)
class Piece:
    """A piece as it is cut, and `body`, the same without tongues."""

    outline: Polygon
    body: Polygon


@dataclass(frozen=True)
class Split:
    """Pieces from one end to the other; of each seam its ends, its lap, and the number of the piece whose tongue that is.

    With strips the laps are the strips, and the number is -1.
    """

    pieces: tuple[Piece, ...]
    seams: tuple[tuple[tuple[float, float], tuple[float, float], Polygon, int], ...]


def split(outline: Polygon, keep_off: BaseGeometry, fits: Fits, habits: Habits,
          seen: Callable[[Polygon], float] = lambda lap: 0.0) -> Split | None:
    """The best way to cut an outline (part coordinates, mm) into as few pieces as possible that all fit, None if there is none.

    Seams and laps keep the margin from `keep_off` (creases, slits, glue) and from every hole, notch and detail of the outline.
    `seen` tells of a lap how much it matters that it is seen, 0 to 2.
    """
    keep_off = shapely.union_all([keep_off, *(Polygon(ring) for ring in outline.interiors)])
    left, low, right, high = outline.bounds
    along = (0, 90) if right - left >= high - low else (90, 0)
    best: tuple[tuple[int, float], Split] | None = None
    for slant in SLANTS:
        for turn in along:
            found = _Path(Frame(outline, keep_off, habits, seen, turn + slant), fits).best()
            if found is not None and (best is None or found[0] < best[0]):
                best = found
            if best is not None and best[0][0] == 1:
                break
        if best is not None:
            return best[1]
    return None


class _Path:
    """The choice among the seams of one direction."""

    def __init__(self, frame: Frame, fits: Fits) -> None:
        self.frame, self.fits = frame, fits

    def best(self) -> tuple[tuple[int, float], Split] | None:
        """The cuts with the fewest pieces, and of these the best places; what they cost, and the split."""
        chosen = self._chosen(self.frame.cuts)
        if chosen is None:
            return None
        cost, cuts = chosen
        return (sum(len(cut.chords) for cut in cuts), round(cost, 6)), self._made(cuts)

    def _chosen(self, cuts: Sequence[Cut]) -> tuple[float, list[Cut]] | None:
        """Shortest path from end to end over cuts whose pieces between fit: first by pieces, then by cost."""
        reach = self._reaches(cuts)
        fewest = self._walk(cuts, reach, lambda cut, count: 0.0, 0)
        if fewest is None:
            return None
        count = sum(len(cut.chords) for cut in fewest[1])
        widest = max(_width(cut) for cut in cuts)
        a0, _, a1, _ = self.frame.bounds
        even = [a0 + (a1 - a0) * k / (count + 1) for k in range(1, count + 1)]

        def cost(cut: Cut, number: int) -> float:
            uneven = abs(cut.at - even[min(number, count) - 1]) / (a1 - a0)
            return _SEEN * cut.seen + _NARROW * (1 - _width(cut) / widest) + _NEAR * cut.near + _UNEVEN * uneven

        return self._walk(cuts, reach, cost, count)

    def _walk(self, cuts: Sequence[Cut], reach: Sequence[dict[int, int]], cost: Callable[[Cut, int], float],
              most: int) -> tuple[float, list[Cut]] | None:
        """The best way; `reach` tells how far the piece after each cut may go, by the way of the cut that ends it.

        At most `most` seams, if that is not 0.
        """
        # by cut (-1 is the low end): (seams so far, cost so far, cut before)
        best: dict[int, tuple[int, float, int]] = {-1: (0, 0.0, -2)}
        goal: tuple[int, float, int] | None = None
        for at in range(-1, len(cuts)):
            if at not in best:
                continue
            seams, spent, _ = best[at]
            if reach[at + 1][_END] and (goal is None or (seams, spent) < goal[:2]):
                goal = (seams, spent, at)
            for to in range(at + 1, len(cuts)):
                if to > reach[at + 1][cuts[to].way] or (at >= 0 and cuts[to].at - cuts[at].at < self._least()):
                    continue
                number = seams + len(cuts[to].chords)
                offer = (number, spent + cost(cuts[to], number), at)
                if (not most or number <= most) and (to not in best or offer[:2] < best[to][:2]):
                    best[to] = offer
        if goal is None:
            return None
        way: list[Cut] = []
        step = goal[2]
        while step >= 0:
            way.append(cuts[step])
            step = best[step][2]
        return goal[1], way[::-1]

    def _least(self) -> float:
        """The shortest piece between two seams."""
        return 2 * (self.frame.habits.overlap + self.frame.habits.margin)

    def _reaches(self, cuts: Sequence[Cut]) -> list[dict[int, int]]:
        """For the low end and each cut, the last cut up to which a piece from there on fits, by the way of that last cut.

        Under `_END`, whether the rest of the part fits. A piece that begins later reaches no less far, so one pass is enough.
        """
        found: list[dict[int, int]] = [{} for _ in range(len(cuts) + 1)]
        ways = {cut.way for cut in cuts}
        for starts in ([-1], *([n for n, cut in enumerate(cuts) if cut.way == way] for way in ways)):
            for way in ways:
                numbers = [n for n, cut in enumerate(cuts) if cut.way == way]
                last = 0
                for first in starts:
                    while last < len(numbers) and (numbers[last] <= first or self._fit(cuts[first] if first >= 0 else None,
                                                                                       cuts[numbers[last]])):
                        last += 1
                    found[first + 1][way] = numbers[last - 1] if last else first
            whole = False
            for first in starts:
                whole = whole or self._fit(cuts[first] if first >= 0 else None, None)
                found[first + 1][_END] = int(whole)
        return found

    def _fit(self, start: Cut | None, end: Cut | None) -> bool:
        """Whether every piece between two cuts (None: an end of the part), tongues included, fits a mat."""
        for body in self._bodies(start, end):
            shapes = [body, *(chord.lap for chord in _tongues(start, end) if _meets(chord, body))]
            bounds = [(shape if self.frame.turn in SQUARE else self.frame.back(shape)).bounds for shape in shapes]
            size = [max(b[n + 2] for b in bounds) - min(b[n] for b in bounds) for n in (0, 1)]
            if not self.fits(*(size[::-1] if self.frame.turn == 90 else size)):
                return False
        return True

    def _bodies(self, start: Cut | None, end: Cut | None) -> list[Polygon]:
        a0, b0, a1, b1 = self.frame.bounds
        between = box(a0 - FAR if start is None else start.at, b0 - FAR, a1 + FAR if end is None else end.at, b1 + FAR)
        return [part for part in pieces_of(self.frame.outline.intersection(between)) if isinstance(part, Polygon)]

    def _made(self, cuts: Sequence[Cut]) -> Split:
        """The pieces in part coordinates."""
        pieces: list[Piece] = []
        owner: dict[int, int] = {}
        for start, end in zip([None, *cuts], [*cuts, None], strict=True):
            for body in sorted(self._bodies(start, end), key=lambda body: body.bounds[1]):
                tongues = [chord for chord in _tongues(start, end) if _meets(chord, body)]
                owner |= {id(chord): len(pieces) for chord in tongues}
                whole = shapely.union_all([body, *(chord.lap for chord in tongues)])
                pieces.append(Piece(self.frame.back(whole), self.frame.back(body)))
        seams = []
        for chord in (chord for cut in cuts for chord in cut.chords):
            ends = self.frame.back(LineString([(chord.at, chord.low), (chord.at, chord.high)])).coords
            seams.append((ends[0], ends[1], self.frame.back(chord.lap), owner.get(id(chord), -1)))
        return Split(tuple(pieces), tuple(seams))


def _tongues(start: Cut | None, end: Cut | None) -> Iterator[Chord]:
    """The tongues of a piece between two cuts."""
    if start is not None and start.way < 0:
        yield from start.chords
    if end is not None and end.way > 0:
        yield from end.chords


def _meets(chord: Chord, body: Polygon) -> bool:
    """Whether a seam lies on the edge of a piece."""
    return bool(body.distance(Point(chord.at, (chord.low + chord.high) / 2)) < CRUMB)


def _width(cut: Cut) -> float:
    return min(chord.high - chord.low for chord in cut.chords)
