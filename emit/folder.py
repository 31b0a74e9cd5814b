"""A folder of files, written all or none.

Files go to a new folder beside the wanted one, which then takes its name. A folder that was made here carries
a list of its files with their digests; only such a folder, with nothing added or changed since, is ever
replaced. It may hold folders of files, one level deep, and it keeps in mind what it is of, so that one variant of a card
never takes the place of another.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path

MARKER = ".foldwright-files.json"


class FolderRefused(OSError):
    """The files cannot be written; `reason` is a plain sentence. Nothing was changed."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


def write_folder(out: Path, files: Mapping[str, bytes], of: str = "") -> None:
    """Write all files (by plain name, or `folder/name`) as the whole content of the folder `out`, or raise FolderRefused.

    `out` may be missing, empty, or made here before and untouched since; it is then replaced as a whole. `of` says in a few
    words what the files are of ("the variant small"; nothing for a card as it is written): a folder of something else stays.
    """
    for name in files:
        parts = name.split("/")
        if len(parts) > 2 or any(part in {"", ".", "..", MARKER} or "\\" in part or "\0" in part for part in parts):
            raise FolderRefused(f"`{name}` cannot be the name of a file in the folder.")
    out = Path(out)
    try:
        target = out.resolve()  # a link keeps pointing to the folder it points to
        before = _own_files(target, out, of)
        with _parents(target):
            _replace(target, files, before, of)
    except FolderRefused:
        raise
    except OSError as error:
        raise FolderRefused(f"The folder {out} cannot be written: {error.strerror or error}.") from error


def refuse_early(out: Path, of: str = "") -> None:
    """Raises FolderRefused if `write_folder` would refuse the folder as it is now: before hours of work, not after them."""
    try:
        _own_files(Path(out).resolve(), Path(out), of)
    except FolderRefused:
        raise
    except OSError as error:
        raise FolderRefused(f"The folder {out} cannot be written: {error.strerror or error}.") from error


def _own_files(target: Path, shown: Path, of: str) -> tuple[str, ...] | None:
    """What a folder to be replaced holds, None if there is none; raises FolderRefused if it must stay."""
    if not target.exists():
        return None
    if not target.is_dir():
        raise FolderRefused(f"{shown} is a file, not a folder.")
    present = sorted(_present(target))
    if not present:
        return ()
    made, digests = _read_marker(target / MARKER)
    if digests is None:
        raise FolderRefused(f"The folder {shown} holds files that were not made here, such as {present[0]}.")
    for name in present:
        if name == MARKER:
            continue
        if name not in digests:
            raise FolderRefused(f"{name} in the folder {shown} was not made here; move it elsewhere first.")
        path = target / name
        if path.is_symlink() or not path.is_file() or _digest(path.read_bytes()) != digests[name]:
            raise FolderRefused(
                f"{name} in the folder {shown} was changed after it was made; move it elsewhere first."
            )
    if made != of:
        written = "the card as written"
        raise FolderRefused(f"The folder {shown} holds {made or written}; write {of or written} to a folder of its own.")
    return tuple(present)


def _present(folder: Path) -> Iterator[str]:
    """What a folder holds: files by name, those of a folder in it as `folder/name`; an empty one by its own name."""
    for entry in folder.iterdir():
        inside = sorted(inner.name for inner in entry.iterdir()) if entry.is_dir() and not entry.is_symlink() else []
        yield from (f"{entry.name}/{name}" for name in inside) if inside else (entry.name,)


def _read_marker(path: Path) -> tuple[str, dict[str, str] | None]:
    """What a folder is of, and digests by file name, or None if there is no list that we can read."""
    try:
        listed = json.loads(path.read_text("utf-8"))
        files, of = listed["files"], listed.get("of", "")
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return "", None
    if not isinstance(files, dict):
        return "", None
    return str(of), {str(name): str(digest) for name, digest in files.items()}


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


@contextmanager
def _parents(target: Path) -> Iterator[None]:
    """Make the missing folders above `target`, and take them away again if the body fails."""
    missing = [parent for parent in target.parents if not parent.exists()]
    made: list[Path] = []
    try:
        for parent in reversed(missing):
            parent.mkdir()
            made.append(parent)
        yield
    except BaseException:
        with suppress(OSError):  # somebody else may use one by now
            for parent in reversed(made):
                parent.rmdir()
        raise


def _replace(target: Path, files: Mapping[str, bytes], before: tuple[str, ...] | None, of: str) -> None:
    fresh = _new_sibling(target, "new")
    try:
        _fill(fresh, files, of)
        if before is None:
            fresh.rename(target)
            return
        old = _free_sibling(target, "old")
        try:
            target.rename(old)
            fresh.rename(target)
        except BaseException:
            if old.exists() and not target.exists():
                old.rename(target)
            raise
    except BaseException:
        _empty(fresh, [*files, MARKER])
        raise
    _retire(old, before, target)


def _fill(folder: Path, files: Mapping[str, bytes], of: str) -> None:
    for name, content in files.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(content)
    listed = {"made by": "foldwright", **({"of": of} if of else {}),
              "files": {name: _digest(content) for name, content in files.items()}}
    (folder / MARKER).write_text(json.dumps(listed, indent=1) + "\n", "utf-8", newline="\n")


def _new_sibling(target: Path, word: str) -> Path:
    """A new empty folder beside `target`, with the usual access rights."""
    while True:
        path = _free_sibling(target, word)
        try:
            path.mkdir()
        except FileExistsError:  # somebody else was quicker
            continue
        return path


def _free_sibling(target: Path, word: str) -> Path:
    names = (target.with_name(f".{target.name}.{word}-{os.getpid()}-{number}") for number in count(1))
    return next(path for path in names if not os.path.lexists(path))


def _empty(folder: Path, names: list[str]) -> None:
    """Remove a folder that holds nothing but some of the named files."""
    if folder.exists():
        for name in names:
            (folder / name).unlink(missing_ok=True)
        for inner in {name.split("/")[0] for name in names if "/" in name}:
            if (folder / inner).exists():
                (folder / inner).rmdir()
        folder.rmdir()


def _retire(old: Path, names: tuple[str, ...], target: Path) -> None:
    """Remove a replaced folder; what somebody put there in the meantime moves into the new one.

    The new folder stands already, so trouble here must not look like a failure: at worst the old one stays
    beside it.
    """
    try:
        for name in names:
            (old / name).unlink(missing_ok=True)
        for inner in {name.split("/")[0] for name in names if "/" in name}:
            (old / inner).rmdir()
        for stray in old.iterdir():
            if not os.path.lexists(target / stray.name):
                stray.rename(target / stray.name)
        old.rmdir()
    except OSError:
        return
