"""Lay out what people read in a terminal or on plain paper, as rich renderables. None needs colour."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len, set_cell_size
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from matrixcheck.bench import Changed, JobSummary, Kept
from matrixcheck.layout.model import Kind, Layout, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.wording import cell_words, place_words, short_words
from matrixcheck.record.cell_state import Standing
from matrixcheck.record.differences import Difference
from matrixcheck.record.function_lists import FunctionLine, function_counts
from matrixcheck.record.job_state import JobState
from matrixcheck.record.safety_checks import SafetyItem, counts
from matrixcheck.record.summary import WITHOUT_CELL, Coverage, LaterItem, LogLine, kept_without_cell
from matrixcheck.report.cautions import BY_KIND, DEFER
from matrixcheck.report.functions import OUTCOME_WORDS, counted
from matrixcheck.report.glyphs import FILLS, INK, LEGEND, SIGNS_LEGEND
from matrixcheck.report.grids import grid_lines
from matrixcheck.report.later import by_reach
from matrixcheck.report.safety import failed_lines
from matrixcheck.report.words import coverage_words, moment

_CUT = frozenset({1, 3, 8})
"""Columns of the list of jobs whose texts are cut where they don't fit: name, machine, state."""
_LEAST, _SERIAL = 8, 16
_OUTCOME_STATES: Mapping[str, str] = MappingProxyType(
    {
        "failed": "danger",
        "passed": "working",
        "open": "untested",
        "good": "working",
        "faulty": "dead",
        "comes and goes": "wavering",
        "untested": "untested",
    }
)
"""The state that an outcome of a check is coloured as."""


def jobs_table(jobs: Iterable[JobSummary], width: int) -> Text:
    """List the jobs, a line each: how far tested, what fails, what is due for a retest, when last worked on.

    A column in which no job has anything is left out; texts are cut to what fits in `width`.
    """
    heads = ("job", "name", "serial", "machine", "tested", "fails", "due", "worked on", "state")
    rows = [
        (
            *(job.id, job.name, job.serial, job.machine, f"{job.tested} of {job.cells}"),
            *(str(job.failing or ""), str(job.retest_due or ""), moment(job.worked_at)[:10], _job_state(job)),
        )
        for job in jobs
    ]
    shown = [place for place in range(len(heads)) if any(row[place] for row in rows)]
    needed = {place: max(len(heads[place]), *(cell_len(row[place]) for row in rows)) for place in shown}
    if 2 in needed:
        needed[2] = min(needed[2], _SERIAL)
    spare = width - 2 * (len(shown) - 1) - sum(wide for place, wide in needed.items() if place not in _CUT)
    for place in (3, 2):  # The machine goes first, then its serial number, where names would get too short.
        if spare < _LEAST * len(_CUT & {*shown}) and place in shown:
            shown.remove(place)
            spare += 2 + (needed[place] if place not in _CUT else 0)
    cut = [place for place in shown if place in _CUT]
    for count, place in enumerate(sorted(cut, key=needed.__getitem__), 1):
        needed[place] = max(min(needed[place], spare // (len(cut) - count + 1)), len(heads[place]))
        spare -= needed[place]
    lines = [[heads[place] for place in shown], ["─" * needed[place] for place in shown]]
    lines += [[row[place] for place in shown] for row in rows]
    texts = ["  ".join(map(_cut, line, (needed[place] for place in shown))).rstrip() for line in lines]
    return Text("\n", no_wrap=True, overflow="ignore").join(
        Text(text, "bold" if count == 0 else "") for count, text in enumerate(texts)
    )


def _cut(text: str, width: int) -> str:
    return set_cell_size(text, width) if cell_len(text) <= width else f"{set_cell_size(text, width - 1)}…"


def _job_state(job: JobSummary) -> str:
    said = [*job.rounds, f"closed: {job.verdict}" if job.verdict is not None else ""]
    return ", ".join(filter(None, [*said, "archived" if job.archived else ""]))


def changes_table(
    now: JobState,
    then: JobState,
    changes: Sequence[Changed],
    functions: Sequence[tuple[FunctionLine | None, FunctionLine | None]] = (),
) -> Table:
    """List the cells, and the lines of the rest of the test mode, that stand otherwise than at another visit."""
    table = _table("cell", "name", f"{then.id} {then.opened_at:%Y-%m-%d}", f"{now.id} {now.opened_at:%Y-%m-%d}")
    for one in changes:
        cell = one.now.cell
        table.add_row(f"{cell.key.matrix} {cell.number}", _plain(cell.name), _standing(one.then), _standing(one.now))
    for before, after in functions:
        line = after or before
        if line is not None:
            words = [OUTCOME_WORDS[one.outcome] if one else "not on the list" for one in (before, after)]
            table.add_row(line.section, _plain(line.item), *words)
    return table


def differences_table(found: Iterable[Difference]) -> Table:
    """List what differs between two layouts, side by side."""
    table = _table("what", "was", "is now")
    for one in found:
        table.add_row(*map(_plain, one))
    return table


def _standing(standing: Standing) -> Text:
    if standing.normal:
        return Text("glows, normal here")
    if standing.intermittent:
        return _state(f"{standing.mark}, comes and goes", "wavering")
    return _state(str(standing.mark), str(standing.mark))


def job_head(state: JobState, news: str = "") -> Text:
    """Return who and what the job is, a line each; `news` is what became of its layout's file."""
    facts = {
        "job": state.id,
        "name": state.name,
        "machine": state.layout.name,
        "layout": news,
        "serial": state.serial,
        "owner": state.owner,
        "opened": moment(state.opened_at),
        "previous": state.previous,
        "round": ", ".join(f"{one.kind} of {one.matrix}" for one in state.rounds.values()),
        "closed": state.verdict or "",
        "archived": "yes" if state.archived else "",
    }
    lines = [f"{key:<8} {value}" for key, value in facts.items() if value]
    lines += [f"{WITHOUT_CELL}: {place}" for place in kept_without_cell(state)]
    return Text("\n".join((*failed_lines(state.safety), *lines)))


def coverage_table(coverage: Mapping[str, Coverage]) -> Table:
    """Return counts by matrix; what is untested stands in a column of its own."""
    glow = any(count.normal for count in coverage.values())
    marks = ("working", "dead", "stuck", *(["normal glow"] if glow else []), "untested")
    table = _table("matrix", *marks, "test again", "put off", "cells", right=True)
    for name, count in coverage.items():
        figures = (count.working, count.dead, count.stuck, *([count.normal] if glow else []), count.untested)
        states = ("working", "dead", "stuck", *(["normal"] if glow else []), "untested")
        counted_states = (_state(str(one), state if one else "") for one, state in zip(figures, states, strict=True))
        due = _state(str(count.retest_due), "wavering" if count.retest_due else "")
        table.add_row(name, *counted_states, due, str(count.deferred), str(count.total))
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
        what = Text(f"{line.text} [undone since]", "strike dim") if line.withdrawn else Text(line.text)
        table.add_row(str(line.seq), moment(line.at), *([_plain(line.who)] if named else []), what)
    return table


def safety_lines(items: Sequence[SafetyItem]) -> tuple[RenderableType, ...]:
    """List the checks before power with how each stands: failed ones first, then the rest in their order."""
    count = counts(items)
    head = f"{count.open} open, {count.failed} FAILED, {count.passed} passed, {count.waived} waived"
    table = _table("check", "result", "what")
    for one in sorted(items, key=lambda item: item.outcome != "failed"):
        result = "FAILED" if one.outcome == "failed" else one.outcome
        what = one.made.note if one.made else one.about
        table.add_row(_plain(one.item), _state(result, _OUTCOME_STATES.get(one.outcome, "")), _plain(what))
    return Text(head, "bold"), table, Text(DEFER)


def function_table(lines: Sequence[FunctionLine]) -> tuple[RenderableType, ...]:
    """List the rest of the test mode with what came of each line, list by list."""
    table = _table("list", "line", "result", "what")
    before = ""
    for one in lines:
        result = OUTCOME_WORDS[one.outcome]
        what = one.made.note if one.made and one.made.note else one.about
        head, before = one.section if one.section != before else "", one.section
        table.add_row(head, _plain(one.item), _state(result, _OUTCOME_STATES.get(one.outcome, "")), _plain(what))
    return Text(counted(function_counts(lines)), "bold"), table, Text(BY_KIND[Kind.COIL])


def retest_lines(state: JobState, matrix_id: str, cells: Sequence[CellKey]) -> tuple[str, ...]:
    """Return what is due for a retest in a matrix, a line each, and how to record it."""
    standings = [state.standings[key] for key in cells]
    numbers = [str(one.cell.number) for one in standings]
    lines = [f"round of {matrix_id} started over {len(cells)} {'cell' if len(cells) == 1 else 'cells'}"]
    for one in standings:
        work = place_words(state.layout, one.retest_due or "")
        passes = f", {one.passes_left} passes" if one.passes_left > 1 else ""
        lines.append(f"  {short_words(one.cell)}  {work} repaired{passes}")
    others = len(state.due) - len(cells)
    more = (f"{others} more in other matrices",) if others else ()
    return (
        *failed_lines(state.safety),
        *lines,
        f"record with: matrixcheck mark {state.id} {matrix_id} {' '.join(numbers[:3])} ...",
        *more,
    )


def kept_lines(kept: Iterable[Kept], layout: Layout) -> tuple[str, ...]:
    """Return what was recorded just now, a line each."""
    return tuple(_kept(one, layout) for one in kept)


def _kept(one: Kept, layout: Layout) -> str:
    if one.cell is None:
        return f"kept  {one.name}"
    mark = f"{one.mark}, comes and goes" if one.intermittent else str(one.mark)
    stands = mark if one.deferred is None else f"{mark}, put off{one.deferred and ': '}{one.deferred}"
    more = f", {one.passes_left} more passes needed" if one.passes_left > 1 else ""
    more = more or (", one more pass needed" if one.passes_left else "")
    return f"kept  {cell_words(layout, one.cell)}  {stands}{more}"


def _table(*heads: str, right: bool = False) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False, header_style="bold", show_edge=False)
    for place, head in enumerate(heads):
        table.add_column(head, justify="right" if right and place else "left", overflow="fold")
    return table


def _plain(text: str) -> Text:
    return Text(text)


def _state(text: str, state: str) -> Text:
    """Return a text in the colour of a state, where what draws it has colours for states."""
    return Text(text, f"state.{state}" if state else "")
