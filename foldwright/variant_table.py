"""What `find --variants` prints: the card as written and its variants side by side, and in words what changed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from foldwright.grammar import as_json, render
from foldwright.solver.wishes import wished
from foldwright.solver.words import amount
from foldwright.tables import columns, found_json
from foldwright.tried import WRITTEN, Tried, changes
from foldwright.writeback import following

NONE = "-"
SHOWN = 3  # problems told of one variant
TOLD = 3  # dimensions told of those that shrink most, and of those that grow most


def holds(tries: Sequence[Tried]) -> bool:
    """Whether all of them can be made."""
    return all(tried.checked is not None for tried in tries)


def variants_table(tries: Sequence[Tried], colour: bool = False) -> str:
    """One column per variant, one row for whatever differs; below, each variant in words, or why it cannot be made."""
    unit, found = tries[0].design.unit or "mm", [tried for tried in tries if tried.checked is not None]
    title = tries[0].design.title
    lines = [f"{title}: as written{_and_variants(len(tries) - 1)}; each found again, none scaled"]
    rows = [("", *(tried.name for tried in tries)), *_rows(tries, unit)]
    if len(rows) > 1:
        lines += [columns(rows)]
    if len(found) < len(tries):
        lines.append("cannot be made, see below: " + ", ".join(tried.name for tried in tries if tried.checked is None))
    for tried in tries[1:]:
        lines += ["", *_words(tried, tries[0], unit)]
    for tried in tries:
        if tried.checked is None:
            lines += ["", f"{tried.name} cannot be made:", render(tried.problems[:SHOWN], colour).rstrip()]
            more = len(tried.problems) - SHOWN
            if more > 0:
                call = "" if tried.variant is None else f" --variant {tried.name}"
                lines += ["", f"and {more} more problem{'s' if more > 1 else ''}: `foldwright check FILE{call}` shows them all"]
    return "\n".join(lines)


def _and_variants(number: int) -> str:
    return "; it has no variants" if not number else f" and {number} variant{'' if number == 1 else 's'}"


def _rows(tries: Sequence[Tried], unit: str) -> Iterator[tuple[str, ...]]:
    """Rows of what is not the same in all columns: what was asked first, then what was found, then what it takes."""
    yield from _differing("cover", tries, lambda t: _size(t.checked.card.cover, unit) if t.checked else NONE)
    yield from _differing("mat", tries, lambda t: _mat(t, unit))
    papers = {paper.name.text: paper for paper in tries[0].design.papers}
    for name in papers:
        yield from _differing(f"caliper of {name}", tries, lambda t, name=name: _caliper(t, name, unit))  # type: ignore[misc]
    for what in dict.fromkeys(what for tried in tries for what in _chosen(tried)):
        yield from _differing(what, tries, lambda t, what=what: _chosen(t).get(what, NONE))  # type: ignore[misc]
    follow = following(tries[0].design)
    names = dict.fromkeys(name for tried in tries if tried.checked for name in tried.checked.card.dimensions)
    for name in names:
        if name not in follow and name not in ("cover.width", "cover.height"):
            yield from _differing(name, tries, lambda t, name=name: _dimension(t, name, unit))  # type: ignore[misc]
    for number, wish in enumerate(tries[0].design.prefers):
        text = " ".join(wish.at.text.split()).removeprefix("prefer").strip()
        yield from _differing(text, tries, lambda t, number=number: _wish(t, number, unit))  # type: ignore[misc]
    yield from _made_rows(tries, unit)


def _chosen(tried: Tried) -> dict[str, str]:
    """What was taken of everything that the script leaves open."""
    choices = tried.checked.card.choices if tried.checked else None
    return {} if choices is None else {chosen.what: chosen.option for chosen in choices.chosen}


def _made_rows(tries: Sequence[Tried], unit: str) -> Iterator[tuple[str, ...]]:
    made = [tried.made for tried in tries if tried.made is not None]
    for owner in dict.fromkeys(owner for each in made for owner in each.slots):
        yield from _differing(f"slots of {owner}", tries,
                              lambda t, owner=owner: _length(t.made.slots.get(owner) if t.made else None, unit))  # type: ignore[misc]
    yield from _differing("depth of tabs", tries, lambda t: _length(t.made.tab_depth if t.made else None, unit))
    yield from _differing("shortest tab", tries, lambda t: _length(t.made.tab_length if t.made else None, unit))
    yield from _differing("closed", tries, lambda t: f"{t.checked.card.stack:.1f} mm thick" if t.checked else NONE)
    yield from _differing("parts", tries, lambda t: str(t.made.parts) if t.made else NONE)
    for paper in dict.fromkeys(paper for each in made for paper in each.sheets):
        yield from _differing(f"sheets of {paper}", tries,
                              lambda t, paper=paper: str(t.made.sheets.get(paper, 0)) if t.made else NONE)  # type: ignore[misc]
    yield from _differing("paper", tries, lambda t: f"{sum(t.made.area.values()) / 100:.0f} cm²" if t.made else NONE)


def _differing(name: str, tries: Sequence[Tried], cell: Callable[[Tried], str]) -> Iterator[tuple[str, ...]]:
    cells = [cell(tried) for tried in tries]
    if len({text for text in cells if text != NONE}) > 1:
        yield (name, *cells)


def _size(sides: tuple[float, float], unit: str) -> str:
    return f"{amount(sides[0], unit=unit).split()[0]} x {amount(sides[1], unit=unit)}"


def _mat(tried: Tried, unit: str) -> str:
    return ", ".join(_size((float(mat.width), float(mat.height)), unit) for mat in tried.design.mats) or NONE


def _caliper(tried: Tried, name: str, unit: str) -> str:
    card = tried.checked.card if tried.checked else None
    return _length(next((paper.caliper for paper in card.papers if paper.name == name), None), unit) if card else NONE


def _length(value: float | None, unit: str) -> str:
    return NONE if value is None else amount(value, unit=unit)


def _dimension(tried: Tried, name: str, unit: str) -> str:
    if tried.checked is None or name not in tried.checked.card.dimensions:
        return NONE
    value, kind = tried.checked.card.dimensions[name]
    return amount(float(value), kind != "mm", unit)


def _wish(tried: Tried, number: int, unit: str) -> str:
    if tried.checked is None or number >= len(tried.checked.card.wishes):
        return NONE
    result = tried.checked.card.wishes[number]
    return wished(result.wish, result.value, unit) + ("" if result.proved else " (not proved)")


# ---- words


def _words(tried: Tried, base: Tried, unit: str) -> list[str]:
    """A variant in words: what it asks, and what that changed."""
    assert tried.variant is not None
    lines = [f"{tried.name}: {', '.join(changes(tried.variant, unit))}"]
    if tried.checked is None:
        return [*lines, "  cannot be made (below)"]
    if base.checked is None or tried.made is None or base.made is None:
        return [*lines, f"  can be made, unlike the card {WRITTEN}"]
    return [*lines, *(f"  {sentence}" for sentence in differences(tried, base, unit))]


def differences(tried: Tried, base: Tried, unit: str) -> list[str]:
    """What changed against the card as written, a sentence each."""
    assert tried.checked is not None
    assert base.checked is not None
    sentences = []
    before, after = base.checked.card.dimensions, tried.checked.card.dimensions
    follow = following(tried.design)
    shares = {name: float(after[name][0] / before[name][0]) for name in after if name in before and before[name][0]
              and name not in follow and not name.startswith("cover.")}
    for what, chosen in (("smaller", sorted((s, n) for n, s in shares.items() if s < 1)),
                         ("larger", sorted(((-s, n) for n, s in shares.items() if s > 1)))):
        if chosen:
            told = [f"{name} {_dimension(base, name, unit)} -> {_dimension(tried, name, unit)} ({100 * (abs(s) - 1):+.0f} %)"
                    for s, name in chosen[:TOLD]]
            more = len(chosen) - TOLD
            sentences.append(f"{what}: {', '.join(told)}{f' and {more} more' if more > 0 else ''}")
    same = sum(1 for share in shares.values() if share == 1)
    if same:
        sentences.append(f"the same: {same} of {len(shares)} dimensions")
    gone, new = _only_in(before, after), _only_in(after, before)
    sentences += [f"no longer there: {', '.join(gone)}"] if gone else []
    sentences += [f"new: {', '.join(new)}"] if new else []
    return [*sentences, *_making(tried, base, unit)]


def _only_in(these: Iterable[str], others: Iterable[str]) -> list[str]:
    """Dimensions that only the first have; of a block that the others do not have at all, its name."""
    known = set(others)
    blocks = {name.split(".")[0] for name in known}
    owners = {name: name.split(".")[0] for name in these if name not in known}
    return list(dict.fromkeys(name if owner in blocks else owner for name, owner in owners.items()))


def _making(tried: Tried, base: Tried, unit: str) -> Iterator[str]:
    """What changed in slots, tabs, parts, sheets and paper."""
    one, other = base.made, tried.made
    assert one is not None
    assert other is not None
    assert tried.checked is not None
    habits = tried.checked.card.practice
    for owner, width in other.slots.items():
        if owner in one.slots and width != one.slots[owner]:
            yield (f"slots of {owner}: {amount(one.slots[owner], unit=unit)} -> {amount(width, unit=unit)} wide, its paper and "
                   f"{amount(habits['slot.clearance'], unit=unit)} of clearance")
        elif owner in one.slots:
            yield f"slots of {owner}: {amount(width, unit=unit)} wide as before, since its paper is as thick"
    if other.tab_depth is not None and other.tab_length is not None:
        yield (f"tabs: {amount(other.tab_depth, unit=unit)} deep, the shortest {amount(other.tab_length, unit=unit)} on average "
               f"({amount(habits['tab.length'], unit=unit)} is the usual least)")
    if other.parts != one.parts:
        yield f"parts: {one.parts} -> {other.parts}"
    totals = sum(one.sheets.values()), sum(other.sheets.values())
    areas = sum(one.area.values()), sum(other.area.values())
    sheets = f"{totals[0]} -> {totals[1]} sheets" if totals[0] != totals[1] else f"{totals[0]} sheets as before"
    yield f"paper: {sheets}, {areas[0] / 100:.0f} -> {areas[1] / 100:.0f} cm² ({100 * (areas[1] / areas[0] - 1):+.0f} %)"


# ---- JSON


def variants_json(tries: Sequence[Tried]) -> dict[str, Any]:
    """The same as JSON values; lengths in mm, areas in mm²."""
    return {"version": "1", "holds": holds(tries), "variants": [_record(tried, tries[0]) for tried in tries]}


def _record(tried: Tried, base: Tried) -> dict[str, Any]:
    unit = tried.design.unit or "mm"
    record: dict[str, Any] = {"name": tried.name, "title": tried.design.title, "holds": tried.checked is not None,
                              "asks": [] if tried.variant is None else changes(tried.variant, unit)}
    if tried.checked is None or tried.made is None:
        return {**record, "problems": [as_json(problem) for problem in tried.problems]}
    card, made, found = tried.checked.card, tried.made, found_json(tried.checked)
    return {
        **record,
        "cover": list(card.cover),
        "mat": list(card.mat),
        "papers": {paper.name: {"caliper": paper.caliper, "sheets": made.sheets.get(paper.name, 0),
                                "area": round(made.area.get(paper.name, 0.0), 3)} for paper in card.papers},
        "dimensions": found["dimensions"],
        "wishes": found["wishes"],
        "slots": made.slots,
        "tabs": {"depth": made.tab_depth, "shortest": made.tab_length},
        "parts": made.parts,
        "stack": card.stack,
        "differences": [] if tried is base or base.checked is None else differences(tried, base, unit),
    }
