"""Readings files: JSON Lines, one reading a line, and the rules that every reading keeps wherever it comes from.

`{"matrix": "switches", "cell": 24, "held": [3], "answered": [24, 31]}` is an exercise, without `cell` a rest scan, with
`"mark": "dead"` in place of `answered` a mark alone. Optional: `faint`, `ohms`, `note`, `at` (ISO 8601, UTC where it
names no offset), `blew` (true, or the fuse's designator). Cells are numbers, plain ones without quotes (`24`, `"9L"`),
or addresses (`"r2c3"`). `answered` holds all that shows while the exercise lasts, held cells that show included. A
switch that rests closed is exercised by opening it, and stands in `answered` when the machine showed that.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any, NoReturn

from matrixcheck.errors import InputError
from matrixcheck.layout.designators import part_class
from matrixcheck.layout.limits import FIRST_YEAR, LAST_YEAR, MEASURED_OHMS, in_time
from matrixcheck.layout.model import Kind, Layout, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.problems import shown, visible
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.grid import Grid

LARGEST_FILE = 16_000_000
LONGEST_LINE = 400_000
LONGEST_NOTE = 2_000
_KEYS = ("matrix", "cell", "held", "answered", "faint", "mark", "ohms", "note", "at", "blew")
_MARKS = (Mark.WORKING, Mark.DEAD, Mark.STUCK)


class RefusedError(Exception):
    """A reading that can't be taken; the text says why."""


def read_readings(text: str, layout: Layout, source: str) -> tuple[Reading, ...]:
    """Return the readings in a text; blank lines are passed over. `source` names it in errors.

    Raises InputError, `SOURCE:LINE: REASON` for the first reading that can't be taken, or when there is none at all.
    """
    if len(text) > LARGEST_FILE:
        raise InputError(f"{source} is larger than any readings file", "give readings, one a line")
    found = []
    for count, line in enumerate(text.removeprefix("\ufeff").split("\n"), 1):
        if not line.strip():
            continue
        try:
            found.append(_reading(_object(line), layout))
        except RefusedError as refusal:
            raise InputError(f"{source}:{count}: {refusal}", "fix that line; nothing was imported") from None
    if not found:
        raise InputError(
            f"{source} holds no readings", 'give one a line, as {"matrix": "ID", "cell": 1, "mark": "dead"}'
        )
    return tuple(found)


def write_readings(readings: Iterable[Reading], layout: Layout) -> str:
    """Return JSON Lines that `read_readings` reads as just these readings; cells by their address.

    Ends with a line end.
    """
    import json  # noqa: PLC0415 - the screens start without it

    for reading in readings:
        check_reading(reading, layout)
    return "".join(f"{json.dumps(reading_data(reading), ensure_ascii=False)}\n" for reading in readings)


def check_reading(reading: Reading, layout: Layout) -> None:
    """Raise InputError unless the reading can have been made on a machine of that layout."""
    try:
        _check(reading, layout.matrix(reading.matrix))
    except RefusedError as refusal:
        raise InputError(f"reading of {reading.cell or reading.matrix}: {refusal}", "nothing was imported") from None


def reading_data(reading: Reading) -> dict[str, Any]:
    """Return a reading as the object of its line; cells by their address."""
    body: dict[str, Any] = {"matrix": reading.matrix}
    if reading.cell is not None:
        body["cell"] = reading.cell.address
    if reading.held or reading.answered is not None:
        body["held"] = [key.address for key in reading.held]
    if reading.answered is not None:
        body["answered"] = [key.address for key in reading.answered]
    if reading.faint:
        body["faint"] = [key.address for key in reading.faint]
    rest = {
        "mark": reading.mark and str(reading.mark),
        "ohms": reading.ohms,
        "note": reading.note or None,
        "at": reading.at and reading.at.isoformat(),
        "blew": reading.blew or None,
    }
    return body | {key: value for key, value in rest.items() if value is not None}


def _object(line: str) -> dict[str, Any]:
    import json  # noqa: PLC0415 - likewise

    if len(line) > LONGEST_LINE:
        raise RefusedError(f"a line of {len(line)} characters is not a reading")
    try:
        body = json.loads(line, object_pairs_hook=_once, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        reason = f": {error.msg} at character {error.pos + 1}" if isinstance(error, json.JSONDecodeError) else ""
        raise RefusedError(f"not a line of JSON{reason}") from None
    if not isinstance(body, dict):
        raise RefusedError("a reading is a JSON object, {...}")
    return body


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    body = dict(pairs)
    if len(body) < len(pairs):
        names = [name for name, _ in pairs]
        raise RefusedError(
            f"{shown(next(name for name in names if names.count(name) > 1))} stands twice in one reading"
        )
    return body


def _no_number(text: str) -> NoReturn:
    raise RefusedError(f"{text} is not a number")


def _reading(body: Mapping[str, Any], layout: Layout) -> Reading:
    for key in body:
        if key not in _KEYS:
            raise RefusedError(f"unknown key {shown(key)}; a reading has {', '.join(_KEYS)}")
    matrix = _matrix(body.get("matrix"), layout)
    grid = Grid(matrix)
    cell = body.get("cell")
    answered = body.get("answered")
    reading = Reading(
        matrix=matrix.id,
        cell=None if cell is None else _place(grid, cell, "cell"),
        held=_places(grid, body.get("held", []), "held"),
        answered=None if answered is None else _places(grid, answered, "answered"),
        faint=_places(grid, body.get("faint", []), "faint"),
        mark=_mark(body.get("mark")),
        ohms=_ohms(body.get("ohms")),
        note=_note(body.get("note", "")),
        at=_at(body.get("at")),
        blew=_blew(body.get("blew", False)),
    )
    _check(reading, matrix)
    return reading


def _check(reading: Reading, matrix: Matrix) -> None:
    answered = reading.answered or ()
    for key in (*filter(None, [reading.cell]), *reading.held, *answered, *reading.faint):
        if not matrix.contains(key):
            raise RefusedError(
                f"{key} lies outside {matrix.id}, which has {matrix.size[0]} rows and {matrix.size[1]} columns"
            )
    if reading.cell is None:
        _check_scan(reading)
    elif reading.cell not in matrix.by_key:
        raise RefusedError(f"nothing is fitted at {reading.cell}")
    elif reading.cell in reading.held:
        raise RefusedError(f"{reading.cell} is both exercised and held")
    elif reading.mark is None and reading.answered is None and reading.ohms is None and not reading.blew:
        raise RefusedError("says nothing: give `answered`, `mark`, `ohms` or `blew`")
    elif reading.answered is not None and _denied(reading):
        raise RefusedError(f"`mark` {reading.mark} goes against `answered`")
    if both := set(answered) & set(reading.faint):
        raise RefusedError(f"{min(both)} both answers and is faint")
    if matrix.kind is not Kind.SWITCH and reading.held:
        raise RefusedError(f"only switches are held, and {matrix.id} is a {matrix.kind} matrix")
    if matrix.kind is Kind.SWITCH and reading.faint:
        raise RefusedError(f"only lamps glow faintly, and {matrix.id} is a switch matrix")
    if reading.mark is Mark.UNTESTED:
        raise RefusedError("`mark` is working, dead or stuck: leave out what was not tested")
    _ohms(reading.ohms)


def _check_scan(reading: Reading) -> None:
    if reading.answered is None:
        raise RefusedError("a rest scan (no `cell`) needs `answered`, [] where nothing shows")
    if reading.mark is not None or reading.ohms is not None:
        raise RefusedError("`mark` and `ohms` need a `cell`")


def _denied(reading: Reading) -> bool:
    shows = reading.cell in (reading.answered or ())
    return reading.mark is not None and shows is (reading.mark is Mark.DEAD)


def _matrix(value: Any, layout: Layout) -> Matrix:
    if not isinstance(value, str) or value not in layout.matrix_ids:
        known = ", ".join(layout.matrix_ids)
        raise RefusedError(
            f"no matrix {shown(value)}; '{layout.name}' has {known}" if value is not None else "no `matrix`"
        )
    return layout.matrix(value)


def _place(grid: Grid, value: Any, name: str) -> CellKey:
    key = None
    if isinstance(value, int) and not isinstance(value, bool):
        key = grid.numbered(value)
    elif isinstance(value, str) and not value.isdecimal():
        key = grid.named(value)
    if key is None:
        raise RefusedError(f"`{name}`: {grid.matrix.id} has no cell {shown(value)}")
    return key


def _places(grid: Grid, value: Any, name: str) -> tuple[CellKey, ...]:
    if not isinstance(value, list):
        raise RefusedError(f"`{name}` is a list of cells")
    return tuple(dict.fromkeys(_place(grid, one, name) for one in value))


def _mark(value: Any) -> Mark | None:
    if value is None:
        return None
    if not isinstance(value, str) or value not in _MARKS:
        raise RefusedError(f"`mark` is working, dead or stuck, not {shown(value)}")
    return Mark(value)


def _ohms(value: Any) -> float | None:
    if value is None:
        return None
    if not MEASURED_OHMS.holds(value):
        raise RefusedError(f"`ohms` is a number from {MEASURED_OHMS}, not {shown(value)}")
    return float(value)


def _note(value: Any) -> str:
    if not isinstance(value, str) or len(value) > LONGEST_NOTE:
        raise RefusedError(f"`note` is a text of up to {LONGEST_NOTE} characters")
    try:
        value.encode()
    except UnicodeEncodeError:
        raise RefusedError("`note` is not valid text") from None
    return visible(value)


def _at(value: Any) -> datetime | None:
    if value is None:
        return None
    try:
        at = datetime.fromisoformat(value)
    except (TypeError, ValueError):
        raise RefusedError(f"`at` is a time as 2026-03-01T19:30:00Z, not {shown(value)}") from None
    if not in_time(at):
        raise RefusedError(f"`at` is a time from {FIRST_YEAR} to {LAST_YEAR}, not {shown(value)}")
    return at if at.tzinfo else at.replace(tzinfo=UTC)


def _blew(value: Any) -> bool | str:
    if isinstance(value, str):
        try:
            part_class(value)
        except ValueError:
            raise RefusedError(f"`blew` is true or a fuse's designator, not {shown(value)}") from None
    elif not isinstance(value, bool):
        raise RefusedError(f"`blew` is true or a fuse's designator, not {shown(value)}")
    blew: bool | str = value
    return blew
