"""Laws that every mechanism keeps, for random valid dimensions at random openings.

The symbolic side (rules, closed places, measures) is compared with the numeric side (build, pose): they are written
separately, and the search trusts the first while the files are made from the second.
"""

from __future__ import annotations

from math import radians, sin

import by_hand
import numpy as np
import pytest
from by_hand import Seeded, Stand, at, broken, corners, cover, draw, in_smaller_cover, valid, valid_sets, with_change
from drawn import trees
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from foldwright.solver.flat import Frame

ROUNDING = 1e-12  # a rotation of unit vectors: a few units in the sixteenth place, chained a few times
MEET = 1e-9  # mm: the same on parts of 300 mm, chained over three mechanisms
SHARES = st.floats(0, 1)  # of the angle to which the card opens
TREES = [name for name in trees() if not name.startswith("gusset")]
GUSSETS = [name for name in trees() if name.startswith("gusset")]  # their spine is no single crease
LAYOUTS = 60  # seeded sets in which every panel is laid on its host and in the cover
law = settings(max_examples=25, deadline=None, derandomize=True,
               suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])


class Drawn:
    """Dimensions chosen by Hypothesis."""

    def __init__(self, choose) -> None:
        self.choose = choose

    def number(self, low, high):
        return by_hand.STEP * self.choose(st.integers(*by_hand.ticks(low, high)))

    def word(self, *options):
        return self.choose(st.sampled_from(options))


@st.composite
def stands(choose, kinds):
    mine = draw(choose(st.sampled_from(kinds)), Drawn(choose))
    assume(valid(mine))
    return mine


every_kind = pytest.mark.parametrize("kind", [*TREES, *GUSSETS])
plain_kind = pytest.mark.parametrize("kind", TREES)
glued_kind = pytest.mark.parametrize("kind", [name for name in (*TREES, *GUSSETS) if trees()[name].glued])


def seam_gap(mine: Stand, opening: float) -> float:
    """Largest distance between the two panels of a crease at its ends."""
    placed = mine.placements(opening)
    gaps = [np.abs(at(placed[seam.left], end) - at(placed[seam.right], end)).max()
            for link in mine.chain for seam in link.flat.seams for end in (seam.start, seam.end)]
    assert gaps
    return float(max(gaps))


@every_kind
@law
@given(st.data(), SHARES)
def test_panels_keep_their_shape(kind, data, share):
    mine = data.draw(stands([kind]))
    placed = mine.placements(share * mine.opens)
    assert set(placed) == set(corners(mine))
    for placement in placed.values():
        axes = np.array([placement.along, placement.up])
        assert abs(axes @ axes.T - np.eye(2)).max() < ROUNDING


@every_kind
@law
@given(st.data(), SHARES)
def test_panels_meet_at_their_creases(kind, data, share):
    mine = data.draw(stands([kind]))
    assert seam_gap(mine, share * mine.opens) < MEET


@glued_kind
@law
@given(st.data(), SHARES, SHARES)
def test_glued_panels_lie_on_their_hosts_and_stay_there(kind, data, one, other):
    mine = data.draw(stands([kind]))
    shapes, seen = corners(mine), []
    for opening in (one, other):
        placed = mine.placements(opening * mine.opens)
        for bond in mine.flat.bonds:
            host = placed[bond.host]
            points = placed[bond.panel].points(shapes[bond.panel]) - host.origin
            assert abs(points @ np.cross(host.along, host.up)).max() < MEET, bond
            seen.append(np.column_stack([points @ host.along, points @ host.up]))
    assert seen
    half = len(seen) // 2
    for before, after in zip(seen[:half], seen[half:], strict=True):
        assert abs(before - after).max() < MEET


@glued_kind
@law
@given(st.data(), SHARES)
def test_feet_stand_on_their_marks(kind, data, share):
    """What the maker draws on the host is where the foot is, at every opening."""
    mine = data.draw(stands([kind]))
    placed, looked = mine.placements(share * mine.opens), 0
    for link in mine.chain:
        creases = {seam.right: seam for seam in link.flat.seams}
        for cut in link.flat.cuts:
            if not cut.tab:
                continue
            frame, seam = link.page(cut.side), creases[cut.tab]
            for end, mark in zip((seam.start, seam.end), cut.points, strict=True):
                assert abs(at(placed[cut.tab], end) - at(placed[frame.panel], frame.at(*mark))).max() < MEET
                looked += 1
    assert looked


# ---- creases and faces

POINTS = ((0.0, 0.0), (17.0, 0.0), (-5.0, 23.0), (31.0, 11.0))  # any three off a line would do


@plain_kind
@law
@given(st.data())
def test_creases_lie_where_they_say_when_closed(kind, data):
    mine = data.draw(stands([kind]))
    for link in mine.chain:
        folds = link.pose(0.0).folds
        for name, crease in link.mechanism.creases().items():
            fold = folds[name]
            assert fold.opening < ROUNDING, f"{link.name}.{name} is not shut"
            for x, d in POINTS:
                place = fold.origin + x * fold.x + d * fold.left
                said = [link.value(part) for part in crease.closed.point(*map(_exact, (x, d)))]
                assert np.allclose(place, [said[0], 0, said[1]], rtol=0, atol=MEET), f"{link.name}.{name}"


def _exact(x: float):
    return by_hand.Const(by_hand.Fraction(x))


@every_kind
@law
@given(st.data(), SHARES)
def test_sides_of_creases_lie_on_their_panels(kind, data, share):
    """A crease's axes in space are those of the panels that it names, and it opens no farther than it says."""
    mine = data.draw(stands([kind]))
    looked = 0
    for link in mine.chain:
        folds, placed = link.pose(share * mine.opens).folds, link.placements(share * mine.opens)
        for name, crease in link.mechanism.creases().items():
            if crease.refuses:  # the spine of a gusset is no single crease
                continue
            fold = folds[name]
            for side, out, says in (("left", fold.left, crease.left), ("right", fold.right, crease.right)):
                frame = link.resolved(name, side)
                assert frame.panel == says.panel
                for x, d in POINTS:
                    place = fold.origin + x * fold.x + d * out
                    assert abs(at(placed[frame.panel], frame.at(x, d)) - place).max() < MEET, f"{link.name}.{name}"
                    looked += 1
            assert sin(radians(float(fold.opening[0]) / 2)) ** 2 <= link.value(crease.opening) + ROUNDING
    assert looked


@law
@given(stands(["tent", "vfold"]))
def test_ridge_on_the_spine_opens_just_as_far_as_it_says(mine):
    said = mine.value(mine.mechanism.creases()["ridge"].opening)
    assert sin(radians(float(mine.pose(180.0).folds["ridge"].opening[0]) / 2)) ** 2 == pytest.approx(said, abs=ROUNDING)



@plain_kind
@law
@given(st.data())
def test_faces_lie_where_they_say_when_closed(kind, data):
    mine = data.draw(stands([kind]))
    looked = 0
    for link in mine.chain:
        placed = link.pose(0.0).placements
        for name, face in link.mechanism.faces().items():
            frame: Frame = link.flat.faces[name]
            assert frame.panel == face.panel
            for u, v in POINTS:
                said = [link.value(part) for part in face.closed.point(*map(_exact, (u, v)))]
                assert np.allclose(at(placed[frame.panel], frame.at(u, v)), [said[0], 0, said[1]], rtol=0, atol=MEET), name
                looked += 1
    assert looked


@plain_kind
@law
@given(st.data())
def test_closed_card_is_flat(kind, data):
    mine = data.draw(stands([kind]))
    shapes = corners(mine)
    for name, placement in mine.placements(0.0).items():
        points = placement.points(shapes[name])
        assert abs(points[:, 1]).max() < MEET, name
        assert points[:, 2].min() > -MEET, f"{name} comes out behind the spine"


def extent(mine: Stand) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest place of the closed contents: along the spine, across the pages, away from the spine."""
    shapes = corners(mine)
    points = np.vstack([placement.points(shapes[name]) for name, placement in mine.placements(0.0).items()
                        if not name.startswith("cover.")])
    return points.min(axis=0), points.max(axis=0)


def shows(mine: Stand) -> list[str]:
    """At which edges a cover half a millimetre too small for the closed panels passes all rules."""
    clear, short = 3.0, 0.5
    low, high = extent(mine)
    start = f"{mine.chain[1].name}.at"
    smaller = {"fore-edge": in_smaller_cover(mine, high[2] + clear - short, 900),
               "head": in_smaller_cover(mine, 600, high[0] + clear - short),
               "tail": with_change(mine, start, by_hand.Fraction(clear - short - low[0]))}
    return [edge for edge, small in smaller.items() if valid(small)]


@pytest.mark.parametrize("kind", TREES)
def test_rules_refuse_a_cover_that_shows_the_contents(kind):
    """What is posed closed lies within what the rules allow: at every edge half a millimetre less is refused."""
    wrong = {seed: edges for seed, mine in valid_sets(kind, LAYOUTS) if (edges := shows(mine))}
    assert not wrong


def overhang(mine: Stand) -> dict[str, float]:
    """Area in mm² by which each tab hangs off the panel that it is glued to."""
    placed, shapes = mine.placements(mine.opens / 2), corners(mine)
    outlines = {panel.name: panel.outline for link in mine.chain for panel in link.flat.panels}
    assert all(outline.is_valid and outline.area > 1 for outline in outlines.values())
    out = {}
    for bond in mine.flat.bonds:
        if not bond.whole:  # artwork and arms are meant to stand out beyond their panel
            continue
        host = placed[bond.host]
        points = placed[bond.panel].points(shapes[bond.panel]) - host.origin
        tab = Polygon(np.column_stack([points @ host.along, points @ host.up]))
        over = tab.difference(outlines[bond.host].buffer(1e-6))  # mm: far above the rounding of a polygon's edges
        if not over.is_empty:
            out[bond.panel] = over.area
    return out


@pytest.mark.parametrize("kind", [*TREES, *GUSSETS])
def test_tabs_lie_wholly_on_what_they_are_glued_to(kind):
    wrong = {seed: hanging for seed, mine in valid_sets(kind, LAYOUTS) if (hanging := overhang(mine))}
    assert not wrong


# ---- measures

@law
@given(st.data())
def test_measures_of_tents_are_those_of_the_open_and_closed_card(data):
    mine = data.draw(stands(["tent"]))
    said = {name: mine.value(expression) for name, expression in mine.mechanism.measures().items()}
    assert said["height"] == pytest.approx(mine.pose(180.0).folds["ridge"].origin[2], abs=1e-7)  # a root of a product
    assert said["reach"] == pytest.approx(mine.pose(0.0).folds["ridge"].origin[2], abs=MEET)


@law
@given(st.data())
def test_measures_of_vfolds_are_those_of_the_open_and_closed_card(data):
    mine = data.draw(stands(["vfold"]))
    said = {name: mine.value(expression) for name, expression in mine.mechanism.measures().items()}
    for opening, name in ((180.0, "height"), (0.0, "reach")):
        ridge = mine.pose(opening).folds["ridge"]
        tip = ridge.origin + mine.sizes["ridge"] * ridge.x
        assert said[name] == pytest.approx(tip[2], abs=1e-6), name  # a root of a difference of cosines


@law
@given(st.data())
def test_measures_of_rings_and_lattices_are_those_of_the_open_and_closed_card(data):
    weeds = data.draw(stands(["lattice"]))
    pool = weeds.host
    shapes = {name: shape for name, shape in corners(pool).items() if name.split(".")[1] in pool.flat.faces}
    assert len(shapes) == 4

    def spans(opening):
        points = np.vstack([pool.pose(opening).placements[name].points(shape) for name, shape in shapes.items()])
        return np.ptp(points, axis=0), points.max(axis=0)

    said = {name: pool.value(expression) for name, expression in pool.mechanism.measures().items()}
    wide, _ = spans(180.0)
    assert said["across"] == pytest.approx(wide[1], abs=MEET)
    assert said["along"] == pytest.approx(wide[0], abs=1e-7)
    assert said["reach"] == pytest.approx(spans(0.0)[1][2], abs=MEET)
    _, top = extent(weeds)
    layers = {name: weeds.value(expression) for name, expression in weeds.mechanism.measures().items()}
    assert max(layers["reach"], said["reach"]) == pytest.approx(top[2], abs=MEET)
    assert layers["band"] == weeds.sizes["rise"]  # without artwork the whole layer is plain


@pytest.mark.parametrize("kind", ["tent on tent foot", "vfold on tent foot", "tent on vfold foot", "vfold on vfold foot"])
def test_heights_on_a_foot_are_not_offered(kind):
    """A foot never opens flat, so the closed form of the height does not hold there: none is better than a wrong one."""
    for _, mine in valid_sets(kind, 3):
        assert "reach" in mine.mechanism.measures()
        assert "height" not in mine.mechanism.measures()


@pytest.mark.parametrize("kind", ["tent", "ring", "vfold"])
def test_feet_lie_on_the_stretch_of_crease_that_neighbours_keep_off(kind):
    for seed, mine in valid_sets(kind, 40):
        low, high = (mine.value(end) for end in mine.mechanism.stretch())
        along = [x for cut in mine.flat.cuts for x, _ in cut.points]
        assert low - MEET <= min(along) < max(along) <= high + MEET, f"seed {seed}: feet {along} on {low} to {high}"


def test_heights_over_a_cover_that_does_not_open_flat_are_not_offered():
    corner = cover(opens="90")
    tent = by_hand.stand("tent", "pier", corner, "spine", {"at": 60, "width": 50, "spread": 20, "wall": 40})
    assert "height" not in tent.mechanism.measures()
    assert "height" in by_hand.draw("tent", by_hand.Seeded(1)).mechanism.measures()


# ---- each check can fail

def test_a_gap_opens_where_a_dimension_is_off():
    for kind, key in (("tent", "pier.left_wall"), ("vfold", "gull.left_wing")):
        mine = next(mine for _, mine in valid_sets(kind, 20) if key in mine.values)
        off = with_change(mine, key, 1)  # a millimetre, or a degree
        assert broken(off)
        assert seam_gap(mine, 100.0) < MEET
        axes = np.array([[p.along @ p.along, p.up @ p.up] for p in off.placements(100.0).values()])
        # parts that do not go together are either torn at a crease or stretched
        assert seam_gap(off, 100.0) > 1e6 * MEET or abs(axes - 1).max() > 1e6 * ROUNDING


def test_an_overhanging_tab_is_seen():
    """A tent put 30 mm past the end of the page, in spite of the rules."""
    mine = draw("tent", Seeded(3))
    past = with_change(mine, "pier.at", 900 + 30 - mine.values["pier.at"] - mine.values["pier.width"])
    assert broken(past)
    assert not overhang(mine)
    assert min(overhang(past).values()) > 100
