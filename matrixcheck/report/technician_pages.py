"""Make the technician's pages: grids, what is wrong, checks, repairs, values, what is due or left, what to buy."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TypeVar

from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, parse_cell, parse_line
from matrixcheck.layout.reading import Finding
from matrixcheck.layout.wording import cell_words
from matrixcheck.record.function_lists import FunctionLine, counts_by_list
from matrixcheck.record.job_state import JobState
from matrixcheck.record.safety_checks import SafetyItem
from matrixcheck.record.summary import LaterItem, kept_without_cell
from matrixcheck.report import cautions
from matrixcheck.report.answer_section import answer_section
from matrixcheck.report.counts import Counts
from matrixcheck.report.document import Block, Grid, Grids, Points, Section, Sentence, Table
from matrixcheck.report.drawing.cell_texts import as_found
from matrixcheck.report.drawing.grid_blocks import Caption, is_cut
from matrixcheck.report.functions import OUTCOME_WORDS
from matrixcheck.report.job_facts import JobFacts
from matrixcheck.report.later import UNKNOWN_REACH, by_reach
from matrixcheck.report.measured import due_ohms, judged
from matrixcheck.report.owner_words import capital, place_named
from matrixcheck.report.parts_to_buy import ToBuy, parts_to_buy
from matrixcheck.report.repair_results import RepairResult, findings_made
from matrixcheck.report.safety import OUTCOME_WORDS as SAFETY_WORDS
from matrixcheck.report.safety import safety_rows
from matrixcheck.report.words import moment

K = TypeVar("K")
NAMED = 8
"""Devices that a table names in a line before it counts the rest."""


def technician_pages(facts: JobFacts) -> tuple[Section, ...]:
    """Return the sections; one without anything in it is left out."""
    state, layout = facts.state, facts.state.layout
    waiting = () if state.coils.stop else facts.later
    found = (
        Section("Before you work on it", tuple(_cautions(layout))),
        Section("Grids", (_grids(facts), *_long_names(layout))),
        Section("How far it is tested", (_coverage(layout, facts.counts), Sentence(COUNTED, "quiet"), *_by(state))),
        answer_section(facts.answer),
        _tabled("Checks made", _checks(state)),
        _tabled("Repairs", _repairs(state, facts.repairs)),
        _tabled("Values measured", _values(state)),
        _tabled("To be tested again", _due(state, waiting)),
        _tabled("For later", _later(state, waiting)),
        Section("Kept without a cell", tuple(_without_cell(state))),
        _tabled("Parts to buy", _parts(parts_to_buy(layout, [one.suspect for one in facts.faults]))),
        _tabled("Safety checks", _safety(facts.safety)),
        _tabled("The rest of the test mode", _functions(facts.functions)),
        Section("Notes", tuple(Sentence(f"{moment(note.at)}: {note.text}") for note in state.notes)),
        Section("Photos", (facts.photos,) if facts.photos.pictures else ()),
    )
    return tuple(section for section in found if section.blocks)


COUNTED = "A device counts as working only after it was seen to work. Untested says nothing of it, good or bad."


def _without_cell(state: JobState) -> Iterator[Block]:
    places = kept_without_cell(state)
    if places:
        yield Sentence("The layout was put right. What was recorded of these is kept, and counts no more:")
        yield Points(places)


def _grids(facts: JobFacts) -> Grids:
    return Grids(
        tuple(
            Grid(
                matrix,
                as_found(matrix, facts.state.standings, facts.glowing),
                Caption(capital(matrix.name or matrix.id), f"{facts.counts[matrix.id].says}."),
            )
            for matrix in facts.state.layout.matrices
        )
    )


def _cautions(layout: Layout) -> Iterator[Block]:
    kinds = dict.fromkeys(matrix.kind for matrix in layout.matrices)
    said = (cautions.BEFORE_POWER, cautions.INSIDE, *(cautions.BY_KIND[kind] for kind in kinds), cautions.DEFER)
    yield Sentence(" ".join(said), "quiet")


def _coverage(layout: Layout, counts: Mapping[str, Counts]) -> Table:
    heads = ("", "Working", "Dead", "Stuck", "Glows, no fault", "Untested", "Test again", "Put off", "All")
    rows = tuple((capital(layout.matrix(name).name or name), *map(str, (*count,))) for name, count in counts.items())
    return Table(heads, rows, frozenset(range(1, len(heads))))


def _long_names(layout: Layout) -> Iterator[Block]:
    """Yield the names that a grid has to cut."""
    cells = [cell for matrix in layout.matrices for cell in matrix.fitted if is_cut(cell.name)]
    if cells:
        yield Points(tuple(f"{cell.device} {cell.number}: {cell.name}" for cell in cells))


def _checks(state: JobState) -> Table:
    rows = tuple(
        (
            moment(one.at),
            _place(one.place, state.layout),
            _check(one.finding),
            _result(one.finding),
            one.note,
        )
        for one in findings_made(state)
    )
    return Table(("When", "What", "Check", "Result", "Note"), rows, whole=frozenset({0, 3}))


def _check(finding: Finding) -> str:
    between = f"between {' and '.join(finding.points)}" if finding.points else ""
    return ": ".join(filter(None, (finding.code or finding.check, between)))


def _result(finding: Finding) -> str:
    verdict = {"faulty": "FAULTY", "between": "in between"}.get(finding.verdict, finding.verdict)
    return f"{verdict} ({finding.value})" if finding.value else verdict


def _by(state: JobState) -> Iterator[Block]:
    """Yield who recorded how much, by initials; nothing where nobody gave any."""
    count = Counter(one.initials for one in state.history)
    nobody = count.pop("", 0)
    if count:
        named = [f"{initials} {many}" for initials, many in sorted(count.items())]
        others = [f"without initials {nobody}"] if nobody else []
        yield Sentence(f"Recorded by {', '.join([*named, *others])}.", "quiet")


def _repairs(state: JobState, repairs: Iterable[RepairResult]) -> Table:
    layout, signed = state.layout, {one.seq: one.initials for one in state.history}
    rows = tuple(
        (
            f"{moment(one.repair.at)} {signed.get(one.repair.seq, '')}".rstrip(),
            one.repair.place if one.repair.outside else _place(one.repair.place, layout),
            _was_wrong(one, layout),
            one.done,
            _became(one, layout),
        )
        for one in repairs
    )
    return Table(("When", "What", "What was wrong", "What was done", "What came of it"), rows, whole=frozenset({0}))


def _was_wrong(one: RepairResult, layout: Layout) -> str:
    found = f"found faulty{': ' + one.found.note if one.found.note else ''}" if one.found else ""
    failed = (*one.cured, *one.failing, *one.waiting)
    cells = f"{len(failed)} failed: {_cells(failed, layout)}" if failed else "nothing on its path had failed"
    return "; ".join(filter(None, (found, cells)))


OUTCOMES = {"passed": "retest passed", "failed": "retest FAILED"}


def _became(one: RepairResult, layout: Layout) -> str:
    counts = (
        f"{len(one.cured)} work now" if one.cured else "",
        f"{len(one.failing)} still fail: {_cells(one.failing, layout)}" if one.failing else "",
        f"{len(one.waiting)} to be tested again" if one.waiting else "",
    )
    said = "; ".join(filter(None, (OUTCOMES.get(one.repair.outcome, ""), *counts)))
    return said or ("to be tested again" if one.repair.outcome == "retest due" else "")


def _values(state: JobState) -> Table:
    rows = []
    for matrix in state.layout.matrices:
        for cell in matrix.fitted:
            ohms = state.standings[cell.key].ohms
            if ohms is not None:
                rows.append(
                    (capital(cell_words(state.layout, cell.key)), f"{ohms:g} Ω", due_ohms(cell), judged(cell, ohms))
                )
    return Table(("Device", "Measured", "Due", "Result"), tuple(rows), frozenset({1, 2}))


def _due(state: JobState, later: Iterable[LaterItem]) -> Table:
    due = [item for item in later if state.standings[item.cell].retest_due is not None]
    after = _grouped(due, lambda item: (state.standings[item.cell].retest_due or "", item.reach, _put_off(state, item)))
    rows = tuple(
        (
            _place(place, state.layout),
            str(len(items)),
            _listed([item.cell for item in items], state.layout),
            reach or UNKNOWN_REACH,
            put_off,
        )
        for (place, reach, put_off), items in after.items()
    )
    return Table(("After work on", "Count", "Devices", "Reach", "Note"), rows, frozenset({1}))


def _later(state: JobState, later: Iterable[LaterItem]) -> Table:
    left = [item for item in later if state.standings[item.cell].retest_due is None]
    rows = []
    for reach, items in by_reach(left):
        for why, alike in _grouped(items, lambda item: _put_off(state, item) or "untested").items():
            rows.append((reach, str(len(alike)), _listed([item.cell for item in alike], state.layout), why))
    return Table(("Reach", "Count", "Devices", "Why"), tuple(rows), frozenset({1}), frozenset({0}))


def _put_off(state: JobState, item: LaterItem) -> str:
    deferred = state.standings[item.cell].deferred
    return "" if deferred is None else f"put off{': ' + deferred if deferred else ''}"


def _parts(parts: Iterable[ToBuy]) -> Table:
    rows = tuple(
        (
            "now" if one.sure else "after a check",
            str(len(one.places)),
            one.kind,
            one.rating or "as fitted",
            "; ".join(one.places),
        )
        for one in parts
    )
    return Table(("Buy", "Count", "Part", "Rating", "For"), rows, frozenset({1}), frozenset({0, 2, 3}))


def _safety(items: Sequence[SafetyItem]) -> Table:
    rows = tuple(
        (one.item, SAFETY_WORDS[one.outcome], one.note, moment(one.at) if one.at else "") for one in safety_rows(items)
    )
    return Table(("Check", "Result", "Note", "When"), rows, whole=frozenset({1, 3}))


def _functions(lines: Sequence[FunctionLine]) -> Table:
    """Return a row a line that was tried, and one a list for what wasn't."""
    rows = []
    for section, count in counts_by_list(lines).items():
        for one in lines:
            if one.section == section and one.made:
                result, note = OUTCOME_WORDS[one.outcome], one.made.note
                rows.append((capital(section), one.item, result, note, moment(one.made.at)))
        if count.untested:
            left = ", ".join(one.item for one in lines if one.section == section and not one.made)
            rows.append((capital(section), left, OUTCOME_WORDS["untested"].upper(), "", ""))
    return Table(("List", "Line", "Result", "Note", "When"), tuple(rows), whole=frozenset({0, 2, 4}))


def _tabled(title: str, table: Table) -> Section:
    return Section(title, (table,) if table.rows else ())


def _grouped(items: Iterable[LaterItem], key: Callable[[LaterItem], K]) -> dict[K, list[LaterItem]]:
    found: dict[K, list[LaterItem]] = {}
    for item in items:
        found.setdefault(key(item), []).append(item)
    return found


def _place(place: str, layout: Layout) -> str:
    cell = parse_cell(place, "")
    if cell and cell.matrix in layout.matrix_ids:
        return cell_words(layout, cell)
    named = place_named(place, layout).removeprefix("the ")
    return named if place in named or parse_line(place, "") else f"{place}, {named}"


def _listed(keys: Sequence[CellKey], layout: Layout) -> str:
    """Name all cells, matrix by matrix; a whole matrix of many in a few words."""
    found = []
    for matrix in layout.matrices:
        cells = [key for key in keys if key.matrix == matrix.id]
        if len(cells) == len(matrix.fitted) > NAMED:
            found.append(f"all {len(cells)} of the {matrix.name or matrix.id}")
        elif cells:
            found.append(_cells(cells, layout, len(cells)))
    return "; ".join(found)


def _cells(keys: Sequence[CellKey], layout: Layout, most: int = NAMED) -> str:
    """Name cells matrix by matrix, by number and name; what is beyond `most` is counted."""
    pieces: dict[str, list[str]] = {}
    for key in keys[:most]:
        device, number, name = cell_words(layout, key).partition(f"{layout.cell(key).number} (")
        pieces.setdefault(device, []).append(f"{number}{name}")
    said = "; ".join(f"{device}{', '.join(cells)}" for device, cells in pieces.items())
    return f"{said} and {len(keys) - most} more" if len(keys) > most else said
