"""Propagators of rules that are not linear: hull consistency on the expression tree (HC4-revise).

Forward: the interval of every node from the bounds of the variables. At the root: what the rule allows.
Backward: each node's interval is projected on its operands, and at the variables it is rounded inward to the
grid. (F. Benhamou, F. Goualard, L. Granvilliers, J.-F. Puget, "Revising hull and box consistency", ICLP
1999.)

The work is done by generated straight-line code, one function per *shape* of rule; equal shapes share their
code and differ in the numbers bound in.

Rounding. No choice of values that keeps the rule, worked out without rounding, is ever removed:

1. Forward, every interval encloses the true values (`forward.py` says how). At the root it is cut to what the rule
   allows, widened by `TOLERANCE` (1e-7: as much as `holds` forgives) and by the pad of the root.
2. A projection is a few float operations on ends that enclose. Each errs by at most 2**-53 of its result, so together by
   less than 2**-44 of the greatest size of the operand, its pad `e`, unless they work with larger numbers than that: the
   projection of a sum does, and is padded by what all terms of the sum together can lose (`e3_1`); `factor`, `divide`,
   `multiply`, `unsquare` and `contract` pad their own results. So what is cut off holds no true value, and the interval
   that is left encloses again.
3. At a variable the end is rounded inward to the grid with 1e-7 of a step forgiven, a hundred times what count and step
   lose in one product (from 10**8 counts up, more).
4. When all variables of a rule are fixed and it is within the pads, `holds` itself decides.

`holds` works in floats too. A point that misses the 1e-7 by less than those can be off (about 1e-13 mm) may be kept or
removed; either is right, and `recheck.py` knows that room.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, floor, sqrt

from foldwright.solver import interval as box
from foldwright.solver import trig
from foldwright.solver.engine.forward import Forward
from foldwright.solver.engine.graph import Graph, Node
from foldwright.solver.engine.linear import factory
from foldwright.solver.engine.propagate import Store
from foldwright.solver.evaluate import RADICAND, TOLERANCE
from foldwright.solver.trig import BIG

_HELPERS = {
    "multiply": box.multiply,
    "square": box.square,
    "divide": box.divide,
    "factor": box.factor,
    "unsquare": box.unsquare,
    "reach": trig.reach,
    "contract": trig.contract,
    "sqrt": sqrt,
    "ceil": ceil,
    "floor": floor,
    "BIG": BIG,
    "UNIT": box.UNIT,
    "DOWN": box.DOWN,
    "UP": box.UP,
}


@dataclass(frozen=True, slots=True)
class Limits:
    """What the root may be: from `least` to `most` (None: unbounded); `exact` decides when all is fixed."""

    least: float | None
    most: float | None
    exact: Callable[[], int] | None


def rule_limits(operator: str, exact: Callable[[], int]) -> Limits:
    """Limits of `root <= 0` or `root = 0` with the tolerance of rules."""
    return Limits(-TOLERANCE if operator == "=" else None, TOLERANCE, exact)


def propagator(graph: Graph, store: Store, root: int, limits: Limits) -> Callable[[], int]:
    """A `revise` function that keeps node `root` within limits."""
    return Contractor(graph, store, root).make(limits)


class Contractor(Forward):
    """Writes the whole propagator: forward, the limits at the root, and backward to the variables."""

    def make(self, limits: Limits) -> Callable[[], int]:
        """The finished function."""
        store = self.store
        made: Callable[[], int] = self.written(limits)(store.low, store.high, store.trail, *self.values.values())
        return made

    def written(self, limits: Limits) -> Callable[..., Callable[[], int]]:
        """What makes the function from the store's lists and the bound `values`."""
        for number in self.order:
            self.forward(number)
        self._limit(limits)
        for number in reversed(self.order):
            self._backward(number)
        for number in self.order:
            if self.graph.is_variable(number):
                self._settle(self.place[number])
        names = ", ".join(["low", "high", "trail", *self.values])
        opening = ["        ok = True"] if self.partial else []
        source = "\n".join(
            [f"def make({names}):", "    def revise():", *opening, *self.lines, "        return 1", "    return revise"]
        )
        return factory(source, _HELPERS)

    def _limit(self, limits: Limits) -> None:
        """Fail, be done, ask the exact check, or cut the root's interval."""
        p = self.place[self.root]
        pad = f"e{p}" if not self.unbounded(self.root) else f"(UNIT * max(-l{p}, h{p}) + e{p})"
        done = []
        if limits.most is not None:
            self.bind("most", limits.most)
            self.say(f"if l{p} > most + {pad}: return 0")
            done.append(f"h{p} <= most - {pad}")
        if limits.least is not None:
            self.bind("least", limits.least)
            self.say(f"if h{p} < least - {pad}: return 0")
            done.append(f"l{p} >= least + {pad}")
        if limits.exact is not None:
            if self.partial:
                done.append("ok")
            self.say(f"if {' and '.join(done)}: return 2")
            self.bind("exact", limits.exact)
            fixed = [f"low[{name}] == high[{name}]" for name in self._variable_names()]
            self.say(f"if {' and '.join(fixed) or 'True'}: return exact()")
        self.say(f"pad = {pad}")
        if limits.most is not None:
            self.say(f"if h{p} > most + pad: h{p} = most + pad")
        if limits.least is not None:
            self.say(f"if l{p} < least - pad: l{p} = least - pad")

    def _variable_names(self) -> list[str]:
        names: dict[str, str] = {}
        for name, value in self.values.items():
            if name.startswith("i"):
                names.setdefault(value, name)
        return list(names.values())

    def cut(self, number: int, low: str | None, high: str | None, pads: tuple[str, str] = ("", "")) -> None:
        """Lines that intersect a node's interval with projected ends; `pads` are more than its own."""
        q, pad = self.place[number], self.pad(number)
        if low is not None:
            self.say(f"t = {low}", f"t -= {pads[0] or pad}", f"if t > l{q}:", f"    if t > h{q}: return 0", f"    l{q} = t")
        if high is not None:
            self.say(f"t = {high}", f"t += {pads[1] or pad}", f"if t < h{q}:", f"    if t < l{q}: return 0", f"    h{q} = t")

    def cut_pair(self, number: int, call: str) -> None:
        """The same with both ends from one helper, which says "none" by a low end above the high one."""
        q, pad = self.place[number], self.pad(number)
        self.say(
            f"z, t = {call}",
            f"t += {pad}",
            f"if t < h{q}: h{q} = t",
            "t = z",
            f"t -= {pad}",
            f"if t > l{q}: l{q} = t",
            f"if l{q} > h{q}: return 0",
        )

    def _backward(self, number: int) -> None:
        node, p = self.graph.nodes[number], self.place[number]
        if number in self.tables:
            self._backward_table(number)
            return
        q = [self.place[n] for n in node.operands] if node.kind != "var" else []
        match node.kind:
            case "sum":
                self._backward_sum(number, node)
            case "mul":
                self._backward_product(number, node)
            case "sqr":
                self.cut_pair(node.operands[0], f"unsquare(l{p} - e{p}, h{p} + e{p}, l{q[0]}, h{q[0]})")
            case "div":
                self.cut_pair(node.operands[0], f"multiply(l{p}, h{p}, l{q[1]}, h{q[1]})")
                self.cut_pair(node.operands[1], f"factor(l{q[0]}, h{q[0]}, l{p}, h{p}, l{q[1]}, h{q[1]})")
            case "sqrt":
                # The slope of a root is infinite at zero: pad before squaring as well as after.
                self.say(f"if h{p} < 0: return 0")
                self.cut(node.operands[0], f"l{p} * l{p} if l{p} > 0 else -{RADICAND}", f"h{p} * h{p} + {RADICAND}")
            case "min":
                self._backward_least(node, p, "l", "h", ">")
            case "max":
                self._backward_least(node, p, "h", "l", "<")
            case "sin" | "cos" | "tan":
                self.cut_pair(node.operands[0], f"contract({node.kind!r}, l{q[0]}, h{q[0]}, l{p}, h{p})")

    def _backward_least(self, node: Node, p: int, all_end: str, one_end: str, beyond: str) -> None:
        """`min`: every operand is at least the least; if only one can reach down to the most, it must. `max` turned."""
        for operand in node.operands:
            bound = f"{all_end}{p}"
            self.cut(operand, bound if all_end == "l" else None, bound if all_end == "h" else None)
        places = [self.place[n] for n in node.operands]
        for mine in places:
            sign = "+" if beyond == ">" else "-"
            others = " and ".join(f"{all_end}{n} {beyond} {one_end}{p} {sign} e{n}" for n in places if n != mine)
            q, bound = mine, f"{one_end}{p} {sign} e{mine}"
            self.say(
                f"if {others or 'True'}:",
                f"    t = {bound}",
                f"    if t {'<' if one_end == 'h' else '>'} {one_end}{q}:",
                f"        if t {'<' if one_end == 'h' else '>'} {all_end}{q}: return 0",
                f"        {one_end}{q} = t",
            )

    def _backward_sum(self, number: int, node: Node) -> None:
        p = self.place[number]
        self.say(f"if l{p} > a{p} or h{p} < b{p}:")
        start = len(self.lines)
        for j, (operand, f) in enumerate(zip(node.operands, node.factors, strict=True)):
            if not f:
                continue
            rest_low, rest_high = self._rest(number, node, j)
            by = "" if abs(f) == 1 else f" / f{p}_{j}"
            pads = self._sum_pads(number, node, j)
            if f > 0:
                self.cut(operand, f"(l{p} - ({rest_high})){by}", f"(h{p} - ({rest_low})){by}", pads)
            else:
                self.cut(operand, f"(({rest_low}) - h{p}){by}", f"(({rest_high}) - l{p}){by}", pads[::-1])
        if len(self.lines) == start:
            self.say("    pass")
        self.lines[start:] = ["    " + line for line in self.lines[start:]]

    def _sum_pads(self, number: int, node: Node, j: int) -> tuple[str, str]:
        """What a projection on term j gives way by: its operand may be far smaller than what it is worked out from.

        Of two, the first belongs to the low end of the sum and the high ends of the other terms.
        """
        p, operand, by = self.place[number], node.operands[j], abs(float(node.factors[j]))
        if self.unbounded(number) or self.unbounded(operand):
            others = [n for n in range(len(node.operands)) if n != j]
            ends = (("l", "v"), ("h", "u"))
            lost = [self.lost([f"{mine}{p}", *(f"{other}{p}_{n}" for n in others)], p) for mine, other in ends]
            return (f"({lost[0]} / {by!r} + {self.pad(operand)})", f"({lost[1]} / {by!r} + {self.pad(operand)})")
        # twice: to the sum, and back
        name = self.bind(f"e{p}_{j}", self.values[f"e{self.place[operand]}"] + 2 * self.share(node) * self.total(node) / by)
        return name, name

    def _rest(self, number: int, node: Node, j: int) -> tuple[str, str]:
        """Ends of the sum without its term j: by subtraction, or term by term where the sum is unbounded."""
        p = self.place[number]
        signs = ["+" if f >= 0 else "-" for f in node.factors]
        if not self.unbounded(number) and len(signs) > 2:
            back = "-" if signs[j] == "+" else "+"
            return f"a{p} {back} u{p}_{j}", f"b{p} {back} v{p}_{j}"
        others = [n for n in range(len(signs)) if n != j]
        return (
            " ".join([f"k{p}", *(f"{signs[n]} u{p}_{n}" for n in others)]),
            " ".join([f"k{p}", *(f"{signs[n]} v{p}_{n}" for n in others)]),
        )

    def _backward_product(self, number: int, node: Node) -> None:
        p = self.place[number]
        a, b = node.operands
        plain = self.spans[a][0] >= 0 and self.spans[b][0] >= 0 and not (self.unbounded(a) or self.unbounded(b))
        for mine, other in ((a, b), (b, a)):
            x, y = self.place[mine], self.place[other]
            if not plain:
                self.cut_pair(mine, f"factor(l{p} - e{p}, h{p} + e{p}, l{y}, h{y}, l{x}, h{x})")
                continue
            self.say(f"if h{p} < -e{p}: return 0")
            self.cut(
                mine,
                f"(l{p} / h{y}) if h{y} > 0 else (l{x} if l{p} <= e{p} else BIG)",
                f"((h{p} + e{p}) / l{y}) if l{y} > 0 else BIG",
            )

    def _backward_table(self, number: int) -> None:
        p = self.place[number]
        terms = self.tables[number].terms
        self.say(
            f"z = l{p} - 1e-12 - e{p}; t = h{p} + 1e-12 + e{p}",
            f"k = c{p}; m = d{p}",
            f"while not z <= T{p}[k] <= t:",
            "    k += 1",
            "    if k > m: return 0",
            f"while not z <= T{p}[m] <= t:",
            "    m -= 1",
            f"if k > c{p} or m < d{p}:",
            "    pass",
        )
        for j, (_, a) in enumerate(terms):
            i = f"i{p}_{j}"
            below, above = (f"(m - c{p})", f"(d{p} - k)") if a > 0 else (f"(d{p} - k)", f"(m - c{p})")
            self.say(
                f"    n = x{p}_{j} + {below} // a{p}_{j}",
                f"    if n < high[{i}]:",
                f"        if n < low[{i}]: return 0",
                f"        trail.append(({i}, low[{i}], high[{i}])); high[{i}] = n",
                f"    n = y{p}_{j} - {above} // a{p}_{j}",
                f"    if n > low[{i}]:",
                f"        if n > high[{i}]: return 0",
                f"        trail.append(({i}, low[{i}], high[{i}])); low[{i}] = n",
            )

    def _settle(self, p: int) -> None:
        """Round a variable's interval inward to the grid and write it to the store."""
        index = self.values[f"i{p}"]
        counts = max(-self.store.low[index], self.store.high[index])
        below = above = "1e-7"
        if counts >= 10**8:  # and what the products round off
            below, above = (f"1e-7 - {2.0**-51!r} * abs({end}{p} * r{p})" for end in "lh")
            above = above.replace(" - ", " + ", 1)
        self.say(
            f"if l{p} > s{p} * low[i{p}]:",
            f"    n = ceil(l{p} * r{p} - {below})",
            f"    if n > low[i{p}]:",
            f"        if n > high[i{p}]: return 0",
            f"        trail.append((i{p}, low[i{p}], high[i{p}])); low[i{p}] = n",
            f"if h{p} < s{p} * high[i{p}]:",
            f"    n = floor(h{p} * r{p} + {above})",
            f"    if n < high[i{p}]:",
            f"        if n < low[i{p}]: return 0",
            f"        trail.append((i{p}, low[i{p}], high[i{p}])); high[i{p}] = n",
        )
