"""The jobs on the bench, a line each: how far it is, what fails, what is due, when last worked on; one in full."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from matrixcheck.bench import Coverage, JobSummary
from matrixcheck.layout.reading import Mark
from matrixcheck.report.glyphs import GLYPHS, RETEST_DUE
from matrixcheck.report.visits import state_words
from matrixcheck.tui.text.spans import Row, Span, clipped, row, wrapped
from matrixcheck.tui.widths import PHONE

BAR = 8
DONE, OPEN = "━", "─"
HERE: Span = ("▌ ", "alert")
ELSEWHERE: Span = ("  ", "plain")
FACTS = f"{'tested':>8} {GLYPHS[Mark.DEAD]:>4} {RETEST_DUE:>4} {'round':<6} {'worked on':<10}"
"""The heads of what stands behind each name."""
ALL_ARCHIVED: tuple[Row, ...] = (row("Every job of this book is archived.", "plain"),)


def job_rows(jobs: Sequence[JobSummary], here: int, width: int) -> tuple[tuple[Row, ...], ...]:
    """Return for each job its line, two on a phone; below the one at `here`, which is pointed at, the rest of it."""
    return tuple(_pointed(job, jobs, width) if index == here else _lines(job, width) for index, job in enumerate(jobs))


def heads(width: int) -> tuple[Row, ...]:
    """Return what the columns are; none on a phone."""
    return (row(f"  {'job':<{_name_room(width)}} {FACTS}".rstrip(), "quiet"),) if width >= PHONE else ()


def none_found(typed: str) -> tuple[Row, ...]:
    """Return what stands where no job has what was typed."""
    return (row(f"No job has {typed} in its name, serial number, owner or machine.", "plain"),)


def _lines(job: JobSummary, width: int) -> tuple[Row, ...]:
    faded = job.verdict is not None or job.archived
    if width < PHONE:
        return (
            (ELSEWHERE, (clipped(job.name, width - 2), "quiet" if faded else "title")),
            (ELSEWHERE, (clipped(" ".join(_facts(job).split()), width - 2), "quiet")),
        )
    room = _name_room(width)
    name: Span = (f"{clipped(job.name, room):<{room}} ", "quiet" if faded else "title")
    return ((ELSEWHERE, name, (_facts(job), "quiet")),)


def _pointed(job: JobSummary, jobs: Sequence[JobSummary], width: int) -> tuple[Row, ...]:
    (_, (name, _), *facts), *others = _lines(job, width)
    bare = name.rstrip()
    first: Row = (HERE, (bare, "here"), (name[len(bare) :], "plain"), *facts)
    opened = f"since {job.opened_at:%d %b %Y}"
    whole = job.name if bare.endswith("…") else ""
    about = [whole, job.machine, job.serial and f"serial {job.serial}", job.owner, opened]
    said = [" · ".join(filter(None, about)), *state_words(job, jobs)]
    rows = [line for words in said for line in wrapped(words, width - 2, "quiet")]
    return tuple(
        [first, *((HERE, *line[1:]) for line in others)]
        + [(HERE, *line) for line in (*rows, *_coverage(job.coverage, width - 2))]
        + [()]
    )


def _facts(job: JobSummary) -> str:
    """Return how far a job is: tested, failing, due for a retest, the open round or how it ended, last worked on."""
    tested = f"{job.tested}/{job.cells}"
    failing = f"{GLYPHS[Mark.DEAD]}{job.failing}" if job.failing else ""
    due = f"{RETEST_DUE}{job.retest_due}" if job.retest_due else ""
    state = "closed" if job.verdict is not None else job.rounds[0].partition(" ")[0] if job.rounds else ""
    return f"{tested:>8} {failing:>4} {due:>4} {'away' if job.archived else state:<6} {job.worked_at:%Y-%m-%d}"


def _name_room(width: int) -> int:
    return max(width - 3 - len(FACTS), 8)


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
