"""`python -m tests.bench load`: the same cases, diagnosed with nothing and with busy processes beside them.

Both runs have a process of their own. The answers must be the same, byte for byte, but for the seconds.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context

from msgspec import convert

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.result import to_json
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.reading import Finding
from matrixcheck.record.readings import read_readings
from tests.bench.cases import KINDS, draw_case
from tests.bench.machine_draw import draw_machine
from tests.spice.simulate import written

BUSY = 8
WHOLE = 10
"""Every so many cases one is a whole machine, the others single matrices."""


def answers(seeds: Sequence[str]) -> list[str]:
    """The answers to drawn cases as JSON, without their seconds."""
    found = []
    for i, seed in enumerate(seeds):
        faults = i % 4
        if i % WHOLE == WHOLE - 1:
            machine = draw_machine(seed, faults)
            text, readings, findings = machine.layout, machine.readings, []
        else:
            case = draw_case(seed, KINDS[i % 3], faults, wrong=0.01, marks=0.3, found=0.3)
            text, readings, findings = case.layout, case.readings, case.findings
        layout = parse_layout(text, "a drawn case")
        known = [convert(each, Finding) for each in findings]
        answer = to_json(diagnose(layout, read_readings(written(readings), layout, "a drawn case"), known))
        answer["searched"].pop("seconds")
        found.append(json.dumps(answer))
    return found


@contextmanager
def busy(count: int) -> Iterator[None]:
    """Keep so many processes busy meanwhile."""
    others = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(count)]
    try:
        yield
    finally:
        for each in others:
            each.kill()
            each.wait()


def differing(seeds: Sequence[str], beside: int = BUSY) -> list[str]:
    """The seeds whose answers differ between a run alone and one with `beside` busy processes."""
    alone = _in_a_process(seeds)
    with busy(beside):
        crowded = _in_a_process(seeds)
    return [seed for seed, a, b in zip(seeds, alone, crowded, strict=True) if a != b]


def _in_a_process(seeds: Sequence[str]) -> list[str]:
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as fresh:
        return fresh.submit(answers, seeds).result()


def main(argv: list[str]) -> int:
    """Print how many differ; 1 if any does."""
    parser = argparse.ArgumentParser("python -m tests.bench load")
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--busy", type=int, default=BUSY, help="busy processes")
    options = parser.parse_args(argv)
    seeds = [f"load {options.seed} {i}" for i in range(options.count)]
    found = differing(seeds, options.busy)
    print(f"\n{options.count} cases alone and with {options.busy} busy processes beside: {len(found)} answers differ.")
    for seed in found:
        print(f"  {seed!r}")
    print(end="", flush=True)
    return int(bool(found))
