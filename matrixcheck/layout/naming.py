"""Find the part, line or cell that a person means, by any name that the program itself writes it with.

A part is a designator, in either case, with or without its kind before it (`k2`, `fuse F7`, `contact X5-3`). A line is
`switches.c3`, `c3`, `column 3` or `switch column 3`, with or without `wire` behind it. A cell is `switches.r1c3`,
`r1c3`, `switches.9`, `lamp 21`, `21`, `lamp 21 (red star)` or `lamp 21 of insert lamps`, or its name alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from matrixcheck.errors import UsageError
from matrixcheck.layout.designators import nearest_ref
from matrixcheck.layout.model import Cell, Kind, Layout, Matrix
from matrixcheck.layout.places import CellKey, LineKey, parse_cell, parse_line
from matrixcheck.layout.problems import nearest, shown

Names = dict[str, dict[str, None]]
"""The places, as the record keeps them, by what they are called."""

_PART_KINDS = re.compile(
    r"(?:part|plug|connector|contact|fuse|relay|chip pin|chip|integrated circuit|transistor|driver|resistor|diode|"
    r"inductor|switch|lamp) (?=[a-z]{1,2}[^a-z0-9]*[0-9])"
)
_OF_LINE = re.compile(r"(?:the )?(?:driver|input|feed|first wire|wire|plug contact) of ")
"""What of a line may stand before it. Without a designator it goes by its line."""
_MOST_NAMED = 4


def place_named(text: str, layout: Layout) -> str:
    """Return the place that is meant, as the record keeps it: `Q3`, `X5-4`, `switches.c3` or `switches.r1c3`.

    Raises UsageError for none, and where it could be several.
    """
    wanted = _plain(text)
    ref = nearest_ref(_PART_KINDS.sub("", wanted))
    if ref is not None and (ref in layout.lines_through or ref in layout.part_by_ref):
        return ref
    line = _OF_LINE.sub("", wanted).removesuffix(" wire")
    exact, usual, loose = layout.once(_names)
    for names in (exact, usual, loose):
        found = list(names.get(wanted, ()) or names.get(line, ()))
        if len(found) > 1:
            more = ", ..." if len(found) > _MOST_NAMED else ""
            raise UsageError(
                f"{shown(text)} could be {', '.join(found[:_MOST_NAMED])}{more}",
                f"name it with its matrix, as in {found[0]}",
            )
        if found:
            return found[0]
    raise _unknown(text, layout)


def cells_named(text: str, matrix: Matrix, layout: Layout) -> tuple[CellKey, ...]:
    """Return the fitted cells of a matrix that a name stands for: a cell, or those of a line.

    Raises UsageError for a part, and for a place of another matrix.
    """
    place = place_named(text, layout)
    cell, line = parse_cell(place, ""), parse_line(place, "")
    if (cell or line) is None:
        raise UsageError(f"{shown(text)} is a part, not a cell", f"name cells of {matrix.id}")
    found = tuple(one.key for one in matrix.fitted if one.key == cell or line in (one.row_line, one.column_line))
    if not found:
        raise UsageError(f"{shown(text)} is not a cell of {matrix.id}", f"name cells of {matrix.id}")
    return found


def _unknown(text: str, layout: Layout) -> UsageError:
    written = text.strip()
    if parse_cell(written.lower(), "") or parse_line(written.lower(), ""):
        return UsageError(
            f"'{layout.name}' has no {shown(text)}",
            "name a fitted cell or a line, as in 'switch column 3'",
        )
    known = {*layout.lines_through, *layout.part_by_ref}
    near = nearest(written, known) or nearest(_plain(text), {**layout.once(_names)[1], **layout.once(_names)[2]})
    hint = f"did you mean {near}?" if near else "name a part, a line or a cell of the layout"
    return UsageError(f"'{layout.name}' has no part {shown(text)}", hint)


def _plain(text: str) -> str:
    """Return the text in small letters, single blanks, without the brackets around a cell's name."""
    return " ".join(re.sub(r"[()]", " ", text).casefold().split())


def _names(layout: Layout) -> tuple[Names, Names, Names]:
    """Return the names of a layout's lines and cells: the exact ones, the usual ones, and those that mean one by luck.

    A name that means several places is looked up in the first of the three that has it.
    """
    exact: Names = {}
    usual: Names = {}
    loose: Names = {}
    for matrix in layout.matrices:
        for key in matrix.lines:
            exact.setdefault(str(key).casefold(), {})[str(key)] = None
            for into, name in _line_names(matrix, key):
                (usual if into else loose).setdefault(_plain(name), {})[str(key)] = None
        for cell in matrix.fitted:
            place = str(cell.key)
            for name in (place, f"{matrix.id}.{cell.number}"):
                exact.setdefault(name.casefold(), {})[place] = None
            for into, name in _cell_names(matrix, cell):
                (usual if into else loose).setdefault(_plain(name), {})[place] = None
    return exact, usual, loose


def _line_names(matrix: Matrix, key: LineKey) -> Iterator[tuple[bool, str]]:
    """Yield names of a line, and whether it is what the program usually writes."""
    line = matrix.lines[key]
    labels = [line.label] if line.label else []
    nouns = [f"{matrix.id} {key.side}", f"{matrix.name} {key.side}", f"{matrix.kind} {key.side}"]
    if not matrix.rows_shared:
        nouns = [_apart(matrix, key), *nouns[:2]]
    for noun in nouns:
        for label in labels:
            yield True, f"{noun} {label}"
        yield False, f"{noun} {key.place}"
    for label in labels:
        yield matrix.rows_shared, f"{key.side} {label}"
    yield False, f"{key.side} {key.place}"
    yield matrix.rows_shared, key.address
    if line.name:
        yield True, line.name


def _apart(matrix: Matrix, key: LineKey) -> str:
    """Return what a line is called where rows are not shared: direct inputs, and strings of lamps or coils."""
    if matrix.kind is Kind.SWITCH:
        return "direct input" if key.side == "row" else "direct input column"
    return "lighting string" if matrix.kind is Kind.LAMP else "coil string"


def _cell_names(matrix: Matrix, cell: Cell) -> Iterator[tuple[bool, str]]:
    """Yield names of a cell, and whether it is what the program usually writes."""
    apart = {"switch": "direct input", "lamp": "lighting lamp"}.get(cell.device)
    device = cell.device if matrix.rows_shared or apart is None else apart
    for noun in (device, matrix.id, f"{matrix.id} cell", matrix.name):
        yield True, f"{noun} {cell.number}"
        yield True, f"{noun} {cell.number} {cell.name}"
    for whose in (matrix.id, matrix.name):
        yield True, f"{device} {cell.number} of {whose}"
        yield True, f"{device} {cell.number} of {whose} {cell.name}"
    for noun in (cell.device, str(matrix.kind)):
        yield False, f"{noun} {cell.number}"
        yield False, f"{noun} {cell.number} {cell.name}"
    yield matrix.rows_shared, cell.key.address
    yield True, f"{cell.number} {cell.name}"
    yield False, str(cell.number)
    yield False, cell.name
