"""A layout written as a person would write it: one line a row of devices, one line a wire, parts by their names."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import tomlkit

from matrixcheck.layout.raw import Table

_KEYS = ("name", "numbering", "strobe", "diodes", "volts", "supply", "rows_shared", "walk")
_SIDES = {"column": "Columns", "row": "Rows"}


def layout_text(data: Table, about: Sequence[str] = ()) -> str:
    """Return the TOML of a layout's data; `about` are comments at the top, after their #."""
    return "\n".join(_lines(data, about)) + "\n"


def _lines(data: Table, about: Sequence[str]) -> Iterator[str]:
    yield from (f"#{line}" for line in about)
    yield f"format = {data['format']}"
    yield f"name = {value_text(data['name'])}"
    if data.get("part"):
        yield ""
        yield "part = ["
        yield from (f"  {value_text(part)}," for part in data["part"])
        yield "]"
    for matrix in data["matrix"]:
        yield from _matrix_lines(matrix)


def _matrix_lines(matrix: Table) -> Iterator[str]:
    yield ""
    yield "[[matrix]]"
    yield f"id = {value_text(matrix['id'])}"
    yield f"kind = {value_text(matrix['kind'])}"
    yield from (f"{key} = {value_text(matrix[key])}" for key in _KEYS if key in matrix)
    if "numbers" in matrix:
        yield from grid_lines("numbers", matrix["numbers"])
    yield from grid_lines("cells", matrix["cells"])
    for side, title in _SIDES.items():
        if matrix.get(side):
            yield f"# {title} in their order. Worth adding: chain, the order in which the wire visits the cells."
            yield f"{side} = ["
            yield from (f"  {value_text(line)}," for line in matrix[side])
            yield "]"
    if matrix.get("cell"):
        yield ""
        yield "  [matrix.cell]"
        yield from (f"  {number} = {value_text(note)}" for number, note in matrix["cell"].items())


def grid_lines(key: str, rows: Sequence[Sequence[Any]]) -> Iterator[str]:
    """Yield a grid with its entries below one another."""
    texts = [[value_text(entry) for entry in row] for row in rows]
    if all(len(row) == 1 for row in texts):
        line = ", ".join(f"[{row[0]}]" for row in texts)
        if len(line) < 110:
            yield f"{key} = [{line}]"
            return
    widths = [max(len(row[column]) for row in texts) for column in range(len(texts[0]))]
    yield f"{key} = ["
    for row in texts:
        entries = [f"{text},".ljust(width + 1) for text, width in zip(row[:-1], widths, strict=False)]
        yield f"  [{' '.join([*entries, row[-1]])}],"
    yield "]"


def value_text(value: Any) -> str:
    """Return a value as TOML writes it, tables and lists in one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {value_text(entry)}" for key, entry in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(value_text, value)) + "]"
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    text: str = tomlkit.item(value).as_string()
    return text
