"""What changed since another visit of the machine, side by side."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.bench import Changed
from matrixcheck.layout.reading import Mark
from matrixcheck.record.cell_state import Standing
from matrixcheck.record.function_lists import changed_functions, function_lists
from matrixcheck.record.job_state import JobState
from matrixcheck.report.functions import OUTCOME_WORDS
from matrixcheck.report.glyphs import GLYPHS, INTERMITTENT
from matrixcheck.tui.text.spans import Row, Span, clipped, row

COLUMN = 12


def comparison_rows(then: JobState, now: JobState, changes: Sequence[Changed], width: int) -> tuple[Row, ...]:
    """Return what stands otherwise: its name, how it stood and how it stands.

    These are the cells, by matrix, and the lines of the rest of the test mode.
    """
    lines = changed_functions(function_lists(now), function_lists(then))
    if not (changes or lines):
        return (row("Nothing changed.", "strong"),)
    room = max(width - 2 * (COLUMN + 1), 8)
    rows: list[Row] = [row(f"{'':<{room}} {then.opened_at:%d %b %Y} {now.opened_at:%d %b %Y}", "quiet")]
    for matrix_id in now.layout.matrix_ids:
        changed = [one for one in changes if one.now.cell.key.matrix == matrix_id]
        if changed:
            rows.append(row(f"{matrix_id}: {len(changed)} changed", "title"))
            rows += [_line(one, room) for one in changed]
    for before, after in lines:
        line = after or before
        if line is not None:
            name = clipped(f"{line.section}: {line.item}", room)
            was, is_now = (OUTCOME_WORDS[one.outcome] if one else "not listed" for one in (before, after))
            rows.append(((f"{name:<{room}} ", "plain"), (f"{was:<{COLUMN}} {is_now}", "strong")))
    return tuple(rows)


def _line(one: Changed, room: int) -> Row:
    cell = one.now.cell
    name = clipped(f"{cell.number} {cell.name}", room)
    return ((f"{name:<{room}} ", "plain"), _stands(one.then), (" ", "plain"), _stands(one.now))


def _stands(standing: Standing) -> Span:
    words = f"{INTERMITTENT} unsteady" if standing.intermittent else f"{GLYPHS[standing.mark]} {standing.mark}"
    return f"{words:<{COLUMN}}", "quiet" if standing.mark is Mark.UNTESTED else "strong"
