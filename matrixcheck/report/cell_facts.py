"""What is known of one cell in words: what came with it, how to get at it, and the path of its lines."""

from __future__ import annotations

from matrixcheck.layout.model import Cell, Layout, Line
from matrixcheck.layout.wording import cell_words, place_words
from matrixcheck.record.cell_state import Standing

ARROW = " → "


def mark_words(standing: Standing) -> str:
    """Return how a cell stands in a few words: its mark, that its glow is normal, that it comes and goes."""
    mark = "glows, normal here" if standing.normal else str(standing.mark)
    return f"{mark}, comes and goes" if standing.intermittent else mark


def standing_words(standing: Standing, layout: Layout) -> tuple[str, ...]:
    """Return what else is known of a cell than its mark: what answered, its glow, its ohms, its retest, its delay."""
    found: list[str] = []
    for words, cells in (
        ("answered too:", standing.echoed),
        ("answered instead:", standing.answered_instead),
        ("faint:", standing.faint),
    ):
        if cells:
            found.append(f"{words} {', '.join(cell_words(layout, key) for key in cells)}")
    if standing.accepted is not None:
        found.append(f"glow is normal here{': ' + standing.accepted if standing.accepted else ''}")
    if standing.ohms is not None:
        found.append(f"{standing.ohms:g} Ω measured")
    if standing.retest_due is not None:
        found.append(f"test again: {place_words(layout, standing.retest_due)} was repaired")
    if standing.deferred is not None:
        found.append(f"later: {standing.deferred}" if standing.deferred else "later")
    return tuple(found)


def where_words(cell: Cell) -> str:
    """Return the address of a cell, how it is got at, its zone, and whether it rests closed."""
    reach = cell.notes.reach
    by = f"by {reach}" if reach in {"hand", "ball"} else reach
    closed = "closed at rest" if cell.notes.rest == "closed" else ""
    return " · ".join(filter(None, [cell.key.address, by, cell.notes.zone, closed]))


def electric_words(cell: Cell) -> str:
    """Return what the layout says of a device: its ohms, what is fitted, what keeps it warm."""
    notes = cell.notes
    lamp = {"led": "LED fitted", "filament": "filament fitted", None: ""}[notes.fitted]
    ohms = f"{notes.ohms:g} Ω" if notes.ohms else ""
    keep_warm = f"keep-warm {notes.keep_warm.ohms:g} Ω" if notes.keep_warm else ""
    return " · ".join(filter(None, ["flash lamp" if cell.device == "flash lamp" else "", ohms, lamp, keep_warm]))


def path_words(line: Line) -> tuple[str, ...]:
    """Return the parts that a line runs through, from the logic on; then its relay and its supply, if it has any."""
    supply = f"fed by {', '.join(line.supply)}" if line.supply else ""
    relay = f"{line.select} {'at rest' if line.when == 'rest' else 'pulled'}" if line.select else ""
    return tuple(filter(None, [ARROW.join(line.path), " · ".join(filter(None, [relay, supply]))]))
