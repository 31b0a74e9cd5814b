"""Rules of the house: imports go one way, every mechanism has a page and an example, nothing strays at the top."""

import ast
import inspect
import subprocess
from pathlib import Path

import pytest

from foldwright.grammar import Problem, read_text
from foldwright.grammar import registry as problem_registry
from foldwright.solver.answer import solve_design
from foldwright.solver.mechanism import Mechanism, registry
from foldwright.solver.proof import prove

ROOT = Path(__file__).parent.parent
MAY_IMPORT = {
    "grammar": {"grammar"},
    "solver": {"grammar", "solver"},
    "emit": {"grammar", "solver", "emit"},
}
MAY_STAND_AT_TOP = {
    "README.md", "DEVELOPERS.md", "pyproject.toml", "grammar", "solver", "emit", "foldwright", "tests", "examples",
    "docs", ".ci", "LICENSE", "NOTICE", ".gitignore",
}  # fmt: skip
WITHOUT_EXAMPLE = {"cutout"}  # it needs an artwork file, which a script in a docstring has not


def our_imports(text):
    """Our modules that a source text imports, with the level of relative ones."""
    found = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written in full, so that this test can read them"
            # `from foldwright import grammar` imports a stage too
            found += [f"{node.module}.{alias.name}" for alias in node.names]
    return [name for name in found if name.split(".")[0] == "foldwright"]


def stage_of(module):
    """The folder of a module of ours: the front is `foldwright` itself."""
    words = module.split(".")
    return words[1] if len(words) > 1 and words[1] in MAY_IMPORT else "foldwright"


def reaches_back(folder, text):
    return sorted({stage_of(name) for name in our_imports(text)} - MAY_IMPORT[folder])


def test_imports_follow_the_data():
    files = imports = 0
    for folder in MAY_IMPORT:
        for path in sorted((ROOT / folder).rglob("*.py")):
            text = path.read_text("utf-8")
            files += 1
            imports += len(our_imports(text))
            assert not reaches_back(folder, text), f"{path.relative_to(ROOT)} reaches back"
    assert files > 60, "source files were not found"
    assert imports > 150, "imports were not read"


@pytest.mark.parametrize(
    ("folder", "line", "stages"),
    [
        ("grammar", "from foldwright.solver.card import Card", ["solver"]),
        ("grammar", "def f():\n    import foldwright.emit.svg", ["emit"]),
        ("solver", "from foldwright import emit", ["emit"]),
        ("emit", "from foldwright.api import check", ["foldwright"]),
        ("emit", "from foldwright.solver.card import Card", []),
    ],
)
def test_an_import_backwards_would_be_seen(folder, line, stages):
    assert reaches_back(folder, line) == stages


@pytest.mark.parametrize("keyword", registry())
def test_mechanism_has_a_page(keyword):
    kind = registry()[keyword]
    page = inspect.getdoc(kind)
    assert page
    assert page != inspect.getdoc(Mechanism), "the base class explains nothing"
    assert all(parameter.meaning for parameter in kind.parameters)
    assert all(parameter.low <= parameter.high for parameter in kind.parameters)


SHOWN = sorted(registry().keys() - WITHOUT_EXAMPLE)


@pytest.mark.parametrize("keyword", SHOWN)
def test_mechanism_example_is_proved(keyword):
    example = registry()[keyword].example
    design = read_text(example)
    assert keyword in {block.keyword.text for block in design.blocks}, "an example shows its mechanism"
    looked_at = prove(solve_design(design, seconds=20)).looked_at
    assert looked_at["rigid panels"] > 0
    assert looked_at["closed pose"] > 0 or keyword == "cover"


def test_one_file_for_each_mechanism():
    files = {path.stem for path in (ROOT / "solver" / "mechanisms").glob("*.py")} - {"__init__"}
    assert files == set(registry())
    assert len(files) >= 7


def test_every_problem_has_a_page():
    problems = problem_registry()
    assert len(problems) > 30
    for code, cls in problems.items():
        assert inspect.getdoc(cls) not in (None, inspect.getdoc(Problem)), code


@pytest.mark.parametrize("folder", ["foldwright", *MAY_IMPORT])
def test_packages_are_typed(folder):
    assert (ROOT / folder / "py.typed").is_file()


def test_nothing_strays_at_the_top():
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"]
    try:
        listed = subprocess.run(command, cwd=ROOT, capture_output=True, check=True, text=True).stdout
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("not a working copy with git")
    top = {name.split("/")[0] for name in listed.split("\0") if name}
    assert "pyproject.toml" in top, "the list of files is not of this project"
    assert top <= MAY_STAND_AT_TOP, sorted(top - MAY_STAND_AT_TOP)
