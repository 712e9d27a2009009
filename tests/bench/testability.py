"""`python -m tests.bench testability`: how much of what can fail shows in test mode, and how closely it can be told.

The fraction of faults detected and the fraction of these isolated to few parts, by rate, as MIL-STD-2165 and IEEE 1522
define the terms: of the single faults of the invented machine, exercised once in full with nothing held, and with its
hold rounds made as well. Faults that give the same readings are one ambiguity group; a part counts once in it.
"""

from __future__ import annotations

import argparse
from collections.abc import Hashable, Iterable, Sequence
from typing import NamedTuple

from matrixcheck.diagnosis.advice.advise import hold_rounds
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.candidates import faults_of
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Reading
from tests.bench.circle import everything

LIMITS = (1, 2, 3, 5, 8)


class Failure(NamedTuple):
    """One thing that can fail: how often, what is then replaced or mended, and what shows (None: nothing does)."""

    rate: float
    part: Hashable
    shows: Hashable


def detected(failures: Iterable[Failure]) -> float:
    """The fraction of faults detected, by rate: what shows over all."""
    known = list(failures)
    return sum(each.rate for each in known if each.shows is not None) / sum(each.rate for each in known)


def isolated(failures: Iterable[Failure], limit: int) -> float:
    """The fraction isolated to an ambiguity group of at most `limit` parts, by rate, of what is detected."""
    groups: dict[Hashable, list[Failure]] = {}
    for each in failures:
        if each.shows is not None:
            groups.setdefault(each.shows, []).append(each)
    total = sum(each.rate for group in groups.values() for each in group)
    close = [group for group in groups.values() if len({each.part for each in group}) <= limit]
    return sum(each.rate for group in close for each in group) / total


def failures_of(layout: Layout, exercises: Sequence[Reading]) -> list[Failure]:
    """Every single fault of the layout and what the exercises would show of it. Keep-warm glow is no failure."""
    healthy = _shown(layout, [], exercises)
    found = []
    for fault, rate in faults_of(layout):
        if fault.fault is not FaultClass.KEEP_WARM_GLOW:
            shown = _shown(layout, [fault], exercises)
            found.append(Failure(rate, _part(fault), None if shown == healthy else shown))
    return found


def _shown(layout: Layout, faults: Sequence[Fault], exercises: Sequence[Reading]) -> Hashable:
    return tuple((reading.answered, reading.faint) for reading in predict(layout, faults, exercises))


def _part(fault: Fault) -> Hashable:
    """What a repair would take in hand: the part that the fault names, else the wire, else the cell."""
    return fault.part or fault.lines or fault.cells


def held(layout: Layout) -> list[Reading]:
    """The exercises of every hold round."""
    begun = [Reading(matrix=matrix.id, answered=()) for matrix in layout.matrices]
    return [
        Reading(matrix=each.held[0].matrix, cell=cell, held=each.held)
        for each in hold_rounds(layout, begun)
        for cell in each.exposes
    ]


def main(argv: list[str]) -> int:
    """Prints both fractions."""
    parser = argparse.ArgumentParser("python -m tests.bench testability")
    parser.add_argument("--layout", default="saltmarsh-tram")
    layout = read_layout(find_layout(parser.parse_args(argv).layout))
    print(f"| exercises | detected | {' | '.join(f'to {limit}' for limit in LIMITS)} parts |")
    print(f"|---|{'---:|' * (len(LIMITS) + 1)}")
    plain = everything(layout)
    for name, exercises in (("each cell once, at rest", plain), ("and the hold rounds", [*plain, *held(layout)])):
        failures = failures_of(layout, exercises)
        shares = " | ".join(f"{isolated(failures, limit):.1%}" for limit in LIMITS)
        print(f"| {name} | {detected(failures):.1%} | {shares} |")
    return 0
