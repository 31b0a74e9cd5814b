"""The first cards for three machines: sheets read back with ezdxf, and every part on them looked at as its maker would."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import ezdxf
import pytest
import shapely
from ezdxf.path import make_path
from shapely.geometry import LineString, Polygon, box

from foldwright.api import check
from foldwright.asked import Asked
from foldwright.emit import Labels, Wanted, build_files

EXAMPLES = Path(__file__).parent.parent / "examples"
FLAT = 0.01  # mm, how far chords may lie beside what the file says: its own promise
LONG = 0.5  # mm; lines that run together for less only touch

MACHINES = {
    "large, with a creasing tool": Asked(mats=("11.5 in x 11.5 in",)),
    "small, perforated": Asked(mats=("8 in x 11.5 in", "4.25 in x 6.25 in"), creases="perforated"),
    "small, ticked": Asked(mats=("8 in x 11.5 in",), creases="ticked"),
    "laser with a long bed": Asked(mats=("300 x 600",), creases="perforated dash 2 gap 1.5", kerf="0.15"),
}


@dataclass
class Piece:
    """One part as the file has it: its lines by layer, mm."""

    name: str
    lines: dict[str, list[LineString]]

    @property
    def shape(self) -> Polygon:
        """The outline without its holes."""
        rings = [Polygon(line.coords) for line in self.lines["CUT"] if line.is_ring]
        whole = max(rings, key=lambda ring: ring.area)
        return whole.difference(shapely.union_all([ring for ring in rings if ring is not whole]))

    @property
    def cuts(self) -> shapely.Geometry:
        return shapely.union_all(self.lines["CUT"])

    def creases(self) -> Iterator[LineString]:
        for layer, lines in self.lines.items():
            if layer.endswith(("MOUNTAIN", "VALLEY")):
                yield from lines


def pieces_of(dxf: bytes) -> list[Piece]:
    """The parts of a sheet, each a group of the file."""
    document = ezdxf.read(io.StringIO(dxf.decode()))  # type: ignore[attr-defined]
    found = []
    for name, group in document.groups:
        lines: dict[str, list[LineString]] = {}
        for entity in group:
            points = [(v.x, v.y) for v in make_path(entity).flattening(FLAT)]
            points[-1] = points[0] if entity.closed else points[-1]  # the end of the last arc is rounded
            lines.setdefault(entity.dxf.layer, []).append(LineString(points))
        if name.startswith("part-"):
            found.append(Piece(name, lines))
    return found


@pytest.mark.parametrize("machine", MACHINES)
@pytest.mark.parametrize("name", ["tide-pool", "night-harbour", "kite-meadow", "pleasure-pier", "moth-hour"])
def test_sheets_can_be_cut_folded_and_read(name: str, machine: str) -> None:
    asked = MACHINES[machine]
    card = check(asked.design(EXAMPLES / f"{name}.card")).card
    files = build_files(card, (), wanted=Wanted(pages=(), labels=Labels.ALL))
    seen = numbered = 0
    for sheet in [content for file, content in files.items() if file.startswith("sheet-") and file.endswith(".dxf")]:
        pieces = pieces_of(sheet)
        for piece in pieces:
            _part_is_sound(piece, asked, card.machine.kerf)
        mats = [box(0, 0, *mat).buffer(FLAT, join_style="mitre") for mat in card.mats]
        assert any(all(mat.covers(piece.shape) for piece in pieces) for mat in mats)
        for one, other in combinations(pieces, 2):
            assert one.shape.distance(other.shape) > card.practice["sheet.spacing"] - 2 * FLAT, (one.name, other.name)
        _nothing_twice([line for piece in pieces for layer, lines in piece.lines.items() if layer != "MARK" for line in lines])
        seen += len(pieces)
        numbered += sum("MARK" in piece.lines for piece in pieces)
    assert seen == len(card.parts)
    assert numbered >= 0.75 * seen  # lettering may be too narrow for a number everywhere


def _part_is_sound(piece: Piece, asked: Asked, kerf: float) -> None:
    inside = piece.shape.buffer(2 * FLAT)
    for crease in piece.creases():
        assert inside.covers(crease), f"a crease leaves {piece.name}"
        if asked.creases and asked.creases.startswith("perforated"):
            # practice: paper under 1 mm wide tears; the tool takes half its kerf on either side
            assert piece.cuts.distance(crease) > 1 - kerf - 2 * FLAT, f"{piece.name} tears at the end of a crease"
        if asked.creases == "ticked":
            assert crease.length <= 4 + FLAT
            assert piece.cuts.distance(crease) < 2 * FLAT, f"a tick of {piece.name} is not at its edge"
    # its number stays on it, as all that is drawn
    assert all(inside.covers(mark) for mark in piece.lines.get("MARK", [])), f"a mark leaves {piece.name}"


def _nothing_twice(lines: list[LineString]) -> None:
    near = shapely.STRtree(lines).query(lines, "dwithin", FLAT / 4)
    for first, second in near.T[near[0] < near[1]]:
        together = shapely.buffer(lines[first], FLAT / 2).intersection(lines[second])
        assert together.length < LONG, "a line is worked twice"
