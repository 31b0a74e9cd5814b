"""What the pages show in ```card blocks is read by the tool itself, so that no page teaches what it refuses."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from foldwright.command import main
from foldwright.grammar import Refused, read_text
from foldwright.solver.answer import solve_design
from foldwright.solver.proof import prove

ROOT = Path(__file__).parent.parent
PAGES = ("README.md", "DEVELOPERS.md", "docs/language.md")
REQUIRED = {"card": 'card "Tide pool"\n  units mm\n', "cover": "cover 130 x 180\n"}


def card_blocks(text):
    return re.findall(r"^```card\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def begins(word, block):
    return re.search(rf"^{word}\b", block, re.MULTILINE) is not None


def whole(block):
    return all(begins(word, block) for word in REQUIRED)


def completed(block):
    """The block as a script: a fragment gets the two statements that no script can do without."""
    return "".join(line for word, line in REQUIRED.items() if not begins(word, block)) + block


BLOCKS = [
    pytest.param(block, id=f"{page}-{number}")
    for page in PAGES
    if (ROOT / page).exists()
    for number, block in enumerate(card_blocks((ROOT / page).read_text(encoding="utf-8")), 1)
]
WHOLE = [case for case in BLOCKS if whole(case.values[0])]


@pytest.mark.parametrize("block", BLOCKS)
def test_shown_statements_are_read(block):
    design = read_text(completed(block))
    assert design.title


@pytest.mark.parametrize("block", WHOLE)
def test_shown_scripts_are_solved_and_proved(block):
    card = solve_design(read_text(block))
    prove(card)  # raises if the card does not hold
    assert card.parts


def test_language_page_shows_every_statement():
    text = "\n".join(card_blocks((ROOT / "docs/language.md").read_text(encoding="utf-8")))
    for word in ("card", "cover", "paper", "mat", "practice", "without", "require", "prefer", "merge", "variant", "insert",
                 "cutout"):
        assert begins(word, text), f"docs/language.md has no example of `{word}`"
    assert WHOLE, "docs/language.md shows no whole script"


def test_a_wrong_block_would_be_noticed():
    with pytest.raises(Refused):
        read_text(completed("paper ink colour #223 weight 216 gsm\n"))


@pytest.mark.parametrize(("call", "example"), [("find", "tide-pool"), ("check", "too-tight")])
def test_readme_shows_what_the_commands_print(call, example, monkeypatch):
    monkeypatch.chdir(ROOT)
    printed = CliRunner().invoke(main, [call, f"examples/{example}.card"]).output.strip()
    assert len(printed.splitlines()) > 5
    assert f"```\n{printed}\n```" in (ROOT / "README.md").read_text("utf-8")
