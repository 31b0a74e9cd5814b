"""Pictures of the standing card: what hides what against a z-buffer of our own and a rasteriser, and how the files are."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import resvg_py
import shapely
from cards import INK, harbour
from lxml import etree
from pixels import decoded
from zbuffer import NONE, camera, depths, nearest

from foldwright.emit.picture import MARGIN, Scene, View, inked, picture, toned
from foldwright.emit.stacking import Stacking
from foldwright.grammar import read
from foldwright.solver.answer import solve_design
from foldwright.solver.card import Panel, Part, Placement, Stroke

EXAMPLES = Path(__file__).parent.parent / "examples"
WIDTH = 360
SVG = "{http://www.w3.org/2000/svg}"


def example(name):
    return solve_design(read(EXAMPLES / f"{name}.card"))


@pytest.fixture(scope="module")
def solved():
    return {name: example(name) for name in ("tide-pool", "night-harbour")}


def driftwood(count, seed=5):
    """A card of `count` loose panels with corners, notches and holes that pierce each other at random."""
    noise = np.random.default_rng(seed)
    panels, placed = [], {}
    for number in range(count):
        turns = np.sort(noise.uniform(0, 2 * np.pi, noise.integers(3, 9)))
        radii = noise.uniform(12, 40, len(turns))
        shape = shapely.Polygon(np.column_stack([radii * np.cos(turns), radii * np.sin(turns)])).buffer(0)
        shape = max(shapely.get_parts(shape.difference(shapely.Point(6, 3).buffer(5))), key=lambda part: part.area)
        frame, _ = np.linalg.qr(noise.normal(size=(3, 3)))
        panels.append(Panel(f"p{number}", f"p{number}", shape))
        placed[f"p{number}"] = Placement(noise.uniform(0, 110, 3), frame[0], frame[1])
    parts = tuple(Part(p.name, p.name, INK.name, p.outline, (), (0.0, 0.0)) for p in panels)
    return harbour(parts=parts, panels=tuple(panels), papers=(INK,), hinges=(), bonds=(), pose=lambda angle: placed)


def shown_panels(svg, names):
    """Which panel each pixel of a picture shows, as resvg draws it: each panel in a colour of its own, without lines."""
    root = etree.fromstring(svg)
    for group in root.findall(f"{SVG}g"):
        if group.get("id") != "paper":
            root.remove(group)
    for path in root.iter(f"{SVG}path"):
        number = names.index(path.find(f"{SVG}title").text)
        path.set("fill", f"#{100:02x}{number // 256:02x}{number % 256:02x}")
        path.set("stroke", "none")  # without smoothing, a rim would be drawn a whole pixel wide
    text = etree.tostring(root).decode()
    pixels = decoded(bytes(resvg_py.svg_to_bytes(svg_string=text, background="#fff", shape_rendering="crisp_edges")))
    number = pixels[..., 2] + 256 * pixels[..., 1].astype(int)
    return np.where(pixels[..., 0] == 100, number, NONE)


class Sight:
    """What the z-buffer finds at points of a picture."""

    def __init__(self, card, angle, view):
        self.card, self.placed = card, card.pose(angle)
        self.axes = camera(view.azimuth, view.elevation, view.lean)
        corners = np.concatenate([self.placed[p.name].points(shapely.get_coordinates(p.outline)) for p in card.panels])
        flat = corners @ self.axes[:2].T
        self.corner = np.array([flat[:, 0].min(), flat[:, 1].max()])
        self.scale = (WIDTH - 2 * MARGIN) / np.ptp(flat[:, 0])

    def placed_at(self, panel, uv):
        """Places in the picture of flat coordinates of a panel."""
        flat = self.placed[panel.name].points(uv) @ self.axes[:2].T
        return (flat - self.corner) * (1, -1) * self.scale + MARGIN

    def depths(self, points):
        """Depths of all panels at points of the picture, shape (panels, points)."""
        return depths(self.card.panels, self.placed, self.axes, (points - MARGIN) / self.scale * (1, -1) + self.corner)

    def agrees(self, points, shown):
        """True where the panel shown (or NONE) is the nearest, or one of those glued together that are."""
        winner, ties = nearest(self.depths(points))
        tied = np.take_along_axis(ties, np.maximum(shown, 0)[None], axis=0)[0]
        return np.where(shown == NONE, winner == NONE, tied & (winner != NONE))


    def explains(self, points, panel):
        """True if the panel is the nearest at one of some points, or if nothing is shown where panels meet."""
        if self.agrees(points, np.full(len(points), panel)).any():
            return True
        winner, ties = nearest(self.depths(points))
        ties = ties & (winner != NONE)
        return bool(panel == NONE and (ties.any(axis=1) != ties.all(axis=1)).any())


# Corners are rounded to 0.01 and areas thinned by 0.02 of the picture's units, outlines by 0.02 mm before, which is less
# than 0.06 at these sizes.
NEAR = 0.1
TURNS = np.linspace(0, 2 * np.pi, 24, endpoint=False)
AROUND = np.concatenate([radius * np.column_stack([np.cos(TURNS), np.sin(TURNS)]) for radius in (0.02, 0.05, NEAR)])


def compare(card, angle, view):
    """The picture's pixels against the z-buffer: how many show paper, how many differ, and how many differ off any edge.

    A pixel is on an edge if the panel it shows is the nearest within `NEAR` of its centre; or if it shows nothing and an
    edge is as near: there it fell between two areas that meet, a gap that a rim closes which is not drawn here.
    """
    shown = shown_panels(picture(card, angle, view, WIDTH), [panel.name for panel in card.panels])
    sight = Sight(card, angle, view)
    points = np.argwhere(np.ones_like(shown))[:, ::-1] + 0.5
    shown = shown.ravel()
    wrong = np.flatnonzero(~sight.agrees(points, shown))
    bad = [at for at in wrong if not sight.explains(points[at] + AROUND, shown[at])]
    return int((shown != NONE).sum()), len(wrong), len(bad)


VIEWS = [View(), View(-35, 20, 40), View(200, 55), View(80, -30)]


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: f"{view.azimuth:g},{view.elevation:g}")
@pytest.mark.parametrize("share", [0.3, 0.85, 1.0])
@pytest.mark.parametrize("name", ["tide-pool", "night-harbour"])
def test_pictures_show_what_a_z_buffer_sees(name, share, view, solved):
    paper, wrong, bad = compare(solved[name], share * solved[name].opens, view)
    assert paper > 10_000
    assert bad == 0
    assert wrong < 0.003 * paper


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: f"{view.azimuth:g},{view.elevation:g}")
def test_panels_that_pierce_each_other_are_cut_where_they_meet(view):
    paper, wrong, bad = compare(driftwood(40), 90, view)
    assert paper > 10_000
    assert bad == 0
    assert wrong < 0.003 * paper


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: f"{view.azimuth:g},{view.elevation:g}")
def test_no_seam_stays_where_a_panel_was_cut(view):
    scene = Scene.of(driftwood(40), 90)
    split = 0
    for part in scene.seen(view):
        pieces = shapely.get_parts(part.area)
        split += len(pieces) > 1
        for number, piece in enumerate(pieces):
            others = shapely.union_all([*pieces[:number], *pieces[number + 1 :]])
            assert others.intersection(piece.buffer(0.005)).length < 1  # mm; apart by a real edge, or touching in a point
    assert split > 5


# ---- lines


def drawn(svg, group):
    """All lines of a group of the picture, as one geometry."""
    paths = etree.fromstring(svg).findall(f"{SVG}g[@id='{group}']/{SVG}path")
    runs = [run for path in paths for run in path.get("d").split("M")[1:]]
    return shapely.union_all([shapely.LineString(np.array(run.split(), dtype=float).reshape(-1, 2)) for run in runs])


def outline_points(card, sight):
    """Points along every panel's outline, a hair inside it: panel numbers, and places in the picture."""
    numbers, places = [], []
    for number, panel in enumerate(card.panels):
        for ring in shapely.get_parts(shapely.buffer(panel.outline, -0.02, join_style="mitre").boundary):
            uv = shapely.get_coordinates(shapely.line_interpolate_point(ring, np.arange(0.7, ring.length, 2.9)))
            places.append(sight.placed_at(panel, uv))
            numbers += [number] * len(uv)
    return np.array(numbers), np.concatenate(places)


RING = 0.3  # of the picture's units: a circle this wide lies clear of an edge's own line
LINE_VIEWS = pytest.mark.parametrize("view", VIEWS[:3], ids=lambda view: f"{view.azimuth:g},{view.elevation:g}")
NAMES = pytest.mark.parametrize("name", ["tide-pool", "night-harbour", "driftwood"])


@LINE_VIEWS
@NAMES
def test_an_edge_with_nothing_before_it_is_drawn(name, view, solved):
    card = driftwood(30) if name == "driftwood" else solved[name]
    svg, sight = picture(card, 0.8 * card.opens, view, WIDTH), Sight(card, 0.8 * card.opens, view)
    lines = shapely.union(drawn(svg, "contours"), drawn(svg, "folds"))
    numbers, places = outline_points(card, sight)
    clear = np.ones(len(places), dtype=bool)
    own = sight.depths(places)[numbers, np.arange(len(places))]
    for shift in RING / NEAR * AROUND[-24:]:
        depth = sight.depths(places + shift)
        depth[numbers, np.arange(len(places))] = -np.inf
        clear &= depth.max(axis=0) < own - 1.0  # mm; more than a steep panel rises over the ring
    assert clear.sum() > 100
    assert shapely.distance(shapely.points(places[clear]), lines).max() < NEAR


@LINE_VIEWS
@NAMES
def test_no_line_is_drawn_where_no_edge_is_seen(name, view, solved):
    card = driftwood(30) if name == "driftwood" else solved[name]
    svg, sight = picture(card, 0.8 * card.opens, view, WIDTH), Sight(card, 0.8 * card.opens, view)
    lines = shapely.union(drawn(svg, "contours"), drawn(svg, "folds"))
    points = shapely.get_coordinates(shapely.line_interpolate_point(lines, np.arange(0.5, lines.length, 1.7)))
    slits = [sight.placed_at(panel, np.array(line.points)) for panel in card.panels for part in card.parts
             if part.name == panel.part for line in part.lines if line.stroke is Stroke.CUT]
    if slits:
        points = points[shapely.distance(shapely.points(points), shapely.multilinestrings(slits)) > 0.5]
    assert len(points) > 500
    suspects = points[~edges_near(sight, points, 24)]
    assert len(suspects) < 0.01 * len(points)
    # a thin neck slips through a coarse ring, and a wide one goes round a tip that just pierces a panel
    assert (edges_near(sight, suspects, 400) | edges_near(sight, suspects, 48, RING / 6)).all()


def edges_near(sight, points, count, radius=RING):
    """True where the nearest panels are not the same ones all round a small circle of `count` points."""
    some, every = False, True
    for turn in np.linspace(0, 2 * np.pi, count, endpoint=False):
        depth = sight.depths(points + radius * np.array([np.cos(turn), np.sin(turn)]))
        ties = nearest(depth)[1] & np.isfinite(depth)
        some, every = some | ties, every & ties
    return (some != every).any(axis=0)


# ---- glue: what lies on what


def order(card, angle, *names):
    """Panels from the lowest to the highest over the first one's printed face."""
    placed = card.pose(angle)
    first = placed[names[0]]
    return Stacking(card).order(list(names), placed, np.cross(first.along, first.up))


def test_a_tab_through_a_slit_lies_between_cover_and_insert(solved):
    names = ["cover.left", "page.left", "page.left_glue", "tank.left_foot"]
    found = order(solved["tide-pool"], 180, *names)
    assert found[0] == "cover.left"
    assert found[1] == "tank.left_foot"
    assert sorted(found[2:]) == ["page.left", "page.left_glue"]


def test_a_glued_tab_lies_on_its_page_and_is_seen(solved):
    card = solved["night-harbour"]
    assert order(card, 100, "cover.left", "quay.left_tab") == ["cover.left", "quay.left_tab"]
    inside, behind = picture(card, 100, View(0, 60)), picture(card, 100, View(0, -60))
    assert b"<title>quay.left_tab</title>" in inside
    assert b"<title>quay.left_tab</title>" not in behind
    assert b"<title>tank.left_foot</title>" not in picture(solved["tide-pool"], 150)


def test_tabs_of_a_lattice_lie_inside_the_ring_and_cut_outs_outside(solved):
    card = solved["tide-pool"]
    found = order(card, 120, "tank.front_right", "weeds.a1_start", "star.front")
    placed = card.pose(120)
    wall, inwards = placed["tank.front_right"], placed["weeds.a1"].along  # layers start at the wall and run inwards
    assert found in (["weeds.a1_start", "tank.front_right", "star.front"], ["star.front", "tank.front_right", "weeds.a1_start"])
    assert (found[-1] == "weeds.a1_start") == (np.cross(wall.along, wall.up) @ inwards > 0)


def test_a_pair_of_cut_outs_has_its_panel_between(solved):
    found = order(solved["tide-pool"], 120, "weeds.a2", "crab.front", "crab.back")
    assert found[1] == "weeds.a2"


# ---- the file


def test_equal_cards_give_equal_bytes_with_two_decimals_and_words(solved):
    card = solved["night-harbour"]
    svg = picture(card, 90, width=300)
    assert svg == picture(card, 90, width=300)
    root = etree.fromstring(svg)
    assert root.get("width") == "300"
    assert root.findtext(f"{SVG}title") == "Night harbour"
    assert "90 degrees" in root.findtext(f"{SVG}desc")
    data = " ".join(path.get("d") for path in root.iter(f"{SVG}path"))
    assert re.fullmatch(r"(?:[MZ ]|\d+(?:\.\d{1,2})?)+", data)
    numbers = [float(number) for number in re.findall(r"[\d.]+", data)]
    assert min(numbers) >= MARGIN - 0.01
    assert max(numbers[::2]) <= 300 - MARGIN + 0.01
    assert max(numbers[1::2]) <= float(root.get("height")) - MARGIN + 0.01


def test_an_angle_that_the_card_does_not_reach_is_refused(solved):
    for angle in (-1, 181):
        with pytest.raises(ValueError, match="opens from 0 to 180"):
            picture(solved["night-harbour"], angle)


def test_a_closed_card_shows_its_outside_only(solved):
    svg = picture(solved["night-harbour"], 0, View(90, -10))
    seen = {title.text for title in etree.fromstring(svg).findall(f"{SVG}g//{SVG}title")}
    assert seen == {"cover.right"}


def test_a_panel_is_toned_alike_on_both_sides_and_lighter_towards_the_light():
    steps = [sum(int(toned("#8d7b68", facing)[i : i + 2], 16) for i in (1, 3, 5)) for facing in np.linspace(0, 1, 9)]
    assert steps == sorted(steps)
    assert steps[-1] - steps[0] > 150
    card = driftwood(1)
    fills = []
    for side in (1, -1):
        panel = card.pose(0)["p0"]
        turned = Placement(panel.origin, panel.along, side * panel.up)
        svg = picture(replace(card, pose=lambda angle, turned=turned: {"p0": turned}), 90)
        fills.append(re.findall(r'fill="(#\w+)"', svg.decode()))
    assert fills[0] == fills[1]


def luminance(colour):
    """Relative luminance of #rrggbb (WCAG 2.1, definition of relative luminance)."""
    shares = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(shares <= 0.03928, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4) @ (0.2126, 0.7152, 0.0722)


@pytest.mark.parametrize("colour", ["#22304a", "#9fc6c9", "#3f6f4b", "#d8735a", "#ffffff", "#000000", "#808080", "#e2b04a"])
def test_lines_stand_out_from_their_paper(colour):
    for facing in (0.2, 0.6, 1.0):
        low, high = sorted([luminance(inked(colour)), luminance(toned(colour, facing))])
        assert (high + 0.05) / (low + 0.05) > 1.9  # lines are an aid beside the tones, which the 3 of WCAG 1.4.11 is not for
