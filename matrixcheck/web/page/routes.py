"""The one table of routes. Each screen brings its own; this file only joins them."""

from __future__ import annotations

from matrixcheck.web.page.asking import Route
from matrixcheck.web.page.sources import Sources
from matrixcheck.web.page.views import (
    bench,
    card,
    cell,
    history,
    job,
    lists,
    new_job,
    photos,
    repair,
    report,
    rounds,
    safety,
)


def routes_of(sources: Sources) -> tuple[Route, ...]:
    """Return every route of the page."""
    return (
        *bench.ROUTES,
        *new_job.routes(sources),
        *job.routes(sources),
        *cell.ROUTES,
        *card.routes(sources),
        *safety.routes(sources),
        *repair.routes(sources),
        *lists.ROUTES,
        *history.ROUTES,
        *photos.ROUTES,
        *report.routes(sources),
        *rounds.ROUTES,
    )
