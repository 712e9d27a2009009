"""`python -m tests.bench large`: seconds and peak memory of mixed readings of large matrices.

One switch matrix: a column is dead, a few cells are, some answer beside others. Each analysis has a process of its own.
"""

from __future__ import annotations

import argparse
import random
import resource
import statistics
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from time import process_time
from typing import NamedTuple

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading
from tests.bench.tally import table

DEAD, ECHOES, COLUMN = 5, 6, 3


class Outcome(NamedTuple):
    """Seconds of the processor, peak memory in MiB of the whole process, whether the column was named at the top."""

    seconds: float
    mebibytes: float
    top: bool


def draw_large(size: int, seed: str) -> tuple[Layout, list[Reading]]:
    """Draw the layout and the readings: every cell once, by what answered."""
    rng = random.Random(seed)
    names = ",\n".join("[" + ", ".join(f'"c{r}x{c}"' for c in range(size)) + "]" for r in range(size))
    lines = "".join(
        f'\n[[matrix.column]]\npath = ["U{c // 8 + 1}-{c % 8 + 1}", "Q{c + 1}", "X{c // 16 + 1}-{c % 16 + 1}"]'
        for c in range(size)
    )
    lines += "".join(
        f'\n[[matrix.row]]\npath = ["U{100 + r // 8}-{r % 8 + 1}", "X{100 + r // 16}-{r % 16 + 1}"]'
        for r in range(size)
    )
    head = 'format = 1\nname = "a large bank"\n[[matrix]]\nid = "m"\nkind = "switch"\nnumbering = "down-columns"\n'
    text = f'{head}strobe = "column"\ndiodes = true\nvolts = 5\ncells = [\n{names}\n]{lines}\n'
    cells = [CellKey("m", row + 1, column + 1) for row in range(size) for column in range(size)]
    dead = set(rng.sample(cells, DEAD)) | {cell for cell in cells if cell.column == COLUMN}
    echoing = set(rng.sample(cells, ECHOES))
    readings = []
    for cell in cells:
        shown = ([] if cell in dead else [cell]) + ([rng.choice(cells)] if cell in echoing else [])
        readings.append(Reading(matrix="m", cell=cell, answered=tuple(dict.fromkeys(shown))))
    return parse_layout(text, "a large bank"), readings


def measured(size: int, seed: str) -> Outcome:
    """Diagnose one of them in this process."""
    layout, readings = draw_large(size, seed)
    began = process_time()
    found = diagnose(layout, readings)
    seconds = process_time() - began
    best = [found.suspect(name) for name in found.explanations[0].suspects]
    top = any(str(line) == f"m.c{COLUMN}" for suspect in best for line in suspect.members[0].lines)
    return Outcome(seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, top)


def main(argv: list[str]) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser("python -m tests.bench large")
    parser.add_argument("--size", type=int, action="append", help="lines a side; may be given several times")
    parser.add_argument("--count", type=int, default=3, help="matrices of each size")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(argv)
    rows = []
    for size in options.size or (16, 32, 64):
        with ProcessPoolExecutor(1, mp_context=get_context("spawn"), max_tasks_per_child=1) as alone:
            asked = [alone.submit(measured, size, f"large {options.seed} {i}") for i in range(options.count)]
            found = [each.result() for each in asked]
        seconds, memory = [each.seconds for each in found], max(each.mebibytes for each in found)
        times = (statistics.median(seconds), max(seconds))
        named = f"{sum(each.top for each in found)} of {len(found)}"
        rows.append((f"{size}x{size}", named, *(f"{value:.1f}" for value in times), f"{memory:.0f}"))
    head = ("", "column named first", "median s", "worst s", "peak MiB")
    table("Mixed readings of large matrices", rows, head)
    return 0
