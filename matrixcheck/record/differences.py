"""What differs for a job between the layout that it had and the one that it has now, side by side."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from msgspec import Struct

from matrixcheck.layout.model import Cell, CellNotes, Layout, Line, Matrix, Part
from matrixcheck.layout.numbering import natural_order
from matrixcheck.layout.places import CellKey, LineKey, parse_cell, parse_line
from matrixcheck.layout.wording import cell_words, line_words
from matrixcheck.record.job_state import JobState
from matrixcheck.record.summary import MANNER_WORDS, ROUND_WORDS, WITHOUT_CELL, kept_without_cell
from matrixcheck.record.versions import layouts_of

MOST_SAID = 3
"""Differences that a line of the history names before it only counts the rest."""
LONGEST_VALUE = 60
_OF_MATRIX = (
    "kind", "name", "numbering", "strobe", "diodes", "volts", "supply", "rows_shared", "walk",
)  # fmt: skip


class Difference(NamedTuple):
    """One thing that differs: what it is of, how it was, how it is now; "" where it wasn't there, or is no more."""

    what: str
    before: str
    now: str

    def __str__(self) -> str:
        return f"{self.what}: {self.before or 'none'} -> {self.now or 'none'}"


def differences(before: JobState, after: JobState) -> tuple[Difference, ...]:
    """List what a relayout changes, cells first; `after` is the job's state with it."""
    places = _same_places(before, after)
    return tuple(
        difference
        for found in (
            _cells(before, after, places),
            _lines(before.layout, after.layout, places),
            _matrices(before.layout, after.layout, places),
            _parts(before.layout, after.layout),
            _rest(before, after),
        )
        for difference in found
    )


def said(found: tuple[Difference, ...]) -> str:
    """Return differences in a line for the history: the first of them, and how many more there are."""
    more = f" and {len(found) - MOST_SAID} more" if len(found) > MOST_SAID else ""
    return "; ".join(map(str, found[:MOST_SAID])) + more if found else "nothing differs"


def _same_places(before: JobState, after: JobState) -> dict[str, str]:
    """Return what each place of the layout before is now, where it still is one."""
    was, now = (layouts_of(state.everything).now.who for state in (before, after))
    places = {who: place for place, who in now.items()}
    return {place: places[who] for place, who in was.items() if who in places}


def _cells(before: JobState, after: JobState, places: Mapping[str, str]) -> Iterator[Difference]:
    old, new = before.layout, after.layout
    known: set[CellKey] = set()
    for cell in (cell for matrix in old.matrices for cell in matrix.fitted):
        key = parse_cell(places.get(str(cell.key), ""), "")
        now = None if key is None or key not in after.standings else new.cell(key)
        words = cell_words(old, cell.key)
        if now is None:
            kept = len(before.standings[cell.key].seen)
            yield Difference(words, "fitted", f"gone{f', {WITHOUT_CELL}: {kept}' if kept else ''}")
            continue
        known.add(now.key)
        yield from _of_cell(words, cell, now)
    for cell in (cell for matrix in new.matrices for cell in matrix.fitted if cell.key not in known):
        kept = len(after.standings[cell.key].seen)
        back = f"back with {kept}" if kept else "new"
        yield Difference(cell_words(new, cell.key), "", f"{back}, at {cell.key.address}")


def _of_cell(words: str, cell: Cell, now: Cell) -> Iterator[Difference]:
    words = words.partition(" (")[0]
    yield from _fields(words, cell, now, ("number", "name"))
    if cell.key[1:] != now.key[1:]:
        yield Difference(f"{words} place", cell.key.address, now.key.address)
    yield from _fields(words, cell.notes, now.notes, CellNotes.__struct_fields__)


def _lines(old: Layout, new: Layout, places: Mapping[str, str]) -> Iterator[Difference]:
    known: set[LineKey] = set()
    for matrix in old.matrices:
        for key, line in matrix.lines.items():
            its = parse_line(places.get(str(key), ""), "")
            now = None if its is None else new.matrix(its.matrix).lines.get(its)
            if its is None or now is None:
                yield Difference(line_words(old, key), "there", "gone")
                continue
            known.add(its)
            yield from _fields(line_words(old, key), line, now, Line.__struct_fields__)
    for matrix in new.matrices:
        yield from (Difference(line_words(new, key), "", "new") for key in matrix.lines if key not in known)


def _matrices(old: Layout, new: Layout, places: Mapping[str, str]) -> Iterator[Difference]:
    if old.name != new.name:
        yield Difference("machine", old.name, new.name)
    for matrix in old.matrices:
        name = places.get(matrix.id)
        if name is None:
            yield Difference(matrix.id, "there", "gone")
            continue
        if name != matrix.id:
            yield Difference(matrix.id, matrix.id, name)
        now = new.matrix(name)
        if now.size != matrix.size:
            yield Difference(f"{matrix.id} size", _size(matrix), _size(now))
        yield from _fields(matrix.id, matrix, now, _OF_MATRIX)
    yield from (Difference(name, "", "new") for name in new.matrix_ids if name not in places.values())


def _size(matrix: Matrix) -> str:
    rows, columns = matrix.size
    return f"{columns} x {rows}"


def _parts(old: Layout, new: Layout) -> Iterator[Difference]:
    for ref in sorted({*old.part_by_ref, *new.part_by_ref}, key=natural_order):
        one, other = (layout.part_by_ref.get(ref, Part(ref=ref)) for layout in (old, new))
        yield from _fields(ref, one, other, ("name", "place", "rating", "rate"))
    if old.checks != new.checks:
        yield Difference("checks of its own", f"{len(old.checks)}", f"{len(new.checks)}")


def _rest(before: JobState, after: JobState) -> Iterator[Difference]:
    """Yield what becomes of open rounds, and of what has no cell any more."""
    for client, one in before.rounds.items():
        if client not in after.rounds:
            words = f"{MANNER_WORDS[one.manner]}{ROUND_WORDS[one.kind]} of {one.matrix}"
            yield Difference(words, f"open{f' at {client}' if client else ''}", "ends")
    was = set(kept_without_cell(before))
    for words in kept_without_cell(after):
        if words not in was:
            yield Difference(words.partition(": ")[0], words.partition(": ")[2], WITHOUT_CELL)


def _fields(words: str, one: Struct, other: Struct, fields: tuple[str, ...]) -> Iterator[Difference]:
    for field in fields:
        before, now = getattr(one, field), getattr(other, field)
        if before != now:
            yield Difference(f"{words} {field.replace('_', ' ')}", value_words(before), value_words(now))


def value_words(value: Any) -> str:
    """Return a value of a layout in a few words."""
    match value:
        case None | "" | ():
            return ""
        case bool():
            return "yes" if value else "no"
        case tuple():
            text = " ".join(map(str, value))
        case Struct():
            text = " ".join(f"{getattr(value, field):g} {field}" for field in value.__struct_fields__)
        case _:
            text = str(value)
    return text if len(text) <= LONGEST_VALUE else f"{text[: LONGEST_VALUE - 3]}..."
