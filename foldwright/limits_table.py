"""What `--limits` prints: what stops each wish, and what other numbers of the script would buy; and the same as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any

from foldwright.solver.limits import Gain, Limit
from foldwright.solver.model import WishResult
from foldwright.solver.wishes import wished
from foldwright.solver.words import amount

SHOWN = 6  # gains of one wish; --json has all
_NOBODY = "Nothing that you wrote stops it: {}."


def limits_table(limits: Sequence[Limit], unit: str) -> str:
    """Wish by wish: the rules that stop it, each at its line, then what would help, the most for the least first."""
    if not limits:
        return "What limits the wishes: the script has no wish (`prefer`)."
    lines = ["What limits the wishes:"]
    for limit in limits:
        lines += _wish(limit, unit)
    if any(limit.gains for limit in limits):
        lines += ["", "Solved with each number written in; `check` of that script tells whether it opens and closes."]
    return "\n".join(lines)


def _wish(limit: Limit, unit: str) -> Iterator[str]:
    yield ""
    yield f"{limit.result.wish.text}: {wished(limit.result.wish, limit.result.value, unit)}"
    if limit.told or limit.earlier:
        yield "  It is stopped by"
        places = [f"line {told.at.line}" if told.at else "" for told in limit.told]
        for place, told in zip(places, limit.told, strict=True):
            yield f"    {place.ljust(max(map(len, places)))}  {told.asks()}: {told.sentence.removesuffix(', as written')}"
        for text in limit.earlier:
            yield f"    your earlier wish, {text}"
    if limit.others:
        yield f"    and in {limit.others} other way{'' if limit.others == 1 else 's'}: more than one rule may have to give way"
    if limit.gains:
        yield "  What would help:"
        yield from (f"    {gain_words(gain, limit.result, unit)}" for gain in limit.gains[:SHOWN])
        if len(limit.gains) > SHOWN:
            yield f"    and {len(limit.gains) - SHOWN} more (--json has them)"
    if limit.undecided:
        yield f"  ({limit.undecided} steps of numbers were too hard to tell)"
    if limit.silent:
        yield f"  ({limit.silent})"
    elif not limit.gains:
        yield "  " + _nothing(limit)


def _nothing(limit: Limit) -> str:
    """Why no single number helps."""
    if limit.yours or limit.earlier:
        return "No step of a single number helps."
    kinds = {told.kind for told in limit.told}
    if kinds <= {"geometry"}:
        return _NOBODY.format("the geometry of folding does")
    if kinds <= {"practice", "usual"}:
        return _NOBODY.format("workshop practice does")
    return _NOBODY.format("geometry and workshop practice do")


def gain_words(gain: Gain, result: WishResult, unit: str) -> str:
    """ "2 mm more for the width of the cover (132) gives 1.5 mm more quay.height (58 mm)"."""
    number, change = gain.number, gain.value - gain.number.value
    sense = "more" if change > 0 else "less"
    step = f"{float(abs(change)):g}"
    if number.dimension in ("length", "angle"):
        step = amount(float(abs(change) * number.size), number.dimension == "angle", unit)
    wish, got = result.wish, gain.reached - result.value
    target = "paper" if wish.text == "least paper" else wish.text.split(" ", 1)[-1]
    bought = wished(wish, abs(got), unit)
    bound = "" if gain.proved else ", or more"
    gives = f"gives {bought} {'more' if got > 0 else 'less'} {target} ({wished(wish, gain.reached, unit)}{bound})"
    return f"{step} {sense} for {number.what} ({number.text(gain.value)}) {gives}"


def limits_json(limits: Sequence[Limit], unit: str) -> list[dict[str, Any]]:
    """The same as JSON values; gains are in the wish's own mm, degrees or mm², numbers as they would be written."""
    return [{
        "wish": limit.result.wish.text,
        "value": float(limit.result.value),
        "rules": [{"name": told.name, "kind": told.kind, "sentence": told.sentence, "line": told.at.line if told.at else None}
                  for told in limit.told],
        "earlier_wishes": list(limit.earlier),
        "other_sets": limit.others,
        "gains": [{"number": gain.number.what, "line": gain.number.at.line, "written": gain.number.at.text,
                   "change_to": gain.number.text(gain.value), "reached": float(gain.reached),
                   "gain": float(_distance(gain, limit.result)), "proved": gain.proved,
                   "words": gain_words(gain, limit.result, unit)} for gain in limit.gains],
        "undecided": limit.undecided,
        "silent": limit.silent,
    } for limit in limits]


def _distance(gain: Gain, result: WishResult) -> Fraction:
    return abs(gain.reached - result.value)
