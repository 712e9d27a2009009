"""What stands above the places of a suspect or a cell: the checks in the order of the work."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from matrixcheck.layout.model import Cell
from matrixcheck.layout.wording import short_words
from matrixcheck.report.outcomes import outcomes_of
from matrixcheck.tui.text.spans import Row, Span, row, wrapped

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import BenchCheck
    from matrixcheck.report.work_list import WorkStep


def suspect_rows(title: str, checks: Sequence[BenchCheck], width: int) -> tuple[Row, ...]:
    """Return the title of a card, and the checks that would decide about it."""
    return (*wrapped(title, width, "title"), row(), *check_rows(checks, width))


def cell_rows(cell: Cell, width: int) -> tuple[Row, ...]:
    """Return what is asked of the places behind a cell."""
    asked = f"{short_words(cell)} works through these, from the device to the logic."
    return (*wrapped(asked, width, "title"), row())


def check_rows(checks: Sequence[BenchCheck], width: int) -> tuple[Row, ...]:
    """Return the checks in the order of the work, by power and set-up.

    Cautions stand above, then what to do and what it shows.
    """
    if not checks:
        return wrapped("No bench check is proposed for this suspect.", width, "quiet")
    # Here and not above: only this screen needs the shapes, which are slow to import.
    from matrixcheck.report.work_list import work_groups  # noqa: PLC0415

    rows: list[Row] = []
    for group in work_groups(checks, {}, {}):
        power: Span = ("POWER ON", "alert") if group.power else ("power off", "strong")
        rows.append((power, (f"  {group.setup}" if group.setup else "", "strong")))
        for caution in group.cautions:
            rows += wrapped(caution, width, "alert", indent="  ", first="! ")
        for step in group.steps:
            rows += _step_rows(step, width)
        rows.append(row())
    return tuple(rows)


def _step_rows(step: WorkStep, width: int) -> Iterator[Row]:
    check = step.check
    head = f"{step.number}. {check.code}, {check.minutes:g} min: {step.do}"
    yield from wrapped(head, width, "strong", indent="   ")
    for caution in step.cautions:
        yield from wrapped(caution, width, "alert", indent="     ", first="   ! ")
    yield from wrapped(f"between {' and '.join(check.points)}", width, indent="   ", first="   ")
    for name, says in (*outcomes_of(check), ("In between", check.between), ("Then", check.then)):
        yield from wrapped(f"{name.lower()}: {says}", width, indent="   ", first="   ") if says else ()
