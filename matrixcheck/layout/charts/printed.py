"""The chart of a matrix as a manual prints it: what heads its lines, what stands at its crossings."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from matrixcheck.layout.charts.values import in_path_order, path_rank
from matrixcheck.layout.model import Layout, Line, Matrix
from matrixcheck.layout.numbering import is_used

MACHINE = "machine"
_CLASSES = ("Chip", "Driver", "Part", "Plug pin")


class Heads(NamedTuple):
    """A row or column of headings: what they are, and one entry a line."""

    word: str
    entries: tuple[str, ...]


class Crossing(NamedTuple):
    """A place of the grid; `name` is "" where nothing is fitted, `number` where none is printed."""

    number: str
    name: str

    def __str__(self) -> str:
        return f"{self.number} {self.name}".strip()


class Printed(NamedTuple):
    """A chart. `facts` hold of the whole matrix; `top[0]` and `left[0]` are the labels of columns and rows."""

    facts: tuple[tuple[str, str], ...]
    top: tuple[Heads, ...]
    left: tuple[Heads, ...]
    crossings: tuple[tuple[Crossing, ...], ...]


def printed(matrix: Matrix) -> Printed:
    """Return the chart of a matrix."""
    return Printed(
        tuple(_facts(matrix)),
        tuple(_heads("Column", matrix.columns)),
        tuple(_heads("Row", matrix.rows)),
        tuple(
            tuple(_crossing(matrix, row, column, name) for column, name in enumerate(names, 1))
            for row, names in enumerate(matrix.cells, 1)
        ),
    )


def _facts(matrix: Matrix) -> Iterator[tuple[str, str]]:
    yield "matrix", matrix.id
    yield "kind", matrix.kind.value
    if matrix.name:
        yield "name", matrix.name
    yield "numbering", matrix.numbering
    yield "strobe", matrix.strobe
    if matrix.diodes is not None:
        yield "diodes", "yes" if matrix.diodes else "no"
    if matrix.volts is not None:
        yield "volts", quantity(matrix.volts)
    if matrix.supply:
        yield "supply", " ".join(matrix.supply)
    if not matrix.rows_shared:
        yield "rows shared", "no"


def _heads(word: str, lines: Sequence[Line]) -> Iterator[Heads]:
    yield Heads(word, tuple(line.label for line in lines))
    columns: list[tuple[str, Callable[[Line], str]]] = [
        ("Name", lambda line: line.name),
        ("Wire", lambda line: line.wire or ""),
        *_path_columns(lines),
        ("Supply", lambda line: " ".join(line.supply)),
        ("Relay", lambda line: line.select or ""),
        ("When", lambda line: line.when or ""),
    ]
    for heading, of in columns:
        entries = tuple(map(of, lines))
        if any(entries):
            yield Heads(heading, entries)


def _path_columns(lines: Sequence[Line]) -> list[tuple[str, Callable[[Line], str]]]:
    """Return chips, drivers and plugs apart; in one where a path has another order, which would be lost."""
    if any(list(line.path) != in_path_order(list(line.path)) for line in lines):
        return [("Path", lambda line: " ".join(line.path))]

    def of_rank(rank: int) -> Callable[[Line], str]:
        return lambda line: " ".join(ref for ref in line.path if path_rank(ref) == rank)

    return [(word, of_rank(rank)) for rank, word in enumerate(_CLASSES)]


def _crossing(matrix: Matrix, row: int, column: int, name: str) -> Crossing:
    number = matrix.number_at(row, column)
    if not name and matrix.numbering != "listed":
        return Crossing("", "")
    return Crossing("" if number is None or not is_used(number) else str(number), name)


def quantity(value: float) -> str:
    """Return a quantity so that it reads back the same, whole ones without a point."""
    return repr(value).removesuffix(".0")


def not_held(layout: Layout) -> Iterator[str]:
    """Yield, in words, what a layout says that its chart has no place for."""
    for matrix in layout.matrices:
        lines = [*matrix.columns, *matrix.rows]
        notes = matrix.notes.values()
        found = {
            "the chain of {} line": sum(line.chain is not None for line in lines),
            "the zone of {} cell": sum(note.zone != "" for note in notes),
            "the reach of {} cell": sum(note.reach != "" for note in notes),
            "closed at rest of {} cell": sum(note.rest == "closed" for note in notes),
            "the device of {} cell": sum(note.device is not None for note in notes),
            "what is fitted of {} cell": sum(note.fitted is not None for note in notes),
            "the keep-warm resistor of {} cell": sum(note.keep_warm is not None for note in notes),
            "the ohms of {} cell": sum(note.ohms is not None for note in notes),
            "the order of the test, {} number": len(matrix.walk),
            "the blanks around {} text": sum(text != text.strip() for text in _texts(matrix)),
        }
        for words, count in found.items():
            if count:
                yield f"{matrix.id}: {words.format(count)}{'s' if count > 1 else ''}"
    if layout.parts:
        yield f"the names, places, ratings and rates of {len(layout.parts)} part{'s' if len(layout.parts) > 1 else ''}"
    if layout.checks:
        yield f"{len(layout.checks)} check{'s' if len(layout.checks) > 1 else ''} of the machine's own"
    if layout.name != layout.name.strip():
        yield "the blanks around the machine's name"


def _texts(matrix: Matrix) -> Iterator[str]:
    yield matrix.name
    yield from (name for names in matrix.cells for name in names)
    yield from (text for line in (*matrix.columns, *matrix.rows) for text in (line.label, line.name))
