from pathlib import Path

from foldwright.reference import pages

DOCS = Path(__file__).parent.parent / "docs"


def test_reference_pages_are_current():
    made = pages()
    assert len(made) == 4
    for name, text in made.items():
        assert (DOCS / name).read_text(encoding="utf-8") == text, f"run `python -m foldwright.reference docs` ({name})"
