"""The layout file: read again, left where its sheets fit no longer, and never believed."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from pathlib import Path

import cards
import pytest
from part_sets import SPACING
from shapely.geometry import Polygon, box
from test_layout import check
from test_tighten import TWO, demands, ink, sheet

from foldwright.emit import kept_text
from foldwright.emit.kept_layout import LARGEST_FILE, KeptLayouts, layout_file
from foldwright.emit.kept_text import entries_of, mark
from foldwright.emit.layout import lay_out
from foldwright.emit.placed import Sheet
from foldwright.solver.card import Card


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """A layout file with the two plates in a place that no packer of ours would choose."""
    path = tmp_path / "quay.layout"
    layouts = KeptLayouts(path)
    assert layouts.keep(cards.INK.name, TWO, demands(TWO), 2, [sheet((3.25, 4.5, 180), (70.125, 40, 90))]) is None  # off the mat
    assert layouts.keep(cards.INK.name, TWO, demands(TWO), 2, [sheet((45.25, 40.5, 180), (80.123456789, 30, 90))]) is not None
    layouts.save()
    assert layouts.notes == ["sheets of Ink blue: found in the time given, 1 instead of 2", "kept in quay.layout; leave it"
                             " beside the script"]
    return path


def laid(path: Path, card: Card, variant: str = "") -> tuple[tuple[Sheet, ...], list[str]]:
    layouts = KeptLayouts(path, variant)
    return lay_out(card, SPACING, kept=layouts), layouts.notes


def test_kept_sheets_are_used_as_they_are(kept: Path) -> None:
    sheets, notes = laid(kept, ink(TWO))
    assert notes == ["sheets of Ink blue: as kept in quay.layout, 1 instead of 2"]
    assert [(one.dx, one.dy, one.turn) for one in sheets[0].placed] == [(45.25, 40.5, 180), (80.123457, 30, 90)]
    assert all(one.kept for one in sheets)
    assert check(sheets, SPACING, TWO) == 1
    assert sorted(path.name for path in kept.parent.iterdir()) == ["quay.layout"]  # nothing half-written stays


def test_the_file_can_be_read(kept: Path) -> None:
    lines = kept.read_text("utf-8").splitlines()
    assert lines[0] == "foldwright layout 1"
    assert "keeps spacing 2 border 0 mats 100 x 60" in lines
    assert re.fullmatch(r'part 1 "plate\.0" 45\.25 40\.5 180 [0-9a-f]{12}', lines[-3])


def test_last_digits_and_the_first_corner_do_not_matter() -> None:
    part, turns = TWO[0], (0, 90)
    corners = list(part.outline.exterior.coords)[:-1]
    other = Polygon([(x + 1e-9, y - 1e-9) for x, y in reversed([*corners[2:], *corners[:2]])])
    assert mark(replace(part, outline=other), turns) == mark(part, turns)
    assert mark(replace(part, outline=box(0, 0, 40, 30.02)), turns) != mark(part, turns)
    assert mark(replace(part, outline=part.outline.difference(box(9, 9, 10, 10))), turns) != mark(part, turns)
    assert mark(part, (0, 180)) != mark(part, turns)


@pytest.mark.parametrize(
    ("card", "why"),
    [
        (ink((TWO[0], replace(TWO[1], outline=box(0, 0, 20, 11)))), "plate.1 changed since"),
        (ink((*TWO, replace(TWO[1], name="plate.2"))), "plate.2 changed since"),
        (ink(TWO[:1]), "a part is gone since"),
        (ink(TWO, (100.0, 61.0)), "spacing, border or mat changed since"),
        (replace(ink(TWO), papers=(replace(cards.INK, grain="along"),)), "plate.0, plate.1 changed since"),
    ],
)
def test_after_a_change_parts_are_laid_out_anew(kept: Path, card: Card, why: str) -> None:
    sheets, notes = laid(kept, card)
    assert notes == [f"sheets of Ink blue: not those of quay.layout: {why}"]
    assert sheets == lay_out(card, SPACING)
    assert not any(one.kept for one in sheets)


def test_a_variant_has_entries_of_its_own_and_may_share(kept: Path) -> None:
    small = ink(TWO, (64.0, 50.0))
    layouts = KeptLayouts(kept, "small mat")
    assert lay_out(small, SPACING, kept=layouts) == lay_out(small, SPACING)
    assert layouts.notes == []  # nothing was ever kept of it
    spots = [sheet((0, 10, 0), (42, 0, 0), mat=(64.0, 50.0))]
    assert layouts.keep(cards.INK.name, TWO, demands(TWO, mats=((64.0, 50.0),)), 2, spots)
    layouts.save()
    assert [(entry.variant, len(entry.sheets)) for entry in entries_of(kept.read_text("utf-8"))[0]] == [("", 1), ("small mat", 1)]
    assert laid(kept, small, "small mat")[0][0].kept
    assert laid(kept, ink(TWO))[0][0].kept
    assert laid(kept, ink(TWO), "of the same parts")[0][0].kept


def summed(lines: list[str]) -> str:
    """An entry with the sum that belongs to it: what somebody writes who knows how."""
    return "\n".join(["foldwright layout 1", *lines, f"sum {kept_text._sum(lines)}", ""])


def edited(path: Path, old: str, new: str, signed: bool = False) -> None:
    text = path.read_text("utf-8")
    assert old in text
    text = text.replace(old, new)
    if signed:
        lines = [line for line in text.splitlines()[1:-1] if line and not line.startswith("#")]
        text = summed(lines)
    path.write_text(text, "utf-8")


CANNOT = "an entry of quay.layout cannot be used: changed or damaged after it was written"


@pytest.mark.parametrize("signed", [False, True])
@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("45.25", "44.25", None),
        ("80.123457", "30.5", "plate.0 and plate.1 lie too close"),
        ("80.123457", "300", "plate.1 lies beyond the edge"),
        ("80.123457", "nan", CANNOT),
        ("80.123457", "1e9", CANNOT),
        ("80.123457", "9" * 5000, CANNOT),
        ("plate.1", "plate.0", "plate.1 changed since"),
        ("plate.1", "plate\\udc00", CANNOT),
        ("plate.1", "plate\\u001b[31m", "plate.1 changed since"),
        ('"plate.1"', '"plate\\q"', CANNOT),
        ("sheet 1 100 x 60", "sheet 1 200 x 60", "it names a mat that there is not"),
        ("sheet 1 100 x 60\n", "", CANNOT),
        ("part 1", "part 2", CANNOT),
        (" 90 ", " 45 ", CANNOT),
        ("instead of 2", "instead of " + "2" * 9000, CANNOT),
        ("keeps spacing 2", "keeps spacing 0.5", "spacing, border or mat changed since"),
    ],
)
def test_whatever_stands_in_the_file_a_layout_is_sound(kept: Path, old: str, new: str, why: str | None, signed: bool) -> None:
    edited(kept, old, new, signed)
    card = ink(TWO)
    sheets, notes = laid(kept, card)
    check(sheets, SPACING, TWO)
    if signed and why is None:
        assert sheets[0].kept  # somebody moved a part by a millimetre and signed for it: sound, and used
        return
    assert sheets == lay_out(card, SPACING)
    assert len(notes) == 1
    assert (why if signed and why else CANNOT) in notes[0]


def test_a_layout_on_needless_sheets_is_not_used(kept: Path) -> None:
    lines = [line for line in kept.read_text("utf-8").splitlines()[1:-1] if line and not line.startswith("#")]
    apart = [*lines[:-1], "sheet 2 100 x 60", lines[-1].replace("part 1", "part 2")]
    kept.write_text(summed(apart), "utf-8")
    sheets, notes = laid(kept, ink(TWO))
    assert len(sheets) == 1
    assert notes == ["sheets of Ink blue: not those of quay.layout: it takes more sheets than the parts need"]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is no layout file"),
        (b"\x00\xff\xfe", "is no layout file"),
        (b"my own notes\n", "is no layout file"),
        (b"foldwright layout 1\n" + b"#" * LARGEST_FILE, "is far too large"),
    ],
)
def test_a_file_that_is_not_ours_is_left_as_it_is(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "quay.layout"
    path.write_bytes(content)
    layouts = KeptLayouts(path)
    assert layouts.notes == [f"quay.layout {said}; the parts were laid out without it"]
    assert layouts.keep(cards.INK.name, TWO, demands(TWO), 2, [sheet()])
    layouts.save()
    assert layouts.notes[-1] == f"the layout that was found is not kept: quay.layout {said}"
    assert path.read_bytes() == content


def test_folders_pipes_and_links_are_not_read(tmp_path: Path) -> None:
    outside = tmp_path / "outside.layout"
    outside.write_text("foldwright layout 1\n")
    inner = tmp_path / "scripts"
    inner.mkdir()
    (inner / "a.layout").mkdir()
    os.mkfifo(inner / "b.layout")
    (inner / "c.layout").symlink_to(outside)
    (inner / "d.layout").symlink_to(inner / "d.layout")
    (inner / "e.layout").symlink_to(inner / "nothing.layout")
    for name, said in (("a", "is not a file"), ("b", "is not a file"), ("c", "leads to a file in another folder"),
                       ("d", "cannot be read")):
        notes = KeptLayouts(inner / f"{name}.layout").notes
        assert len(notes) == 1, name
        assert said in notes[0]
    assert KeptLayouts(inner / "e.layout").notes == []


def test_line_ends_blank_lines_and_comments_do_not_matter(kept: Path) -> None:
    text = kept.read_text("utf-8").replace("\n", "\r\n").replace("sheet 1", "\r\n# here it begins\r\n  sheet 1")
    kept.write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert laid(kept, ink(TWO))[0][0].kept


def test_one_damaged_entry_leaves_the_others(kept: Path) -> None:
    text = kept.read_text("utf-8")
    kept.write_text(text + "\n<<<<<<< mine\n" + text[text.index('paper "') :].replace("45.25", "46"), "utf-8")
    sheets, notes = laid(kept, ink(TWO))
    assert not sheets[0].kept  # the stray line fell into the first entry
    assert notes[0].startswith("2 entries of quay.layout cannot be used")
    kept.write_text(text + "\n" + text[text.index('paper "') :].replace("45.25", "46"), "utf-8")
    sheets, notes = laid(kept, ink(TWO))
    assert sheets[0].kept
    assert notes[0].startswith(CANNOT)


def test_a_folder_that_cannot_be_written_costs_only_the_file(tmp_path: Path) -> None:
    layouts = KeptLayouts(tmp_path / "missing" / "quay.layout")
    assert layouts.keep(cards.INK.name, TWO, demands(TWO), 2, [sheet()])
    layouts.save()
    assert layouts.notes[-1] == "the layout that was found is not kept: quay.layout cannot be written (no such file or directory)"
    nowhere = KeptLayouts(None)
    assert nowhere.keep(cards.INK.name, TWO, demands(TWO), 2, [sheet()])
    nowhere.save()
    assert "is no file that it could stand beside" in nowhere.notes[-1]


@pytest.mark.parametrize(("script", "name"), [("pier.card", "pier.layout"), ("pier.layout", "pier.layout.layout"),
                                              ("pier", "pier.layout"), ("pier.v2.card", "pier.v2.layout")])
def test_the_file_has_the_name_of_the_script(script: str, name: str) -> None:
    assert layout_file(Path("cards") / script) == Path("cards") / name
