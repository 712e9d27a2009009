"""The list of jobs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matrixcheck.record.answers import JobSummary


@dataclass(frozen=True)
class BenchScreen:
    """The jobs, the one worked on last first; `onward` is the address of the one that was asked for, "" for none."""

    jobs: Sequence[JobSummary]
    onward: str = ""


def bench_screen(jobs: Sequence[JobSummary], onward: str = "") -> BenchScreen:
    """Return what the bench shows."""
    return BenchScreen(jobs, onward)
