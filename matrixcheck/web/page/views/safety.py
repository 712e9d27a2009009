"""The checks before power: their page, and how they came out."""

from __future__ import annotations

from functools import partial

from matrixcheck.bench import Bench
from matrixcheck.layout.check_names import is_earth
from matrixcheck.record.checks_named import checks_named
from matrixcheck.record.earth_limit import limit_typed
from matrixcheck.record.safety_checks import checklist, unit_of
from matrixcheck.report.safety_asked import known_limit, limit_without_lead, reading_typed
from matrixcheck.web.page.asking import Asked, Get, Post, Route, Shown, Taken
from matrixcheck.web.page.screens.safety import safety_screen
from matrixcheck.web.page.sources import Sources
from matrixcheck.web.page.views.job import taken


def routes(sources: Sources) -> tuple[Route, ...]:
    """Return the routes of the checks before power."""
    return (
        Get("/job/{job}/safety", partial(safety, sources)),
        Post("/job/{job}/safety/judge", judge),
        Post("/job/{job}/safety/waive", waive),
        Post("/job/{job}/safety/measure", partial(measure, sources)),
        Post("/job/{job}/safety/fuse", fuse),
    )


def safety(sources: Sources, bench: Bench, asked: Asked) -> Shown:
    """Show the checks."""
    return Shown("safety.html", safety_screen(bench.state(asked.job), sources.mains_region))


def judge(bench: Bench, asked: Asked) -> Taken:
    """Keep that a check passed or failed."""
    item, passed = asked.text("item"), asked.text("verdict") == "passed"
    bench.safety(asked.job, item, passed, asked.text("note"), send=asked.send)
    return taken(bench, asked, f"kept: {item} {'passed' if passed else 'FAILED'}")


def waive(bench: Bench, asked: Asked) -> Taken:
    """Keep that a check is let go, and why."""
    item = asked.text("item")
    bench.waive_check(asked.job, item, asked.text("note"), send=asked.send)
    return taken(bench, asked, f"kept: {item} waived")


def measure(sources: Sources, bench: Bench, asked: Asked) -> Taken:
    """Keep what a check measured, judged by its limit: of an earth bond the one given, else the last one held to."""
    item, state = asked.text("item"), bench.state(asked.job)
    (one,) = checks_named(item, checklist(state)).items
    reading, more = reading_typed(asked.text("reading"), unit_of(one))
    limit = None
    if is_earth(item):
        rule, typed = sources.mains_region, asked.text("limit") or more
        limit = limit_typed(typed, rule) if typed else known_limit(state.safety) or limit_without_lead(rule)
    passed = bench.measure_check(asked.job, item, reading, limit, asked.text("note"), send=asked.send)
    return taken(bench, asked, f"kept: {item} {'passed' if passed else 'FAILED'}")


def fuse(bench: Bench, asked: Asked) -> Taken:
    """Keep what is printed on the fuse in its holder."""
    item = asked.text("item")
    passed = bench.fuse_found(asked.job, item, asked.text("found"), send=asked.send)
    return taken(bench, asked, f"kept: {item} {'passed' if passed else 'FAILED'}")
