"""The cells of a job as comma-separated values (RFC 4180), one row a cell."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable
from unicodedata import normalize

from matrixcheck.layout.numbering import Number
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.problems import is_seen, visible
from matrixcheck.report.counts import glowing_cells
from matrixcheck.report.drawing.cell_texts import GLOWS
from matrixcheck.report.sheet import Sheet

HEAD = (
    "matrix", "number", "name", "address", "row", "column", "device", "zone", "reach", "mark", "also answered",
    "answered instead", "faint", "comes and goes", "test again after", "put off", "ohms", "readings", "last reading",
    "probability of a cause of its own",
)  # fmt: skip
FORMULA_STARTS = frozenset("=+-@")
COUNTED = re.compile("[0-9]+E[0-9]+$|[0-9]+-|(JAN|FEB|MAR|APR|MAY|JUN|JUL|AUG|SEP|OCT|NOV|DEC)[A-Z]*-?[0-9]")
"""How numbers begin that a spreadsheet would take for a figure with an exponent (`1E5`) or a date (`1-2`, `DEC1`)."""
CELL_STARTS = ("\t", "\r", "\n")


def spreadsheet(sheet: Sheet) -> str:
    """List every fitted cell of the machine, matrix by matrix, by rising number.

    In place of a mark stands that a cell glows where it was seen no other way, and that is no fault.
    """
    glowing = glowing_cells(sheet.diagnosis, sheet.state.standings)
    private = {cell.cell: cell.private for cell in sheet.diagnosis.cells}
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(HEAD)
    for matrix in sheet.state.layout.matrices:
        for cell in matrix.fitted:
            standing = sheet.state.standings[cell.key]
            columns: list[object] = [
                matrix.id, _as_number(cell.number), _as_text(cell.name), cell.key.address,
                _as_text(matrix.rows[cell.key.row - 1].label), _as_text(matrix.columns[cell.key.column - 1].label),
                cell.device, _as_text(cell.notes.zone), _as_text(cell.notes.reach),
                GLOWS if cell.key in glowing else standing.mark,
                _places(standing.echoed), _places(standing.answered_instead), _places(standing.faint),
                "yes" if standing.intermittent else "", _as_text(standing.retest_due or ""),
                "" if standing.deferred is None else _as_text(standing.deferred or "yes"),
                "" if standing.ohms is None else standing.ohms,
                standing.count, standing.last_at.isoformat() if standing.last_at else "",
                f"{private[cell.key]:.6g}" if cell.key in private else "",
            ]  # fmt: skip
            writer.writerow(columns)
    return text.getvalue()


def _places(keys: Iterable[CellKey]) -> str:
    return " ".join(key.address for key in keys)


def _as_number(number: Number) -> Number:
    """Return a plain number, or a text with an apostrophe where a spreadsheet would make a figure or a date of it."""
    return f"'{number}" if isinstance(number, str) and COUNTED.match(number) else number


def _as_text(value: str) -> str:
    """Put an apostrophe, which spreadsheets hide, before a name that one would take for a formula.

    Also before one that begins with a full-width sign, or with signs that are not seen.
    """
    first = next(filter(is_seen, value), "")
    computes = normalize("NFKC", first)[:1] in FORMULA_STARTS or value.startswith(CELL_STARTS)
    return f"'{visible(value)}" if computes else visible(value)
