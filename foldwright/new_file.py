"""A new file beside a script: never over another one, and a plain sentence if it cannot be written."""

from __future__ import annotations

from pathlib import Path

import click


def wanted_new(target: Path | None) -> None:
    """Raises UsageError if a file that is to be written is there already; asked before the work begins."""
    if target is not None and target.exists():
        raise click.UsageError(f"{target} exists already; choose another name, so that nothing is lost")


def write_new(target: Path, text: str) -> None:
    """Write a text with its own line ends into a file that is not there yet, all or nothing; raises UsageError."""
    made = False
    try:
        with target.open("x", encoding="utf-8", newline="") as new:
            made = True
            new.write(text)
    except BaseException as error:
        if made:
            target.unlink(missing_ok=True)
        if not isinstance(error, OSError):
            raise
        raise click.UsageError(f"{target} cannot be written: {(error.strerror or str(error)).lower()}") from None
