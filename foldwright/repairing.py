"""`check --apply K`: the script with one of the changes made that the messages about it number."""

from __future__ import annotations

import json
from pathlib import Path

import click

from foldwright.api import applied, repairs
from foldwright.asked import Asked
from foldwright.command import run
from foldwright.new_file import wanted_new, write_new


def apply(file: Path, number: int | None, target: Path | None, asked: Asked, as_json: bool, seconds: float) -> None:
    """Print the changed script, or write it into a new file; raises UsageError for what cannot be done."""
    if number is None:
        raise click.UsageError("--write goes with --apply K: which of the changes is to be written?")
    wanted_new(target)
    if asked.changes():
        raise click.UsageError("--apply changes what FILE says; take away " + ", ".join(option for option, _ in asked.changes()))
    script, found = run(lambda bar: (script := asked.design(file), repairs(script, bar, seconds)), as_json)
    if not found.changes:
        raise click.UsageError(f"no changes of {file} are known; `foldwright check {file}` tells whether it holds")
    if number > len(found.changes):
        listing = "".join(f"\n  [{n}] {change.words}" for n, change in enumerate(found.changes, 1))
        raise click.UsageError(f"there is no change {number}; there are these:{listing}")
    change = found.changes[number - 1]
    text = applied(script, change)
    if target is not None:
        write_new(target, text)
    if as_json:
        made = {"number": number, "words": change.words, "whole_card": change.whole}
        click.echo(json.dumps({"version": "1", "change": made, "script": text, "written": target and str(target)}, indent=2))
    elif target is None:
        click.echo(text, nl=not text.endswith("\n"))
    else:
        click.echo(f"{target} is {file} with change {number} made: {change.words}")
