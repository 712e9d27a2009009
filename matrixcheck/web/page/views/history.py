"""The history: what was recorded, struck out or made to count again."""

from __future__ import annotations

from matrixcheck.bench import Bench
from matrixcheck.errors import UsageError
from matrixcheck.layout.problems import shown
from matrixcheck.report.calling_back import redone_words, undone_words
from matrixcheck.web.page.asking import Asked, Get, Post, Shown, Taken
from matrixcheck.web.page.screens.history import history_screen, strike_screen
from matrixcheck.web.page.views.job import taken


def history(bench: Bench, asked: Asked) -> Shown:
    """Show the history, from the newest entry or from before one."""
    before = asked.query.get("before", "")
    state = bench.state(asked.job)
    return Shown("history.html", history_screen(state, bench.log(asked.job), _number(before) if before else 0))


def entry(bench: Bench, asked: Asked) -> Shown:
    """Show one entry, and what striking it out takes along."""
    number = _number(asked.parts["number"])
    strike = bench.strike(asked.job, number)
    line = bench.log(asked.job)[number - 1]
    return Shown("strike.html", strike_screen(bench.state(asked.job), line, strike))


def strike(bench: Bench, asked: Asked) -> Taken:
    """Strike an entry out, or have it count again."""
    number = _number(asked.parts["number"])
    if asked.yes("back"):
        words = redone_words(bench.redo(asked.job, event=number, send=asked.send))
    else:
        words = undone_words(bench.undo(asked.job, event=number, send=asked.send))
    return taken(bench, asked, words)


def _number(text: str) -> int:
    if not (text.isascii() and text.isdecimal() and len(text) < 10):
        raise UsageError(f"no entry is called {shown(text)}", "go back to the history")
    return int(text)


ROUTES = (
    Get("/job/{job}/history", history),
    Get("/job/{job}/history/{number}", entry),
    Post("/job/{job}/history/{number}", strike),
)
