"""What of a layout can be changed by itself, how it is named, and how its value is typed."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from matrixcheck.errors import UsageError
from matrixcheck.layout import model
from matrixcheck.layout.model import Layout, Matrix
from matrixcheck.layout.naming import place_named
from matrixcheck.layout.numbering import Number, parse_number
from matrixcheck.layout.places import CellKey, LineKey, parse_cell, parse_line
from matrixcheck.layout.problems import nearest, shown
from matrixcheck.layout.wording import either, line_words

LAYOUT_FIELDS = ("name",)
MATRIX_FIELDS = (
    "kind", "name", "numbering", "strobe", "diodes", "volts", "supply", "rows_shared", "walk",
)  # fmt: skip
PART_FIELDS = ("name", "place", "rating", "rate")
LINE_FIELDS = model.Line.__struct_fields__
NOTE_FIELDS = model.CellNotes.__struct_fields__
CELL_FIELDS = ("name", "number", *NOTE_FIELDS)


class MatrixKey(NamedTuple):
    """A matrix as a whole, by its id."""

    id: str


class PartKey(NamedTuple):
    """A part or a contact, by its designator."""

    ref: str


Owner = CellKey | LineKey | MatrixKey | PartKey | None
"""What a value belongs to; None is the layout itself. A cell's place need not be fitted yet."""


class Key(NamedTuple):
    """One value of a layout: a field of a cell, a line, a part, a matrix, or of the layout itself."""

    owner: Owner
    field: str


class Change(NamedTuple):
    """A new value for a key: text, number, list or table as the file has it; None takes the value away."""

    key: Key
    value: Any


def fields_of(owner: Owner) -> tuple[str, ...]:
    """Return the fields that an owner has, in the order of the format."""
    match owner:
        case CellKey():
            return CELL_FIELDS
        case LineKey():
            return LINE_FIELDS
        case PartKey():
            return PART_FIELDS
        case MatrixKey():
            return MATRIX_FIELDS
    return LAYOUT_FIELDS


def key_named(text: str, layout: Layout) -> Key:
    """Return the key that a text names: an owner by any name that the program writes, then its field.

    `name`, `switches.volts`, `switches.33.name`, `switch 33 reach`, `switches.column.3.wire`, `c3.chain`, `X5.place`.
    Raises UsageError for what the layout doesn't have.
    """
    written = text.strip()
    if written in LAYOUT_FIELDS:
        return Key(None, written)
    owner_text, field = _parted(written)
    if not owner_text:
        near = nearest(written, LAYOUT_FIELDS)
        hint = f"did you mean '{near}'?" if near else "write PLACE.FIELD, as in switches.33.name or X5.place"
        raise UsageError(f"no value is called {shown(written)}", hint)
    owner = _owner_named(owner_text, layout)
    known = fields_of(owner)
    if field in known:
        return Key(owner, field)
    near = nearest(field, known)
    if near is None and (whole := _owner_or_none(written, layout)):
        raise UsageError(f"{shown(written)} names no value", f"add one of {', '.join(fields_of(whole))}")
    hint = f"did you mean '{near}'?" if near else f"use one of {', '.join(known)}"
    raise UsageError(f"{owner_text} has no value {shown(field)}", hint)


def key_text(key: Key, layout: Layout) -> str:
    """Write a key so that `key_named` reads it: `switches.33.name`, `switches.column.3.wire`, `X5.place`."""
    match key.owner:
        case CellKey() as cell:
            number = layout.matrix(cell.matrix).number_at(cell.row, cell.column)
            return f"{cell.matrix}.{number or cell.address}.{key.field}"
        case LineKey() as line:
            label = line_at(layout.matrix(line.matrix), line).label
            name = f"{line.matrix}.{line.side}.{label}" if _is_bare(label, line, layout) else str(line)
            return f"{name}.{key.field}"
        case PartKey(ref) | MatrixKey(ref):
            return f"{ref}.{key.field}"
    return key.field


def value_of(key: Key, text: str) -> Any:
    """Return the value that a text writes for a key; None for an empty one, which takes the value away.

    Lists are words with blanks or commas between them, `keep_warm` is ohms and volts. What can't be read stays the text
    it is, and the check of the layout says what it should be.
    """
    written = text.strip()
    if key.field == "name" and isinstance(key.owner, CellKey | None):
        return written
    if not written:
        return None
    if written[0] in "[{" and (found := _as_toml(written)) is not None:
        return found
    return _READERS.get(key.field, str)(written)


def value_at(layout: Layout, key: Key) -> Any:
    """Return the value of a key as the model has it, with its default where the file says nothing."""
    match key.owner:
        case CellKey() as cell:
            matrix = layout.matrix(cell.matrix)
            if key.field == "name":
                return matrix.cells[cell.row - 1][cell.column - 1]
            number = matrix.number_at(cell.row, cell.column)
            if key.field == "number":
                return number
            return getattr(matrix.notes.get(str(number), model.CellNotes()), key.field)
        case LineKey() as line:
            owner: Any = line_at(layout.matrix(line.matrix), line)
        case MatrixKey(name):
            owner = layout.matrix(name)
        case PartKey(ref):
            owner = layout.part_by_ref.get(ref, model.Part(ref=ref))
        case None:
            owner = layout
    return getattr(owner, key.field)


def line_at(matrix: Matrix, key: LineKey) -> model.Line:
    """Return a row or column of a matrix, also a row that isn't shared."""
    return (matrix.columns if key.side == "column" else matrix.rows)[key.place - 1]


class Along(NamedTuple):
    """A chain in the making: its numbers from the plug outwards, and those of the line that it doesn't have yet."""

    chain: list[Number]
    missing: tuple[Number, ...]


def chain_along(layout: Layout, line: LineKey, met: Sequence[Number | str], *, from_plug: bool = True) -> Along:
    """Return the chain of a line from cell numbers in the order in which a person meets them along the wire.

    The walk begins at the plug, or at the far end. With nothing missing the chain is the value for the line's `chain`.
    Raises UsageError for a number that isn't on the line, and for one that was met before.
    """
    matrix = layout.matrix(line.matrix)
    own = [cell.number for cell in matrix.fitted if line in (cell.row_line, cell.column_line)]
    chain: list[Number] = []
    for typed in met:
        number = _number(str(typed).strip())
        if number not in own:
            has = either([str(one) for one in own], "and", most=len(own)) if own else "no cell"
            raise UsageError(f"{shown(str(typed))} is not on {line_words(layout, line)}", f"it has {has}")
        if number in chain:
            raise UsageError(f"{number} was met before", "give each number once")
        chain.append(number)
    missing = tuple(number for number in own if number not in chain)
    return Along(chain if from_plug else chain[::-1], missing)


def _parted(text: str) -> tuple[str, str]:
    """Return owner and field of a key; the field is its last word."""
    field = re.search(r"[. ](keep[ _]warm|rows[ _]shared|[^. ]*)$", text)
    if field is None:
        return "", text
    return text[: field.start()].rstrip(". "), field[1].replace(" ", "_").casefold()


def _owner_named(text: str, layout: Layout) -> Owner:
    matrix = _matrix_named(text, layout)
    if matrix is not None:
        return MatrixKey(matrix.id)
    place = _place_of_gap(text, layout)
    if place is not None:
        return place
    try:
        found = place_named(text, layout)
    except UsageError:
        if "." not in text:
            raise
        found = place_named(text.replace(".", " "), layout)
    return parse_cell(found, "") or parse_line(found, "") or PartKey(found)


def _owner_or_none(text: str, layout: Layout) -> Owner:
    try:
        return _owner_named(text, layout)
    except UsageError:
        return None


def _matrix_named(text: str, layout: Layout) -> Matrix | None:
    wanted = text.casefold()
    found = [each for each in layout.matrices if wanted in (each.id.casefold(), each.name.casefold())]
    return found[0] if len(found) == 1 else None


def _place_of_gap(text: str, layout: Layout) -> CellKey | LineKey | None:
    """Return a place that the names of fitted cells and shared lines don't have: an empty one, an unshared row."""
    head, _, number = text.rpartition(".")
    matrix = _matrix_named(head, layout) if head else None
    if matrix is None:
        return None
    rows, columns = matrix.size
    cell, line = parse_cell(number.lower(), matrix.id), parse_line(number.lower(), matrix.id)
    if cell is not None and matrix.contains(cell):
        return cell
    if line is not None and line.place <= (columns if line.side == "column" else rows):
        return line
    wanted = parse_number(number)
    places = (CellKey(matrix.id, row, column) for row in range(1, rows + 1) for column in range(1, columns + 1))
    return next((each for each in places if matrix.number_at(each.row, each.column) == wanted), None)


def _is_bare(label: str, line: LineKey, layout: Layout) -> bool:
    """Return whether a label names its line in a key: without dots and blanks, and no other line's label or count."""
    matrix = layout.matrix(line.matrix)
    others = [each for key, each in matrix.lines.items() if key.side == line.side and key != line]
    return (
        re.fullmatch(r"[\w-]+", label) is not None
        and line in matrix.lines
        and all(label.casefold() != each.label.casefold() for each in others)
    )


def _words(text: str) -> list[str]:
    return [word for word in re.split(r"[,\s]+", text) if word]


def _number(word: str) -> Number:
    found = parse_number(word)
    return word if found is None else found


def _figure(word: str) -> float | str:
    """Return the number that a word writes, a whole one as such; the word where it writes none."""
    try:
        found = float(word)
    except ValueError:
        return word
    return int(found) if found.is_integer() else found


def _as_toml(text: str) -> Any:
    try:
        return tomllib.loads(f"value = {text}").get("value")
    except (ValueError, RecursionError):
        return None


def _order(text: str) -> list[Number]:
    return [_number(word) for word in _words(text)]


def _flag(text: str) -> bool | str:
    return {"true": True, "false": False}.get(text, text)


def _two_figures(text: str) -> dict[str, float | str] | str:
    figures = [_figure(word) for word in _words(text)]
    return dict(zip(("ohms", "volts"), figures, strict=True)) if len(figures) == 2 else text


_READERS: dict[str, Callable[[str], Any]] = {
    "path": _words, "supply": _words, "chain": _order, "walk": _order, "number": _number, "keep_warm": _two_figures,
    "volts": _figure, "rate": _figure, "ohms": _figure, "tolerance": _figure, "diodes": _flag, "rows_shared": _flag,
}  # fmt: skip
"""How the values are read that aren't texts."""
