"""`python -m tests.bench evening`: seconds of the analyses of the invented machine's evening.

After each step as the program at the machine goes on, with what it kept from the steps before; from scratch, with a
first answer as on screens and without one as on the command line; and after one more mark on a job whose earlier
analyses are kept, in each of its matrices in turn, until the next answer and until the finished one. Seconds of the
processor.
"""

from __future__ import annotations

import argparse
import random
import statistics
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from time import process_time
from typing import NamedTuple

from matrixcheck.bench import Bench
from matrixcheck.cli.evening import Watch, record_step, the_evening
from matrixcheck.diagnosis.diagnose import KeptRegions, refine
from matrixcheck.diagnosis.inference.kept import Kept
from matrixcheck.diagnosis.result import to_json
from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Finding, Reading
from tests.bench.tally import table


class Stage(NamedTuple):
    """What stands in the book after one step."""

    layout: Layout
    readings: tuple[Reading, ...]
    findings: tuple[Finding, ...]


def stages() -> list[Stage]:
    """Play the evening and give the state after each of its steps."""
    scenario, found = the_evening(), []
    watch = Watch(datetime.combine(scenario.date, scenario.steps[0].at, UTC))
    with TemporaryDirectory() as folder:
        bench = Bench(Path(folder) / "evening.book", watch)
        layout = read_layout(find_layout(scenario.layout))
        job = bench.new_job(layout, scenario.name, scenario.serial, scenario.owner)
        for step in scenario.steps:
            watch.now = datetime.combine(scenario.date, step.at, UTC)
            record_step(bench, job, step)
            state = bench.state(job)
            found.append(Stage(state.layout, tuple(state.current), tuple(state.known)))
        bench.close()
    return found


def _timed(
    stage: Stage, readings: Sequence[Reading], kept: KeptRegions | None, *, only_last: bool = False
) -> Iterator[tuple[float, object]]:
    """Each answer in its JSON form but for its seconds, with the seconds until it was there."""
    began = process_time()
    for found in refine(stage.layout, readings, stage.findings, kept=kept, only_last=only_last):
        taken = process_time() - began
        answer = to_json(found)
        answer["searched"].pop("seconds")
        yield taken, answer


def main(argv: list[str]) -> int:
    """Print the table; 1 where an analysis with a first answer, or a kept one, ends in another answer."""
    parser = argparse.ArgumentParser("python -m tests.bench evening")
    parser.add_argument("--marks", type=int, default=5, help="one more mark, so often for each step")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(argv)
    rng = random.Random(options.seed)
    every = [stage for stage in stages() if stage.readings]
    on_first, on_whole = [], []
    first, whole, alone, after_first, after_whole = [], [], [], [], []
    changed = 0
    so_far: KeptRegions = Kept(every[0].layout)
    for stage in every:
        going_on = list(_timed(stage, stage.readings, so_far))
        on_first.append(going_on[0][0])
        on_whole.append(going_on[-1][0])
        answers = list(_timed(stage, stage.readings, None))
        first.append(answers[0][0])
        whole.append(answers[-1][0])
        ((taken, straight),) = _timed(stage, stage.readings, None, only_last=True)
        alone.append(taken)
        changed += (straight != answers[-1][1]) + (going_on[-1][1] != answers[-1][1])
        matrices = list(dict.fromkeys(reading.matrix for reading in stage.readings))
        for number in range(options.marks):
            matrix = matrices[number % len(matrices)]
            late = rng.choice([reading for reading in stage.readings if reading.matrix == matrix])
            before = [reading for reading in stage.readings if reading is not late]
            kept: KeptRegions = Kept(stage.layout)
            for _each in refine(stage.layout, before, stage.findings, kept=kept):
                pass
            answers = list(_timed(stage, [*before, late], kept))
            scratch = list(_timed(stage, [*before, late], None))
            changed += answers[-1][1] != scratch[-1][1]
            after_first.append(answers[0][0])
            after_whole.append(answers[-1][0])
    rows = [
        _row("first answer after each step", on_first),
        _row("finished answer after each step", on_whole),
        _row("first answer from scratch", first),
        _row("finished answer from scratch", whole),
        _row("the same without the first", alone),
        *([_row("next answer after one more mark", after_first)] if after_first else []),
        *([_row("finished answer after one more mark", after_whole)] if after_whole else []),
    ]
    table("Analyses of the invented machine's evening", rows, ("", "analyses", "median s", "p95 s", "worst s"))
    if after_whole:
        compared = 2 * len(alone) + len(after_whole)
        print(f"\nFinished answers that differ by the way to them: {changed} of {compared}.", flush=True)
    return int(changed > 0)


def _row(name: str, seconds: Sequence[float]) -> tuple[str, ...]:
    ordered = sorted(seconds)
    p95 = ordered[min(len(ordered) - 1, int(0.95 * len(ordered)))]
    return name, str(len(ordered)), *(f"{value:.2f}" for value in (statistics.median(ordered), p95, ordered[-1]))
