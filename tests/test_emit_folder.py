"""A folder is written all or none, and a user's file is never lost."""

import os
from pathlib import Path

import pytest

from foldwright.emit import folder
from foldwright.emit.folder import MARKER, FolderRefused, write_folder

FIRST = {"a.svg": b"<svg/>", "b.json": b"{}"}
SECOND = {"a.svg": b"<svg>2</svg>", "c.dxf": b"0\nEOF\n"}


def content(path: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in path.iterdir() if file.name != MARKER}


def tree(path: Path) -> dict[str, bytes | None]:
    return {str(p.relative_to(path)): None if p.is_dir() else p.read_bytes() for p in sorted(path.rglob("*"))}


@pytest.fixture
def breaking(monkeypatch: pytest.MonkeyPatch) -> None:
    """The second file of a folder cannot be written: the disk is full."""
    real = Path.write_bytes

    def write(path: Path, data: bytes) -> int:
        if path.name in ("b.json", "c.dxf"):
            raise OSError(28, "No space left on device")
        return real(path, data)

    monkeypatch.setattr(Path, "write_bytes", write)


@pytest.mark.parametrize("deep", ["card", "build/spring/card"])
def test_a_new_folder_holds_exactly_the_files(tmp_path: Path, deep: str) -> None:
    write_folder(tmp_path / deep, FIRST)
    assert content(tmp_path / deep) == FIRST
    assert [entry.name for entry in (tmp_path / deep).parent.iterdir()] == ["card"]


def test_an_empty_folder_is_used_and_our_own_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "card").mkdir()
    for files in (FIRST, SECOND, SECOND, FIRST):
        write_folder(tmp_path / "card", files)
        assert content(tmp_path / "card") == files
    assert [entry.name for entry in tmp_path.iterdir()] == ["card"]


def test_rights_are_the_usual_ones(tmp_path: Path) -> None:
    write_folder(tmp_path / "card", FIRST)
    (tmp_path / "usual").mkdir()
    assert (tmp_path / "card").stat().st_mode == (tmp_path / "usual").stat().st_mode


@pytest.mark.usefixtures("breaking")
@pytest.mark.parametrize("deep", ["card", "build/spring/card"])
def test_a_full_disk_leaves_nothing(tmp_path: Path, deep: str) -> None:
    with pytest.raises(FolderRefused, match="No space left on device"):
        write_folder(tmp_path / deep, FIRST)
    assert tree(tmp_path) == {}


def test_a_full_disk_leaves_the_folder_as_it_was(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    write_folder(tmp_path / "card", FIRST)
    before = tree(tmp_path)
    request.getfixturevalue("breaking")
    with pytest.raises(FolderRefused):
        write_folder(tmp_path / "card", SECOND)
    assert tree(tmp_path) == before


def test_a_failed_swap_puts_the_old_folder_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_folder(tmp_path / "card", FIRST)
    before, real = tree(tmp_path), Path.rename

    def rename(path: Path, target: Path) -> Path:
        if ".new-" in path.name:
            raise PermissionError(13, "Permission denied")
        return real(path, target)

    monkeypatch.setattr(Path, "rename", rename)
    with pytest.raises(FolderRefused, match="Permission denied"):
        write_folder(tmp_path / "card", SECOND)
    assert tree(tmp_path) == before


def test_an_interrupt_amid_the_swap_puts_the_old_folder_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_folder(tmp_path / "card", FIRST)
    before, real = tree(tmp_path), Path.rename

    def rename(path: Path, target: Path) -> Path:
        moved = real(path, target)
        if ".old-" in Path(target).name:
            raise KeyboardInterrupt
        return moved

    monkeypatch.setattr(Path, "rename", rename)
    with pytest.raises(KeyboardInterrupt):
        write_folder(tmp_path / "card", SECOND)
    assert tree(tmp_path) == before


def test_an_interrupt_leaves_nothing_and_goes_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(folder, "_fill", stop)
    with pytest.raises(KeyboardInterrupt):
        write_folder(tmp_path / "card", FIRST)
    assert tree(tmp_path) == {}


def test_a_folder_of_the_users_is_refused(tmp_path: Path) -> None:
    (tmp_path / "card").mkdir()
    (tmp_path / "card" / "notes.txt").write_text("mine")
    with pytest.raises(FolderRefused, match=r"not made here, such as notes\.txt") as caught:
        write_folder(tmp_path / "card", FIRST)
    assert caught.value.reason == str(caught.value)
    assert tree(tmp_path) == {"card": None, "card/notes.txt": b"mine"}


@pytest.mark.parametrize(
    ("name", "text", "reason"),
    [
        ("notes.txt", "mine", r"notes\.txt .* was not made here"),
        ("a.svg", "<svg>edited</svg>", r"a\.svg .* was changed after it was made"),
        (MARKER, "nonsense", "not made here"),
        (MARKER, '{"files": ["a.svg"]}', "not made here"),
        (MARKER, "[]", "not made here"),
    ],
)
def test_a_folder_of_ours_with_the_users_work_in_it_is_refused(
    tmp_path: Path, name: str, text: str, reason: str
) -> None:
    write_folder(tmp_path / "card", FIRST)
    (tmp_path / "card" / name).write_text(text)
    before = tree(tmp_path)
    with pytest.raises(FolderRefused, match=reason):
        write_folder(tmp_path / "card", SECOND)
    assert tree(tmp_path) == before


def test_a_file_in_the_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "card").write_text("mine")
    with pytest.raises(FolderRefused, match="is a file, not a folder"):
        write_folder(tmp_path / "card", FIRST)
    with pytest.raises(FolderRefused):
        write_folder(tmp_path / "card" / "deeper", FIRST)
    assert tree(tmp_path) == {"card": b"mine"}


def test_what_arrives_during_the_swap_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_folder(tmp_path / "card", FIRST)
    real = folder._fill

    def fill(path: Path, files: dict[str, bytes], of: str) -> None:
        real(path, files, of)
        (tmp_path / "card" / "late.txt").write_text("mine")

    monkeypatch.setattr(folder, "_fill", fill)
    write_folder(tmp_path / "card", SECOND)
    assert content(tmp_path / "card") == {**SECOND, "late.txt": b"mine"}
    assert [entry.name for entry in tmp_path.iterdir()] == ["card"]


def test_a_link_keeps_pointing_to_its_folder(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_folder(tmp_path / "link", FIRST)
    assert (tmp_path / "link").is_symlink()
    assert content(tmp_path / "real") == FIRST


@pytest.mark.parametrize("name", ["", "..", "a/b/c.svg", "../b.svg", "/b.svg", "a/", f"a/{MARKER}", "a\\b.svg", MARKER, "a\0"])
def test_names_that_leave_the_folder_are_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(FolderRefused, match="cannot be the name of a file"):
        write_folder(tmp_path / "card", {name: b""})
    assert os.listdir(tmp_path) == []


NESTED = {"small/a.svg": b"<svg/>", "small/report.json": b"{}", "as-written/a.svg": b"<svg>1</svg>"}


def test_folders_of_files_are_written_and_replaced_as_one(tmp_path: Path) -> None:
    write_folder(tmp_path / "all", NESTED, "all variants")
    write_folder(tmp_path / "all", {"large/a.svg": b"<svg>2</svg>"}, "all variants")
    assert sorted(entry.name for entry in (tmp_path / "all").iterdir()) == sorted([MARKER, "large"])
    assert (tmp_path / "all/large/a.svg").read_bytes() == b"<svg>2</svg>"
    assert [entry.name for entry in tmp_path.iterdir()] == ["all"]


@pytest.mark.parametrize("stray", ["small/notes.txt", "notes.txt", "mine/notes.txt", "mine/deep/notes.txt"])
def test_the_users_work_beside_folders_of_files_is_refused(tmp_path: Path, stray: str) -> None:
    write_folder(tmp_path / "all", NESTED)
    (tmp_path / "all" / stray).parent.mkdir(parents=True, exist_ok=True)
    (tmp_path / "all" / stray).write_text("mine")
    before = tree(tmp_path)
    with pytest.raises(FolderRefused):
        write_folder(tmp_path / "all", FIRST)
    assert tree(tmp_path) == before


def test_a_folder_of_one_thing_is_not_replaced_by_another(tmp_path: Path) -> None:
    write_folder(tmp_path / "card", FIRST)
    before = tree(tmp_path)
    with pytest.raises(FolderRefused, match="holds the card as written; write the variant small to a folder of its own"):
        write_folder(tmp_path / "card", SECOND, "the variant small")
    assert tree(tmp_path) == before
    write_folder(tmp_path / "small", SECOND, "the variant small")
    write_folder(tmp_path / "small", FIRST, "the variant small")
    with pytest.raises(FolderRefused, match="holds the variant small"):
        write_folder(tmp_path / "small", FIRST)
    assert content(tmp_path / "small") == FIRST


def test_it_is_an_os_error() -> None:
    assert issubclass(FolderRefused, OSError)
