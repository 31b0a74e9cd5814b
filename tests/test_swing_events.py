"""What the swing finds, on cards made to go wrong: the right pair, place and angle; and nothing on cards that are right."""

from dataclasses import replace
from math import asin, degrees, radians
from pathlib import Path
from shutil import copytree

import numpy as np
import pytest
import shapely
from by_hand import Seeded, draw, valid_sets
from scenes import Meshes, card_of, overlaid, row, with_flap
from shapely.geometry import Point, box

from foldwright.api import swing as swing_of
from foldwright.grammar import Severity, read, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.card import Bond, DeadPoint, Hinge, Panel, Part, Placement, Stroke
from foldwright.solver.swing import swing
from foldwright.solver.swing.runs import FINE
from foldwright.solver.swing.scene import Scene
from foldwright.solver.swing.shapes import EDGE_SHRINK, FACE_SHRINK, SIMPLIFY

EXAMPLES = Path(__file__).parent.parent / "examples"
GOOD = sorted(path.stem for path in EXAMPLES.glob("*.card") if path.stem != "too-tight")

HEAD = """
card "A harbour front"
  units mm
cover 120 x 170
  paper night
paper night colour #1f2740 weight 250 gsm
paper quay  colour #8d7b68 caliper 0.25
mat 300 x 300
"""
PIER = """
tent {name} on spine
  paper quay
  at {at}
  width {width}
  spread {spread}
  wall {wall}
"""
SAIL = """
vfold {name} on spine
  paper quay
  at {at}
  angle {angle}
  wing {wing}
  foot {foot}
  ridge {ridge}
"""


def solved(*blocks, folder=None):
    """A card from a script; with a folder, artwork of the examples can be named in it."""
    text = HEAD + "".join(blocks)
    if folder is None:
        return solve_design(read_text(text), seconds=20)
    copytree(EXAMPLES / "art", folder / "art")
    (folder / "made.card").write_text(text, "utf-8")
    return solve_design(read(folder / "made.card"), seconds=20)


def of_kind(found, kind):
    return [event for event in found.events if event.kind == kind]


def touch_in_fcl(card, names, angle, shrink):
    """Whether two panels, shrunk by so much, are in contact in FCL at an angle."""
    panels = {panel.name: panel for panel in card.panels}
    scene = Scene.of(card)
    meshes = Meshes([shapely.buffer(panels[name].outline, -shrink, join_style="mitre") for name in names])
    stand = scene.at(np.array([angle]))
    some = [scene.names.index(name) for name in names]
    meshes.move(replace(stand, origin=stand.origin[:, some], axes=stand.axes[:, some]), 0)
    return bool(meshes.contacts())


def lies_on(card, name, place, angle):
    """Whether a place in space lies on a panel at an angle."""
    panel = next(panel for panel in card.panels if panel.name == name)
    at = card.pose(angle)[name]
    offset = np.array(place) - at.origin
    flat = Point(offset @ at.along, offset @ at.up)
    return abs(offset @ np.cross(at.along, at.up)) < 1e-6 and panel.outline.buffer(1e-6).covers(flat)


def assert_right(card, event):
    """A passing-through event holds against FCL: in contact at both ends, apart just outside them; its place lies on both."""
    surely = EDGE_SHRINK + FACE_SHRINK + SIMPLIFY
    assert touch_in_fcl(card, event.panels, event.angle, 0.0)
    assert touch_in_fcl(card, event.panels, event.until, 0.0)
    middle = (event.angle + event.until) / 2
    assert touch_in_fcl(card, event.panels, middle, surely)
    for outside in (event.angle - 2 * FINE, event.until + 2 * FINE):
        if FINE < outside < card.opens:
            assert not touch_in_fcl(card, event.panels, outside, surely)
    assert all(lies_on(card, name, event.place, event.angle) for name in event.panels)
    assert event.size > 0.1


# ---- nothing to tell


@pytest.mark.parametrize("name", GOOD)
def test_examples_swing_freely(name):
    swung = swing_of(EXAMPLES / f"{name}.card")
    assert not swung.swing.events, [event.words for event in swung.swing.events]
    assert len(swung.swing.rows) == 91
    assert swung.swing.rows[45].pairs > 0


def test_a_row_of_piers_and_sails_swings_freely():
    assert not swing(row(4)).events


ALONE = ["tent", "vfold", "truncated vfold", "box", "ring", "hexagon", "platform", "step", "trellis", "lattice", "scene", "arm",
         "vfold on tent ridge", "tent inside a box"]


@pytest.mark.parametrize("kind", ALONE)
def test_a_mechanism_whose_rules_hold_swings_without_an_error(kind):
    for seed, mine in valid_sets(kind, 6):
        errors = [event.words for event in swing(card_of(mine)).events if event.severity is Severity.ERROR]
        assert not errors, f"seed {seed}: {errors}"


# ---- panels through panels


def test_a_cutout_that_runs_through_a_neighbouring_tent(tmp_path):
    """A house glued near the end of one pier stands in the plane of its wall, which the steeper pier beside it crosses."""
    houses = '\ncutout house\n  paper quay\n  art "art/house.svg" width 40\n  glue on low.right at 40 x 30\n'
    card = solved(PIER.format(name="low", at=20, width=50, spread=35, wall=45),
                  PIER.format(name="steep", at=72, width=40, spread=20, wall=60), houses, folder=tmp_path)
    found = of_kind(swing(card), "passes-through")
    assert {event.panels for event in found} == {("steep.right", "house.front")}
    for event in found:
        assert event.severity is Severity.ERROR
        assert_right(card, event)
    assert "steep.right and house.front pass through each other" in found[0].words
    assert 72 <= found[0].place[0] <= 80, "where the house reaches beyond its own pier and into the other"


def test_two_vfolds_interleaved():
    """A second sail on the first one's stretch of the spine, leaning the other way."""
    one = solved(SAIL.format(name="fore", at=60, angle=45, wing=80, foot=45, ridge=60))
    two = solved(SAIL.format(name="aft", at=60, angle=35, wing=100, foot=45, ridge=50))
    card = overlaid([one, two], [0.0, 18.0])
    card = replace(card, panels=tuple(p for p in card.panels if p.name not in ("cover.right~1", "cover.left~1")),
                   hinges=tuple(h for h in card.hinges if "cover.right~1" not in (h.right, h.left)),
                   bonds=tuple(replace(b, host=b.host.replace("~1", "~0")) for b in card.bonds))
    found = of_kind(swing(card), "passes-through")
    assert [event.panels for event in found] == [(f"fore.{side}~0", f"aft.{side}~1") for side in ("left", "right")]
    for event in found:
        assert 100 < event.angle < 170, "they swing free of each other at first"
        assert_right(card, event)


def fan(turn, shift=0.0):
    """A card with one pier, and a flap beside it."""
    return with_flap(solved(PIER.format(name="pier", at=20, width=40, spread=25, wall=40)), turn, shift)


def test_a_flap_that_swings_flat_through_the_page_between_two_angles():
    """It is on one side at one angle of the grid, and on the other at the next: no angle of the grid sees it cross."""
    card = fan(lambda angle: np.clip(8 * (angle - 91.3), -60, 60))
    card = replace(card, panels=tuple(replace(p, outline=box(0, 0.5, 30, 20)) if p.name == "flap.leaf" else p
                                      for p in card.panels))
    found = [event for event in of_kind(swing(card), "passes-through") if "flap.leaf" in event.panels]
    (event,) = found
    assert event.panels == ("cover.left", "flap.leaf")
    assert event.angle == pytest.approx(91.3, abs=FINE)
    assert event.size == pytest.approx(19.5, abs=0.2)  # the flap's own depth, less the shrink on two sides


def test_a_flap_that_dips_into_the_page_between_two_angles():
    """It hangs 1 mm over the page and dips for less than a degree: seen only because it is nearer than the panels move."""
    card = fan(lambda angle: 5 - 30 * np.exp(-(((angle - 91) / 0.4) ** 2)), shift=1.0)
    (event,) = [event for event in of_kind(swing(card), "passes-through") if event.panels == ("cover.left", "flap.leaf")]
    assert 90 < event.angle < 91 < event.until < 92
    assert_right(card, event)


# ---- the closed silhouette


def test_a_panel_that_sticks_out_of_the_closed_card():
    card = solved(PIER.format(name="pier", at=20, width=40, spread=25, wall=60))
    assert not of_kind(swing(card), "leaves-cover")
    short = replace(card, cover=(82.5, card.cover[1]))  # the ridge lies at 85 when closed
    found = of_kind(swing(short), "leaves-cover")
    by_name = {event.panels[0]: event for event in found}
    assert {"pier.right", "pier.left"} <= set(by_name)
    assert by_name["pier.right"].size == pytest.approx(2.5, abs=1e-9)
    assert by_name["pier.right"].place[2] == pytest.approx(85, abs=1e-9)
    assert by_name["pier.right"].words.startswith("when the card is closed, pier.right sticks out of the cover by 2.5 mm")


# ---- creases


def creased(card):
    """The flap is creased to the left page along its axis."""
    hinge = Hinge("flap.leaf", "cover.left", (110.0, 40.0), (140.0, 40.0), Stroke.VALLEY)
    return replace(card, hinges=(*card.hinges, hinge), panels=tuple(
        replace(p, outline=box(110, 40, 140, 60)) if p.name == "flap.leaf" else p for p in card.panels))


def in_part_coordinates(turn):
    """A flap with the page's own part coordinates, turned about its axis."""
    card = fan(turn)
    pose = card.pose

    def moved(angle):
        placed = dict(pose(angle))
        leaf = placed["flap.leaf"]
        placed["flap.leaf"] = Placement(leaf.origin - 110 * leaf.along - 40 * leaf.up, leaf.along, leaf.up)
        return placed

    return creased(replace(card, pose=moved))


def test_a_crease_that_would_turn_through_flat():
    card = in_part_coordinates(lambda angle: 60 - 0.75 * angle)  # flat at 80
    (event,) = of_kind(swing(card), "past-flat")
    assert event.panels == ("flap.leaf", "cover.left")
    assert event.angle == pytest.approx(80, abs=0.15)  # seen once 0.05 degrees beyond flat, at 0.75 per degree
    assert event.until == 180
    assert event.size == pytest.approx(0.75 * 100, abs=1e-6)
    assert "turn through flat" in event.words


def test_a_crease_that_would_turn_on_past_folded_shut():
    card = in_part_coordinates(lambda angle: 90 + 0.75 * angle)  # folded shut at 120
    (event,) = of_kind(swing(card), "past-flat")
    assert event.angle == pytest.approx(120, abs=0.15)
    assert event.size == pytest.approx(45, abs=1e-6)
    assert "past folded shut" in event.words


@pytest.mark.parametrize("turn", [lambda a: 0.9 * a, lambda a: 180 - 0.9 * a, lambda a: 90 - 0.5 * a, lambda a: -0.5 * a,
                                  lambda a: 90 + 0.5 * a, lambda a: 40 * np.sin(np.radians(a))])
def test_a_crease_flat_or_shut_at_either_end_is_ordinary(turn):
    assert not of_kind(swing(in_part_coordinates(turn)), "past-flat")


# ---- dead points


def tent_with_wall(wall, **changes):
    """A pier whose walls are as if `wall` wide: taut where sin(opening / 2) = wall / 25 (four-bar with equal sides)."""
    card = solved(PIER.format(name="pier", at=20, width=40, spread=25, wall=60))
    stander = card.pose
    sizes = {**stander.sizes, "pier": {**stander.sizes["pier"], "wall": wall, "left_wall": wall}}
    return replace(card, pose=replace(stander, sizes=sizes), dead_points=(), **changes)


TAUT = 2 * degrees(asin(24 / 25))  # 147.48 degrees


def test_a_dead_point_inside_the_swing_is_seen_in_the_poses():
    (event,) = of_kind(swing(tent_with_wall(24.0)), "dead-point")
    assert event.severity is Severity.ERROR
    assert event.angle == pytest.approx(TAUT, abs=FINE)
    assert event.panels == ("pier.right", "pier.left")
    assert event.words.startswith("pier is pulled taut when the card is 147.48° open")


def test_where_there_is_no_pose_at_all_a_dead_point_is_told():
    card = row(1)
    pose = card.pose

    def stuck(angle):
        placed = dict(pose(angle))
        for name in ("pier0.right", "pier0.left"):
            old = placed[name]
            lost = np.where(np.asarray(angle)[..., None] > 120.7, np.nan, 0.0)
            placed[name] = Placement(old.origin + lost, old.along + lost, old.up + lost)
        return placed

    (event,) = of_kind(swing(replace(card, pose=stuck)), "dead-point")
    assert event.angle == pytest.approx(120.7, abs=1.0)  # a step of the first look
    assert event.panels == ("pier0.right", "pier0.left")


@pytest.mark.parametrize("beyond", [1.0, 3.0])
def test_a_dead_point_just_beyond_the_open_card_can_snap(beyond):
    (event,) = of_kind(swing(tent_with_wall(24.0, opens=TAUT - beyond)), "can-snap")
    assert event.severity is Severity.WARNING
    # a straight line through two values of 1 / speed², which is straight only at the dead point itself
    assert event.size == pytest.approx(beyond, rel=0.15)


@pytest.mark.parametrize("kind", ["threefold", "trellis"])
def test_poses_show_the_dead_points_that_mechanisms_name(kind):
    """Closed forms on one side, poses alone on the other: random dimensions, whether their rules hold or not."""
    compared = 0
    for seed in range(120):
        mine = draw(kind, Seeded(seed))
        named = [angle for angle, _ in mine.mechanism.dead_points(mine.sizes) if 4 < angle < mine.opens - 2]
        if not named:
            continue
        found = [event.angle for event in of_kind(swing(card_of(mine)), "dead-point")]
        assert any(abs(angle - min(named)) < FINE for angle in found), f"seed {seed}: {named} against {found}"
        compared += 1
    assert compared >= 3


def test_far_from_its_dead_point_nothing_is_told():
    card = tent_with_wall(24.0, opens=TAUT - 20)
    found = swing(card)
    assert not of_kind(found, "can-snap") + of_kind(found, "dead-point")
    assert card.practice["stand.margin"] < 20


def test_what_a_mechanism_says_of_its_dead_points():
    card = tent_with_wall(24.0)
    named = replace(card, dead_points=(DeadPoint("pier", ("cover", "spine"), TAUT, "would be pulled taut"),))
    (event,) = of_kind(swing(named), "dead-point")
    assert event.angle == pytest.approx(TAUT, abs=FINE)
    assert "pier would be pulled taut" in event.words
    near = replace(named, opens=TAUT - 2)
    (event,) = of_kind(swing(near), "can-snap")
    assert event.size == pytest.approx(2, abs=1e-6)


# ---- too close


@pytest.mark.parametrize(("height", "told"), [(0.3, False), (0.2, True)])
def test_less_than_a_sheet_between_two_panels(height, told):
    """A flap that stays parallel to the page, all the time."""
    found = of_kind(swing(fan(lambda angle: 0 * angle, shift=height)), "too-close")
    assert [event.panels for event in found] == ([("cover.left", "flap.leaf")] if told else [])
    if told:
        (event,) = found
        assert event.severity is Severity.WARNING
        assert event.size == pytest.approx(height, abs=1e-9)
        assert event.until == 180


def test_too_close_is_judged_only_once_the_pages_stand_apart():
    """Not before the pages, there, are farther apart than the whole closed stack: 2 r sin(opening / 2)."""
    card = replace(fan(lambda angle: 0 * angle, shift=0.2), stack=30.0)
    (event,) = of_kind(swing(card), "too-close")
    away = np.hypot(*event.place[1:])
    assert 2 * away * np.sin(radians(event.angle) / 2) == pytest.approx(30.0, abs=0.1)


# ---- glue


def test_tabs_glued_over_each_other():
    one = solved(PIER.format(name="pier", at=20, width=40, spread=25, wall=40))
    two = solved(PIER.format(name="dock", at=40, width=40, spread=28, wall=40))
    card = overlaid([one, two], [0.0, 0.0])
    card = replace(card, bonds=tuple(replace(b, host=b.host.replace("~1", "~0")) for b in card.bonds))
    found = of_kind(swing(card), "glue-overlaps")
    assert {event.panels for event in found} == {(f"pier.{side}_tab~0", f"dock.{side}_tab~1", f"cover.{side}~0")
                                                 for side in ("right", "left")}
    # inward tabs of 8 mm: one lies from 17 to 25 mm, the other from 20 to 28
    assert all(event.size == pytest.approx(5, abs=1e-6) for event in found)
    assert all(event.severity is Severity.WARNING for event in found)


def test_tabs_on_the_two_faces_of_a_page_do_not_touch():
    """The second pier's tabs pass through slits and are glued behind the page."""
    one = solved(PIER.format(name="pier", at=20, width=40, spread=25, wall=40))
    two = solved(PIER.format(name="dock", at=40, width=40, spread=28, wall=40) )
    card = overlaid([one, two], [0.0, 0.0])
    marks = next(part.lines for part in card.parts if part.name == "cover~1")
    slits = tuple(replace(line, stroke=Stroke.CUT) for line in marks if line.stroke is Stroke.MARK)
    assert len(slits) == 2
    card = replace(card, bonds=tuple(replace(b, host=b.host.replace("~1", "~0")) for b in card.bonds),
                   parts=tuple(replace(part, lines=(*part.lines, *slits)) if part.name == "cover~0" else part
                               for part in card.parts))
    assert not of_kind(swing(card), "glue-overlaps")


def with_cutouts(*outlines):
    """A pier with pieces glued on its right wall, given 5 mm from its corner."""
    card = row(1)
    pieces = [Panel(f"{name}.front", name, outline) for name, outline in zip(("star", "boat"), outlines, strict=True)]

    def pose(angle):
        placed = dict(card.pose(angle))
        wall = placed["pier0.right"]
        there = Placement(wall.origin + 5 * wall.along + 5 * wall.up, wall.along, wall.up)
        return placed | {piece.name: there for piece in pieces}

    parts = tuple(Part(piece.part, "X", "sand", piece.outline, (), (1.0, 1.0)) for piece in pieces)
    return replace(card, panels=(*card.panels, *pieces), parts=(*card.parts, *parts), pose=pose,
                   bonds=(*card.bonds, *(Bond(piece.name, "pier0.right", False) for piece in pieces)))


def test_two_cutouts_over_each_other_on_one_wall():
    (event,) = of_kind(swing(with_cutouts(box(0, 0, 12, 12), box(4, 4, 20, 20))), "glue-overlaps")
    assert event.panels == ("star.front", "boat.front", "pier0.right")
    assert event.size == pytest.approx(8, abs=1e-9)


def test_two_cutouts_side_by_side_on_one_wall():
    """Glued 0.15 mm from each other: nearer than a sheet, but they never move against each other."""
    assert not swing(with_cutouts(box(0, 0, 8, 12), box(8.15, 0, 16, 12))).events


# ---- the table, and the grid


def test_rows_tell_height_and_the_nearest_pair():
    found = swing(row(1), step=10)
    assert [row.opening for row in found.rows] == pytest.approx(list(range(0, 181, 10)))
    assert found.rows[0].gap is None
    # a symmetric four-bar stands at sqrt(wall² - foot²) over the open pages
    assert found.rows[-1].height == pytest.approx((45**2 - 25**2) ** 0.5, abs=1e-9)
    assert set(found.angles) >= {row.opening for row in found.rows}


@pytest.mark.parametrize("step", [0.0, -1.0, 200.0])
def test_a_step_must_divide_the_swing(step):
    with pytest.raises(ValueError, match="step"):
        swing(row(1), step=step)


def test_lengths_are_told_in_the_unit_of_the_card():
    card = solved(PIER.format(name="pier", at=20, width=40, spread=25, wall=60))
    found = of_kind(swing(replace(card, cover=(82.46, card.cover[1]), unit="in")), "leaves-cover")
    assert any(event.words.startswith("when the card is closed, pier.right sticks out of the cover by 0.1 in") for event in found)
