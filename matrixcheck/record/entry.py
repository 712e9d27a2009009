"""Parse and write what is typed at the machine: the entry notation, for plain numbers all on a numeric keypad.

`24` working · `24-` dead · `24*` stuck · `24.` later · `24+31` 31 answered too · `24/31` 31 answered instead ·
`24=4.1` ohms, with a point or a comma · `24+-` comes and goes, as a lamp that flickers. `24+31+40` and `24/31+40` name
several. Several entries stand in one line, with blanks between. A cell is its number as the machine shows it (`24`,
`9L`, `A-3`, in either case), or its address `r2c3`; `c3` and `r2` name all fitted cells of a line, for `c3`, `c3-`,
`c3*`, `c3.` and `c3+-`.

What is typed has one meaning only. A number runs on as far as it can: over letters and digits, and over a hyphen that a
letter or digit follows. So `A-3` is one number, and is refused where the matrix has none such, also if it has an `A`. A
hyphen that nothing follows is the sign for dead: `A-`, `A-3-`. Behind a plus it belongs to that: `A-3+-`. Two entries
always have a blank between them. No number reads like an address or a line (`matrixcheck/layout/numbering.py`).
"""

from __future__ import annotations

import re
from bisect import bisect
from collections.abc import Iterable, Sequence
from enum import StrEnum

from msgspec import Struct

from matrixcheck.errors import InputError
from matrixcheck.layout.limits import MEASURED_OHMS
from matrixcheck.layout.model import Matrix
from matrixcheck.layout.numbering import Number, natural_order, parse_number
from matrixcheck.layout.places import CellKey, parse_line
from matrixcheck.layout.problems import shortened, shown
from matrixcheck.record.grid import Grid

LONGEST_LINE = 10_000
NEAR = 4
"""How many numbers are named instead of one that there isn't."""
_HOW = (
    "type 24 working, 24- dead, 24* stuck, 24. later, 24+- flickers, 24+31, 24/31 or 24=4.1 ohms, with blanks between "
    "entries"
)
_PLACE = r"(?:[0-9a-z]+(?:-[0-9a-z]+)*)"
_LINE = re.compile(r"[rc][0-9]+")
_ADDRESS = re.compile(r"r[0-9]+c[0-9]+")
_ENTRY = re.compile(
    rf"(?P<place>{_PLACE})"
    rf"(?:(?P<sign>\+-|[-*.])|(?P<joint>[+/])(?P<others>{_PLACE}(?:\+{_PLACE})*)|=(?P<ohms>[0-9]+(?:[.,][0-9]{{1,9}})?))?"
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
    UNSTEADY = "+-"


class Entry(Struct, frozen=True):
    """One entry for one cell. `others` answered too or instead; `ohms` is the resistance measured, in ohms."""

    cell: CellKey
    verb: Verb
    others: tuple[CellKey, ...] = ()
    ohms: float | None = None


def parse_entries(text: str, matrix: Matrix) -> tuple[Entry, ...]:
    """Return what a line says, in the order typed, a line of the matrix as one entry for each of its fitted cells.

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
    """Return the places that a line lists by number or address, each once, fitted or not; none for an empty line."""
    if len(text) > LONGEST_LINE:
        raise InputError(f"a list of {len(text)} characters is too long", "list what shows, with blanks between")
    places = Places(matrix)
    found: dict[CellKey, None] = {}
    for word in text.lower().split():
        if not places.may_be(word):
            raise InputError(
                f"{shown(word)} is not a cell", "list numbers or addresses with blanks between, as in 12 15 r2c3"
            )
        found[places.place(word, shown(word))] = None
    return tuple(found)


def format_entries(entries: Iterable[Entry], matrix: Matrix) -> str:
    """Return the line that `parse_entries` reads as just these entries. Cells without a number go by their address."""
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
        self._has_texts = any(isinstance(number, str) for number in self._grid.numbers)

    def may_be(self, text: str) -> bool:
        """Return whether it reads as a place.

        That is an address, or a number, with letters only where the matrix has such numbers.
        """
        return bool(
            text.isdecimal() or _ADDRESS.fullmatch(text) or (self._has_texts and parse_number(text) is not None)
        )

    def place(self, text: str, where: str) -> CellKey:
        """Return a place within the grid, fitted or not. Raises InputError, with the numbers near it, for any other."""
        key = self._grid.named(text)
        if key is None:
            raise InputError(f"{where}: {self.matrix.id} has no {_as_printed(text)}", self._instead(text))
        return key

    def fitted(self, text: str, where: str) -> CellKey:
        """Return a place where something is fitted."""
        key = self.place(text, where)
        if key not in self.matrix.by_key:
            raise InputError(f"{where}: nothing is fitted at {_as_printed(text)}", self._instead(text))
        return key

    def cells(self, text: str, where: str) -> tuple[CellKey, ...]:
        """Return the fitted cells of a line."""
        line = parse_line(text, self.matrix.id)
        rows, columns = self.matrix.size
        if line is None or line.place > (rows if line.side == "row" else columns):
            raise InputError(
                f"{where}: {self.matrix.id} has no {shortened(text)}", f"it has r1 to r{rows} and c1 to c{columns}"
            )
        found = tuple(cell.key for cell in self.matrix.fitted if line in (cell.row_line, cell.column_line))
        if not found:
            raise InputError(f"{where}: nothing is fitted on {shortened(text)}", "name another line")
        return found

    def apart(self, text: str) -> str:
        """Return what to type where two numbers stand with a hyphen between them; nothing for any other text."""
        before, hyphen, after = text.partition("-")
        two = hyphen and self._grid.named(before) and self._grid.named(after)
        before, after = _as_printed(before), _as_printed(after)
        return f"for {before} dead and then {after} leave a blank: {before}- {after}" if two else ""

    def _instead(self, text: str) -> str:
        """Return what may have been meant by a place that there isn't."""
        if apart := self.apart(text):
            return apart
        typed = parse_number(text)
        near = () if typed is None else _near(typed, [cell.number for cell in self.matrix.fitted])
        if near:
            return f"near it are {', '.join(map(str, near))}"
        rows, columns = self.matrix.size
        return f"its places go from r1c1 to r{rows}c{columns}"


def _as_printed(text: str) -> str:
    """Return what was typed for a place as a message names it: addresses in small letters, numbers in capitals."""
    return shortened(text if _ADDRESS.fullmatch(text) else text.upper())


def _near(typed: Number, numbers: Sequence[Number]) -> tuple[Number, ...]:
    """Return the few numbers next to one that isn't among them, rising: the plain ones next to a plain one, if any."""
    plain = [number for number in numbers if isinstance(number, int)]
    if isinstance(typed, int) and plain:
        return tuple(sorted(sorted(plain, key=lambda number: (abs(number - typed), number))[:NEAR]))
    place = bisect(numbers, natural_order(typed), key=natural_order)
    first = max(min(place - NEAR // 2, len(numbers) - NEAR), 0)
    return tuple(numbers[first : first + NEAR])


def _entries(word: str, where: str, places: Places) -> list[Entry]:
    found = _ENTRY.fullmatch(word)
    if not found:
        raise InputError(f"can't read {where}", _HOW)
    place, others = found["place"], found["others"].split("+") if found["others"] else []
    is_line = bool(_LINE.fullmatch(place))
    if not all(map(places.may_be, others if is_line else [place, *others])):
        raise InputError(f"can't read {where}", places.apart(place) or _HOW)
    if is_line:
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
        return [Entry(key, Verb(found["joint"]), _others(others, key, where, places))]
    return [Entry(key, Verb(found["sign"] or ""))]


def _others(typed: Sequence[str], key: CellKey, where: str, places: Places) -> tuple[CellKey, ...]:
    others = tuple(places.place(part, where) for part in typed)
    if key in others or len(set(others)) < len(others):
        raise InputError(f"{where} names one cell twice", "name each cell once")
    return others
