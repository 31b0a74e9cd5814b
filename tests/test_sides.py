"""Which side of a part is drawn: from the standing card, by routes of its own, against the files as other readers see them.

Where a part is looked at is worked out here from its panels in space: what goes round a room from the middle of that room,
covers and inserts from the space between the pages, all else from a picture with hidden surfaces removed, as the reader of
the card sees it. Whether a crease is a mountain is told by the panel beyond it: it falls back behind the panel on this side.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pdfplumber
import pytest
import shapely
from ezdxf.path import make_path
from lxml import etree
from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from foldwright.asked import Asked
from foldwright.emit import Wanted, build_files
from foldwright.emit.labels import label_places
from foldwright.emit.lettering import text_box
from foldwright.emit.picture import Scene, View
from foldwright.emit.sides import Sides, mirrored
from foldwright.emit.unseen import FLAT
from foldwright.grammar import Refused, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.card import Card, Panel, Part, Placement, Stroke
from foldwright.solver.sides import printed_faces
from foldwright.solver.variants import varied

EXAMPLES = Path(__file__).parent.parent / "examples"
SVG = "{http://www.w3.org/2000/svg}"
POINT = 25.4 / 72  # mm
SHARES = (0.15, 0.3, 0.5, 0.7, 0.9)
NAMES = ("tide-pool", "fern-house", "observatory", "night-train", "polar-camp", "mountain-hut", "orbit-station")
ROOMS = ("tent", "box", "ring", "hexagon", "threefold", "platform")
NEAR = 0.1  # mm; lines are rounded to a thousandth, and where they meet another they end up to a twentieth short
FITS = 0.02  # mm between a drawn outline and the part's, all along it: arcs of a DXF file keep within that


@cache
def solved(name: str) -> Card:
    return solve_design(Asked().design(EXAMPLES / f"{name}.card"), seconds=120)


def turned(card: Card, up: bool) -> Card:
    return replace(card, machine=replace(card.machine, printed_up=up))


@cache
def files(name: str, up: bool) -> dict[str, bytes]:
    return build_files(turned(solved(name), up), (), wanted=Wanted(pages=("a4",) if name == "tide-pool" else ()))


# ---- the files as others read them


@dataclass
class Seen:
    """A part in a file: its outline and its creases."""

    cuts: list[LineString] = field(default_factory=list)
    creases: dict[str, list[LineString]] = field(default_factory=lambda: {"mountain": [], "valley": []})

    @cached_property
    def outline(self) -> Polygon:
        whole = [Polygon(line) for line in self.cuts if line.is_closed]
        pieces = shapely.polygonize([line for line in self.cuts if not line.is_closed]).geoms
        return max([*whole, *(Polygon(piece.exterior) for piece in pieces)], key=lambda ring: ring.area).buffer(0)


def bezier(p: np.ndarray) -> list[tuple[float, float]]:
    t = np.linspace(0, 1, 33)[1:, None]
    curve = (1 - t) ** 3 * p[0] + 3 * (1 - t) ** 2 * t * p[1] + 3 * (1 - t) * t**2 * p[2] + t**3 * p[3]
    return [tuple(point) for point in curve.tolist()]


def paths(data: str) -> Iterator[tuple[list[tuple[float, float]], bool]]:
    """The lines of SVG path data that has only M, L, C and Z, each with whether it is closed."""
    for piece in re.findall(r"M[^M]*", data):
        words = re.findall(r"[MLCZ]|-?[\d.]+", piece)
        points: list[tuple[float, float]] = []
        command, at = "", 0
        while at < len(words):
            if words[at] in "MLCZ":
                command, at = words[at], at + 1
                continue
            count = 6 if command == "C" else 2
            pairs = np.array([float(word) for word in words[at:at + count]]).reshape(-1, 2)
            points += bezier(np.vstack([points[-1], pairs])) if command == "C" else [tuple(pairs[0].tolist())]
            at += count
        yield points, words[-1] == "Z"


def from_svg(made: Mapping[str, bytes]) -> dict[str, Seen]:
    found: dict[str, Seen] = {}
    for name, content in made.items():
        if not re.match(r"sheet-.*\.svg", name):
            continue
        root = etree.fromstring(content)
        for group in root.iterfind(f"{SVG}g"):
            if not group.get("id").startswith("part-"):
                continue
            seen = found.setdefault(group.findtext(f"{SVG}title").split(" ", 1)[1], Seen())
            for layer in group.iterfind(f"{SVG}g"):
                for path in layer.iterfind(f"{SVG}path"):
                    for points, closed in paths(path.get("d")):
                        points = [(x, -y) for x, y in points]  # y runs down in SVG
                        if layer.get("class") == "cut":
                            seen.cuts.append(LineString([*points, points[0]] if closed else points))
                        elif layer.get("class") in seen.creases:
                            seen.creases[layer.get("class")].append(LineString(points))
    return found


def from_dxf(made: Mapping[str, bytes]) -> dict[str, Seen]:
    found: dict[str, Seen] = {}
    for name, content in made.items():
        if not re.match(r"sheet-.*\.dxf", name):
            continue
        document = ezdxf.read(io.StringIO(content.decode()))
        for label, group in document.groups:
            if not label.startswith("part-"):
                continue
            seen = found.setdefault(group.dxf.description.split(" ", 1)[1], Seen())
            for entity in group:
                points = [(p.x, p.y) for p in make_path(entity).flattening(0.002)]
                if entity.dxf.layer == "CUT":
                    seen.cuts.append(LineString([*points, points[0]] if entity.closed else points))
                elif entity.dxf.layer.lower() in seen.creases:
                    seen.creases[entity.dxf.layer.lower()].append(LineString(points))
    return found


READERS = {"svg": from_svg, "dxf": from_dxf}


# ---- the standing card


def normal(placed: Mapping[str, Placement], panel: str) -> np.ndarray:
    return np.cross(placed[panel].along, placed[panel].up)


def middle(placed: Mapping[str, Placement], panel: Panel) -> np.ndarray:
    centre = panel.outline.centroid
    return placed[panel.name].points(np.array([[centre.x, centre.y]]))[0]


def away_from(placed: Mapping[str, Placement], panels: list[Panel], centre: np.ndarray) -> int:
    """The face of some panels that looks away from a point: 1 if it is the one towards along x up."""
    out = sum(panel.outline.area * normal(placed, panel.name) @ (middle(placed, panel) - centre) for panel in panels)
    return int(np.sign(out))


def looked_at(name: str) -> dict[str, int]:
    """By part the face that is looked at, 1 for the one towards along x up; of pairs and of what shows both alike nothing."""
    card, design = solved(name), Asked().design(EXAMPLES / f"{name}.card")
    blocks = {(block.name or block.keyword).text: block for block in design.blocks}
    placed, standing = card.pose(0.55 * card.opens), card.pose(card.opens)
    main: dict[str, list[Panel]] = {}
    for panel in card.panels:
        if not panel.tab:
            main.setdefault(panel.part, []).append(panel)
    pages = [panel for panel in card.panels if panel.name in ("cover.left", "cover.right")]
    between = np.mean([middle(placed, page) for page in pages], axis=0)
    lined = any(block.keyword.text == "insert" for block in design.blocks)
    shares = before_the_reader(card)
    found: dict[str, int] = {}
    for part, panels in main.items():
        block = blocks[part.split(".")[0]]
        kind = block.keyword.text
        if kind in ROOMS and not part.endswith((".tie", ".centre_support")):
            room = [panel for other, some in main.items() if other.split(".")[0] == part.split(".")[0] for panel in some
                    if not other.endswith((".tie", ".centre_support"))]
            found[part] = away_from(standing, panels, np.mean([middle(standing, panel) for panel in room], axis=0))
        elif kind in ("cover", "insert"):
            outside = away_from(placed, [panel for panel in panels if panel.name.endswith((".left", ".right"))], between)
            found[part] = outside if kind == "cover" and lined else -outside
        elif kind == "cutout" and any(line.word.text == "pair" for line in block.settings):
            continue
        elif kind != "window":
            front, back = shares[part]
            least = 0.1 * sum(panel.outline.area for panel in panels)
            if front + back > least and abs(front - back) > 0.35 * (front + back):
                found[part] = 1 if front > back else -1
    for bond in card.bonds:
        if bond.panel.endswith(".pane"):
            host = next(panel.part for panel in card.panels if panel.name == bond.host)
            alike = normal(placed, bond.panel) @ normal(placed, bond.host) > 0
            found[bond.panel] = found[host] if alike else -found[host]
    return found


def before_the_reader(card: Card) -> dict[str, list[float]]:
    """By part how much of either face a reader sees of the open card, hidden surfaces removed."""
    scene = Scene.of(card, card.opens)
    view = View(0.0, 38.0) if card.opens == 180 else View(0.0, 90.0)  # along the bisector of an L
    shares = {part.name: [0.0, 0.0] for part in card.parts}
    for panel, seen in zip(card.panels, scene.seen(view), strict=True):
        if not panel.tab:
            shares[panel.part][0 if normal(scene.placed, panel.name) @ view.towards > 0 else 1] += seen.area.area
    return shares


def flat(card: Card, part: Part, face: int) -> tuple[Polygon, list[tuple[LineString, str]]]:
    """A part as it looks from one face, and its creases as they are folded."""
    poses = [card.pose(share * card.opens) for share in SHARES]
    panels = {panel.name: panel for panel in card.panels}
    creases = []
    for hinge in card.hinges:
        if panels[hinge.left].part != part.name:
            continue
        rises = []
        for placed in poses:
            start = placed[hinge.left].points(np.array([hinge.start]))[0]
            beyond = panels[hinge.right].outline.representative_point()
            away = placed[hinge.right].points(np.array([[beyond.x, beyond.y]]))[0] - start
            rises.append(face * float(away @ normal(placed, hinge.left)))
        rise = max(rises, key=abs)
        creases.append((LineString([hinge.start, hinge.end]), "valley" if rise > 0 else "mountain"))

    def look(shape: BaseGeometry) -> BaseGeometry:
        return shape if face > 0 else affinity.scale(shape, -1, 1, origin=(0, 0))

    return look(Polygon(part.outline.exterior)), [(look(line), kind) for line, kind in creases]


def fits(outline: Polygon, creases: list[tuple[LineString, str]], seen: Seen) -> bool:
    """Whether a part lies on the sheet so in some turn, never turned over, with these creases."""
    for turn in (0, 90, 180, 270):
        there = affinity.rotate(outline, turn, origin=(0, 0))
        shift = np.subtract(seen.outline.bounds[:2], there.bounds[:2])
        if affinity.translate(there, *shift).symmetric_difference(seen.outline).area > FITS * outline.length:
            continue
        moved = [(affinity.translate(affinity.rotate(line, turn, origin=(0, 0)), *shift), kind) for line, kind in creases]
        if all(min((drawn.distance(line.interpolate(share, normalized=True)) for drawn in seen.creases[kind]), default=9) < NEAR
               for line, kind in moved for share in (0.2, 0.5, 0.8)):
            return True
    return False


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("up", [True, False], ids=["up", "down"])
@pytest.mark.parametrize("name", NAMES)
def test_every_part_is_drawn_as_it_looks_in_the_standing_card(name: str, up: bool, reader: str) -> None:
    card, drawn = solved(name), READERS[reader](files(name, up))
    expected, handed = looked_at(name), 0
    assert set(drawn) == {part.name for part in card.parts}
    for part in card.parts:
        faces = [expected[part.name]] if part.name in expected else [1, -1]
        sides = [face if up else -face for face in faces]
        assert any(fits(*flat(card, part, side), drawn[part.name]) for side in sides), part.name
        if len(sides) == 1:
            handed += not fits(*flat(card, part, -sides[0]), drawn[part.name])
    assert handed >= 0.3 * len(card.parts), "parts that would not fit the other way round"


def test_the_examples_have_parts_that_are_turned() -> None:
    expected = {name: looked_at(name) for name in NAMES}
    assert sum(face < 0 for faces in expected.values() for face in faces.values()) >= 10
    for name, faces in expected.items():
        said = printed_faces(solved(name))
        assert {part: said[part] for part in faces} == faces, name


@pytest.mark.parametrize("up", [True, False])
def test_a_pair_comes_together_back_to_back(up: bool) -> None:
    """Laid on each other with their printed sides outwards, the outlines of both pieces are one."""
    card, drawn = solved("tide-pool"), from_svg(files("tide-pool", up))
    pairs = [part.name for part in card.parts if part.name.endswith(".back")]
    assert len(pairs) == 4
    handed = 0
    for back in pairs:
        front = drawn[back.replace(".back", ".front")]
        over = affinity.scale(front.outline, -1, 1, origin=(0, 0))
        assert fits(over, [], drawn[back]), back
        handed += not fits(front.outline, [], drawn[back])
    assert handed == 3  # the crab is its own mirror image


def test_printed_down_is_the_same_sheet_turned_over() -> None:
    up, down = from_svg(files("tide-pool", True)), from_svg(files("tide-pool", False))
    width = float(etree.fromstring(files("tide-pool", True)["sheet-1-ink.svg"]).get("viewBox").split()[2])
    for name, seen in up.items():
        over = affinity.affine_transform(seen.outline, [-1, 0, 0, 1, width, 0])
        assert over.symmetric_difference(down[name].outline).area < 0.01 * over.length, name
        for kind, other in (("mountain", "valley"), ("valley", "mountain")):
            lines = [affinity.affine_transform(line, [-1, 0, 0, 1, width, 0]) for line in seen.creases[kind]]
            assert len(lines) == len(down[name].creases[other])
            assert all(min(line.hausdorff_distance(drawn) for drawn in down[name].creases[other]) < 0.01 for line in lines)


def test_template_pages_show_the_back() -> None:
    """Read by pdfplumber; parts that are their own mirror image tell nothing."""
    card, expected = solved("tide-pool"), looked_at("tide-pool")
    with pdfplumber.open(io.BytesIO(files("tide-pool", True)["pages-a4.pdf"])) as pdf:
        text = " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
        rings = [ring for page in pdf.pages for ring in from_page(page.curves)]
    assert "seen from the back" in text
    told = 0
    for part in card.parts:
        fit = {face: any(fits(flat(card, part, face)[0], [], ring) for ring in rings) for face in (1, -1)}
        if part.name in expected and fit[1] != fit[-1] and not part.name.startswith("cover"):
            told += 1
            assert fit[-expected[part.name]], part.name
    assert told >= 6


def from_page(curves: list[dict[str, Any]]) -> Iterator[Seen]:
    for curve in curves:
        points: list[tuple[float, float]] = []
        for command, *ends in curve["path"]:
            there = [(x * POINT, -y * POINT) for x, y in ends]
            points += bezier(np.array([points[-1], *there])) if command == "c" else there
        if len(points) > 3 and np.hypot(*np.subtract(points[0], points[-1])) < 0.02:
            yield Seen([LineString([*points, points[0]])])


# ---- labels


def triangles(card: Card, placed: Mapping[str, Placement], but: str) -> np.ndarray:
    """All panels but panes in space, cut in triangles: shape (n, 3, 3)."""
    found = [placed[panel.name].points(np.array(piece.exterior.coords)[:3])
             for panel in card.panels if not panel.name.endswith(".pane") and panel.name != but
             for piece in shapely.constrained_delaunay_triangles(panel.outline).geoms]
    return np.array(found)


def escapes(starts: np.ndarray, rays: np.ndarray, faces: np.ndarray) -> float:
    """The share of rays that meet no triangle (Möller and Trumbore 1997)."""
    free = 0
    e1, e2 = faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0]
    for start in starts:
        for ray in rays:
            p = np.cross(ray, e2)
            det = (e1 * p).sum(axis=1)
            with np.errstate(divide="ignore", invalid="ignore"):
                s = start - faces[:, 0]
                u, q = (s * p).sum(axis=1) / det, np.cross(s, e1)
                v, t = (q @ ray) / det, (q * e2).sum(axis=1) / det
            free += not ((u > -1e-3) & (v > -1e-3) & (u + v < 1 + 1e-3) & (t > 1e-3)).any()
    return free / (len(starts) * len(rays))


def on_tab(card: Card, part: Part, at: tuple[float, float], face: int) -> bool | None:
    """Whether a tab under a place has this face to its host: the one away from the sheet that it is creased to."""
    tab = next((p for p in card.panels if p.part == part.name and p.tab and p.outline.covers(shapely.Point(at))), None)
    if tab is None or not any(bond.panel == tab.name for bond in card.bonds):
        return None
    placed = card.pose(0.6 * card.opens)
    hinge = next(hinge for hinge in card.hinges if tab.name in (hinge.left, hinge.right))
    wall = next(p for p in card.panels if p.name in (hinge.left, hinge.right) and p is not tab)
    rises = (middle(placed, wall) - placed[tab.name].points(np.array([hinge.start]))[0]) @ normal(placed, tab.name)
    return bool(rises * face < 0)


@pytest.mark.parametrize("up", [True, False], ids=["up", "down"])
@pytest.mark.parametrize("name", ["tide-pool", "fern-house", "winter-fair", "orbit-station"])
def test_a_number_shows_on_no_side_in_the_finished_card(name: str, up: bool) -> None:
    """On a tab it is on the glued face; elsewhere something is glued over it, or no ray from it leaves the card."""
    card = solved(name)
    sides = Sides(card)
    faces = sides.faces(up)
    places = label_places(card, faces)
    placed = card.pose(0.55 * card.opens)
    tabs = folded = 0
    random = np.random.default_rng(7)
    for part in card.parts:
        label = places.get(part.name)
        if label is None or not label.hidden:
            continue
        left, low, right, high = text_box(part.label, label.at, label.height)
        if faces[part.name] < 0:
            left, right = -right, -left  # the drawing is the mirror image
        x, y = (left + right) / 2, (low + high) / 2
        own = next(p for p in card.panels if p.part == part.name and p.outline.covers(shapely.Point(x, y)))
        start = placed[own.name].points(np.array([[x, y]]))[0]
        glued = [bond for bond in card.bonds if own.name in (bond.panel, bond.host) and over(card, placed, bond, own.name, start)]
        twin = part.name.rpartition(".")[0] + (".front" if part.name.endswith(".back") else ".back")
        if any(other.name == twin for other in card.parts):
            continue  # the other one of a pair is glued to it all over, or there is no printed side to see
        if not glued:
            folded += 1
            for share in (1.0, 0.75, 0.5):
                there = card.pose(share * card.opens)
                out = faces[part.name] * normal(there, own.name)
                rays = random.normal(size=(400, 3))
                rays /= np.linalg.norm(rays, axis=1)[:, None]
                corners = there[own.name].points(np.array([[left, low], [right, low], [right, high], [left, high], [x, y]]))
                free = escapes(corners + 1e-3 * out, rays[rays @ out > FLAT], triangles(card, there, own.name))
                assert free < 0.005, f"{part.name} can be read"  # what is seen through a pinhole between two sheets
        elif (tab := on_tab(card, part, (x, y), faces[part.name])) is not None:
            tabs += 1
            assert tab or own.name in (bond.host for bond in glued), f"{part.name} has its number on the seen face of a tab"
    assert tabs + folded >= (1 if name == "tide-pool" else 3)
    if name in ("fern-house", "winter-fair") and not up:
        assert folded >= 1


def over(card: Card, placed: Mapping[str, Placement], bond: object, own: str, start: np.ndarray) -> bool:
    """Whether the other panel of a bond covers a place."""
    other = bond.host if bond.panel == own else bond.panel  # type: ignore[attr-defined]
    frame, panel = placed[other], next(p for p in card.panels if p.name == other)
    off_it = start - frame.origin
    return bool(panel.outline.covers(shapely.Point(off_it @ frame.along, off_it @ frame.up)))


# ---- the statement


SCRIPT = """card "Quay"
  units mm
cover 100 x 150
  paper ink
paper ink   colour #22304a  weight 200 gsm
mat 300 x 300
tent quay on spine
  paper ink
"""


def test_the_statement_and_its_variant() -> None:
    plain = read_text(SCRIPT)
    assert plain.machine.printed is None
    down = read_text(SCRIPT + "printed down\nvariant other\n  printed up\n")
    assert down.machine.printed is not None
    assert down.machine.printed.side == "down"
    other = varied(down, down.variants[0]).machine.printed
    assert other is not None
    assert other.side == "up"
    assert [solve_design(design).machine.printed_up for design in (plain, down, varied(down, down.variants[0]))] == [
        True, False, True]


@pytest.mark.parametrize(("line", "code", "place"), [
    ("printed", "value-missing", "printed"),
    ("printed left", "unknown-choice", "left"),
    ("printed up down", "value-surplus", "down"),
    ("printed up\nprinted down", "statement-twice", "printed"),
])
def test_what_can_be_wrong_with_it(line: str, code: str, place: str) -> None:
    with pytest.raises(Refused) as refused:
        read_text(SCRIPT + line + "\n")
    (problem,) = refused.value.problems
    assert problem.at is not None
    assert (problem.code, problem.at.text) == (code, place)


def test_mirroring_twice_gives_the_part_back() -> None:
    for part in solved("tide-pool").parts:
        again = mirrored(mirrored(part))
        assert again.outline.equals(part.outline)
        assert again.lines == part.lines
        assert again.label_at == pytest.approx(part.label_at)
        once = mirrored(part)
        assert sum(line.stroke is Stroke.MOUNTAIN for line in once.lines) == sum(
            line.stroke is Stroke.VALLEY for line in part.lines)
