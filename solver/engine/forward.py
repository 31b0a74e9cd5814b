"""The forward half of a generated propagator: every node's interval from those of its operands.

Every interval encloses the true values. One float operation errs by at most 2**-53 of its result, so a product or square
of numbers that are not negative, and a root, is scaled by `DOWN` and `UP` (2**-50: the operation, the scaling itself, and
room to spare; zero stays zero). A sum gives way by `w`: a bound, worked out once from the widest bounds, on what all its
operations together can lose. A variable whose step is a binary fraction is exact. What `interval.py` and `trig.py` return
is padded there. A tabulated sine is the float that `evaluate.py` uses too, within 2 units in the last place of the sine.
"""

from __future__ import annotations

from fractions import Fraction

from foldwright.solver import interval as box
from foldwright.solver import trig
from foldwright.solver.engine.graph import Node
from foldwright.solver.engine.writer import Writer
from foldwright.solver.evaluate import RADICAND


class Forward(Writer):
    """Writes the lines that compute intervals from the variables up."""

    def forward(self, number: int) -> None:
        """Lines for one node; its operands are done."""
        node, p = self.graph.nodes[number], self.place[number]
        self.bind(f"e{p}", 1e-12 + box.UNIT * (self.size(number) if not self.unbounded(number) else 1.0))
        if number in self.tables:
            self._forward_table(number, node)
            return
        q = [self.place[n] for n in node.operands] if node.kind != "var" else []
        match node.kind:
            case "var":
                self.bind(f"i{p}", node.operands[0])
                self.bind(f"s{p}", float(self.graph.steps[node.operands[0]]))
                self.bind(f"r{p}", float(1 / self.graph.steps[node.operands[0]]))
                self._forward_variable(number, p)
            case "sum":
                self._forward_sum(number, node)
            case "mul":
                self._forward_product(number, node)
            case "sqr" if self.spans[node.operands[0]][0] >= 0:
                self.say(f"l{p} = l{q[0]} * l{q[0]} * DOWN; h{p} = h{q[0]} * h{q[0]} * UP")
            case "sqr":
                self.say(f"l{p}, h{p} = square(l{q[0]}, h{q[0]})")
            case "div":
                if self.spans[node.operands[1]][0] <= 0 <= self.spans[node.operands[1]][1]:
                    self.partial = True
                    self.say(f"if l{q[1]} <= 0 <= h{q[1]}:", "    ok = False", f"    if l{q[1]} == h{q[1]}: return 0")
                self.say(f"l{p}, h{p} = divide(l{q[0]}, h{q[0]}, l{q[1]}, h{q[1]})")
            case "sqrt":
                self.partial = True
                self.say(
                    f"if l{q[0]} < 0:",
                    "    ok = False",
                    f"    if h{q[0]} < -e{q[0]} - {RADICAND}: return 0",
                    f"l{p} = sqrt(l{q[0]}) * DOWN if l{q[0]} > 0 else 0.0",
                    f"h{p} = sqrt(h{q[0]}) * UP if h{q[0]} > 0 else 0.0",
                )
            case "min" | "max":
                lows, highs = (", ".join(f"{end}{n}" for n in q) for end in "lh")
                one = len(q) == 1
                self.say(
                    f"l{p} = {lows if one else f'{node.kind}({lows})'}", f"h{p} = {highs if one else f'{node.kind}({highs})'}"
                )
            case _:
                self.say(f"l{p}, h{p} = reach({node.kind!r}, l{q[0]}, h{q[0]})")
                if node.kind == "tan":
                    self.partial = True
                    self.say(f"if h{p} >= BIG: ok = False")

    def _forward_sum(self, number: int, node: Node) -> None:
        p = self.place[number]
        self.bind(f"k{p}", float(node.constant))
        lows, highs = [f"k{p}"], [f"k{p}"]
        for j, (operand, f) in enumerate(zip(node.operands, node.factors, strict=True)):
            q = self.place[operand]
            ends = (f"l{q}", f"h{q}") if f >= 0 else (f"h{q}", f"l{q}")
            sign = "+" if f >= 0 else "-"
            if abs(f) != 1:
                self.bind(f"f{p}_{j}", float(abs(f)))
                ends = (f"f{p}_{j} * {ends[0]}", f"f{p}_{j} * {ends[1]}")
            # The terms are kept: an operand's interval may shrink before this node is projected.
            self.say(f"u{p}_{j} = {ends[0]}; v{p}_{j} = {ends[1]}")
            lows.append(f"{sign} u{p}_{j}")
            highs.append(f"{sign} v{p}_{j}")
        self.say(f"a{p} = {' '.join(lows)}", f"b{p} = {' '.join(highs)}")
        if self.unbounded(number):
            places = range(len(node.operands))
            self.say(f"l{p} = max(-BIG, a{p} - {self.lost([f'u{p}_{j}' for j in places], p)})")
            self.say(f"h{p} = min(BIG, b{p} + {self.lost([f'v{p}_{j}' for j in places], p)})")
        elif self._positive(node):
            share = self.share(node)  # no partial sum exceeds the sum
            self.bind(f"d{p}", 1.0 - share)
            self.bind(f"g{p}", 1.0 + share)
            self.say(f"l{p} = a{p} * d{p}; h{p} = b{p} * g{p}")
        else:
            self.bind(f"w{p}", self.share(node) * self.total(node))
            self.say(f"l{p} = a{p} - w{p}; h{p} = b{p} + w{p}")

    @staticmethod
    def share(node: Node) -> float:
        """What a sum can lose by rounding, as a share of all its terms' sizes together."""
        return 2.0**-53 * (len(node.operands) + 8)

    def total(self, node: Node) -> float:
        """Greatest sizes of all terms of a sum, added up."""
        sizes = (max(-self.spans[n][0], self.spans[n][1]) for n in node.operands)
        return abs(float(node.constant)) + sum(abs(float(f)) * size for f, size in zip(node.factors, sizes, strict=True))

    @staticmethod
    def lost(terms: list[str], p: int) -> str:
        """The same for a sum whose terms have no bound, as an expression over their present values."""
        return f"UNIT * (abs(k{p}){''.join(f' + abs({term})' for term in terms)})"

    def _positive(self, node: Node) -> bool:
        """True if no term of a sum is ever negative."""
        ends = (self.spans[n][0 if f >= 0 else 1] * float(f) for n, f in zip(node.operands, node.factors, strict=True))
        return node.constant >= 0 and all(end >= 0 for end in ends)

    def _forward_variable(self, number: int, p: int) -> None:
        """Counts times the step; where that rounds, the ends give way by what it can lose."""
        step, (low, high) = self.graph.steps[self.graph.nodes[number].operands[0]], self.spans[number]
        most = max(-low, high)
        if Fraction(float(step)) == step and most * step.denominator < 2.0**52:
            self.say(f"l{p} = s{p} * low[i{p}]; h{p} = s{p} * high[i{p}]")
        elif low >= 0:
            self.bind(f"d{p}", float(step) * box.DOWN)
            self.bind(f"g{p}", float(step) * box.UP)
            self.say(f"l{p} = d{p} * low[i{p}]; h{p} = g{p} * high[i{p}]")
        else:
            self.say(f"l{p} = s{p} * low[i{p}]; l{p} -= abs(l{p}) * {2.0**-50!r}")
            self.say(f"h{p} = s{p} * high[i{p}]; h{p} += abs(h{p}) * {2.0**-50!r}")

    def _forward_product(self, number: int, node: Node) -> None:
        p, (a, b) = self.place[number], node.operands
        if self.spans[a][0] < 0 <= self.spans[b][0]:
            a, b = b, a
        x, y = self.place[a], self.place[b]
        if self.spans[a][0] < 0 or self.unbounded(a) or self.unbounded(b):
            self.say(f"l{p}, h{p} = multiply(l{x}, h{x}, l{y}, h{y})")
        elif self.spans[b][0] >= 0:
            self.say(f"l{p} = l{x} * l{y} * DOWN; h{p} = h{x} * h{y} * UP")
        else:
            w = self.bind(f"w{p}", 2.0**-50 * self.size(number))
            self.say(f"l{p} = (l{x} if l{y} >= 0 else h{x}) * l{y} - {w}", f"h{p} = (h{x} if h{y} >= 0 else l{x}) * h{y} + {w}")

    def _forward_table(self, number: int, node: Node) -> None:
        p = self.place[number]
        table = self.tables[number]
        self.bind(f"T{p}", table.values)
        self.bind(f"k{p}", -table.first)
        lows, highs = [f"k{p}"], [f"k{p}"]
        for j, (variable, a) in enumerate(table.terms):
            self.bind(f"i{p}_{j}", variable)
            self.bind(f"a{p}_{j}", abs(a))
            self.say(f"x{p}_{j} = low[i{p}_{j}]; y{p}_{j} = high[i{p}_{j}]")
            ends = (f"x{p}_{j}", f"y{p}_{j}") if a > 0 else (f"y{p}_{j}", f"x{p}_{j}")
            sign = "+" if a > 0 else "-"
            lows.append(f"{sign} a{p}_{j} * {ends[0]}")
            highs.append(f"{sign} a{p}_{j} * {ends[1]}")
        self.say(f"c{p} = {' '.join(lows)}", f"d{p} = {' '.join(highs)}")
        self.say(f"l{p} = T{p}[c{p}]; h{p} = T{p}[d{p}]")
        end = table.start + table.step * (len(table.values) - 1)
        turns = [(turn, float((turn - table.start) / table.step)) for turn in trig.turns(node.kind, table.start, end)]
        if node.kind == "tan":
            for n, (_, at) in enumerate(turns):
                self.partial = True
                self.bind(f"w{p}_{n}", at)
                self.say(f"if c{p} <= w{p}_{n} <= d{p}: l{p} = -BIG; h{p} = BIG; ok = False")
            return
        self.say(f"if l{p} > h{p}: l{p}, h{p} = h{p}, l{p}")
        for n, (turn, at) in enumerate(turns):
            self.bind(f"w{p}_{n}", at)
            peak = f"h{p} = 1.0" if trig.FUNCTIONS[node.kind](turn) > 0 else f"l{p} = -1.0"
            self.say(f"if c{p} <= w{p}_{n} <= d{p}: {peak}")
