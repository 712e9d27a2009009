"""Charts as rows of texts: from text with any usual mark between the entries, and from spreadsheets."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout.charts.spots import Spot
from matrixcheck.layout.toml_file import bytes_of

if TYPE_CHECKING:
    from python_calamine import CalamineWorkbook

LARGEST_CHART = 8_000_000
MOST_ROWS, MOST_COLUMNS = 5_000, 400
LONGEST_ENTRY = 500
WORKBOOKS = frozenset({".xlsx", ".xlsm", ".xls", ".xlsb", ".ods"})
MARKS = "\t;,|"
_EXPORTED = re.compile(r'"?machine:"?([\t;,|])')


class Sheet(NamedTuple):
    """A chart as it is printed: `rows[r][c]`, with "" where nothing stands."""

    name: str
    rows: tuple[tuple[str, ...], ...]


def read_sheets(path: Path) -> list[Sheet]:
    """Return the sheets of a chart's file: one of a text, each of a spreadsheet.

    Raises InputError where it can't be read, UsageError where the reader of spreadsheets isn't installed.
    """
    data = bytes_of(path, "chart", LARGEST_CHART)
    if path.suffix.casefold() in WORKBOOKS:
        return _workbook(data, path.name)
    return [text_sheet(decoded(data, path.name), path.name)]


def decoded(data: bytes, name: str) -> str:
    """Return the text of a chart: UTF-8 or UTF-16, else what Western spreadsheets write (Windows-1252)."""
    codings = ["utf-16"] if data.startswith((b"\xff\xfe", b"\xfe\xff")) else ["utf-8-sig", "cp1252"]
    for coding in codings:
        try:
            text = data.decode(coding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise InputError(f"{name} is not text", "save the chart as CSV, .xlsx or .ods")


def text_sheet(text: str, name: str) -> Sheet:
    """Return the rows of a text.

    The mark between entries is the one that parts most rows alike. Where none does, entries stand below one another
    with blanks between, as text copied from a page has them.
    """
    if not text.strip():
        raise InputError(f"{name} is empty", "name a chart with something in it")
    own = _EXPORTED.match(text)
    rows = _parted(text, own[1]) if own else max((_parted(text, mark) for mark in MARKS), key=_regularity)
    if _regularity(rows) < sum(bool(line.strip()) for line in text.splitlines()):
        rows = _aligned(text.splitlines()) or rows
    return _sheet(name, rows)


def _aligned(lines: Sequence[str]) -> list[list[str]]:
    """Return the entries of lines in which these stand below one another, with two blanks or more between.

    Other lines, as titles, are one entry. None where fewer than half of the lines are so.
    """
    tables = [bool(re.search(r"\S {2,}\S", line)) for line in lines]
    if sum(tables) < 2 or sum(tables) * 2 < sum(bool(line.strip()) for line in lines):
        return []
    width = max(map(len, lines))
    inside = [line.ljust(width) for line, table in zip(lines, tables, strict=True) if table]
    ink = "".join(" " if all(line[at] == " " for line in inside) else "x" for at in range(width))
    spans = [found.span() for found in re.finditer(r"x(?:x| (?=x))*", ink)]
    return [
        [line[start:end] for start, end in spans] if table else [line]
        for line, table in zip(lines, tables, strict=True)
    ]


def _parted(text: str, mark: str) -> list[list[str]]:
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=mark, skipinitialspace=mark != "\t"))
    except csv.Error:
        return []


def _regularity(rows: Sequence[Sequence[str]]) -> int:
    """Return how many rows have the most usual count of entries, where that is two or more."""
    counts = [len(row) for row in rows if len(row) > 1]
    return max((counts.count(count) * min(count, 3) for count in set(counts)), default=0)


def _workbook(data: bytes, name: str) -> list[Sheet]:
    book = _opened(data, name)
    return [_sheet(f"{name}, sheet {title}", _entries(book, title)) for title in book.sheet_names]


def _entries(book: CalamineWorkbook, title: str) -> list[list[str]]:
    rows = book.get_sheet_by_name(title).to_python(skip_empty_area=False)
    return [[_entry(value) for value in row] for row in rows]


def _opened(data: bytes, name: str) -> CalamineWorkbook:
    try:
        from python_calamine import CalamineError, load_workbook  # noqa: PLC0415 - an extra, for spreadsheets only
    except ImportError:
        raise UsageError(
            f"{name} needs the reader of spreadsheets", "pip install 'matrixcheck[sheets]', or save the chart as CSV"
        ) from None
    try:
        return load_workbook(io.BytesIO(data))
    except (CalamineError, OSError) as error:
        raise InputError(f"{name} is not a spreadsheet that can be read", " ".join(str(error).split())) from None


def _entry(value: object) -> str:
    """Return what a spreadsheet shows for a value: whole numbers without a point."""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)


def _sheet(name: str, rows: Sequence[Sequence[str]]) -> Sheet:
    cleaned = tuple(tuple(_clean(entry) for entry in row) for row in rows)
    if len(cleaned) > MOST_ROWS or max(map(len, cleaned), default=0) > MOST_COLUMNS:
        raise InputError(
            f"{name} has more than {MOST_ROWS} rows or {MOST_COLUMNS} columns", "cut the chart out of the sheet"
        )
    for row, entries in enumerate(cleaned, 1):
        for column, entry in enumerate(entries, 1):
            if len(entry) > LONGEST_ENTRY:
                raise InputError(
                    f"{Spot(name, row, column)}: {len(entry):,} characters", "no entry of a chart is so long"
                )
    return Sheet(name, cleaned)


def _clean(entry: str) -> str:
    """Return an entry without blanks around it; lines within it stay apart, for headings part their facts so."""
    lines = (
        " ".join("".join(sign if sign.isprintable() else " " for sign in line).split()) for line in entry.splitlines()
    )
    return "\n".join(filter(None, lines))
