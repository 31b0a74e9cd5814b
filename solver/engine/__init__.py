"""The search: bounds, labelling, wishes one after the other, and minimal sets of rules that cannot hold together."""

from foldwright.solver.engine.run import solve

__all__ = ["solve"]
