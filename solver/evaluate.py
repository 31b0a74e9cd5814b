"""What an expression is worth for given dimensions, and whether a rule holds.

This is the definition that the search is checked against. A linear rule is compared exactly. Any other rule
holds within `TOLERANCE`, because a sine or a root has no exact value; the propagators widen every bound by at
least that much, so that they never remove what is accepted here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from math import ceil, inf, sqrt

from foldwright.solver import interval as box
from foldwright.solver import trig
from foldwright.solver.expression import Const, Expr, Function, Product, Quotient, Sum, Variable
from foldwright.solver.model import Rule, Wish

TOLERANCE = 1e-7  # mm, degrees or mm²: far below paper, far above the rounding of values up to 1e8
RADICAND = 1e-12  # a rounded radicand this little below zero counts as zero
_EXACT_TOLERANCE = Fraction(1, 10**7)

Value = Fraction | float


class Undefined(ArithmeticError):
    """An expression has no value here: division by zero, root of a negative number, tangent of 90 degrees."""


def children(node: Expr) -> tuple[Expr, ...]:
    """Direct operands of an expression."""
    match node:
        case Sum():
            return node.terms
        case Product() | Quotient():
            return (node.left, node.right)
        case Function():
            return node.arguments
    return ()


def postorder(root: Expr) -> Iterator[Expr]:
    """Every node object below `root` once, operands first. No recursion: trees may be deep."""
    seen: set[int] = set()
    stack: list[tuple[Expr, bool]] = [(root, False)]
    while stack:
        node, ready = stack.pop()
        if ready:
            yield node
        elif id(node) not in seen:
            seen.add(id(node))
            stack.append((node, True))
            stack.extend((child, False) for child in reversed(children(node)))


def evaluate(expr: Expr, values: Mapping[str, Fraction]) -> Value:
    """Value of an expression in mm or degrees, an exact fraction unless a sine, cosine, tangent or root is in
    it.

    Raises Undefined if there is no value, KeyError if a variable is missing from `values`.
    """
    results: dict[int, Value] = {}
    for node in postorder(expr):
        results[id(node)] = _worth(node, [results[id(child)] for child in children(node)], values)
    return results[id(expr)]


def _worth(node: Expr, operands: list[Value], values: Mapping[str, Fraction]) -> Value:
    match node:
        case Const():
            return node.value
        case Variable():
            return values[node.name]
        case Sum():
            exact = sum((x for x in operands if isinstance(x, Fraction)), Fraction(0))
            rounded = [x for x in operands if isinstance(x, float)]
            return sum(rounded[1:], rounded[0]) + float(exact) if rounded else exact
        case Product():
            return operands[0] * operands[1]
        case Quotient():
            if operands[1] == 0:
                raise Undefined("division by zero")
            return operands[0] / operands[1]
        case Function():
            return _function(node.name, operands)
    raise TypeError(f"{type(node).__name__} is no expression")


def _function(name: str, operands: list[Value]) -> Value:
    if name == "min":
        return min(operands)
    if name == "max":
        return max(operands)
    if name == "sqrt":
        radicand = operands[0]
        if radicand < (0 if isinstance(radicand, Fraction) else -RADICAND):
            raise Undefined("root of a negative number")
        return sqrt(max(0.0, float(radicand)))
    value = trig.FUNCTIONS[name](operands[0])
    if value == inf:
        raise Undefined("tangent of a right angle")
    return value


def is_linear(expr: Expr) -> bool:
    """True if an expression is a sum of variables times constants; such rules are compared exactly."""
    constant: set[int] = set()
    for node in postorder(expr):
        below = [id(child) in constant for child in children(node)]
        if isinstance(node, Const) or (below and all(below) and not isinstance(node, Function)):
            constant.add(id(node))
        if isinstance(node, Function) or (isinstance(node, Quotient) and not below[1]):
            return False
        if isinstance(node, Product) and not any(below):
            return False
    return True


def _minus(left: Value, right: Value) -> Value:
    """Difference, exact if both are."""
    if isinstance(left, Fraction) and isinstance(right, Fraction):
        return left - right
    return float(left) - float(right)


def compare(left: Value, operator: str, right: Value, tolerance: Fraction | float) -> bool:
    """Whether two values stand in a relation, up to a tolerance."""
    difference = _minus(left, right)
    if operator == "<=":
        return difference <= tolerance
    if operator == ">=":
        return -difference <= tolerance
    return difference <= tolerance and -difference <= tolerance


def holds(rule: Rule, values: Mapping[str, Fraction]) -> bool:
    """Whether a rule holds: exactly if it is linear, else within `TOLERANCE`; never where a side has no value."""
    try:
        left, right = evaluate(rule.left, values), evaluate(rule.right, values)
    except Undefined:
        return False
    linear = is_linear(rule.left) and is_linear(rule.right)
    return compare(left, rule.operator, right, Fraction(0) if linear else _EXACT_TOLERANCE)


def slack(rule: Rule, values: Mapping[str, Fraction]) -> tuple[Value, Value, Value]:
    """Both sides and the room left between them (negative: broken); for an equality minus the distance.

    Raises Undefined if a side has no value.
    """
    left, right = evaluate(rule.left, values), evaluate(rule.right, values)
    if rule.operator == "<=":
        return left, right, _minus(right, left)
    if rule.operator == ">=":
        return left, right, _minus(left, right)
    distance = _minus(left, right)
    return left, right, distance if distance < 0 else -distance


class Evaluation:
    """The value of one expression at one place after the other: of a sum, terms of which nothing moved are kept."""

    def __init__(self, expr: Expr) -> None:
        self.expr = expr
        self.terms = children(expr) if isinstance(expr, Sum) else (expr,)
        self.names = [{node.name: None for node in postorder(term) if isinstance(node, Variable)} for term in self.terms]
        self._known: list[tuple[list[Fraction], Value] | None] = [None] * len(self.terms)

    def __call__(self, values: Mapping[str, Fraction]) -> Value:
        """As `evaluate`."""
        worth: list[Value] = []
        for number, term in enumerate(self.terms):
            place, known = [values[name] for name in self.names[number]], self._known[number]
            if known is None or known[0] != place:
                known = self._known[number] = place, evaluate(term, values)
            worth.append(known[1])
        return _worth(self.expr, worth, values) if isinstance(self.expr, Sum) else worth[0]


def measure(wish: Wish, values: Mapping[str, Fraction]) -> Fraction:
    """What a wish comes to: its target rounded to the grain, to the worse side. Raises Undefined."""
    return counted(wish, evaluate(wish.target, values))


def counted(wish: Wish, value: Value) -> Fraction:
    """The value of a wish's target, rounded to the grain, to the worse side."""
    allowed = Fraction(0) if is_linear(wish.target) else _EXACT_TOLERANCE
    exact = Fraction(value)
    if wish.largest:
        return -ceil((-exact - allowed) / wish.grain) * wish.grain
    return ceil((exact - allowed) / wish.grain) * wish.grain


def interval(expr: Expr, bounds: Mapping[str, tuple[Fraction, Fraction]]) -> tuple[float, float]:
    """Least and greatest value that an expression can have while each variable stays within its bounds.

    Padded outward; an expression that mentions a variable twice may get a wider interval than it needs.
    Values where it is undefined are left out; raises Undefined if it is undefined everywhere.
    """
    results: dict[int, tuple[float, float]] = {}
    for node in postorder(expr):
        results[id(node)] = _span(node, [results[id(child)] for child in children(node)], bounds)
    return results[id(expr)]


def _span(node: Expr, spans: list[tuple[float, float]], bounds: Mapping[str, tuple[Fraction, Fraction]]) -> tuple[float, float]:
    match node:
        case Const():
            return box.widen(float(node.value), float(node.value))
        case Variable():
            low, high = bounds[node.name]
            return box.widen(float(low), float(high))
        case Sum():
            return box.widen(
                sum(low for low, _ in spans), sum(high for _, high in spans), sum(max(-low, high) for low, high in spans)
            )
        case Product():
            if node.left is node.right or (isinstance(node.left, Variable) and node.left == node.right):
                return box.square(*spans[0])
            return box.multiply(*spans[0], *spans[1])
        case Quotient():
            if spans[1] == (0.0, 0.0):
                raise Undefined("division by zero")
            return box.divide(*spans[0], *spans[1])
    assert isinstance(node, Function)
    if node.name == "min":
        return min(low for low, _ in spans), min(high for _, high in spans)
    if node.name == "max":
        return max(low for low, _ in spans), max(high for _, high in spans)
    if node.name == "sqrt":
        least, most = box.root(*spans[0])
        if least > most:
            raise Undefined("root of a negative number")
        return least, most
    return trig.reach(node.name, *spans[0])
