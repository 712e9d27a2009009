"""The bench checks of a suspect, and the places that a check can clear or condemn."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from matrixcheck.layout.model import Layout
from matrixcheck.tui.text.spans import Row, Span, row, wrapped

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import BenchCheck, Fault, Suspect


def places_of(suspect: Suspect) -> tuple[str, ...]:
    """The parts, lines and cells at which the suspect's faults sit, each once."""
    return tuple(dict.fromkeys(place for member in suspect.members if (place := _place_of(member))))


def place_words(place: str, layout: Layout) -> str:
    """A place with its name, where the layout gives one."""
    part = layout.part_by_ref.get(place) or layout.part_by_ref.get(place.partition("-")[0])
    return f"{place}  {part.name}" if part and part.name else place


def check_rows(checks: Sequence[BenchCheck], width: int) -> tuple[Row, ...]:
    """The checks, best first: what to do, where, what to expect, and the caution."""
    if not checks:
        return wrapped("No bench check is proposed for this suspect.", width, "quiet")
    rows: list[Row] = []
    for count, check in enumerate(checks, 1):
        power: Span = ("POWER ON", "alert") if check.power else ("power off", "strong")
        rows += wrapped(check.do, width, "strong", indent="   ", first=f"{count}. ")
        points = " and ".join(filter(None, check.points))
        rows.append((("   ", "plain"), power, (f"  about {check.cost:g} min", "quiet")))
        rows += wrapped(f"between {points}", width, indent="   ") if points else ()
        rows += wrapped(f"expect: {check.expect}", width, indent="   ")
        rows += wrapped(check.caution, width, "alert", indent="   ", first="   ! ")
        rows.append(row())
    return tuple(rows)


def _place_of(fault: Fault) -> str:
    if fault.part:
        return fault.part
    if fault.lines:
        return str(fault.lines[0])
    return str(fault.cells[0]) if fault.cells else ""
