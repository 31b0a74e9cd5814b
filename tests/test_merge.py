"""Papers that look the same: the colour difference against published data, the offer, and `merge`."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from coloraide import Color

from foldwright.alike import SAME_LOOK, alike, alike_words, difference, merged_words
from foldwright.api import check
from foldwright.command import main
from foldwright.emit.layout import lay_out
from foldwright.grammar import Refused, read_text
from foldwright.solver.bind import bind

# CIEDE2000 test data: G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula: implementation notes,
# supplementary test data, and mathematical observations", Color Research and Application 30 (1), 2005, table 1.
PAIRS = list(csv.DictReader((Path(__file__).parent / "data" / "ciede2000.csv").open()))

CARD = """card "Reed bank"
  units mm
cover 100 x 150
  paper lake
tent bank on spine
  paper reed
  at     15
  spread 20
  wall   30
tent shore on spine
  paper fern
  at     80
  spread 20
  wall   30
paper lake  colour #7fb0b4  caliper 0.25
paper reed  colour #8b8a45  caliper 0.25
paper fern  colour #8c8b47  caliper 0.25
mat 300 x 300
"""
MERGED = CARD + "merge fern into reed\n"


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair["difference"])
def test_the_published_pairs(pair):
    first, second = (Color("lab-d65", [float(pair[f"{axis}{side}"]) for axis in "lab"]) for side in "12")
    expected = float(pair["difference"])
    assert first.delta_e(second, method="2000") == pytest.approx(expected, abs=5.1e-5), "the table has four decimals"
    assert second.delta_e(first, method="2000") == pytest.approx(expected, abs=5.1e-5)


def test_all_pairs_are_there():
    assert len(PAIRS) == 34


def lab(colour):
    """CIE L*a*b*, white D65, of an sRGB colour by IEC 61966-2-1 and CIE 15 (constants from memory)."""
    rgb = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) @ linear
    x, y, z = np.cbrt(xyz / np.array([0.9505, 1.0, 1.0890]))
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


@pytest.mark.parametrize(("first", "second"), [("#8b8a45", "#8c8b47"), ("#22304a", "#9fc6c9"), ("#ffffff", "#efe6d2")])
def test_colours_are_read_as_srgb(first, second):
    by_hand = Color("lab-d65", list(lab(first))).delta_e(Color("lab-d65", list(lab(second))), method="2000")
    assert difference(first, second) == pytest.approx(by_hand, abs=0.02), "the standard's matrix has four decimals"
    assert difference(first, first) == 0


@pytest.fixture
def checked(tmp_path):
    def work(text):
        path = tmp_path / "reed.card"
        path.write_text(text, "utf-8")
        return check(path)

    return work


def test_an_offer_says_what_it_saves_and_keeps_its_word(checked):
    before = checked(CARD)
    (pair,) = alike(before.card)
    assert {pair.keep.name, pair.other.name} == {"reed", "fern"}
    assert 0 < pair.difference < 1
    assert pair.saved == 1
    assert "would save 1 sheet (write `merge " in alike_words((pair,))[0]
    after = checked(CARD + alike_words((pair,))[0].split("`")[1] + "\n")
    assert len(lay_out(before.card)) - len(lay_out(after.card)) == pair.saved
    assert not alike(after.card)
    assert "colour difference 0." in merged_words(after.design)[0]


def test_a_merged_paper_is_cut_from_the_other(checked):
    card = checked(MERGED).card
    assert [paper.name for paper in card.papers] == ["lake", "reed"]
    assert {part.paper for part in card.parts} == {"lake", "reed"}
    plain = checked(CARD).card
    assert [part.name for part in card.parts] == [part.name for part in plain.parts]
    assert all(a.outline.equals(b.outline) for a, b in zip(card.parts, plain.parts, strict=True))


def test_papers_of_another_thickness_are_not_promised_anything(checked):
    thicker = CARD.replace("#8c8b47  caliper 0.25", "#8c8b47  caliper 0.3")
    (pair,) = alike(checked(thicker).card)
    assert pair.saved is None
    assert "not the same sheet" in alike_words((pair,))[0]
    assert "0.3 mm" in alike_words((pair,))[0]
    words = merged_words(checked(thicker + "merge fern into reed\n").design)[0]
    assert "it was 0.3 mm, and its parts are now those of 0.25 mm" in words


@pytest.mark.parametrize(("weights", "one"), [(("200 gsm", "205 gsm"), True), (("200 gsm", "250 gsm"), False)])
def test_weights_count_where_both_are_given(checked, weights, one):
    text = CARD.replace("#8b8a45", f"#8b8a45 weight {weights[0]}").replace("#8c8b47", f"#8c8b47 weight {weights[1]}")
    (pair,) = alike(checked(text).card)
    assert (pair.saved is not None) is one


def test_papers_that_differ_are_left_alone(checked):
    apart = CARD.replace("#8c8b47", "#8c9b57")
    assert difference("#8b8a45", "#8c9b57") > SAME_LOOK
    assert not alike(checked(apart).card)
    unused = CARD + "paper straw  colour #8b8a46  caliper 0.25\n"
    assert len(alike(checked(unused).card)) == 1, "nothing is cut from straw"


def test_a_merge_takes_the_other_caliper(checked):
    slim = CARD.replace("#8b8a45  caliper 0.25", "#8b8a45  caliper 0.2") + "merge fern into reed\n"
    bound = bind(read_text(slim))
    assert {m.site.paper: float(m.site.caliper) for m in bound.mechanisms if m.name in ("bank", "shore")} == {"reed": 0.2}


@pytest.mark.parametrize("order", ["merge fern into reed\n" + CARD, MERGED])
def test_a_merge_may_stand_anywhere(order):
    assert [(merge.paper.text, merge.into.text) for merge in read_text(order).merges] == [("fern", "reed")]


@pytest.mark.parametrize(("line", "code", "marked"), [
    ("merge", "value-missing", "merge"),
    ("merge fern", "value-missing", "merge fern"),
    ("merge fern into", "value-missing", "merge fern into"),
    ("merge fern reed", "value-wrong", "reed"),
    ("merge fern with reed", "value-wrong", "with"),
    ("merge fern into reed lake", "value-surplus", "lake"),
    ("merge moss into reed", "unknown-name", "moss"),
    ("merge fern into moss", "unknown-name", "moss"),
    ("merge fern into fern", "value-wrong", "fern"),
    ("merge fern into reed\nmerge fern into lake", "setting-twice", "fern"),
    ("merge fern into reed\nmerge reed into lake", "value-wrong", "reed"),
    ("merge fern into reed\nmerge reed into fern", "value-wrong", "reed"),
    ('merge "fern" into reed', "syntax-error", '"fern"'),
])
def test_what_is_wrong_with_a_merge(line, code, marked):
    with pytest.raises(Refused) as refused:
        bind(read_text(CARD + line + "\n"))
    problem = refused.value.problems[0]
    assert (problem.code, problem.at.text) == (code, marked)


def test_check_and_build_tell(tmp_path):
    path = tmp_path / "reed.card"
    path.write_text(CARD, "utf-8")
    offer = "one paper would save 1 sheet"
    for arguments in (["check", path], ["build", path, "--out", tmp_path / "cut"]):
        result = CliRunner().invoke(main, [str(argument) for argument in arguments])
        assert result.exit_code == 0, result.output
        assert result.output.count(offer) == 1
    found = json.loads(CliRunner().invoke(main, ["check", str(path), "--json"]).stdout)["papers_alike"]
    assert [one["saved"] for one in found] == [1]
    path.write_text(MERGED, "utf-8")
    result = CliRunner().invoke(main, ["check", str(path)])
    assert offer not in result.output
    assert "Paper fern is cut from reed, as the script asks" in result.output


def test_an_estimated_caliper_is_told_with_its_number(tmp_path):
    path = tmp_path / "reed.card"
    path.write_text(CARD.replace("#7fb0b4  caliper 0.25", "#7fb0b4  weight 250 gsm"), "utf-8")
    printed = CliRunner().invoke(main, ["check", str(path)]).output
    assert "The caliper of lake (0.3 mm) is an estimate from the weight" in printed
