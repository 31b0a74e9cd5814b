"""What a command asks of a script beyond what is written: one of its variants, another cover, mat or paper."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from foldwright.grammar import Design, Refused, read
from foldwright.grammar.design import Variant
from foldwright.grammar.problem import Problem
from foldwright.grammar.problems import UnknownVariant
from foldwright.solver.variants import varied
from foldwright.variant_text import as_script


class AskedWrong(Refused):
    """What was asked in the call is wrong, not the script."""

    status = 2


@dataclass(frozen=True)
class Asked:
    """Options of a call as they were written; all lengths in the card's unit unless they have one."""

    variant: str | None = None
    cover: str | None = None  # "100x150", "4 in x 6 in"
    mats: tuple[str, ...] = ()
    papers: tuple[str, ...] = ()  # "weed caliper 0.3"
    creases: str | None = None  # "perforated dash 3 gap 2"
    kerf: str | None = None  # "0.15 mm"
    printed: str | None = None  # "up" or "down"
    joints: str | None = None  # "overlap", "strip" or "none"

    def __bool__(self) -> bool:
        return bool(self.variant or self.changes())

    def changes(self) -> tuple[tuple[str, str], ...]:
        """Lines that the call adds to the card, as a variant would have them, each with the option it stands in."""
        said = [("cover", self.cover), *(("mat", mat) for mat in self.mats), ("creases", self.creases), ("kerf", self.kerf),
                ("printed", self.printed), ("joints", self.joints), *(("paper", paper) for paper in self.papers)]
        return tuple((f"--{word}", " ".join(f"{word} {value}".split())) for word, value in said if value is not None)

    def __call__(self, path: Path) -> Path | Design:
        """The script as it is asked for: its file, if nothing is changed. Raises as `design`."""
        return self.design(path) if self else path

    def script(self, path: Path | str) -> Design:
        """The same as `design`, but read again from a text that says it: what can be written as a script of its own."""
        design = read(Path(path))
        varied_design = design
        for variant in self.variants(design):
            varied_design = varied(varied_design, variant)
            design = as_script(design, variant)
        return replace(design, title=varied_design.title, variant=varied_design.variant)

    def design(self, path: Path | str) -> Design:
        """The script's design as it is asked for. Raises Refused for faults of the script, AskedWrong for those of the call."""
        design = read(Path(path))
        for variant in self.variants(design):
            design = varied(design, variant)
        return design

    def variants(self, design: Design) -> Iterator[Variant]:
        """The variant of the script that is asked for, and behind it what the call itself changes; raises AskedWrong."""
        if self.variant is not None:
            known = {variant.name.text: variant for variant in design.variants}
            if self.variant not in known:
                raise AskedWrong([UnknownVariant(None, self.variant, tuple(known), tuple(v.name.at for v in known.values()))])
            design_now = known[self.variant]
            yield design_now
            design = varied(design, design_now)
        if self.changes():
            yield self.given(design)

    def given(self, design: Design) -> Variant:
        """What the call itself changes of a design, as one variant called `given`; raises AskedWrong."""
        problems: list[Problem] = []
        found: list[Variant] = []
        from foldwright.grammar.variant import joined, read_change

        for option, line in self.changes():
            change, faults = read_change(line, option, design)
            problems.extend(faults)
            if change is not None:
                found.append(change)
        if problems:
            raise AskedWrong(problems)
        return joined(found)
