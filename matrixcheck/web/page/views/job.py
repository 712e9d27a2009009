"""A job: how far each matrix is tested, and the way into its rounds."""

from __future__ import annotations

from matrixcheck.bench import Bench
from matrixcheck.web.page.asking import Asked, Get, Shown
from matrixcheck.web.page.screens.job import job_screen


def job(bench: Bench, asked: Asked) -> Shown:
    """Show a job."""
    return Shown("job.html", job_screen(bench.state(asked.job)))


ROUTES = (Get("/job/{job}", job),)
