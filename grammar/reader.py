"""Text or file → Design, or all of its problems at once."""

from __future__ import annotations

import stat
from pathlib import Path

from foldwright.grammar import layout
from foldwright.grammar.again import Statement, read_again
from foldwright.grammar.design import Design
from foldwright.grammar.kept import Kept
from foldwright.grammar.problem import Problem, Refused
from foldwright.grammar.problems import EmptyFile, FileMissing, FileTooLarge, FileUnreadable, NotUtf8
from foldwright.grammar.source import Source, Span

SIZE_LIMIT = 1_000_000  # bytes; a script of a hundred pages has a quarter of it


def read(path: str | Path, kept: Kept[str, Statement] | None = None) -> Design:
    """The design in a script file, in UTF-8; raises Refused with every problem found.

    Statements that are `kept` from another reading are not parsed again.
    """
    data = _content(Path(path))
    name, folder = str(path), Path(path).parent
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # The error counts bytes behind the byte order mark, and holds just those.
        good = len(error.object[: error.start].decode("utf-8"))
        source = Source(name, error.object.decode("utf-8", errors="replace"), folder)
        raise Refused([NotUtf8(Span(good, good + 1, source))]) from None
    return read_text(text, name, folder, kept)


def read_text(text: str, name: str = "script.card", folder: str | Path = ".", kept: Kept[str, Statement] | None = None) -> Design:
    """The design in a text; `name` is shown in messages, artwork is looked for in `folder`, `kept` as in `read`.

    Raises Refused with every problem found, in the order of their places.
    """
    if len(text) > SIZE_LIMIT:
        raise Refused([FileTooLarge(None, len(text.encode("utf-8", "surrogatepass")), SIZE_LIMIT)])
    source = Source(name, text.removeprefix("\ufeff"), Path(folder))
    if not any(layout.lines(source.text)):
        raise Refused([EmptyFile(Span(0, 0, source))])
    known = None if kept is None else read_again(source, kept)
    if known is not None:
        return known
    design, problems = _parsed(source)
    if problems or design is None:
        raise Refused(sorted(problems, key=_place))
    return design


def _parsed(source: Source) -> tuple[Design | None, list[Problem]]:
    """Layout, syntax, then meaning, with the problems of all three."""
    # Imported here because lark takes longer to load than most commands take to run.
    from foldwright.grammar.nodes import Nodes
    from foldwright.grammar.statements import Script
    from foldwright.grammar.syntax import parse

    text, uneven = layout.check(source)
    tree, faults, broken = parse(source, text)
    nodes = Nodes(source, [*uneven, *faults])
    if tree is None:
        return None, nodes.problems
    return Script(nodes).read(tree, broken), nodes.problems


def _place(problem: Problem) -> tuple[int, int]:
    return (-1, -1) if problem.at is None else (problem.at.start, problem.at.end)


def _content(path: Path) -> bytes:
    """The bytes of a script file, of which no more than the limit is ever read."""
    shown = str(path)
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            why = "it is a folder" if stat.S_ISDIR(found.st_mode) else "it is not a file of text"
            raise Refused([FileUnreadable(None, shown, why)])
        if found.st_size > SIZE_LIMIT:
            raise Refused([FileTooLarge(None, found.st_size, SIZE_LIMIT)])
        with path.open("rb") as file:
            data = file.read(SIZE_LIMIT + 1)
    except FileNotFoundError:
        raise Refused([FileMissing(None, shown)]) from None
    except (OSError, ValueError) as error:  # ValueError: a path with a zero character in it
        why = getattr(error, "strerror", None) or str(error)
        raise Refused([FileUnreadable(None, shown, why.lower())]) from None
    if len(data) > SIZE_LIMIT:  # it grew while it was read
        raise Refused([FileTooLarge(None, len(data), SIZE_LIMIT)])
    return data
