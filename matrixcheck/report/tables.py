"""Lay out what people read in a terminal or on plain paper, as rich renderables. None needs colour."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from rich.box import SIMPLE_HEAD
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from matrixcheck.bench import JobSummary, Kept
from matrixcheck.layout.model import Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.record.cell_state import Standing
from matrixcheck.record.job_state import JobState
from matrixcheck.record.summary import Coverage, LaterItem, LogLine
from matrixcheck.report.glyphs import FILLS, INK, LEGEND, SIGNS_LEGEND
from matrixcheck.report.grids import grid_lines
from matrixcheck.report.later import by_reach
from matrixcheck.report.words import coverage_words, moment


def jobs_table(jobs: Iterable[JobSummary]) -> Table:
    """List the jobs, one line each, with how many of the machine's cells are tested."""
    table = _table("job", "name", "serial", "machine", "opened", "tested")
    for job in jobs:
        cells = sum(count.total for count in job.coverage.values())
        tested = f"{cells - sum(count.untested for count in job.coverage.values())} of {cells}"
        table.add_row(job.id, _plain(job.name), _plain(job.serial), _plain(job.machine), moment(job.opened_at), tested)
    return table


def job_head(state: JobState) -> Text:
    """Return who and what the job is, a line each."""
    facts = {
        "job": state.id,
        "name": state.name,
        "machine": state.layout.name,
        "serial": state.serial,
        "owner": state.owner,
        "opened": moment(state.opened_at),
        "round": ", ".join(f"{one.kind} of {one.matrix}" for one in state.rounds.values()),
    }
    return Text("\n".join(f"{key:<8} {value}" for key, value in facts.items() if value))


def coverage_table(coverage: Mapping[str, Coverage]) -> Table:
    """Return counts by matrix; what is untested stands in a column of its own."""
    table = _table("matrix", "working", "dead", "stuck", "untested", "test again", "put off", "cells", right=True)
    for name, count in coverage.items():
        figures = (count.working, count.dead, count.stuck, count.untested)
        table.add_row(name, *map(str, (*figures, count.retest_due, count.deferred, count.total)))
    return table


def grid(matrix: Matrix, standings: Mapping[CellKey, Standing], coverage: Coverage, width: int) -> Text:
    """Return one matrix, its heading first, no line longer than `width`."""
    text = Text(no_wrap=True, overflow="ignore")
    rows, columns = matrix.size
    what = matrix.name or f"{matrix.kind} matrix"
    title = f"{matrix.id} · {what}, {rows} by {columns}: {coverage_words(coverage)}"
    text.append(f"{title}\n", "bold")
    for line in grid_lines(matrix, standings, width):
        for span in line:
            fill = span.mark and FILLS[span.mark]
            text.append(span.text, f"{INK} on {fill}" if fill else None)
        text.rstrip()
        text.append("\n")
    return text


def legend() -> Text:
    """Return what glyphs, letters and signs of a grid mean."""
    return Text(f"{LEGEND}\n{SIGNS_LEGEND}")


def later(items: Iterable[LaterItem]) -> RenderableType:
    """Return the later list by what must be done to get at the cells."""
    groups = by_reach(items)
    if not groups:
        return Text("Nothing is left for later: every cell is tested.")
    parts: list[RenderableType] = []
    for group in groups:
        count = len(group.items)
        parts.append(Text(f"{group.reach} · {count} {'cell' if count == 1 else 'cells'}", "bold"))
        table = Table(box=None, show_header=False, padding=(0, 2, 0, 0), pad_edge=False)
        for item in group.items:
            table.add_row(
                item.cell.matrix, Text(str(item.number), justify="right"), _plain(item.name), _plain(item.reason)
            )
        parts.append(Padding(table, (0, 0, 0, 2)))
    return Group(*parts)


def log_table(lines: Iterable[LogLine]) -> Table:
    """Return the job's history, oldest first; what an undo took back says so."""
    events = tuple(lines)
    named = any(line.who for line in events)
    table = _table("event", "when", *(["who"] if named else []), "what")
    for line in events:
        what = Text(f"{line.text} [undone since]" if line.withdrawn else line.text, "strike" if line.withdrawn else "")
        table.add_row(str(line.seq), moment(line.at), *([_plain(line.who)] if named else []), what)
    return table


def retest_lines(state: JobState, matrix_id: str, cells: Sequence[CellKey]) -> tuple[str, ...]:
    """Return what is due for a retest in a matrix, a line each, and how to record it."""
    standings = [state.standings[key] for key in cells]
    numbers = [str(one.cell.number) for one in standings]
    lines = [f"round of {matrix_id} started over {len(cells)} {'cell' if len(cells) == 1 else 'cells'}"]
    for one in standings:
        passes = f", {one.passes_left} passes" if one.passes_left > 1 else ""
        lines.append(f"  {one.cell.number} {one.cell.name}  {one.retest_due} repaired{passes}")
    others = len(state.due) - len(cells)
    more = (f"{others} more in other matrices",) if others else ()
    return (*lines, f"record with: matrixcheck mark {state.id} {matrix_id} {' '.join(numbers[:3])} ...", *more)


def kept_lines(kept: Iterable[Kept]) -> tuple[str, ...]:
    """Return what was recorded just now, a line each."""
    return tuple(map(_kept, kept))


def _kept(one: Kept) -> str:
    if one.cell is None:
        return f"kept  {one.name}"
    stands = one.mark if one.deferred is None else f"{one.mark}, put off{one.deferred and ': '}{one.deferred}"
    more = f", {one.passes_left} more passes needed" if one.passes_left > 1 else ""
    more = more or (", one more pass needed" if one.passes_left else "")
    return f"kept  {one.cell.matrix} {one.number} {one.name}  {stands}{more}"


def _table(*heads: str, right: bool = False) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False, header_style="bold", show_edge=False)
    for place, head in enumerate(heads):
        table.add_column(head, justify="right" if right and place else "left", overflow="fold")
    return table


def _plain(text: str) -> Text:
    return Text(text)
