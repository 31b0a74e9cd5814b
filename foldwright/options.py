"""Options of commands: which version of a card is meant, and which files of it are wanted."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

import click

_OPTIONS = (
    click.option("--variant", metavar="NAME", help="The variant of this name, a block of the script."),
    click.option("--cover", metavar="WxH", help="Another cover: `100x150`, or `4 in x 6 in` in quotes."),
    click.option("--mat", "mats", multiple=True, metavar="WxH", help="Another mat; several if given several times."),
    click.option("--creases", metavar="HOW", help="`creased`, `perforated`, `ticked` or `half-cut`; with its lengths in quotes:"
                                                  " 'perforated dash 3 gap 2'."),
    click.option("--kerf", metavar="WIDTH", help="Width that the tool takes away: `0.15 mm` for a laser, 0 for a drag blade."),
    click.option("--printed", metavar="SIDE", help="`up` or `down`: how the printed side of the sheets lies on the mat."),
    click.option("--joints", metavar="HOW", help="`overlap`, `strip` or `none`: how a part too long for the mat is pieced."),
    click.option("--paper", "papers", multiple=True, metavar="'NAME ...'",
                 help="Another sheet for a paper, as in the script: 'weed caliper 0.3'. May be given several times."),
)


def asks(command: Callable[..., None]) -> Callable[..., None]:
    """Gives a command these options, as one argument `asked` (a `foldwright.asked.Asked`)."""

    @wraps(command)
    def call(*args: Any, variant: str | None, cover: str | None, mats: tuple[str, ...], papers: tuple[str, ...],
             creases: str | None, kerf: str | None, printed: str | None, joints: str | None, **rest: Any) -> None:
        from foldwright.asked import Asked

        command(*args, asked=Asked(variant, cover, mats, papers, creases, kerf, printed, joints), **rest)

    for option in reversed(_OPTIONS):
        call = option(call)
    return call


_FILES = (
    click.option("--pages", type=click.Choice(["a4", "letter", "both", "none"]), default="both", show_default=True,
                 help="Template pages as PDF, true size, for cutting by hand."),
    click.option("--dxf", type=click.Choice(["R2000", "R2010"], case_sensitive=False), default="R2010", show_default=True,
                 help="Version of DXF files; R2000 for older programs."),
    click.option("--dxf-curves", type=click.Choice(["arcs", "splines"]), default="arcs", show_default=True,
                 help="Curves in DXF files: arcs of circles in one closed line (within 0.02 mm, read by most machines), or exact"
                      " splines, which divide the outline into several lines."),
    click.option("--per-operation", is_flag=True, help="Also a file for each operation of a sheet: cuts, creases, marks."),
    click.option("--labels", type=click.Choice(["hidden", "all", "none"]), default="hidden", show_default=True,
                 help="Part numbers where glue hides them (where nothing does: beside the part in all-parts and on pages), on"
                      " all parts that have room, or none."),
    click.option("--tighten", type=click.FloatRange(min=1), metavar="SECONDS",
                 help="Look so long for fewer sheets than the usual layout needs. What is found is kept beside FILE (NAME.layout)"
                      " and used from then on, until the parts change."),
)


def wants(command: Callable[..., None]) -> Callable[..., None]:
    """Gives a command these options, as one argument `wanted` (a `foldwright.emit.Wanted`)."""

    @wraps(command)
    def call(*args: Any, pages: str, dxf: str, dxf_curves: str, per_operation: bool, labels: str, tighten: float | None,
             **rest: Any) -> None:
        from foldwright.emit import Curves, Labels, Wanted

        forms = {"both": ("a4", "letter"), "none": ()}.get(pages, (pages,))
        command(*args, wanted=Wanted(forms, dxf, per_operation, Labels(labels), tighten or 0.0, Curves(dxf_curves)), **rest)

    for option in reversed(_FILES):
        call = option(call)
    return call
