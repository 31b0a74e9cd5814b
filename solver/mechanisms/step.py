"""The step: cut out of the sheet that it stands on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from math import hypot

from foldwright.solver.building.linkage import SIDES
from foldwright.solver.building.strips import ZERO, Parallelogram
from foldwright.solver.building.tabs import edge_word
from foldwright.solver.card import Note, Panel, Step, Stroke
from foldwright.solver.expression import Expr
from foldwright.solver.flat import HOST, Cut, Flat, Opening, Pose, Seam
from foldwright.solver.geometry import Fold, rectangle
from foldwright.solver.host import Area, Crease, Face, Site
from foldwright.solver.mechanism import Mechanism, taken
from foldwright.solver.model import Kind, Rule
from foldwright.solver.parameter import length

FEET = {"right": "depth", "left": "rise"}
WALLS = {"right": "riser", "left": "tread"}


class CutStep(Mechanism):
    """A step cut out of the sheet itself: two cuts across the crease and three creases, and nothing is glued.

    Seen in an open card of 90 degrees, the right page lying and the left one standing behind it: `depth` is how far
    the step comes forward on the right page, `rise` how high its top lies on the left one. The riser stands on the
    right foot and stays parallel to the left page; the tread runs back from the ridge and stays parallel to the right
    page. The sheet's own crease stops between the two cuts; where depth and rise agree, the ridge lies on the old
    crease and is folded the other way. Closed, the ridge lies at depth plus rise from the crease.

    A step takes the paper of its sheet, and leaves an opening behind it: cut it from an insert if nothing is to show
    through. Its two feet are creases of the same sheet: further steps can be cut there, and whatever stands on a
    crease fits too. On a card that opens 180 a step is allowed; it lies flat in its sheet when the card is fully open.

    Kinematics: parallelogram linkage, each link stays parallel to the opposite one.
    """

    keyword = "step"
    stands_on = ("sheet",)
    parameters = (
        length("at", "where the step begins along the crease", 0, 900, 20),
        length("width", "width of the step along the crease", 8, 400, 40),
        length("depth", "distance of the foot on the right page from the crease", 5, 200, 25),
        length("rise", "distance of the foot on the left page from the crease", 5, 200, 25),
    )
    example = """
card "One step"
  units mm
cover 100 x 150
  opens 90
  paper ink
insert page on spine
  paper sand
step ledge on page
  width 90
  depth 40
  rise  20 to 30
step stair on ledge.left_foot
  at    25
  width 40
  depth 18
  rise  15 to 30
prefer largest stair.rise
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 300 x 300
"""

    def __init__(self, site: Site) -> None:
        super().__init__(site)
        self.strip = Parallelogram(self, WALLS, "at", "width", FEET)

    @classmethod
    def takes_paper(cls, choices: Mapping[str, str]) -> bool:
        """It is cut out of its host's sheet."""
        return False

    def rules(self) -> Iterator[Rule]:
        """Closed fit, and a strip of sheet left round the cuts."""
        host, keep = self.crease, self.habit("slot.strip")
        ends = {"start": self["at"], "end": self["at"] + self["width"]}
        for end, x in ends.items():
            yield from self.inside(f"the {end} of the ridge", end, host.closed, x, self.strip.reach)
        beyond = {"start": ends["start"] - keep, "end": ends["end"] + keep}
        for side in SIDES:
            foot = self.strip.foot(side)
            for end, x in beyond.items():
                for low, high, words in getattr(host, side).limits(x, foot + keep):
                    yield self.rule(f"{side}-strip.{end}.{edge_word(words)}", Kind.PRACTICE, low, "<=", high,
                                    f"the cuts of {self.name} must leave a strip of its sheet at {words}{taken(words)}",
                                    still=(low - keep, high))

    def among(self, others: Sequence[Mechanism]) -> Iterator[Rule]:
        """A step in the cover is of no use under an insert."""
        if self.crease.left.panel == "cover.left" and any(other.keyword == "insert" for other in others):
            yield self.rule("covered", Kind.GEOMETRY, 1, "<=", 0,
                            f"{self.name} is cut out of the cover, and an insert lies over it: cut it out of the insert")

    def notes(self, sizes: Mapping[str, float]) -> Iterator[Note]:
        """A step that lies flat can go either way."""
        if self.crease.flat:
            yield Note(self.name, f"{self.name} lies flat in its sheet when the card is fully open: fold its creases sharply "
                       "before, or it may turn the wrong way; with the card half open it stands {figure} out of the crease",
                       hypot(sizes["depth"], sizes["rise"]))

    def dead_points(self, sizes: Mapping[str, float]) -> Iterator[tuple[float, str]]:
        """Flat in one plane with its sheet."""
        yield 180.0, "lies flat in its sheet"

    def measures(self) -> dict[str, Expr]:
        """Distance of the closed ridge from the step's own crease."""
        return {"reach": self.strip.reach}

    def stretch(self) -> tuple[Expr, Expr]:
        """The step's width, and half of the strip that has to stay between two cuts on either side."""
        half = self.habit("slot.strip") / 2
        return self["at"] - half, self["at"] + self["width"] + half

    def glued(self) -> Iterator[Area]:
        """The paper that the step is cut out of."""
        for side in SIDES:
            yield Area(side, (self["at"], self["at"] + self["width"]), (ZERO, self.strip.foot(side)))

    def creases(self) -> dict[str, Crease]:
        """The ridge (outside) and the outer side of both feet."""
        return self.strip.creases(one_sheet=True)

    def faces(self) -> dict[str, Face]:
        """Riser and tread, v from the foot to the ridge."""
        return self.strip.faces()

    def bends(self) -> Expr:
        """Three creases in place of one."""
        return 2 * self["width"]

    @classmethod
    def thickness(cls, caliper: Fraction, counts: Mapping[str, tuple[int, int]], choices: Mapping[str, str]) -> Fraction:
        """Riser and tread between the pages that they are cut from."""
        return 2 * caliper

    def build(self, sizes: Mapping[str, float]) -> Flat:
        """On the host's sheet: x along the crease, d from the right foot (below 0) over the ridge to the left foot."""
        a, b = sizes["depth"], sizes["rise"]
        x0, x1 = sizes["at"], sizes["at"] + sizes["width"]
        riser, tread = self.own("riser"), self.own("tread")
        flat = Flat()
        flat.panels = [Panel(riser, HOST, rectangle(x0, -a, x1, b - a)), Panel(tread, HOST, rectangle(x0, b - a, x1, b))]
        flat.seams = [Seam(riser, "host.right", (x0, -a), (x1, -a)), Seam(riser, tread, (x0, b - a), (x1, b - a)),
                      Seam(tread, "host.left", (x0, b), (x1, b))]
        flat.openings = [Opening("right", rectangle(x0, 0, x1, a)), Opening("left", rectangle(x0, 0, x1, b))]
        # one line from the right foot to the left one: the sheet's (x, d) runs on below 0 over the crease
        flat.cuts = [Cut("left", ((x, -a), (x, b)), Stroke.CUT) for x in (x0, x1)]
        flat.sides, flat.faces = self.strip.frames(sizes, (x0, -a))
        flat.steps = [Step(self._words(sizes), (HOST,))]
        return flat

    def _words(self, sizes: Mapping[str, float]) -> str:
        """What to do, for the assembly: the step is pushed out before its sheet is folded for good."""
        old = ("which lies on the sheet's own crease" if sizes["depth"] == sizes["rise"]
               else "and leave the sheet's own crease flat between its ends")
        return (f"Cut both ends of {self.name}. Fold its two feet the way the sheet is folded beside it and its ridge the other "
                f"way, {old}. Push {self.name} out from behind whenever the sheet is closed, the first time too. Put no glue on "
                "it, nor on what lies behind it.")

    def pose(self, sizes: Mapping[str, float], host: Fold) -> Pose:
        """The parallelogram, placed by the (x, d) of the host's left side."""
        return self.strip.pose(sizes, host, (sizes["at"], -sizes["depth"]))
