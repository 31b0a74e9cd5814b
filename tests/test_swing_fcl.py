"""Panels that pass through each other, compared with FCL pose for pose.

FCL: J. Pan, S. Chitta, D. Manocha, FCL: A General Purpose Library for Collision and Proximity Queries, ICRA 2012, in its
Python binding. Meshes are flat outlines, triangulated by GEOS. Two bounds hold the answer between them: what FCL finds
between outlines shrunk well beyond our own shrink must be found, and what is found must touch in FCL as drawn.
"""

import numpy as np
import pytest
import shapely
from by_hand import Seeded, draw
from drawn import trees
from scenes import Meshes, card_of, lobed, random_axes, random_panel, random_stand, row, shifted, with_lobes
from shapely.geometry import box

from foldwright.solver.card import Panel
from foldwright.solver.swing.boxes import meeting
from foldwright.solver.swing.depth import depth
from foldwright.solver.swing.gaps import gaps
from foldwright.solver.swing.kernel import PARALLEL, pierced
from foldwright.solver.swing.scene import Scene
from foldwright.solver.swing.shapes import EDGE_SHRINK, FACE_SHRINK, SIMPLIFY, Shapes
from foldwright.solver.swing.stand import Pairs, Seen, Stand

SURELY = EDGE_SHRINK + FACE_SHRINK + SIMPLIFY  # mm: panels that overlap after being shrunk by so much must be found
DRAWN = 1e-3  # mm by which the drawn outline is grown for FCL, whose boxes and triangles round in their own way


def found_by_us(shapes: Shapes, stand: Stand) -> list[set[tuple[int, int]]]:
    """Pairs at every moment, by the way the swing goes: boxes, then edges against faces."""
    low, high = stand.boxes(shapes)
    met = meeting(low, high)
    hits = pierced(shapes, stand, met, Seen.of(stand, met)).pair
    out: list[set[tuple[int, int]]] = [set() for _ in stand.angles]
    for index in np.unique(hits):
        out[met.moment[index]].add((int(met.first[index]), int(met.second[index])))
    return out


def compare(panels: list[Panel], stand: Stand) -> tuple[int, int]:
    """Assert both bounds at every moment; returns how many pairs FCL was sure of and how many were found."""
    shapes = Shapes.of(panels)
    ours = found_by_us(shapes, stand)
    small = [shapely.buffer(panel.outline, -SURELY, join_style="mitre") for panel in panels]
    drawn = [shapely.buffer(panel.outline, DRAWN, join_style="mitre") for panel in panels]
    sure, touching = Meshes(small), Meshes(drawn)
    counts = [0, 0]
    for moment in range(len(stand.angles)):
        sure.move(stand, moment)
        touching.move(stand, moment)
        certain = sure.pairs()
        assert certain <= ours[moment], f"missed at moment {moment}: {sorted(certain - ours[moment])}"
        alarms = ours[moment] - touching.pairs()
        assert not alarms, f"false alarm at moment {moment}: {sorted(alarms)}"
        counts[0] += len(certain)
        counts[1] += len(ours[moment])
    return counts[0], counts[1]


@pytest.mark.parametrize("curved", [False, True])
@pytest.mark.parametrize("seed", range(6))
def test_random_panels(seed, curved):
    noise = np.random.default_rng(1000 + seed)
    panels = [random_panel(noise, f"p{index}", curved) for index in range(40)]
    sure, found = compare(panels, random_stand(noise, 12, 40, 120))
    assert sure > 100, "the scene is meant to be crowded"
    assert found - sure < 0.1 * found, "hardly any overlap is thinner than the shrink"


def test_panels_that_share_a_border_line():
    """Layers of one height, standing on one plane: their borders lie in one plane, where rounding would decide."""
    noise = np.random.default_rng(7)
    panels = [Panel(f"p{index}", "p", box(0, 0, 40, 20)) for index in range(12)]
    turns = noise.uniform(0, np.pi, size=(20, 12))
    zero, one = np.zeros_like(turns), np.ones_like(turns)
    along = np.stack([np.cos(turns), np.sin(turns), zero], axis=2)
    up = np.stack([zero, zero, one], axis=2)
    origin = np.concatenate([noise.uniform(-30, 30, size=(20, 12, 2)), np.zeros((20, 12, 1))], axis=2)
    stand = Stand(np.arange(20.0), origin, np.stack([along, up, np.cross(along, up)], axis=2))
    sure, _ = compare(panels, stand)
    assert sure > 200


@pytest.mark.parametrize("curved", [False, True])
def test_the_swing_of_real_mechanisms(curved):
    """Two rows of piers and sails, one shifted into the other: joined parts are clean, strangers are found."""
    card = shifted(row(6), 2, 30.0)
    if curved:
        card = with_lobes(card, 80)
    scene = Scene.of(card, 6.0)
    some = slice(1, None)  # closed, all planes are one
    stand = Stand(scene.grid.angles[some], scene.grid.origin[some], scene.grid.axes[some])
    keep = [index for index, panel in enumerate(card.panels) if not panel.name.startswith("cover")]
    shapes = Shapes.of(card.panels)
    ours = found_by_us(shapes, stand)
    small = Meshes([shapely.buffer(card.panels[index].outline, -SURELY, join_style="mitre") for index in keep])
    drawn = Meshes([shapely.buffer(card.panels[index].outline, DRAWN, join_style="mitre") for index in keep])
    part = Stand(stand.angles, stand.origin[:, keep], stand.axes[:, keep])
    copy = [card.panels[index].name.split("~")[1] for index in keep]
    total = 0
    for moment in range(len(stand.angles)):
        small.move(part, moment)
        drawn.move(part, moment)
        mine = {(keep.index(a), keep.index(b)) for a, b in ours[moment] if a in keep and b in keep}
        # tabs of both rows lie in one plane, on one page: FCL counts that as contact, for us it is glue
        certain = {pair for pair in small.pairs() if not in_one_plane(part, moment, *pair)}
        assert certain <= mine
        assert mine <= drawn.pairs()
        assert all(copy[a] != copy[b] for a, b in mine), "parts of one row touch only where they are joined"
        total += len(certain)
    assert total > 50


@pytest.mark.parametrize("kind", list(trees()))
def test_drawn_mechanisms(kind):
    """Mechanisms on mechanisms with random dimensions, whether their rules hold or not: many run into each other."""
    compared = 0
    for seed in range(4):
        card = card_of(draw(kind, Seeded(seed)))
        scene = Scene.of(card, 15.0)
        shapes, stand = scene.shapes, scene.at(scene.grid.angles[1:])  # closed, all planes are one
        # dimensions beyond a dead point have no pose: there panels are stretched
        posed = abs(stand.axes @ stand.axes.swapaxes(2, 3) - np.eye(3)).max(axis=(1, 2, 3)) < 1e-9
        ours = found_by_us(shapes, stand)
        small, drawn = (Meshes([shapely.buffer(panel.outline, size, join_style="mitre") for panel in card.panels])
                        for size in (-SURELY, DRAWN))
        for moment in np.flatnonzero(posed).tolist():
            mine = ours[moment]
            small.move(stand, moment)
            drawn.move(stand, moment)
            certain = {pair for pair in small.pairs() if not in_one_plane(stand, moment, *pair)}
            assert certain <= mine, f"seed {seed}, {stand.angles[moment]}°: missed {sorted(certain - mine)}"
            assert mine <= drawn.pairs(), f"seed {seed}, {stand.angles[moment]}°: false alarm"
            compared += 1
    assert compared >= 12


def in_one_plane(stand: Stand, moment: int, one: int, two: int) -> bool:
    """Planes that the swing takes for parallel are judged by themselves: lying in one plane is contact."""
    normals = stand.axes[moment, [one, two], 2]
    return bool(np.linalg.norm(np.cross(*normals)) <= PARALLEL)


# ---- slots


def cross(short: float) -> tuple[Shapes, Stand]:
    """Two layers of 60 x 30 mm, crossed at their middles in slots from above and from below that are `short` too short.

    The slots are as wide as the sheet and deep enough for 0.5 mm of clearance, as is common practice (no source).
    """
    upper = box(0, 0, 60, 30).difference(box(29.8, 15 - 0.25 + short, 30.2, 31))
    lower = box(0, 0, 60, 30).difference(box(29.8, -1, 30.2, 15 + 0.25))
    angles = np.radians(np.arange(4.0, 180.0, 4.0)) / 2
    axes = []
    for sign in (1, -1):
        along = np.column_stack([np.cos(angles), sign * np.sin(angles), 0 * angles])
        up = np.tile([0.0, 0.0, 1.0], (len(angles), 1))
        axes.append(np.stack([along, up, np.cross(along, up)], axis=1))
    both = np.stack(axes, axis=1)
    return Shapes.of([Panel("upper", "upper", upper), Panel("lower", "lower", lower)]), Stand(
        np.degrees(2 * angles), -30 * both[:, :, 0], both)


def test_slots_that_meet_are_clean_and_a_short_one_is_found():
    shapes, stand = cross(0.0)
    assert not any(found_by_us(shapes, stand))
    shapes, stand = cross(1.0)
    assert all(found == {(0, 1)} for found in found_by_us(shapes, stand))
    # 1 mm too short less 0.5 mm of clearance
    assert depth(shapes, stand, 0, 1, 10) == pytest.approx(0.5, abs=1e-9)


# ---- distances


@pytest.mark.parametrize("curved", [False, True])
def test_distances_are_those_of_fcl(curved):
    import fcl

    noise = np.random.default_rng(5)
    panels = [random_panel(noise, f"p{index}", curved) for index in range(24)]
    shapes, stand = Shapes.of(panels), random_stand(noise, 6, 24, 400)
    meshes = Meshes(list(shapes.outlines))
    first, second = np.triu_indices(24, 1)
    checked = 0
    for moment in range(6):
        pairs = Pairs(first, second, np.full(len(first), moment))
        ours = gaps(shapes, stand, pairs)
        meshes.move(stand, moment)
        hits = meshes.pairs()
        for a, b, size in zip(first.tolist(), second.tolist(), ours.size.tolist(), strict=True):
            if (a, b) in hits:
                continue
            theirs = fcl.distance(meshes.objects[a], meshes.objects[b], fcl.DistanceRequest(), fcl.DistanceResult())
            assert size == pytest.approx(theirs, abs=1e-6)
            checked += 1
    assert checked > 1000


def test_lower_bounds_are_never_above_the_distance():
    noise = np.random.default_rng(6)
    panels = [random_panel(noise, f"p{index}", True) for index in range(20)]
    shapes, stand = Shapes.of(panels), random_stand(noise, 8, 20, 150)
    first, second = np.triu_indices(20, 1)
    for moment in range(8):
        pairs = Pairs(first, second, np.full(len(first), moment))
        seen = Seen.of(stand, pairs)
        boxes = [(shapes.centre[panel], shapes.half[panel]) for panel in (first, second)]
        assert (seen.apart(*boxes) <= gaps(shapes, stand, pairs).size + 1e-9).all()


def test_boxes_meet_as_in_a_double_loop():
    noise = np.random.default_rng(8)
    panels = [random_panel(noise, f"p{index}", False) for index in range(30)]
    shapes, stand = Shapes.of(panels), random_stand(noise, 5, 30, 150)
    low, high = stand.boxes(shapes)
    met = meeting(low, high)
    found = set(zip(met.first.tolist(), met.second.tolist(), met.moment.tolist(), strict=True))
    wanted = {(a, b, m) for m in range(5) for b in range(30) for a in range(b)
              if (low[m, a] <= high[m, b]).all() and (low[m, b] <= high[m, a]).all()}
    assert found == wanted
    assert len(wanted) > 100


def test_outlines_keep_all_their_pieces():
    """A waist narrower than the shrink parts an outline; both parts go on being looked at."""
    waist = box(0, 0, 20, 10).union(box(20, 4.95, 30, 5.05)).union(box(30, 0, 50, 10))
    shapes = Shapes.of([Panel("waist", "waist", waist)])
    assert len(shapes.faces[0].geoms) == 2 if shapes.faces[0].geom_type == "MultiPolygon" else False
    assert shapes.inner.start[:, 0].min() < 1 < 49 < shapes.inner.start[:, 0].max()


def test_random_axes_are_right_handed():
    axes = random_axes(np.random.default_rng(1), 20)
    assert np.linalg.det(axes) == pytest.approx(np.ones(20))
    assert lobed(box(0, 0, 40, 30)).area < 1200
