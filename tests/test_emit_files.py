"""All files of a card: complete, the same every time, and nothing heavy loaded before it is needed."""

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import cards
import pytest

from foldwright.emit import Labels, Wanted, build_files

_DIGEST = """
import hashlib, sys
sys.path.insert(0, sys.argv[1])
import cards
from foldwright.emit import build_files
for card in (cards.harbour(), cards.crowd(9)):
    for name, data in build_files(card, ()).items():
        print(name, hashlib.sha256(data).hexdigest())
"""
_LIGHT = """
import sys, foldwright.emit
print([name for name in ("numpy", "shapely", "ezdxf", "svgwrite", "HersheyFonts", "fpdf") if name in sys.modules])
"""


def run(code: str, **environment: str) -> str:
    arguments = [sys.executable, "-c", code, str(Path(cards.__file__).parent)]
    done = subprocess.run(
        arguments, env={**os.environ, **environment}, capture_output=True, text=True, check=True, timeout=120
    )
    return done.stdout


def test_a_card_has_two_files_per_sheet_two_of_all_parts_and_a_report() -> None:
    heard: list[str] = []
    assert list(build_files(cards.harbour(), (), heard.append)) == [
        "sheet-1-ink-blue.svg",
        "sheet-1-ink-blue.dxf",
        "sheet-2-sable-dore.svg",
        "sheet-2-sable-dore.dxf",
        "all-parts.svg",
        "all-parts.dxf",
        "pages-a4.pdf",
        "pages-letter.pdf",
        "report.json",
    ]
    assert heard[0].startswith("laying out")
    assert heard[-1] == "writing the report"


def test_other_processes_with_other_hash_seeds_write_the_same_bytes() -> None:
    here = [
        f"{name} {hashlib.sha256(data).hexdigest()}"
        for card in (cards.harbour(), cards.crowd(9))
        for name, data in build_files(card, ()).items()
    ]
    assert len(here) >= 12
    for seed in ("1", "4", "2718"):  # 4 orders the set of class names that the DXF library lists differently
        assert run(_DIGEST, PYTHONHASHSEED=seed).splitlines() == here


def test_importing_the_package_loads_no_heavy_library() -> None:
    assert run(_LIGHT).strip() == "[]"


def test_other_files_on_request() -> None:
    wanted = Wanted(pages=("letter",), dxf="R2000", per_operation=True, labels=Labels.NONE)
    files = build_files(cards.harbour(), (), wanted=wanted)
    # the ink sheet has no creases with a mountain
    assert [name for name in files if name.endswith(".svg")] == [
        *(f"sheet-1-ink-blue{word}.svg" for word in ["", "-cut", "-valley", "-mark"]),
        *(f"sheet-2-sable-dore{word}.svg" for word in ["", "-cut", "-mountain", "-valley", "-mark"]),
        "all-parts.svg",
    ]
    assert [name for name in files if name.endswith(".pdf")] == ["pages-letter.pdf"]
    for name in files:
        if name.endswith(".dxf"):
            assert b"AC1015" in files[name][:200]
    assert {name[:-4] for name in files if name.endswith(".dxf")} == {name[:-4] for name in files if name.endswith(".svg")}


def test_text_files_end_lines_with_a_line_feed() -> None:
    for name, data in build_files(cards.harbour(), (), wanted=Wanted(pages=())).items():
        assert b"\r" not in data, name
        assert data.endswith(b"\n"), name


def test_a_writer_that_fails_leaves_no_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from foldwright.emit import dxf
    from foldwright.emit.folder import write_folder

    def broken(*_: object) -> bytes:
        raise RuntimeError("the pen is dry")

    monkeypatch.setattr(dxf, "write_dxf", broken)
    with pytest.raises(RuntimeError, match="pen is dry"):
        write_folder(tmp_path / "card", build_files(cards.harbour(), ()))
    assert os.listdir(tmp_path) == []
