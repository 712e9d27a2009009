"""The bench: the list of jobs."""

from __future__ import annotations

from matrixcheck.bench import Bench
from matrixcheck.errors import UsageError
from matrixcheck.web.page.asking import Asked, Get, Shown
from matrixcheck.web.page.screens.bench import bench_screen

KNOWN = frozenset({"job", "matrix", "page"})


def bench(bench: Bench, asked: Asked) -> Shown:
    """Show the jobs. An address of old, `/?job=ID&matrix=M`, goes on to that job once it is known to be there."""
    if not set(asked.query) <= KNOWN:
        raise UsageError("this address asks for something that isn't here", "job and matrix are all it may name")
    job, matrix = asked.query.get("job", ""), asked.query.get("matrix", "")
    if matrix and not job:
        raise UsageError("this address names a matrix and no job", "name its job as well")
    onward = ""
    if job:
        state = bench.state(job)
        onward = f"/job/{state.id}" + (f"#{state.layout.matrix(matrix).id}" if matrix else "")
    return Shown("bench.html", bench_screen(bench.jobs(), onward))


ROUTES = (Get("/", bench),)
