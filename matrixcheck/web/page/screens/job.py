"""A job and its matrices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matrixcheck.record.job_state import JobState
from matrixcheck.record.summary import coverage_of


@dataclass(frozen=True)
class MatrixLine:
    """A matrix, and how many of its cells are tested."""

    id: str
    tested: int
    total: int


@dataclass(frozen=True)
class JobScreen:
    """A job and its matrices, in the layout's order."""

    id: str
    name: str
    machine: str
    matrices: Sequence[MatrixLine]


def job_screen(state: JobState) -> JobScreen:
    """Return what a job's page shows."""
    lines = [MatrixLine(name, one.total - one.untested, one.total) for name, one in coverage_of(state).items()]
    return JobScreen(state.id, state.name, state.layout.name, lines)
