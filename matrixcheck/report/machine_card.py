"""The card to pin inside the cabinet: how the machine is built, what is odd here, when it was last worked on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from matrixcheck.diagnosis.words.places import numbers_words
from matrixcheck.layout.model import Cell, Layout
from matrixcheck.record.job_state import JobState
from matrixcheck.report import cautions
from matrixcheck.report.counts import in_all
from matrixcheck.report.document import Block, Grid, Grids, MachineCard, Pictures, Points, Section, Sentence
from matrixcheck.report.drawing.cell_texts import CLOSED_AT_REST, LED_FITTED, as_built
from matrixcheck.report.drawing.grid_blocks import Caption
from matrixcheck.report.drawing.lettering import wrapped
from matrixcheck.report.functions import failing, untested
from matrixcheck.report.job_facts import JobFacts
from matrixcheck.report.owner_words import capital
from matrixcheck.report.safety import named_briefly, with_notes
from matrixcheck.report.stop import notice

MOST_FAULTS, MOST_NOTES = 6, 3
NOTE = (850, 29, 2)
"""Room, size of letters and most lines of a note, of which the newest stand on the card."""
NO_BREAK = "\N{NO-BREAK SPACE}"
MANY = 99
"""Devices that a list of the card names at most."""


def machine_card(facts: JobFacts, titles: Sequence[str]) -> MachineCard:
    """Return the card of a machine; `titles` are those of the faults that are known and open."""
    layout = facts.state.layout
    grids = Grids(
        tuple(Grid(matrix, as_built, Caption(capital(matrix.name or matrix.id), "")) for matrix in layout.matrices)
    )
    odd = (*_odd(layout), *_accepted(facts.state))
    sections = [Section("Odd here, and no fault", (Points(odd),))] if odd else []
    sections.append(Section(f"As left on {facts.head.visit}", tuple(_left_blocks(facts, titles))))
    notes = tuple(" ".join(wrapped(note.text, *NOTE)) for note in facts.state.notes[-MOST_NOTES:])
    if notes:
        sections.append(Section("Notes", (Points(notes),)))
    ratings = [f"{part.ref} {part.rating}".replace(" ", NO_BREAK) for part in layout.parts if part.rating]
    fuses = "; ".join(ratings)
    if fuses:
        sections.append(Section("Ratings", (Sentence(fuses),)))
    sections.append(Section("Caution", (Sentence(f"{cautions.INSIDE} {cautions.DEFER}"),)))
    photos = Pictures(tuple(one for one in facts.photos.pictures if one.jpeg))
    return MachineCard(facts.head._replace(owner=""), tuple(sections), grids, photos)


def _odd(layout: Layout) -> Iterator[str]:
    cells = [cell for matrix in layout.matrices for cell in matrix.fitted]
    warm = [cell for cell in cells if cell.notes.keep_warm and cell.notes.fitted == "led"]
    leds = [cell for cell in cells if cell.notes.fitted == "led" and cell not in warm]
    closed = [cell for cell in cells if cell.notes.rest == "closed"]
    for group in _alike(warm):
        yield f"{LED_FITTED} LEDs on keep-warm resistors glow by themselves: {_numbers(layout, group)}."
    for group in _alike(leds):
        yield f"{LED_FITTED} LEDs are fitted: {_numbers(layout, group)}."
    for group in _alike(closed):
        yield f"{CLOSED_AT_REST} Closed at rest while all is well: {_numbers(layout, group)}."


def _accepted(state: JobState) -> Iterator[str]:
    """Yield what was accepted as normal, those of one note together."""
    notes: dict[str, list[Cell]] = {}
    for standing in state.standings.values():
        if standing.accepted is not None:
            notes.setdefault(standing.accepted, []).append(standing.cell)
    for note, cells in notes.items():
        for group in _alike(cells):
            yield f"Glows at rest, accepted as normal here: {_numbers(state.layout, group)}{note and f' ({note})'}."


def _left_blocks(facts: JobFacts, titles: Sequence[str]) -> Iterator[Block]:
    danger = notice(facts.state.coils)
    failed = [f"FAILED safety check: {one}." for one in with_notes(facts.safety, "failed")]
    loud = tuple(filter(None, (danger, *failed)))
    if loud:
        yield Points(loud, loud=True)
    left = tuple(_left(facts, titles))
    if left:
        yield Points(left)


def _left(facts: JobFacts, titles: Sequence[str]) -> Iterator[str]:
    counts = in_all(facts.counts.values())
    unmade, waived = named_briefly(facts.safety, "open"), with_notes(facts.safety, "waived")
    if unmade:
        yield f"Safety check not made: {', '.join(unmade)}."
    if waived:
        yield f"Safety check waived: {', '.join(waived)}."
    yield from (f"Open: {title}." for title in titles[:MOST_FAULTS])
    if len(titles) > MOST_FAULTS:
        yield f"And {len(titles) - MOST_FAULTS} more open faults: see the report."
    unsteady = [standing.cell for standing in facts.state.standings.values() if standing.intermittent]
    for group in _alike(unsteady):
        yield f"Comes and goes: {_numbers(facts.state.layout, group)}."
    broken, lists = failing(facts.functions), untested(facts.functions)
    if broken:
        yield f"Open: {'; '.join(broken)}."
    if counts.untested:
        yield f"{counts.untested} of {counts.total} devices are untested."
    if lists:
        yield f"Not tested in the rest of the test mode: {', '.join(lists)}."
    if not (titles or broken or counts.untested or lists) and not facts.state.coils.stop:
        yield "Every device is tested, and no fault is known."


def _numbers(layout: Layout, cells: Sequence[Cell]) -> str:
    return numbers_words(layout, [cell.key for cell in cells], "and", MANY)


def _alike(cells: Iterable[Cell]) -> Iterable[list[Cell]]:
    found: dict[tuple[str, str], list[Cell]] = {}
    for cell in cells:
        found.setdefault((cell.key.matrix, cell.device), []).append(cell)
    return found.values()
