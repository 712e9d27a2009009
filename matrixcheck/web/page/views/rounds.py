"""Rounds: their pages, and what is recorded in them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial

from matrixcheck.bench import Bench, Kept, Undone
from matrixcheck.errors import AnalysisError, UsageError
from matrixcheck.layout.model import Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading
from matrixcheck.record.coil_lock import COIL_FUSE_OUT
from matrixcheck.record.entry import parse_places
from matrixcheck.report.calling_back import differed_words, kept_words, redone_words, undone_words
from matrixcheck.report.rounds import held_together
from matrixcheck.web.page.asking import Asked, Get, Post, Route, Shown, Taken
from matrixcheck.web.page.screens.cells import cells_data
from matrixcheck.web.page.screens.rounds import KINDS, choose_screen, hold_screen, open_round, round_screen, stop_screen

DID_BOTH = "press Did both"
HOLD_SECONDS = 1.0
"""How long the analyser may look for switches to hold."""


def choose(bench: Bench, asked: Asked) -> Shown:
    """Show which rounds suit a matrix."""
    state = bench.state(asked.job)
    matrix = state.layout.matrix(asked.matrix)
    return Shown("choose_round.html", choose_screen(state, matrix, _named(asked, "cells", matrix)))


def show(sort: str, bench: Bench, asked: Asked) -> Shown:
    """Show a round."""
    state = bench.state(asked.job)
    matrix = state.layout.matrix(asked.matrix)
    if not state.coils.allows(matrix.id, rest_scan=sort == "rest"):
        return Shown("stop.html", stop_screen(state))
    cells, held = _named(asked, "cells", matrix), _named(asked, "held", matrix)
    screen = round_screen(state, matrix, sort, cells, held)
    if sort == "hold" and (not screen.data["held"] or held_together(matrix, held)):
        return Shown("choose_hold.html", hold_screen(state, matrix, held, _proposed(bench, asked)))
    # A hold round begins with a rest scan: only then it is known what else closes.
    scans = sort == "hold" and not screen.data["scanned"]
    return Shown("rest.html" if scans else f"{sort}.html", screen)


def begin(bench: Bench, asked: Asked) -> Taken:
    """Begin a round, unless it is open already."""
    state = bench.state(asked.job)
    matrix = state.layout.matrix(asked.matrix)
    sort = asked.text("sort")
    if sort not in KINDS:
        raise UsageError(f"there is no round called {sort}", "load the page again")
    kind, manner = KINDS[sort]
    cells, held = (parse_places(" ".join(asked.texts(name)), matrix) for name in ("cells", "held"))
    if open_round(state, matrix, sort, cells, held) is None:
        bench.start_round(asked.job, matrix.id, kind, held, cells=cells, manner=manner, send=asked.send)
        state = bench.state(asked.job)
    as_they_stand = cells_data(state, [cell.key for cell in matrix.fitted])
    return Taken(state.seq, "", as_they_stand, state.round.seq if state.round else None)


def mark(bench: Bench, asked: Asked) -> Taken:
    """Keep an entry in the entry notation."""
    return _kept(bench, asked, bench.mark(asked.job, asked.matrix, asked.text("text"), send=asked.send))


def scan(bench: Bench, asked: Asked) -> Taken:
    """Keep a rest scan."""
    kept = bench.rest_scan(asked.job, asked.matrix, asked.text("text"), send=asked.send)
    state = bench.state(asked.job)
    return Taken(state.seq, kept_words(kept, state.standings), cells_data(state, list(state.standings)))


def later(bench: Bench, asked: Asked) -> Taken:
    """Put cells off, for a reason."""
    matrix = bench.state(asked.job).layout.matrix(asked.matrix)
    cells = parse_places(asked.text("text"), matrix)
    return _kept(bench, asked, bench.defer(asked.job, cells, asked.text("reason"), send=asked.send))


def undo(bench: Bench, asked: Asked) -> Taken:
    """Undo what this phone recorded last in its round."""
    one = bench.state(asked.job).round
    undone = bench.undo(asked.job, since=one.seq if one else 0, within=asked.matrix, send=asked.send)
    return _undone(bench, asked, undone)


def redo(bench: Bench, asked: Asked) -> Taken:
    """Take this phone's last undo back."""
    back = bench.redo(asked.job, send=asked.send)
    state = bench.state(asked.job)
    return Taken(state.seq, redone_words(back), cells_data(state, _once(back.cells)))


def faint(bench: Bench, asked: Asked) -> Taken:
    """Keep that a cell was lit, and that others glowed faintly with it."""
    matrix = bench.state(asked.job).layout.matrix(asked.matrix)
    cell, *others = parse_places(asked.text("cell"), matrix) or (None,)
    glowed = parse_places(asked.text("text"), matrix)
    if cell is None or others or not glowed:
        raise UsageError("nothing was named that glows faintly", "press Faint, then type its number")
    reading = Reading(matrix=matrix.id, cell=cell, answered=(cell,), faint=glowed)
    return _kept(bench, asked, bench.take_readings(asked.job, [reading], send=asked.send))


def differed(bench: Bench, asked: Asked) -> Taken:
    """Let both outcomes of a cell count."""
    (cell,) = parse_places(asked.text("cell"), bench.state(asked.job).layout.matrix(asked.matrix)) or (None,)
    if cell is None:
        raise UsageError("no cell was named", "type its number again, with what it did now")
    kept = bench.differed(asked.job, cell, send=asked.send)
    state = bench.state(asked.job)
    return Taken(state.seq, differed_words(kept), cells_data(state, [cell]))


def pace(bench: Bench, asked: Asked) -> Taken:
    """Keep the timing of a timed walk."""
    bench.pace(asked.job, asked.number("seconds"), int(asked.number("place")), asked.yes("paused"), send=asked.send)
    return Taken(bench.state(asked.job).seq, "")


def end(bench: Bench, asked: Asked) -> Taken:
    """End this phone's round; one that has ended is over all the same."""
    if bench.state(asked.job).round is not None:
        bench.end_round(asked.job, send=asked.send)
    return Taken(bench.state(asked.job).seq, "")


def fuse_out(bench: Bench, asked: Asked) -> Taken:
    """Record that the coil fuse is out."""
    bench.safety(asked.job, COIL_FUSE_OUT, passed=True, send=asked.send)
    return Taken(bench.state(asked.job).seq, f"kept: {COIL_FUSE_OUT}")


def _proposed(bench: Bench, asked: Asked) -> tuple[tuple[CellKey, ...], ...]:
    """Return the sets of switches that the analyser would hold, as far as it gets while somebody waits."""
    try:
        tests = bench.diagnosis(asked.job, HOLD_SECONDS).next
    except AnalysisError:
        return ()
    return tuple(dict.fromkeys(test.held for test in tests if test.held and test.matrix == asked.matrix))


def _named(asked: Asked, name: str, matrix: Matrix) -> tuple[CellKey, ...]:
    return parse_places(asked.query.get(name, ""), matrix)


def _kept(bench: Bench, asked: Asked, kept: Sequence[Kept]) -> Taken:
    state = bench.state(asked.job)
    corrected = {one.cell for one in kept if one.corrected}
    cells = cells_data(state, _once(one.cell for one in kept))
    said = tuple({**cell, "corrected": cell["address"] in {key.address for key in corrected if key}} for cell in cells)
    return Taken(state.seq, kept_words(kept, state.standings, DID_BOTH), said)


def _undone(bench: Bench, asked: Asked, undone: Undone) -> Taken:
    state = bench.state(asked.job)
    return Taken(state.seq, undone_words(undone), cells_data(state, _once(undone.cells)))


def _once(cells: Iterable[CellKey | None]) -> tuple[CellKey, ...]:
    return tuple(dict.fromkeys(cell for cell in cells if cell is not None))


ROUTES: tuple[Route, ...] = (
    Get("/job/{job}/{matrix}/rounds", choose),
    *(Get(f"/job/{{job}}/{{matrix}}/{sort}", partial(show, sort)) for sort in KINDS),
    Post("/job/{job}/{matrix}/begin", begin),
    Post("/job/{job}/{matrix}/mark", mark),
    Post("/job/{job}/{matrix}/scan", scan),
    Post("/job/{job}/{matrix}/later", later),
    Post("/job/{job}/{matrix}/undo", undo),
    Post("/job/{job}/{matrix}/redo", redo),
    Post("/job/{job}/{matrix}/faint", faint),
    Post("/job/{job}/{matrix}/differed", differed),
    Post("/job/{job}/{matrix}/pace", pace),
    Post("/job/{job}/{matrix}/end", end),
    Post("/job/{job}/fuse-out", fuse_out),
)
