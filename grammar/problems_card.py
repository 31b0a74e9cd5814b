"""Problems of what a script means: names, mechanisms, and dimensions that cannot be found.

They are raised by the stages after the text has been read, and kept here so that one place holds all words.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from foldwright.grammar.problem import Label, Problem
from foldwright.grammar.problems_value import listed, suggested
from foldwright.grammar.source import Span


@dataclass(frozen=True)
class UnknownName(Problem):
    """A name refers to nothing that the script declares or a mechanism offers.

        card "Tide pool"
          units mm

        cover 130 x 180
          paper ink

        paper ink  colour #22304a  weight 216 gsm

        require tanc.height >= 20

    Names are those of blocks and papers, and with a dot those of their dimensions, creases and panels. The
    nearest known name is suggested.
    """

    code: ClassVar[str] = "unknown-name"
    name: str
    known: tuple[str, ...]

    def wrong(self) -> str:
        """Name it."""
        return f"nothing here is called `{self.name}`"

    def hints(self) -> tuple[str, ...]:
        """The nearest names, or all of a short list."""
        return suggested(self.name, self.known) or ("declare it first, or check its spelling",)


@dataclass(frozen=True)
class UnknownKeyword(Problem):
    """A block begins with a word that is no mechanism.

        card "Tide pool"
          units mm

        cover 130 x 180
          paper ink

        paper ink  colour #22304a  weight 216 gsm

        rong tank on spine

    The nearest known keyword is suggested.
    """

    code: ClassVar[str] = "unknown-keyword"
    name: str
    known: tuple[str, ...]

    def wrong(self) -> str:
        """Name it."""
        return f"there is no statement or mechanism `{self.name}`"

    def hints(self) -> tuple[str, ...]:
        """The nearest, or all of a short list."""
        return suggested(self.name, self.known) or ("check the spelling of the first word",)


@dataclass(frozen=True)
class RangeUpsideDown(Problem):
    """A range has its larger end first, so that no value lies in it.

        wall 80 to 50

    Write the smaller end first:

        wall 50 to 80
    """

    code: ClassVar[str] = "range-upside-down"
    low: str
    high: str

    def wrong(self) -> str:
        """Give both ends."""
        return f"this range runs from {self.low} down to {self.high}, so no value lies in it"

    def hints(self) -> tuple[str, ...]:
        """Turn it round."""
        return (f"write `{self.high} to {self.low}`",)


@dataclass(frozen=True)
class CyclicExpression(Problem):
    """Dimensions are given by each other in a circle, so that none of them has a value to start from.

        ring tank on spine
          wall   2 * tank.height
          height 0.5 * tank.wall

    Give one of them as a number or a range, and state the other relation as a rule with `require`:

        ring tank on spine
          wall   2 * tank.height
          height 25 to 45
    """

    code: ClassVar[str] = "cyclic-expression"
    cycle: tuple[str, ...]

    def wrong(self) -> str:
        """Walk round the circle."""
        if len(self.cycle) < 2:
            return f"{listed(self.cycle)} is given by itself"
        return "these are given by each other in a circle: " + " -> ".join((*self.cycle, self.cycle[0]))

    def hints(self) -> tuple[str, ...]:
        """Break it."""
        return ("give one of them as a number or a range", "state how dimensions relate with `require`")


@dataclass(frozen=True)
class CannotCarry(Problem):
    """A mechanism or cut-out is placed where it cannot stand.

    A mechanism that opens with its host needs a crease that is closed while the card is closed; a cut-out
    needs a panel.

        cutout crab on spine

    The message names the places that could carry it.
    """

    code: ClassVar[str] = "cannot-carry"
    child: str
    host: str
    why: str
    could: tuple[str, ...]

    def wrong(self) -> str:
        """Name both, and why."""
        return f"`{self.host}` cannot carry a `{self.child}`: {self.why}"

    def hints(self) -> tuple[str, ...]:
        """Where it could stand."""
        if self.could:
            return (f"place it on {listed(self.could)}",)
        return (f"nothing here can carry a `{self.child}` yet: add what it stands on, or take it away",)


@dataclass(frozen=True)
class NoCreaseBetween(Problem):
    """Two panels do not meet at one crease, so that nothing can stand between them.

        tent quay on spine
          paper ink

        vfold gull between quay.left and quay.right_tab
          paper ink

    Panels meet where one sheet is creased, and where a wall stands on a page:

        vfold gull between quay.left and cover.left
          paper ink

    The message names the creases that there are. If two panels meet at several, name the crease: `on quay.ridge`.
    """

    code: ClassVar[str] = "no-crease-between"
    panels: tuple[str, str]
    shared: tuple[str, ...]  # creases at which the two meet: none, or several
    others: tuple[tuple[str, str], ...]  # pairs of panels, one of the two each, that do meet

    def wrong(self) -> str:
        """Name both."""
        first, second = self.panels
        if self.shared:
            return f"`{first}` and `{second}` meet at {len(self.shared)} creases"
        return f"`{first}` and `{second}` do not meet at a crease"

    def hints(self) -> tuple[str, ...]:
        """The creases, or what each of the panels meets."""
        if self.shared:
            return (f"write {' or '.join(f'`on {name}`' for name in self.shared)}",)
        pairs = [f"`between {first} and {second}`" for first, second in self.others]
        return (f"there is a crease {', '.join(pairs)}",) if pairs else ("name two panels that meet, or a crease: `on spine`",)


@dataclass(frozen=True)
class UnknownPractice(Problem):
    """A `practice` line names no workshop default.

        card "Tide pool"
          units mm

        cover 130 x 180
          paper ink

        paper ink  colour #22304a  weight 216 gsm

        practice tab.deep 10 because "the glue sticks are wide"

    The nearest known one is suggested.
    """

    code: ClassVar[str] = "unknown-practice"
    name: str
    known: tuple[str, ...]

    def wrong(self) -> str:
        """Name it."""
        return f"there is no workshop practice called `{self.name}`"

    def hints(self) -> tuple[str, ...]:
        """The nearest, or all of a short list."""
        return suggested(self.name, self.known) or ("check the spelling",)


@dataclass(frozen=True, slots=True)
class Told:
    """One rule of a conflict: its name, who asks for it, its sentence, and its place.

    `kind` is "designer", "practice", "usual" (a usual range, where the script says nothing), "geometry" or "mat".
    """

    name: str
    kind: str
    sentence: str
    at: Span | None = None

    def asks(self) -> str:
        """Who asks for it, as words before the sentence."""
        return _ASKS.get(self.kind, self.kind)


_ASKS = {
    "designer": "you wrote",
    "practice": "usual in the workshop, and yours to change",
    "usual": "you did not set it",
    "geometry": "geometry, which nothing changes",
    "mat": "the mat that you wrote",
}


@dataclass(frozen=True)
class CannotHold(Problem):
    """Some rules of the card cannot hold together, whatever the dimensions.

    The first line says what clashes. Below it, every other rule that takes part is told at its line, with who
    asks for it: you, the workshop's practice, or the geometry of folding, which nothing changes. They are a
    smallest set: without any one of them the others can hold, unless the message says that this was too long
    to prove. Change one of your own values or rules; where a smallest change is known, it is given, and it has
    been tried. Several problems of this kind are conflicts that share nothing, unless it is the cover: each
    of them needs a change.
    """

    code: ClassVar[str] = "cannot-hold"
    sentences: tuple[str, ...]  # of the rules, in their order
    places: tuple[Label, ...] = ()
    changes: tuple[str, ...] = ()
    numbers: tuple[int, ...] = ()  # of the changes, over all conflicts of the card
    also: tuple[str, ...] = ()  # what else would help, or is to be known of the changes
    grid: str = ""  # the step that would do
    headline: str = ""
    told: tuple[Told, ...] = ()
    unplaced: tuple[str, ...] = ()  # rules that no line shows
    others: tuple[tuple[Told, ...], ...] = ()  # further sets that share rules with this one
    complete: bool = False  # there are no others
    sure: bool = True  # proved to be a smallest set
    waivable: tuple[str, ...] = ()  # names of rules of practice
    rank: int = 0
    given: str = ""  # of a script with choices, with which of them; with all if it is empty

    def wrong(self) -> str:
        """What clashes, in one sentence."""
        text = self.headline or self._listing()
        if self.given:
            text = f"with {self.given}, {text}"
        if self.unplaced:
            text += "; with " + "; ".join(self.unplaced)
        return text if self.sure else f"{text} (perhaps not the smallest set: some of these rules may have no part in it)"

    def _listing(self) -> str:
        if len(self.sentences) == 1:
            return f"this cannot hold: {self.sentences[0]}"
        listing = "; ".join(f"({number}) {sentence}" for number, sentence in enumerate(self.sentences, 1))
        return f"these {len(self.sentences)} rules cannot hold together: {listing}"

    def hints(self) -> tuple[str, ...]:
        """The changes that would help, or what to try; then what else there is to know."""
        changes = tuple(f"[{number}] {change}" for number, change in zip(self.numbers, self.changes, strict=True))
        grid = (self.grid,) if self.grid else ()
        # named beside changes too: nobody should have to learn the name of a rule from anywhere else
        more = [f'a habit of the workshop may be left out: write `without {name} because "..."`' for name in self.waivable[:1]]
        if self.others:
            count = len(self.others)
            least = "" if self.complete else "at least "
            more.append(f"{least}{count} more {'set' if count == 1 else 'sets'} of rules overlapping with this one "
                        "cannot hold either (`--json` lists all)")
        tries = (*changes, *self.also, *grid) or ("loosen one of these rules, or give one of the dimensions a wider range",)
        return (*tries, *more)

    def related(self) -> tuple[Label, ...]:
        """Where the rules come from."""
        return self.places

    def order(self) -> int:
        """The smallest conflict comes first."""
        return self.rank

    def facts(self) -> dict[str, object]:
        """The rules of this set and of those that overlap with it."""
        if not self.told:
            return {}
        return {
            "rules": [_fact(told) for told in self.told],
            "smallest": self.sure,
            "overlapping": [[_fact(told) for told in others] for others in self.others],
            "all_found": self.complete,
            "changes": [{"number": number, "words": words} for number, words in zip(self.numbers, self.changes, strict=True)],
        }


def _fact(told: Told) -> dict[str, object]:
    return {"name": told.name, "kind": told.kind, "sentence": told.sentence, "line": told.at.line if told.at else None}
