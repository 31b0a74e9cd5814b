"""Published laws of planar four-bar linkages, that the mechanisms are held against; checked in test_mechanism_tent.py."""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, degrees, sqrt

from by_hand import cosine, sine


def freudenstein(a: float, b: float, c: float, d: float, input_angle: float, output_angle: float) -> float:
    """Freudenstein's equation (Trans. ASME 76, 1954); 0 if input and output belong together.

    Links: a input, b coupler, c output, d ground; angles in degrees from the ground link.
    """
    k1, k2, k3 = d / a, d / c, (a * a - b * b + c * c + d * d) / (2 * a * c)
    return k1 * cosine(output_angle) - k2 * cosine(input_angle) + k3 - cosine(input_angle - output_angle)


def outputs(a: float, b: float, c: float, d: float, input_angle: float) -> tuple[float, float]:
    """Both output angles that Freudenstein's equation allows, in degrees: open and crossed."""
    k1, k2, k3 = d / a, d / c, (a * a - b * b + c * c + d * d) / (2 * a * c)
    x = cosine(input_angle)
    one, two, three = x - k1 - k2 * x + k3, -2 * sine(input_angle), k1 - (k2 + 1) * x + k3
    root = sqrt(max(two * two - 4 * one * three, 0.0))
    open_one, crossed = (2 * degrees(atan2(-two + sign * root, 2 * one)) for sign in (-1, 1))
    return open_one, crossed


def grashof(links: Sequence[float], rounding: float = 1e-9) -> str:
    """Class of a four-bar by Grashof's condition (1883): shortest and longest link against the two others.

    "crank" if the shortest link can turn all the way round; "change point" if the linkage can lie in one line, where it
    may change its branch; "rocker" if no link turns round. `rounding` is what the sums may differ by and be equal.
    """
    shortest, one, other, longest = sorted(links)
    spare = one + other - shortest - longest
    if abs(spare) <= rounding:
        return "change point"
    return "crank" if spare > 0 else "rocker"
