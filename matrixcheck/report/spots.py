"""The bench checks of a suspect, the places behind a cell, and what is known of a place from checks and repairs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from matrixcheck.layout.model import Cell, Layout
from matrixcheck.layout.wording import place_words
from matrixcheck.record.job_state import JobState
from matrixcheck.report.words import moment

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import BenchCheck, Fault, Suspect


class Spot(NamedTuple):
    """A check that is recorded by its `code`, or a place for the usual look at it, or for what was repaired there.

    `place` of a check is the one that it looks at; "" where it looks at several.
    """

    place: str
    code: str = ""
    short: str = ""


def spots_of(suspect: Suspect, checks: Sequence[BenchCheck]) -> tuple[Spot, ...]:
    """Return the checks that are proposed, in their order; then the parts, lines and cells that may be repaired.

    A check says nothing of what it can't see: a wire that measures whole may lie at ground all the same.
    """
    found = []
    for check in checks:
        places = {_place_of(member) for member in check.splits}
        found.append(Spot(places.pop() if len(places) == 1 else "", check.code, check.short))
    return (*found, *(Spot(place) for place in likely_places(suspect)))


def likely_places(suspect: Suspect) -> tuple[str, ...]:
    """Return the places where a suspect may sit, likeliest first."""
    found: dict[str, float] = {}
    for number, member in enumerate(suspect.members):
        place = _place_of(member)
        found[place] = found.get(place, 0.0) + (suspect.shares[number] if suspect.shares else 1.0)
    return tuple(place for place in sorted(found, key=lambda place: -found[place]) if place)


def places_behind(cell: Cell, layout: Layout) -> tuple[str, ...]:
    """Return the places that a cell works through.

    These are itself, its column and its row, each line with its path to the logic.
    """
    matrix = layout.matrix(cell.key.matrix)
    found = [str(cell.key)]
    for key in (cell.column_line, cell.row_line):
        line = matrix.lines.get(key)
        if line is not None:
            refs = (*reversed(line.path), *line.supply, *filter(None, [line.select]))
            found += [str(key), *(name for ref in refs for name in (ref, ref.partition("-")[0]))]
    return tuple(dict.fromkeys([*found, *matrix.supply]))


def spot_words(spot: Spot, layout: Layout) -> str:
    """Return a check by its code and what to do, or a place with its name, where the layout gives one."""
    if spot.code:
        return f"{spot.code}  {spot.short}"
    place = spot.place
    part = layout.part_by_ref.get(place) or layout.part_by_ref.get(place.partition("-")[0])
    return f"{place}  {part.name}" if part and part.name else place_words(layout, place)


def place_known(spot: Spot, state: JobState) -> str:
    """Return what this check found last, or what was found or done at this place; nothing where nothing was."""
    place = spot.place
    for one in state.findings:
        if one.finding.code == spot.code and (spot.code or one.place == place):
            verdict = "in between" if one.verdict == "between" else one.verdict
            value = f" ({one.finding.value})" if one.finding.value else ""
            return f"found {verdict}{value} {moment(one.at)}{_remark(one.note)}"
    if spot.code:
        return ""
    repaired = [one for one in state.repairs if one.place == place]
    return f"repaired {moment(repaired[-1].at)}{_remark(repaired[-1].note)}" if repaired else ""


def _remark(note: str) -> str:
    return f": {note}" if note else ""


def _place_of(fault: Fault) -> str:
    if fault.part:
        return fault.part
    if fault.lines:
        return str(fault.lines[0])
    return str(fault.cells[0]) if fault.cells else ""
