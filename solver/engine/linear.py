"""Propagators of linear rules: whole-number arithmetic, so nothing is ever rounded.

Short rules run as generated straight-line code, one function per pattern of signs, with the numbers bound in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache
from types import MappingProxyType
from typing import Any

from foldwright.solver.engine.propagate import ENTAILED, FAILED, RAN, Store

Terms = list[tuple[int, int]]  # pairs (variable, factor)

_FACTORIES: dict[str, Callable[..., Callable[[], int]]] = {}


def factory(source: str, helpers: Mapping[str, Any] = MappingProxyType({})) -> Callable[..., Any]:
    """The function `make` that some generated source text defines, which may use helpers; compiled once per text."""
    made = _FACTORIES.get(source)
    if made is None:
        space: dict[str, Any] = dict(helpers)
        # The text holds names made here and numbers only, never anything a script wrote.
        exec(compile(source, "<propagator>", "exec"), space)
        made = _FACTORIES[source] = space["make"]
    return made


def at_most(store: Store, terms: Sequence[tuple[int, int]], constant: int) -> Callable[[], int]:
    """Propagator of `sum of factor * variable + constant <= 0`; terms are pairs (variable, factor)."""
    if len(terms) > 16:
        return Cut(store, terms, -constant)
    return _bind(store, terms, constant, equal=False)


def equal(store: Store, terms: Sequence[tuple[int, int]], constant: int) -> Callable[[], int]:
    """Propagator of `sum of factor * variable + constant = 0`."""
    if len(terms) > 16:
        up = Cut(store, terms, -constant)
        down = Cut(store, [(variable, -factor) for variable, factor in terms], constant)
        return lambda: min(up(), down())
    return _bind(store, terms, constant, equal=True)


def _bind(store: Store, terms: Sequence[tuple[int, int]], constant: int, equal: bool) -> Callable[[], int]:
    make = _made(tuple([factor > 0 for _, factor in terms]), equal)
    numbers = [n for variable, factor in terms for n in (variable, abs(factor))]
    made: Callable[[], int] = make(store.low, store.high, store.trail, constant, *numbers)
    return made


@cache
def _made(positive: tuple[bool, ...], equal: bool) -> Callable[..., Any]:
    return factory(_source(positive, equal))


def _source(positive: tuple[bool, ...], equal: bool) -> str:
    places = range(len(positive))
    names = ", ".join(f"i{n}, a{n}" for n in places)
    least = " ".join(f"+ a{n} * l{n}" if positive[n] else f"- a{n} * h{n}" for n in places)
    most = " ".join(f"+ a{n} * h{n}" if positive[n] else f"- a{n} * l{n}" for n in places)
    lines = [f"def make(low, high, trail, k, {names}):", "    def revise():"]
    lines += [f"        l{n} = low[i{n}]; h{n} = high[i{n}]" for n in places]
    lines += [f"        least = k {least}", f"        most = k {most}", "        if least > 0: return 0"]
    if equal:
        lines += ["        if most < 0: return 0", "        if least == most: return 2"]
    else:
        lines += ["        if most <= 0: return 2"]
    for n in places:
        lines += _tighten(n, positive[n], "least", "-least")
        if equal:
            lines += _tighten(n, not positive[n], "most", "most")
    lines += ["        return 1", "    return revise"]
    return "\n".join(lines)


def _tighten(n: int, upper: bool, name: str, room: str) -> list[str]:
    """Lines that pull one bound of variable n so that the sum keeps to its limit."""
    if upper:
        return [
            f"        t = l{n} + ({room}) // a{n}",
            f"        if t < high[i{n}]:",
            f"            if t < low[i{n}]: return 0",
            f"            trail.append((i{n}, low[i{n}], high[i{n}])); high[i{n}] = t",
        ]
    return [
        f"        t = h{n} - ({room}) // a{n}",
        f"        if t > low[i{n}]:",
        f"            if t > high[i{n}]: return 0",
        f"            trail.append((i{n}, low[i{n}], high[i{n}])); low[i{n}] = t",
    ]


class Cut:
    """`sum of factor * variable <= limit` with a limit that may be moved; used for wishes and for long rules."""

    def __init__(self, store: Store, terms: Sequence[tuple[int, int]], limit: int) -> None:
        self.limit = limit
        self.terms = tuple(terms)
        self._store = store

    def least(self) -> int:
        """Smallest value of the sum within the bounds."""
        low, high = self._store.low, self._store.high
        return sum(a * low[v] if a > 0 else a * high[v] for v, a in self.terms)

    def __call__(self) -> int:
        """Propagate."""
        store = self._store
        low, high = store.low, store.high
        room = self.limit - self.least()
        if room < 0:
            return FAILED
        entailed = True
        for variable, factor in self.terms:
            width = high[variable] - low[variable]
            step = room // abs(factor)
            if width > step:
                store.trail.append((variable, low[variable], high[variable]))
                if factor > 0:
                    high[variable] = low[variable] + step
                else:
                    low[variable] = high[variable] - step
                entailed = False
            elif width:
                entailed = False
        return ENTAILED if entailed else RAN
