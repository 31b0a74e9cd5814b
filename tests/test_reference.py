from pathlib import Path

import pytest

from foldwright.gallery import alike
from foldwright.reference import current, main, pages, strays
from foldwright.solver.mechanism import registry

DOCS = Path(__file__).parent.parent / "docs"


@pytest.fixture(scope="module")
def made():
    return pages(DOCS.parent / "examples")


def test_reference_pages_are_current(made):
    assert {"mechanisms.md", "problems.md", "practice.md", "report.md"} < set(made)
    for name, text in made.items():
        assert current(DOCS / name, text), f"run `python -m foldwright.reference docs` ({name})"
    assert not strays(DOCS, made)


def test_every_mechanism_has_a_page_with_two_pictures_and_a_line_in_the_index(made):
    for keyword in registry():
        page = made[f"mechanisms/{keyword}.md"]
        for picture in (f"{keyword}.svg", f"{keyword}-half.svg"):
            assert f"]({picture})" in page
            assert made[f"mechanisms/{picture}"].startswith("<?xml")
        assert page.count("```card") == 1
        assert f"[{keyword}](mechanisms/{keyword}.md)" in made["mechanisms.md"]
        assert f'"mechanisms/{keyword}.svg"' in made["mechanisms.md"]


def test_every_example_is_shown(made):
    cards = {path.stem for path in (DOCS.parent / "examples").glob("*.card")} - {"too-tight"}
    assert len(cards) >= 10
    for name in cards:
        assert f"(examples/{name}.svg)" in made["examples.md"]
        assert made[f"examples/{name}.svg"].startswith("<?xml")


SVG = '<path d="M1.25 2.5 3 4Z" fill="#102030"/>'


@pytest.mark.parametrize(
    ("other", "same"),
    [
        (SVG, True),
        (SVG.replace("1.25", "1.26"), True),
        (SVG.replace("1.25", "1.28"), False),
        (SVG.replace("Z", ""), False),
        (SVG.replace("3 4Z", "3 4 5 6Z"), False),
        (SVG.replace("#102030", "#102031"), False),
        (SVG.replace("#102030", "#1020f0"), False),
    ],
)
def test_pictures_are_alike_if_only_the_last_decimal_differs(other, same):
    assert alike(SVG, other) is same


def test_check_names_what_is_stale_or_stray(made, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("foldwright.reference.pages", lambda _: made)
    assert main([str(tmp_path)]) == 0
    assert main([str(tmp_path), "--check"]) == 0
    (tmp_path / "mechanisms" / "ring.svg").write_text(SVG, encoding="utf-8")
    (tmp_path / "practice.md").unlink()
    (tmp_path / "mechanisms" / "barge.md").write_text("# barge\n", encoding="utf-8")
    capsys.readouterr()
    assert main([str(tmp_path), "--check"]) == 1
    told = capsys.readouterr().out
    assert "mechanisms/ring.svg" in told
    assert "practice.md" in told
    assert "mechanisms/barge.md" in told
    assert "tent" not in told
