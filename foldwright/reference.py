"""Reference pages made from the docstrings: `python -m foldwright.reference docs`, with `--check` to compare only."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Sequence
from importlib.resources import files
from inspect import cleandoc
from pathlib import Path
from typing import Any

from foldwright.grammar import read_text
from foldwright.grammar import registry as problems
from foldwright.solver.bind import bind
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.mechanism import registry as mechanisms
from foldwright.solver.practice import HABITS


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(cells) + " |" for cells in lines)


def mechanism_page(kind: type[Mechanism]) -> str:
    """One mechanism: its docstring, what it takes, and a small whole script."""
    parts = [f"## {kind.keyword}", cleandoc(kind.__doc__ or "")]
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
    parts.append(f"Stands on: {', '.join(kind.stands_on)}.")
    parts += offers(kind)
    if kind.example:
        parts.append(f"```card\n{kind.example.strip()}\n```")
    return "\n\n".join(parts)


def offers(kind: type[Mechanism]) -> list[str]:
    """What a mechanism offers to others, read from the one in its own example."""
    if not kind.example:
        return []
    made = next(m for m in bind(read_text(kind.example)).mechanisms if type(m) is kind)
    lists = {"Creases that can carry": list(made.creases()), "Panels for cut-outs": list(made.faces())}
    lines = [f"{what}: {', '.join(f'`{name}`' for name in sorted(names))}." for what, names in lists.items() if names]
    measures = ", ".join(f"`{name}`" for name in sorted(made.measures()))
    if measures:
        lines.append(f"Measures for rules and wishes: {measures}. {cleandoc(type(made).measures.__doc__ or '')}")
    return ["\n".join(f"- {line}" for line in lines)] if lines else []


def report_page() -> str:
    """The fields of the report, from its schema."""
    schema = json.loads(files("foldwright.emit").joinpath("report.schema.json").read_text(encoding="utf-8"))
    parts = [f"# The report\n\n`report.json`: {schema['title']}. {schema['description']}", table(FIELD_HEAD, fields(schema))]
    for name, field in schema["properties"].items():
        inner = field.get("items", {})
        if inner.get("properties"):
            parts += [f"## Each of `{name}`", table(FIELD_HEAD, fields(inner))]
    return "\n\n".join(parts) + "\n"


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


def pages() -> dict[str, str]:
    """All generated pages by file name."""
    made = "<!-- made from the docstrings by `python -m foldwright.reference docs`; do not edit -->\n"
    mechanism_pages = [mechanism_page(kind) for kind in mechanisms().values()]
    problem_pages = [f"## {code}\n\n*{kind.severity}*\n\n{cleandoc(kind.__doc__ or '')}" for code, kind in problems().items()]
    units = {"angle": "°", "area": "mm²", "length": "mm"}
    habits = table(("name", "default", "meaning"),
                   [(f"`{h.name}`", f"{float(h.value):g} {units[h.dimension]}", h.meaning) for h in HABITS])
    practice = ("Numbers that a workshop settles by habit (common practice, no source). A script overrides one with a reason:\n"
                '`practice tab.depth 10 because "thick glue"`.')
    return {
        "mechanisms.md": "\n\n".join([made + "# Mechanisms", *mechanism_pages]) + "\n",
        "problems.md": "\n\n".join([made + "# Problems", *problem_pages]) + "\n",
        "practice.md": "\n\n".join([made + "# Workshop practice", practice, habits]) + "\n",
        "report.md": made.replace("docstrings", "schema") + report_page(),
    }


def main(arguments: Sequence[str]) -> int:
    """Write the pages into a folder, or with `--check` name those that are not current; returns the exit status."""
    folder = Path(next(word for word in arguments if not word.startswith("-")))
    stale = []
    for name, text in pages().items():
        path = folder / name
        if "--check" not in arguments:
            path.write_text(text, encoding="utf-8", newline="\n")
        elif not path.exists() or path.read_text(encoding="utf-8") != text:
            stale.append(name)
    if stale:
        print(f"not current: {', '.join(stale)}; run `python -m foldwright.reference {folder}`")
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
