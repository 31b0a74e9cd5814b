"""Problems of a script file as a whole: it is not there, cannot be read, or holds nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from foldwright.grammar.problem import Problem


@dataclass(frozen=True)
class FileMissing(Problem):
    """There is no file at the path that was given.

    The path is taken from the folder in which the command runs. Check its spelling, and whether the file ends
    in `.card`.
    """

    code: ClassVar[str] = "file-missing"
    path: str

    def wrong(self) -> str:
        """Name the path."""
        return f"there is no file `{self.path}`"

    def hints(self) -> tuple[str, ...]:
        """Check the path."""
        return ("check the spelling of the path, and the folder that it starts from",)


@dataclass(frozen=True)
class FileUnreadable(Problem):
    """The path leads to something that cannot be read as a script.

    It is a folder or a device, or a file that you have no permission for.
        Name a text file, and see that you are allowed to read it.
    """

    code: ClassVar[str] = "file-unreadable"
    path: str
    why: str

    def wrong(self) -> str:
        """Name the path and the cause."""
        return f"`{self.path}` cannot be read: {self.why}"

    def hints(self) -> tuple[str, ...]:
        """Name a text file."""
        return ("name a text file that you may read",)


@dataclass(frozen=True)
class FileTooLarge(Problem):
    """The file is far larger than any script, so that it is probably something else.

    A card script is a page or two of text. The limit is 1 000 000 bytes. Name the script itself; artwork
    stays in its own file and is named in the script:

        art "art/weed.svg"
    """

    code: ClassVar[str] = "file-too-large"
    size: int
    limit: int

    def wrong(self) -> str:
        """Give the size and the limit."""
        return f"this script has {self.size} bytes, and more than {self.limit} are not read"

    def hints(self) -> tuple[str, ...]:
        """Say what a script is."""
        return ("a script is a page or two of text: is this the right file?",)


@dataclass(frozen=True)
class NotUtf8(Problem):
    """The file holds bytes that are not text in UTF-8.

    Scripts are plain text in the UTF-8 encoding, which nearly every editor writes. The place shown is the
    first byte that does not fit. Save the file again and choose UTF-8 as its encoding.
    """

    code: ClassVar[str] = "not-utf8"

    def wrong(self) -> str:
        """Say that the bytes are no text."""
        return "from here on, the file is not text in UTF-8"

    def hints(self) -> tuple[str, ...]:
        """Save it again."""
        return ("save the file as plain text with the encoding UTF-8",)


@dataclass(frozen=True)
class EmptyFile(Problem):
    """The script has no statement: it is empty, or all of it is comment.

    The least that a script needs is a title and a cover. This is not enough:

        # the tide pool comes here

    and this is:

        card "Tide pool"
          units mm
        cover 130 x 180
    """

    code: ClassVar[str] = "empty-file"

    def wrong(self) -> str:
        """Say that nothing is there."""
        return "this script says nothing"

    def hints(self) -> tuple[str, ...]:
        """Show how a script begins."""
        return ('begin with a title, `card "Tide pool"`, and a cover, `cover 130 mm x 180 mm`',)
