"""The page that tells how to read coupons: plain HTML, one file, nothing from elsewhere."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from html import escape
from typing import NamedTuple

from foldwright.emit.coupon import SQUARE, STEP, Coupon
from foldwright.emit.report import CAUTIONS
from foldwright.emit.svg import legend
from foldwright.solver.card import Machine

_STYLE = """
body { font: 16px/1.5 system-ui, sans-serif; color: #1c1c24; background: #fff; max-width: 46rem; margin: 2rem auto;
  padding: 0 1rem }
h1 { font-size: 1.6rem } h2 { font-size: 1.2rem; margin-top: 2rem }
code { background: #f1f1f4; padding: 0 .2em } img { max-width: 100%; border: 1px solid #ccc }
table { border-collapse: collapse } td, th { border: 1px solid #ccc; padding: .2rem .6rem; text-align: left }
td:last-child { white-space: nowrap }
.swatch { display: inline-block; width: 1em; height: 1em; border: 1px solid #888; vertical-align: -.1em }
@media print { body { margin: 0; max-width: none } section { break-inside: avoid } }
"""
_SLIVERS = "Slivers: the slots leave slivers of paper. Keep them from eyes, machines and children."


class Made(NamedTuple):
    """A coupon, the name of its files (without ending), and its SVG."""

    coupon: Coupon
    name: str
    svg: bytes


def coupon_page(title: str, script: str | None, machine: Machine, made: Sequence[Made]) -> bytes:
    """The page for some coupons (at least one), UTF-8; `script` is the name of the script that the readings go into."""
    head = f"{escape(title)}: coupons"
    sections = (_cut(machine), _square(), _comb(script, made), _folds(machine), _perforations(), _picture(made[0]),
                _section("With care", _items((_SLIVERS, *CAUTIONS))))
    body = "\n".join((f"<h1>{head}</h1>", *sections))
    page = ('<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
            '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
            f"<title>{head}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n")
    return page.encode()


def _section(head: str, *paragraphs: str) -> str:
    whole = (text if text.startswith(("<table", "<ul", "<img")) else f"<p>{text}</p>" for text in paragraphs)
    return "\n".join(("<section>", f"<h2>{head}</h2>", *whole, "</section>"))


def _items(texts: Sequence[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(text)}</li>" for text in texts) + "</ul>"


def _cut(machine: Machine) -> str:
    if machine.kerf:
        kerf = (f"The coupons allow for a kerf of {machine.kerf:g} mm, as the script says: outlines are drawn larger and slots "
                "narrower by it. So the machine's own program must not allow for it once more. If the kerf is really a little "
                "more or less, all slots of the coupon are, as those of the card: the reading of the comb makes up for it.")
    else:
        kerf = ("The coupons are drawn for a tool that takes nothing away, such as a drag blade. For a laser write its "
                "<code>kerf</code> into the script first, and make the coupons again. To find it, cut ten squares as they are "
                f"drawn here: what they lack of {10 * SQUARE:g} mm, laid side by side, divided by ten, is the kerf.")
    return _section(
        "1. Cut",
        "Cut one coupon from each paper, with the blade, the pressure and the mat that you will use for the card. Lay the sheet "
        "as you will lay it for the card: folds behave differently along and across the grain. All sizes are in mm.",
        "A machine without a pen leaves out the words and numbers. Then write them on, as on the picture below, before you take "
        "the pieces off the mat: nothing else tells them apart.",
        kerf, legend(machine.creases))


def _square() -> str:
    less, more = SQUARE * 72 / 96, SQUARE * 96 / 72  # readers that take a pixel for a point, or the other way round
    return _section(
        "2. Measure the square",
        f"Lay a ruler along both sides of the square. Both measure {SQUARE:g} mm: go on.",
        f"Something else on both sides: the machine's program has read the file at a wrong scale ({less:.1f} or {more:.1f} mm "
        f"are common). Set it to millimetres, or enlarge by {SQUARE:g} divided by what you measured, and cut again before you "
        "read anything else.",
        "Only one side is wrong: the machine itself has to be set right, as its maker says.")


def _comb(script: str | None, made: Sequence[Made]) -> str:
    first = made[0].coupon
    slot = f"{first.slots[len(first.slots) // 2]:.2f}"
    into = f"The reading goes into the script, into the line of the paper, as <code>caliper {slot} mm</code> for example."
    if script is not None:
        call = escape(f"foldwright gauge {script} --read {first.paper.name}={slot}")
        into += (f" <code>{call}</code> prints the whole line to write; with <code>--write NEW.card</code> behind it, it writes "
                 "the script with that line into a new file. Then find and build the card again: its slots follow the caliper.")
    thin = ", ".join(one.coupon.paper.name for one in made if one.coupon.slots[0] > one.coupon.paper.caliper - STEP
                     and one.coupon.paper.caliper)
    too_thin = [f"A cut takes away so much that no slot is narrower than the paper ({escape(thin)}). Where even the first one is "
                "loose, measure a pile of ten sheets pressed together, and divide by ten."] if thin else []
    return _section(
        "3. Read the comb",
        "Take the strip “try me” and push its edge into the slots of the comb, from wide ones to narrow ones. <b>The narrowest "
        "slot that the paper slides into without force, and that holds it so that it does not rattle, is the caliper.</b> "
        "Between two slots take the wider one.",
        "Pick the slivers out of the slots first. Paper that was bent at its edge reads too thick: turn the strip round.",
        _table(made), *too_thin, into,
        "No slot fits: write the end that is nearest as the caliper, make the coupon again, and cut it once more.")


def _table(made: Sequence[Made]) -> str:
    rows = []
    for coupon, _, _ in made:
        paper, slots = coupon.paper, coupon.slots
        swatch = f'<span class="swatch" style="background:{escape(paper.colour)}"></span>'
        known = "not known" if not paper.caliper else f"{paper.caliper:.3g} mm"
        if paper.caliper and paper.estimated:
            known += ", an estimate from the weight: papers of one weight differ"
        rows.append(f"<tr><td>{swatch} {escape(paper.name)}</td><td>{known}</td><td>{slots[0]:.2f} to {slots[-1]:.2f}</td></tr>")
    return f"<table><tr><th>paper</th><th>caliper so far</th><th>slots</th></tr>{''.join(rows)}</table>"


def _folds(machine: Machine) -> str:
    made = {
        "perforated": "They are perforated, as the script says.",
        "ticked": "They have marks at both ends only, as the script says: fold along a ruler.",
        "half-cut": "They are half cut, as the script says: set the blade with them, so that it does not go through.",
    }.get(machine.creases, "They are pressed, not cut: set the pressure of the tool with them.")
    return _section(
        "4. Try the folds",
        f"Two strips have a valley and a mountain fold each. {made} Fold each to and fro ten times.",
        "The strip that folds more easily and cleanly has its folds along the grain. If it is the strip “up”, the grain of this "
        "sheet runs up the mat, and <code>grain along</code> belongs into the line of the paper; if it is “across”, "
        "<code>grain across</code>.",
        "Where the outside of a fold cracks, press less, or lay the sheets so that the main folds run along the grain.")


def _perforations() -> str:
    return _section(
        "5. Try the perforations",
        "Beside each stands the length of its cuts and of the bridges between them. The first is what a perforated card would "
        "get now. Take the one that folds straight and does not tear when it is folded to and fro; if it is not the first, write "
        "it into the script: <code>creases perforated dash 3 mm gap 2 mm</code>.")


def _picture(made: Made) -> str:
    coupon, name, svg = made
    width, height, paper = f"{coupon.drawing.width:g}", f"{coupon.drawing.height:g}", escape(coupon.paper.name)
    return _section(
        f"The coupon of {paper}",
        f"It takes {width} mm x {height} mm of the sheet; its files are {escape(name)}.svg and {escape(name)}.dxf. This picture "
        "is not for measuring: a screen shows it at some other size.",
        f'<img alt="The pieces of the coupon of {paper}" style="width:{width}mm" '
        f'src="data:image/svg+xml;base64,{b64encode(svg).decode()}">')
