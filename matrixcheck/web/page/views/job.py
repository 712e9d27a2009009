"""A job: its page, and what is recorded of it as a whole."""

from __future__ import annotations

from functools import partial

from matrixcheck.bench import Bench
from matrixcheck.report.calling_back import redone_words, undone_words
from matrixcheck.web.page.asking import Asked, Get, Post, Route, Shown, Taken
from matrixcheck.web.page.screens.job import job_screen
from matrixcheck.web.page.sources import Sources

PATIENCE = 0.15
"""Seconds that a page waits for an answer that is nearly there."""


def routes(sources: Sources) -> tuple[Route, ...]:
    """Return the routes of a job."""
    return (
        Get("/job/{job}", partial(job, sources)),
        Post("/job/{job}/edit", edit),
        Post("/job/{job}/close", close),
        Post("/job/{job}/reopen", reopen),
        Post("/job/{job}/archive", archive),
        Post("/job/{job}/again", again),
        Post("/job/{job}/undo", undo),
        Post("/job/{job}/redo", redo),
    )


def job(sources: Sources, bench: Bench, asked: Asked) -> Shown:
    """Show a job."""
    state = bench.state(asked.job)
    return Shown("job.html", job_screen(state, sources.answers.newest(state, PATIENCE), bench.jobs()))


def edit(bench: Bench, asked: Asked) -> Taken:
    """Put name, serial number and owner right."""
    name, serial, owner = (asked.text(field) for field in ("name", "serial", "owner"))
    bench.edit_job(asked.job, name=name, serial=serial, owner=owner, send=asked.send)
    return taken(bench, asked, "kept: job edited")


def close(bench: Bench, asked: Asked) -> Taken:
    """Close a job with a verdict."""
    verdict = asked.text("verdict")
    bench.close_job(asked.job, verdict, send=asked.send)
    return taken(bench, asked, f"kept: job closed: {verdict}")


def reopen(bench: Bench, asked: Asked) -> Taken:
    """Go on with a closed job."""
    bench.reopen_job(asked.job, send=asked.send)
    return taken(bench, asked, "kept: job reopened")


def archive(bench: Bench, asked: Asked) -> Taken:
    """Take a job off the list, or put it back. Nothing of it is deleted."""
    hidden = not asked.yes("back")
    bench.archive_job(asked.job, hidden=hidden, send=asked.send)
    words = "job archived; nothing of it is deleted" if hidden else "job back on the list"
    return taken(bench, asked, f"kept: {words}")


def again(bench: Bench, asked: Asked) -> Taken:
    """Put the machine of a job on the bench once more."""
    opened = bench.visit_again(bench.state(asked.job).id, asked.text("name"), send=asked.send)
    return Taken(bench.state(asked.job).seq, "kept: another visit", ({"onward": f"/job/{opened}"},))


def undo(bench: Bench, asked: Asked) -> Taken:
    """Undo what this phone recorded last."""
    return taken(bench, asked, undone_words(bench.undo(asked.job, send=asked.send)))


def redo(bench: Bench, asked: Asked) -> Taken:
    """Take this phone's last undo back."""
    return taken(bench, asked, redone_words(bench.redo(asked.job, send=asked.send)))


def taken(bench: Bench, asked: Asked, words: str) -> Taken:
    """Return that something was kept, in words."""
    return Taken(bench.state(asked.job).seq, words)
