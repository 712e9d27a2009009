"""Marks alone: flags of cells say the same as the forward model, for sets of faults that don't lead lines astray."""

from __future__ import annotations

import random
from math import log

import numpy as np
import pytest

from matrixcheck.diagnosis.forward.fault_effects import Fuse, Setting, condition_of
from matrixcheck.diagnosis.inference.exact.cell_likelihood import log_likelihoods, marks_of_cells
from matrixcheck.diagnosis.inference.exact.cell_states import Flag, effects
from matrixcheck.diagnosis.inference.exact.model import Machine, machine_of
from matrixcheck.diagnosis.inference.exact.sources import Source
from matrixcheck.diagnosis.inference.likelihood import Private, Subject
from matrixcheck.diagnosis.inference.subjects import subjects_of
from matrixcheck.diagnosis.machine.fault_classes import MISPLACED_PLUGS
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Mark, Reading
from tests.bench.layouts import draw_bank, layout_text
from tests.samples import some_of

TAKES_FUSE = Flag.GROUNDED_DRIVEN | Flag.PARTED_DRIVEN
KINDS = ("switch", "lamp", "coil", "inputs", "strings")


def drawn(rng: random.Random, kind: str) -> Layout:
    bank = draw_bank(rng, kind)
    return parse_layout(layout_text(bank, frozenset(bank.lines)), kind)


def marked(rng: random.Random, layout: Layout) -> list[Reading]:
    """Marks of every sort, a cell now and then marked twice or not at all."""
    found = []
    for cell in layout.matrices[0].fitted:
        mark = rng.choices((Mark.WORKING, Mark.DEAD, Mark.STUCK), (6, 3, 1))[0]
        found += [Reading(matrix=cell.key.matrix, cell=cell.key, mark=mark)] * rng.choice((0, 1, 1, 1, 1, 2))
    return found


def settings(chosen: list[Source]) -> Setting:
    """Whether a grounded line takes its fuse with it, as the pieces of the set have it."""
    gone = any(source.members[0].fault_class is FaultClass.GROUNDED and _takes_fuse(source) for source in chosen)
    return Setting(Fuse.GONE if gone else Fuse.HOLDS)


def _takes_fuse(source: Source) -> bool:
    return any(flag == TAKES_FUSE for _, flag, _ in source.pieces)


LEADS_ASTRAY = {FaultClass.CROSSED, FaultClass.RELAY_STUCK, *MISPLACED_PLUGS}


def fits_together(chosen: list[Source], machine: Machine) -> bool:
    """Whether no fault of the set leads another one's effect elsewhere, and no fuse's fate hangs on two of them."""
    lines = [{line for line, _, _ in source.pieces} for source in chosen]
    for at, source in enumerate(chosen):
        for other, also in enumerate(chosen):
            if other == at:
                continue
            first = source.members[0].fault_class
            if first in LEADS_ASTRAY and lines[at] & lines[other]:
                return False
            if first in LEADS_ASTRAY and also.members[0].fault_class in LEADS_ASTRAY:
                return False
            if (
                first is FaultClass.GROUNDED
                and any(flag & Flag.GROUNDED_DRIVEN for _, flag, _ in source.pieces)
                and lines[at] & lines[other]
            ):
                return machine.frames[0].kind == "switch"
            if first is also.members[0].fault_class is FaultClass.GROUNDED:
                return machine.frames[0].kind == "switch"
    return True


def log_by_flags(machine: Machine, readings: list[Reading], chosen: list[Source], private: Private) -> float:
    frame = machine.frames[0]
    at = [frame.at(cell) for cell in machine.cells]
    dead, stuck = (np.array([chances[place] for place in at]) for chances in private)
    logs = log_likelihoods(marks_of_cells(machine, readings, shipped_rates()), dead, stuck)
    codes = np.zeros(len(machine.cells) + 1, dtype=np.int64)
    for source in chosen:
        for piece in source.pieces:
            codes[machine.cells_of(piece)] |= piece[1]
    states = [effects(machine.sites[machine.site[cell]])[codes[cell]] for cell in range(len(machine.cells))]
    return float(logs[np.arange(len(states)), states].sum())


def log_by_the_forward_model(machine: Machine, subject: Subject, chosen: list[Source], private: Private) -> float:
    faults = [
        machine.completed(source.members[0]) if source.members[0].lines else source.members[0] for source in chosen
    ]
    setting = settings(chosen)
    # That a grounded line leaves its fuse alone has even odds: here in the likelihood, by flags in the source's rate.
    holds = log(2) if condition_of(subject.frame, faults, setting).blowing else 0.0
    return subject.fit(faults, setting).log(private) + holds


@pytest.mark.parametrize("kind", some_of(KINDS, 2))
def test_a_set_of_faults_scores_the_same_by_flags_and_by_the_forward_model(kind: str) -> None:
    rng = random.Random(f"flags {kind}")
    compared = 0
    for _ in range(25):
        layout = drawn(rng, kind)
        machine, readings = machine_of(layout), marked(rng, layout)
        (subject,) = subjects_of(layout, readings, shipped_rates())
        shape = subject.frame.shape
        private = Private(np.full(shape, 0.013), np.full(shape, 0.004))
        for _ in range(20):
            chosen = rng.sample(machine.sources, min(len(machine.sources), rng.choice((0, 1, 1, 2, 3))))
            if not fits_together(chosen, machine):
                continue
            compared += 1
            ours = log_by_flags(machine, readings, chosen, private)
            assert ours == pytest.approx(log_by_the_forward_model(machine, subject, chosen, private), abs=1e-9), [
                source.members[0] for source in chosen
            ]
    assert compared > 150
