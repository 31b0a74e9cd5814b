"""foldwright: a compiler for pop-up cards. A short script becomes proved cut sheets.

    from foldwright import build, check, find, pose

Each function takes the path of a script and raises `foldwright.grammar.Refused` with all problems if the script has
faults or its rules cannot hold together.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from foldwright.api import Checked, build, check, find, fixed_script, pose

__version__ = "0.1.0"
__all__ = ["Checked", "__version__", "build", "check", "find", "fixed_script", "pose"]


def __getattr__(name: str) -> object:
    """Load the functions when first used: the command line has to start quickly."""
    if name in __all__:
        from foldwright import api

        return getattr(api, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
