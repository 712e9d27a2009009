"""Repairs: the form with the places at hand, and what was repaired."""

from __future__ import annotations

from functools import partial

from matrixcheck.bench import Bench
from matrixcheck.report.repairing import repaired_words
from matrixcheck.web.page.asking import Asked, Get, Post, Route, Shown, Taken
from matrixcheck.web.page.screens.answer import places_at_hand
from matrixcheck.web.page.screens.repair import repair_screen
from matrixcheck.web.page.sources import Sources
from matrixcheck.web.page.views.job import PATIENCE, taken


def routes(sources: Sources) -> tuple[Route, ...]:
    """Return the routes of repairs."""
    return Get("/job/{job}/repair", partial(repair, sources)), Post("/job/{job}/repair", repaired)


def repair(sources: Sources, bench: Bench, asked: Asked) -> Shown:
    """Show the form; `what` is the place that is named, `outside` whether it is outside the layout."""
    state = bench.state(asked.job)
    found = sources.answers.newest(state, PATIENCE)
    places = places_at_hand(state, found)
    what, outside = asked.query.get("what", "").strip(), "outside" in asked.query
    return Shown("repair.html", repair_screen(state, what, outside, places, found.version))


def repaired(bench: Bench, asked: Asked) -> Taken:
    """Keep a repair."""
    did, fitted, value, note = (asked.text(field) for field in ("did", "fitted", "value", "note"))
    made = bench.repair(
        asked.job,
        asked.text("what"),
        note,
        did=did,
        fitted=fitted,
        value=value,
        outside=asked.yes("outside"),
        send=asked.send,
    )
    return taken(bench, asked, repaired_words(made, bench.state(asked.job).layout))
