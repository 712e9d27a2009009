"""A job of the bench in words: how it ended, its open rounds, and the other visits of its machine."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.record.answers import JobSummary


def visits(job: JobSummary, jobs: Sequence[JobSummary]) -> tuple[JobSummary, ...]:
    """Return every visit of a job's machine among these, oldest first: by its serial number and its layout's name."""
    if not job.serial:
        return (job,)
    same = (job.serial.casefold(), job.machine)
    found = [one for one in reversed(jobs) if (one.serial.casefold(), one.machine) == same]
    return tuple(sorted(found, key=lambda one: one.opened_at))


def state_words(job: JobSummary, jobs: Sequence[JobSummary]) -> list[str]:
    """Return what else is to be known: verdict, archive, open rounds, and the machine's other visits."""
    said = [f"closed: {job.verdict}" if job.verdict is not None else "", "archived" if job.archived else ""]
    said.append(f"open: {', '.join(job.rounds)}" if job.rounds else "")
    stays = visits(job, jobs)
    place = [one.id for one in stays].index(job.id)
    if len(stays) > 1:
        before = stays[place - 1] if place else None
        verdict = f", {before.verdict}" if before is not None and before.verdict else ""
        last = f"; the one before: {before.opened_at:%d %b %Y}, {before.name}{verdict}" if before else ""
        said.append(f"visit {place + 1} of {len(stays)} of this machine{last}")
    return list(filter(None, said))
