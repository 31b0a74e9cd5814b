"""The artwork reader against files that mean harm, are broken, or lie where they should not."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from foldwright.grammar.artwork import LARGEST_FILE, ArtworkFault, read_artwork
from foldwright.grammar.artwork_outline import outline_of
from foldwright.grammar.artwork_svg import read_drawing

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 20 20">'
SQUARE = '<rect width="9" height="9"/>'
MOST_CALLS = 4_000_000  # of functions, to refuse a file. No clock: machines differ

# Ten copies of ten copies of ...: 10^8 squares.
USE_BOMB = "".join(
    f'<g id="a{level}">' + f'<use href="#a{level - 1}"/>' * 10 + "</g>"
    if level
    else f'<g id="a0">{SQUARE}</g>'
    for level in range(9)
)
ENTITY_BOMB = (
    '<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa">'
    + "".join(f'<!ENTITY {new} "{f"&{old};" * 10}">' for old, new in zip("abcdefgh", "bcdefghi", strict=True))
    + f"]>{HEAD}<title>&i;</title>{SQUARE}</svg>"
)


@dataclass
class Work:
    """Calls of functions, of Python and of libraries, since it was begun."""

    calls: int = 0

    def count(self, _frame: object, event: str, _argument: object) -> None:
        self.calls += event in ("call", "c_call")


@contextmanager
def counted() -> Iterator[Work]:
    """Counts the work of what is inside."""
    work, before = Work(), sys.getprofile()
    sys.setprofile(work.count)
    try:
        yield work
    finally:
        sys.setprofile(before)


COMB = "".join(f"L{x} {9 * (x % 2)}" for x in range(9000))


def crossing_combs() -> str:
    """Two zigzags, each simple by itself, that cross each other about ten million times."""
    up = "M0 0" + "".join(f"V{9000 * (x % 2)}H{x}" for x in range(1, 4500)) + "V-1H0z"
    right = "M0 0" + "".join(f"H{9000 * (y % 2)}V{y}" for y in range(1, 4500)) + "H-1V0z"
    return f'<path d="{up}"/><path d="{right}"/>'


HOSTILE = {
    "entity bomb": ("entities", ENTITY_BOMB),
    "external entity": (
        "entities",
        f'<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/hostname">]>{HEAD}&x;</svg>',
    ),
    "external parameter entity": (
        "entities",
        f'<!DOCTYPE svg [<!ENTITY % x SYSTEM "x.dtd"> %x;]>{HEAD}</svg>',
    ),
    "use of itself": ("draws itself", f'{HEAD}<g id="a"><use href="#a"/></g></svg>'),
    "use in a circle": ("draws itself", f'{HEAD}<use id="a" href="#b"/><use id="b" href="#a"/></svg>'),
    "use bomb": ("copies", f'{HEAD}{USE_BOMB}<use href="#a8"/></svg>'),
    "nested groups": ("nested", HEAD + "<g>" * 100_000 + "</g>" * 100_000 + "</svg>"),
    "many elements": ("elements", HEAD + "<g/>" * 100_000 + "</svg>"),
    "million segments": ("larger than", f'{HEAD}<path d="M0 0{"h1" * 1_000_000}z"/></svg>'),
    "too many segments": ("lines and curves", f'{HEAD}<path d="M0 0{"h1" * 450_000}z"/></svg>'),
    "too many segments in one command": (
        "lines and curves",
        f'{HEAD}<path d="M0 0h{" 1" * 450_000}z"/></svg>',
    ),
    "segments by copies": (
        "lines and curves",
        f'{HEAD}<path id="a" d="M0 0{COMB}z"/>' + '<use href="#a"/>' * 9 + "</svg>",
    ),
    "many polygon points": ("lines and curves", f'{HEAD}<polygon points="{"1 2 " * 200_000}"/></svg>'),
    "transform list": ("too large", f'{HEAD}<g transform="{"scale(9)" * 100_000}"/></svg>'),
    "transform stress": ("cannot be read", f'{HEAD}<g transform="{"scale(" * 100_000}"/></svg>'),
    "transform spaces": ("cannot be read", f'{HEAD}<g transform="scale{" " * 500_000}"/></svg>'),
    "transform garbage": ("unknown", f'{HEAD}<g transform="explode(1)"/></svg>'),
    "transform count": ("takes 6 numbers", f'{HEAD}<g transform="matrix(1 2 3)"/></svg>'),
    "deep style": ("style", f'{HEAD}<g style="fill:{"(" * 40_000}"/></svg>'),
    "long style": ("characters", f"{HEAD}<style>{'a{b:c}' * 90_000}</style></svg>"),
    "nan": ("where a number should", f'{HEAD}<polygon points="nan 0 1 1 2 0"/></svg>'),
    "nan in a path": ("groups of 2", f'{HEAD}<path d="M0 0Lnan 1 2 2z"/></svg>'),
    "nan as length": ("a number", f'{HEAD}<rect width="nan" height="5"/></svg>'),
    "1e999": ("too large", f'{HEAD}<path d="M0 0L1e999 1 2 2z"/></svg>'),
    "1e999 in a transform": ("too large", f'{HEAD}<g transform="scale(1e999)"/></svg>'),
    "1e999 by nesting": ("too large", HEAD + '<g transform="scale(1e6)">' * 50 + "</g>" * 50 + "</svg>"),
    "far away": ("drawing units", f'{HEAD}<path d="M0 0{"h999999" * 9}v9z"/></svg>'),
    "long number": ("too large", f'{HEAD}<rect width="{"9" * 300_000}" height="1"/></svg>'),
    "tiny": ("less than 0.001", f'{HEAD}<rect width="1e-320" height="1e-320"/></svg>'),
    "tiny page": (
        "million",
        f"{HEAD[:-1]} width='1e-320'>{SQUARE}</svg>",
    ),
    "bad viewBox": ("viewBox", f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 -9 9">{SQUARE}</svg>'),
    "crossing combs": ("cross in more than", HEAD + crossing_combs() + "</svg>"),
    "many outlines": ("outlines", f'{HEAD}<path d="{"M0 0h1v1z" * 4_900}"/></svg>'),
    "nested outlines": (
        "is filled",  # each is thinner than the chord error; what counts is the time to find out
        f'{HEAD}<path fill-rule="evenodd" d="'
        + "".join(f"M{step} {step}H{40_000 - step}V{40_000 - step}H{step}z" for step in range(1000))
        + '"/></svg>',
    ),
    "clip bomb": (
        "lines and curves",
        HEAD + '<clipPath id="c0"><rect width="9" height="9"/></clipPath>'
        + "".join(f'<clipPath id="c{level}">'
                  + f'<rect width="9" height="9" clip-path="url(#c{level - 1})"/>' * 10 + "</clipPath>"
                  for level in range(1, 9))
        + f'<g clip-path="url(#c8)">{SQUARE}</g></svg>',
    ),
    "clip paths in a circle": (
        "draws itself",
        f'{HEAD}<clipPath id="a"><use href="#b"/></clipPath><rect id="b" width="9" height="9" clip-path="url(#a)"/></svg>',
    ),
    "inner drawings": ("nested", HEAD + '<svg width="9" height="9">' * 90 + SQUARE + "</svg>" * 91),
    "inner drawing of a mad size": (
        "too large",
        f'{HEAD}<svg width="1e6" height="1e6" viewBox="0 0 1e-9 1e-9">{SQUARE}</svg></svg>',
    ),
    "flattened and clipped by its box": (
        "flattens",
        f'{HEAD}<clipPath id="a" clipPathUnits="objectBoundingBox">{SQUARE}</clipPath>'
        f'<g transform="scale(0 1)" clip-path="url(#a)">{SQUARE}</g></svg>',
    ),
    "script": ("nothing in a drawing is run", f"{HEAD}<script>{'alert(1);' * 9_000}</script>{SQUARE}</svg>"),
    "picture from the network": ("trace the image", f'{HEAD}<image href="http://example.org/a.png"/>{SQUARE}</svg>'),
    "style sheet from the network": ("simple rules", f"{HEAD}<style>@import url(http://example.org/a.css);</style>{SQUARE}</svg>"),
    "copy from another file": ("not in this drawing", f'{HEAD}<use href="file:///etc/hostname#a"/>{SQUARE}</svg>'),
    "style rules": ("style rules", f"{HEAD}<style>{'.a{fill:red}' * 4_000}</style>{SQUARE * 9}</svg>"),
    "empty": ("XML", ""),
    "not XML": ("XML", "8<: 0.5"),
    "cut off": ("XML", HEAD),
    "another root": ("not an SVG", "<html/>"),
    "SVG without its namespace": ("not an SVG", "<svg><rect width='9' height='9'/></svg>"),
    "unknown encoding": ("encoding", f'<?xml version="1.0" encoding="klingon"?>{HEAD}{SQUARE}</svg>'),
    "multi-byte encoding": ("encoding", f'<?xml version="1.0" encoding="shift_jis"?>{HEAD}{SQUARE}</svg>'),
}


@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.parametrize("strokes", [False, True], ids=["", "strokes"])
def test_hostile_file_is_refused_with_little_work(tmp_path: Path, name: str, strokes: bool) -> None:
    words, text = HOSTILE[name]
    (tmp_path / "drawing.svg").write_text(text, encoding="utf-8")
    with pytest.raises(ArtworkFault) as caught, counted() as work:
        read_artwork(Path("drawing.svg"), tmp_path, strokes)
    assert work.calls < MOST_CALLS
    assert words in caught.value.why
    assert caught.value.kind == ("crossing" if name == "crossing combs" else "unreadable")
    assert len(caught.value.why) < 200, "the message repeats the input"


def test_hostile_files_take_little_memory(tmp_path: Path) -> None:
    """In a process that may use 1 GB of address space, where the libraries alone take about half of it."""
    resource = pytest.importorskip("resource")
    for index, (_words, text) in enumerate(HOSTILE.values()):
        (tmp_path / f"{index}.svg").write_text(text, encoding="utf-8")
    program = (
        "import sys\nfrom pathlib import Path\n"
        "from foldwright.grammar.artwork import ArtworkFault, read_artwork\n"
        "refused = 0\n"
        "for path in sorted(Path(sys.argv[1]).iterdir()):\n"
        "    try: read_artwork(path, path.parent)\n"
        "    except ArtworkFault: refused += 1\n"
        "print(refused)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(tmp_path)],
        capture_output=True,
        text=True,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},  # each thread would reserve address space of its own
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (2**30, 2**30)),
        check=False,
    )
    assert (done.stdout.strip(), done.stderr) == (str(len(HOSTILE)), "")


@pytest.fixture
def card(tmp_path: Path) -> Path:
    """A card's folder with one good drawing in it, and one beside the folder."""
    folder = tmp_path / "card"
    (folder / "art").mkdir(parents=True)
    for place in (folder / "art" / "good.svg", tmp_path / "secret.svg"):
        place.write_text(f"{HEAD}{SQUARE}</svg>", encoding="utf-8")
    return folder


def kind_of(path: Path | str, root: Path) -> str:
    with pytest.raises(ArtworkFault) as caught:
        read_artwork(Path(path), root)
    return caught.value.kind


def test_files_in_and_under_the_folder_are_read(card: Path) -> None:
    assert read_artwork(Path("art/good.svg"), card).path == (card / "art" / "good.svg").resolve()
    assert read_artwork(card / "art" / "good.svg", card).aspect == 1
    assert read_artwork(Path("art/../art/good.svg"), card).aspect == 1


def test_missing_file(card: Path) -> None:
    assert kind_of("art/none.svg", card) == "missing"
    assert kind_of("art/good.svg/none.svg", card) == "missing"


@pytest.mark.parametrize("name", ["../secret.svg", "../none.svg", "/etc/hostname", "art/../../secret.svg"])
def test_file_outside_the_folder(card: Path, name: str) -> None:
    assert kind_of(name, card) == "missing"


def test_link_out_of_the_folder(card: Path) -> None:
    (card / "link.svg").symlink_to("../secret.svg")
    (card / "up").symlink_to("..")
    (card / "loop.svg").symlink_to("loop.svg")
    (card / "inside.svg").symlink_to("art/good.svg")
    assert kind_of("link.svg", card) == "missing"
    assert kind_of("up/secret.svg", card) == "missing"
    assert kind_of("loop.svg", card) == "missing"
    assert read_artwork(Path("inside.svg"), card).aspect == 1


def test_not_a_file(card: Path) -> None:
    os.mkfifo(card / "pipe.svg")
    (card / "device.svg").symlink_to("/dev/zero")
    for name in ("art", ".", "pipe.svg", "device.svg", "a\0b", "x" * 5000):
        assert kind_of(name, card) == "missing"


def test_largest_file(card: Path) -> None:
    text = f"{HEAD}{SQUARE}</svg>"
    (card / "art" / "good.svg").write_text(text + " " * (LARGEST_FILE - len(text)), encoding="utf-8")
    assert read_artwork(Path("art/good.svg"), card).aspect == 1
    (card / "art" / "good.svg").write_text(text + " " * (LARGEST_FILE - len(text) + 1), encoding="utf-8")
    assert kind_of("art/good.svg", card) == "unreadable"


def check_answer(data: bytes) -> bool:
    """Whether the data is artwork; fails on any other exception, and on an outline that is not sound."""
    try:
        made = outline_of(read_drawing(data))
    except ArtworkFault:
        return False
    outline = made.outline
    assert outline.geom_type == "Polygon"
    assert outline.is_valid
    assert outline.bounds[:3] == pytest.approx((0, 0, 1), abs=1e-9)
    assert outline.bounds[3] == pytest.approx(made.height / made.width)
    return True


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.binary(max_size=200))
def test_arbitrary_bytes(data: bytes) -> None:
    check_answer(data)


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.text("MmLlHhVvCcSsQqTtAaZz0123456789.,-+eE \n", max_size=60))
def test_arbitrary_path_data(text: str) -> None:
    check_answer(f'{HEAD}<path d="M1 2{text}z"/></svg>'.encode())


COMMAND = st.sampled_from("LlCcSsQqTtAaHhVv")
NUMBER = st.one_of(
    st.integers(-30, 30), st.floats(-1e3, 1e3), st.sampled_from(["1e-300", "1e6", "9e99", ".5", "-0"])
)


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.lists(st.tuples(COMMAND, st.lists(NUMBER, min_size=7, max_size=7)), max_size=6))
def test_well_formed_path_data(segments: list[tuple[str, list[object]]]) -> None:
    counts = {"L": 2, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "H": 1, "V": 1}
    words = ["M 0 0"]
    for command, numbers in segments:
        numbers[3:5] = ["0", "1"] if command in "Aa" else numbers[3:5]
        words += [command, *(str(number) for number in numbers[: counts[command.upper()]])]
    check_answer(f'{HEAD}<path d="{" ".join(words)} z"/></svg>'.encode())


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.lists(st.tuples(st.integers(0, 400), st.integers(0, 255)), max_size=4))
def test_damaged_drawing(damage: list[tuple[int, int]]) -> None:
    data = bytearray(
        f'{HEAD}<g transform="rotate(30) scale(.5 2)" style="fill:#123">'
        '<path id="a" fill-rule="evenodd" d="M0 0h9'
        'v9q-3 3-9 0zM2 2a2 2 0 014 0 2 2 0 01-4 0z"/></g><use href="#a" x="3"/></svg>'.encode()
    )
    assert check_answer(bytes(data))
    for at, value in damage:
        data[at % len(data)] = value
    check_answer(bytes(data))


def test_the_grammar_alone_stays_light() -> None:
    """Geometry, fonts and style sheets are loaded when a drawing is read, not before."""
    program = (
        "import sys, foldwright.grammar, foldwright.grammar.artwork\n"
        "print(sorted({'shapely', 'fontTools', 'defusedxml', 'tinycss2', 'numpy'} & sys.modules.keys()))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
