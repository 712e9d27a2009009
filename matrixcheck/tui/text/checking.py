"""The bench checks of a suspect, the places behind a cell, and what is known of a place from checks and repairs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from matrixcheck.layout.model import Cell, Layout
from matrixcheck.layout.places import parse_cell, parse_line
from matrixcheck.record.replay import JobState
from matrixcheck.report.outcomes import outcomes_of
from matrixcheck.report.words import moment
from matrixcheck.tui.text.spans import Row, Span, row, wrapped

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import BenchCheck, Fault, Suspect


def places_of(suspect: Suspect) -> tuple[str, ...]:
    """The parts, lines and cells at which the suspect's faults sit, each once."""
    return tuple(dict.fromkeys(place for member in suspect.members if (place := _place_of(member))))


def places_behind(cell: Cell, layout: Layout) -> tuple[str, ...]:
    """The places that a cell works through: itself, its column and its row, each line with its path to the logic."""
    matrix = layout.matrix(cell.key.matrix)
    found = [str(cell.key)]
    for key in (cell.column_line, cell.row_line):
        line = matrix.lines.get(key)
        if line is not None:
            refs = (*reversed(line.path), *line.supply, *filter(None, [line.select]))
            found += [str(key), *(name for ref in refs for name in (ref, ref.partition("-")[0]))]
    return tuple(dict.fromkeys([*found, *matrix.supply]))


def place_words(place: str, layout: Layout) -> str:
    """A place with its name, where the layout gives one."""
    if (key := parse_cell(place, "")) is not None:
        cell = layout.cell(key)
        return f"{place}  {cell.number} {cell.name}"
    if (line := parse_line(place, "")) is not None:
        return f"{place}  the wire of {line.side} {layout.line(line).label}"
    part = layout.part_by_ref.get(place) or layout.part_by_ref.get(place.partition("-")[0])
    return f"{place}  {part.name}" if part and part.name else place


def place_known(place: str, state: JobState) -> str:
    """What was found or done at a place last; nothing where nothing was."""
    for one in state.findings:
        if one.place == place:
            return f"found {one.verdict} {moment(one.at)}{_remark(one.note)}"
    repaired = [one for one in state.repairs if one.place == place]
    return f"repaired {moment(repaired[-1].at)}{_remark(repaired[-1].note)}" if repaired else ""


def suspect_rows(suspect: Suspect, checks: Sequence[BenchCheck], width: int) -> tuple[Row, ...]:
    """A suspect, and the checks that would decide about it."""
    return (*wrapped(suspect.says, width, "title"), row(), *check_rows(checks, width))


def cell_rows(cell: Cell, width: int) -> tuple[Row, ...]:
    """What is asked of the places behind a cell."""
    asked = f"{cell.number} {cell.name} works through these, from the device to the logic."
    return (*wrapped(asked, width, "title"), row())


def check_rows(checks: Sequence[BenchCheck], width: int) -> tuple[Row, ...]:
    """The checks, best first: what to do, where, what good and faulty show, and the caution."""
    if not checks:
        return wrapped("No bench check is proposed for this suspect.", width, "quiet")
    rows: list[Row] = []
    for count, check in enumerate(checks, 1):
        power: Span = ("POWER ON", "alert") if check.power else ("power off", "strong")
        rows += wrapped(check.do, width, "strong", indent="   ", first=f"{count}. ")
        points = " and ".join(filter(None, check.points))
        rows.append((("   ", "plain"), power, (f"  about {check.cost:g} min", "quiet")))
        rows += wrapped(f"between {points}", width, indent="   ") if points else ()
        for name, says in outcomes_of(check):
            rows += wrapped(f"{name.lower()}: {says}", width, indent="   ")
        rows += wrapped(check.caution, width, "alert", indent="   ", first="   ! ")
        rows.append(row())
    return tuple(rows)


def _remark(note: str) -> str:
    return f": {note}" if note else ""


def _place_of(fault: Fault) -> str:
    if fault.part:
        return fault.part
    if fault.lines:
        return str(fault.lines[0])
    return str(fault.cells[0]) if fault.cells else ""
