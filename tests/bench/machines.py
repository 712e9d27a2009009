"""`python -m tests.bench machines`: whole machines of five matrices, none to four faults across them.

Matrices share plugs, chips and fuses; some are read by marks alone, some by lists of what answered, with up to 30 % of
the cells left out. The readings are the circuit simulator's. `--misses` prints every machine that was missed.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from typing import Any

from matrixcheck.layout.files import parse_layout
from matrixcheck.record.readings import read_readings
from tests.bench.examine import brief
from tests.bench.machine_draw import Machine, draw_machine
from tests.bench.score import Score, score, worth_of
from tests.bench.tally import AS_GOOD, HEAD, Tally, asked, table
from tests.spice.simulate import written


def main(argv: list[str]) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser("python -m tests.bench machines")
    parser.add_argument("--seed", default="1")
    parser.add_argument("--count", type=int, default=100, help="machines for each count of faults")
    parser.add_argument("--healthy", type=int, default=100, help="machines without any fault")
    parser.add_argument("--faults", type=int, action="append", help="how many; may be given several times")
    parser.add_argument("--wrong", type=float, default=0.0, help="chance of a wrong mark")
    parser.add_argument("--rated", action="store_true", help="faults by the shipped rates, not evenly by class")
    parser.add_argument("--misses", action="store_true", help="print every miss")
    options = parser.parse_args(argv)
    rows, alarms = [], []
    every = Tally("all with faults")
    for faults in options.faults or (0, 1, 2, 3, 4):
        tally = Tally(f"{faults or 'no'} fault{'s' * (faults != 1)}")
        alarmed = 0
        for i in range(options.count if faults else options.healthy):
            seed = f"{options.seed} {faults} {i}"
            machine = draw_machine(seed, faults, wrong=options.wrong, rated=options.rated)
            answer, result, seconds = ask(machine)
            worth = worth_of(result, sum(machine.visible), machine.differing)
            alarmed += any(suspect["members"][0]["lines"] for suspect in result.extra)
            for each in (tally, every) if faults else (tally,):
                each.add(result.top, result.three, seconds, result.probability, worth)
            if options.misses and not result.top:
                _print_miss(seed, machine, answer, result, worth.as_good)
        if tally.top:
            rows.append(tally.judged_row())
            alarms.append(f"{alarmed} of {len(tally.top)} ({faults} put in)")
    if every.top:
        rows.append(every.judged_row())
    if rows:
        marks = f"{100 * options.wrong:g} % wrong marks" if options.wrong else "no wrong marks"
        drawn = "so many faults by the shipped rates" if options.rated else "faults of every class"
        table(f"Whole machines, {drawn}, {marks}, 0 to 30 % left out", rows, (*HEAD, *AS_GOOD))
        print(f"\nMachines for which a shared fault was named that was not put in: {', '.join(alarms)}.", flush=True)
    return 0


def ask(machine: Machine) -> tuple[dict[str, Any], Score, float]:
    """Diagnose a machine: the answer in its JSON form, its score and the seconds it took."""
    layout = parse_layout(machine.layout, "a drawn machine")
    readings = read_readings(written(machine.readings), layout, "a drawn machine")
    answer, seconds = asked(layout, readings)
    return answer, score(machine.injected(), True, answer, machine.misjudged), seconds


def _print_miss(seed: str, machine: Machine, answer: Mapping[str, Any], result: Score, as_good: bool) -> None:
    named = {suspect["id"]: suspect for suspect in answer["suspects"]}
    rank = "as good" if as_good else "in three" if result.three else "MISS"
    print(f"{rank} {seed!r} searched {answer['searched']}")
    print(f"   in:    {'; '.join(map(brief, machine.injected()))}")
    for each in answer["explanations"][:3]:
        suspects = [named[name] for name in each["suspects"]]
        out = " + ".join(brief(suspect["members"][0]) + f" (of {len(suspect['members'])})" for suspect in suspects)
        print(f"   {each['probability']:.3f} (differs in {machine.differing(suspects)}) {out or 'nothing shared'}")
    print(end="", flush=True)
