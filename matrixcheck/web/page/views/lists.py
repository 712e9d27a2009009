"""The later list, the rest of the test mode, and the notes."""

from __future__ import annotations

from matrixcheck.bench import Bench
from matrixcheck.errors import UsageError
from matrixcheck.layout.problems import shown
from matrixcheck.web.page.asking import Asked, Get, Post, Shown, Taken
from matrixcheck.web.page.screens.functions import VERDICTS, functions_screen
from matrixcheck.web.page.screens.later import later_screen
from matrixcheck.web.page.screens.notes import notes_screen
from matrixcheck.web.page.views.job import taken


def later(bench: Bench, asked: Asked) -> Shown:
    """Show the later list."""
    return Shown("later.html", later_screen(bench.state(asked.job)))


def functions(bench: Bench, asked: Asked) -> Shown:
    """Show the rest of the test mode."""
    return Shown("functions.html", functions_screen(bench.state(asked.job)))


def function(bench: Bench, asked: Asked) -> Taken:
    """Keep what came of a line of the rest of the test mode."""
    item, said = asked.text("item"), asked.text("verdict")
    verdict = next((one for one in VERDICTS if one == said), None)
    if verdict is None:
        raise UsageError(f"no line comes to {shown(said)}", f"say {', '.join(VERDICTS)}")
    bench.function(asked.job, item, verdict, asked.text("note"), send=asked.send)
    return taken(bench, asked, f"kept: {item} {verdict}")


def notes(bench: Bench, asked: Asked) -> Shown:
    """Show the notes."""
    return Shown("notes.html", notes_screen(bench.state(asked.job)))


def note(bench: Bench, asked: Asked) -> Taken:
    """Keep a note."""
    bench.note(asked.job, f"{asked.text('about')}{asked.text('note')}", send=asked.send)
    return taken(bench, asked, "kept: the note")


ROUTES = (
    Get("/job/{job}/later", later),
    Get("/job/{job}/functions", functions),
    Post("/job/{job}/functions", function),
    Get("/job/{job}/notes", notes),
    Post("/job/{job}/notes", note),
)
