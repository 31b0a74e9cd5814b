"""Variants: read, found again from the same script (never scaled), shown side by side, written."""

from __future__ import annotations

import json
import re
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import shapely
from click.testing import CliRunner
from scripts import SHORE
from shapely.geometry import LineString

from foldwright.api import build_variants, check
from foldwright.asked import Asked, AskedWrong
from foldwright.command import main
from foldwright.emit import Wanted
from foldwright.grammar import Refused, read, read_text
from foldwright.grammar.variant import read_change
from foldwright.solver.bind import bind
from foldwright.solver.variants import varied
from foldwright.tried import WRITTEN, try_all
from foldwright.variant_text import as_script

ROOT = Path(__file__).parent.parent
FERNS = ROOT / "examples" / "fern-house.card"
PRACTICE = ROOT / "docs" / "practice.md"

CARD = SHORE.replace("20 to 60", "20 to 200   # as tall as it will go")


def variant(lines, card=CARD):
    """The card as its one variant with these lines."""
    design = read_text(card + "variant small\n" + "".join(f"  {line}\n" for line in lines.splitlines()))
    return varied(design, design.variants[0])


def problems(script):
    with pytest.raises(Refused) as refused:
        bind(read_text(script))
    return [(problem.code, problem.at.text) for problem in refused.value.problems]


def run(*call):
    return CliRunner().invoke(main, list(map(str, call)))


# ---- reading


def test_every_line_takes_the_place_of_its_own():
    design = variant('cover 4 in x 6 in\nmat 200 x 300\nstep 1\npaper sand weight 300 gsm\npractice tab.depth 6 because "small"\n'
                     "quay.wall 40 to 50\ncover.clear 2\nquay.at 30")
    cover, quay = design.blocks
    assert (cover.size.width.value, cover.size.width.unit) == (4, "in")
    assert [line.at.text for line in cover.settings] == ["cover.clear 2", "paper ink"]
    assert [line.word.text for line in quay.settings] == ["paper", "width", "spread", "wall", "at"]
    assert (design.mats[0].width, design.mats[0].height, len(design.mats), design.step) == (200, 300, 1, 1)
    assert [paper.name.text for paper in design.papers] == ["ink", "sand"], "papers keep their order: it gives their letters"
    assert (design.papers[1].gsm, design.papers[1].caliper) == (300, None), "another sheet has another caliper"
    assert design.papers[1].colour == "#d8c49a"
    assert design.practices[0].because == "small"
    assert (design.title, design.variant, design.variants) == ("Quay (small)", "small", ())


def test_a_paper_of_another_colour_is_the_same_sheet():
    paper = variant("paper sand colour #ffffff").papers[1]
    assert (paper.colour, paper.gsm, paper.caliper) == ("#ffffff", None, Fraction(1, 4))


@pytest.mark.parametrize(
    ("line", "code", "underlined"),
    [
        ("opens 90", "unknown-setting", "opens"),
        ("creases punched", "unknown-choice", "punched"),
        ("kerf 2", "out-of-bounds", "2"),
        ("creases perforated\n  creases ticked", "setting-twice", "creases"),
        ("wall 40", "unknown-setting", "wall"),
        ("kay.wall 40", "unknown-name", "kay.wall"),
        ("quay.wal 40", "unknown-setting", "wal"),
        ("quay.wall", "value-missing", "quay.wall"),
        ("cover 100", "value-wrong", "100"),
        ("cover 100 x quay.wall", "value-wrong", "quay.wall"),
        ("cover 0 x 100", "not-positive", "0"),
        ("cover", "value-missing", "cover"),
        ("cover 100 x 100 130", "value-surplus", "130"),
        ("mat 100 gsm x 3", "unit-wrong", "100 gsm"),
        ("mat 100 x 100 or 200 x 200", "choice-not-here", "mat 100 x 100 or 200 x 200"),
        ("step 0", "not-positive", "0"),
        ("paper sad caliper 0.3", "unknown-name", "sad"),
        ("paper sand", "value-missing", "paper sand"),
        ("paper sand caliper 11 pt", "unit-wrong", "11 pt"),
        ("paper sand colour blue", "bad-colour", "blue"),
        ("practice tab.depth 6", "reason-missing", "tab.depth"),
        ('practice tab.dept 6 because "small"', "unknown-practice", "tab.dept"),
        ('quay.wall 40 because "small"', "syntax-error", "because"),
        ("cover 100 x 100\n  cover 90 x 90", "setting-twice", "cover"),
        ("quay.wall 30\n  quay.wall 40", "setting-twice", "quay.wall"),
        ("mat 100 x", "syntax-error", ""),
    ],
)
def test_a_wrong_line_is_told_with_its_place_whether_the_variant_is_asked_for_or_not(line, code, underlined):
    assert problems(f"{CARD}variant small\n  {line}\n") == [(code, underlined)]


def test_a_value_that_makes_no_sense_is_told_when_the_variant_is_asked_for():
    with pytest.raises(Refused) as refused:
        bind(variant("quay.wall 50 to 40"))
    assert [(problem.code, problem.at.text) for problem in refused.value.problems] == [("range-upside-down", "50 to 40")]


@pytest.mark.parametrize(("block", "code"), [("variant\n  mat 3 x 4\n", "value-missing"), ("variant small\n", "value-missing"),
                                             ("variant a\n  step 1\nvariant a\n  step 2\n", "name-twice")])
def test_a_variant_has_a_name_of_its_own_and_lines(block, code):
    assert [found for found, _ in problems(CARD + block)] == [code]


def test_a_misspelt_line_is_answered_with_the_nearest_one():
    with pytest.raises(Refused) as refused:
        read_text(CARD + "variant small\n  opens 90\n  quai.wall 30\n")
    hints = [problem.hints()[0] for problem in refused.value.problems]
    assert hints == ["did you mean one of `cover.opens`, `joints`?",
                     "did you mean one of `quay.wall`, `quay.width`, `quay.paper`?"]


# ---- found again


@pytest.mark.parametrize(("width", "clear"), [(100, 3), (80, 3), (120.5, 2), (77.7, 4)])
def test_the_wall_of_a_tent_is_what_the_page_leaves_it(width, clear):
    # Parallel fold, closed: the ridge lies its foot and its wall from the spine (plain plane geometry, no source needed).
    card = check(variant(f"cover {width} x 150\ncover.clear {clear}"), seconds=20).card
    wall, spread = (float(card.dimensions[f"quay.{name}"][0]) for name in ("wall", "spread"))
    assert spread == 20
    assert wall == np.floor(2 * (width - clear - 20) + 1e-9) / 2, "the largest wall on the grid of half millimetres"


def test_what_is_written_again_changes_nothing():
    same = variant("cover 100 x 150\nmat 11.5 in x 11.5 in\npaper sand caliper 0.25\nquay.wall 20 to 200\ncover.clear 3")
    assert check(same, seconds=20).card.dimensions == check(read_text(CARD), seconds=20).card.dimensions


def by_hand(text, changes):
    """The script with some of its lines written otherwise, by plain replacement."""
    for old, new in changes.items():
        assert text.count(old) == 1
        text = text.replace(old, new)
    return text


def test_a_variant_is_the_card_that_one_would_write_by_hand():
    text = FERNS.read_text("utf-8").split("variant small")[0]
    small = read_text(by_hand(text, {"cover 130 x 190": "cover 96 x 144", "mat 11.5 in x 11.5 in": "mat 8.5 in x 12 in"}))
    stout = read_text(by_hand(text, {"paper pane   colour #b9d6cf  caliper 0.25": "paper pane   colour #b9d6cf  caliper 0.4",
                                     "paper fern   colour #5f8a3c  caliper 0.25": "paper fern   colour #5f8a3c  caliper 0.45"}))
    tries = {tried.name: tried for tried in try_all(FERNS, seconds=30)}
    for name, written in (("small", small), ("stout", stout)):
        assert tries[name].checked.card.dimensions == check(written, seconds=30).card.dimensions
        assert tries[name].checked.proof.looked_at["closed pose"] > 0


def slot_width(card, crossing):
    """Width of a slot, measured: the gap that the outline of the first layer has beside its middle, below the other's slots."""
    panels = {panel.name: panel.outline for panel in card.panels}
    outline = panels[crossing.first]
    u0, v0, u1, v1 = outline.bounds
    gaps = []
    for v in (v0 + 0.25 * (v1 - v0), v0 + 0.75 * (v1 - v0)):  # slots come from above in one family, from below in the other
        cut = outline.intersection(LineString([(u0 - 1, v), (u1 + 1, v)]))
        runs = sorted((piece.bounds[0], piece.bounds[2]) for piece in getattr(cut, "geoms", [cut]))
        gaps += [after[0] - before[1] for before, after in zip(runs, runs[1:], strict=False)]
    return min(gaps)


def clearance():
    """Slot width beyond the caliper, as the page of habits has it."""
    row = next(line for line in PRACTICE.read_text("utf-8").splitlines() if "slot.clearance" in line)
    return float(re.search(r"([0-9.]+) mm", row).group(1))


def tabs(card):
    """Mean length of every glue tab, measured: its area over its depth."""
    panels = {panel.name: panel for panel in card.panels}
    whole = {bond.panel for bond in card.bonds if bond.whole}
    for hinge in card.hinges:
        panel = panels[hinge.right]
        if panel.tab and panel.name in whole:
            edge = LineString([hinge.start, hinge.end])
            depth = max(edge.distance(shapely.Point(point)) for point in panel.outline.exterior.coords)
            yield depth, panel.outline.area / depth


def test_slots_follow_the_caliper_tabs_their_minimum_and_nothing_is_scaled():
    tries = {tried.name: tried for tried in try_all(FERNS, seconds=30)}
    cards = {name: tried.checked.card for name, tried in tries.items()}
    for name, caliper in ((WRITTEN, 0.25), ("small", 0.25), ("stout", 0.45)):
        widths = [slot_width(cards[name], crossing) for crossing in cards[name].crossings]
        assert len(widths) == 4
        assert widths == pytest.approx([caliper + clearance()] * 4, abs=1e-6)
        # 1 to 2 calipers, so that flaps give way and layers do not rattle: common practice, no source
        assert 1 <= widths[0] / caliper <= 2
        measured = list(tabs(cards[name]))
        assert min(length for _, length in measured) >= 10 - 1e-6, "the habit tab.length"
        assert {round(depth, 6) for depth, _ in measured} == {8, 12}, "the habits tab.depth and, for the bed, insert.glue"
    small, written = cards["small"].dimensions, cards[WRITTEN].dimensions
    shrink = 96 / 130
    shares = {name: float(small[name][0] / written[name][0]) for name in ("ferns.rise", "house.wall", "house.height")}
    assert not any(share == pytest.approx(shrink, abs=0.01) for share in shares.values()), shares
    ratio = slot_width(cards["small"], cards["small"].crossings[0]) / slot_width(cards[WRITTEN], cards[WRITTEN].crossings[0])
    assert ratio == pytest.approx(1)


# ---- on the command line


@pytest.mark.parametrize(
    ("written", "width", "height"),
    [("100x150", 100, 150), ("100 x 150", 100, 150), ("100×150", 100, 150), ("4 in x 6 in", 101.6, 152.4),
     ("4in x 6in", 101.6, 152.4)],
)
def test_a_cover_is_read_like_in_a_script(written, width, height, tmp_path):
    path = tmp_path / "quay.card"
    path.write_text(CARD, "utf-8")
    found = run("find", path, "--cover", written, "--json")
    dimensions = json.loads(found.output)["dimensions"]
    assert (dimensions["cover.width"]["value"], dimensions["cover.height"]["value"]) == (width, height)


@pytest.mark.parametrize(
    ("options", "shown"),
    [
        (["--cover", "100x"], "--cover:1:11"),
        (["--cover", "wide"], "--cover:1:7"),
        (["--mat", "300"], "--mat:1:5"),
        (["--mat", "-3 x 4"], "--mat:1:5"),
        (["--paper", "sad caliper 0.3"], "--paper:1:7"),
        (["--paper", "sand calper 0.3"], "--paper:1:12"),
        (["--paper", "sand caliper 0.3\nmat 1 x 1"], "--paper:1:24"),
        (["--paper", ""], "--paper:1:1"),
        (["--variant", "smal"], "no variant called `smal`"),
    ],
)
@pytest.mark.parametrize("command", ["find", "check", "swing", "build"])
def test_a_wrong_call_is_told_with_what_was_written(command, options, shown, tmp_path):
    path = tmp_path / "quay.card"
    path.write_text(CARD + "variant small\n  cover 90 x 150\n", "utf-8")
    out = ["--out", tmp_path / "out"] if command == "build" else []
    result = run(command, path, *out, *options)
    assert result.exit_code == 2
    assert shown in result.output
    assert "Traceback" not in result.output
    assert not (tmp_path / "out").exists()


def test_a_script_with_faults_is_still_the_scripts_fault(tmp_path):
    path = tmp_path / "quay.card"
    path.write_text(CARD + "cover 3 x 4\n", "utf-8")
    assert run("find", path, "--cover", "100x150").exit_code == 1


@pytest.mark.parametrize("command", ["find", "check", "swing"])
def test_a_variant_can_be_asked_for(command, tmp_path):
    path = tmp_path / "quay.card"
    path.write_text(CARD + "variant small\n  cover 80 x 120\n", "utf-8")
    result = run(command, path, "--variant", "small")
    assert result.exit_code == 0
    assert "(small)" in result.output


def test_what_the_call_changes_comes_behind_the_variant():
    design = Asked(variant="small", mats=("9 in x 9 in",), papers=("fern caliper 0.3", "pane caliper 0.3")).design(FERNS)
    assert design.title == "Fern house (small, given)"
    assert design.blocks[0].size.at.text == "96 x 144"
    assert design.mats[0].width == Fraction(9) * Fraction(254, 10)
    assert {paper.name.text: paper.caliper for paper in design.papers if paper.caliper} == {"fern": Fraction(3, 10),
                                                                                           "pane": Fraction(3, 10)}


def test_a_change_knows_the_card():
    change, faults = read_change("cover.opens 90", "--cover", read_text(CARD))
    assert not faults
    assert [(owner, line.word.text) for owner, line in change.settings] == [("cover", "opens")]
    with pytest.raises(AskedWrong):
        Asked(papers=("weed caliper 0.3",)).design(FERNS)


# ---- side by side


def test_the_table_has_a_column_for_each_and_rows_of_what_differs():
    result = run("find", FERNS, "--variants")
    assert result.exit_code == 0
    rows = {re.split(r"\s{2,}", line)[0]: re.split(r"\s{2,}", line)[1:] for line in result.output.splitlines() if "  " in line}
    assert re.split(r"\s{2,}", result.output.splitlines()[1].strip()) == ["as written", "small", "stout"]
    assert rows["slots of ferns"] == ["0.4 mm", "0.4 mm", "0.6 mm"]
    assert rows["house.at"] == ["95 mm", "72 mm", "95 mm"]
    assert "house.wall" not in rows, "the same in all of them"
    assert "small: cover 96 x 144, mat 8.5 in x 12 in" in result.output
    assert "slots of ferns: 0.4 mm -> 0.6 mm wide" in result.output


def test_a_variant_that_cannot_be_made_says_why_and_the_others_are_shown(tmp_path):
    path = tmp_path / "quay.card"
    path.write_text(CARD + "variant small\n  cover 90 x 150\nvariant flat\n  quay.wall 190 to 200\n", "utf-8")
    result = run("find", path, "--variants")
    assert result.exit_code == 1
    assert "cannot be made, see below: flat" in result.output
    assert "77 mm" in result.output
    assert "67 mm" in result.output
    assert "flat cannot be made:" in result.output
    assert "quay.wall 190 to 200" in result.output
    listed = json.loads(run("find", path, "--variants", "--json").output)
    assert (listed["holds"], [each["holds"] for each in listed["variants"]]) == (False, [True, True, False])
    assert listed["variants"][2]["problems"][0]["code"] == "cannot-hold"
    assert listed["variants"][1]["dimensions"]["quay.wall"]["value"] == 67


def test_the_card_itself_may_be_the_one_that_cannot_be_made(tmp_path):
    path = tmp_path / "quay.card"
    path.write_text(CARD.replace("wall   20 to 200", "wall   90 to 200") + "variant large\n  cover 130 x 150\n", "utf-8")
    result = run("find", path, "--variants")
    assert result.exit_code == 1
    assert "as written cannot be made:" in result.output
    assert "can be made, unlike the card as written" in result.output


def test_what_the_call_changes_is_one_more_column():
    result = run("find", FERNS, "--variants", "--paper", "fern caliper 0.3")
    assert re.split(r"\s{2,}", result.output.splitlines()[1].strip()) == ["as written", "small", "stout", "given"]
    assert run("find", FERNS, "--variants", "--variant", "small").exit_code == 2


def test_what_a_variant_has_no_room_for_is_left_out_and_told(tmp_path):
    path = tmp_path / "quay.card"
    path.write_text(CARD.replace("tent quay on spine\n", "tent quay on spine\n  at 20 to 30\n") + """optional tent pier on spine
  paper  sand
  at     95
  width  40
  spread 20
  wall   30 to 50
variant small
  cover 100 x 120
""", "utf-8")
    told = run("find", path, "--variants").output
    assert re.search(r"^pier +there +left out$", told, re.MULTILINE)
    assert "no longer there: pier\n" in told
    assert "parts: 3 -> 2" in told


# ---- written


def test_a_variant_is_written_as_a_script_of_its_own(tmp_path):
    design = read(FERNS)
    for chosen in design.variants:
        script = as_script(design, chosen)
        assert "variant" not in script.source.text.replace(design.title, "")
        assert script.source.text.startswith(design.source.text.split("\n")[0]), "comments stay"
        assert check(script, seconds=30).card.dimensions == check(varied(design, chosen), seconds=30).card.dimensions


def test_every_kind_of_line_takes_its_place_in_the_text():
    lines = ('cover 96 x 144\nmat 8 in x 10 in\nstep 1/32 in\npaper sand weight 300 gsm\npaper ink colour #ffffff\n'
             'practice tab.depth 6 because "small"\nquay.wall 40 to 50\nquay.at 30\ncover.opens 180')
    design = read_text(CARD + "variant small\n" + "".join(f"  {line}\n" for line in lines.splitlines()) + "# the wish\n"
                       "prefer smallest quay.spread\n")
    script, wanted = as_script(design, design.variants[0]), varied(design, design.variants[0])
    assert script.source.text == """card "Quay"
  units mm
  step 127/160 mm
cover 96 x 144
  clear 3
  paper ink
  opens 180
paper ink   colour #ffffff  weight 200 gsm
paper sand weight 300 gsm  colour #d8c49a
mat 8 in x 10 in
tent quay on spine
  paper  sand
  width  60
  spread 20 to 35
  wall 40 to 50   # as tall as it will go
  at 30
prefer largest quay.wall
# the wish
prefer smallest quay.spread

practice tab.depth 6 because "small"
"""
    assert script.step == wanted.step
    assert [(p.colour, p.gsm, p.caliper) for p in script.papers] == [(p.colour, p.gsm, p.caliper) for p in wanted.papers]
    assert check(script, seconds=20).card.dimensions == check(wanted, seconds=20).card.dimensions


@pytest.mark.parametrize("options", [["--variant", "small"], ["--variant", "small", "--paper", "fern caliper 0.35"], []])
def test_a_variant_found_can_be_written_and_read_again(options, tmp_path):
    target = tmp_path / "found.card"
    found = run("find", FERNS, *options, "--write", target, "--json")
    assert found.exit_code == 0
    again = run("find", target, "--json")
    assert json.loads(again.output)["dimensions"] == json.loads(found.output)["dimensions"]
    assert not read(target).variants


def test_all_variants_are_built_into_folders_or_none(tmp_path):
    written = build_variants(FERNS, tmp_path / "all", seconds=30, wanted=Wanted(pages=()))
    folders = {path.parent.name for path in written}
    assert folders == {"as-written", "small", "stout"}
    names = [path.name for path in written if path.suffix == ".svg"]
    assert len(names) == len(set(names)), "no two variants have a sheet of one name"
    report = json.loads((tmp_path / "all/small/report.json").read_text("utf-8"))
    assert report["title"] == "Fern house (small)"
    assert report["cover"] == [96, 144]
    script = tmp_path / "ferns.card"
    script.write_text(FERNS.read_text("utf-8") + "variant no\n  cover 20 x 20\n", "utf-8")
    before = sorted(path.name for path in (tmp_path / "all").rglob("*"))
    assert run("build", script, "--variants", "--pages", "none", "--out", tmp_path / "all").exit_code == 1
    assert run("build", script, "--variants", "--pages", "none", "--out", tmp_path / "new").exit_code == 1
    assert sorted(path.name for path in (tmp_path / "all").rglob("*")) == before
    assert not (tmp_path / "new").exists()


def test_one_variant_never_takes_the_folder_of_another(tmp_path):
    assert run("build", FERNS, "--variant", "small", "--out", tmp_path / "cut").exit_code == 0
    assert all(path.name.startswith(("small-", "report", ".")) for path in (tmp_path / "cut").iterdir())
    refused = run("build", FERNS, "--out", tmp_path / "cut")
    assert refused.exit_code == 2
    assert "holds the variant small" in refused.output
    assert run("build", FERNS, "--variant", "small", "--out", tmp_path / "cut").exit_code == 0
