"""What the machine does: its mats, its kind of crease, its kerf (in mm) and the side that lies up, from what the script says."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from foldwright.grammar import design as ast
from foldwright.solver.card import Machine


def machine(design: ast.Design) -> Machine:
    """The machine of a design."""
    said, kerf = design.machine, design.machine.kerf
    creases = said.creases or ast.Creases("creased", None, None, None, design.at)
    mats = tuple((float(mat.width), float(mat.height)) for mat in design.mats)
    dash, gap, tick = (None if value is None else float(value) for value in (creases.dash, creases.gap, creases.length))
    up = said.printed is None or said.printed.side == "up"
    joints = said.joints.style if said.joints is not None and said.pieces else ""
    return Machine(mats, creases.style, dash, gap, tick, 0.0 if kerf is None else float(kerf.width), up, joints)


def largest(mats: Sequence[ast.Mat]) -> list[ast.Mat]:
    """The mats that take something that none of the others takes, in their order; of two alike the first."""
    def sides(mat: ast.Mat) -> tuple[Fraction, Fraction]:
        return min(mat.width, mat.height), max(mat.width, mat.height)

    def covered(mat: ast.Mat, others: Iterable[ast.Mat]) -> bool:
        short, long = sides(mat)
        return any(short <= sides(other)[0] and long <= sides(other)[1] for other in others)

    kept: list[ast.Mat] = []
    for mat in mats:
        if not covered(mat, kept):
            kept = [*(other for other in kept if not covered(other, [mat])), mat]
    return kept
