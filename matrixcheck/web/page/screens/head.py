"""What every page of a job has: which job it is, and what is dangerous before all else."""

from __future__ import annotations

from dataclasses import dataclass

from matrixcheck.record.coil_lock import COIL_FUSE_OUT
from matrixcheck.record.job_state import JobState
from matrixcheck.report.safety import failed_lines
from matrixcheck.report.stop import notice


@dataclass(frozen=True)
class JobHead:
    """A job as the head of its pages names it.

    `dangers` stand above all else; with `stop` a coil is on, and `fuse_out` is what is recorded once its fuse is out.
    """

    id: str
    name: str
    machine: str
    seq: int
    dangers: tuple[str, ...]
    stop: bool
    fuse_out: str


def head_of(state: JobState) -> JobHead:
    """Return the head of a job's pages."""
    dangers = tuple(filter(None, (notice(state.coils), *failed_lines(state.safety))))
    return JobHead(state.id, state.name, state.layout.name, state.seq, dangers, state.coils.stop, COIL_FUSE_OUT)
