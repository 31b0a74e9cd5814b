"""How the four kinds of line look: layer, colour, width and dash, all in one table.

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
from dataclasses import dataclass
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
