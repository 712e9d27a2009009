"""`python -m tests.bench circle`: every single fault of the invented machine, from `predict` round to `diagnose`.

Each fault that the layout can have gives readings (every fitted cell of every bank once, a look at rest, nothing held);
those go into the diagnosis, which must name the fault first, up to its ambiguity group. A fault that no such reading
shows must stand among what is not testable yet, with the hold round that would show it where there is one.
"""

from __future__ import annotations

import argparse
import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, product

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.candidates import faults_of
from matrixcheck.diagnosis.machine.fault_notation import fault_at, format_fault
from matrixcheck.diagnosis.result import Diagnosis, Fault, FaultClass
from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading

FIRST, EVEN, MISSED = "named first", "an even set stands first", "missed"
SHOWN_HELD, NEVER_SHOWS, NOT_SAID = "invisible, hold round named", "invisible in any hold", "invisible, nothing said"


@dataclass(frozen=True)
class Round:
    """One fault that went round: what came of it, and what the diagnosis named first."""

    fault: str
    outcome: str
    named: str


def single_faults(layout: Layout) -> tuple[Fault, ...]:
    """Every single fault of the layout: a line whose chain is unknown is broken after each of its cells as listed, and
    each coil of a known resistance may be a wrong one."""
    known = [fault for fault, _ in faults_of(layout)]
    broken = {fault.lines[0] for fault in known if fault.fault is FaultClass.BREAK}
    return (
        *known,
        *(
            fault_at(layout, FaultClass.BREAK, line=key, after=after)
            for matrix in layout.matrices
            for key in matrix.lines
            if key not in broken
            for after in range(1, len(matrix.cells_of(key)))
        ),
        *(
            fault_at(layout, FaultClass.WRONG_DEVICE, cells=(cell.key,))
            for matrix in layout.matrices
            for cell in matrix.fitted
            if cell.notes.ohms is not None
        ),
    )


def everything(layout: Layout) -> list[Reading]:
    """What `predict LAYOUT` exercises: each bank at rest, then each of its fitted cells."""
    return [
        Reading(matrix=matrix.id, cell=key)
        for matrix in layout.matrices
        for key in (None, *(cell.key for cell in matrix.in_walk_order))
    ]


def sample(layout: Layout, count: int, seed: int) -> list[Fault]:
    """Up to so many faults of each class and bank, drawn by the seed."""
    rng = random.Random(seed)
    ordered = sorted(single_faults(layout), key=lambda fault: (_sort(fault), format_fault(fault, layout)))
    chosen: list[Fault] = []
    for _, alike in groupby(ordered, key=_sort):
        some = list(alike)
        chosen += rng.sample(some, min(count, len(some)))
    return chosen


def _sort(fault: Fault) -> tuple[str, str, bool]:
    place = (*fault.lines, *fault.cells)[0]
    return str(fault.fault), place.matrix, fault.part is None


def go_round(layout: Layout, fault: Fault, exercises: Sequence[Reading]) -> Round:
    """One fault, predicted and diagnosed."""
    readings = predict(layout, [fault], exercises)
    found = diagnose(layout, readings)
    suspects = [found.suspect(name) for name in found.explanations[0].suspects]
    plain = [each for each in suspects if each.members[0].fault is not FaultClass.KEEP_WARM_GLOW]
    named = " + ".join(format_fault(each.members[0], layout) for each in suspects) or "no shared fault"
    text = format_fault(fault, layout)
    if readings == predict(layout, [], exercises):
        return Round(text, _said_of_hidden(layout, fault, found), named)
    if any(_alike(fault, member) for each in suspects for member in each.members) and len(plain) <= 1:
        return Round(text, FIRST, named)
    again = predict(layout, [each.members[0] for each in suspects], exercises)
    return Round(text, EVEN if again == readings else MISSED, named)


def _alike(fault: Fault, member: Fault) -> bool:
    """The same fault; a break in a chain that nobody knows is the same where it loses the same cells."""
    keys = ("fault", "part", "lines", "cells", "other", "when")
    if fault.fault is FaultClass.PLUG_SHIFTED and fault.after != member.after:
        return False
    return all(getattr(fault, key) == getattr(member, key) for key in keys)


def _said_of_hidden(layout: Layout, fault: Fault, found: Diagnosis) -> str:
    """Whether `next` names a hold round that would show a fault which nothing has shown yet."""
    if any(_shows(layout, fault, test.held) for test in found.next if test.held):
        return SHOWN_HELD
    return NOT_SAID if _could_show(layout, fault) else NEVER_SHOWS


def _shows(layout: Layout, fault: Fault, held: tuple[CellKey, ...]) -> bool:
    """Whether a round with these cells held would show the fault."""
    asked = [
        Reading(matrix=held[0].matrix, cell=key, held=tuple(each for each in held if each != key))
        for key in (None, *(cell.key for cell in layout.matrix(held[0].matrix).in_walk_order))
    ]
    return predict(layout, [fault], asked) != predict(layout, [], asked)


def _could_show(layout: Layout, fault: Fault) -> bool:
    """Whether any two switches held, on the row and the column of the faulty one, would show the fault."""
    return any(
        _shows(layout, fault, (first.key, second.key))
        for cell in fault.cells
        if layout.matrix(cell.matrix).kind == "switch"
        for first, second in product(layout.matrix(cell.matrix).fitted, repeat=2)
        if first.key.row == cell.row and second.key.column == cell.column and cell not in (first.key, second.key)
    )


def main(argv: list[str]) -> int:
    """Prints what comes of every fault by class, and each that was not named first; 1 if any was missed."""
    parser = argparse.ArgumentParser("python -m tests.bench circle")
    parser.add_argument("--layout", default="saltmarsh-tram")
    parser.add_argument("--each", type=int, default=0, help="so many of each class and bank only; 0 for all")
    parser.add_argument("--part", default="1/1", help="the second of three parts is 2/3")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(argv)
    layout = read_layout(find_layout(options.layout))
    faults = sample(layout, options.each, options.seed) if options.each else list(single_faults(layout))
    part, _, parts = options.part.partition("/")
    faults = faults[int(part) - 1 :: int(parts)]
    exercises = everything(layout)
    counted: Counter[tuple[str, str]] = Counter()
    for fault in faults:
        found = go_round(layout, fault, exercises)
        counted[str(fault.fault), found.outcome] += 1
        if found.outcome in (EVEN, MISSED, NOT_SAID):
            print(f"{found.outcome}: {found.fault} -> {found.named}", flush=True)
    print(f"\n{len(faults)} faults of {layout.name}\n")
    outcomes = (FIRST, EVEN, MISSED, SHOWN_HELD, NEVER_SHOWS, NOT_SAID)
    print(f"| class | {' | '.join(outcomes)} |\n|---{'|---:' * len(outcomes)}|")
    for name in dict.fromkeys(str(fault.fault) for fault in faults):
        print(f"| {name} | " + " | ".join(str(counted[name, outcome]) for outcome in outcomes) + " |")
    return int(any(outcome in (MISSED, NOT_SAID) for _, outcome in counted))
