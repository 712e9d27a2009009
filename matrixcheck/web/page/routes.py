"""The one table of routes. Each screen brings its own; this file only joins them."""

from __future__ import annotations

from matrixcheck.web.page.asking import Route
from matrixcheck.web.page.views import bench, job, rounds

ROUTES: tuple[Route, ...] = (
    *bench.ROUTES,
    *job.ROUTES,
    *rounds.ROUTES,
)
