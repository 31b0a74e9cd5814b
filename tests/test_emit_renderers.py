"""Sheets of the examples as two renderers draw them that are not ours and not of one family, pixel by pixel.

resvg is in Rust; LunaSVG is in C++ and has its own reader and rasteriser. What both get is the written file with its cut lines
filled even-odd; what both must give is the share of each pixel that the parts cover, which is computed here from the polygons.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import cards
import numpy as np
import pylunasvg
import pytest
import resvg_py
import shapely
from lxml import etree
from numpy.typing import NDArray
from pixels import decoded

from foldwright.api import check
from foldwright.emit.drawing import sheet_drawing
from foldwright.emit.layout import lay_out
from foldwright.emit.machined import machined
from foldwright.emit.svg import write_svg
from foldwright.solver.card import Card

EXAMPLES = Path(__file__).parent.parent / "examples"
SVG = "{http://www.w3.org/2000/svg}"
PER_MM = 10  # pixels
ROWS = 16  # scan lines in a row of pixels where the shares are computed

Image = NDArray[np.float64]


def by_resvg(svg: bytes) -> Image:
    return decoded(bytes(resvg_py.svg_to_bytes(svg_string=svg.decode(), background="#ffffff")))[:, :, 0].astype(float)


def by_lunasvg(svg: bytes) -> Image:
    bitmap = pylunasvg.Document.loadFromData(svg.decode()).renderToBitmap(backgroundColor=0xFFFFFFFF)
    return np.array(bitmap, copy=True).reshape(bitmap.height(), bitmap.width(), 4)[:, :, 0].astype(float)


# How far the share of a pixel may be off, and why. resvg's rasteriser counts 4 scan lines in a row of pixels: an edge along x
# may be off by a quarter of a pixel (0.025 mm), and by the polygons (below).
# LunaSVG's computes areas, but of chords of curves within a fifth of a pixel
# (measured 0.13 and less). The polygons' chords are within 0.002 mm, 0.02 of a pixel, and so is what is found again of curves.
# The third number is the same on average over the pixels that an outline runs through.
RENDERERS: dict[str, tuple[Callable[[bytes], Image], float, float]] = {
    "resvg": (by_resvg, 0.28, 0.08), "lunasvg": (by_lunasvg, 0.2, 0.05)}


def example(name: str) -> Card:
    if name == "cards":
        return cards.harbour()
    card = check(EXAMPLES / f"{name.removesuffix(' by laser')}.card").card
    return replace(card, machine=replace(card.machine, kerf=0.15)) if name.endswith("laser") else card


def filled(svg: bytes, side: tuple[int, int]) -> bytes:
    """The file with its cut lines filled even-odd, the rest left out, on a canvas of whole pixels."""
    root = etree.fromstring(svg)
    root.set("width", str(side[0] * PER_MM))
    root.set("height", str(side[1] * PER_MM))
    root.set("viewBox", f"0 0 {side[0]} {side[1]}")
    for layer in [group for group in root.iter(SVG + "g") if group.get("class")]:
        if layer.get("class") != "cut":
            layer.getparent().remove(layer)
            continue
        layer.set("stroke", "none")
        for path in list(layer):
            if path.get("d").endswith("Z"):
                path.set("fill", "#000000")
                path.set("fill-rule", "evenodd")
    return etree.tostring(root)


def shares(polygons: Sequence[shapely.Polygon], height: float, side: tuple[int, int]) -> Image:
    """The share of each pixel that polygons cover: along x exactly, along y on `ROWS` lines; y down from `height`."""
    ends = []
    for polygon in polygons:
        for ring in (polygon.exterior, *polygon.interiors):
            corners = np.array(ring.coords) * (1, -1) + (0, height)
            ends.append(np.hstack((corners[:-1], corners[1:])) * PER_MM)
    x0, y0, x1, y1 = np.concatenate(ends).T
    low, high = (np.ceil(np.sort((y0, y1), axis=0) * ROWS - 0.5)).astype(int)  # lines at (k + 1/2) / ROWS
    count = high - low
    edge = np.repeat(np.arange(len(count)), count)
    line = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + low[edge]
    y = (line + 0.5) / ROWS
    x = x0[edge] + (y - y0[edge]) / (y1[edge] - y0[edge]) * (x1[edge] - x0[edge])
    order = np.lexsort((x, line))
    x, line = x[order], line[order]
    sign = np.where(np.arange(len(x)) % 2 == 0, 1.0, -1.0)  # even-odd; every line has an even number of crossings
    cell, image = np.floor(x).astype(int), np.zeros((side[1] * PER_MM, side[0] * PER_MM + 2))
    np.add.at(image, (line // ROWS, cell), sign * (1 - (x - cell)))
    np.add.at(image, (line // ROWS, cell + 1), sign * (x - cell))
    return np.cumsum(image, axis=1)[:, :-2] / ROWS


def test_shares_of_a_shape_that_is_known() -> None:
    half = shapely.Polygon([(1, 1), (3, 1), (3, 3.05), (1, 3.05)])
    image = shares([half], 4.0, (4, 4))
    assert image.sum() == pytest.approx(half.area * PER_MM**2)
    assert (image[9, 10], image[10, 10], image[10, 9]) == (0.5, 1.0, 0.0)
    leaning = shapely.Polygon([(1, 1), (3, 1.3), (2, 3)])
    assert shares([leaning], 4.0, (4, 4)).sum() == pytest.approx(leaning.area * PER_MM**2, rel=1e-3)


@pytest.mark.parametrize("name", ["tide-pool", "reed-bed by laser", "night-harbour", "beach-huts"])
def test_renderers_fill_what_the_parts_cover(name: str) -> None:
    made = machined(example(name))
    for sheet in lay_out(made):
        side = (int(np.ceil(sheet.width)), int(np.ceil(sheet.height)))
        svg = filled(write_svg(sheet_drawing(made.title, sheet, {})), side)
        wanted = shares([placed.outline for placed in sheet.placed], sheet.height, side)
        edge = (wanted > 0) & (wanted < 1)
        for renderer, (draw, tolerance, mean) in RENDERERS.items():
            image = draw(svg)
            assert image.shape == wanted.shape
            off = np.abs(1 - image / 255 - wanted)
            assert off.max() <= tolerance, (renderer, sheet.paper)
            assert off[edge].sum() <= mean * edge.sum(), (renderer, sheet.paper)


def test_a_wrong_outline_would_be_seen() -> None:
    """The same with a part moved by a thirtieth of a millimetre, and with a hole left out."""
    made = cards.harbour()
    sheet = next(sheet for sheet in lay_out(made) if any(p.part.outline.interiors for p in sheet.placed))
    side = (int(np.ceil(sheet.width)), int(np.ceil(sheet.height)))
    svg = filled(write_svg(sheet_drawing(made.title, sheet, {})), side)
    outlines = [placed.outline for placed in sheet.placed]
    moved = [shapely.transform(outline, lambda xy: xy + np.array([0.033, 0.033])) for outline in outlines]
    whole = [shapely.Polygon(outline.exterior) for outline in outlines]
    for draw, tolerance, _ in RENDERERS.values():
        for wrong in (moved, whole):
            assert np.abs(1 - draw(svg) / 255 - shares(wrong, sheet.height, side)).max() > tolerance
