"""What the form that puts a layout right shows and takes: a cell and its lines, field by field."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from matrixcheck.bench import Corrected
from matrixcheck.errors import InputError, MatrixCheckError
from matrixcheck.layout.edit.keys import Along, Change, Key, chain_along, value_at, value_of
from matrixcheck.layout.model import Cell, Layout
from matrixcheck.layout.places import LineKey
from matrixcheck.layout.shipped import is_shipped
from matrixcheck.layout.source import LayoutSource, path_of
from matrixcheck.layout.wire_words import read_wires
from matrixcheck.layout.wording import cell_words, either, line_words

PLUG, FAR_END = "plug", "far end"
WALKED_FROM = "walked from"
"""A field of the form alone: at which end of the wire the walk along it began."""
_LINE = (
    ("label", "label", ""),
    ("name", "name", ""),
    ("wire", "wire", "base/tracer, as in GN/BN"),
    ("path", "path", "from the logic outwards: chip, driver, plug pin"),
    ("supply", "needs", "fuses and what else all of it needs"),
    ("chain", "chain", "walk along the wire and type each number that you meet, then Enter"),
)
_CELL = (
    ("name", "name", "as the chart has it"),
    ("number", "number", "as the test shows it"),
    ("zone", "zone", "where it is"),
    ("reach", "reach", "hand, ball, door open, glass off, playfield up"),
)


class Field(NamedTuple):
    """A line of the form: which value, its word, what it holds now, and the choices where not everything goes."""

    key: Key
    word: str
    value: str
    hint: str = ""
    options: tuple[str, ...] = ()


class Sheet(NamedTuple):
    """A cell or a line of the form, with its fields."""

    name: str
    fields: tuple[Field, ...]


class Walked(NamedTuple):
    """What was typed of a chain, taken as far as it goes: the text that then stands there, and what is said of it."""

    text: str
    says: str
    whole: bool


def sheets_of(cell: Cell, layout: Layout) -> tuple[Sheet, ...]:
    """Return the cell, its column and its row, as far as these are lines; each with the fields that it has here."""
    lines = [line for line in (cell.column_line, cell.row_line) if line in layout.matrix(cell.key.matrix).lines]
    return (
        Sheet(cell_words(layout, cell.key), tuple(_cell_fields(cell, layout))),
        *(Sheet(line_words(layout, line), _line_fields(line, layout)) for line in lines),
    )


def changes_of(sheets: Sequence[Sheet], typed: Mapping[Key, str], layout: Layout) -> list[Change]:
    """Return what was changed in a form.

    Raises InputError for a name that was taken away and for a chain that lacks numbers; UsageError for numbers that
    aren't on the line.
    """
    changes = []
    for key, value in ((field.key, field.value) for sheet in sheets for field in sheet.fields):
        text = typed.get(key, value).strip()
        turned = key.field == "chain" and text != "" and not _from_plug(key, typed)
        if key.field == WALKED_FROM or (text == value and not turned):
            continue
        if key.field == "chain" and text:
            changes.append(Change(key, list(_whole(key, text, typed, layout).chain)))
        elif key.field == "name" and not text and not isinstance(key.owner, LineKey):
            raise InputError("a device needs a name", "type one, or leave with Esc")
        else:
            changes.append(Change(key, value_of(key, _as_written(key, text))))
    return changes


def walked(key: Key, text: str, layout: Layout) -> Walked:
    """Take the numbers that were typed so far along a line. The one that is left at the end is filled in.

    Raises UsageError for a number that isn't on the line, or was met before.
    """
    along = _along(key, text, layout)
    if len(along.missing) == 1:
        along = Along([*along.chain, *along.missing], ())
        return Walked(_text(along.chain), f"{along.chain[-1]} was left: the chain is whole; Enter keeps it", whole=True)
    if not along.missing:
        return Walked(_text(along.chain), "the chain is whole", whole=True)
    return Walked(f"{_text(along.chain)} " if along.chain else "", _left(along), whole=False)


def chain_words(key: Key, text: str, layout: Layout) -> str:
    """Say of a chain that is being typed what is left of its line; of the number at its end only once it is done."""
    done = text[: text.rindex(" ")] if " " in text else ""
    try:
        return _left(_along(key, done, layout))
    except MatrixCheckError as error:
        return f"! {error}"


def where_words(source: LayoutSource, *, own: bool) -> str:
    """Say where a correction is kept; `own` says whether a file may be written from here."""
    path = path_of(source) if own else None
    if path is None:
        return "Kept in this job alone; a file is put right on its own computer." if not own else "Kept in this job."
    if is_shipped(path):
        return f"Kept in this job, and in a copy of {source.file}, which comes with the program."
    return f"Kept in this job and in {path.name}."


def corrected_words(done: Corrected) -> str:
    """Say what became of a correction."""
    if done.trouble:
        return f"kept in this job alone: {done.said}. {done.trouble}"
    if done.copy_of:
        return f"kept: {done.said}; also in {done.file}, a new copy of {done.copy_of}"
    return f"kept: {done.said}{f'; also in {done.file.name}' if done.file else ''}"


def _as_written(key: Key, text: str) -> str:
    """Return designators in capitals, and a wire's colours as codes where it is sure which ones are meant."""
    if key.field in ("path", "supply"):
        return text.upper()
    if key.field == "wire":
        return read_wires([text], {})[text].wire or text
    return text


def _left(along: Along) -> str:
    return f"left: {', '.join(map(str, along.missing))}" if along.missing else "the chain is whole"


def _whole(key: Key, text: str, typed: Mapping[Key, str], layout: Layout) -> Along:
    along = _along(key, text, layout, from_plug=_from_plug(key, typed))
    if along.missing:
        lacks = either([str(number) for number in along.missing], "and")
        raise InputError(
            f"the chain of {line_words(layout, _line_of(key))} lacks {lacks}",
            "type them in their order, or empty the line: unknown",
        )
    return along


def _along(key: Key, text: str, layout: Layout, *, from_plug: bool = True) -> Along:
    met = [word for word in re.split(r"[,\s]+", text) if word]
    return chain_along(layout, _line_of(key), met, from_plug=from_plug)


def _line_of(key: Key) -> LineKey:
    if not isinstance(key.owner, LineKey):
        raise TypeError(f"{key} is no line")
    return key.owner


def _from_plug(key: Key, typed: Mapping[Key, str]) -> bool:
    """Return whether the walk along a line began at its plug."""
    return typed.get(Key(key.owner, WALKED_FROM), PLUG).strip() == PLUG


def _cell_fields(cell: Cell, layout: Layout) -> list[Field]:
    def field(name: str, word: str, hint: str = "", options: tuple[str, ...] = ()) -> Field:
        key = Key(cell.key, name)
        return Field(key, word, _text(value_at(layout, key)), hint, options)

    found = [field(*one) for one in _CELL]
    kind = layout.matrix(cell.key.matrix).kind
    if kind == "switch":
        found.append(field("rest", "at rest", options=("open", "closed")))
    if kind == "coil":
        found.append(field("device", "device", options=("", "coil", "flash lamp", "lamp")))
        found.append(field("ohms", "ohms", "at 20 °C"))
    if kind == "lamp" or cell.device != kind:
        found.append(field("fitted", "fitted", options=("", "filament", "led")))
    return found


def _line_fields(line: LineKey, layout: Layout) -> tuple[Field, ...]:
    keys = [(Key(line, name), word, hint) for name, word, hint in _LINE]
    return (
        *(Field(key, word, _text(value_at(layout, key)), hint) for key, word, hint in keys),
        Field(Key(line, WALKED_FROM), "from", PLUG, "the end at which the walk along the wire begins", (PLUG, FAR_END)),
    )


def _text(value: Any) -> str:
    """Return a value as it is typed."""
    if value is None:
        return ""
    if isinstance(value, list | tuple):
        return " ".join(map(str, value))
    return f"{value:g}" if isinstance(value, float) else str(value)
