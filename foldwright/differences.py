"""How one answer differs from another, in a few words: "quay 12 mm lower, ridge of sail 20 mm longer, 8 % less paper"."""

from __future__ import annotations

from collections.abc import Sequence

from foldwright.solver.alternatives import LEAST, SHARE, Answer, Trait
from foldwright.solver.model import WishResult
from foldwright.solver.words import amount

TOLD = 4  # differences that are told
EACH = 2  # of them of one mechanism

# A dimension that is told of its mechanism itself: when it is less, when it is more.
OF_THE_WHOLE = {"height": ("lower", "taller"), "width": ("narrower", "wider"), "depth": ("shallower", "deeper"),
                "across": ("narrower across the pages", "wider across the pages"),
                "at": ("nearer the start of its crease", "further along its crease"),
                "along": ("shorter along its crease", "longer along its crease")}
# Measures that are told: what a reader sees of the card. The others follow from the dimensions or hide when it stands.
SEEN = frozenset({"height", "depth", "across", "along"})


def words(first: Answer, other: Answer, traits: Sequence[Trait], unit: str) -> tuple[str, ...]:
    """The main differences of `other` from `first`: the wishes that differ, then the clearest dimensions."""
    wished = {result.wish.text.split(" ", 1)[-1] for result in first.wishes}
    told = [_wish(a, b, unit) for a, b in zip(first.wishes, other.wishes, strict=True) if a.value != b.value]
    clear: dict[str, list[tuple[bool, float, int]]] = {}  # by mechanism, what shows first
    for n, (trait, a, b) in enumerate(zip(traits, first.traits, other.traits, strict=True)):
        if trait.apart(a, b) and trait.name not in wished and (not trait.standing or trait.measure in SEEN):
            clear.setdefault(trait.name.split(".")[0], []).append((not trait.standing, -_clearness(trait, a, b), n))
    for turn in range(EACH):  # something of each mechanism, before more of one
        rest = sorted(sorted(found)[turn][1:] for found in clear.values() if len(found) > turn)
        told += [_dimension(traits[n], first.traits[n], other.traits[n], unit) for _, n in rest[: max(0, TOLD - len(told))]]
    return tuple(told)


def _clearness(trait: Trait, one: float, other: float) -> float:
    """The difference counted in the least one that is clear."""
    share = 0.0 if trait.kind == "place" else SHARE * max(abs(one), abs(other))
    return round(abs(one - other) / max(LEAST[trait.kind], share), 6)


def _wish(first: WishResult, other: WishResult, unit: str) -> str:
    target, more = first.wish.text.split(" ", 1)[-1], other.value > first.value
    match first.wish.dimension:
        case "area" if target == "paper":
            share = 100 * float(abs(other.value - first.value) / first.value)
            return f"{share:.0f} % {'more' if more else 'less'} paper" if share >= 1 else \
                f"{'a little more' if more else 'a little less'} paper"
        case "length" | "angle" if target.count(".") == 1 and target.replace(".", "").replace("_", "").isalnum():
            by = amount(abs(float(other.value - first.value)), first.wish.dimension == "angle", unit)
            return _changed(target, by, more)
        case "length" | "angle":
            by = amount(abs(float(other.value - first.value)), first.wish.dimension == "angle", unit)
            return f"{target} {by} {'more' if more else 'less'}"
    return f"{target} {abs(float(other.value - first.value)):g} {'more' if more else 'less'}"


def _dimension(trait: Trait, one: float, other: float, unit: str) -> str:
    return _changed(trait.name, amount(abs(other - one), trait.kind == "angle", unit), other > one)


def _changed(name: str, by: str, more: bool) -> str:
    """A changed dimension: "quay 12 mm lower", "wall of tank 5 mm longer", "gull 14 mm further along its crease"."""
    owner, parameter = name.split(".", 1)
    owner, parameter = owner.replace("_", " "), parameter.replace("_", " ")
    if parameter in OF_THE_WHOLE:
        return f"{owner} {by} {OF_THE_WHOLE[parameter][more]}"
    return f"{parameter} of {owner} {by} {'more' if more else 'less'}"
