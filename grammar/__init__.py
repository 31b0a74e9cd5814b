"""Text → Design: the only place that knows the syntax of a card script.

`read` and `read_text` give a `Design` or raise `Refused` with all problems; `render`, `as_json` and `explain`
put problems into words.
"""

from foldwright.grammar.design import Design
from foldwright.grammar.problem import Label, Problem, Refused, Severity, nearest, registry
from foldwright.grammar.problems import explain
from foldwright.grammar.reader import read, read_text
from foldwright.grammar.render import as_json, in_order, printable, render
from foldwright.grammar.source import Source, Span

__all__ = [
    "Design",
    "Label",
    "Problem",
    "Refused",
    "Severity",
    "Source",
    "Span",
    "as_json",
    "explain",
    "in_order",
    "nearest",
    "printable",
    "read",
    "read_text",
    "registry",
    "render",
]
