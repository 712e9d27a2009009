"""One card of the answer, and what its checks found."""

from __future__ import annotations

from functools import partial

from matrixcheck.bench import Bench
from matrixcheck.errors import UsageError
from matrixcheck.layout.problems import shown
from matrixcheck.web.page.asking import Asked, Get, Post, Route, Shown, Taken
from matrixcheck.web.page.screens.answer import card_screen
from matrixcheck.web.page.sources import Sources
from matrixcheck.web.page.views.job import PATIENCE, taken


def routes(sources: Sources) -> tuple[Route, ...]:
    """Return the routes of the answer."""
    return Get("/job/{job}/card/{number}", partial(card, sources)), Post("/job/{job}/check", check)


def card(sources: Sources, bench: Bench, asked: Asked) -> Shown:
    """Show a card."""
    number = asked.parts["number"]
    if not (number.isascii() and number.isdecimal() and len(number) < 4):
        raise UsageError(f"no card is called {shown(number)}", "go back to the job")
    state = bench.state(asked.job)
    return Shown("card.html", card_screen(state, int(number), sources.answers.newest(state, PATIENCE)))


def check(bench: Bench, asked: Asked) -> Taken:
    """Keep what a bench check found: good, faulty, or a value."""
    code = asked.text("code")
    finding, follows = bench.checked(asked.job, code, asked.text("said"), asked.text("note"), send=asked.send)
    verdict = "in between" if finding.verdict == "between" else finding.verdict
    value = f" ({finding.value})" if finding.value else ""
    return taken(bench, asked, " ".join(filter(None, [f"kept: {finding.code} found {verdict}{value}.", follows])))
