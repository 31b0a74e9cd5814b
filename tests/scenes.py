"""Scenes for the swing: panels at random, rows of real mechanisms, lobed outlines, and the same in FCL.

FCL (the Flexible Collision Library, J. Pan et al., ICRA 2012) is a published collision library; its answers are what the
swing is compared with, and its times what the bench quotes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import fcl
import numpy as np
import shapely
from by_hand import CALIPER, HABIT
from by_hand import Stand as Made
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from foldwright.grammar import read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.card import Card, Hinge, Panel, Paper, Part, Placement, Stroke
from foldwright.solver.evaluate import evaluate
from foldwright.solver.swing.stand import Stand

LOBES = 225  # corners of a lobed outline


def lobed(outline: Polygon, corners: int = LOBES, depth: float = 1.5) -> Polygon:
    """An outline with waves cut into its border (inwards only), of about so many corners."""
    ring = outline.exterior
    shares = np.arange(corners) / corners
    points = np.array([ring.interpolate(share, normalized=True).coords[0] for share in shares])
    ahead = np.array([ring.interpolate((share + 1e-4) % 1, normalized=True).coords[0] for share in shares])
    along = (ahead - points) / np.linalg.norm(ahead - points, axis=1)[:, None]
    inward = np.column_stack([-along[:, 1], along[:, 0]]) * (1 if ring.is_ccw else -1)
    wave = depth * (1 - np.cos(2 * np.pi * shares * (corners // 9))) / 2
    made = shapely.make_valid(Polygon(points + wave[:, None] * inward))
    return max(getattr(made, "geoms", [made]), key=lambda piece: piece.area)


def random_panel(noise: np.random.Generator, name: str, curved: bool) -> Panel:
    """A panel of 15 to 60 mm with a hole or two, lobed if `curved`."""
    width, height = noise.uniform(15, 60, size=2)
    outline: BaseGeometry = box(0, 0, width, height)
    if curved:
        outline = lobed(outline, 120)
    for _ in range(int(noise.integers(0, 3))):
        x, y = noise.uniform(0.25, 0.75, size=2) * (width, height)
        outline = outline.difference(shapely.Point(x, y).buffer(noise.uniform(2, 6), quad_segs=6))
    pieces = getattr(outline, "geoms", [outline])
    return Panel(name, name, max(pieces, key=lambda piece: piece.area))


def random_axes(noise: np.random.Generator, count: int) -> np.ndarray:
    """Random right-handed axes, shape (count, 3, 3), rows along, up and normal."""
    axes, _ = np.linalg.qr(noise.normal(size=(count, 3, 3)))
    axes[:, 2] = np.cross(axes[:, 0], axes[:, 1])
    return axes


def random_stand(noise: np.random.Generator, moments: int, count: int, room: float) -> Stand:
    """Panels anywhere in a cube with edges of `room` mm, anew at each moment."""
    axes = random_axes(noise, moments * count).reshape(moments, count, 3, 3)
    return Stand(np.arange(float(moments)), noise.uniform(0, room, size=(moments, count, 3)), axes)


# ---- real mechanisms in a row

ROW = """
card "A row of piers"
  units mm
cover 130 x {height}
  paper ink
{blocks}
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 900 x 900
"""
TENT = """
tent pier{k} on spine
  paper sand
  at {at}
  width 30
  spread 25
  wall 45
"""
VFOLD = """
vfold sail{k} on spine
  paper sand
  at {at}
  angle 45
  wing 90
  foot 40
  ridge 46
"""


def row(count: int) -> Card:
    """A card with `count` mechanisms along its spine, tents and V-folds in turn."""
    blocks = "".join((TENT if k % 2 == 0 else VFOLD).format(k=k, at=10 + 50 * k) for k in range(count))
    return solve_design(read_text(ROW.format(height=50 * count + 30, blocks=blocks)), seconds=60)


def overlaid(cards: Sequence[Card], shifts: Sequence[float]) -> Card:
    """Cards laid into each other, each moved along the spine; number k of them has `~k` behind all its names.

    Everything but panels, parts and what joins them is the first card's.
    """
    def poses(angles):
        out = {}
        for number, (card, shift) in enumerate(zip(cards, shifts, strict=True)):
            move = np.array([shift, 0, 0])
            out |= {f"{name}~{number}": Placement(old.origin + move, old.along, old.up)
                    for name, old in card.pose(angles).items()}
        return out

    def renamed(kind, fields):
        return tuple(replace(item, **{field: f"{getattr(item, field)}~{number}" for field in fields})
                     for number, card in enumerate(cards) for item in getattr(card, kind))

    first = cards[0]
    return replace(first, panels=renamed("panels", ["name", "part"]), parts=renamed("parts", ["name"]),
                   hinges=renamed("hinges", ["right", "left"]), bonds=renamed("bonds", ["panel", "host"]),
                   crossings=renamed("crossings", ["first", "second"]), dead_points=(), pose=poses,
                   cover=(first.cover[0], max(card.cover[1] + shift for card, shift in zip(cards, shifts, strict=True))))


def shifted(card: Card, copies: int, pitch: float) -> Card:
    """The card so many times side by side along the spine."""
    return overlaid([card] * copies, [pitch * copy for copy in range(copies)])


def with_lobes(card: Card, corners: int = LOBES) -> Card:
    """The card with lobed outlines."""
    return replace(card, panels=tuple(replace(panel, outline=lobed(panel.outline, corners)) for panel in card.panels))


def with_flap(card: Card, turn: Callable[[np.ndarray], np.ndarray], shift: float = 0.0) -> Card:
    """The card with a flap of 30 x 20 mm: `turn(angles)` is its angle against the left page's plane, degrees.

    Its axis runs along the spine, 110 to 140 mm along it and 40 mm from it; `shift` lifts it off the page. It is joined to
    nothing.
    """
    flap = Panel("flap.leaf", "flap", box(0, 0, 30, 20))
    part = Part("flap", "X", next(part.paper for part in card.parts if part.name != "cover"), flap.outline, (), (1.0, 1.0))

    def pose(angle):
        placed = dict(card.pose(angle))
        page = placed["cover.left"]
        normal = np.cross(page.along, page.up)
        tilt = np.radians(np.asarray(turn(np.asarray(angle, dtype=float)), dtype=float))[..., None]
        along, up = np.broadcast_arrays(page.along, np.cos(tilt) * page.up + np.sin(tilt) * normal)
        origin = page.origin + 110 * page.along + 40 * page.up + shift * normal
        placed["flap.leaf"] = Placement(np.broadcast_to(origin, up.shape), along, up)
        return placed

    return replace(card, panels=(*card.panels, flap), parts=(*card.parts, part), pose=pose)


def card_of(mine: Made) -> Card:
    """A mechanism made by hand, on its hosts, as a card of one paper; paper that is cut out of hosts is left in."""
    flats = [link.flat for link in mine.chain]
    panels = tuple(panel for flat in flats for panel in flat.panels)
    parts = tuple(Part(name, "X", "ink", box(0, 0, 1, 1), (), (0.0, 0.0))
                  for name in dict.fromkeys(panel.part for panel in panels))
    top = mine.chain[0].mechanism.site
    size = [float(evaluate(top.parameters[name], {})) for name in ("width", "height")]
    gusset = 2 * float(evaluate(top.parameters["strip"], {})) if top.choices["spine"] == "gusset" else 0.0
    stack = float(CALIPER) * 2 * len(panels) / len(parts)
    return Card("drawn", "mm", mine.opens, (size[0], size[1]), 3.0, gusset, (900.0, 900.0),
                (Paper("ink", "#22304a", None, float(CALIPER), False),), {}, (), (), parts, panels,
                tuple(Hinge(seam.left, seam.right, seam.start, seam.end, Stroke.VALLEY) for flat in flats for seam in flat.seams),
                tuple(bond for flat in flats for bond in flat.bonds),
                tuple(crossing for flat in flats for crossing in flat.crossings), (),
                {name: float(value) for name, value in HABIT.items()}, stack, (), (), mine.placements, lambda angles: {})


# ---- the same in FCL


def mesh(outline: BaseGeometry) -> fcl.BVHModel:
    """A flat outline as triangles in the plane z = 0."""
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(outline))
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3].reshape(-1, 2)
    points = np.column_stack([corners, np.zeros(len(corners))])
    model = fcl.BVHModel()
    model.beginModel(len(triangles), len(points))
    model.addSubModel(points, np.arange(len(points)).reshape(-1, 3))
    model.endModel()
    return model


class Meshes:
    """Outlines as FCL objects in a dynamic tree of boxes; triangulated once."""

    def __init__(self, outlines: Sequence[BaseGeometry]) -> None:
        self.models = [mesh(outline) for outline in outlines]
        self.objects = [fcl.CollisionObject(model, fcl.Transform()) for model in self.models]
        self.number = {id(model): index for index, model in enumerate(self.models)}
        self.manager = fcl.DynamicAABBTreeCollisionManager()
        self.manager.registerObjects(self.objects)
        self.manager.setup()

    def move(self, stand: Stand, moment: int) -> None:
        """Place every object as at one of the moments."""
        for index, thing in enumerate(self.objects):
            thing.setTransform(fcl.Transform(np.ascontiguousarray(stand.axes[moment, index].T), stand.origin[moment, index]))
        self.manager.update()

    def contacts(self) -> list[fcl.Contact]:
        """All contacts of all pairs where they are now."""
        data = fcl.CollisionData(request=fcl.CollisionRequest(num_max_contacts=10_000_000, enable_contact=True))
        self.manager.collide(data, fcl.defaultCollisionCallback)
        return data.result.contacts

    def pairs(self) -> set[tuple[int, int]]:
        """Pairs in contact, the lower number first."""
        found = ((self.number[id(contact.o1)], self.number[id(contact.o2)]) for contact in self.contacts())
        return {(min(pair), max(pair)) for pair in found}
