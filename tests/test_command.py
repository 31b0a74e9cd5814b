"""The command line: exit statuses, JSON, and nothing written unless everything holds."""

import json
import re
from pathlib import Path

import pytest
from scripts import call

from foldwright.grammar.problem import registry
from foldwright.solver.proof import ProofFailed

GOOD = """card "Harbour"
  units mm
cover 100 x 150
  paper ink
tent quay on spine
  paper sand
  wall 30 to 50
prefer largest quay.height
paper ink  colour #22304a weight 216 gsm
paper sand colour #d9c39a caliper 0.25
mat 300 x 300
"""
FAULTY = GOOD.replace("on spine", "on spin")
TIGHT = GOOD.replace("30 to 50", "140")


@pytest.fixture
def script(tmp_path):
    path = tmp_path / "harbour.card"

    def write(text):
        path.write_text(text, "utf-8")
        return path

    return write


def arguments_of(command, path, tmp_path):
    extra = {"build": ["--out", tmp_path / "cut"], "pose": ["--angle", 90]}.get(command, [])
    return [command, path, *extra]


COMMANDS = ("build", "check", "find", "pose", "swing")


def test_build_writes_the_files_that_are_asked_for(script, tmp_path):
    path, out = script(GOOD), tmp_path / "cut"
    assert call("build", path, "--out", out).exit_code == 0
    usual = {file.name for file in out.iterdir()}
    assert {"pages-a4.pdf", "pages-letter.pdf", "all-parts.dxf", "report.json"} < usual
    done = call("build", path, "--out", out, "--pages", "a4", "--dxf", "r2000", "--per-operation", "--labels", "none")
    assert done.exit_code == 0
    names = {file.name for file in out.iterdir()}
    assert usual - names == {"pages-letter.pdf"}
    assert names - usual >= {f"sheet-1-ink-cut.{end}" for end in ("svg", "dxf")}
    for name in names - usual:  # one operation each, of a sheet that is there as a whole too
        sheet, _, operation = name.rpartition(".")[0].rpartition("-")
        assert f"{sheet}.svg" in usual
        assert operation in ("cut", "mountain", "valley", "mark")
        if name.endswith(".svg"):
            assert set(re.findall(r'class="(\w+)"', (out / name).read_text("utf-8"))) == {operation}
    assert b"AC1015" in (out / "all-parts.dxf").read_bytes()[:200]
    for arguments in (("--pages", "a3"), ("--dxf", "R12"), ("--labels", "some")):
        assert call("build", path, "--out", out, *arguments).exit_code == 2


@pytest.mark.parametrize("command", COMMANDS)
def test_a_sound_script_gives_0_and_json(command, script, tmp_path):
    arguments = arguments_of(command, script(GOOD), tmp_path)
    assert call(*arguments).exit_code == 0
    result = call(*arguments, "--json")
    assert result.exit_code == 0
    assert isinstance(json.loads(result.stdout), dict)


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize(("text", "code"), [(FAULTY, "unknown-name"), (TIGHT, "cannot-hold")])
def test_a_faulty_script_gives_1_and_writes_nothing(command, text, code, script, tmp_path):
    path = script(text)
    result = call(*arguments_of(command, path, tmp_path), "--json")
    assert result.exit_code == 1
    assert code in [problem["code"] for problem in json.loads(result.stdout)["problems"]]
    assert list(tmp_path.iterdir()) == [path]


def test_problems_are_shown_with_code_and_place(script, tmp_path):
    result = call("check", script(FAULTY))
    assert result.exit_code == 1
    assert "error[unknown-name]" in result.stderr
    assert "harbour.card:5:14" in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize("command", [command for command in COMMANDS if command != "swing"])  # which proves nothing
def test_a_failed_proof_gives_3_and_writes_nothing(command, script, tmp_path, monkeypatch):
    def fail(*_):
        raise ProofFailed("glue", "a tab came off")

    monkeypatch.setattr("foldwright.api.prove", fail)
    path = script(GOOD)
    result = call(*arguments_of(command, path, tmp_path), "--json")
    assert result.exit_code == 3
    assert result.stdout == ""
    assert "`glue`" in result.stderr
    assert "a tab came off" in result.stderr
    assert list(tmp_path.iterdir()) == [path]


def test_any_other_fault_of_ours_gives_3(script, monkeypatch):
    def fail(*_):
        raise ValueError("out of paper")

    monkeypatch.setattr("foldwright.api.prove", fail)
    result = call("check", script(GOOD))
    assert result.exit_code == 3
    assert "internal error" in result.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ["build"],
        ["build", "harbour.card"],
        ["fold", "harbour.card"],
        ["check", "harbour.card", "--seconds", "0"],
        ["pose", "harbour.card"],
        ["pose", "harbour.card", "--angle", "181"],
        ["explain", "no-such-code"],
    ],
)
def test_wrong_use_gives_2(arguments):
    result = call(*arguments)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "Error" in result.stderr


def test_a_folder_of_the_user_is_refused_and_kept(script, tmp_path):
    out = tmp_path / "cut"
    out.mkdir()
    (out / "letter.txt").write_text("dear reader", "utf-8")
    result = call("build", script(GOOD), "--out", out)
    assert result.exit_code == 2
    assert "letter.txt" in result.stderr
    assert [path.name for path in out.iterdir()] == ["letter.txt"]
    assert (out / "letter.txt").read_text("utf-8") == "dear reader"


def test_building_again_replaces_our_own_folder(script, tmp_path):
    out = tmp_path / "cut"
    assert call("build", script(GOOD), "--out", out).exit_code == 0
    first = {path.name: path.read_bytes() for path in out.iterdir()}
    assert call("build", script(GOOD), "--out", out).exit_code == 0
    assert {path.name: path.read_bytes() for path in out.iterdir()} == first
    assert "report.json" in first


def test_find_writes_a_script_that_holds_and_never_over_another(script, tmp_path):
    target = tmp_path / "fixed.card"
    path = script(GOOD)
    found = json.loads(call("find", path, "--write", target, "--json").stdout)["dimensions"]
    again = json.loads(call("find", target, "--json").stdout)["dimensions"]
    assert again == found
    assert "quay.wall" in found
    before = target.read_bytes()
    assert call("find", path, "--write", target).exit_code == 2
    assert call("find", path, "--write", path).exit_code == 2
    assert (target.read_bytes(), path.read_text("utf-8")) == (before, GOOD)
    result = call("find", path, "--write", tmp_path / "no such folder" / "fixed.card")
    assert (result.exit_code, "cannot be written" in result.output) == (2, True)


def test_pose_gives_every_angle(script):
    poses = json.loads(call("pose", script(GOOD), "--angle", 0, "--angle", 120).stdout)["poses"]
    assert [pose["angle"] for pose in poses] == [0, 120]


def test_pose_beyond_what_the_cover_opens_gives_2(script):
    path = script(GOOD.replace("100 x 150\n", "100 x 150\n  opens 90\n").replace("quay.height", "quay.reach"))
    assert call("pose", path, "--angle", 90).exit_code == 0
    assert call("pose", path, "--angle", 91).exit_code == 2


@pytest.mark.parametrize("code", registry())
def test_explain_shows_the_page(code):
    result = call("explain", code)
    assert result.exit_code == 0
    assert result.stdout.startswith(code)
    assert json.loads(call("explain", code, "--json").stdout)["code"] == code


def test_explain_names_the_nearest_code():
    assert "unit-wrong" in call("explain", "unit-worng").stderr


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("kind", ["none", "folder", "latin", "empty", "bytes"])
def test_files_that_cannot_be_read(command, kind, tmp_path):
    path = tmp_path / f"{kind}.card"
    if kind == "folder":
        path.mkdir()
    elif kind != "none":
        content = {"latin": 'card "Mar\xe9e"\n'.encode("latin-1"), "empty": b"", "bytes": bytes(range(256))}[kind]
        path.write_bytes(content)
    result = call(*arguments_of(command, path, tmp_path))
    assert result.exit_code in (1, 2)
    assert result.stdout == "" or command == "pose"
    assert not (tmp_path / "cut").exists()


def test_help_shows_a_script_that_holds(script):
    help_text = call("--help").stdout
    lines = help_text.splitlines()
    start = next(i for i, line in enumerate(lines) if 'card "First tent"' in line)
    end = next(i for i, line in enumerate(lines) if i > start and not line.strip())
    indent = len(lines[start]) - len(lines[start].lstrip())
    text = "\n".join(line[indent:] for line in lines[start:end]) + "\n"
    assert call("check", script(text)).exit_code == 0


def test_version_is_that_of_the_package():
    import foldwright

    assert foldwright.__version__ in call("--version").stdout
    assert Path(foldwright.__file__).is_file()
