"""Changes made in the text of a layout file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import tomlkit
from tomlkit.items import AoT, Array, InlineTable, Table

from matrixcheck.layout.charts.writing import grid_lines
from matrixcheck.layout.edit.keys import Change, Key, MatrixKey, PartKey
from matrixcheck.layout.edit.meaning import in_order, listed, numbers_in, renamed
from matrixcheck.layout.edit.tables import (
    append,
    append_to,
    body_of,
    indent_of,
    insert,
    new_table,
    put,
    rename,
    take,
)  # fmt: skip
from matrixcheck.layout.edit.together import put_together
from matrixcheck.layout.model import Layout, Matrix
from matrixcheck.layout.numbering import Number, parse_number
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.raw import Grid, number_in
from matrixcheck.layout.shorthand import SIDES


def edited_text(text: str, layout: Layout, changes: Sequence[Change]) -> str:
    """Return the text of a layout's file with changes made in it, one after the other.

    Raises what tomlkit and Python raise of a text that is laid out in a way that can't be changed like this.
    """
    for matrix in layout.matrices:
        numbers = numbers_in(changes, matrix)
        if numbers:
            document = tomlkit.parse(text)
            _renumber(_matrix(document, matrix.id), matrix, numbers)
            text = tomlkit.dumps(document)
    for key, value in in_order(changes):
        if key.field != "number":
            document = tomlkit.parse(text)
            _change(document, key, value)
            text = tomlkit.dumps(document)
    return text


def _change(document: tomlkit.TOMLDocument, key: Key, value: Any) -> None:
    match key.owner:
        case CellKey() as cell:
            matrix = _matrix(document, cell.matrix)
            if key.field == "name":
                _name(matrix, cell, value or "")
            else:
                _note(matrix, cell, key.field, value)
        case LineKey() as line:
            _line(_matrix(document, line.matrix), line, key.field, value)
        case MatrixKey(name):
            put(_matrix(document, name), key.field, value)
        case PartKey(ref):
            _part(document, ref, key.field, value)
        case None:
            put(document, key.field, value)


def _matrix(document: tomlkit.TOMLDocument, name: str) -> Table | InlineTable:
    found: Table | InlineTable = next(matrix for matrix in document["matrix"] if matrix["id"] == name)
    return found


def _part(document: tomlkit.TOMLDocument, ref: str, field: str, value: Any) -> None:
    parts = document.get("part")
    known = next((part for part in parts or () if part["ref"] == ref), None)
    if known is not None:
        put(known, field, value)
    elif value is None:
        return
    elif isinstance(parts, AoT):
        append_to(parts, {"ref": ref, field: value}, "")
    elif parts is not None:
        parts.append(tomlkit.inline_table().append("ref", ref).append(field, value))
    else:
        insert(body_of(document), *new_table("[[part]]", {"ref": ref, field: value}, ""))


def _line(matrix: Table | InlineTable, line: LineKey, field: str, value: Any) -> None:
    rows, columns = _size(matrix)
    count = columns if line.side == "column" else rows
    lines = matrix.get(line.side)
    if lines is None:
        if value is not None:
            _new_lines(matrix, line, count, field, value)
    elif isinstance(lines, AoT | Array):
        while len(lines) < line.place:
            if isinstance(lines, Array):
                lines.append(tomlkit.inline_table())
            else:
                append_to(lines, {}, indent_of(lines.body[-1]))
        put(lines.body[line.place - 1] if isinstance(lines, AoT) else lines[line.place - 1], field, value)
    else:
        put_together(lines, count, line.place - 1, field, value)


def _new_lines(matrix: Table | InlineTable, line: LineKey, count: int, field: str, value: Any) -> None:
    """Begin the lines of a side, given together, with one value."""
    scratch = tomlkit.inline_table()
    put_together(scratch, count, line.place - 1, field, value)
    if isinstance(matrix, InlineTable):
        matrix.append(line.side, scratch)
    else:
        indent = indent_of(matrix) + "  "
        insert(body_of(matrix), *new_table(f"[{line.side}]", scratch.unwrap(), indent))


def _note(matrix: Table | InlineTable, cell: CellKey, field: str, value: Any) -> None:
    number = _number(matrix, cell)
    notes = matrix.get("cell")
    if notes is None:
        if value is not None:
            _new_notes(matrix, str(number), {field: value})
        return
    known = next((key for key in notes if parse_number(key) == number), None)
    if known is not None:
        put(notes[known], field, value)
        if isinstance(notes[known], InlineTable) and not notes[known]:
            take(notes, known)
    elif value is not None and _has_headers(notes):
        key, table = new_table(f"[{number}]", {field: value}, indent_of(next(iter(notes.values()))))
        append(body_of(notes), key, table)
    elif value is not None:
        put(notes, str(number), {field: value})


def _has_headers(notes: Table | InlineTable) -> bool:
    """Return whether cells have tables of their own, under `[matrix.cell.12]`."""
    return any(isinstance(note, Table) and key is not None and not key.is_dotted() for key, note in body_of(notes))


def _new_notes(matrix: Table | InlineTable, number: str, note: dict[str, Any]) -> None:
    if isinstance(matrix, InlineTable):
        put(matrix, "cell", {number: note})
        return
    key, table = new_table("[cell]", {number: note}, indent_of(matrix) + "  ")
    append(body_of(matrix), key, table)


def _name(matrix: Table | InlineTable, cell: CellKey, name: str) -> None:
    """Give a cell its name; without one it is no longer fitted, and leaves all that names it by number."""
    number = _number(matrix, cell)
    matrix["cells"][cell.row - 1][cell.column - 1] = name
    if name:
        return
    _reorder(matrix, lambda order: [each for each in order if number_in(each) != number])
    notes = matrix.get("cell", {})
    for key in [key for key in notes if parse_number(key) == number]:
        take(notes, key)


def _renumber(matrix: Table | InlineTable, model: Matrix, numbers: dict[CellKey, Number]) -> None:
    now = renamed(model, numbers)
    _reorder(matrix, lambda order: [now.get(number_in(each) or "", each) for each in order])
    notes = matrix.get("cell")
    if notes is not None:
        rename(notes, {key: str(now[number]) for key in notes if (number := parse_number(key)) in now})
    if model.numbering == "listed":
        for cell, number in numbers.items():
            matrix["numbers"][cell.row - 1][cell.column - 1] = number
        return
    grid = "\n".join(grid_lines("numbers", listed(model, numbers))).removeprefix("numbers = ")
    put(matrix, "numbering", "listed")
    put(matrix, "numbers", tomlkit.value(grid))


def _reorder(matrix: Table | InlineTable, change: Callable[[list[Any]], list[Any]]) -> None:
    """Change every list of cell numbers in a matrix: its walk, and the chains of its lines."""
    if "walk" in matrix:
        put(matrix, "walk", change(matrix["walk"].unwrap()) or None)
    for side in SIDES:
        lines = matrix.get(side, ())
        if isinstance(lines, Table | InlineTable):
            if "chain" in lines:
                put(lines, "chain", [change(order) for order in lines["chain"].unwrap()])
            continue
        for line in lines:
            if "chain" in line:
                put(line, "chain", change(line["chain"].unwrap()) or None)


def _number(matrix: Table | InlineTable, cell: CellKey) -> Number | None:
    """Return the number at a place, fitted or not."""
    grid = Grid.of(matrix.unwrap())
    place = (cell.row - 1, cell.column - 1)
    return next((number for number, found in grid.place_of.items() if found == place), None) if grid else None


def _size(matrix: Table | InlineTable) -> tuple[int, int]:
    return len(matrix["cells"]), len(matrix["cells"][0])
