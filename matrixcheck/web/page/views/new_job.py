"""A machine for the bench: the form, and the job that is opened."""

from __future__ import annotations

from functools import partial

from matrixcheck.bench import Bench
from matrixcheck.layout.files import choosable, read_found
from matrixcheck.web.page.asking import Asked, Get, Post, Route, Shown, Taken
from matrixcheck.web.page.screens.new_job import new_job_screen
from matrixcheck.web.page.sources import Sources


def routes(sources: Sources) -> tuple[Route, ...]:
    """Return the routes of a new job."""
    return Get("/new", partial(form, sources)), Post("/new", partial(opened, sources))


def form(sources: Sources, _bench: Bench, _asked: Asked) -> Shown:
    """Show the form."""
    return Shown("new_job.html", new_job_screen(choosable(sources.layouts)))


def opened(sources: Sources, bench: Bench, asked: Asked) -> Taken:
    """Open a job of a layout that may be chosen: no path that a phone sends is looked at."""
    layout, source = read_found(asked.text("layout"), own=False, folder=sources.layouts)
    about = (asked.text(field) for field in ("name", "serial", "owner"))
    job = bench.new_job(layout, *about, source=source, send=asked.send)
    return Taken(bench.state(job).seq, "kept: the job", ({"onward": f"/job/{job}"},))
