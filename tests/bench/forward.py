"""`python -m tests.bench forward`: seconds that the forward model takes for every single fault over every exercise.

A full matrix with one chain a line, each fault that the layout can have, each cell exercised once and a look at rest:
with nothing held, two switches, and a diagonal.
"""

from __future__ import annotations

import argparse
import random
import statistics
import time
from collections.abc import Iterator, Sequence

from matrixcheck.diagnosis.evidence.exercises import Exercises, exercises_of
from matrixcheck.diagnosis.forward.fault_effects import condition_of
from matrixcheck.diagnosis.forward.simulate import Shown, shows
from matrixcheck.diagnosis.machine.candidates import Candidate, candidates
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout, Matrix
from matrixcheck.layout.places import CellKey
from tests.bench.layouts import draw_bank, layout_text
from tests.bench.tally import table


def full_layout(kind: str, rows: int, columns: int) -> Layout:
    """A bank of the kind with a chain on every line."""
    bank = draw_bank(random.Random(f"forward {kind}"), kind, (rows, columns))
    return parse_layout(layout_text(bank, frozenset(bank.lines)), "a drawn bank")


def holds_of(matrix: Matrix) -> tuple[tuple[str, tuple[CellKey, ...]], ...]:
    """Nothing held, two switches, and the diagonal."""
    keys = [cell.key for cell in matrix.fitted]
    return (
        ("nothing", ()),
        ("two", (keys[0], keys[-1])),
        ("a diagonal", tuple(key for key in keys if key.row == key.column)),
    )


def laid_out(frame: Frame, held: Sequence[CellKey]) -> Exercises:
    """A look at rest, then every cell by itself."""
    return exercises_of(
        frame, [(None, held), *((cell.key, [at for at in held if at != cell.key]) for cell in frame.matrix.fitted)]
    )


def everything(frame: Frame, faults: Sequence[Candidate], exercises: Exercises) -> Iterator[Shown]:
    """What each fault by itself shows over all exercises."""
    for fault in faults:
        yield shows(frame, condition_of(frame, (fault,)), exercises)


def main(argv: list[str]) -> int:
    """Prints the seconds by kind and hold, medians over several runs."""
    parser = argparse.ArgumentParser("python -m tests.bench forward")
    parser.add_argument("--size", default="8x8")
    parser.add_argument("--runs", type=int, default=5)
    options = parser.parse_args(argv)
    rows, columns = map(int, options.size.split("x"))
    lines = []
    for kind in ("switch", "bare", "lamp"):
        layout = full_layout(kind, rows, columns)
        frame, faults = Frame(layout.matrices[0]), candidates(layout)
        for name, held in holds_of(frame.matrix):
            if held and kind == "lamp":
                continue
            seconds = []
            for _ in range(options.runs):
                started = time.perf_counter()
                shown = sum(1 for _ in everything(frame, faults, laid_out(frame, held)))
                seconds.append(time.perf_counter() - started)
            lines.append((kind, name, str(shown), f"{statistics.median(seconds):.3f}", f"{max(seconds):.3f}"))
    title = f"forward model, {options.size}, every single fault over every exercise"
    table(title, lines, ("", "held", "faults", "median s", "worst s"))
    return 0
