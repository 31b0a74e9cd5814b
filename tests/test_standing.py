"""The open card at rest: moments worked by hand, the closed form of a V-fold's lean, and the rule `rests flat`."""

import json
import math
import random
import re
from pathlib import Path

import cards
import numpy as np
import pytest
import shapely
from click.testing import CliRunner
from shapely.geometry import Polygon

from foldwright.command import main
from foldwright.grammar import Refused, read, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.card import Card, Placement
from foldwright.solver.mechanism import registry
from foldwright.solver.stack import stack_map, stack_words
from foldwright.solver.standing import GRAVITY, Standing, _levers, rest_of, spring, standing, standing_words

PAPERS = "paper ink colour #22304a weight 250 gsm\npaper sand colour #d9c39a caliper 0.25\nmat 900 x 900\n"


def solved(blocks: str, width: float = 100, **words: str) -> Card:
    settings = "".join(f"  {name} {word}\n" for name, word in words.items())
    return solve_design(read_text(f'card "Rest"\n  units mm\ncover {width} x 150\n  paper ink\n{settings}{blocks}{PAPERS}'))


def test_a_plain_page_by_hand() -> None:
    """100 x 150 mm of 250 g/m²: 3.75 g at 50 mm from the spine; 150 mm of crease turned by half a circle."""
    rest = rest_of(solved(""))
    weighs = 3.75e-3 * 9.80665 * 50
    assert rest.right == rest.left == pytest.approx(weighs)
    per_radian = 250e-9 * 9.80665 * 160 * 160 / 2 / math.pi  # N: what a page of 160 mm weighs on a millimetre of crease
    assert spring(160) == pytest.approx(per_radian) == pytest.approx(0.00999, abs=1e-5)
    assert rest.spring == pytest.approx(per_radian * 150 * math.pi)
    assert not rest.flat


@pytest.mark.parametrize(("width", "flat"), [(159.5, False), (160.5, True)])
def test_the_habit_is_the_page_that_just_rests(width: float, flat: bool) -> None:
    assert rest_of(solved("", width)).flat is flat


def test_a_tent_by_hand() -> None:
    """Open flat, a symmetric tent's ridge stands still and each foot turns half as fast as the spine."""
    card = solved("tent pier on spine\n  paper sand\n  at 20\n  width 50\n  spread 25\n  wall 40\n")
    rest, plain = rest_of(card), rest_of(solved(""))
    foot = 50 - 2 * 1  # the tab's crease is inset at both ends
    turned = math.pi - math.acos(25 / 40)  # between a wall and the page beyond its foot; 0 when closed
    expected = spring(160) * 2 * foot * turned / 2
    assert rest.spring - plain.spring == pytest.approx(expected, rel=2e-3)  # slopes are taken over 0.05 degrees
    # caliper 0.25 mm at 1.2 cm³/g is 208 g/m²: a wall of 40 x 50 at 12.5 mm, a tab 8 deep that tapers by 45° at 25 - 4 mm
    wall, tab = 40 * 50 * 12.5, (48 - 8) * 8 * (25 - (8 / 3) * (3 * 48 - 4 * 8) / (2 * 48 - 2 * 8) )
    weight = 0.25 / 1.2 * 1e-6 * 9.80665
    assert rest.right == rest.left
    assert rest.right - plain.right == pytest.approx(weight * (wall + tab), rel=1e-6)


def test_a_vfold_by_hand() -> None:
    """Upright panels turned by a quarter circle; the turn of the spine is shared out along both feet (two vectors)."""
    card = solved("vfold gull on spine\n  paper sand\n  at 60\n  angle 40\n  wing 90\n  foot 50\n  ridge 40\n")
    rest, plain = rest_of(card), rest_of(solved(""))
    axes = np.array([[math.cos(math.radians(40))] * 2, [math.sin(math.radians(40)), -math.sin(math.radians(40))]])
    shares = np.linalg.solve(axes, [1, 0])
    foot = 50 - 1 - 1 / math.sin(math.radians(40))  # the tab's crease is inset at both ends
    expected = spring(160) * foot * math.pi / 2 * shares.sum()
    assert rest.spring - plain.spring == pytest.approx(expected, rel=2e-3)  # slopes are taken over 0.05 degrees


def test_levers_against_sampled_sheets() -> None:
    noise = random.Random(3)
    for _ in range(20):
        outline = Polygon([(0, 0), (noise.uniform(20, 60), 5), (30, noise.uniform(20, 60))]).difference(
            shapely.Point(18, 12).buffer(4))
        axes = np.linalg.qr(np.array([[noise.gauss(0, 1) for _ in range(3)] for _ in range(3)]))[0]
        place = Placement(np.array([0, noise.uniform(-40, 40), 0]), axes[0], axes[1])
        step = 0.25
        u, v = (grid.ravel() for grid in np.meshgrid(np.arange(0, 60, step), np.arange(0, 60, step)))
        inside = shapely.contains_xy(outline, u, v)
        y = place.points(np.column_stack([u, v])[inside])[:, 1]
        expected = [-y[y < 0].sum() * step**2, y[y > 0].sum() * step**2]
        assert _levers(outline, place) == pytest.approx(expected, rel=0.02, abs=50)  # edges of cells of a quarter mm


@pytest.mark.parametrize(("angle", "wing"), [(45, 90), (45, 75), (30, 100), (60, 110)])
def test_the_lean_of_a_vfold(angle: int, wing: int) -> None:
    """On a flat page cos(ridge to crease) = cos(wing) / cos(foot angle): the right spherical triangle of the half V."""
    card = solved(f"vfold gull on spine\n  paper sand\n  at 75\n  angle {angle}\n  wing {wing}\n  foot 40\n  ridge 30\n",
                  150)
    (lean,) = standing(card).leans
    ridge = math.acos(math.cos(math.radians(wing)) / math.cos(math.radians(angle)))
    assert lean.part == "gull"
    assert lean.past == pytest.approx(90 - math.degrees(ridge), abs=1e-6)
    told = " ".join(standing_words(standing(card)))
    assert ("past upright" in told, "short of upright" in told, "stands upright" in told) == (wing < 90, wing > 90, wing == 90)


def test_a_tents_ridge_does_not_lean() -> None:
    assert standing(solved("tent pier on spine\n  paper sand\n  width 50\n")).leans == ()


def test_a_flat_card_seen_from_the_tail() -> None:
    card = solved("tent pier on spine\n  paper sand\n  width 50\n  spread 25\n  wall 40\n")
    found = standing(card)
    assert (found.width, found.depth) == pytest.approx((200, 150))
    assert found.height == pytest.approx(math.sqrt(40**2 - 25**2))
    assert np.linalg.norm(found.reader) == pytest.approx(1)
    assert found.reader[0] < 0 < found.reader[2]  # low along the spine, and above the table
    assert found.faces["cover.right"] == found.faces["cover.left"] == "printed"


def test_an_l_card_seen_along_its_bisector() -> None:
    card = solved("tent pier on spine\n  paper sand\n  width 50\n  spread 25\n  wall 60\n", opens="90")
    found = standing(card)
    placed = card.pose(90)
    table, wall = placed["cover.right"], placed["cover.left"]
    assert (found.width, found.depth, found.height) == pytest.approx((150, 100, 100))
    for page in (table, wall):  # both pages under 45° to the line of sight
        assert abs(np.cross(page.along, page.up) @ found.reader) == pytest.approx(math.cos(math.radians(45)))
    assert found.rest is None
    assert "left page as back wall" in " ".join(standing_words(found))


def test_a_ring_shows_its_outside_in_front_and_its_inside_behind() -> None:
    found = standing(solved("ring tank on spine\n  paper sand\n  at 75\n"))
    assert {name: face for name, face in found.faces.items() if "_flap" not in name} == {
        "cover.right": "printed", "cover.left": "printed", "tank.front_right": "printed", "tank.front_left": "printed",
        "tank.back_right": "back", "tank.back_left": "back"}
    assert "their back: 2, their edge: 2. Backs: " in " ".join(standing_words(found))


def test_a_panel_seen_on_edge() -> None:
    found: Standing = standing(cards.harbour())
    assert found.faces["boat"] == "edge"  # along the spine and upright


RESTS = {
    "plain": "",
    "vfold": "vfold gull on spine\n  paper sand\n  at 75\n",
    "lopsided vfold": "vfold gull on spine\n  paper sand\n  at 75\n  angle 30\n  left_angle 55\n  wing 100\n",
    "tent": "tent pier on spine\n  paper sand\n  at 75\n",
    "lopsided tent": "tent pier on spine\n  paper sand\n  at 20\n  spread 40\n  left_spread 15\n  wall 30\n",
    "tall tent": "tent pier on spine\n  paper sand\n  at 20\n  spread 20\n  wall 80\n",
    "ring": "ring tank on spine\n  paper sand\n  at 75\n",
    "lattice": "ring tank on spine\n  paper sand\n  at 75\nlattice weeds in tank\n  paper sand\n  rise 20\n",
    "lined": "insert page on spine\n  paper sand\nvfold gull on page\n  paper sand\n  at 75\n",
    "on a ridge": "tent pier on spine\n  paper sand\n  at 40\n  width 70\n  spread 30\n  wall 60\n"
                  "vfold lamp on pier.ridge\n  paper sand\n  at 35\n  foot 28\n",
    "on a foot": "tent pier on spine\n  paper sand\n  at 20\n  width 110\n  spread 40\n  wall 60\n"
                 "tent shed on pier.right_foot\n  paper sand\n  at 30\n  width 30\n  spread 15\n  wall 20\n",
}  # fmt: skip


@pytest.mark.parametrize("spine", ["plain", "gusset"])
@pytest.mark.parametrize("blocks", RESTS)
def test_a_card_that_must_rest_flat_does(blocks: str, spine: str) -> None:
    """The rule's widths never promise less spring than the poses show."""
    text = RESTS[blocks]
    if spine == "gusset":
        lining = "" if "insert" in text else "insert page on spine\n  paper sand\n"
        text = lining + text.replace("gull on spine", "gull on page").replace("pier on spine", "pier on page")
        text = text.replace("tank on spine", "tank on page")
    script = (f'card "Rest"\n  units mm\ncover 300 x 150\n  width 120 to 500\n  rests flat\n  spine {spine}\n  paper ink\n'
              f"{text}prefer smallest cover.width\n{PAPERS}")
    card = solve_design(read_text(script))
    rest = rest_of(card)
    assert rest.flat
    (rule,) = [checked for checked in card.rules if checked.rule.name == "cover.rests-flat"]
    promised = 250e-9 * GRAVITY * card.cover[1] * rule.left**2 / 2
    assert rest.spring <= promised * (1 + 1e-6)
    assert rule.slack < 0.5  # the rule sets the width, to the card's step


def test_every_mechanism_tells_of_all_its_creases() -> None:
    tried = []
    for keyword, kind in registry().items():
        if not kind.example:
            continue
        example = re.sub(r"^  opens 90$", "", kind.example, flags=re.MULTILINE)
        example = re.sub(r"^mat .*$", "mat 1900 x 1900", example, flags=re.MULTILINE)
        heavy = r"paper \1 \2 weight 9000 gsm caliper 0.25"
        example = re.sub(r"^paper (\w+) +(colour \S+).*$", heavy, example, flags=re.MULTILINE)
        example = re.sub(r"^cover .*$", "cover 400 x 300\n  rests flat", example, flags=re.MULTILINE)
        try:
            card = solve_design(read_text(example))
        except Refused:
            assert "opens 90" in kind.example, keyword  # one that stands only where a card does not open flat
            continue
        (rule,) = [checked for checked in card.rules if checked.rule.name == "cover.rests-flat"]
        assert rest_of(card).spring <= 9000e-9 * GRAVITY * 300 * rule.left**2 / 2 * (1 + 1e-6), keyword
        tried.append(keyword)
    assert {"cover", "insert", "lattice", "ring", "tent", "vfold"} <= set(tried)


def test_a_window_lightens_its_page() -> None:
    script = ('card "Rest"\n  units mm\ncover 300 x 150\n  width 120 to 500\n  rests flat\n  paper ink\n'
              "{}prefer smallest cover.width\n" + PAPERS)
    hole = "window port on cover.left\n  width 60\n  height 60\n  at 75 x 80\n"
    whole, holed = (solve_design(read_text(script.format(blocks))) for blocks in ("", hole))
    assert whole.cover[0] < holed.cover[0]
    rest = rest_of(holed)
    assert rest.left < rest.right
    assert rest.flat


def test_what_cannot_rest_is_told_in_millimetres_and_degrees() -> None:
    with pytest.raises(Refused) as told:
        solved("", rests="flat")
    assert "has to be 160 mm wide; it is 100 mm wide" in " ".join(problem.wrong() for problem in told.value.problems)
    with pytest.raises(Refused) as told:
        solved("", 200, rests="flat", opens="90")
    assert "only rest flat if it opens to 180°" in " ".join(problem.wrong() for problem in told.value.problems)


def test_check_prints_both_and_gives_them_as_json(tmp_path: Path) -> None:
    path = tmp_path / "rest.card"
    path.write_text(f'card "Rest"\n  units cm\ncover 10 x 15\n  paper ink\ntent pier on spine\n  paper sand\n{PAPERS}', "utf-8")
    printed = CliRunner().invoke(main, ["check", str(path)]).output.splitlines()
    told = [line for line in printed if line.startswith(("Closed: ", "Open: "))]
    card = solve_design(read(path))
    assert told == ["Closed: " + " ".join(stack_words(stack_map(card))), "Open: " + " ".join(standing_words(standing(card)))]
    assert " cm wide" in told[1]
    assert " mm" not in told[0]
    found = json.loads(CliRunner().invoke(main, ["check", str(path), "--json"]).output)
    assert found["closed"]["maximum"] == pytest.approx(found["stack"], abs=1e-6)  # six decimals are written
    assert found["standing"]["rest"]["spring"] > 0
