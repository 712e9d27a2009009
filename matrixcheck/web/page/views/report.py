"""The report of a job, as it prints."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import NamedTuple

from matrixcheck.bench import Bench
from matrixcheck.record.summary import coverage_of, later_list
from matrixcheck.report.drawing.paper import PAPERS
from matrixcheck.report.page import page
from matrixcheck.report.photos import ON_PAPER
from matrixcheck.report.reporting import report_of
from matrixcheck.report.sheet import Sheet
from matrixcheck.web.page.asking import Asked, Get, Route, Shown
from matrixcheck.web.page.screens.head import head_of
from matrixcheck.web.page.sources import Sources

PATIENCE = 0.5
"""Seconds that the report waits for the whole answer, before it says that it does."""


class Printed(NamedTuple):
    """A page that is HTML already."""

    html: str


def routes(sources: Sources) -> tuple[Route, ...]:
    """Return the route of the report."""
    return (Get("/job/{job}/report", partial(report, sources)),)


def report(sources: Sources, bench: Bench, asked: Asked) -> Shown:
    """Show the report, once the answer is whole."""
    state = bench.state(asked.job)
    found = sources.answers.newest(state, PATIENCE)
    if not found.ended:
        return Shown("report_waits.html", head_of(state))
    diagnosis = found.diagnosis or bench.diagnosis(state.id)
    photos = bench.photo_files(state.id, ON_PAPER)
    sheet = Sheet(state, diagnosis, coverage_of(state), later_list(state), datetime.now().astimezone(), photos)
    paper = PAPERS["a4"]
    return Shown("report.html", Printed(page(report_of(sheet, paper), paper)))
