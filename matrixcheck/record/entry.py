"""The entry notation, all of it on a numeric keypad: what is typed at the machine, parsed and written.

`24` working · `24-` dead · `24*` stuck · `24.` later · `24+31` 31 answered too · `24/31` 31 answered instead ·
`24=4.1` ohms, with a point or a comma. `24+31+40` and `24/31+40` name several. Several entries stand in one line, with
blanks between. A cell is its number as the machine shows it, or its address `r2c3`; `c3` and `r2` name all fitted
cells of a line, for `c3`, `c3-`, `c3*` and `c3.`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from enum import StrEnum

from msgspec import Struct

from matrixcheck.errors import InputError
from matrixcheck.layout.limits import MEASURED_OHMS, whole_number
from matrixcheck.layout.model import Matrix
from matrixcheck.layout.places import CellKey, parse_line
from matrixcheck.layout.problems import shown
from matrixcheck.record.grid import Grid

LONGEST_LINE = 10_000
_HOW = "type 24 working, 24- dead, 24* stuck, 24. later, 24+31, 24/31 or 24=4.1 ohms, with blanks between entries"
_PLACE = r"(?:[0-9]{1,6}|r[0-9]{1,3}c[0-9]{1,3})"
_LINE = r"(?:[rc][0-9]{1,3})"
_ENTRY = re.compile(
    rf"(?P<place>{_PLACE}|{_LINE})"
    rf"(?:(?P<sign>[-*.])|(?P<joint>[+/])(?P<others>{_PLACE}(?:\+{_PLACE})*)|=(?P<ohms>[0-9]+(?:[.,][0-9]{{1,9}})?))?"
)


class Verb(StrEnum):
    """What an entry says of its cells; the value is the sign that is typed."""

    WORKING = ""
    DEAD = "-"
    STUCK = "*"
    LATER = "."
    ECHO = "+"
    MISREPORT = "/"
    OHMS = "="


class Entry(Struct, frozen=True):
    """One entry for one cell. `others` answered too or instead; `ohms` is the resistance measured, in ohms."""

    cell: CellKey
    verb: Verb
    others: tuple[CellKey, ...] = ()
    ohms: float | None = None


def parse_entries(text: str, matrix: Matrix) -> tuple[Entry, ...]:
    """What a line says, in the order typed, a line of the matrix as one entry for each of its fitted cells.

    Raises InputError, naming the first entry that can't be taken and where it stands: then nothing of the line is kept.
    """
    if len(text) > LONGEST_LINE:
        raise InputError(f"an entry of {len(text)} characters is too long", "type a few entries at a time")
    words = text.split()
    if not words:
        raise InputError("nothing was typed", _HOW)
    places = Places(matrix)
    found: list[Entry] = []
    said: dict[CellKey, Verb] = {}
    for count, word in enumerate(words, 1):
        where = shown(word) + (f" (entry {count} of {len(words)})" if len(words) > 1 else "")
        for entry in _entries(word.lower(), where, places):
            if entry.verb is not Verb.OHMS and said.setdefault(entry.cell, entry.verb) is not entry.verb:
                raise InputError(f"{where} says of {entry.cell.address} something else than before", "keep one of them")
            found.append(entry)
    return tuple(found)


def parse_places(text: str, matrix: Matrix) -> tuple[CellKey, ...]:
    """The places that a line lists by number or address, each once, fitted or not; none for an empty line."""
    if len(text) > LONGEST_LINE:
        raise InputError(f"a list of {len(text)} characters is too long", "list what shows, with blanks between")
    places = Places(matrix)
    found: dict[CellKey, None] = {}
    for word in text.lower().split():
        if not re.fullmatch(_PLACE, word):
            raise InputError(
                f"{shown(word)} is no cell", "list numbers or addresses with blanks between, as in 12 15 r2c3"
            )
        found[places.place(word, shown(word))] = None
    return tuple(found)


def format_entries(entries: Iterable[Entry], matrix: Matrix) -> str:
    """The line that `parse_entries` reads as just these entries. Cells without a number go by their address."""
    grid = Grid(matrix)
    return " ".join(_written(entry, grid) for entry in entries)


def _written(entry: Entry, grid: Grid) -> str:
    cell = grid.called(entry.cell)
    if entry.ohms is not None:
        return f"{cell}={entry.ohms:.9f}".rstrip("0").rstrip(".")
    return f"{cell}{entry.verb}{'+'.join(grid.called(other) for other in entry.others)}"


class Places:
    """The places of a matrix by what is typed for them."""

    def __init__(self, matrix: Matrix) -> None:
        self.matrix = matrix
        self._grid = Grid(matrix)

    def place(self, text: str, where: str) -> CellKey:
        """A place within the grid, fitted or not. Raises InputError, with the numbers near it, for any other."""
        number = whole_number(text)
        key = self._grid.addressed(text) if number is None else self._grid.numbered(number)
        if key is None:
            raise InputError(f"{where}: {self.matrix.id} has no {text}", self._nearby(text))
        return key

    def fitted(self, text: str, where: str) -> CellKey:
        """A place where something is fitted."""
        key = self.place(text, where)
        if key not in self.matrix.by_key:
            raise InputError(f"{where}: nothing is fitted at {text}", self._nearby(text))
        return key

    def cells(self, text: str, where: str) -> tuple[CellKey, ...]:
        """The fitted cells of a line."""
        line = parse_line(text, self.matrix.id)
        rows, columns = self.matrix.size
        if line is None or line.place > (rows if line.side == "row" else columns):
            raise InputError(f"{where}: {self.matrix.id} has no {text}", f"it has r1 to r{rows} and c1 to c{columns}")
        found = tuple(cell.key for cell in self.matrix.fitted if line in (cell.row_line, cell.column_line))
        if not found:
            raise InputError(f"{where}: nothing is fitted on {text}", "name another line")
        return found

    def _nearby(self, text: str) -> str:
        numbers = [cell.number for cell in self.matrix.fitted]
        if not numbers or not text.isdecimal():
            rows, columns = self.matrix.size
            return f"its places go from r1c1 to r{rows}c{columns}"
        near = sorted(sorted(numbers, key=lambda number: (abs(number - int(text)), number))[:4])
        return f"near it are {', '.join(map(str, near))}"


def _entries(word: str, where: str, places: Places) -> list[Entry]:
    found = _ENTRY.fullmatch(word)
    if not found:
        raise InputError(f"{where} is no entry", _HOW)
    place = found["place"]
    if re.fullmatch(_LINE, place):
        if found["joint"] or found["ohms"]:
            raise InputError(f"{where}: '{found['joint'] or '='}' needs one cell, not a line", "name the cell")
        return [Entry(key, Verb(found["sign"] or "")) for key in places.cells(place, where)]
    key = places.fitted(place, where)
    if found["ohms"]:
        ohms = float(found["ohms"].replace(",", "."))
        if not MEASURED_OHMS.holds(ohms):
            raise InputError(f"{where}: a resistance is {MEASURED_OHMS}", "type what the meter shows, in ohms")
        return [Entry(key, Verb.OHMS, ohms=ohms)]
    if found["joint"]:
        return [Entry(key, Verb(found["joint"]), _others(found["others"], key, where, places))]
    return [Entry(key, Verb(found["sign"] or ""))]


def _others(text: str, key: CellKey, where: str, places: Places) -> tuple[CellKey, ...]:
    others = tuple(places.place(part, where) for part in text.split("+"))
    if key in others or len(set(others)) < len(others):
        raise InputError(f"{where} names one cell twice", "name each cell once")
    return others
