"""How the four kinds of line look: layer, colour, width and dash, in one table for each way to make creases.

Every kind differs from every other in layer name, in dash *and* in colour, so that no reader, person or
machine, depends on colour alone.

Dashes. Valley folds are dashed and mountain folds are dash-dot, as in origami diagrams since Yoshizawa and
Randlett (R. J. Lang, "Origami diagramming conventions: a historical perspective", 1989-91, 2000: practice,
not a standard). The lengths follow the line types of ISO 128-2:2020, counted in line widths (from memory):
dash 12, gap 3, dot 0.5; widths are taken from its series. Marks are dotted, but with gaps as short as the
dots: with the standard's gaps, small lettering can no longer be read. A dash is a look only: the geometry of
a line is always whole. All lines are thin enough to leave a slot of 0.3 mm open to the eye.

Colours. No standard gives cut and crease a colour, so these are our own. They come from a search over a grid
of 512 colours with four conditions: contrast with white paper at least 3:1 (WCAG 2.1, success criterion
1.4.11); hue at least 20° from pure red, green and blue, whose meaning differs from shop to shop; a near-black
for the cut, because cuts are most of a sheet; and the least difference (CIE 1976 L*a*b*) between any two of
the four about as large as it gets for normal sight and for the three dichromacies as simulated by Machado,
Oliveira and Fernandes (2009). That least difference is 47. Of the three colours that are left, the darkest
goes to the marks, which are thin and dotted. `tests/test_emit_style.py` computes these numbers again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from foldwright.solver.card import Stroke


@dataclass(frozen=True, slots=True)
class Style:
    """How one kind of line is drawn; lengths in mm.

    `dash` is pen down, pen up, and so on; empty means solid. `index` is the nearest of the 255 DXF colours,
    for readers that know no other; 7 stands for black on white and white on black.
    """

    layer: str
    colour: str
    width: float
    dash: tuple[float, ...]
    index: int
    meaning: str


def _iso(width: float, *lengths: float) -> tuple[float, ...]:
    """A dash pattern from lengths counted in line widths."""
    return tuple(round(width * length, 4) for length in lengths)


_DASH, _GAP, _DOT = 12, 3, 0.5  # line widths, ISO 128-2:2020

STYLES: Mapping[Stroke, Style] = MappingProxyType(
    {
        Stroke.CUT: Style("CUT", "#1c1c24", 0.25, (), 7, "cut through"),
        Stroke.MOUNTAIN: Style(
            "MOUNTAIN",
            "#cc6600",
            0.25,
            _iso(0.25, _DASH, _GAP, _DOT, _GAP),
            32,
            "crease, folds away from you",
        ),
        Stroke.VALLEY: Style(
            "VALLEY", "#6688aa", 0.25, _iso(0.25, _DASH, _GAP), 143, "crease, folds towards you"
        ),
        Stroke.MARK: Style("MARK", "#aa22ee", 0.25, _iso(0.25, 1, 1), 200, "draw or leave out, never cut"),
    }
)

# What a long dash is in ISO 128-2:2020, line types 04 and 05, counted in line widths (from memory).
_LONG = 24

_AWAY, _TOWARDS = "folds away from you", "folds towards you"
# Cuts and ticks are short and real, so a dash on them would hide what they are, and a program that cuts dashes would cut
# them to pieces: they are solid, and told apart from each other and from the cut by their widths, layers and colours.
_OTHER: Mapping[str, tuple[str, str, tuple[float, tuple[float, ...]], tuple[float, tuple[float, ...]]]] = MappingProxyType(
    {
        "perforated": ("PERFORATION", "cut in dashes, leave the bridges", (0.5, ()), (0.35, ())),
        "ticked": ("TICK", "end of a crease, draw or cut short; fold along a ruler", (0.5, ()), (0.35, ())),
        "half-cut": ("HALF_CUT", "cut half through", (0.25, _iso(0.25, _LONG, _GAP, _DOT, _GAP)),
                     (0.25, _iso(0.25, _LONG, _GAP))),
    }
)


def styles(creases: str) -> Mapping[Stroke, Style]:
    """The looks of all kinds of line where creases are "creased", "perforated", "ticked" or "half-cut".

    What is to be done by another tool lies on layers of another name.
    """
    if creases == "creased":
        return STYLES
    word, meaning, mountain, valley = _OTHER[creases]
    looks = dict(STYLES)
    for kind, (width, dash), folds in ((Stroke.MOUNTAIN, mountain, _AWAY), (Stroke.VALLEY, valley, _TOWARDS)):
        looks[kind] = replace(STYLES[kind], layer=f"{word}_{kind.name}", width=width, dash=dash, meaning=f"{meaning}; {folds}")
    return MappingProxyType(looks)


# Lines of a page that belong to no part, such as where tiles are joined: long-dashed double-dotted as ISO 128-2 draws what lies
# beside the subject (from memory), in a grey of contrast 5:1 with white paper.
ASSIST = Style("ASSIST", "#707070", 0.18, _iso(0.18, 24, _GAP, _DOT, _GAP, _DOT, _GAP), 8, "where tiles are joined")
