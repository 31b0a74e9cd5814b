"""What a block stands on: the crease, panel or ring that its head names, found among those that other mechanisms offer."""

from __future__ import annotations

from dataclasses import replace

from foldwright.grammar import design as ast
from foldwright.grammar.problem import Refused
from foldwright.grammar.problems import CannotCarry, NoCreaseBetween, SettingMissing, UnknownChoice, UnknownName
from foldwright.solver.binding import Binding
from foldwright.solver.expression import Expr
from foldwright.solver.host import Crease, Site
from foldwright.solver.mechanism import Mechanism
from foldwright.solver.settings import Raw


class Hosting(Binding):
    """The part of the binder that finds hosts."""

    def astride(self, raw: Raw) -> bool:
        """True if a block stands on the outer side of a ridge."""
        if raw.place is None or not isinstance(raw.place.target, ast.Name):
            return False
        crease = self._crease(raw)[1]
        return crease is not None and crease.astride

    def _target(self, raw: Raw, example: str) -> tuple[ast.Name, str, str]:
        """The name that a block stands on, its owner, and what is named of the owner (or nothing)."""
        if raw.place is None or not isinstance(raw.place.target, ast.Name):
            raise Refused([SettingMissing(raw.block.at, raw.block.keyword.text, example.split()[0], example)])
        target = raw.place.target
        if raw.place.second is not None:
            raise Refused([UnknownChoice(raw.place.at, "between", raw.block.keyword.text, (example,))])
        if target.path == ("spine",):
            return target, "cover", "spine"
        if target.path[0] not in self.raws:
            raise Refused([UnknownName(target.at, target.text, ("spine", *self.raws))])
        return target, target.path[0], ".".join(target.path[1:])

    def _hosted(self, kind: type[Mechanism], raw: Raw, site: Site) -> Site:
        if "face" in kind.stands_on:
            return self._on_face(kind, raw, site)
        if "ring" in kind.stands_on:
            return self._in_ring(raw, site)
        target, crease = self._crease(raw)
        assert crease is not None
        allowed = kind.stands_on
        why = ""
        if crease.refuses and "gusset" not in allowed:
            why = crease.refuses
        elif crease.astride and "ridge" not in allowed:
            why = "the outer side of a ridge carries only what can sit astride it"
        elif "sheet" in allowed and not crease.one_sheet:
            why = "it is cut out of one sheet, and the two panels at this crease are two pieces"
        elif raw.choices.get("joint") == "slotted" and not crease.slots:
            why = "tabs can pass through slits in an insert only"
        if why:
            inserts = tuple(n for n, r in self.raws.items() if r.block.keyword.text == "insert")
            could = inserts or ("an insert: `insert page on spine`",)
            raise Refused([CannotCarry(target.at, raw.block.keyword.text, target.text, why, could)])
        return replace(site, crease=crease)

    def _crease(self, raw: Raw) -> tuple[ast.Name, Crease | None]:
        if raw.place is not None and raw.place.second is not None:
            return self._between(raw, raw.place)
        target, owner, rest = self._target(raw, "on spine")
        creases = self.offered("creases", self.mechanism(owner, target.at))
        if not creases or (raw.place is not None and raw.place.how != "on"):
            could = tuple(n for n, r in self.raws.items() if n in self.mechanisms and self.mechanisms[n].creases())
            raise Refused([CannotCarry(target.at, raw.block.keyword.text, target.text, "it has no crease to stand on", could)])
        name = rest or next(iter(creases))
        if name not in creases:
            raise Refused([UnknownName(target.at, target.text, tuple(f"{owner}.{c}" for c in creases))])
        self.hosts[raw.name] = (owner, name)
        return target, creases[name]

    def _between(self, raw: Raw, place: ast.Place) -> tuple[ast.Name, Crease]:
        """The crease at which the two panels of `between quay.right and cover.right` meet."""
        names = [name for name in (place.target, place.second) if isinstance(name, ast.Name)]
        owners = dict.fromkeys(self._owner(name) for name in names)  # a crease is offered by the owner of one of its panels
        offered: dict[tuple[str, str], Crease] = {}
        for owner in owners:
            offered |= {(owner, name): crease for name, crease in self.offered("creases", self.mechanism(owner)).items()}
        pairs = {key: (crease.right.panel, crease.left.panel) for key, crease in offered.items()}
        panels = [panel for pair in pairs.values() for panel in pair]
        panels += [face.panel for owner in owners for face in self.mechanism(owner).faces().values()]
        unknown = [UnknownName(name.at, name.text, tuple(dict.fromkeys(panels))) for name in names if name.text not in panels]
        if unknown:
            raise Refused(unknown)
        wanted = {name.text for name in names}
        shared = [key for key, pair in pairs.items() if set(pair) == wanted]
        if len(shared) != 1:
            others = tuple(dict.fromkeys(pair for pair in pairs.values() if wanted & set(pair)))
            both = (names[0].text, names[1].text)
            raise Refused([NoCreaseBetween(place.at, both, tuple(".".join(key) for key in shared), others)])
        self.hosts[raw.name] = shared[0]
        return ast.Name(shared[0], place.at), offered[shared[0]]

    def _owner(self, name: ast.Name) -> str:
        """The block that a panel belongs to."""
        if name.path[0] not in self.raws:
            raise Refused([UnknownName(name.at, name.text, tuple(self.raws))])
        self.mechanism(name.path[0], name.at)
        return name.path[0]

    def _in_ring(self, raw: Raw, site: Site) -> Site:
        target, owner, rest = self._target(raw, "in tank")
        ring = self.mechanism(owner, target.at).ring()
        if ring is None or rest:
            could = tuple(n for n, m in self.mechanisms.items() if (other := m.ring()) is not None and not other.refuses)
            why = "only the inside of a ring holds it"
            raise Refused([CannotCarry(target.at, raw.block.keyword.text, target.text, why, could)])
        if ring.refuses:
            could = tuple(n for n, m in self.mechanisms.items() if (other := m.ring()) is not None and not other.refuses)
            raise Refused([CannotCarry(target.at, raw.block.keyword.text, target.text, ring.refuses, could)])
        self.hosts[raw.name] = (owner, "inside")
        return replace(site, ring=ring)

    def _on_face(self, kind: type[Mechanism], raw: Raw, site: Site) -> Site:
        holed = kind.face_in_head
        target, owner, rest = self._target(raw, "on cover.left" if holed else "glue on tank.front_right at centre")
        if raw.place is not None and raw.place.how != "on":
            raise Refused([UnknownChoice(raw.place.at, raw.place.how, raw.block.keyword.text, (f"on {target.text}",))])
        faces = self.offered("faces", self.mechanism(owner, target.at))
        if not faces:
            why = "it has no panel to cut into" if holed else "it has no panel to glue on"
            raise Refused([self._cannot_carry(target, raw, why, holed)])
        if rest not in faces:
            raise Refused([UnknownName(target.at, target.text, tuple(f"{owner}.{f}" for f in faces))])
        if holed and faces[rest].within is None:
            raise Refused([self._cannot_carry(target, raw, "a hole needs a plain panel, without slots", holed)])
        needed, why = kind.needs_of_face
        if needed and getattr(faces[rest], needed) is None:
            could = tuple(f"{name}.{panel}" for name, mechanism in self.mechanisms.items()
                          for panel, face in mechanism.faces().items() if getattr(face, needed) is not None)
            raise Refused([CannotCarry(target.at, raw.block.keyword.text, target.text, why, could)])
        self.hosts[raw.name] = (owner, rest)
        words = ("centre",) if holed or faces[rest].top is None else ("centre", "top")
        return replace(site, face=faces[rest], at=self._at(raw, words))

    def _cannot_carry(self, target: ast.Name, raw: Raw, why: str, holed: bool) -> CannotCarry:
        """The problem of a panel that cannot carry, with those that could."""
        could = tuple(name for name, mechanism in self.mechanisms.items()
                      if any(face.within or not holed for face in mechanism.faces().values()))
        return CannotCarry(target.at, raw.block.keyword.text, target.text, why, could)

    def _at(self, raw: Raw, options: tuple[str, ...]) -> dict[str, Expr | str]:
        """Where on a face: lengths u and v, or one of some words, of which the first is meant if nothing is written."""
        if isinstance(raw.at, ast.Size):
            return {"u": self.reader.length(raw.at.width, "a place"), "v": self.reader.length(raw.at.height, "a place")}
        if raw.at is not None and raw.at.text not in options:
            raise Refused([UnknownChoice(raw.at.at, raw.at.text, "at", (*options, "12 x 30"))])
        return {"word": options[0] if raw.at is None else raw.at.text}
