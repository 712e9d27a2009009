"""One cell: its page, and what is recorded of it beside a round."""

from __future__ import annotations

from typing import Literal

from matrixcheck.bench import Bench
from matrixcheck.errors import UsageError
from matrixcheck.layout.model import Cell
from matrixcheck.layout.places import parse_cell
from matrixcheck.layout.problems import shown
from matrixcheck.layout.reading import Finding
from matrixcheck.layout.wording import place_words
from matrixcheck.record.job_state import JobState
from matrixcheck.report.calling_back import kept_words
from matrixcheck.web.page.asking import Asked, Get, Post, Shown, Taken
from matrixcheck.web.page.screens.cell import cell_screen
from matrixcheck.web.page.views.job import taken

VERDICTS: tuple[Literal["good", "faulty"], ...] = ("good", "faulty")


def cell(bench: Bench, asked: Asked) -> Shown:
    """Show a cell."""
    state = bench.state(asked.job)
    return Shown("cell.html", cell_screen(state, _cell(state, asked)))


def glow(bench: Bench, asked: Asked) -> Taken:
    """Keep that the glow of a lamp is normal on this machine, or take that back."""
    one = _cell(bench.state(asked.job), asked)
    kept = bench.accept(asked.job, [one.key], asked.text("note"), back=asked.yes("back"), send=asked.send)
    return taken(bench, asked, kept_words(kept, bench.state(asked.job).standings))


def found(bench: Bench, asked: Asked) -> Taken:
    """Keep that a place was found good or faulty."""
    place, said = asked.text("place"), asked.text("verdict")
    verdict = next((one for one in VERDICTS if one == said), None)
    if verdict is None:
        raise UsageError(f"nothing is found {shown(said)}", "say good or faulty")
    bench.finding(asked.job, Finding(place=place, verdict=verdict), asked.text("note"), send=asked.send)
    named = place_words(bench.state(asked.job).layout, place)
    return taken(bench, asked, f"kept: {named} found {verdict}")


def _cell(state: JobState, asked: Asked) -> Cell:
    matrix = state.layout.matrix(asked.matrix)
    key = parse_cell(asked.parts["address"], matrix.id)
    one = matrix.by_key.get(key) if key is not None else None
    if one is None:
        raise UsageError(f"nothing is fitted at {shown(asked.parts['address'])} of {matrix.id}", "go back to the grid")
    return one


ROUTES = (
    Get("/job/{job}/cell/{matrix}/{address}", cell),
    Post("/job/{job}/cell/{matrix}/{address}/glow", glow),
    Post("/job/{job}/found", found),
)
