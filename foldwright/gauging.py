"""`foldwright gauge`: coupons to cut before the card, and the line of a paper with what was read from one."""

from __future__ import annotations

import json
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import click

from foldwright.asked import Asked
from foldwright.emit import write_folder
from foldwright.emit.coupon import Coupon, NoRoom, coupon
from foldwright.emit.coupon_page import Made, coupon_page
from foldwright.emit.names import Unique, file_word
from foldwright.grammar import Design, Refused, read, read_text
from foldwright.grammar.constant import NotConstant, length
from foldwright.grammar.problems import MissingStatement, ValueWrong
from foldwright.grammar.source import Span
from foldwright.grammar.units import MM_PER_UNIT
from foldwright.new_file import write_new
from foldwright.solver.machine import machine
from foldwright.solver.papers import papers, solved
from foldwright.solver.practice import HABITS
from foldwright.solver.variants import varied
from foldwright.solver.written import CALIPERS, edited_text

# Without a script: cardstock, on what fits A4 with a border of 15 mm or more, which small machines reach too.
WITHOUT_SCRIPT = """card "Cardstock"
  units mm
cover 100 x 140
paper cardstock colour #d9c39a
mat 180 x 260
"""
PAGE = "how-to-read.html"


def gauged_design(file: Path | None, asked: Asked) -> Design:
    """The design whose papers are gauged: of a script, or cardstock on a mat of our own. It need not be possible as a card."""
    design = read_text(WITHOUT_SCRIPT) if file is None else read(file)
    for variant in asked.variants(design):
        design = varied(design, variant)
    return design


def coupons(design: Design) -> list[Coupon]:
    """A coupon for each paper that sheets are cut from; raises Refused if there is none, or no mat takes one."""
    tool = machine(design)
    if not tool.mats:
        tool = replace(tool, mats=machine(read_text(WITHOUT_SCRIPT)).mats)
    wanted = papers(design)
    if not wanted:
        raise Refused([MissingStatement(design.at, "paper", "paper ink colour #22304a weight 216 gsm")])
    thick = f"at most {float(CALIPERS[1]):g} mm for a coupon"
    faults = [ValueWrong(paper.at if paper.thickness is None else paper.thickness.at, f"the caliper of {paper.name.text}", thick)
              for paper in design.papers if solved(paper).caliper > CALIPERS[1] and paper.name.text in wanted]
    if faults:
        raise Refused(faults)
    habits = _habits(design)
    border = 2 * habits["sheet.border"]
    tool = replace(tool, mats=tuple((width - border, height - border) for width, height in tool.mats))
    try:
        return [coupon(design.title, paper, tool, habits) for paper in wanted.values()]
    except NoRoom as fault:
        largest = max(design.mats, key=lambda mat: mat.width * mat.height)
        size = f"at least {fault.needs[0]:g} mm x {fault.needs[1]:g} mm for a coupon"
        raise Refused([ValueWrong(largest.at, "the mat", size)]) from fault


def _habits(design: Design) -> dict[str, float]:
    """Workshop practice by name in mm, with what the script sets to a plain length."""
    habits = {habit.name: float(habit.value) for habit in HABITS}
    for practice in design.practices:
        with suppress(NotConstant):  # what else stands there is told when the card is checked
            habits[practice.name.text] = float(length(practice.value, design.unit, practice.name.text, "8 mm"))
    return habits


def write_coupons(file: Path | None, design: Design, out: Path) -> tuple[list[Coupon], list[Path]]:
    """Write the coupons of a design and the page that tells how to read them into a folder, all or none."""
    from foldwright.emit.dxf import write_dxf
    from foldwright.emit.svg import write_svg

    unique, files, made = Unique(), dict[str, bytes](), list[Made]()
    found = coupons(design)
    for one in found:
        name = unique(f"coupon-{file_word(one.paper.name)}")
        files[f"{name}.svg"], files[f"{name}.dxf"] = write_svg(one.drawing), write_dxf(one.drawing)
        made.append(Made(one, name, files[f"{name}.svg"]))
    files[PAGE] = coupon_page(design.title, None if file is None else file.name, machine(design), made)
    write_folder(out, files, "coupons")
    return found, [out / name for name in sorted(files)]


def take_readings(file: Path | None, design: Design, readings: Sequence[str], target: Path | None, asked: Asked,
                  as_json: bool) -> None:
    """Print the lines of papers with what was read, and write the script with them into a new file; raises UsageError."""
    if file is None:
        raise click.UsageError("--read is about a paper of a script; name the script too")
    if asked.changes():
        raise click.UsageError("--read is about what FILE says; take away " + ", ".join(option for option, _ in asked.changes()))
    lines = dict(reading(design, given) for given in readings)
    if target is not None:
        write_new(target, edited_text(design.source.text, [(at.start, at.end, line) for at, line in lines.items()]))
    if as_json:
        click.echo(json.dumps({"lines": list(lines.values()), "written": target and str(target)}, indent=2))
        return
    click.echo("\n".join(lines.values()))
    if target is not None:
        click.echo(f"{target} is {file} with {'these lines' if len(lines) > 1 else 'this line'}")


def reading(design: Design, given: str) -> tuple[Span, str]:
    """Where a paper's line stands, and the line with a caliper that was read: `weed=0.28`, in mm, or with a unit.

    Raises UsageError.
    """
    name, equals, value = (part.strip() for part in given.partition("="))
    declared = {paper.name.text: paper for paper in design.papers}
    if not equals:
        raise click.UsageError(f"--read {given!r}: write the paper and the slot that holds it, as in --read weed=0.28")
    if name not in declared:
        raise click.UsageError(f"--read {given!r}: the script has no paper {name!r}; it has {', '.join(declared) or 'none'}")
    paper, text = declared[name], _caliper(given, value)
    at = paper.thickness
    if paper.caliper is None or at is None:
        return paper.at, f"{paper.at.text.rstrip()}  caliper {text}"
    return paper.at, f"{paper.at.text[:at.at.start - paper.at.start]}{text}{paper.at.text[at.at.end - paper.at.start:]}"


def _caliper(given: str, value: str) -> str:
    """A caliper as a script has it, with its unit."""
    number, unit = value, "mm"
    for ending in ("mm", "in"):
        if value.endswith(ending):
            number, unit = value.removesuffix(ending).strip(), ending
    try:
        size = Fraction(number) * MM_PER_UNIT[unit]
    except (ValueError, ZeroDivisionError):
        raise click.UsageError(f"--read {given!r}: {value!r} is not the width of a slot, such as 0.28") from None
    least, most = CALIPERS
    if not least <= size <= most:
        raise click.UsageError(f"--read {given!r}: a caliper is {float(least):g} to {float(most):g} mm; write what stands at the "
                               "slot, such as 0.28")
    return f"{number} {unit}"
