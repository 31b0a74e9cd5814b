"""Options that several commands share: which version of a card is meant."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

import click

_OPTIONS = (
    click.option("--variant", metavar="NAME", help="The variant of this name, a block of the script."),
    click.option("--cover", metavar="WxH", help="Another cover: `100x150`, or `4 in x 6 in` in quotes."),
    click.option("--mat", metavar="WxH", help="Another mat."),
    click.option("--paper", "papers", multiple=True, metavar="'NAME ...'",
                 help="Another sheet for a paper, as in the script: 'weed caliper 0.3'. May be given several times."),
)


def asks(command: Callable[..., None]) -> Callable[..., None]:
    """Gives a command these options, as one argument `asked` (a `foldwright.asked.Asked`)."""

    @wraps(command)
    def call(*args: Any, variant: str | None, cover: str | None, mat: str | None, papers: tuple[str, ...], **rest: Any) -> None:
        from foldwright.asked import Asked

        command(*args, asked=Asked(variant, cover, mat, papers), **rest)

    for option in reversed(_OPTIONS):
        call = option(call)
    return call
