"""What may swing with a panel of a V-fold: the sector round the V's point that stays clear of both pages.

A point of the panel at (u, v), u from the ridge towards the foot and v along the ridge, lies r = v sin b - u cos b from
the line of its own foot (b is the wing), and at D = v sin s - u cos s from the closed host crease (s is the angle of the
closed ridge). It stays above its own page while r >= 0. Just after the card begins to open, a panel turns about its foot
k times as fast as the page turns about the crease,

    k = sin a' sin s / (sin b sin a' + sqrt(sin a sin a' sin b sin b'))        (primes: the other half)

so the point leaves the other page behind as long as D >= k r. From then on it only gains on that page (checked in the
tests over the whole swing), so these two rules are all that there is.

Astride a ridge the panels stand outside the host, and r >= 0 is enough: what lies outside of one wall's plane cannot
meet the other wall, which lies inside of it.
"""

from __future__ import annotations

from collections.abc import Iterator

from foldwright.solver import expression as ex
from foldwright.solver.expression import Expr, Operand
from foldwright.solver.host import Fan
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.model import Kind, Rule


def from_foot(fan: Fan, u: Operand, v: Operand) -> Expr:
    """Distance of a point from the line of the panel's own foot, in mm; positive above the page."""
    return v * ex.sin(fan.wing) - u * ex.cos(fan.wing)


def from_crease(fan: Fan, u: Operand, v: Operand) -> Expr:
    """Distance of a point from the host crease when closed, in mm, on the side on which the ridge lies."""
    return fan.sense * (v * ex.sin(fan.crest) - u * ex.cos(fan.crest))


def start_rate(fan: Fan) -> Expr:
    """How many times as fast as the page the panel turns about its foot when the card begins to open; not astride."""
    if fan.wing == fan.other:
        return ex.divide(ex.sin(fan.crest), 2 * ex.sin(fan.wing))
    own, far = ex.sin(fan.crest - fan.wing), ex.sin(fan.crest - fan.other)
    wing, other = ex.sin(fan.wing), ex.sin(fan.other)
    return ex.divide(far * ex.sin(fan.crest), wing * far + ex.sqrt(own * far * wing * other))


def stays_clear(owner: Mechanism, fan: Fan, what: str, name: str, u: Operand, v: Operand) -> Iterator[Rule]:
    """Rules that keep a point of the panel off both pages through the whole swing."""
    foot, crease = from_foot(fan, u, v), from_crease(fan, u, v)
    yield owner.rule(f"{name}.own-page", Kind.GEOMETRY, 0, "<=", foot,
                     f"{what} of {owner.name} must stay above the page on which its panel is glued: it lies {{right}} from the "
                     "line of the foot")
    if fan.sense < 0:
        return
    yield owner.rule(f"{name}.other-page", Kind.GEOMETRY, start_rate(fan) * foot, "<=", crease,
                     f"{what} of {owner.name} would strike the other page as the card begins to open: so far beyond the ridge it "
                     "must lie {left} or more from the crease in the closed card; it lies {right} from it")


def height(fan: Fan, u: Operand, v: Operand) -> Expr | None:
    """Height of a point over the open pages, if the host opens flat: as its distance from the foot to that of the ridge."""
    return None if fan.rise is None else ex.divide(fan.rise * from_foot(fan, u, v), ex.sin(fan.wing))


def sweep(fan: Fan, u: Operand, v: Operand) -> Expr | None:
    """How far apart the closed and the open place of a point lie, seen from its own page, if the host opens flat.

    The chord of the circle on which it moves about the line of the foot.
    """
    return None if fan.turn is None else 2 * from_foot(fan, u, v) * ex.sqrt(fan.turn)
