"""The jobs on the bench as lines: what each is, and how far each of its matrices is tested."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from matrixcheck.bench import Coverage, JobSummary
from matrixcheck.tui.text.spans import Row, Span, clipped, row

BAR = 8
DONE, OPEN = "━", "─"


def job_rows(jobs: Sequence[JobSummary], here: int, width: int) -> tuple[tuple[Row, ...], ...]:
    """Return for each job its lines; the one at `here` is pointed at."""
    return tuple(_job(job, index == here, width) for index, job in enumerate(jobs))


def no_jobs(key: str) -> tuple[Row, ...]:
    """Return what stands on an empty bench; `key` begins a job."""
    return (
        row("The bench is empty.", "title"),
        (),
        row(f"Press {key}, or tap it below, to put a machine on it.", "plain"),
    )


def _job(job: JobSummary, here: bool, width: int) -> tuple[Row, ...]:
    opened = f"since {job.opened_at:%d %b %Y}"
    about = " · ".join(filter(None, [job.machine, job.serial and f"serial {job.serial}", opened]))
    pointer: Span = ("▌ ", "alert") if here else ("  ", "plain")
    head: Row = (
        pointer,
        (clipped(job.name, width - 2), "here" if here else "title"),
    )
    lines: list[Row] = [head, (pointer, (clipped(about, width - 2), "quiet"))]
    for spans in _coverage(job.coverage, width - 2):
        lines.append((pointer, *spans))
    return (*lines, ())


def _coverage(coverage: Mapping[str, Coverage], width: int) -> list[Row]:
    lines: list[list[Span]] = [[]]
    used = 0
    for matrix_id, one in coverage.items():
        tested = one.total - one.untested
        filled = max(BAR * tested // one.total, 1) if tested else 0
        count = f" {tested}/{one.total}   "
        length = len(matrix_id) + 1 + BAR + len(count)
        if used and used + length - 3 > width:
            lines.append([])
            used = 0
        used += length
        lines[-1] += [
            (f"{matrix_id} ", "plain"),
            (DONE * filled, "strong"),
            (OPEN * (BAR - filled), "quiet"),
            (count, "quiet"),
        ]
    return [tuple(line) for line in lines]
