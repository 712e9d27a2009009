"""One cell: how it stands, how to get at it, its wires and parts, what was seen of it, and what may be recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matrixcheck.layout.model import Cell, Kind
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.wording import cell_words
from matrixcheck.record.answers import cell_of
from matrixcheck.record.job_state import JobState
from matrixcheck.record.summary import words_of
from matrixcheck.report.cautions import BY_KIND, INSIDE
from matrixcheck.report.cell_facts import electric_words, mark_words, path_words, standing_words, where_words
from matrixcheck.report.glyphs import GLYPHS
from matrixcheck.report.later import reasons_for
from matrixcheck.report.spots import places_behind
from matrixcheck.report.words import moment
from matrixcheck.web.page.screens.head import JobHead, head_of
from matrixcheck.web.page.screens.known import Known, known_at
from matrixcheck.web.page.screens.photos import PhotoArea, photo_area


@dataclass(frozen=True)
class Wire:
    """One line of a cell: its name, and what it runs through."""

    name: str
    says: Sequence[str]


@dataclass(frozen=True)
class Entry:
    """Something that was recorded: when, by whom, and what."""

    at: str
    who: str
    says: str


@dataclass(frozen=True)
class Verb:
    """A mark that may be kept: what is typed for it, its word, its sign."""

    text: str
    word: str
    mark: str
    glyph: str


@dataclass(frozen=True)
class CellScreen:
    """One cell of a job. `glow` is "accept" where its glow may be called normal, "back" where it was, else ""."""

    head: JobHead
    matrix: str
    address: str
    number: str
    name: str
    words: str
    mark: str
    glyph: str
    standing: str
    says: Sequence[str]
    about: Sequence[str]
    wires: Sequence[Wire]
    places: Sequence[Known]
    seen: Sequence[Entry]
    verbs: Sequence[Verb]
    ohms: bool
    reasons: Sequence[str]
    glow: str
    allowed: bool
    cautions: Sequence[str]
    photos: PhotoArea


def cell_screen(state: JobState, cell: Cell) -> CellScreen:
    """Return what the page of a cell shows."""
    matrix, standing = state.layout.matrix(cell.key.matrix), state.standings[cell.key]
    glow = "back" if standing.accepted is not None else ""
    if not glow and cell.lights and standing.mark is Mark.STUCK:
        glow = "accept"
    return CellScreen(
        head_of(state),
        matrix.id,
        cell.key.address,
        str(cell.number),
        cell.name,
        cell_words(state.layout, cell.key),
        "normal" if standing.normal else str(standing.mark),
        GLYPHS[standing.mark],
        mark_words(standing),
        standing_words(standing, state.layout),
        tuple(filter(None, [where_words(cell), electric_words(cell)])),
        _wires(cell, state),
        [known_at(place, state) for place in places_behind(cell, state.layout)],
        _seen(cell, state),
        [Verb(f"{cell.number}{sign}", WORDS[mark], str(mark), GLYPHS[mark]) for mark, sign in SIGNS],
        matrix.kind is Kind.COIL,
        reasons_for(cell, state.layout),
        glow,
        state.coils.allows(matrix.id, rest_scan=False),
        (BY_KIND[matrix.kind], INSIDE),
        photo_area(state, cell_words(state.layout, cell.key), place=str(cell.key)),
    )


SIGNS = ((Mark.WORKING, ""), (Mark.DEAD, "-"), (Mark.STUCK, "*"))
"""What is typed behind a number for a mark."""
WORDS = {Mark.WORKING: "works", Mark.DEAD: "dead", Mark.STUCK: "stuck"}


def _wires(cell: Cell, state: JobState) -> tuple[Wire, ...]:
    lines = state.layout.matrix(cell.key.matrix).lines
    found = []
    for key in (cell.column_line, cell.row_line):
        if line := lines.get(key):
            name = " ".join(filter(None, [key.side, line.label, line.wire or "", line.name]))
            found.append(Wire(name, path_words(line)))
    return tuple(found)


def _seen(cell: Cell, state: JobState) -> tuple[Entry, ...]:
    """Return what was recorded of a cell and still counts, newest first."""
    own = (one for one in reversed(state.history) if cell_of(one.event) == cell.key)
    return tuple(
        Entry(
            moment(one.at),
            one.initials or one.client.partition(" of ")[0],
            words_of(one.event, state.layout, state.anyway),
        )
        for one in own
    )
