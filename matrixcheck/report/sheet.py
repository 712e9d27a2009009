"""Gather what a report shows of one job, once; every form of the report is a pure function of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matrixcheck.bench import Bench
from matrixcheck.diagnosis.result import Diagnosis
from matrixcheck.record.job_state import JobState
from matrixcheck.record.summary import Coverage, LaterItem


@dataclass(frozen=True, slots=True)
class Sheet:
    """A job as it stood at `printed_at`. `coverage` is by matrix id, in the layout's order.

    `photos` are files of its photos by name; those that aren't there are only named.
    """

    state: JobState
    diagnosis: Diagnosis
    coverage: Mapping[str, Coverage]
    later: tuple[LaterItem, ...]
    printed_at: datetime
    photos: Mapping[str, bytes] = field(default_factory=dict)


def sheet_of(bench: Bench, job: str, printed_at: datetime, seconds: float | None = None) -> Sheet:
    """Return the sheet of a job as its book has it now; `seconds` is a limit that somebody asks for.

    Raises UsageError for an unknown job, BookError for a bad book.
    """
    return Sheet(bench.state(job), bench.diagnosis(job, seconds), bench.status(job), bench.later(job), printed_at)
