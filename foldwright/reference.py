"""Reference pages made from the docstrings: `python -m foldwright.reference docs`, with `--check` to compare only."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Mapping, Sequence
from importlib.resources import files
from inspect import cleandoc
from pathlib import Path
from typing import Any

from foldwright.gallery import Example, Shown, alike, example_cards, shown
from foldwright.grammar import registry as problems
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.mechanism import registry as mechanisms
from foldwright.solver.practice import HABITS
from foldwright.solver.words import noted


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(cells) + " |" for cells in lines)


HOSTS = {
    "crease": "the spine or another crease", "ridge": "the outer side of a ridge", "sheet": "a crease within one sheet",
    "gusset": "the gusset of the cover", "ring": "the inside of a ring", "face": "a panel of another mechanism",
    "nothing": "nothing: all else stands in it",
}


def mechanism_page(kind: type[Mechanism], example: Shown | None) -> str:
    """One mechanism: pictures, its docstring, what it takes and offers, and a small whole script."""
    name = kind.keyword
    parts = [f"# {name}", f"Stands on {' or '.join(HOSTS.get(host, host) for host in kind.stands_on)}."]
    if example:
        parts.append(f"![{name}, nearly open]({name}.svg) ![{name}, half closed]({name}-half.svg)")
    parts.append(cleandoc(kind.__doc__ or ""))
    rows = []
    for parameter in kind.parameters:
        unit = "°" if parameter.dimension == "angle" else "mm"
        usual = f"{float(parameter.low):g} to {float(parameter.high):g} {unit}"
        if parameter.derive:
            usual = "computed from the others"
        rows.append((f"`{parameter.name}`", usual, parameter.meaning))
    rows += [(f"`{choice.name}`", " or ".join(choice.options), choice.meaning) for choice in kind.choices]
    rows += [(f"`{count.name}`", f"{count.low} to {count.high}, twice", count.meaning) for count in kind.counts]
    if rows:
        parts.append(table(("setting", "usual range, or words (first is the default)", "meaning"), rows))
    if example:
        parts += offers(example.made) + approximate(example)
        parts.append(f"```card\n{example.script.strip()}\n```")
    return "\n\n".join(parts) + "\n"


def offers(made: Mechanism) -> list[str]:
    """What a mechanism offers to others, read from the one in its own example."""
    lists = {"Creases that can carry": list(made.creases()), "Panels for cut-outs": list(made.faces())}
    lines = [f"{what}: {', '.join(f'`{name}`' for name in sorted(names))}." for what, names in lists.items() if names]
    measures = ", ".join(f"`{name}`" for name in sorted(made.measures()))
    if measures:
        lines.append(f"Measures for rules and wishes: {measures}. {cleandoc(type(made).measures.__doc__ or '')}")
    return ["\n".join(f"- {line}" for line in lines)] if lines else []


def approximate(example: Shown) -> list[str]:
    """What of the mechanism holds only approximately for paper, with the figures of its example."""
    lines = [f"- {noted(note)}" for note in example.card.notes if note.owner == example.made.name]
    return ["Approximate in paper (figures of the example below):", "\n".join(lines)] if lines else []


def index_page(kinds: Mapping[str, type[Mechanism]], examples: Mapping[str, Shown | None]) -> str:
    """All mechanisms with a small picture, a line and the way to their page."""
    rows = []
    for name, kind in kinds.items():
        image = f'<img src="mechanisms/{name}.svg" width="200" alt="{name}, nearly open">' if examples[name] else ""
        first = cleandoc(kind.__doc__ or "").partition("\n\n")[0].replace("\n", " ")
        rows.append((image, f"[{name}](mechanisms/{name}.md)", first))
    return "# Mechanisms\n\n" + table(("", "keyword", "what it is"), rows) + "\n"


def report_page() -> str:
    """The fields of the report, from its schema."""
    schema = json.loads(files("foldwright.emit").joinpath("report.schema.json").read_text(encoding="utf-8"))
    parts = [f"# The report\n\n`report.json`: {schema['title']}. {schema['description']}", table(FIELD_HEAD, fields(schema))]
    for name, field in schema["properties"].items():
        inner = field.get("items", {})
        if inner.get("properties"):
            parts += [f"## Each of `{name}`", table(FIELD_HEAD, fields(inner))]
    return "\n\n".join(parts) + "\n"


FOLDERS = ("mechanisms", "examples")  # of pages and pictures, all of which are made here
FIELD_HEAD = ("field", "type", "meaning")


def fields(schema: dict[str, Any]) -> list[tuple[str, str, str]]:
    """Rows for the properties of one object of the schema."""
    rows = []
    for name, field in schema["properties"].items():
        kind = field.get("type", "width and height" if "$ref" in field else "one of the values given")
        if "enum" in field:
            kind = ", ".join(f"`{value}`" for value in field["enum"])
        if "const" in field:
            kind = f"`{field['const']}`"
        kind = " or ".join(kind) if isinstance(kind, list) else kind
        rows.append((f"`{name}`", kind, field.get("description", "")))
    return rows


def examples_page(cards: Sequence[Example]) -> str:
    """All example cards with their pictures."""
    parts = ["# Examples", "Cards of the folder `examples`, found and drawn by the tool itself."]
    for card in cards:
        parts.append(f"## {card.title}\n\n[examples/{card.name}.card](../examples/{card.name}.card). {card.about}\n\n"
                     f"![{card.title}, nearly open](examples/{card.name}.svg)")
    return "\n\n".join(parts) + "\n"


def pages(cards: Path) -> dict[str, str]:
    """All generated pages by file name; `cards` is the folder with the example cards."""
    made = "<!-- made from the docstrings by `python -m foldwright.reference docs`; do not edit -->\n"
    kinds = mechanisms()
    examples = {name: shown(kind) for name, kind in kinds.items()}
    gallery = example_cards(cards)
    problem_pages = [f"## {code}\n\n*{kind.severity}*\n\n{cleandoc(kind.__doc__ or '')}" for code, kind in problems().items()]
    units = {"angle": "°", "area": "mm²", "length": "mm"}
    habits = table(("name", "default", "meaning"),
                   [(f"`{h.name}`", f"{float(h.value):g} {units[h.dimension]}", h.meaning) for h in HABITS])
    practice = ("Numbers that a workshop settles by habit (common practice, no source). A script overrides one with a reason:\n"
                '`practice tab.depth 10 because "thick glue"`.')
    return {
        "mechanisms.md": made + "\n" + index_page(kinds, examples),
        **{f"mechanisms/{name}.md": made + "\n" + mechanism_page(kind, examples[name]) for name, kind in kinds.items()},
        **{f"mechanisms/{file}": text for name, example in examples.items() if example
           for file, text in example.pictures(name).items()},
        "examples.md": made.replace("docstrings", "cards") + "\n" + examples_page(gallery),
        **{f"examples/{card.name}.svg": card.picture for card in gallery},
        "problems.md": "\n\n".join([made + "# Problems", *problem_pages]) + "\n",
        "practice.md": "\n\n".join([made + "# Workshop practice", practice, habits]) + "\n",
        "report.md": made.replace("docstrings", "schema") + report_page(),
    }


def current(path: Path, text: str) -> bool:
    """True if a file holds a page as it would be written now; a picture may differ by rounding (`alike`)."""
    if not path.exists():
        return False
    found = path.read_text(encoding="utf-8")
    return alike(found, text) if path.suffix == ".svg" else found == text


def strays(folder: Path, made: Mapping[str, str]) -> list[str]:
    """Files among the pages and pictures that nothing has made, such as those of a keyword that was renamed."""
    found = sorted(path.relative_to(folder).as_posix() for inner in FOLDERS for path in (folder / inner).glob("*"))
    return [name for name in found if name not in made]


def main(arguments: Sequence[str]) -> int:
    """Write the pages into a folder, or with `--check` name those that are not current; returns the exit status."""
    folder = Path(next(word for word in arguments if not word.startswith("-")))
    made = pages(folder.resolve().parent / "examples")
    stale = [name for name, text in made.items() if not current(folder / name, text)]
    if "--check" not in arguments:
        for inner in FOLDERS:
            (folder / inner).mkdir(exist_ok=True)
        for name in stale:
            (folder / name).write_text(made[name], encoding="utf-8", newline="\n")
        stale = []
    extra = strays(folder, made)
    if stale:
        print(f"not current: {', '.join(stale)}; run `python -m foldwright.reference {folder}`")
    if extra:
        print(f"made by nothing any more, remove: {', '.join(extra)}")
    return 1 if stale or extra else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
