"""Times of conflicts on cards of the product's own mechanisms: `python tests/bench/conflicts.py [counts]`.

Each script asks for more height than two mechanisms of the first spread can have together. Printed are the processor times
of reading the script into a model, of making the machine, from there to the first minimal set (each member proved to be
needed), to all sets that share no rule, and to the end with the sets that overlap; then how many sets and corrections there
are, whether each shown set was proved minimal, and the time to put the conflicts into words. Printed, not asserted.
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import process_time

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from generate_cards import script

from foldwright.grammar import read_text
from foldwright.solver.bind import bind
from foldwright.solver.conflict_words import conflict_problems
from foldwright.solver.engine.conflict import conflicts
from foldwright.solver.engine.machine import Machine
from foldwright.solver.engine.minimal import Limits, minimise
from foldwright.solver.engine.questions import Questions

SEEDS = range(4)


def first(machine: Machine) -> None:
    """As far as the first minimal set."""
    questions = Questions(machine, None)
    questions.possible(range(len(machine.model.rules)))
    minimise(questions, questions.core, Limits().question)
    questions.close()


def main(arguments: list[str]) -> None:
    counts = [int(word) for word in arguments] or [10, 20, 40]
    print("mechanisms seed  rules   bind ms  machine ms   first ms   apart ms     all ms   words ms   sets  overlap  proved")
    for count in counts:
        for seed in SEEDS:
            marks = [process_time()]
            model = bind(read_text(script(count, seed, "clash"))).model
            marks.append(process_time())
            machine = Machine(model)
            marks.append(process_time())
            first(machine)
            marks.append(process_time())
            conflicts(machine, None, Limits(nodes=0))
            marks.append(process_time())
            conflict = conflicts(machine, None)
            marks.append(process_time())
            conflict_problems(conflict, model)
            marks.append(process_time())
            spent = [1000 * (b - a) for a, b in zip(marks, marks[1:], strict=False)]
            overlap = sum(map(len, conflict.others))
            print(f"{count:10d} {seed:4d} {len(model.rules):6d} {spent[0]:9.1f} {spent[1]:11.1f} {spent[2]:10.1f}"
                  f" {spent[3]:10.1f} {spent[4]:10.1f} {spent[5]:10.1f} {len(conflict.sets):6d} {overlap:8d}"
                  f"  {not conflict.unsure}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
