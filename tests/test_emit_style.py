"""The look of the four kinds: told apart by layer, by dash and by colour, each alone enough."""

import itertools

import numpy as np
import pytest
from numpy.typing import NDArray

from foldwright.emit.style import STYLES
from foldwright.solver.card import Stroke

Colours = NDArray[np.float64]

# Dichromacies in linear RGB, severity 1: Machado, Oliveira, Fernandes, "A physiologically-based model for
# simulation of color vision deficiency", IEEE TVCG 15(6), 2009 (numbers from memory; each row adds up to 1,
# so that white stays white, which is checked below).
SIGHT = {
    "normal": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
# sRGB to CIE XYZ, D65: IEC 61966-2-1 (rounded to four digits).
XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def linear(colour: str) -> Colours:
    parts = np.array([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def lab(rgb: Colours) -> Colours:
    """CIE 1976 L*a*b* (ISO/CIE 11664-4)."""
    ratio = XYZ @ np.clip(rgb, 0, 1) / XYZ.sum(axis=1)
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def difference(first: str, second: str, sight: str) -> float:
    one, other = (lab(SIGHT[sight] @ linear(colour)) for colour in (first, second))
    return float(np.linalg.norm(one - other))


def test_every_kind_has_a_style_and_no_two_share_a_layer_a_dash_or_a_colour() -> None:
    assert list(STYLES) == list(Stroke)
    for field in ("layer", "dash", "colour", "index", "meaning"):
        values = [getattr(style, field) for style in STYLES.values()]
        assert len(set(values)) == len(Stroke), field


@pytest.mark.parametrize("sight", SIGHT)
def test_white_stays_white(sight: str) -> None:
    # The matrices are printed with six decimals: three rounded numbers in a row.
    assert SIGHT[sight] @ linear("#ffffff") == pytest.approx([1, 1, 1], abs=3e-6)


@pytest.mark.parametrize("sight", SIGHT)
def test_colours_stay_far_apart_for_every_kind_of_sight(sight: str) -> None:
    pairs = list(itertools.combinations([style.colour for style in STYLES.values()], 2))
    assert len(pairs) == 6
    # 2.3 is a just noticeable difference (common practice, from memory); the least here is to be twenty times
    # it.
    assert min(difference(*pair, sight) for pair in pairs) > 46


def test_colours_stand_out_on_white_paper() -> None:
    # WCAG 2.1, success criterion 1.4.11: 3:1, with the relative luminance that WCAG defines.
    for style in STYLES.values():
        luminance = float(XYZ[1] @ linear(style.colour))
        assert 1.05 / (luminance + 0.05) >= 3, style.layer


def test_no_colour_is_a_pure_red_green_or_blue() -> None:
    for style in STYLES.values():
        channels = [int(style.colour[at : at + 2], 16) for at in (1, 3, 5)]
        assert sorted(channels)[1] >= 0x1C, style.layer


def test_dashes_follow_iso_128_in_line_widths() -> None:
    # ISO 128-2:2020, line types 02 (dashed) and 10 (dashed dotted): dash 12 d, gap 3 d, dot 0.5 d (from
    # memory).
    valley, mountain = STYLES[Stroke.VALLEY], STYLES[Stroke.MOUNTAIN]
    assert [length / valley.width for length in valley.dash] == pytest.approx([12, 3])
    assert [length / mountain.width for length in mountain.dash] == pytest.approx([12, 3, 0.5, 3])
    # Paper guides show dashes of 3 to 4 mm (common practice, no source).
    assert all(3 <= style.dash[0] <= 4 for style in (valley, mountain))
    assert STYLES[Stroke.CUT].dash == ()
    # Widths of the series in ISO 128 (from memory).
    assert all(style.width in (0.13, 0.18, 0.25, 0.35, 0.5) for style in STYLES.values())


def test_dxf_indices_are_the_nearest_of_the_table() -> None:
    from ezdxf.colors import DXF_DEFAULT_COLORS, int2rgb

    for style in STYLES.values():
        wanted = np.array([int(style.colour[at : at + 2], 16) for at in (1, 3, 5)])
        if style.index == 7:
            assert wanted.max() < 0x30  # black on white
            continue
        distance = [float(np.sum((np.array(int2rgb(c)) - wanted) ** 2.0)) for c in DXF_DEFAULT_COLORS[:256]]
        assert style.index == 1 + int(np.argmin(distance[1:])), style.layer
