"""`python -m tests.bench expected`: how many faults of each class the invented machine has on average, by the rates.

Rates are chances, so that their sum is the count to expect. Breaks of chains that the layout doesn't give count as
well, keep-warm glow does not: it is no failure.
"""

from __future__ import annotations

import argparse
from collections import Counter
from pathlib import Path

from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.fault_classes import OF_BANKS
from matrixcheck.diagnosis.machine.priors import Rates, shipped_rates
from matrixcheck.diagnosis.machine.rates_file import read_rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.layout.model import Layout


def expected(layout: Layout, rates: Rates) -> dict[str, float]:
    """Return the count of faults to expect, by class; opens by the kind of part that is open."""
    found: Counter[str] = Counter()
    for each in candidates(layout, rates):
        if each.fault_class not in OF_BANKS:
            found[_class(each.fault_class, each.part)] += each.rate
    for matrix in layout.matrices:
        unknown = [key for key, line in matrix.lines.items() if line.chain is None and len(matrix.cells_of(key)) > 1]
        found[str(FaultClass.BREAK)] += len(unknown) * rates.line["break"]
    return dict(found)


def _class(fault: FaultClass, part: str | None) -> str:
    if fault is not FaultClass.OPEN:
        return str(fault)
    if part is None:
        return "open: first wire"
    kind = part_class(part)
    pins = {"connector": "contact", "integrated circuit": "chip pin"}
    return f"open: {pins.get(kind, kind) if owner(part) != part else kind}"


def main(argv: list[str]) -> int:
    """Prints the table, most first, and the sum."""
    parser = argparse.ArgumentParser("python -m tests.bench expected")
    parser.add_argument("--layout", default="saltmarsh-tram")
    parser.add_argument("--rates", type=Path, help="a file of rates in place of the shipped ones")
    options = parser.parse_args(argv)
    rates = read_rates(options.rates) if options.rates else shipped_rates()
    found = expected(read_layout(find_layout(options.layout)), rates)
    print("| class | faults a machine |\n|---|---:|")
    for name, count in sorted(found.items(), key=lambda entry: -entry[1]):
        print(f"| {name} | {count:.3f} |")
    print(f"| all | {sum(found.values()):.3f} |")
    return 0
