"""Template pages as PDF: true size, every kind of line with its colour and dash, the same bytes every time.

The library writes two decimals of a point in its plain calls and a rounded factor for millimetres (0.005 mm over a page), so
everything is handed over in points: 1 mm is 72/25.4 points, by the definition of user space (ISO 32000-1, 8.3.2.3).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from itertools import groupby
from typing import TYPE_CHECKING, Any

from foldwright.emit.names import plain
from foldwright.emit.pages import Page, Words
from foldwright.emit.style import ASSIST, STYLES, Style
from foldwright.emit.trace import Trace
from foldwright.solver.card import Point

if TYPE_CHECKING:
    from fpdf import FPDF
    from fpdf.drawing import PaintedPath

POINT = 72 / 25.4  # points in a millimetre
_DATE = datetime(2000, 1, 1, tzinfo=UTC)  # any fixed one: equal pages give equal bytes
_LEADING = 1.2  # of the size of the face, from base line to base line
_DECIMALS = 3  # of a point, 0.0002 mm


def write_pdf(title: str, pages: Sequence[Page]) -> bytes:
    """The pages as one PDF file."""
    from fpdf import FPDF
    from fpdf.prefs import ViewerPreferences

    first = pages[0].size
    pdf = FPDF(unit="pt", format=(first[0] * POINT, first[1] * POINT))
    pdf.set_creation_date(_DATE)
    pdf.set_title(title)
    pdf.set_auto_page_break(False)
    pdf.set_margin(0)
    pdf.c_margin = 0
    pdf.set_compression(False)  # what a compressor makes of it depends on its version
    # programs that print ask this before they fit a page to the sheet (ISO 32000-1, 12.2)
    pdf.viewer_preferences = ViewerPreferences(print_scaling="None")
    for page in pages:
        pdf.add_page()
        height = page.size[1]
        with _window(pdf, page):
            _draw(pdf, page.traces, height)
        _draw(pdf, page.samples, height)
        _assist(pdf, page)
        for words in page.words:
            _write(pdf, words, height)
    return bytes(pdf.output())


@contextmanager
def _window(pdf: FPDF, page: Page) -> Iterator[None]:
    """Only what lies in the page's window is shown while the body draws."""
    if page.window is None:
        yield
        return
    left, low, right, high = (length * POINT for length in page.window)
    with pdf.rect_clip(left, page.size[1] * POINT - high, right - left, high - low):
        yield


def _draw(pdf: FPDF, traces: Sequence[Trace], height: float) -> None:
    """Traces in their order; what follows each other in one kind makes a path."""
    with pdf.drawing_context() as context:
        for kind, some in groupby(traces, key=lambda trace: trace.kind):
            path = _path(STYLES[kind])
            for trace in some:
                _follow(path, trace, height)
            context.add_item(path)  # the context keeps a copy, so the path has to be whole


def _assist(pdf: FPDF, page: Page) -> None:
    """Join lines, rings, frames and the control square."""
    height = page.size[1]
    with pdf.drawing_context() as context:
        joins, solid = _path(ASSIST), _path(ASSIST, dashed=False)
        for line in page.joins:
            _add(joins, line, height)
        for line in page.frames:
            _add(solid, line, height)
        for (x, y), radius in page.rings:
            solid.circle(_pt(x), _pt(height - y), _pt(radius))
        left, low, side = page.square
        _add(solid, ((left, low), (left + side, low), (left + side, low + side), (left, low + side)), height)
        solid.close()
        if page.joins:
            context.add_item(joins)
        context.add_item(solid)


def _path(style: Style, dashed: bool = True) -> PaintedPath:
    from fpdf.drawing import PaintedPath

    path = PaintedPath()
    path.style.auto_close = False
    path.style.paint_rule = "stroke"
    path.style.fill_color = None
    path.style.stroke_color = style.colour
    path.style.stroke_width = _pt(style.width)
    path.style.stroke_cap_style = "butt"
    path.style.stroke_join_style = "round"
    path.style.stroke_dash_pattern = [_pt(length) for length in style.dash] if dashed else None
    return path


def _follow(path: PaintedPath, trace: Trace, height: float) -> None:
    """A trace, its curves as curves."""
    def at(point: Point) -> tuple[float, float]:
        return _pt(point[0]), _pt(height - point[1])

    path.move_to(*at(trace.points[0]))
    for _, bend, end in trace.segments:
        if bend is None:
            path.line_to(*at(end))
        else:
            path.curve_to(*at(bend[0]), *at(bend[1]), *at(end))
    if trace.closed:
        path.close()


def _add(path: PaintedPath, points: Sequence[Point], height: float) -> None:
    (x, y), *rest = points
    path.move_to(_pt(x), _pt(height - y))
    for x, y in rest:
        path.line_to(_pt(x), _pt(height - y))


def _pt(length: float) -> float:
    return round(length * POINT, _DECIMALS)


def _write(pdf: FPDF, words: Words, height: float) -> None:
    """Words in a face that every reader has; it knows Latin-1, other letters are folded."""
    pdf.set_font("Helvetica", "B" if words.bold else "", words.size * POINT)
    text = "".join(c if c.encode("latin-1", "ignore") else plain(c) for c in words.text)
    x, y = words.at[0] * POINT, (height - words.at[1]) * POINT
    if words.width == 0.0:
        pdf.text(x, y, text)
        return
    lines: Any = pdf.multi_cell(words.width * POINT, text=text, dry_run=True, output="LINES")
    for number, line in enumerate(lines[: words.lines]):
        short = number == words.lines - 1 and len(lines) > words.lines
        pdf.text(x, y + number * words.size * _LEADING * POINT, line.rstrip()[:-3] + "..." if short else line)
