"""The V-fold's panels: flat on the sheet, and standing. Its rules and hosts are in `mechanisms/vfold.py`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np
from shapely.geometry import Polygon

from foldwright.solver.building.linkage import SIDES, Linkage
from foldwright.solver.building.tabs import foot_cut, glue_words
from foldwright.solver.card import Bond, Panel, Placement, Point, Step, Vector
from foldwright.solver.flat import Flat, Frame, Pose, Seam
from foldwright.solver.geometry import Fold, dot, spine_fold, tab_outline, tab_placement, unit
from foldwright.solver.host import Side, Site
from foldwright.solver.mechanism import Mechanism

SWING = np.arange(5.0, 181.0, 5.0)  # openings in degrees at which the play of a foot is looked at


@dataclass(frozen=True)
class Half:
    """One half in the closed form: foot angle and wing (degrees), with sines and cosines."""

    foot: float
    wing: float

    @property
    def sf(self) -> float:
        """Sine of the foot angle."""
        return sin(radians(self.foot))

    @property
    def cf(self) -> float:
        """Cosine of the foot angle."""
        return cos(radians(self.foot))

    @property
    def sw(self) -> float:
        """Sine of the wing."""
        return sin(radians(self.wing))

    @property
    def cw(self) -> float:
        """Cosine of the wing."""
        return cos(radians(self.wing))


class VFoldShape(Mechanism):
    """Panels, tabs and poses of a V-fold; on its own no mechanism."""

    def __init__(self, site: Site) -> None:
        super().__init__(site)
        host = site.crease
        self.astride = host is not None and host.astride
        toward = 1 if site.choices["points"] == "front" else -1
        # astride is the mirror image of the closed form: one formula serves both
        self.run = -toward if self.astride else toward

    def _sign(self, side: str) -> float:
        """Sense of u on a half, so that the printed face is the one that the reader sees."""
        return -1.0 if (side == "left") != self.astride else 1.0

    def halves(self, sizes: Mapping[str, float]) -> dict[str, Half]:
        """Both halves by side."""
        feet = {"left": sizes["left_angle"], "right": sizes["angle"]}
        wings = {"left": sizes["left_wing"], "right": sizes["wing"]}
        return {side: Half(180 - foot if self.astride else foot, wings[side]) for side, foot in feet.items()}

    @staticmethod
    def linkage(halves: Mapping[str, Half]) -> Linkage:
        """The spherical four-bar round the V's point."""
        right = halves["right"]
        return Linkage({side: half.sf for side, half in halves.items()}, {side: half.sw for side, half in halves.items()},
                       sin(radians(right.foot + right.wing)))

    # ---- flat

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """u across the ridge, v along it from the V's point; the printed face looks to the tail of the crease."""
        low, high = sizes["ridge_from"], sizes["ridge"]
        flat = Flat(papers={self.name: self.site.paper})
        for side, half in self.halves(sizes).items():
            sign = self._sign(side)
            edge = (sign * half.sw, half.cw)
            start, end = ((s * edge[0], s * edge[1]) for s in (sizes["foot_from"], sizes["foot"]))
            # a ridge from the V's point leaves nothing to cut off, wherever the tab begins
            corners = [(0, low), (0, high), end, start] if low else [(0, 0), (0, high), end]
            flat.panels.append(Panel(self.own(side), self.name, Polygon(corners)))
            self._foot(flat, sizes, side, half, edge)
            flat.faces[side] = Frame(self.own(side), (0, 0), (sign, 0), (0, 1))
        flat.seams.insert(0, Seam(self.own("right"), self.own("left"), (0, low), (0, high)))
        self._sides(flat, sizes)
        flat.steps = [Step(f"Fold {self.name} along its ridge and feet; {glue_words(self)}.", (self.name,))]
        return flat

    def _foot(self, flat: Flat, sizes: Mapping[str, float], side: str, half: Half, edge: Point) -> None:
        inset, depth = float(self.habit("tab.inset")), float(self.habit("tab.depth"))
        taper = float(self.habit("tab.taper"))
        outward = self.site.choices["tabs"] == "outward"
        near = min(taper, 180 - half.foot if outward else half.foot)  # or the tab would cross the crease
        first, last = max(inset / half.sf, sizes["foot_from"] + inset), sizes["foot"] - inset
        start, end = ((s * edge[0], s * edge[1]) for s in (first, last))
        away = (half.cw * self._sign(side), -half.sw)
        tab, name = tab_outline(start, end, away, depth, (near, taper)), self.own(f"{side}_tab")
        flat.panels.append(Panel(name, self.name, tab, tab=True))
        flat.seams.append(Seam(self.own(side), name, start, end))
        host: Side = getattr(self.crease, side)
        flat.bonds.append(Bond(name, host.panel))
        line = tuple((sizes["at"] + self.run * s * half.cf, s * half.sf) for s in (first, last))
        flat.cuts.append(foot_cut(self, side, (line[0], line[1]), name))

    def _sides(self, flat: Flat, sizes: Mapping[str, float]) -> None:
        halves = self.halves(sizes)
        first, second = ("right", "left") if self.run > 0 else ("left", "right")
        for side, name in (("left", first), ("right", second)):
            for crease in ("ridge", "inside"):
                flat.sides[crease, side] = Frame(self.own(name), (0, 0), (0, 1), (self._sign(name), 0))
        for name, half in halves.items():
            out = self._sign(name)
            panel = Frame(self.own(name), (0, 0), (out * half.sw, half.cw), (-out * half.cw, half.sw))
            page = Frame(f"host.{name}", (sizes["at"], 0), (self.run * half.cf, half.sf), (-self.run * half.sf, half.cf))
            swap = (name == "left") != (self.run > 0)
            flat.sides[f"{name}_foot", "left"] = panel if swap else page
            flat.sides[f"{name}_foot", "right"] = page if swap else panel

    # ---- standing

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """Spherical four-bar in half-angle form (no 0/0 from closed to open)."""
        halves = self.halves(sizes)
        linkage = self.linkage(halves)
        point = host.origin + sizes["at"] * host.x
        pose = Pose()
        feet, beyond, edges = {}, {}, {}
        for side, page, normal in (("left", host.left, host.left_normal), ("right", host.right, host.right_normal)):
            half, turn = halves[side], linkage.turn(side, host)
            feet[side] = self.run * half.cf * host.x + half.sf * page
            beyond[side] = -self.run * half.sf * host.x + half.cf * page
            axis = np.cos(turn / 2) * beyond[side] + np.sin(turn / 2) * normal
            pose.folds[f"{side}_foot"] = Fold(point, feet[side], axis, np.degrees(turn))
            if side == "left":
                rise = np.cos(turn) * beyond[side] + np.sin(turn) * normal
                ridge = unit(half.cw * feet[side] + half.sw * rise)
        for side, half in halves.items():
            edges[side] = unit(feet[side] - dot(feet[side], ridge) * ridge)
            pose.placements[self.own(side)] = Placement(point, self._sign(side) * edges[side], ridge)
            self._pose_tab(pose, side, half, point, feet[side], beyond[side])
        inside = Fold(point, ridge, unit(edges["left"] + edges["right"]), np.degrees(linkage.ridge(host)))
        pose.folds = {"ridge": inside, **pose.folds, "inside": inside}
        return pose

    def _pose_tab(self, pose: Pose, side: str, half: Half, point: Vector, foot: Vector, beyond: Vector) -> None:
        edge = (half.sw * self._sign(side), half.cw)
        away = (half.cw * self._sign(side), -half.sw)
        out = beyond if self.site.choices["tabs"] == "outward" else -beyond
        pose.placements[self.own(f"{side}_tab")] = tab_placement(point, foot, (0.0, 0.0), edge, away, out)

    # ---- what paper does

    def play(self, sizes: Mapping[str, float], opens: float) -> float:
        """How far the ridge is forced apart, in mm, where one foot's line meets the crease 1 mm from the other's point.

        The foot is moved along the crease by 1 mm; both panels turn about their feet so that the ends of the ridge come
        as near to each other as they can (least squares, to first order). The largest gap over the swing up to `opens`.
        """
        pose = self.pose(sizes, spine_fold(SWING[opens >= SWING]))
        ridge = pose.folds["ridge"].x
        feet = {side: pose.folds[f"{side}_foot"].x for side in SIDES}
        ends = (sizes["ridge_from"], sizes["ridge"])
        worst = 0.0
        for number in range(len(ridge)):
            # velocities of the ridge's ends as each panel turns about its foot, and the shift that they have to make up
            columns = [np.concatenate([end * np.cross(feet[side][number], ridge[number]) for end in ends]) for side in SIDES]
            matrix = np.column_stack([columns[0], -columns[1]])
            shift = np.tile([1.0, 0.0, 0.0], 2)
            found = np.linalg.lstsq(matrix, -shift, rcond=None)[0]
            gaps = (matrix @ found + shift).reshape(2, 3)
            worst = max(worst, float(np.linalg.norm(gaps, axis=1).max()))
        return worst
