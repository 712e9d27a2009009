"""`python -m tests.bench diagnosis`: how often the diagnosis is right, how sure it may be of itself, how long it takes.

Beside it in the same process: a row and column majority, an Ochiai ranking, and OR-tools CP-SAT listing the ten best
sets of the same dead/working model. Everything is seeded. Prints tables in markdown.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Callable, Sequence
from typing import Any

from matrixcheck.diagnosis.analyse import diagnose
from matrixcheck.diagnosis.result import to_json
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Reading
from matrixcheck.record.readings import read_readings
from tests.bench import others
from tests.bench.cases import KINDS, Case, draw_case
from tests.bench.marks import Marked, covers_of, draw_marked, model_of, right
from tests.bench.score import score
from tests.spice.simulate import written

BINS = 10


def main(argv: list[str]) -> int:
    """Prints the tables."""
    parser = argparse.ArgumentParser("python -m tests.bench diagnosis")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--marked", type=int, default=2000, help="machines by the rates, marks alone, 8x8")
    parser.add_argument("--exact", type=int, default=300, help="how many of those CP-SAT is asked about as well")
    parser.add_argument("--faulty", type=int, default=300, help="machines for each of one, two and three faults")
    parser.add_argument("--healthy", type=int, default=300, help="machines without any fault")
    parser.add_argument("--sized", type=int, default=40, help="machines for each size from 8 to 64")
    parser.add_argument(
        "--ranked", type=int, default=60, help="how many of the mixed ones are ranked by Ochiai as well"
    )
    parser.add_argument("--cap", type=float, default=1.0, help="seconds a diagnosis may take")
    options = parser.parse_args(argv)
    _marked(options.seed, options.marked, options.exact, options.cap)
    _faulty(options.seed, options.faulty, options.healthy, options.ranked, options.cap)
    _sized(options.seed, options.sized, options.cap)
    return 0


class Tally:
    """Hits at the top and within three, the probabilities given, and the seconds taken."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.top: list[bool] = []
        self.three: list[bool] = []
        self.sure: list[float] = []
        self.seconds: list[float] = []

    def add(self, top: bool, three: bool, seconds: float, sure: float | None = None) -> None:
        """One machine's outcome."""
        self.top.append(top)
        self.three.append(three)
        self.seconds.append(seconds)
        if sure is not None:
            self.sure.append(sure)

    @property
    def calibration_error(self) -> float:
        """Expected calibration error of the best explanation's probability, over ten bins of equal width."""
        bins: dict[int, list[tuple[float, bool]]] = {}
        for sure, hit in zip(self.sure, self.top, strict=True):
            bins.setdefault(min(int(sure * BINS), BINS - 1), []).append((sure, hit))
        gaps = [abs(sum(sure - hit for sure, hit in pairs)) for pairs in bins.values()]
        return sum(gaps) / len(self.sure)

    def row(self) -> tuple[str, ...]:
        """The line of a table."""
        millis = sorted(1000 * seconds for seconds in self.seconds)
        count = len(self.top)
        error = f"{self.calibration_error:.3f}" if self.sure else ""
        times = (statistics.median(millis), millis[min(count - 1, int(0.95 * count))], millis[-1])
        top, three = (f"{100 * sum(flags) / count:.1f}" for flags in (self.top, self.three))
        return (self.name, str(count), top, three, error, *(f"{value:.1f}" for value in times))


HEAD = ("", "machines", "top %", "top 3 %", "ECE", "median ms", "p95 ms", "worst ms")


def table(title: str, rows: Sequence[Sequence[str]], head: Sequence[str] = HEAD) -> None:
    """Prints a table in markdown."""
    widths = [max(len(row[i]) for row in (*rows, head)) for i in range(len(head))]

    def line(row: Sequence[str]) -> str:
        return "| " + " | ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) + " |"

    print(f"\n### {title}\n\n{line(head)}\n|" + "|".join("-" * (width + 2) for width in widths) + "|")
    for row in rows:
        print(line(row))


def timed(ask: Callable[[], Any]) -> tuple[Any, float]:
    """An answer, and the seconds it took."""
    started = time.perf_counter()
    answer = ask()
    return answer, time.perf_counter() - started


def asked(layout: Layout, readings: Sequence[Reading], cap: float) -> tuple[dict[str, Any], float]:
    """The diagnosis in its JSON form, and the seconds it took (without the writing of the JSON)."""
    result, seconds = timed(lambda: diagnose(layout, readings, cap_seconds=cap))
    return to_json(result), seconds


def _marked(seed: int, count: int, exact: int, cap: float) -> None:
    ours = {known: Tally(f"matrixcheck, chains {'known' if known else 'hidden'}") for known in (True, False)}
    same, solver = Tally("matrixcheck, the same as CP-SAT"), Tally("CP-SAT, ten best sets")
    rule, ranking = Tally("row and column majority"), Tally("Ochiai, greedy")
    for i in range(count):
        known = i % 4 != 3
        machine = draw_marked(f"marked {seed} {i}", known=known)
        answer, seconds = asked(machine.layout, machine.readings, cap)
        told = [covers_of(answer, each["suspects"], machine.marks) for each in answer["explanations"]] or [[]]
        hits = [right(machine.truth, covers) for covers in told[:3]]
        sure = answer["explanations"][0]["probability"] if answer["explanations"] else 1.0
        ours[known].add(hits[0], any(hits), seconds, sure)
        model = model_of(machine)
        _baselines(machine, model, rule, ranking)
        if known and len(solver.top) < exact:
            same.add(hits[0], any(hits), seconds, sure)
            best, taken = timed(lambda model=model: others.ten_best(model))
            solved = [right(machine.truth, covers) for covers in best[:3]]
            solver.add(solved[0], any(solved), taken)
    rows = [tally.row() for tally in (*ours.values(), same, solver, rule, ranking) if tally.top]
    if not rows:
        return
    table("8x8, faults by the shipped rates, dead and working marks alone, 1 % wrong, 0 to 30 % untested", rows)
    if solver.top:
        ratio = statistics.median(solver.seconds) / statistics.median(same.seconds)
        print(f"\nTime of CP-SAT over that of matrixcheck, medians on the same machines: {ratio:.0f}")


def _baselines(machine: Marked, model: Any, rule: Tally, ranking: Tally) -> None:
    for tally, ask in (
        (rule, lambda: others.majority_marks(machine)),
        (ranking, lambda: others.ochiai_marks(machine, model)),
    ):
        covers, seconds = timed(ask)
        hit = right(machine.truth, covers)
        tally.add(hit, hit, seconds)


def _faulty(seed: int, count: int, healthy: int, ranked: int, cap: float) -> None:
    rows = []
    for faults, machines in ((0, healthy), (1, count), (2, count), (3, count)):
        ours, known, hidden = Tally("matrixcheck"), Tally("  chains known"), Tally("  chains hidden")
        rule, ranking = Tally("row and column majority"), Tally("Ochiai on predicted readings")
        alarms = 0
        for i in range(machines):
            case = draw_case(f"faulty {seed} {faults} {i}", KINDS[i % 3], faults, wrong=0.01 if faults else 0.0)
            layout, readings = _read(case)
            answer, seconds = asked(layout, readings, cap)
            result = score(case.injected(), bool(case.known), answer)
            alarms += bool(result.extra)
            for tally in (ours, known if case.known else hidden):
                tally.add(result.top, result.three, seconds, result.probability)
            told, taken = timed(lambda: others.majority_sets(layout, readings))  # noqa: B023
            other = score(case.injected(), bool(case.known), told)
            rule.add(other.top, other.three, taken)
            if i < ranked:
                told, taken = timed(lambda: others.ochiai_sets(others.Spectra(layout, readings), readings))  # noqa: B023
                other = score(case.injected(), bool(case.known), told)
                ranking.add(other.top, other.three, taken)
        for tally in (ours, known, hidden, rule, ranking):
            if tally.top:
                rows.append((("healthy" if not faults else f"{faults} put in"), *tally.row()))
        if machines:
            print(f"{faults} put in: something named in {alarms} of {machines} that was not")
    if rows:
        table("all fault classes mixed, 1 % wrong marks, 0 to 30 % left out, 4x8 to 8x10", rows, ("", *HEAD))


def _read(case: Case) -> tuple[Layout, tuple[Reading, ...]]:
    layout = parse_layout(case.layout, case.name)
    return layout, read_readings(written(case.readings), layout, case.name)


def _sized(seed: int, count: int, cap: float) -> None:
    rows = []
    for size in (8, 16, 32, 64):
        tally = Tally(f"{size}x{size}")
        late = 0
        for i in range(count):
            machine = draw_marked(f"sized {seed} {size} {i}", size, known=True)
            answer, seconds = asked(machine.layout, machine.readings, cap)
            told = [covers_of(answer, each["suspects"], machine.marks) for each in answer["explanations"]] or [[]]
            hits = [right(machine.truth, covers) for covers in told[:3]]
            late += not answer["searched"]["exact"]
            tally.add(hits[0], any(hits), seconds, answer["explanations"][0]["probability"])
        if count:
            rows.append((*tally.row(), f"{late}"))
    if rows:
        table("by size, marks alone", rows, (*HEAD, "not exact"))
