"""The command line. Exit status: 0 done, 1 the card has problems, 2 the call was wrong, 3 a fault of ours."""

from __future__ import annotations

import json
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from foldwright.interrupt import interruptible
from foldwright.new_file import wanted_new, write_new
from foldwright.options import asks, wants

if TYPE_CHECKING:
    from foldwright.api import Checked
    from foldwright.asked import Asked
    from foldwright.emit import Wanted

STAGES = 8  # words that a build says before it is done; only the length of the bar depends on it

OVERVIEW = """Compile the script of a pop-up card into proved cut sheets.

A script (suffix .card) says what the card is: cover, papers, mat, layers and how they attach. Dimensions may be
fixed (`wall 60`), ranges (`wall 50 to 80`) or left out; foldwright finds them, proves by geometry that the card closes
and fits, and writes SVG and DXF sheets at true size.

\b
A first card:
  card "First tent"
    units mm
  cover 100 x 150
    paper ink
  tent house on spine
    paper sand
  prefer largest house.height
  paper ink   colour #22304a  weight 216 gsm
  paper sand  colour #d9c39a  caliper 0.25
  mat 11.5 in x 11.5 in

\b
  foldwright check first.card            does it hold, and what limits it
  foldwright find first.card             the dimensions found
  foldwright find first.card --cover 90x140   the same card for another cover, found again
  foldwright swing first.card            from closed to open: what jams, rubs or sticks out
  foldwright gauge first.card --out try  a coupon of each paper, to be cut first, and how to read it
  foldwright build first.card --out cut  sheets, template pages and report into the folder `cut`

Blades cut: keep fingers behind the blade and a mat under the work. Small parts are not for young children. Follow the
maker's instructions of machine and glue, and your local rules.
"""


class Bar:
    """A progress line on a terminal, drawn by a thread once the work has taken a second; silent when piped.

    The bar counts stages done; the seconds show that a long search is alive, and what it has so far that it gets on.
    """

    def __init__(self) -> None:
        self.words = ""
        self.noted = False
        self.count = 0
        self.done = threading.Event()
        self.thread: threading.Thread | None = None
        if sys.stderr.isatty():
            self.thread = threading.Thread(target=self._draw, daemon=True)
            self.thread.start()

    def __call__(self, words: str) -> None:
        """Say what is being done now. How far a stage has come (`Going` of the solver's progress) is no stage of its own."""
        if not getattr(words, "within_stage", False):
            self.count += 1
            self.noted = False
        if not self.noted:
            self.words = words

    def note(self, words: str) -> None:
        """Say something that stays until the next stage."""
        self.words, self.noted = words, True

    def _draw(self) -> None:
        seconds = 1.0
        while not self.done.wait(1.0 if seconds == 1.0 else 0.5):
            filled = min(19, 20 * self.count // STAGES)
            click.echo(f"\r\033[K[{'=' * filled}{' ' * (20 - filled)}] {self.words} ({seconds:.0f} s)", nl=False, err=True)
            seconds += 0.5
        if seconds > 1.0:
            click.echo("\r\033[K", nl=False, err=True)

    def close(self) -> None:
        """Clear the line."""
        self.done.set()
        if self.thread is not None:
            self.thread.join()


def run(work: Callable[[Bar], Any], as_json: bool) -> Any:
    """Do the work; show problems and leave with the right status if it fails."""
    from foldwright.emit import FolderRefused
    from foldwright.grammar import Refused, render
    from foldwright.grammar import as_json as problem_json
    from foldwright.solver.proof import ProofFailed

    bar = Bar()
    try:
        with interruptible(bar.note):
            return work(bar)
    except Refused as refused:
        bar.close()
        if as_json:
            click.echo(json.dumps({"holds": False, "problems": [problem_json(p) for p in refused.problems]}, indent=2))
        else:
            click.echo(render(refused.problems, colour=sys.stderr.isatty()), err=True)
        raise SystemExit(getattr(refused, "status", 1)) from None  # 2 if the call asked for something wrong
    except FolderRefused as refused:
        bar.close()
        raise click.UsageError(str(refused)) from None
    except ProofFailed as failed:
        bar.close()
        click.echo(f"internal error: the proof failed at the check `{failed.check}`: {failed.detail}\n"
                   "Nothing was written. This is a fault of foldwright, not of the script; please report it with the script.",
                   err=True)
        raise SystemExit(3) from None
    except (KeyboardInterrupt, click.exceptions.Exit, SystemExit):
        bar.close()
        raise
    except Exception as error:
        bar.close()
        click.echo(f"internal error: {type(error).__name__}: {error}\nNothing was written. Please report it with the script.",
                   err=True)
        raise SystemExit(3) from error
    finally:
        bar.close()


SCRIPT = click.argument("file", type=click.Path(path_type=Path))
JSON = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
SECONDS = click.option("--seconds", type=click.FloatRange(min=0.01), default=60, show_default=True,
                       help="Stop searching after so many seconds; a wish that is not proved by then is marked.")

LIMITS = click.option("--limits", "limited", is_flag=True,
                      help="Also tell what limits each wish, and what other numbers of the script would buy.")


@click.group(help=OVERVIEW, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="foldwright")
def main() -> None:
    """Entry point of the command `foldwright`."""


@main.command()
@SCRIPT
@click.option("--out", required=True, type=click.Path(path_type=Path), help="Folder for the files; made if missing.")
@click.option("--variants", "every", is_flag=True, help="The card as written and all its variants, a folder each: all or none.")
@wants
@asks
@JSON
@SECONDS
def build(file: Path, out: Path, every: bool, wanted: Wanted, asked: Asked, as_json: bool, seconds: float) -> None:
    """Write cut sheets (SVG, DXF), template pages (PDF) and the report of FILE into a folder: all files or none."""
    from foldwright.api import build as make
    from foldwright.api import build_variants
    from foldwright.tables import paper_lines

    built: list[Checked] = []
    notes: list[str] = []
    if every and asked:
        raise click.UsageError("--variants writes them all; take it away, or the other changes of the card")
    work = ((lambda bar: build_variants(file, out, bar, seconds, wanted, notes.append)) if every
            else lambda bar: make(asked(file), out, bar, seconds, wanted, built.append, notes.append))
    written = run(work, as_json)
    if as_json:
        click.echo(json.dumps({"holds": True, "files": [str(path) for path in written], "notes": notes}, indent=2))
    else:
        click.echo(f"{len(written)} files in {out}")
        for path in written:
            click.echo(f"  {path.relative_to(out)}")
        for line in (*notes, *(line for checked in built for line in paper_lines(checked))):
            click.echo(line)


@main.command()
@SCRIPT
@click.option("--rules", "every", is_flag=True, help="List all rules by their names, block by block.")
@LIMITS
@click.option("--apply", "number", type=click.IntRange(min=1), metavar="K",
              help="Print FILE with change K made, of those that the messages about FILE number; comments and layout stay.")
@click.option("--write", "target", type=click.Path(path_type=Path, dir_okay=False),
              help="With --apply: write it into this file (not into FILE itself) instead.")
@asks
@JSON
@SECONDS
def check(file: Path, every: bool, limited: bool, number: int | None, target: Path | None, asked: Asked, as_json: bool,
          seconds: float) -> None:
    """Tell whether the rules of FILE hold, with the slack of each, or which cannot hold together, and what would help."""
    if number is not None or target is not None:
        from foldwright.repairing import apply

        apply(file, number, target, asked, as_json, seconds)
        return
    from foldwright.api import check as work
    from foldwright.rules_table import rules_table
    from foldwright.tables import checked_json, slack_table

    checked: Checked = run(lambda bar: work(asked(file), bar, seconds), as_json)
    data, text = _limits(checked, limited, as_json, seconds)
    if as_json:
        click.echo(json.dumps({**checked_json(checked), **data}, indent=2))
    else:
        click.echo((rules_table(checked) if every else slack_table(checked)) + text)


@main.command()
@SCRIPT
@click.option("--write", "target", type=click.Path(path_type=Path, dir_okay=False),
              help="Write the script with the dimensions found into this file (not into FILE itself).")
@click.option("--alternatives", "count", type=click.IntRange(1, 26), metavar="N",
              help="Show N clearly different answers side by side, none better than another in every wish.")
@click.option("--out", type=click.Path(path_type=Path),
              help="With --alternatives: folder for a contact sheet and a script of each answer; made if missing.")
@LIMITS
@click.option("--variants", "every", is_flag=True, help="The card as written and all its variants side by side.")
@asks
@JSON
@SECONDS
def find(file: Path, target: Path | None, count: int | None, out: Path | None, limited: bool, every: bool, asked: Asked,
         as_json: bool, seconds: float) -> None:
    """Find the dimensions of FILE and print them; with --write also as a script of fixed values."""
    from foldwright.api import check as work
    from foldwright.api import fixed_script
    from foldwright.tables import found_json, found_table

    if count is not None and target is not None:
        raise click.UsageError("--write takes one answer; with --alternatives use --out, which writes a script of each")
    if out is not None and count is None:
        raise click.UsageError("--out goes with --alternatives; for the sheets of a card use `foldwright build`")
    if every and (target is not None or count is not None or asked.variant is not None):
        raise click.UsageError("--variants shows all variants; --write, --alternatives and --variant are about one of them")
    if limited and (every or count is not None):
        raise click.UsageError("--limits is about the one card that is found; --variants and --alternatives show several")
    if every:
        _variants(file, asked, as_json, seconds)
        return
    if count is not None:
        _alternatives(file, asked, count, out, as_json, seconds)
        return
    wanted_new(target)
    # what is written has to stand in a text, so that text is what is solved
    script = asked if target is None else asked.script
    checked: Checked = run(lambda bar: work(script(file), bar, seconds), as_json)
    if target is not None:
        write_new(target, fixed_script(checked))
    data, text = _limits(checked, limited, as_json, seconds)
    click.echo(json.dumps({**found_json(checked), **data}, indent=2) if as_json else found_table(checked) + text)


def _limits(checked: Checked, limited: bool, as_json: bool, seconds: float) -> tuple[dict[str, Any], str]:
    """What `--limits` adds to the JSON values and to the text of a checked card; nothing if it is not asked for."""
    if not limited:
        return {}, ""
    from foldwright.api import limits
    from foldwright.limits_table import limits_json, limits_table

    found = run(lambda bar: limits(checked, bar, seconds), as_json)
    return {"limits": limits_json(found, checked.card.unit)}, "\n\n" + limits_table(found, checked.card.unit)


def _variants(file: Path, asked: Asked, as_json: bool, seconds: float) -> None:
    """`find --variants`: the card and its variants, and one more for what the call itself changes; status 1 if one fails."""
    from foldwright.api import design_of
    from foldwright.tried import Tried, try_all
    from foldwright.variant_table import holds, variants_json, variants_table

    def work(bar: Bar) -> list[Tried]:
        design = design_of(file)
        return try_all(design, asked.given(design) if asked else None, bar, seconds)

    tries = run(work, as_json)
    click.echo(json.dumps(variants_json(tries), indent=2) if as_json else variants_table(tries, sys.stdout.isatty()))
    if not holds(tries):
        raise SystemExit(1)


def _alternatives(file: Path, asked: Asked, count: int, out: Path | None, as_json: bool, seconds: float) -> None:
    """`find --alternatives`: print the answers, and write them with their contact sheet if a folder is given."""
    from foldwright.alternatives_table import alternatives_json, alternatives_table
    from foldwright.api import alternatives

    others, written = run(lambda bar: alternatives(asked.script(file) if asked else file, count, out, bar, seconds), as_json)
    if as_json:
        click.echo(json.dumps({**alternatives_json(others), "files": [str(path) for path in written]}, indent=2))
        return
    click.echo(alternatives_table(others))
    if out is not None:
        click.echo(f"{len(written)} files in {out}: {', '.join(path.name for path in written)}")


@main.command()
@SCRIPT
@click.option("--angle", "angles", multiple=True, required=True, type=click.FloatRange(0, 180),
              help="Opening angle in degrees, 0 closed; may be given several times.")
@asks
@click.option("--json", "as_json", is_flag=True, help="The output is JSON with or without it.")
def pose(file: Path, angles: tuple[float, ...], asked: Asked, as_json: bool) -> None:
    """Print the corners of every panel in space (mm) at the opening angles asked for, as JSON."""
    from foldwright.api import check as work
    from foldwright.emit.report import posed

    checked: Checked = run(lambda bar: work(asked(file), bar), True)
    if max(angles) > checked.card.opens:
        raise click.UsageError(f"the card opens to {checked.card.opens:g} degrees; {max(angles):g} is more")
    click.echo(json.dumps({"version": "1", "poses": posed(checked.card, angles)}, indent=2))


@main.command()
@SCRIPT
@click.option("--step", type=click.FloatRange(min=0.1, max=90),
              help="Degrees from angle to angle; a ninetieth of the opening if left out.")
@asks
@JSON
@SECONDS
def swing(file: Path, step: float | None, asked: Asked, as_json: bool, seconds: float) -> None:
    """Open and close the card of FILE: a table of angles, and whatever jams, rubs or sticks out (then the status is 1)."""
    from foldwright.api import Swung
    from foldwright.api import swing as work
    from foldwright.swing_table import jammed, swing_json, swing_table

    swung: Swung = run(lambda bar: work(asked(file), bar, seconds, step), as_json)
    click.echo(json.dumps(swing_json(swung), indent=2) if as_json else swing_table(swung))
    if jammed(swung.swing):
        raise SystemExit(1)


@main.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the coupons; made if missing.")
@click.option("--read", "readings", multiple=True, metavar="PAPER=MM",
              help="Print the line of FILE for this paper with the slot that held it (weed=0.28). May be given several times.")
@click.option("--write", "target", type=click.Path(path_type=Path, dir_okay=False),
              help="With --read: write FILE with these lines into this file (not into FILE itself).")
@asks
@JSON
def gauge(file: Path | None, out: Path | None, readings: tuple[str, ...], target: Path | None, asked: Asked,
          as_json: bool) -> None:
    """Write coupons to cut first (SVG, DXF), one for each paper of FILE, and a page on how to read them.

    They tell the caliper of the paper at hand, whether the scale is right, and how the paper folds. Without FILE the coupon is
    for cardstock; say more with --paper 'cardstock weight 300 gsm' and --mat.
    """
    from foldwright.gauging import gauged_design, take_readings, write_coupons

    if bool(readings) == (out is not None):
        raise click.UsageError("say where the coupons go with --out FOLDER, or what was read from one with --read PAPER=MM")
    if target is not None and not readings:
        raise click.UsageError("--write goes with --read: what was read from a coupon?")
    wanted_new(target)
    design = run(lambda _: gauged_design(file, asked), as_json)
    if readings:
        take_readings(file, design, readings, target, asked, as_json)
        return
    assert out is not None
    made, written = run(lambda _: write_coupons(file, design, out), as_json)
    if as_json:
        click.echo(json.dumps({"files": [str(path) for path in written], "coupons": [
            {"paper": one.paper.name, "caliper": one.paper.caliper or None, "estimated": one.paper.estimated,
             "slots": list(one.slots)} for one in made]}, indent=2))
        return
    click.echo(f"{len(written)} files in {out}; {written[-1].name} tells how to read them")
    for path in written:
        click.echo(f"  {path.relative_to(out)}")


@main.command()
@click.argument("code")
@JSON
def explain(code: str, as_json: bool) -> None:
    """Explain a problem by its CODE, with an example (the code stands in brackets in front of each problem)."""
    from foldwright.grammar import explain as page
    from foldwright.grammar.problem import nearest, registry

    if code not in registry():
        hint = " ".join(nearest(code, tuple(registry())))
        raise click.UsageError(f"there is no problem with the code {code!r}. {hint}".strip())
    click.echo(json.dumps({"code": code, "page": page(code)}, indent=2) if as_json else page(code))


if __name__ == "__main__":
    main()
