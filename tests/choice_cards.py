"""Scripts with free choices, what a plain loop over all ways to decide them finds, and other helpers of their tests."""

from itertools import product

import pytest

from foldwright.grammar import Refused, read_text
from foldwright.solver.answer import solve_design, solve_model
from foldwright.solver.bind import bind
from foldwright.solver.choices import decide, decisions, name_of
from foldwright.solver.choices_search import Choosing
from foldwright.solver.engine import solve
from foldwright.solver.mechanism import registry
from foldwright.solver.model import Solution

# The cover comes last, so that a script may begin with more lines of its block.
HEAD = """card "Quay"
  units mm
paper sand colour #d9c39a caliper 0.2
paper weed colour #3f6f4b caliper 0.4
mat 300 x 300
cover 100 x 120
  paper sand
"""
TENT = "tent quay on spine\n  paper sand\n  wall 30 to 60\n"
RING = "ring tank on spine\n  paper sand\nlattice weeds in tank\n  paper weed\n"


def design_of(script):
    return read_text(HEAD + script)


def searched(script, **options):
    design = design_of(script)
    search = Choosing(design, decisions(design, registry()), **options)
    return search, search.run()


def chosen(script):
    """What was chosen, by what it is about."""
    card = solve_design(design_of(script), seconds=60)
    return {each.what: each.option for each in card.choices.chosen}


def problems_of(script, seconds=60):
    """The problems of a script that is refused."""
    with pytest.raises(Refused) as refused:
        solve_model(design_of(script), seconds=seconds)
    return refused.value.problems


CASES = {
    "everything fits": """
optional vfold gull on spine or on quay.ridge
  wing 40 to 60 or 80
  ridge 20 to 60
  paper sand or weed
optional tent quay on spine
  wall 30 to 60
  at 10 or 40
  tabs inward or outward
  paper sand
prefer largest quay.height
prefer largest gull.height
prefer least paper
""",
    "not all at once": """
optional vfold gull on spine
  wing 60 to 80
  ridge 40 to 60
  foot 50 to 60
  paper sand
optional tent quay on spine
  wall 30 to 60
  width 50 or 60 to 70
  paper sand
optional tent hut on spine
  wall 30 to 60
  width 40
  paper sand
prefer largest quay.height + hut.height
require gull.ridge >= 60
""",
    "later options are better": """
tent quay on spine
  paper sand or weed
  wall 20 or 40 or 90 or 30
  spread 10 or 15 to 20
prefer largest quay.height
prefer least paper
""",
    "only equal answers": """
tent quay on spine
  paper sand or weed
  wall 40
  tabs outward or inward
prefer largest quay.wall
""",
    "counts": RING + """  layers 1 to 3 by 2
  rise 40 to 70
prefer largest weeds.rise
prefer least paper
""",
    "none": """
tent quay on spine
  wall 130 or 120 or 110
  paper sand or weed
""",
    "no wishes": """
optional tent quay on spine
  paper sand
  width 70
optional tent pier on spine
  paper weed or sand
  width 60 or 40
""",
    "a wish without a value": """
tent quay on spine
  paper sand
  wall 50 or 30 to 50
prefer largest sqrt((45 - quay.wall) * quay.wall)
prefer smallest quay.spread
""",
}  # fmt: skip


def every_way(design):
    """All ways to decide with what they come to: picks, plain design, what is gone, and the model."""
    made = decisions(design, registry())
    for picks in product(*(range(len(decision.options)) for decision in made)):
        plain, gone = decide(design, made, picks)
        try:
            model = bind(plain).model
        except Refused:
            continue
        yield picks, gone, model


def rank(design, picks, gone, wishes):
    """What a way is compared by, written out here a second time: blocks, then wishes, then the order of options."""
    there = tuple(name_of(block) not in gone.blocks for block in design.blocks)
    values = {wish.at: value if wish.largest else -value for wish, value in wishes}
    reached = tuple((wish.at in values, values.get(wish.at, 0)) for wish in design.prefers)
    return there, reached, tuple(-pick for pick in picks)


def best_of_all(design):
    ranks = []
    for picks, gone, model in every_way(design):
        outcome = solve(model)
        if isinstance(outcome, Solution):
            wishes = [(result.wish, result.value) for result in outcome.wishes]
            ranks.append((rank(design, picks, gone, wishes), picks, outcome))
    return max(ranks, key=lambda entry: entry[0], default=None)
