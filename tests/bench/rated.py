"""Draw faults by the shipped rates, as often as machines are said to have them, as the circuit simulator takes them."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

from matrixcheck.diagnosis.machine.candidates import Candidate, candidates
from matrixcheck.diagnosis.machine.fault_classes import OF_BANKS
from matrixcheck.layout.model import Layout
from tests.spice.bank import Fault, place_of

MISPLACED = ("plugs-swapped", "plug-shifted")
Member = Mapping[str, Any]
"""A fault as a member of a suspect has it in an answer's JSON."""
Drawn = TypeVar("Drawn")
Fits = Callable[[Drawn, Sequence[Drawn]], bool]
"""Whether a fault goes with those that were drawn before it."""


class RatedFaults:
    """The faults that a layout can have, every chain of it known, with their rates.

    What whole banks have at even odds, as the glow of LEDs on keep-warm resistors, is no fault: `draw_of_banks`.
    """

    def __init__(self, layout: Layout) -> None:
        every = candidates(layout)
        self._faults = [each for each in every if each.fault_class not in OF_BANKS]
        self._of_banks = [each for each in every if each.fault_class in OF_BANKS]

    def draw(self, rng: random.Random, count: int, make: Callable[[Member], Drawn], fits: Fits[Drawn]) -> list[Drawn]:
        """Draw so many, each as likely as its rate."""
        rates = [each.rate for each in self._faults]
        found: list[Drawn] = []
        while len(found) < count:
            fault = make(member_of(rng.choices(self._faults, rates)[0]))
            if fits(fault, found):
                found.append(fault)
        return found

    def draw_all(self, rng: random.Random, make: Callable[[Member], Drawn], fits: Fits[Drawn]) -> list[Drawn]:
        """Draw each by itself at its rate, whatever their number; what doesn't go with one before it is left out."""
        found: list[Drawn] = []
        for each in self._faults:
            if rng.random() < each.rate:
                fault = make(member_of(each))
                if fits(fault, found):
                    found.append(fault)
        return found

    def draw_of_banks(self, rng: random.Random, make: Callable[[Member], Drawn]) -> list[Drawn]:
        """Draw what banks have, each at its rate."""
        return [make(member_of(each)) for each in self._of_banks if rng.random() < each.rate]


def member_of(candidate: Candidate) -> Member:
    """Return a fault as a member of a suspect; of a break its count of cells alone."""
    cells = () if candidate.lines else candidate.cells
    return {
        "fault": str(candidate.fault_class),
        "part": candidate.part,
        "lines": [str(line) for line in candidate.lines],
        "cells": [str(cell) for cell in cells],
        "after": candidate.after,
        "with": str(candidate.other) if candidate.other else None,
        "when": candidate.when,
    }


def simulated(member: Mapping[str, Any], selects: bool) -> Fault:
    """Give a member as the circuit simulator takes it: a relay that selects sides (`selects`) names no lines."""
    lines = tuple(line.split(".")[1] for line in member["lines"])
    if member["fault"] in MISPLACED:
        return Fault(member["fault"], member["part"], lines, after=member.get("after"), other=member.get("with"))
    if selects and member["fault"] == "relay-stuck":
        lines = ()
    other = (member.get("with") or "").rpartition(".")[2]
    cells = tuple(place_of(cell.split(".")[1]) for cell in member["cells"])
    of_cells = not lines
    return Fault(
        member["fault"],
        member.get("part"),
        () if of_cells else (*lines, other) if other and other not in lines else lines,
        cells if of_cells or member["fault"] == "break" else (),
        member.get("after"),
        member.get("when"),
    )
