"""The contact sheet: a small picture of each answer, all at one scale and in one place of their frames, with what they come to.

Laid out as a proof sheet of stationery: a head line, then frames with crop ticks in rows; below each the letter, the wishes,
and in words how it differs from the first. One unit of the drawing is a quarter of a millimetre.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from xml.etree import ElementTree

import numpy as np
import shapely

from foldwright.emit.picture import MARGIN, View, number, picture
from foldwright.other_answers import Other, Others
from foldwright.solver.card import Card
from foldwright.solver.wishes import wished

SVG = "http://www.w3.org/2000/svg"
UNIT = 0.25  # mm
WIDTH, EDGE, GAP = 1188, 60, 44  # of the sheet (297 mm), round it, between frames
HEAD = 96  # from the upper edge to the first frames
PADDING, TICK = 22, 12  # between a picture and its frame; length of a crop tick
LINE = 19  # from one line of text to the next
SHARE = 0.48  # of the size of letters, their mean width, on the safe side for common sans-serif faces
GROUND, MOUNT, INK, SOFT, RULE = "#f4f1ea", "#ffffff", "#1c1c24", "#68645b", "#c9c3b6"
SERIF = "Georgia, 'Times New Roman', 'DejaVu Serif', serif"
SANS = "'Helvetica Neue', Arial, 'DejaVu Sans', sans-serif"


def contact_sheet(others: Others) -> bytes:
    """The sheet as an SVG file, UTF-8. Equal answers give equal bytes."""
    return _Sheet(others).drawn()


@dataclass(frozen=True)
class _Shown:
    """Where a card lies in the picture plane: its bounding box in mm, y up."""

    left: float
    bottom: float
    right: float
    top: float

    @classmethod
    def of(cls, card: Card) -> _Shown:
        """Of the open card as its reader sees it; what is hidden lies inside, too."""
        view, placed = View.seat(card.opens, card.opens), card.pose(card.opens)
        points = []
        for panel in card.panels:
            matrix, shift = view.flat(placed[panel.name])
            points.append(shapely.get_coordinates(panel.outline) @ matrix.T + shift)
        flat = np.concatenate(points)
        return cls(*(float(value) for value in (*flat.min(axis=0), *flat.max(axis=0))))


class _Sheet:
    """The work of `contact_sheet`."""

    def __init__(self, others: Others) -> None:
        self.others, self.unit = others, others.design.unit or "mm"
        count = len(others.answers)
        self.columns = min(count, 3) if count not in (2, 4) else 2
        self.rows = ceil(count / self.columns)
        self.frame = (WIDTH - 2 * EDGE - (self.columns - 1) * GAP) / self.columns
        self.shown = [_Shown.of(other.checked.card) for other in others.answers]
        left, bottom = min(s.left for s in self.shown), min(s.bottom for s in self.shown)
        right, top = max(s.right for s in self.shown), max(s.top for s in self.shown)
        self.corner = left, top
        self.scale = (self.frame - 2 * PADDING) / (right - left)  # units per mm
        self.tall = self.scale * (top - bottom) + 2 * PADDING
        self.captions = [self._caption(other) for other in others.answers]

    def drawn(self) -> bytes:
        """The file."""
        heights = [self.tall + 30 + LINE * max(map(len, row)) + GAP for row in self._in_rows(self.captions)]
        notes = [line for remark in self.others.remarks() for line in wrapped(remark, WIDTH - 2 * EDGE, 13)]
        foot = LINE * len(notes) + EDGE - GAP * (not notes)
        whole = HEAD + sum(heights) + foot
        root = ElementTree.Element("svg", {
            "xmlns": SVG, "version": "1.1", "role": "img", "width": f"{number(WIDTH * UNIT)}mm",
            "height": f"{number(whole * UNIT)}mm", "viewBox": f"0 0 {WIDTH} {number(whole)}"})
        ElementTree.SubElement(root, "title").text = f"{self.others.answers[0].checked.card.title}: answers side by side"
        ElementTree.SubElement(root, "rect", {"width": "100%", "height": "100%", "fill": GROUND})
        self._head(root)
        for n, other in enumerate(self.others.answers):
            row, column = divmod(n, self.columns)
            y = HEAD + sum(heights[:row])
            self._cell(root, n, other, EDGE + column * (self.frame + GAP), y)
        for n, note in enumerate(notes):
            _text(root, EDGE, HEAD + sum(heights) + n * LINE + 8, note, 13, SOFT)
        ElementTree.indent(root, " ")
        return f'<?xml version="1.0" encoding="UTF-8"?>\n{ElementTree.tostring(root, encoding="unicode")}\n'.encode()

    def _in_rows(self, things: Sequence[list[tuple[str, str]]]) -> list[Sequence[list[tuple[str, str]]]]:
        return [things[n : n + self.columns] for n in range(0, len(things), self.columns)]

    def _head(self, root: ElementTree.Element) -> None:
        count = len(self.others.answers)
        title = self.others.answers[0].checked.card.title
        _text(root, EDGE, 58, title, 30, INK, family=SERIF)
        ratio = 1 / (self.scale * UNIT)
        words = f"{count} answer{'' if count == 1 else 's'}, drawn at one scale, 1 : {ratio:.1f}"
        _text(root, WIDTH - EDGE, 58, words, 14, SOFT, anchor="end")
        _line(root, EDGE, 74, WIDTH - EDGE, 74, INK, 1.2)

    def _cell(self, root: ElementTree.Element, n: int, other: Other, x: float, y: float) -> None:
        cell = ElementTree.SubElement(root, "g", {"id": f"answer-{other.letter}"})
        ElementTree.SubElement(cell, "rect", {"x": number(x), "y": number(y), "width": number(self.frame),
                                              "height": number(self.tall), "fill": MOUNT})
        for across, outwards in ((x, -1), (x + self.frame, 1)):
            for down, away in ((y, -1), (y + self.tall, 1)):
                _line(cell, across + outwards * TICK, down, across + outwards * 3, down, SOFT, 0.8)
                _line(cell, across, down + away * TICK, across, down + away * 3, SOFT, 0.8)
        self._picture(cell, n, other, x, y)
        base = y + self.tall + 40
        _text(cell, x, base, other.letter, 34, INK, family=SERIF)
        left, right = x + 42, x + self.frame
        at = y + self.tall + 28
        for kind, line in self.captions[n]:
            if kind == "wish":
                label, value = line.split("\t")
                _text(cell, left, at, label, 13, SOFT)
                _text(cell, right, at, value, 13, INK, anchor="end", weight="600")
                _line(cell, left, at + 5, right, at + 5, RULE, 0.5)
            else:
                _text(cell, left, at + 3, line, 13, INK)
            at += LINE

    def _picture(self, cell: ElementTree.Element, n: int, other: Other, x: float, y: float) -> None:
        card, shown = other.checked.card, self.shown[n]
        drawn = ElementTree.fromstring(picture(card, card.opens, None, self.scale * (shown.right - shown.left) + 2 * MARGIN))
        place = {"x": x + PADDING - MARGIN + self.scale * (shown.left - self.corner[0]),
                 "y": y + PADDING - MARGIN + self.scale * (self.corner[1] - shown.top)}
        inner = ElementTree.SubElement(cell, "svg", {
            **{name: number(value) for name, value in place.items()},
            "width": drawn.attrib["width"], "height": drawn.attrib["height"], "viewBox": drawn.attrib["viewBox"]})
        for child in drawn:
            for element in child.iter():
                element.tag = element.tag.removeprefix(f"{{{SVG}}}")
                if "id" in element.attrib:
                    element.set("id", f"{other.letter}-{element.attrib['id']}")
            inner.append(child)

    def _caption(self, other: Other) -> list[tuple[str, str]]:
        """Lines below a frame, each with its kind."""
        lines = [("wish", f"{result.wish.text}\t{wished(result.wish, result.value, self.unit)}")
                 for result in other.answer.wishes]
        text = f"Against A: {', '.join(_kept(words) for words in other.words)}." if other.words else "The answer that find gives."
        if not other.answer.proved:
            text += " Not proved within the time."
        return lines + [("words", line) for line in wrapped(text, self.frame - 42, 13)]


def wrapped(text: str, width: float, size: float) -> list[str]:
    """A text in lines of about a width; a word that is longer has a line of its own."""
    room, lines = int(width / (SHARE * size)), [""]
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if len(longer) <= room or not lines[-1]:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _kept(words: str) -> str:
    """The words with a no-break space between a number and what follows it."""
    return re.sub(r"(?<=\d) ", "\N{NO-BREAK SPACE}", words)


def _text(parent: ElementTree.Element, x: float, y: float, text: str, size: float, fill: str, family: str = SANS,
          anchor: str = "start", weight: str = "400") -> None:
    ElementTree.SubElement(parent, "text", {
        "x": number(x), "y": number(y), "font-family": family, "font-size": number(size), "fill": fill,
        "text-anchor": anchor, "font-weight": weight}).text = text


def _line(parent: ElementTree.Element, x1: float, y1: float, x2: float, y2: float, stroke: str, width: float) -> None:
    ElementTree.SubElement(parent, "line", {"x1": number(x1), "y1": number(y1), "x2": number(x2), "y2": number(y2),
                                            "stroke": stroke, "stroke-width": number(width)})
