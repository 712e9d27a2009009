"""What changes mean: the layout that they make of another one, told by its model alone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec

from matrixcheck.layout.edit.keys import Change, MatrixKey, Owner, PartKey
from matrixcheck.layout.model import Layout, Matrix
from matrixcheck.layout.numbering import Number, is_used
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.raw import Table


def with_changes(layout: Layout, changes: Sequence[Change]) -> Layout:
    """Return the layout with other values. Raises msgspec.ValidationError for values of a wrong type."""
    data = plain(layout)
    for matrix in layout.matrices:
        _renumber(data["matrix"][layout.matrix_ids.index(matrix.id)], matrix, numbers_in(changes, matrix))
    for owner, field, value in ((*change.key, change.value) for change in in_order(changes)):
        if isinstance(owner, CellKey) and field == "name":
            _name(_matrix(data, owner.matrix), owner, value)
        elif field != "number" and not (value is None and _is_new_part(data, owner)):
            _put(_table(data, owner), field, value)
    for matrix_data in data["matrix"]:
        for side in ("column", "row"):
            for place, line in enumerate(matrix_data.get(side, ()), 1):
                line.setdefault("label", str(place))
    return msgspec.convert(data, type=Layout)


def same(one: Layout, other: Layout) -> bool:
    """Return whether two layouts say the same; notes that say nothing are none."""
    return plain(one) == plain(other)


def plain(layout: Layout) -> Table:
    """Return a layout as data, with the keys of its file, without what says nothing."""
    data: Table = msgspec.json.decode(msgspec.json.encode(layout))
    for matrix in data["matrix"]:
        notes = {number: note for number, note in matrix.pop("cell", {}).items() if note}
        if notes:
            matrix["cell"] = notes
    return data


def in_order(changes: Sequence[Change]) -> list[Change]:
    """Return changes as they are made: cells first, as chains are to hold what then is fitted."""
    return sorted(changes, key=lambda change: not isinstance(change.key.owner, CellKey))


def numbers_in(changes: Sequence[Change], matrix: Matrix) -> dict[CellKey, Number]:
    """Return the new numbers that changes give to cells of a matrix; 0 where they take one away."""
    given = {
        owner: change.value or 0
        for change in changes
        if isinstance(owner := change.key.owner, CellKey) and (owner.matrix, change.key.field) == (matrix.id, "number")
    }
    return {key: number for key, number in given.items() if number != matrix.number_at(key.row, key.column)}


def listed(matrix: Matrix, numbers: dict[CellKey, Number]) -> list[list[Number]]:
    """Return the numbers of a matrix, place by place, with new ones put in; an empty place gives way with its own."""
    rows, columns = matrix.size
    taken = set(numbers.values())

    def number_at(row: int, column: int) -> Number:
        key = CellKey(matrix.id, row, column)
        if key in numbers:
            return numbers[key]
        own = matrix.number_at(row, column) or 0
        return own if key in matrix.by_key or own not in taken else 0

    return [[number_at(row, column) for column in range(1, columns + 1)] for row in range(1, rows + 1)]


def renamed(matrix: Matrix, numbers: dict[CellKey, Number]) -> dict[Number, Number]:
    """Return what each number of a fitted cell that gets another becomes."""
    return {matrix.by_key[key].number: number for key, number in numbers.items() if key in matrix.by_key}


def _renumber(data: Table, matrix: Matrix, numbers: dict[CellKey, Number]) -> None:
    if not numbers:
        return
    now = renamed(matrix, numbers)
    given = matrix.numbers if matrix.numbering == "listed" else ()
    data["numbering"] = "listed"
    data["numbers"] = [
        [given[row][column] if given and not is_used(number) else number for column, number in enumerate(found)]
        for row, found in enumerate(listed(matrix, numbers))
    ]
    for order in _orders(data):
        order[:] = [now.get(number, number) for number in order]
    if "cell" in data:
        texts = {str(old): str(new) for old, new in now.items()}
        data["cell"] = {texts.get(number, number): note for number, note in data["cell"].items()}


def _name(data: Table, cell: CellKey, name: str) -> None:
    """Give a cell its name; without one it is no longer fitted, and leaves all that names it by number."""
    data["cells"][cell.row - 1][cell.column - 1] = name
    if name:
        return
    number = _number(data, cell)
    for order in _orders(data):
        order[:] = [each for each in order if each != number]
    for table in (data, *data.get("column", ()), *data.get("row", ())):
        for key in ("walk", "chain"):
            if table.get(key) == []:
                del table[key]
    data.get("cell", {}).pop(str(number), None)


def _orders(data: Table) -> list[list[Number]]:
    tables = (data, *data.get("column", ()), *data.get("row", ()))
    return [table[key] for table in tables for key in ("walk", "chain") if key in table]


def _number(data: Table, cell: CellKey) -> Number | None:
    return msgspec.convert(data, type=Matrix).number_at(cell.row, cell.column)


def _table(data: Table, owner: Owner) -> Table:
    """Return the table that holds an owner's values, made where there is none yet."""
    match owner:
        case CellKey() as cell:
            matrix = _matrix(data, cell.matrix)
            return _made(matrix.setdefault("cell", {}), str(_number(matrix, cell)))
        case LineKey() as line:
            lines: list[Table] = _matrix(data, line.matrix)[line.side]
            return lines[line.place - 1]
        case MatrixKey(name):
            return _matrix(data, name)
        case PartKey(ref):
            parts: list[Table] = data.setdefault("part", [])
            known = next((part for part in parts if part["ref"] == ref), None)
            if known is None:
                known = {"ref": ref}
                parts.append(known)
            return known
    return data


def _is_new_part(data: Table, owner: Owner) -> bool:
    return isinstance(owner, PartKey) and all(part["ref"] != owner.ref for part in data.get("part", ()))


def _made(tables: dict[str, Table], key: str) -> Table:
    return tables.setdefault(key, {})


def _matrix(data: Table, name: str) -> Table:
    found: Table = next(matrix for matrix in data["matrix"] if matrix["id"] == name)
    return found


def _put(table: Table, field: str, value: Any) -> None:
    if value is None:
        table.pop(field, None)
    else:
        table[field] = value
