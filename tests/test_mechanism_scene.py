"""Scenes: what is refused in plain words, what is left free, what hangs, measures, and where tabs and marks lie.

Outside: mobility counted by the rank of the equations of rigid panels (rigid.py), no formula of a scene in it.
"""

from __future__ import annotations

import numpy as np
import pytest
from assembled import AGREE, SOLVED, Bench, Join
from by_hand import Seeded, Stand, at, broken, valid_sets
from drawn import bench_of, kits
from drawn.scene import draw_scene, glue
from scripts import sentences

from foldwright.grammar import read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.card import Card, Stroke
from foldwright.solver.proof import prove

INK = "  paper ink\nmat 300 x 300\npaper ink colour #22304a weight 216 gsm\npaper sand colour #d9c39a caliper 0.25\n"
FLAT = 'card "Harbour"\n  units mm\ncover 120 x 160\n' + INK + "scene quay on spine\n  paper sand\n"
CORNER = FLAT.replace("cover 120 x 160\n", "cover 120 x 160\n  opens 90\n") + "  parallel page\n"
NULL = 1e-9  # singular values of a free motion are rounding (1e-16), those of a held one at these openings 1e-3 or more
HELD = 1e-4


def solved(script: str) -> Card:
    card = solve_design(read_text(script))
    prove(card)
    return card


@pytest.mark.parametrize(("script", "said"), [
    (FLAT + "  feet no\n",
     "needs two holds, a foot and a strip or two strips one above the other: one strip alone lets it swing"),
    (FLAT + "  spacing 20\n  strip_width 21\n", "the strips are 21 mm wide, the planes 20 mm apart"),
    (CORNER + "  spacing 20 to 24\n  strip_width 25\n", "must be exactly as wide as its planes are apart"),
    (FLAT + "  parallel page\n", "they lie down where it opens beyond 90°: take `parallel centre`, or a card that `opens 90`"),
    (FLAT + "  planes 4\n  spacing 25\n  drop 5\n  height 50\n", "(the farther out a plane stands, the lower it must be)"),
    (FLAT + "  strips 2\n  level 20\n  lower_level 15\n", "two strips at one level would let the planes swing"),
    (FLAT + "  level 8\n", "have tabs below their upper ends: they need 10 mm above the page, and lie at 8 mm"),
    (FLAT + "  height 40\n  drop 15\n  level 12\n",
     "the strip behind plane 2 of quay with its tab needs 21 mm of plain plane; there is 10 mm"),
    (FLAT + "  spacing 12\n", "the foot tabs of the centre wall and of the first plane of quay need 17 mm beside each other"),
])
def test_what_cannot_hold_is_told(script, said):
    assert any(said in text for text in sentences(script)), sentences(script)


@pytest.mark.parametrize("planes", ["1", "2", "3", "4"])
@pytest.mark.parametrize("script", [FLAT, FLAT + "  side left\n", FLAT + "  feet no\n  strips 2\n", CORNER,
                                    CORNER + "  side left\n  strips 2\n", CORNER + "  feet no\n  strips 2\n"])
def test_any_number_of_planes_stands_on_either_side(script, planes):
    card = solved(script + f"  planes {planes}\n  drop 4\n  spacing 18\n")
    assert len([part for part in card.parts if part.name.startswith("quay.plane")]) == int(planes)


# ---- free motions

def free_motions(mine: Stand, openings: tuple[float, ...], join: Join = glue) -> int:
    """Free motions of the rigid panels while the pages are held; nothing but glue and creases holds the planes here."""
    upright = bench_of(mine).follow(1, openings)[-1]
    bench = Bench(mine, {mine.name: kits()["scene"].guess(mine)}, {mine.name: join})
    bench.assembly.guesses = {name: upright.points[name] for name in bench.assembly.guesses}
    bench.assembly.lengths *= 2  # said twice: the solver wants as many equations as unknowns, the rank stays what it is
    found = next(iter(bench.assembly.track(openings[-1:])))
    assert found.residual < SOLVED
    values = np.linalg.svd(found.slopes, compute_uv=False)
    assert not ((values >= NULL) & (values < HELD)).any(), "neither free nor held"
    return int((values < NULL).sum()) + found.slopes.shape[1] - len(values)


@pytest.mark.parametrize(("parallel", "feet"), [("centre", "yes"), ("centre", "no"), ("page", "yes"), ("page", "no")])
def test_free_motions_are_as_many_as_the_notes_say(parallel, feet):
    """One for a centre wall, one for every hung plane; a scene that stands beside a page has none."""
    openings = (165.0, 150.0, 135.0, 120.0) if parallel == "centre" else (85.0, 75.0, 65.0)
    looked = 0
    for seed in range(40):
        mine = draw_scene(Seeded(seed), "quay", parallel, feet)
        if broken(mine):
            continue
        free = (parallel == "centre") + (feet == "no") * int(mine.mechanism.site.choices["planes"])
        assert free_motions(mine, openings) == free, f"seed {seed}"
        said = [note.figure for note in mine.mechanism.notes(mine.sizes) if note.dimension == "plain"]
        assert said == ([free] if free else [])
        looked += 1
    assert looked > 10


def test_one_strip_alone_lets_a_plane_swing():
    """Two holds are broken on purpose: the foot is taken away from a plane that has one strip, and it turns about that."""
    mine = next(mine for _, mine in valid_sets("scene beside a page", 40)
                if mine.mechanism.site.choices["feet"] == "yes" and mine.mechanism.site.choices["strips"] == "1"
                and mine.mechanism.site.choices["planes"] == "1")
    assert free_motions(mine, (85.0, 75.0)) == 0

    def footless(bench: Bench, link: Stand) -> None:
        glue(bench, link)
        for name in list(bench.assembly.known):
            if ".plane1(" in name:
                where = bench.assembly.known.pop(name)
                bench.assembly.free(name, where(75.0))

    assert free_motions(mine, (85.0, 75.0), footless) == 2  # about its strip, and the strip about the page


def test_planes_that_hang_before_a_centre_wall_agree_with_rigid_panels():
    looked = 0
    for seed in range(30):
        mine = draw_scene(Seeded(seed), "quay", "centre", "no")
        if broken(mine):
            continue
        bench = bench_of(mine)
        for found in bench.follow(seed):
            assert found.residual < SOLVED
            assert bench.deviation(found) < AGREE
        looked += 1
    assert looked > 8


def test_notes_tell_the_play_of_the_folds():
    """Tab 8 deep, caliper 0.25: a fold turns by 1/32."""
    mine = next(mine for mine in (draw_scene(Seeded(seed), "quay", "centre", "no") for seed in range(40)) if not broken(mine))
    reach = int(mine.mechanism.site.choices["planes"]) * mine.sizes["spacing"]
    _, sways, sinks = mine.mechanism.notes(mine.sizes)
    assert sways.figure == mine.sizes["height"] / 32
    assert sinks.figure == reach / 32
    exact = next(mine for _, mine in valid_sets("scene beside a page", 9) if mine.mechanism.site.choices["feet"] == "yes")
    assert not list(exact.mechanism.notes(exact.sizes))


# ---- where things lie

@pytest.mark.parametrize("kind", ["scene", "scene beside a page"])
def test_planes_keep_parallel_and_apart(kind):
    """At every opening a plane is the one behind it, moved along the page by the spacing."""
    for _, mine in valid_sets(kind, 30):
        for opening in (mine.opens, 0.6 * mine.opens, 11.0):
            fold, placed, s = mine.fold(opening), mine.pose(opening).placements, mine.sizes
            page = fold.left if mine.mechanism.site.choices["side"] == "left" else fold.right
            names = [mine.mechanism.plane(number) for number in mine.mechanism.numbers]
            for behind, before in zip(names, names[1:], strict=False):
                assert np.allclose(placed[before].origin - placed[behind].origin, s["spacing"] * page, rtol=0, atol=1e-9)
                assert np.allclose(placed[before].up, placed[behind].up, rtol=0, atol=1e-12)
            outward = np.cross(placed[names[-1]].along, placed[names[-1]].up)
            assert outward @ page > 0, "the printed face looks away from the crease"


@pytest.mark.parametrize("kind", ["scene", "scene beside a page"])
def test_foot_tabs_lie_on_the_side_that_is_written(kind):
    turned = set()
    for _, mine in valid_sets(kind, 40):
        words = mine.mechanism.site.choices
        for name in [n for n in mine.flat.papers if ".plane" in n] if words["feet"] == "yes" else ():
            tab = next(panel for panel in mine.flat.panels if panel.name == f"{name}_tab")
            points = mine.pose(90.0).placements[tab.name].points(np.asarray(tab.outline.exterior.coords))
            fold = mine.fold(90.0)
            away = points @ (fold.left if words["side"] == "left" else fold.right)[0 if fold.left.ndim > 1 else slice(None)]
            foot = int(name[-1]) * mine.sizes["spacing"]
            low, high = (foot - 8, foot) if words["tabs"] == "inward" else (foot, foot + 8)
            assert (away.min(), away.max()) == pytest.approx((low, high), abs=1e-9)
            turned.add(words["tabs"])
    assert turned == {"inward", "outward"}


def test_marks_on_planes_are_where_strips_are_glued():
    for _, mine in valid_sets("scene", 20):
        placed = mine.pose(120.0).placements
        for number in range(1, int(mine.mechanism.site.choices["planes"]) + 1):
            behind = mine.mechanism.plane(number - 1)
            strip = placed[mine.mechanism.own(f"strip{number}")]
            mark = next(line for line in mine.flat.lines[behind] if line.points[0][1] == mine.sizes["level"])
            ends = sorted(at(placed[behind], point)[0] for point in mark.points)
            inset = [at(strip, (u, 0.0)) for u in (1.0, mine.sizes["strip_length"] - 1.0)]
            assert ends == pytest.approx(sorted(point[0] for point in inset), abs=1e-9)
            assert at(placed[behind], mark.points[0])[1:] == pytest.approx(inset[0][1:], abs=1e-9)
            assert mark.stroke is Stroke.MARK


def test_measures_are_those_of_the_open_and_closed_card():
    for kind in ("scene", "scene beside a page"):
        for _, mine in valid_sets(kind, 20):
            said = {name: mine.value(expression) for name, expression in mine.mechanism.measures().items()}
            planes = [panel for panel in mine.flat.panels if not panel.tab and ("plane" in panel.name or "centre" in panel.name)]
            closed = [mine.pose(0.0).placements[p.name].points(np.asarray(p.outline.exterior.coords)) for p in planes]
            assert said["reach"] == pytest.approx(max(points[:, 2].max() for points in closed), abs=1e-9)
            far = mine.pose(60.0).placements[mine.mechanism.plane(int(mine.mechanism.site.choices["planes"]))].origin[1:]
            assert said["depth"] == pytest.approx(np.linalg.norm(far), abs=1e-9)


def test_artwork_stands_on_every_plane(tmp_path):
    (tmp_path / "hill.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 90 9"><path d="M0 9 V4 L45 0 L90 4 V9 Z"/></svg>')
    (tmp_path / "quay.card").write_text(FLAT + '  art "hill.svg" along top\n  width 90\n  height 50\n  drop 7\n')
    from foldwright.grammar import read

    card = solve_design(read(tmp_path / "quay.card"))
    prove(card)
    for name, tall in (("centre", 50), ("plane1", 43), ("plane2", 36)):
        top = next(part for part in card.parts if part.name == f"quay.{name}").outline.bounds[3]
        assert top == pytest.approx(tall, abs=0.01)  # the artwork's height is rounded up by less than a hundredth
