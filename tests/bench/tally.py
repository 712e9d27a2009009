"""What a measurement counts: hits, how sure the answers were, seconds; and the tables it prints."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Sequence
from typing import Any

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.machine.priors import Rates
from matrixcheck.diagnosis.result import to_json
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Finding, Reading
from tests.bench.score import Worth

BINS = 10


class Tally:
    """Hits at the top and within three, the probabilities given, the seconds taken, and where it was judged, how often
    the best set is as good as what was put in, or alike."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.top: list[bool] = []
        self.three: list[bool] = []
        self.sure: list[float] = []
        self.seconds: list[float] = []
        self.worths: list[Worth] = []

    def add(
        self, top: bool, three: bool, seconds: float, sure: float | None = None, worth: Worth | None = None
    ) -> None:
        """One machine's outcome."""
        self.top.append(top)
        self.three.append(three)
        self.seconds.append(seconds)
        if sure is not None:
            self.sure.append(sure)
        if worth is not None:
            self.worths.append(worth)

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

    def judged_row(self) -> tuple[str, ...]:
        """The line of a table with `AS_GOOD`; nothing stands there where nothing was judged."""
        shares = [f"{100 * sum(flags) / len(self.worths):.1f}" for flags in zip(*self.worths, strict=True)]
        return (*self.row(), *(shares or [""] * len(AS_GOOD)))


HEAD = ("", "machines", "top %", "top 3 %", "ECE", "median ms", "p95 ms", "worst ms")
AS_GOOD = ("or as good %", "or alike %")
"""Right, or the set named gives the very same readings and is no larger; the same whatever its size: there the rates
alone decide."""


def table(title: str, rows: Sequence[Sequence[str]], head: Sequence[str] = HEAD) -> None:
    """Prints a table in markdown."""
    widths = [max(len(row[i]) for row in (*rows, head)) for i in range(len(head))]

    def line(row: Sequence[str]) -> str:
        return "| " + " | ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) + " |"

    print(f"\n{title}:\n\n{line(head)}\n|" + "|".join("-" * (width + 2) for width in widths) + "|")
    for row in rows:
        print(line(row))
    print(end="", flush=True)


def timed(ask: Callable[[], Any]) -> tuple[Any, float]:
    """An answer, and the seconds of the processor it took, so that other work on the machine counts little."""
    started = time.process_time()
    answer = ask()
    return answer, time.process_time() - started


def asked(
    layout: Layout, readings: Sequence[Reading], findings: Sequence[Finding] = (), rates: Rates | None = None
) -> tuple[dict[str, Any], float]:
    """The diagnosis in its JSON form, and the seconds it took (without the writing of the JSON). Without `rates`: by
    the shipped ones."""
    result, seconds = timed(lambda: diagnose(layout, readings, findings, rates=rates))
    return to_json(result), seconds
